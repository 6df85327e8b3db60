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
    "Batteries release hydrogen while charging. The ventilation figures "
    "dilute it up to a battery temperature of about 40 °C. The box must not "
    "be gas-tight, insulated or buried. Keep ignition sources out of it.",
)
LITHIUM_GAS = Caution(
    "battery gas",
    "Lithium cells release no hydrogen in service. A damaged pack vents "
    "flammable and toxic gas: follow the manufacturer on enclosure, vents, "
    "and spacing.",
)
SHORT_CIRCUIT = Caution(
    "short-circuit",
    "A battery delivers thousands of amperes into a short circuit. Fit a "
    "fuse with a sufficient dc interrupting rating at the terminals of each "
    "battery.",
)
AREA = Caution(
    "classified area",
    "The area around wellheads, vents, and tanks may be a hazardous "
    "(classified) location. Batteries, charge controllers, relays, "
    "connectors, and burners are ignition sources: place them outside it or "
    "use rated types. This program classifies no area.",
)
MASTS = Caution(
    "masts",
    ("Wind, ice, and lifting loads of PV modules on masts are not calculated here."),
)
FUEL = Caution(
    "fuel",
    "Fuel gas leaks, collects in low places, explodes, and asphyxiates; "
    "exhaust contains carbon monoxide. Install no burner or engine in a room "
    "with people or batteries. Tanks, pressure regulators, and burners must "
    "meet the fuel-gas code in force.",
)
DEFER = Caution(
    "who decides",
    "This is a calculation, not an approval and not a code review. Local "
    "codes and licensed persons decide.",
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
