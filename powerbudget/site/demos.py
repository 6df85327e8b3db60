"""Demo sites: inside an installed package, beside it in a checkout."""

from __future__ import annotations

from pathlib import Path

from powerbudget.errors import Fault, InputError, nearest
from powerbudget.reading import PAGE_BYTES, read_text

_PACKAGE = Path(__file__).parents[1]
_PLACES = (_PACKAGE / "demos", _PACKAGE.parent / "sites")
ALL = "all"


def demo_names() -> list[str]:
    """Return the names of the demo sites [text].

    Examples
    --------
    >>> "propane-relay" in demo_names()
    True
    """
    return sorted(path.stem for path in _folder().glob("*.toml"))


def demo_files(name: str) -> dict[str, str]:
    """Return the files of a demo site: itself, its lists, a vendor's claims.

    Parameters
    ----------
    name
        As `demo_names` has it; `ALL` for those of every one [text].

    Returns
    -------
    dict of str
        Text by path, below the folder that the site file stands in [text].

    Raises
    ------
    InputError
        When there is no such demo site.

    Examples
    --------
    >>> sorted(demo_files("coastal-meter-run"))
    ['claims/coastal-meter-run.toml', 'coastal-meter-run.toml']
    """
    names, folder = demo_names(), _folder()
    if name not in {*names, ALL}:
        allowed = ", ".join([*names, ALL])
        problem, advice = "is no demo site", nearest(name, names)
        raise InputError(Fault("--example", problem, name, allowed, advice))
    found = [path for path in folder.rglob("*") if path.suffix in {".toml", ".csv"}]
    return {
        path.relative_to(folder).as_posix(): read_text(path, PAGE_BYTES, Fault("", ""))
        for path in sorted(found)
        if name in {path.stem, ALL}
    }


def _folder() -> Path:
    return next((place for place in _PLACES if place.is_dir()), _PLACES[0])
