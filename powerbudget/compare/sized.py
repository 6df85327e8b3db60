"""Every option sized to the same criteria under one load and one sky."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from powerbudget.balance.problem import Problem, prepare
from powerbudget.compare.alternative import Option, make_option
from powerbudget.compare.lifecycle import Terms
from powerbudget.compare.machines import fuels_for
from powerbudget.compare.panels import size_solar
from powerbudget.compare.priced_site import PricedSite
from powerbudget.compare.prices import PriceBook
from powerbudget.compare.search import (
    OptionSize,
    as_written,
    size_hybrid,
    size_line,
    size_steady,
)
from powerbudget.generators.library import source_kinds
from powerbudget.site.costs import OptionName
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario
from powerbudget.site.tables import Regulator, Site
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Search
from powerbudget.sizing.other_controller import OtherController, other_controller
from powerbudget.sizing.picks import ranked
from powerbudget.sizing.search import search_sizes, shown_size

Progress = Callable[[int, int, str], None]
HELPERS: tuple[OptionName, ...] = (
    "methanol-cell",
    "solid-oxide-cell",
    "thermoelectric",
    "engine",
)
FUEL_WORDS = {
    "natural-gas": "site gas",
    "propane": "propane",
    "methanol": "methanol",
    "diesel": "diesel",
}
Plan = list[tuple[str, str]]
Sized = dict[tuple[str, str], tuple[PricedSite, OptionSize]]


def sized_options(
    written: Site, problem: Problem, progress: Progress | None = None
) -> tuple[PricedSite, list[Option], Terms, OtherController | None]:
    """Return every option sized to the criteria of a problem, cheapest first.

    Parameters
    ----------
    written
        Tables of the site file, its generators included.
    problem
        From `panelled`, or the same with another load or other criteria.
    progress
        As in `compare`.

    Returns
    -------
    tuple
        PricedSite as the file stands, with panels or without, with the prices that
        were used; options, terms, and the charge controller that stands in place of
        the stated one.
    """
    priced = written.model_copy(update={"array": problem.design.tables.array})
    book = PriceBook(priced)
    plan = _plan(written, book)
    terms = book.terms(_burnt(plan, book, written))
    _ask_pieces(book, plan)
    book.refuse_mixed()
    stands, sized, other = _sized(problem, book, plan, terms, written, progress)
    # A second book holds the prices of what was chosen, not of all that was tried.
    book = PriceBook(priced)
    terms = book.terms(_burnt(plan, book, written))
    options = []
    for (name, fuel), (site, found) in sized.items():
        site.book = book
        title = _title(name, fuel, found)
        option = make_option(site, name, title, found, terms)
        if other is not None and name in {"solar", "hybrid"}:
            option = replace(option, binding=f"{other.named}; {option.binding}")
        options.append(option)
    options.sort(key=lambda option: (not option.met, _by_cost(option)))
    stands.book = book
    book.refuse_mixed()
    return stands, options, terms, other


def _by_cost(option: Option) -> float:
    cost = option.life_cycle_cost
    return math.inf if math.isnan(cost) else cost


def panelled(design: Design) -> Problem:
    """Return a site laid out for the kernel with panels and without generators.

    Parameters
    ----------
    design
        A checked site, with or without panels of its own.

    Returns
    -------
    Problem
        Where the file has no panels: 100 W modules, one in series for each 12 V of the
        bus, tilted 15 deg more than the latitude, facing the equator, with power-point
        tracking.
    """
    return prepare(design, scenario=Scenario(machines=()).over(_panels(design.tables)))


def _panels(tables: Site) -> Scenario:
    """Return panels for a site whose file has none."""
    if tables.array.parallel:
        return Scenario()
    latitude = tables.site.latitude_deg
    return Scenario(
        array_strings=1,
        module="module-36-cell-100w",
        # Each charges 12 V; fewer stay below the battery's volts.
        modules_in_series=math.ceil(tables.bus.nominal_v / 12.0),
        tilt_deg=min(90.0, round(abs(latitude) + 15.0)),
        azimuth_deg=180.0 if latitude >= 0 else 0.0,
        charge_controller=Regulator.model_validate({"kind": "mppt"}),
    )


def bare(problem: Problem, written: Site) -> Problem:
    """Return a site without panels, and without the draw of what controls them.

    Parameters
    ----------
    problem
        From `panelled`, or the same under a scenario.
    written
        Tables of the site file: where it has no panels, these are its own.

    Returns
    -------
    Problem
        What `prepare` makes of a file that has no ``[array]``.
    """
    controller = written.regulator
    if written.array.parallel:
        # Its set points are those of the battery, which other sources charge too.
        asleep = {"own_current_a": 0.0, "own_current_night_a": None}
        controller = controller.model_copy(update=asleep)
    return problem.under(Scenario(array_strings=0, charge_controller=controller))


def _plan(tables: Site, book: PriceBook) -> Plan:
    """Return which options are sized, each with its fuel; panels first."""
    asked = tables.compare.options if tables.compare else None
    names = list(asked or ("solar", "thermoelectric", "hybrid", "methanol-cell",
                           "engine"))  # fmt: skip
    if asked is None and tables.generator:
        names += [k for k in HELPERS if k in {g.kind for g in tables.generator}]
        names.append("as-written")
    if asked is None and book.own.line.distance_m is not None:
        names.append("power-line")
    plan: Plan = []
    for name in dict.fromkeys(names):
        if name in HELPERS:
            plan += [(name, fuel) for fuel in fuels_for(name, book, tables.generator)]
        else:
            plan.append((name, ""))
    return plan


def _ask_pieces(book: PriceBook, plan: Plan) -> None:
    """Ask for the price of every piece, so that all that are missing are said at once."""
    names = {name for name, _ in plan}
    kinds = [kind for kind in HELPERS if {kind, "hybrid"} & names]
    for kind in kinds:
        book.generator(kind, 100.0)
    own = book.own.equipment
    if kinds:
        book.lump("costs.equipment.fuel_train", "fuel_train", own.fuel_train)
        book.tank(1.0)
    if "engine" in kinds:
        book.lump("costs.equipment.charger", "charger", own.charger)
    if {"solar", "hybrid"} & names:
        book.module(100.0)
        book.regulator(100.0)
    if "power-line" in names:
        book.line()
    book.battery(100.0)


def _burnt(plan: Plan, book: PriceBook, tables: Site) -> tuple[str, ...]:
    burnt = {fuel for _, fuel in plan if fuel}
    if any(name == "as-written" for name, _ in plan):
        burnt |= {g.fuel for g in tables.generator} - {"none"}
    if any(name == "hybrid" for name, _ in plan):
        own = tables.generator
        burnt |= {f for kind in HELPERS for f in fuels_for(kind, book, own)}
    return tuple(sorted(burnt))


def _sized(
    problem: Problem,
    book: PriceBook,
    plan: Plan,
    terms: Terms,
    written: Site,
    progress: Progress | None,
) -> tuple[PricedSite, Sized, OtherController | None]:
    """Return the site as written, each option's best with the site it stands on.

    With another charge controller than the stated one, where panels have that.
    """
    found: Sized = {}
    own, other = written.generator, None
    search: Search | None = None
    frontier: tuple[Candidate, ...] = ()
    stands = problem
    if {"solar", "hybrid"} & {name for name, _ in plan}:
        search, frontier = search_sizes(problem)
        shown = shown_size(search, frontier)
        built = search.ways[search.way_of(shown)].problem
        # A rating that a dearer source would have to make up for is not bought.
        other = other_controller(built, shown)
        if other is not None:
            search, frontier = other.search, other.frontier
        # Every option with panels has them as `size` turns and strings them.
        stands = _as_turned(problem, search, frontier)
    site, alone, filed = (
        PricedSite(p, book, own) for p in (stands, bare(problem, written), problem)
    )
    filed = filed if written.array.parallel else alone
    for number, (name, fuel) in enumerate(plan):
        if progress:
            progress(number, len(plan), _title(name, fuel, None))
        if name == "solar" and search is not None:
            found[name, fuel] = site, size_solar(site, terms, search, frontier)
            search = None  # and with it the hours of every way to build the array
        elif name == "hybrid":
            found[name, fuel] = site, size_hybrid(site, terms, HELPERS)
        elif name == "power-line":
            found[name, fuel] = alone, size_line(alone)
        elif name == "as-written":
            found[name, fuel] = filed, as_written(filed, written)
        else:
            found[name, fuel] = alone, size_steady(alone, name, fuel, terms)
        found[name, fuel] = _shed(*found[name, fuel])
    if progress:
        progress(len(plan), len(plan), "prices")
    return filed, found, other


def _shed(site: PricedSite, found: OptionSize) -> tuple[PricedSite, OptionSize]:
    """Return what is asked of an option that was sized, without all other hours."""
    site.forget()
    kept = site.shed(found.trial) if found.trial else None
    return site, replace(found, trial=kept)


def _as_turned(
    problem: Problem, search: Search, frontier: tuple[Candidate, ...]
) -> Problem:
    """Return the site with its panels as they stand in the pick of a search."""
    way = search.way_of(min(frontier, key=ranked)) if frontier else 0
    turned = search.ways[way].problem
    tables, own = turned.design.tables, problem.design.tables
    if (tables.array, tables.regulator) == (own.array, own.regulator):
        return problem
    stated = Scenario(state_of_health_frac=problem.bank.health_frac)
    return turned.under(stated)


def _title(name: str, fuel: str, found: OptionSize | None) -> str:
    """Return an option in words."""
    if name == "solar":
        return "PV and battery"
    if name == "power-line":
        return "utility line extension"
    if name == "as-written":
        return "the specified site"
    if name == "hybrid":
        trial = found.trial if found else None
        if trial is None or not trial.generators:
            return "PV with backup generator"
        helper = trial.generators[0]
        kind = source_kinds()[helper.kind].title
        return f"PV with {kind} on {FUEL_WORDS[helper.fuel]}"
    return f"{source_kinds()[name].title} on {FUEL_WORDS[fuel]}"
