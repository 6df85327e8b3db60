"""Sources of power on equal terms: one load, one sky, one set of criteria."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import prepare_aged
from powerbudget.compare.bench import Bench, with_criteria
from powerbudget.compare.candidates import fuels_for
from powerbudget.compare.emissions import vented_ch4_kg
from powerbudget.compare.lifecycle import GROUPS, Terms
from powerbudget.compare.options import Option, make_option
from powerbudget.compare.panels import size_solar
from powerbudget.compare.prices import Assumption, PriceBook
from powerbudget.compare.resizing import First, sized_turn
from powerbudget.compare.search import (
    Found,
    as_written,
    size_hybrid,
    size_line,
    size_steady,
)
from powerbudget.compare.surety import surety_findings
from powerbudget.compare.turning import Turn, find_turns
from powerbudget.errors import Finding
from powerbudget.generators.library import source_kinds
from powerbudget.site.costmodel import OptionName
from powerbudget.site.model import Array, Regulator, Site
from powerbudget.site.reader import Design
from powerbudget.sizing.candidate import Candidate
from powerbudget.sizing.frontier import Search
from powerbudget.sizing.picks import ranked
from powerbudget.sizing.search import search_sizes
from powerbudget.weather import WeatherRecord

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


@dataclass(frozen=True)
class Comparison:
    """Options side by side.

    Parameters
    ----------
    site
        Name of the site [text].
    options
        Those that meet the criteria by rising life-cycle cost, then the others.
    terms
        Prices a year, rate, horizon and convention.
    currency
        Of every sum [text].
    assumptions
        Every price that the options rest on.
    turns
        Where the ranking turns.
    findings
        What a careful colleague would point out.
    load_w
        Mean load of the heaviest month at the bus [W].
    years
        Length of the record [year].
    gwp
        Which warming potentials [text].
    resized
        Whether load and days of autonomy are among the turns.
    """

    site: str
    options: tuple[Option, ...]
    terms: Terms
    currency: str
    assumptions: tuple[Assumption, ...]
    turns: tuple[Turn, ...]
    findings: tuple[Finding, ...]
    load_w: float
    years: float
    gwp: str
    resized: bool = False

    @property
    def best(self) -> Option | None:
        """Cheapest option that meets every criterion."""
        return next((option for option in self.options if option.met), None)

    @property
    def why(self) -> str:
        """Return why the first stands before the second, and where it turns [text]."""
        return " ".join(filter(None, [why_words(self), turning_words(self.turns)]))


def compare(
    design: Design,
    progress: Progress | None = None,
    *,
    turns: bool = True,
    break_even: bool = False,
) -> Comparison:
    """Compare sources of power for a site on equal terms.

    Parameters
    ----------
    design
        A checked site; its ``[compare]`` table chooses options, ``[costs]`` prices.
    progress
        Called with options done, options in all and what comes next [count, text].
    turns
        Whether to look for the prices at which the ranking turns.
    break_even
        Whether to size every option again at other loads and days of autonomy, until
        another one comes first: ten to twenty times the work.

    Returns
    -------
    Comparison
        Each option sized to the same criteria and simulated through the same kernel
        over the whole record.

    Raises
    ------
    InputError, DataError
        When the site cannot be simulated, or prices in two currencies would be
        mixed.

    Notes
    -----
    Every criterion is asked of every option, but for the array-to-load ratio, which
    means nothing beside a generator.  A site file may ask fewer days of autonomy of a
    bank beside fuel or a line (``autonomy_with_fuel``); the comparison then says so.
    """
    problem = panelled(design)
    bench, options, terms = sized_options(design.tables, problem, progress)
    found_turns: list[Turn] = []
    if turns:
        found_turns = find_turns(options, terms, bench.book.currency)
    if break_even and options[0].met:
        found_turns += _sized_turns(design, problem, bench, options, progress)
    shown = _shown(bench.book, options)
    sure = surety_findings(found_turns, shown, options[0].title)
    tables = problem.design.tables
    return Comparison(
        site=tables.site.name,
        options=tuple(options),
        terms=terms,
        currency=bench.book.currency,
        assumptions=shown,
        turns=tuple(found_turns),
        resized=break_even,
        findings=(*sure, *_findings(bench, design, options, terms)),
        load_w=bench.load_w,
        years=problem.record.years,
        gwp=tables.compare.gwp if tables.compare else "AR5",
    )


def sized_options(
    written: Site, problem: Problem, progress: Progress | None = None
) -> tuple[Bench, list[Option], Terms]:
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
        Bench with the prices that were used, options and terms.
    """
    priced = written.model_copy(update={"array": problem.design.tables.array})
    book = PriceBook(priced)
    plan = _plan(written, book)
    terms = book.terms(_burnt(plan, book, written))
    _ask_pieces(book, plan)
    book.refuse_mixed()
    bench, sized = _sized(problem, book, plan, terms, written, progress)
    # A second book holds the prices of what was chosen, not of all that was tried.
    bench.book = PriceBook(priced)
    terms = bench.book.terms(_burnt(plan, bench.book, written))
    options = [
        make_option(bench, name, _title(name, fuel, found), found, terms)
        for (name, fuel), found in sized.items()
    ]
    options.sort(key=lambda option: (not option.met, _by_cost(option)))
    bench.book.refuse_mixed()
    return bench, options, terms


