"""Parts of the library whose words match a row of a schedule: proposed, never taken."""

from __future__ import annotations

import re
from functools import cache

from powerbudget.lists.words import folded
from powerbudget.site.parts import (
    DevicePart,
    NodePart,
    Part,
    RadioPart,
    Watts,
    load_parts,
)

MOST = 3
"""Parts named for one row (judgment) [count]."""
SHARE = 0.6
"""Least share of a row's words that a part's title has (judgment) [fraction]."""
_WORD = re.compile(r"[a-z]{3,}")
_CUT = re.compile(r",| with| on | for | in ")
"""Where the noun of a title ends."""
_FILLER = frozenset({"and", "for", "the", "with", "without", "not", "each"})


def proposal(name: str, watts: float | None) -> str:
    """Return which parts of the library a row may be, empty where none fits [text].

    Parameters
    ----------
    name
        What the schedule calls the load [text].
    watts
        Draw of one piece as the row states it, None where it states none [W].

    Notes
    -----
    The noun that a title is about must stand in the row (``switch`` in "Unmanaged
    network switch, 5 to 8 ports"), and most of the row's words in the title.

    Examples
    --------
    >>> proposal("Network switch", 3.0).split(";")[1]
    ' the row says 3 W a piece. Name it with part = "..." if one is right.'
    >>> proposal("Remote terminal unit", 4.5)
    ''
    """
    words = _words(name)
    fits = [(len(words & title), part) for title, noun, part in _titles()
            if noun in words and len(words & title) >= SHARE * len(words)]  # fmt: skip
    most = max((shared for shared, _ in fits), default=0)
    named = [part for shared, part in fits if shared == most][:MOST]
    if not named:
        return ""
    parts = ", ".join(_part_words(part) for part in named)
    row = "states no watts" if watts is None else f"says {watts:.3g} W a piece"
    return (
        f"Question: is it {parts} of the parts library; the row {row}. "
        'Name it with part = "..." if one is right.'
    )


def _part_words(part: Part) -> str:
    watts = _watts(part)
    assert watts is not None
    return f"{part.name} ({watts.typical:.3g} W, {watts.low:.3g} to {watts.high:.3g} W)"


def _watts(part: Part) -> Watts | None:
    """Return the draw of a part that is a load by itself, None of any other [W]."""
    if isinstance(part, DevicePart | NodePart):
        return part.power
    return part.receive if isinstance(part, RadioPart) else None


@cache
def _titles() -> tuple[tuple[frozenset[str], str, Part], ...]:
    """Return words of each title, the noun it is about, and the part."""
    found = []
    for part in load_parts().values():
        about = _WORD.findall(folded(_CUT.split(part.title)[0]))
        if about and _watts(part) is not None:
            found.append((_words(part.title), _one(about[-1]), part))
    return tuple(found)


def _words(text: str) -> frozenset[str]:
    return frozenset(_one(w) for w in _WORD.findall(folded(text)) if w not in _FILLER)


def _one(word: str) -> str:
    """Return a word in the singular [text]."""
    return word.removesuffix("s") if not word.endswith("ss") else word
