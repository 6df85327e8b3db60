"""At which price, rate, life, load or days of autonomy another option comes first.

One question, asked two ways.  Prices, rates and lives are exact on the bills: the sizes
found stay, and only the sum is made anew.  Load and days of autonomy ask for other
sizes: at every trial value each option is searched and simulated anew, and what is
printed lies between two values that were tried.  Nothing is scaled.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from powerbudget.balance.problem import Problem
from powerbudget.bisection import halved
from powerbudget.compare.alternative import Option
from powerbudget.compare.lifecycle import Terms, life_cycle
from powerbudget.compare.priced_site import PricedSite
from powerbudget.compare.sized import Progress, sized_options
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario

GAS_PRICE_RANGE = 1.0
"""How dear site gas is looked at where it is free today [currency/m3]."""
GROUP_WORDS = {
    "PV modules": "module price",
    "battery": "battery price",
    "generator": "generator price",
}
LIFE_WORDS = {"battery": "battery life", "generator": "generator life"}
PRICE_STEPS = 24
"""Steps in which each side of a price is scanned, by ratio where it is above 0."""
SIZE_STEPS = (1.25, 1.6, 2.5, 4.0)
"""How far from today's value sizes are found anew, up and down [ratio]."""
PRICE_NEAR, SIZE_NEAR = 1e-3, 1 - 1 / 1.02
"""How near the two values must lie between which the order turns, over the larger."""
First = Callable[[float], str]
"""Title of the option that comes first at a value, empty where none will do."""


@dataclass(frozen=True)
class Turn:
    """One assumption and the value at which the ranking turns.

    Parameters
    ----------
    name, unit
        Which assumption [text].
    today, turns_at
        In that unit; None where the first stays first over the whole range.
    low, high
        Range that was looked through.
    takes_over
        Which option is then cheapest, empty where none is [text].
    between
        Where sizes were found anew: the nearest value at which the first still came
        first, and the nearest at which it did not; None for prices.
    """

    name: str
    unit: str
    today: float
    turns_at: float | None
    low: float
    high: float
    takes_over: str
    between: tuple[float, float] | None = None


def cost_at(option: Option, terms: Terms) -> float:
    """Return an option's life-cycle cost at other terms [currency].

    Parameters
    ----------
    option
        One that meets the criteria.
    terms
        Prices a year.

    Returns
    -------
    float
        Of the cheapest of its sizes: fewer panels and more bank or fuel may serve
        better there [currency].
    """
    if option.bill is None:
        return math.inf
    bills = (option.bill, *option.others)
    return min(life_cycle(bill, terms).total for bill in bills)


@dataclass(frozen=True)
class _Crossing:
    """Where another option comes first: both sides of it, who, and how far was tried."""

    kept: float
    lost: float
    over: str
    tried: tuple[float, float]


def _crossing(
    first: First,
    today: float,
    outward: Iterable[tuple[int, float]],
    near: float,
    *,
    ratio: bool = False,
) -> _Crossing:
    """Go outward, each side for itself, until another option comes first.

    Who comes first stays empty where none does.
    """
    now, over = first(today), ""
    reached: dict[int, float] = {1: today, -1: today}
    ended: set[int] = set()

    def stays(value: float) -> bool:
        nonlocal over
        title = first(value)
        over = over if title in {"", now} else title
        return title == now

    for side, value in outward:
        if side in ended:
            continue
        if stays(value):
            reached[side] = value
        elif not over:
            # Nothing will do from here on: the order has no meaning there.
            ended.add(side)
        else:
            kept, lost = halved(stays, reached[side], value, near=near, ratio=ratio)
            tried = (min(*reached.values(), value), max(*reached.values(), value))
            return _Crossing(kept, lost, over, tried)
    ends = (min(reached.values()), max(reached.values()))
    return _Crossing(today, today, "", ends)


def price_turn(
    name: str, unit: str, span: tuple[float, float, float], first: First
) -> Turn:
    """Return where the first option stops being the cheapest along one price.

    Parameters
    ----------
    name, unit
        Which assumption [text].
    span
        Lowest, today's and highest value [unit].
    first
        Names the cheapest at a value [text].

    Returns
    -------
    Turn
        The one nearest to today's value, to a thousandth.  Sizes come in whole pieces,
        so costs may jump; it is where the order changes.

    Examples
    --------
    >>> dear = lambda price: "gas" if price < 0.5 else "sun"
    >>> turn = price_turn("price", "USD", (0.0, 2.0, 5.0), dear)
    >>> round(turn.turns_at, 2), turn.takes_over
    (0.5, 'gas')
    """
    low, today, high = span
    found = [
        _crossing(first, today, [(1, x) for x in _scan(today, end)], PRICE_NEAR)
        for end in (low, high)
    ]
    there = [(0.5 * (at.kept + at.lost), at.over) for at in found if at.over]
    nearest = min(there, key=lambda item: _far(item[0], today), default=(None, ""))
    return Turn(name, unit, today, nearest[0], low, high, nearest[1])


def _scan(start: float, end: float) -> Iterator[float]:
    for step in range(1, PRICE_STEPS + 1) if start != end else ():
        share = step / PRICE_STEPS
        if start > 0 and end > 0:
            yield float(start * (end / start) ** share)
        else:
            yield start + (end - start) * share


def _far(value: float, start: float) -> float:
    """Return how far a value lies, as a ratio where both are positive."""
    if value > 0 and start > 0:
        return max(value / start, start / value)
    return abs(value - start)