def _sized_turns(
    design: Design,
    problem: Problem,
    bench: Bench,
    options: list[Option],
    progress: Progress | None,
) -> list[Turn]:
    """Return the load and the days of autonomy at which another option comes first."""
    tables, tried = design.tables, {"n": 0}
    load_w, days = bench.load_w, tables.criteria.autonomy_d

    def first(words: str, problem_at: Callable[[float], Problem], now: float) -> First:
        def at(value: float) -> str:
            if value == now:
                return options[0].title
            tried["n"] += 1
            if progress:
                progress(tried["n"], 0, f"sizing again at {value:.3g} {words}")
            best = sized_options(tables, problem_at(value))[1][0]
            return best.title if best.met else ""

        return at

    def loaded(value: float) -> Problem:
        return panelled(with_load(design, value / load_w), problem.record)

    def lasting(value: float) -> Problem:
        return with_criteria(problem, {"autonomy_d": value})

    turns = [sized_turn("mean load", "W", load_w, first("W", loaded, load_w))]
    if days > 0:
        most = problem.record.n * problem.record.step_h / 24.0
        name = "days of autonomy asked"
        turns.append(sized_turn(name, "d", days, first("d", lasting, days), most))
    return turns


def with_load(design: Design, factor: float) -> Design:
    """Return a site whose loads all draw so many times as much.

    Parameters
    ----------
    design
        A checked site.
    factor
        Over its own load [ratio].

    Returns
    -------
    Design
        By its contingency, which is taken once of every load.
    """
    bus = design.tables.bus
    more = factor * (1.0 + bus.contingency_frac) - 1.0
    bus = bus.model_copy(update={"contingency_frac": more})
    return replace(design, tables=design.tables.model_copy(update={"bus": bus}))


def _by_cost(option: Option) -> float:
    cost = option.life_cycle_cost
    return math.inf if math.isnan(cost) else cost


def panelled(design: Design, record: WeatherRecord | None = None) -> Problem:
    """Return a site laid out for the kernel with panels and without generators.

    Parameters
    ----------
    design
        A checked site, with or without panels of its own.
    record
        Its weather, where that has been read already.

    Returns
    -------
    Problem
        Where the file has no panels: 100 W modules, tilted 15 deg more than the
        latitude, facing the equator, with power-point tracking.
    """
    tables = design.tables
    if tables.array.parallel == 0:
        latitude = tables.site.latitude_deg
        array = Array.model_validate(
            {
                "module": "module-36-cell-100w",
                "tilt": f"{min(90.0, abs(latitude) + 15.0):.0f} deg",
                "azimuth": "south" if latitude >= 0 else "north",
            }
        )
        regulator = Regulator.model_validate({"kind": "mppt"})
        tables = tables.model_copy(update={"array": array, "regulator": regulator})
    tables = tables.model_copy(update={"generator": ()})
    return prepare_aged(replace(design, tables=tables), record)


