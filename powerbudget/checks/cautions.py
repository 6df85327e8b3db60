"""Cautions that go with every check, review and page: one text for each danger.

The tool computes; it does not approve.  The codes in force and licensed people decide.
"""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.battery.bank import Bank


@dataclass(frozen=True)
class Caution:
    """One danger that a calculation does not take away.

    Parameters
    ----------
    topic
        A word or two: ``hydrogen``, ``short-circuit`` and so on [text].
    text
        What to mind, and who decides [text].
    """

    topic: str
    text: str


HYDROGEN = Caution(
    "hydrogen",
    "Batteries give off hydrogen while charging. Ventilation figures dilute it at "
    "battery temperatures to about 40 degC, no more: a box, insulated or buried, must "
    "never be gas-tight, and nothing that sparks belongs in it.",
)
LITHIUM_GAS = Caution(
    "battery gas",
    "Lithium cells make no hydrogen in service, but an abused or failed pack vents "
    "flammable and poisonous gas: follow the maker on enclosure, vents and spacing.",
)
SHORT_CIRCUIT = Caution(
    "short-circuit",
    "Batteries deliver thousands of amperes into a short circuit: a fuse that can break "
    "that direct current belongs as near to each bank as it can stand.",
)
AREA = Caution(
    "classified area",
    "The area around wellheads, vents and tanks may be classified. Batteries, "
    "regulators, relays, panel connectors and burners are ignition sources: place them "
    "outside it or use rated types. This program classifies nothing.",
)
MASTS = Caution(
    "masts",
    "Panels on masts carry wind, ice and lifting loads that are not computed here.",
)
FUEL = Caution(
    "fuel",
    "Fuel gas leaks, gathers in low places, explodes and asphyxiates; exhaust holds carbon "
    "monoxide: no burner or engine in a room with people or batteries. Tanks, regulators "
    "and burners fall under the fuel-gas code in force.",
)
DEFER = Caution(
    "who decides",
    "This is a calculation, not an approval and not a check against a code: local codes "
    "and licensed people decide.",
)


def cautions(bank: Bank | None = None, *, fuel: bool = False) -> tuple[Caution, ...]:
    """Return the cautions that go with a site.

    Parameters
    ----------
    bank
        The bank; without one, lead-acid is taken.
    fuel
        Whether the site burns fuel.

    Returns
    -------
    tuple of Caution
        The one on who decides stands last.

    Examples
    --------
    >>> [caution.topic for caution in cautions()]
    ['hydrogen', 'short-circuit', 'classified area', 'masts', 'who decides']
    """
    gassing = bank is None or bank.chemistry.gas_boost_ma_ah > 0
    found = [HYDROGEN if gassing else LITHIUM_GAS, SHORT_CIRCUIT, AREA, MASTS]
    if fuel:
        found.append(FUEL)
    return (*found, DEFER)


def caution_text(found: tuple[Caution, ...], width: int = 88) -> str:
    """Return cautions as a paragraph for a page of text.

    Parameters
    ----------
    found
        From `cautions`.
    width
        Letters in a line [count].

    Returns
    -------
    str
        Lines ending in a newline [text].
    """
    import textwrap

    words = " ".join(caution.text for caution in found)
    return textwrap.fill(f"Cautions: {words}", width) + "\n"