def sized_turn(
    name: str, unit: str, today: float, first: First, most: float = math.inf
) -> Turn:
    """Return where the first option stops being the first along one assumption.

    Parameters
    ----------
    name, unit
        Which assumption [text].
    today
        Its value, above 0 [unit].
    first
        Sizes every option at a value and names the cheapest [text].
    most
        Largest value that can be asked [unit].

    Returns
    -------
    Turn
        Nearest to today's value by ratio; ``low`` and ``high`` are the outermost values
        that were tried.

    Examples
    --------
    >>> turn = sized_turn("load", "W", 100.0, lambda w: "sun" if w < 130 else "gas")
    >>> turn.takes_over, turn.between[0] < 130 <= turn.between[1]
    ('gas', True)
    >>> sized_turn("load", "W", 100.0, lambda w: "sun").turns_at is None
    True
    """
    outward = [
        (side, value)
        for step in SIZE_STEPS
        for side, value in ((1, today * step), (-1, today / step))
        if value <= most
    ]
    at = _crossing(first, today, outward, SIZE_NEAR, ratio=True)
    if not at.over:
        return Turn(name, unit, today, None, *at.tried, "")
    middle = math.sqrt(at.kept * at.lost)
    return Turn(name, unit, today, middle, *at.tried, at.over, (at.kept, at.lost))


def find_turns(options: list[Option], terms: Terms, currency: str) -> list[Turn]:
    """Return where the ranking turns, price by price.

    Parameters
    ----------
    options
        Ranked; those that meet the criteria are looked at.
    terms
        Prices a year.
    currency
        Of every sum [text].

    Returns
    -------
    list of Turn
        Empty with fewer than two options that meet the criteria.
    """
    met = [option for option in options if option.met]

    def cheapest(terms_of: Callable[[float], Terms], value: float) -> str:
        there = terms_of(value)
        return min(met, key=lambda option: cost_at(option, there)).title

    return [
        price_turn(name, unit, span, partial(cheapest, terms_of))
        for name, unit, span, terms_of in _prices(met, terms, currency)
        if len(met) > 1
    ]


def _prices(
    met: list[Option], terms: Terms, currency: str
) -> Iterator[tuple[str, str, tuple[float, float, float], Callable[[float], Terms]]]:
    """Yield name, unit, span and terms by value of each price, rate and life."""

    def changed(field: str, key: str, value: float) -> Terms:
        changes: dict[str, Any] = {field: {**getattr(terms, field), key: value}}
        return replace(terms, **changes)

    def trips(value: float) -> Terms:
        # Fuel comes by the same road as people do: both trips move together.
        ratio = value / terms.visit if terms.visit else 1.0
        return replace(terms, visit=value, delivery=terms.delivery * ratio)

    def rate(value: float) -> Terms:
        return replace(terms, rate_frac=value / 100)

    fuels = {option.fuel: option.fuel_unit for option in met if option.fuel}
    for fuel, unit in fuels.items():
        today = terms.fuel_price[fuel]
        span = (today / 10, today, 10.0 * today if today else GAS_PRICE_RANGE)
        name = f"price of {fuel.replace('-', ' ')}"
        yield name, f"{currency}/{unit}", span, partial(changed, "fuel_price", fuel)
    span = (terms.visit / 20, terms.visit, max(20 * terms.visit, 1000.0))
    yield "cost of a visit", currency, span, trips
    now = 100 * terms.rate_frac
    yield "discount rate", "%", (0.0, now, max(15.0, 2 * now)), rate
    for field, words, span in (
        ("piece_factor", GROUP_WORDS, (0.1, 1.0, 10.0)),
        ("life_factor", LIFE_WORDS, (0.2, 1.0, 2.0)),
    ):
        for group, name in words.items():
            yield name, "x assumed", span, partial(changed, field, group)


def sized_turns(
    design: Design,
    problem: Problem,
    site: PricedSite,
    options: list[Option],
    progress: Progress | None,
) -> list[Turn]:
    """Return the load and the days of autonomy at which another option comes first.

    Parameters
    ----------
    design, problem
        A checked site, and the same from `powerbudget.compare.sized.panelled`.
    site, options
        Its comparison.
    progress
        Called with sizings done, 0 and what comes next [count, text].

    Returns
    -------
    list of Turn
        Each with the two tried values between which the order turns.
    """
    tables, tried = design.tables, 0
    load_w, days = site.load_w, tables.criteria.autonomy_d

    def first(words: str, problem_at: Callable[[float], Problem], now: float) -> First:
        def at(value: float) -> str:
            nonlocal tried
            if value == now:
                return options[0].title
            tried += 1
            if progress:
                progress(tried, 0, f"sizing again at {value:.3g} {words}")
            best = sized_options(tables, problem_at(value))[1][0]
            return best.title if best.met else ""

        return at

    def loaded(value: float) -> Problem:
        return problem.under(Scenario(load_factor=value / load_w))

    def lasting(value: float) -> Problem:
        asked = problem.design.tables.criteria.model_copy(update={"autonomy_d": value})
        return problem.under(Scenario(criteria=asked))

    turns = [sized_turn("average load", "W", load_w, first("W", loaded, load_w))]
    if days > 0:
        most = problem.record.n * problem.record.step_h / 24.0
        name = "autonomy"
        turns.append(sized_turn(name, "d", days, first("d", lasting, days), most))
    return turns