Plan = list[tuple[str, str]]


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
    pieces = book.own.pieces
    if kinds:
        book.lump("costs.pieces.fuel_gear", "fuel_gear", pieces.fuel_gear)
        book.tank(1.0)
    if "engine" in kinds:
        book.lump("costs.pieces.charger", "charger", pieces.charger)
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
) -> tuple[Bench, dict[tuple[str, str], Found]]:
    """Return the best size of each option, and the site on which they were tried."""
    found: dict[tuple[str, str], Found] = {}
    own = written.generator
    search: Search | None = None
    frontier: tuple[Candidate, ...] = ()
    stands = problem
    if {"solar", "hybrid"} & {name for name, _ in plan}:
        search, frontier = search_sizes(problem)
        # Every option with panels has them as `size` turns and strings them.
        stands = _as_turned(problem, search, frontier)
    bench = Bench(stands, book, own)
    for number, (name, fuel) in enumerate(plan):
        if progress:
            progress(number, len(plan), _title(name, fuel, None))
        if name == "solar" and search is not None:
            found[name, fuel] = size_solar(bench, terms, search, frontier)
        elif name == "hybrid":
            found[name, fuel] = size_hybrid(bench, terms, HELPERS)
        elif name == "power-line":
            found[name, fuel] = size_line(bench)
        elif name == "as-written":
            found[name, fuel] = as_written(Bench(problem, book, own), written)
        else:
            found[name, fuel] = size_steady(bench, name, fuel, terms)
    if progress:
        progress(len(plan), len(plan), "prices")
    return bench, found


def _as_turned(
    problem: Problem, search: Search, frontier: tuple[Candidate, ...]
) -> Problem:
    """Return the site with its panels as they stand in the pick of a search."""
    way = search.way_of(min(frontier, key=ranked)) if frontier else 0
    turned = search.ways[way].problem
    return turned.with_bank(turned.bank.with_health(problem.bank.health_frac))


def _title(name: str, fuel: str, found: Found | None) -> str:
    """Return an option in words."""
    if name == "solar":
        return "solar and battery"
    if name == "power-line":
        return "power line"
    if name == "as-written":
        return "the site file as written"
    if name == "hybrid":
        trial = found.trial if found else None
        if trial is None or not trial.generators:
            return "solar with a helper"
        helper = trial.generators[0]
        kind = source_kinds()[helper.kind].title
        return f"solar with {kind} on {FUEL_WORDS[helper.fuel]}"
    return f"{source_kinds()[name].title} on {FUEL_WORDS[fuel]}"


def _shown(book: PriceBook, options: list[Option]) -> tuple[Assumption, ...]:
    """Return the prices that some option uses, fuels that none burns left out."""
    burnt = {option.fuel.replace("-", "_") for option in options}
    return tuple(
        used
        for key, used in sorted(book.used.items())
        if not key.startswith("costs.fuel.") or key.removeprefix("costs.fuel.") in burnt
    )


def why_words(result: Comparison) -> str:
    """Return why the first option stands before the second [text].

    Parameters
    ----------
    result
        A comparison.

    Returns
    -------
    str
        What it saves and what it costs more, largest first.
    """
    met = [option for option in result.options if option.met]
    if not met:
        return "No option meets every criterion."
    best = met[0]
    if len(met) == 1:
        return f"Only {best.title} meets every criterion."
    second = met[1]
    gaps = _gaps(second, best)
    saved = ", ".join(
        f"{name} {gap:,.0f}" for name, gap in gaps if gap > 0
    ) or "nothing"  # fmt: skip
    more = ", ".join(f"{name} {-gap:,.0f}" for name, gap in gaps if gap < 0)
    total = second.life_cycle_cost - best.life_cycle_cost
    text = (
        f"{best.title.capitalize()} costs {total:,.0f} {result.currency} less over "
        f"{result.terms.horizon_y} years than {second.title}: it saves {saved}"
    )
    return f"{text}; it costs more for {more}." if more else f"{text}."


def turning_words(turns: tuple[Turn, ...]) -> str:
    """Return in a sentence where the ranking turns [text].

    Parameters
    ----------
    turns
        From `powerbudget.compare.turning.find_turns`.

    Returns
    -------
    str
        The turns nearest to today's values first, by ratio; those that never turn.
    """
    if not turns:
        return ""
    found = [turn for turn in turns if turn.turns_at is not None]
    never = [turn.name for turn in turns if turn.turns_at is None]
    words = [
        f"{turn.name} {'above' if (turn.turns_at or 0) > turn.today else 'below'} "
        f"{turn.turns_at:.3g} {turn.unit} ({turn.today:.3g} now): {turn.takes_over}"
        for turn in sorted(found, key=_nearness)
    ]
    text = f"The ranking turns at {'; '.join(words)}. " if words else ""
    if never:
        text += f"It does not turn by {', '.join(never)} within the ranges looked at."
    return text.strip()


