"""At which price, load, sun and latitude another option becomes the cheapest.

Load and sun need no new simulation: twice the load asks for twice the panels, bank
and source, and half the sun for twice the panels, because each is the same case in
other units.  That is exact for load, whole pieces apart.  It is rough for sun: a sky
that is darker has longer dark spells too, which ask for more bank.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from powerbudget.compare.bench import Bench
from powerbudget.compare.breakeven import turning_value
from powerbudget.compare.candidates import CLASSES_W, MOST_UNITS
from powerbudget.compare.lifecycle import Bill, Piece, Terms, life_cycle
from powerbudget.compare.options import Option
from powerbudget.compare.prices import price_at, price_tables
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.design_month import design_month
from powerbudget.weather.geometry import (
    extraterrestrial_daily_mj_m2,
    monthly_tilted_mj_m2,
)

MEAN_DAY = (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)
"""Day of the year that stands for each month (Duffie and Beckman, Table 1.6.1)."""
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
    """

    name: str
    unit: str
    today: float
    turns_at: float | None
    low: float
    high: float
    takes_over: str


@dataclass(frozen=True)
class Case:
    """What the cost of every option is asked for.

    Parameters
    ----------
    load, sun
        Over those of the site [ratio].
    bank
        Of options with a source beside the panels, over the size found [ratio].
    """

    load: float = 1.0
    sun: float = 1.0
    bank: float = 1.0


def scaled_bill(bill: Bill, option: Option, case: Case) -> Bill:
    """Return a bill at another load and another sun.

    Parameters
    ----------
    bill
        Of a size that meets the criteria today.
    option
        Which option it belongs to.
    case
        Load and sun over today's [ratio].

    Returns
    -------
    Bill
        Panels by load over sun, bank and fuel by load, sources by the price of their
        size; the line as it is.

    Examples
    --------
    >>> panels = Piece("panels", "panels", 1000.0, 20.0)
    >>> from types import SimpleNamespace
    >>> solar = SimpleNamespace(name="solar", trial=None)
    >>> scaled_bill(Bill((panels,)), solar, Case(load=2.0, sun=0.5)).pieces[0].price
    4000.0
    """
    if option.trial is None or not option.trial.generators:
        case = replace(case, bank=1.0)
    return _scaled(bill, case, case.load, _source_ratio(option, case.load))


def _scaled(bill: Bill, case: Case, burnt: float, source: float) -> Bill:
    """Return a bill with panels, bank, fuel and source in other sizes."""
    factor = {
        "panels": case.load / case.sun,
        "battery": case.load * case.bank,
        "generator": source,
    }
    pieces = tuple(
        _tank(replace(p, price=p.price * factor.get(p.group, 1.0)), burnt)
        for p in bill.pieces
    )
    return replace(
        bill,
        pieces=pieces,
        fuel_per_year=bill.fuel_per_year * burnt,
        deliveries_per_year=bill.deliveries_per_year * burnt,
        co2e_kg_per_year=bill.co2e_kg_per_year * burnt,
        yearly={
            name: amount * (case.load if name == "energy" else 1.0)
            for name, amount in bill.yearly.items()
        },
    )


def _tank(piece: Piece, load: float) -> Piece:
    is_tank = piece.group == "fuel gear" and piece.title.endswith("tank")
    return replace(piece, price=piece.price * load) if is_tank else piece


def scaled_bills(bill: Bill, option: Option, case: Case) -> list[Bill]:
    """Return the bills of an option at another load, one for each class of source.

    Parameters
    ----------
    bill, option, case
        As in `scaled_bill`.

    Returns
    -------
    list of Bill
        One, but for thermoelectric generators without panels: there every class that
        carries the load with few units.
    """
    trial = option.trial
    if option.name != "thermoelectric" or trial is None or case.load == 1.0:
        return [scaled_bill(bill, option, case)]
    source = trial.generators[0]
    per_w = float(trial.run.problem.sources.steady_w.mean())
    per_w /= source.rated_w * source.quantity
    asks_w = 1.03 * trial.run.problem.budget.typical_w / per_w
    if math.ceil(asks_w / source.rated_w) < source.quantity:
        # Something else than the mean held it at one unit more: keep it full.
        asks_w = source.rated_w * source.quantity
    sizes = set(CLASSES_W["thermoelectric"])
    if source.rated_w not in sizes:  # a unit of the site's own is not resized
        sizes = {source.rated_w}
    bills = []
    for rated in sorted(sizes):
        count = max(1, math.ceil(asks_w * case.load / rated - 1e-9))
        if count > MOST_UNITS and rated < max(sizes):
            continue
        burnt = count * rated / (source.quantity * source.rated_w)
        price = count * _price("thermoelectric", rated)
        price /= source.quantity * _price("thermoelectric", source.rated_w)
        bills.append(_scaled(bill, case, burnt, price))
    return bills


def _price(kind: str, rated_w: float) -> float:
    row = price_tables()["generator"][kind]
    return price_at(row["watts"], row["value"], rated_w)


def _source_ratio(option: Option, load: float) -> float:
    """Return the price of a source of that many times the watts over today's."""
    trial = option.trial
    if trial is None or not trial.generators or load == 1.0:
        return 1.0
    source = trial.generators[0]
    now = _price(source.kind, source.rated_w)
    return _price(source.kind, source.rated_w * load) / now


