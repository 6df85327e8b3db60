"""What each row of a list became: its class, its points, its watts."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

ACCOUNTS: dict[str, tuple[str, ...]] = {
    "read": ("point", "load", "value", "setting", "loss"),
    "spare": ("spare",),
    "deleted": ("deleted", "excluded", "future"),
    "no signal": ("unused", "internal", "no-load"),
    "asked": ("unsigned", "hidden", "hold"),
}
"""Account of a row -> its classes; every other class is ignored."""
_ACCOUNT = {name: account for account, names in ACCOUNTS.items() for name in names}
_COIL = re.compile(
    r"solenoid|\bs(?:o)?v\b|\bs(?:o)?v(?=[-_ ]?\d)|magnetventil|e(?:lec|let)tro-?v[aá]l|"
    r"electrov[aá]lv|eletrov[aá]lv|\bcoil\b|\bspule\b|\bbobina\b",
    re.IGNORECASE,
)
"""Words of an output that drives the coil of a valve (common practice, no source)."""
AC_FROM_V = 90
"""Voltage from which a device is fed with AC (judgment) [V]."""
DERIVED = ("Place", "Rack typical [W]", "Rack maximum [W]", "Rack [Wh/day]")
"""Heads of an exported list that were calculated; nothing is read from them again."""


@dataclass(slots=True)
class ListLine:
    """One row of a signal list that has points.

    Parameters
    ----------
    sheet, row
        Where it stands; rows count from 1.
    kind
        ``point``, ``spare``, ``deleted``, ``hidden``, ``future``, ``hold``, ``excluded`` [text].
    tag, text
        Name and service [text].
    points
        Kind of point to number of points, quantity included [count].
    typical_w, maximum_w
        Stated draw in the normal state, and with everything on; None if not stated [W].
    signal, supply, state, port
        Signal as written, who feeds it, normal state, port [text].
    quantity
        Pieces of the row [count].
    amps
        Stated current of one piece, None if not stated [A].
    duty_frac
        Stated share of time on, None if not stated [fraction].
    volts
        Voltage that the list states for the device, 0 if it does not [V].
    """

    sheet: str
    row: int
    kind: str
    tag: str
    text: str
    points: dict[str, int]
    typical_w: float | None = None
    maximum_w: float | None = None
    signal: str = ""
    supply: str = ""
    state: str = ""
    port: str = ""
    quantity: int = 1
    amps: float | None = None
    duty_frac: float | None = None
    volts: float = 0.0

    @property
    def coil(self) -> bool:
        """Whether it is an output without watts that drives a solenoid of this bus."""
        words = f"{self.tag} {self.text} {self.signal}"
        driven = "do" in self.points and not self.maximum_w and self.supply != "ac"
        return driven and bool(_COIL.search(words))

    @property
    def by_loop(self) -> bool:
        """Whether the loop of the rack carries the stated draw."""
        analog = set(self.points) <= {"ai", "ao"}
        return self.supply == "two-wire" and analog and self.amps is not None


@dataclass
class ListedLoad:
    """One load of an equipment schedule, quantity included.

    Parameters
    ----------
    sheet, row, name
        Where it stands and what it is called.
    quantity
        Pieces [count].
    running_w, maximum_w, inrush_w
        Draw while it runs, highest draw that lasts, start-up; None if not stated [W].
    wh_per_day
        Energy a day at the load [Wh].
    volts, ac
        Its own voltage, 0 if not stated; whether it is fed with AC [V].
    why
        Why it has no figure, empty where it has one [text].
    assumed
        What was assumed for it [text].
    energy_said
        Wh/day that the row itself states, None if it does not [Wh].
    dc_side
        Whether an AC load is stated with the inverter in it.
    tag
        Its tag, empty where the schedule has none [text].
    drawn_frac
        What its row divides by beside the watts: efficiency and losses [fraction].
    clock
        ``none`` where its row states no time on, ``modes`` where modes state it, else
        empty [text].
    standby_w
        Watts left out because it stands by for another [W].
    """

    sheet: str
    row: int
    name: str
    quantity: int = 1
    running_w: float | None = None
    maximum_w: float | None = None
    inrush_w: float | None = None
    wh_per_day: float | None = None
    volts: float = 0.0
    ac: bool = False
    why: str = ""
    assumed: list[str] = field(default_factory=list)
    energy_said: float | None = None
    dc_side: bool = False
    tag: str = ""
    drawn_frac: float = 1.0
    clock: str = ""
    standby_w: float = 0.0


@dataclass
class Tally:
    """Rows of one sheet by class, each row once.

    Parameters
    ----------
    sheet, use
        Name of the sheet and what it was taken for [text].
    rows
        Class of each row, in order [text].
    """

    sheet: str
    use: str
    rows: list[str]

    def by_class(self) -> dict[str, list[int]]:
        """Return the row numbers of each class, from 1."""
        found: dict[str, list[int]] = {}
        for number, name in enumerate(self.rows, start=1):
            found.setdefault(name, []).append(number)
        return found

    def accounts(self) -> dict[str, int]:
        """Return the rows of each account; they add up to the rows of the sheet [count].

        Examples
        --------
        >>> Tally("A", "io", ["head", "point", "spare", "blank"]).accounts()
        {'read': 1, 'spare': 1, 'deleted': 0, 'no signal': 0, 'asked': 0, 'ignored': 2}
        """
        return {name: len(rows) for name, rows in self.account_rows().items()}

    def account_rows(self) -> dict[str, list[int]]:
        """Return the row numbers of each account, from 1."""
        found: dict[str, list[int]] = {name: [] for name in (*ACCOUNTS, "ignored")}
        for number, name in enumerate(self.rows, start=1):
            found[_ACCOUNT.get(name, "ignored")].append(number)
        return found


def ranges(numbers: list[int]) -> str:
    """Return row numbers as ranges [text].

    Examples
    --------
    >>> ranges([2, 3, 4, 7, 9, 10])
    '2-4, 7, 9-10'
    """
    parts: list[list[int]] = []
    for number in numbers:
        if parts and number == parts[-1][1] + 1:
            parts[-1][1] = number
        else:
            parts.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in parts)