def _nearness(turn: Turn) -> float:
    at = turn.turns_at or 0.0
    if at > 0 and turn.today > 0:
        return max(at / turn.today, turn.today / at)
    return math.inf


def _gaps(second: Option, best: Option) -> list[tuple[str, float]]:
    """Return differences by group that matter, largest first."""
    if second.cost is None or best.cost is None:
        return []
    gaps = [(n, second.cost.groups[n] - best.cost.groups[n]) for n in GROUPS]
    total = abs(second.cost.total - best.cost.total)
    floor = max(0.15 * total, 0.01 * second.cost.total)
    kept = [(name, gap) for name, gap in gaps if abs(gap) >= floor]
    return sorted(kept, key=lambda item: -abs(item[1]))[:5]


def _findings(
    bench: Bench, design: Design, options: list[Option], terms: Terms
) -> list[Finding]:
    """Return what a careful colleague would point out."""
    found: list[Finding] = []
    tables = design.tables
    if bench.problem.record.typical_year:
        found.append(
            Finding("warning", "The weather is a typical year, which hides bad winters: "
                    "options that live on sun look better than they are.")
        )  # fmt: skip
    if tables.array.parallel == 0:
        found.append(
            Finding("note", "The file has no panels; options with panels take 100 W "
                    f"modules tilted {bench.problem.design.tables.array.tilt_deg:g} deg.")
        )  # fmt: skip
    found += _autonomy_note(bench)
    found += _close_call(options, terms)
    found += _vented(tables)
    found.append(
        Finding("note", "Emissions are those of burning fuel at the site and, with a "
                "power line, of its energy; making the equipment, bringing fuel and "
                "visits are not counted.")
    )  # fmt: skip
    found.append(
        Finding("note", "Fuel, burners and batteries near wells and pipelines stand under "
                "the codes of the place (area classification, fuel storage, hydrogen); a "
                "licensed person decides.")
    )  # fmt: skip
    return found


def _autonomy_note(bench: Bench) -> list[Finding]:
    asked, fuelled = bench.criteria.autonomy_d, bench.fuelled_d
    if fuelled >= asked:
        return []
    return [
        Finding("warning", "Not the same criteria: the site file asks panels alone for "
                f"{asked:g} d of autonomy and options with fuel or a line for "
                f"{fuelled:g} d (`autonomy_with_fuel` in [compare]).")
    ]  # fmt: skip


def _close_call(options: list[Option], terms: Terms) -> list[Finding]:
    met = [option for option in options if option.met]
    if len(met) < 2:
        return []
    first, second = met[0].life_cycle_cost, met[1].life_cycle_cost
    if first <= 0 or second / first > 1.15:
        return []
    return [
        Finding("warning", f"{met[0].title} and {met[1].title} lie within "
                f"{100 * (second / first - 1):.0f} % over {terms.horizon_y} years, which "
                "is less than these prices are known to: decide by fuel, visits and "
                "emissions.")
    ]  # fmt: skip


def _vented(tables: Any) -> list[Finding]:
    """Say what gas-driven devices vent that electric ones would not."""
    devices = tables.compare.gas_driven if tables.compare else None
    if devices is None:
        return []
    kinds = ("low_bleed", "intermittent", "high_bleed", "pump")
    given = [(kind.replace("_", "-"), getattr(devices, kind)) for kind in kinds]
    kept = [(kind, number) for kind, number in given if number]
    total = sum(vented_ch4_kg(number, kind) for kind, number in kept)
    names = ", ".join(f"{number} {kind}" for kind, number in kept)
    return [
        Finding("note", f"Gas-driven devices that electric ones could replace ({names}) "
                f"vent about {total:,.0f} kg of CH4 a year by the factors of 40 CFR 98 "
                "Table W-1. No option is credited with it: every one of them would run "
                "electric devices.")
    ]  # fmt: skip
