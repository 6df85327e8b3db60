"""Parts of the library whose words match a row of a schedule: proposed, never taken."""

from __future__ import annotations

import re
from functools import cache

from powerbudget.lists.words import TRADE, folded
from powerbudget.quantities import plain
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
_WORD = re.compile(r"[a-z]{3,}|[345]g")
_CUT = re.compile(r",| with| on | for | in | that | built ")
"""Where the noun of a title ends."""
_GENERAL = frozenset(
    {"controller", "radio", "flow", "gas", "enclosure", "operator", "small", "large"}
)
"""Words of names that say what a thing is for, not what it is."""
_FILLER = frozenset(
    {"and", "for", "the", "with", "without", "not", "each", "der", "fur"}
)


def proposal(name: str) -> str:
    """Return which parts of the library a row without watts may be, empty if none [text].

    Parameters
    ----------
    name
        What the list calls the load [text].

    Notes
    -----
    The noun that a part is about must stand in the row (``switch`` in "Unmanaged
    network switch, 5 to 8 ports"), and most of the row's words in its title or name.
    Words of the trade in other languages stand for the title's, see `TRADE`.

    Examples
    --------
    >>> proposal("Network switch").split(";")[1]
    ' the row states no watts. Name it with part = "..." if one is right.'
    >>> "switch-unmanaged" in proposal("Netzwerk-Switch")
    True
    >>> proposal("Pressure transmitter")
    ''
    """
    words = _words(name)
    fits = [(len(words & title), part) for title, nouns, part in _titles()
            if nouns & words and len(words & title) >= SHARE * len(words)]  # fmt: skip
    most = max((shared for shared, _ in fits), default=0)
    best = [part for shared, part in fits if shared == most]
    if not best:
        return ""
    parts = ", ".join(_part_words(part) for part in best[:MOST])
    parts += f" or {len(best) - MOST} more" if len(best) > MOST else ""
    return (
        f"Question: is it {parts} of the parts library; the row states no watts. "
        'Name it with part = "..." if one is right.'
    )


def _part_words(part: Part) -> str:
    watts = _watts(part)
    assert watts is not None
    high = plain(watts.high, 3, "W")
    return f"{part.name} ({plain(watts.typical, 3, 'W')}, {watts.low:.3g} to {high})"


def _watts(part: Part) -> Watts | None:
    """Return the draw of a part that is a load by itself, None of any other [W]."""
    if isinstance(part, DevicePart | NodePart):
        return part.power
    return part.receive if isinstance(part, RadioPart) else None


@cache
def _titles() -> tuple[tuple[frozenset[str], frozenset[str], Part], ...]:
    """Return words of each title and name, the nouns they are about, and the part."""
    found = []
    for part in load_parts().values():
        name = part.name.split("-")
        nouns = (_words(name[0]) | _words(name[-1])) - _GENERAL
        nouns |= _words(_CUT.split(part.title)[0].split()[-1])
        if _watts(part) is not None:
            found.append((_words(f"{part.title} {part.name}"), nouns, part))
    return tuple(found)


@cache
def _words(text: str) -> frozenset[str]:
    """Return the words of a text, each in the singular and as the library calls it."""
    plain = folded(text)
    for phrase, one in TRADE.items():
        if " " in phrase:
            plain = plain.replace(phrase, one)
    found = [TRADE.get(w) or _one(w) for w in _WORD.findall(plain) if w not in _FILLER]
    return frozenset(part for w in found for part in TRADE.get(w, w).split())


def _one(word: str) -> str:
    """Return a word in the singular [text]."""
    return word.removesuffix("s") if not word.endswith("ss") else word
