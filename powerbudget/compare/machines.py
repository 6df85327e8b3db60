"""Which sources are tried for a site: classes of size, fuel, tank."""

from __future__ import annotations

import math

from powerbudget.compare.prices import PriceBook
from powerbudget.generators.access import days_without_visit
from powerbudget.generators.library import fuels, source_kinds
from powerbudget.generators.unit import make_unit
from powerbudget.quantities import in_unit
from powerbudget.site.generator import Generator, Tank
from powerbudget.site.tables import Site

CLASSES_W: dict[str, tuple[float, ...]] = {
    "thermoelectric": (21.0, 54.0, 108.0, 220.0, 550.0),
    "methanol-cell": (25.0, 50.0, 110.0, 250.0),
    "solid-oxide-cell": (100.0, 250.0, 500.0),
    "engine": (1000.0, 2000.0, 8000.0),
}
"""Sizes that are made, by kind; classes of the trade, unverified."""
TANKS_L = (30.0, 60.0, 200.0, 450.0, 950.0, 1900.0, 3800.0)
"""Tanks and cylinders that are sold: 120 to 1,000 US gal and small ones, unverified."""
STEADY = ("thermoelectric", "vapor-turbine", "stirling", "other")
MOST_UNITS = 6
SPARE_DAYS = 60.0


def stock_days(tables: Site) -> float:
    """Return how many days a tank should last between deliveries [d].

    Returns
    -------
    float
        Closed season and delay of ``[access]``, and `SPARE_DAYS` beyond [d].
    """
    return days_without_visit(tables.access) + SPARE_DAYS


def make_tank(burn_l_d: float, fuel: str, tables: Site, book: PriceBook) -> Tank:
    """Return tanks that outlast the closed season, at the least cost with deliveries.

    Parameters
    ----------
    burn_l_d
        Mean burn [L/d].
    fuel
        Which fuel [text].
    tables, book
        Access of the site; prices of tanks and trips, and what a trip carries.

    Returns
    -------
    Tank
        One or more of the sizes of `TANKS_L`.

    Notes
    -----
    Between the stock that access asks for and two years, what tanks cost is held
    against the trips that they save over the study, without discount.
    """
    row = fuels()[fuel]
    # Refilled at 30 %: what lies between that and full must last.
    usable = row.fill_frac - max(0.3, row.unusable_frac)
    least, trip, carries = stock_days(tables), book.delivery(), book.carries_l()
    litres = book.tank(1.0)

    def cost(days: float) -> float:
        """Return price of tanks for so many days, and of the trips to fill them."""
        size, count = _tanks(burn_l_d * days / usable)
        load = min(size * count * usable, carries)
        trips = burn_l_d * 365.25 / load * book.own.horizon_years
        return size * count * litres + trips * trip

    days = min((d for d in (least, 90.0, 180.0, 365.0, 730.0) if d >= least), key=cost)
    size, count = _tanks(burn_l_d * days / usable)
    return Tank.model_validate(
        {"volume": f"{size} L", "count": count, "largest_delivery": f"{carries} L"}
    )


def _tanks(wanted_l: float) -> tuple[float, int]:
    """Return size and count of tanks for a volume [L, count]."""
    size = next((size for size in TANKS_L if size >= wanted_l), TANKS_L[-1])
    return size, max(1, math.ceil(wanted_l / size))


def source(
    kind: str, fuel: str, rated_w: float, start_stop: tuple[float, float]
) -> Generator:
    """Return a generator table of a class with everything else by its kind.

    Parameters
    ----------
    kind, fuel
        Names of the site file [text].
    rated_w
        One unit [W].
    start_stop
        States of charge at which one that can stop starts and stops [fraction].

    Returns
    -------
    Generator
        One unit without a tank.
    """
    table = {"name": source_kinds()[kind].title, "kind": kind, "fuel": fuel,
             "rated": f"{rated_w} W"}  # fmt: skip
    if kind not in STEADY:
        start, stop = start_stop
        table |= {"dispatch": "battery", "start": in_unit(100 * start, "%"),
                  "stop": f"{in_unit(100 * stop, '%')}"}  # fmt: skip
    return Generator.model_validate(table)


def start_stop_frac(floor_frac: float) -> tuple[float, float]:
    """Return the states of charge at which a helper starts and stops [fraction].

    Parameters
    ----------
    floor_frac
        Charge that must be left at the worst, or that the worst cold hides [fraction].

    Returns
    -------
    tuple of float
        Some way above the floor, so that it comes in time; and a quarter of the bank
        further, so that the sun finds room [fraction].

    Notes
    -----
    Common practice, no source; state a ``[[generator]]`` to choose otherwise.

    Examples
    --------
    >>> start_stop_frac(0.4)
    (0.55, 0.8)
    """
    start = min(0.85, floor_frac + 0.15)
    return start, min(0.97, start + 0.25)


def full_burn_l_d(generator: Generator) -> float:
    """Return the fuel of all units at full fire [L/d]."""
    unit = make_unit(generator, 0.0)
    return float(unit.fuel_per_day(unit.rated_w) * unit.fuel.litres_per_unit)


def with_tank(
    generator: Generator, tables: Site, book: PriceBook, share: float = 1.0
) -> Generator:
    """Return a generator with a tank, where its fuel comes in one and none is stated.

    Parameters
    ----------
    generator
        A generator table.
    tables, book
        Access of the site, and how much a trip carries.
    share
        Of the time that it is expected to run at full fire [fraction].

    Returns
    -------
    Generator
        Unchanged for site gas and for a tank that is stated.
    """
    if generator.fuel in {"natural-gas", "none"} or generator.tank is not None:
        return generator
    tank = make_tank(share * full_burn_l_d(generator), generator.fuel, tables, book)
    return generator.model_copy(update={"tank": tank})


def fuels_for(
    kind: str, book: PriceBook, own: tuple[Generator, ...] = ()
) -> tuple[str, ...]:
    """Return the fuels that a kind is tried on, site gas first [text].

    Parameters
    ----------
    kind
        Of `CLASSES_W` [text].
    book
        Prices: site gas counts as there where it has a price, or is burnt.
    own
        The site file's ``[[generator]]`` tables: what one of the kind burns is there.

    Returns
    -------
    tuple of str
        Propane and methanol can be brought anywhere.
    """
    known = ("natural-gas", "propane") if book.has_gas else ("propane",)
    known = ("methanol",) if kind == "methanol-cell" else known
    mine = (g.fuel for g in own if g.kind == kind and g.fuel != "none")
    return tuple(dict.fromkeys((*known, *mine)))


def templates(
    kind: str,
    fuel: str,
    own: tuple[Generator, ...],
    start_stop: tuple[float, float],
) -> list[Generator]:
    """Return one unit of each size to try: the site file's own, or the classes.

    Parameters
    ----------
    kind, fuel
        Names of the site file [text].
    own, start_stop
        The site file's ``[[generator]]`` tables, and the states of charge for starts
        and stops of a class.

    Returns
    -------
    list of Generator
        By rising watts; the site's own machines with their fuel use, tank and months.
    """
    mine = [g for g in own if g.kind == kind and g.fuel == fuel]
    if mine:
        units = [g.model_copy(update={"quantity": 1}) for g in mine]
        return sorted(units, key=lambda unit: unit.rated_w)
    return [source(kind, fuel, rated, start_stop) for rated in CLASSES_W[kind]]
