"""What a calculation package can hold on top of what every package holds."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from powerbudget.files import in_letters
from powerbudget.quantities import count


@dataclass(frozen=True)
class Extras:
    """What a package holds beyond what every package holds.

    Parameters
    ----------
    claims
        File of a vendor's claims to judge [path].
    options
        Whether sources of power are compared; takes some seconds.
    autonomy
        Whether autonomy stands in it by month, hour, disconnect setting and age;
        takes some seconds.
    seasons, seed
        Seasons of an ensemble, None for no ensemble, and what repeats it [count].
    sensitivity
        Whether the inputs that move the size most stand in it; None for where a short
        record makes that quick.
    unverified
        Whether the site is sized with its unverified figures at both ends, which
        takes two more searches; the command line always asks for it.
    """

    claims: str | Path | None = None
    options: bool = False
    autonomy: bool = False
    seasons: int | None = None
    seed: int = 1
    sensitivity: bool | None = None
    unverified: bool = False

    @property
    def words(self) -> str:
        """The options of the command line that ask for the same [text]."""
        said = []
        if self.claims is not None:
            said.append(f"--claims {in_letters(Path(self.claims).name)}")
        said += ["--options"] * self.options + ["--autonomy"] * self.autonomy
        said += ["--sensitivity"] * (self.sensitivity is True)
        if self.seasons is not None:
            said.append(f"--monte-carlo {self.seasons} --seed {self.seed}")
        return " ".join(said)

    def check(self, *, panels: bool = True) -> None:
        """Refuse what cannot be used before anything is computed.

        Parameters
        ----------
        panels
            Whether the site has panels, which an ensemble needs.

        Raises
        ------
        InputError
            When the seed or the number of seasons cannot be used.
        """
        from powerbudget.errors import Fault, InputError
        from powerbudget.sizing.uncertainty.years import check_years, seed_faults

        faults = seed_faults(self.seed)
        if self.seasons is not None and not panels:
            faults.append(
                Fault(
                    "--ensemble", "needs an array; this site has none",
                    f"{count(self.seasons, 'winter')}", "a site with [array]",
                    "remove it: without an array there is no size to rank",
                )
            )  # fmt: skip
        if faults:
            raise InputError(faults)
        if self.seasons is not None:
            check_years(self.seasons, 1)
