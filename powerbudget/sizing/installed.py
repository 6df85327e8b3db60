"""What a size costs installed: pieces, controller, mast, foundation, box and freight.

Labor is not in it.  Where built-in prices cannot be turned into the site's currency,
only what the site file states is counted, and `counted_words` says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from powerbudget.balance.controller_rating import controller_rating
from powerbudget.balance.problem import Problem
from powerbudget.charging.ratings import fitting_controller
from powerbudget.site.prices import PieceBook

CONTROLLER_KEY = "costs.equipment.charge_controller"
FREIGHT = "freight"


@dataclass(frozen=True)
class CostLine:
    """One line of what a size costs.

    Parameters
    ----------
    piece
        What is bought [text].
    count
        How many; of freight the mass [pieces or kg].
    cost, low, high
        Of all of them, and the range that the source of its price leaves [currency].
    key
        How the site file would state the price [text].
    source, status
        Where the price came from [text].
    """

    piece: str
    count: int
    cost: float
    low: float
    high: float
    key: str
    source: str
    status: str


def chosen_controller(problem: Problem, strings: float) -> tuple[str, int] | None:
    """Return the charge controller of so many strings, and how many [text, count].

    Parameters
    ----------
    problem
        Prepared site.
    strings
        Array strings in parallel [count].

    Returns
    -------
    tuple or None
        The site's own part where it names one, as many as it states; else the generic
        rating of which fewest carry the array, or the charge current that the site
        states and the run clips at; None where none bears it [text, count].
    """
    regulator = problem.design.tables.regulator
    if regulator.part:
        return regulator.part, regulator.parallel
    asked, stated_a = controller_rating(problem, strings), regulator.maximum_charge_a
    if stated_a is None or regulator.parallel * stated_a >= asked.charge_a:
        return fitting_controller(problem.design.parts, asked)
    one = fitting_controller(problem.design.parts, replace(asked, charge_a=stated_a))
    return one and (one[0], one[1] * regulator.parallel)


def controller_piece(
    book: PieceBook, problem: Problem, strings: float
) -> tuple[str, int, float]:
    """Return the charge controllers of so many strings, and the price of all.

    Parameters
    ----------
    book
        Prices; remembers the one used.
    problem, strings
        As in `chosen_controller`.

    Returns
    -------
    tuple
        Name, number and price; by the watt of array where the site file prices it so,
        and where no part of the library bears the array [text, count, currency].
    """
    tables = problem.design.tables
    chosen = chosen_controller(problem, strings)
    if chosen is None or book.own.equipment.charge_controller is not None:
        name, count = chosen or ("charge controller", 1)
        watts = strings * tables.array.series * problem.array.module.power_w
        return name, count, book.regulator(watts)
    name, count = chosen
    part: Any = problem.design.parts[name]
    rate = book.money(CONTROLLER_KEY)
    ends = [rate * x for x in (part.price.low, part.price.typical, part.price.high)]
    said = (f"{part.source}, {part.price.year}", part.status)
    each = book.built_in(CONTROLLER_KEY, part.title, ends, book.currency, *said)
    return name, count, count * each


def cost_lines(problem: Problem, strings: int, batteries: int) -> tuple[CostLine, ...]:
    """Return what a size costs, line by line; none without prices of both pieces.

    Parameters
    ----------
    problem
        Prepared site.
    strings, batteries
        Array and battery strings in parallel [count].

    Returns
    -------
    tuple of CostLine
        In the currency of ``[costs]``.
    """
    costs = problem.design.tables.costs
    if costs is None or costs.each is None:
        return ()
    book = PieceBook(problem.design.tables)
    return tuple(
        line
        for line in _lines(book, problem, strings, batteries)
        if line.key not in book.missing
    )


def installed_cost(problem: Problem, strings: int, batteries: int) -> float | None:
    """Return what a size costs installed, labor not counted; None without prices.

    Parameters
    ----------
    problem, strings, batteries
        As in `cost_lines`.

    Returns
    -------
    float or None
        In the currency of ``[costs]``; rises with every piece.
    """
    lines = cost_lines(problem, strings, batteries)
    return sum(line.cost for line in lines) if lines else None


def counted_words(problem: Problem) -> str:
    """Return what the cost of a size holds [text]."""
    book = PieceBook(problem.design.tables)
    lines = list(_lines(book, problem, 1, 1))
    words = ", ".join(line.piece for line in lines if line.key not in book.missing)
    if not book.missing:
        return words
    left = (
        "built-in prices of the other items are in USD, and costs.per_usd is not stated"
    )
    return f"{words} ({left})"


def _lines(
    book: PieceBook, problem: Problem, strings: int, batteries: int
) -> Iterator[CostLine]:
    tables, unit = problem.design.tables, problem.design.battery_unit
    modules, units = strings * tables.array.series, batteries * tables.battery.series
    each_w = problem.array.module.power_w
    watts, stored_wh = modules * each_w, units * unit.nominal_v * unit.capacity_ah

    def line(piece: str, count: int, cost: float, key: str) -> CostLine:
        used = book.used[key]
        low, high = (
            cost * end / used.value if used.value else cost
            for end in (used.low, used.high)
        )
        return CostLine(piece, count, cost, low, high, key, used.source, used.status)

    module_cost = modules * book.module_alone(each_w)
    own_power = tables.costs is not None and tables.costs.equipment.module_power
    key = "costs.equipment.module_power" if own_power else "costs.module"
    yield line("PV modules", modules, module_cost, key)
    cost = units * book.battery(stored_wh / units)
    own_energy = tables.costs is not None and tables.costs.equipment.battery_energy
    key = "costs.equipment.battery_energy" if own_energy else "costs.battery_unit"
    yield line("battery units", units, cost, key)
    if modules:
        _, count, cost = controller_piece(book, problem, strings)
        yield line("charge controller", count, cost, CONTROLLER_KEY)
    if modules and book.bare_modules:
        masts, cost = book.masts(watts), book.structure(watts)
        yield line("masts with frame", masts, cost, "costs.equipment.structure")
        cost = masts * book.foundation()
        yield line("foundations", masts, cost, "costs.equipment.foundation")
    yield line("battery boxes", units, book.box(stored_wh), "costs.equipment.box")
    kg = watts * book.mass("module") + stored_wh / 1000.0 * book.mass(book.chemistry)
    yield line(FREIGHT, round(kg), kg * book.freight(), "costs.trips.freight")
