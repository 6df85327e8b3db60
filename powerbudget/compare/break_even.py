"""At which price, rate or life another option becomes the cheapest.

These are exact on the bills: the sizes found stay, and only the sum is made anew.  What
would ask for other sizes, load and days of autonomy, is in
`powerbudget.compare.resizing`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from powerbudget.compare.alternative import Option
from powerbudget.compare.lifecycle import Terms, life_cycle
from powerbudget.compare.power_line_reach import turning_value

GAS_PRICE_RANGE = 1.0
"""How dear site gas is looked at where it is free today [currency/m3]."""
GROUP_WORDS = {
    "panels": "price of panels",
    "battery": "price of batteries",
    "generator": "price of generators",
}
LIFE_WORDS = {"battery": "life of batteries", "generator": "life of generators"}


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


Costs = Callable[[Option], float]


def _turn(
    options: list[Option],
    name: str,
    unit: str,
    span: tuple[float, float, float],
    costs: Callable[[float], Costs],
) -> Turn:
    """Return where the first option stops being the cheapest along one assumption."""
    low, today, high = span
    best, rivals = options[0], options[1:]

    def gap(value: float) -> float:
        cost = costs(value)
        return cost(best) - min(cost(rival) for rival in rivals)

    at = turning_value(gap, low, high, today)
    over = ""
    if at is not None:
        beyond = at * 1.002 if at > today else at * 0.998
        over = min(rivals, key=costs(beyond)).title
    return Turn(name, unit, today, at, low, high, over)


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
    return _price_turns(met, terms, currency) if len(met) > 1 else []


def _by_terms(terms_of: Callable[[float], Terms]) -> Callable[[float], Costs]:
    """Return costs by a value that changes the terms."""

    def costs(value: float) -> Costs:
        changed = terms_of(value)
        return lambda option: cost_at(option, changed)

    return costs


def _price_turns(met: list[Option], terms: Terms, currency: str) -> list[Turn]:
    fuels = {option.fuel: option.fuel_unit for option in met if option.fuel}
    turns = [
        _fuel_turn(met, terms, fuel, f"{currency}/{fuels[fuel]}") for fuel in fuels
    ]

    def trips(value: float) -> Terms:
        # Fuel comes by the same road as people do: both trips move together.
        ratio = value / terms.visit if terms.visit else 1.0
        return replace(terms, visit=value, delivery=terms.delivery * ratio)

    span = (terms.visit / 20, terms.visit, max(20 * terms.visit, 1000.0))
    turns.append(_turn(met, "cost of a visit", currency, span, _by_terms(trips)))

    def rate(value: float) -> Terms:
        return replace(terms, rate_frac=value / 100)

    now = 100 * terms.rate_frac
    span = (0.0, now, max(15.0, 2 * now))
    turns.append(_turn(met, "discount rate", "%", span, _by_terms(rate)))
    turns.extend(_group_turn(met, terms, group) for group in GROUP_WORDS)
    turns.extend(_life_turn(met, terms, group) for group in LIFE_WORDS)
    return turns


def _fuel_turn(met: list[Option], terms: Terms, fuel: str, unit: str) -> Turn:
    today = terms.fuel_price[fuel]

    def priced(value: float) -> Terms:
        return replace(terms, fuel_price={**terms.fuel_price, fuel: value})

    high = 10.0 * today if today else GAS_PRICE_RANGE
    name = f"price of {fuel.replace('-', ' ')}"
    return _turn(met, name, unit, (today / 10, today, high), _by_terms(priced))


def _group_turn(met: list[Option], terms: Terms, group: str) -> Turn:
    def factored(value: float) -> Terms:
        return replace(terms, piece_factor={**terms.piece_factor, group: value})

    name = GROUP_WORDS[group]
    return _turn(met, name, "x today's", (0.1, 1.0, 10.0), _by_terms(factored))


def _life_turn(met: list[Option], terms: Terms, group: str) -> Turn:
    def factored(value: float) -> Terms:
        return replace(terms, life_factor={**terms.life_factor, group: value})

    span = (0.2, 1.0, 2.0)
    return _turn(met, LIFE_WORDS[group], "x today's", span, _by_terms(factored))