def cost_at(option: Option, terms: Terms, case: Case | None = None) -> float:
    """Return an option's life-cycle cost at other terms, load and sun [currency].

    Parameters
    ----------
    option
        One that meets the criteria.
    terms
        Prices a year.
    case
        Load and sun; today's by default.

    Returns
    -------
    float
        Of the cheapest of its sizes: fewer panels and more bank or fuel may serve
        better there [currency].
    """
    if option.bill is None:
        return math.inf
    case = case or Case()
    bills = (option.bill, *option.others)
    return min(
        life_cycle(scaled, terms).total
        for bill in bills
        for scaled in scaled_bills(bill, option, case)
    )


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


def find_turns(bench: Bench, options: list[Option], terms: Terms) -> list[Turn]:
    """Return where the ranking turns, assumption by assumption.

    Parameters
    ----------
    bench
        The site.
    options
        Ranked; those that meet the criteria are looked at.
    terms
        Prices a year.

    Returns
    -------
    list of Turn
        Empty with fewer than two options that meet the criteria.
    """
    met = [option for option in options if option.met]
    if len(met) < 2:
        return []
    return [
        *_price_turns(met, terms, bench.book.currency),
        *_place_turns(bench, met, terms),
    ]


def _by_terms(terms_of: Callable[[float], Terms]) -> Callable[[float], Costs]:
    """Return costs by a value that changes the terms."""

    def costs(value: float) -> Costs:
        changed = terms_of(value)
        return lambda option: cost_at(option, changed)

    return costs


def _by_case(
    terms: Terms, case_of: Callable[[float], Case]
) -> Callable[[float], Costs]:
    """Return costs by a value that changes load or sun."""

    def costs(value: float) -> Costs:
        case = case_of(value)
        return lambda option: cost_at(option, terms, case)

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


def _place_turns(bench: Bench, met: list[Option], terms: Terms) -> list[Turn]:
    """Return the turns by load, by sun of the design month and by latitude."""
    load_w = bench.load_w
    by_load = _turn(
        met, "mean load", "W", (load_w / 20, load_w, 20 * load_w),
        _by_case(terms, lambda value: Case(load=value / load_w)),
    )  # fmt: skip
    month = design_month(bench.problem)
    sun = month.sun_kwh_m2_day
    by_sun = _turn(
        met, f"sun on the panel in {month.name}", "kWh/m2 a day",
        (max(sun / 50, 0.02), sun, max(8.0, sun)),
        _by_case(terms, lambda value: Case(sun=value / sun)),
    )  # fmt: skip
    turns = [by_load, by_sun, latitude_turn(bench, by_sun, sun)]
    now, most = bench.fuelled_d, bench.criteria.autonomy_d
    if now > 0:
        turns.append(_autonomy_turn(bench, met, terms, (now / 8, now, most)))
    return turns


def _autonomy_turn(
    bench: Bench,
    met: list[Option],
    terms: Terms,
    span: tuple[float, float, float],
) -> Turn:
    least = bench.least_battery(span[1])

    def banked(days: float) -> Case:
        return Case(bank=bench.least_battery(days) / least)

    name = "autonomy asked of options with fuel"
    return _turn(met, name, "d", span, _by_case(terms, banked))


def latitude_turn(bench: Bench, by_sun: Turn, sun_kwh_m2_day: float) -> Turn:
    """Return the latitude at which the same sky gives the sun of a turn.

    Parameters
    ----------
    bench
        The site.
    by_sun
        The turn by sun of the design month.
    sun_kwh_m2_day
        Today's [kWh/m2/day].

    Returns
    -------
    Turn
        At the clearness of that month and the panel's own tilt, by textbook geometry
        [deg].
    """
    place = bench.problem.design.tables.site
    today = abs(place.latitude_deg)
    latitudes = np.arange(0.0, 80.01, 0.1)
    blank = Turn("latitude", "deg", today, None, 0.0, 80.0, "")
    if by_sun.turns_at is None:
        return blank
    light = _light_by_latitude(bench, latitudes)
    here = float(np.interp(today, latitudes, light))
    wanted = here * by_sun.turns_at / sun_kwh_m2_day
    # Nearest to the site: the light may rise and fall again towards the equator.
    signs = np.sign(light - wanted)
    crossings = latitudes[:-1][(signs[:-1] != signs[1:])]
    if crossings.size == 0 or here <= 0:
        return blank
    at = float(crossings[np.argmin(np.abs(crossings - today))])
    return replace(blank, turns_at=at, takes_over=by_sun.takes_over)


def _light_by_latitude(
    bench: Bench, latitudes: np.ndarray[tuple[int], np.dtype[np.float64]]
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return light on the plane in the design month by latitude [MJ/m2/day]."""
    problem = bench.problem
    record, tables = problem.record, problem.design.tables
    name = design_month(problem).name
    month = MONTHS.index(name)
    south = tables.site.latitude_deg < 0
    # A mean day of the other half of the year stands for a southern month.
    day = MEAN_DAY[(month + 6) % 12 if south else month]
    inside = record.month == month + 1
    level_mj = float(record.ghi_w_m2[inside].mean()) * 0.0864
    here = float(extraterrestrial_daily_mj_m2(abs(tables.site.latitude_deg), day))
    clearness = min(0.8, level_mj / here) if here > 0.1 else 0.4
    outside = np.asarray(extraterrestrial_daily_mj_m2(latitudes, day))
    return np.asarray(
        monthly_tilted_mj_m2(
            clearness * outside,
            latitude_deg=latitudes,
            tilt_deg=tables.array.tilt_deg,
            day_of_year=day,
            albedo_frac=tables.array.albedo_frac,
        )
    )
