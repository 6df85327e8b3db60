"""The design on the first page: recommended size, bill of material, cause and remedy."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.balance.controller_rating import controller_rating
from powerbudget.balance.events import KINDS, NEARLY_FRAC
from powerbudget.balance.run_findings import (
    SMALL_FRAC,
    derated_to_nothing,
    disconnects_when_full,
    hindrances,
    limited_share,
    lost_below,
)
from powerbudget.charging.ratings import rating_words
from powerbudget.errors import PowerBudgetError
from powerbudget.quantities import count, in_unit, money
from powerbudget.report.charts.single_line import single_line_figure
from powerbudget.report.document.blocks import (
    Block,
    Column,
    Fact,
    Facts,
    Row,
    Table,
    cost,
    whole,
    word,
)
from powerbudget.report.document.words import charge_words, moment, percent
from powerbudget.report.sections.pictures import picture
from powerbudget.site.prices import PieceBook
from powerbudget.sizing.candidates import piece_masses_kg
from powerbudget.sizing.installed import (
    CONTROLLER_KEY,
    FREIGHT,
    CostLine,
    controller_piece,
    cost_lines,
    installed_cost,
)
from powerbudget.sizing.remedies import remedies
from powerbudget.sizing.worst_period import worst_period

if TYPE_CHECKING:
    from powerbudget.balance.problem import Problem
    from powerbudget.balance.simulation import Simulation
    from powerbudget.report.document.package import Package
    from powerbudget.site.load import Supply
    from powerbudget.sizing.candidates import Candidate

MODULE_KEYS = ("costs.module", "costs.equipment.module_power")
BATTERY_KEYS = ("costs.battery_unit", "costs.equipment.battery_energy")


NOT_ENERGY = ("terminals", "load", "disconnected")
"""Kinds of outage that no sun before them would have spared."""
MUCH_FRAC = 0.1
"""Share of the supply from which what a limit takes of it is part of a cause (assumed)."""


def cause_words(run: Simulation) -> str:
    """Return the limit that acted, and the supply, length and SOC before it [text].

    Returns
    -------
    str
        Of the longest outage; without any, of the period before the minimum SOC.  A load
        or a temperature that opens the circuit at any SOC stands alone.
    """
    if not run.outages:
        return _worst_words(run)
    if never := disconnects_when_full(run) or derated_to_nothing(run):
        return never.why
    long = max(run.outages, key=lambda outage: outage.hours)
    limit, trip_v = KINDS[long.kind], run.problem.design.tables.bus.disconnect_v
    if limit.startswith("LVD") and trip_v is not None:
        limit = limit.replace("LVD", f"LVD at {trip_v:g} V", 1)
    if long.kind in NOT_ENERGY:
        return f"{limit}; SOC {charge_words(long.charge_left_frac)}"
    return "; ".join(filter(None, (_worst_words(run), limit, long.generator)))


def _worst_words(run: Simulation) -> str:
    """Return the worst period: supply over load, its length, SOC, what took of it."""
    worst = worst_period(run)
    source = "array" if run.strings else "supply"
    source += " and generators" if run.strings and run.generation else ""
    span = f"{_day(run, worst.start)} to {_day(run, worst.end)}"
    supplied = f"{source} at {percent(worst.supply_frac, 0)} of load"
    limits = (
        ("charging inhibited by battery temperature for", worst.blocked_frac, "that supply"),
        ("charge controller limit curtails", worst.limited_frac, "the array energy"),
        ("string voltage below the input range of the charge controller for",
         lost_below(run), "the array energy of the whole record"),
    )  # fmt: skip
    taken = [
        f"{how} {percent(x, 0)} of {what}" for how, x, what in limits if x > MUCH_FRAC
    ]
    if worst.supply_frac >= 1 and worst.to_soc_frac < worst.from_soc_frac and not taken:
        supplied += ", less than load and battery losses"
    if worst.never_full:
        words = (
            f"battery not full at any time before; {supplied} from {span}; SOC at most "
            f"{charge_words(float(run.soc_frac.max()))}, at least "
            f"{charge_words(float(run.soc_frac.min()))}"
        )
    else:
        words = (
            f"{span}: {supplied} for {length_words(worst.days)}; SOC "
            f"{charge_words(worst.from_soc_frac)} -> {charge_words(worst.to_soc_frac)}"
        )
    words = "; ".join([words, *taken])
    if run.outages and worst.capacity_frac < 1 - NEARLY_FRAC:
        words += (
            f"; available capacity {percent(worst.capacity_frac, 0)} of full-charge "
            "capacity at battery temperature"
        )
    return words


def length_words(days: float) -> str:
    """Return a length: hours below two days, days above [text].

    Parameters
    ----------
    days
        Length [d].

    Examples
    --------
    >>> length_words(1.5), length_words(12.6)
    ('36 h', '13 d')
    """
    return in_unit(24 * days, "h") if days < 2 else in_unit(days, "d")


def at(run: Simulation, iso: str) -> str:
    """Return a moment of the weather file for people [text].

    Parameters
    ----------
    run, iso
        A simulation, and local standard time [ISO text].
    """
    return moment(iso, typical_year=run.problem.record.typical_year)


def _day(run: Simulation, iso: str) -> str:
    return at(run, iso).rpartition(",")[0]


def design_blocks(package: Package, further: list[Fact]) -> list[Block]:
    """Return recommended design, cause and remedy, bill of material and diagram.

    Parameters
    ----------
    package
        All results.
    further
        Answers of other parts that stand beside it.
    """
    run = package.run
    rows = [*_recommended(package), *_why(package), *further]
    alt = (
        "Single-line diagram of the specified site: sources above the "
        f"{package.budget.nominal_v:g} V dc bus, {in_unit(run.bank.nameplate_ah, 'Ah')} "
        "battery and loads below. The bill of material has the same parts."
    )
    return [
        Facts(tuple(rows), "Design"), _bill(package),
        picture(lambda: single_line_figure(run), "p-single-line", alt,
                "Single-line diagram of the specified site."),
    ]  # fmt: skip


def _recommended(package: Package) -> list[Fact]:
    found = package.sizing
    if found is None:
        return []
    pick = found.pick
    if pick is None:
        return [Fact("recommended", f"NOT FEASIBLE: {found.binding}", "#sizing")]
    cost = (
        ""
        if pick.cost is None
        else f"; {money(pick.cost, found.currency)} installed, without labor"
    )
    size = (
        f"{in_unit(pick.array_w, 'W')} array ({count(pick.modules, 'module')}) and "
        f"{in_unit(pick.battery_ah, 'Ah')} battery ({count(pick.battery_units, 'unit')}){cost}"
    )
    aged = "end of life" if found.lasts else "the battery as specified"
    return [
        Fact("recommended", size, "#sizing"),
        Fact("sized for", f"{aged}, SOH {percent(found.health_frac, 0)}", "#sizing"),
    ]


def _why(package: Package) -> list[Fact]:
    """Return the worst period, and what the search would change where a criterion fails."""
    run = package.run
    if package.met:
        return [Fact("worst period", cause_words(run), "#p-weeks")]
    rows = [Fact("cause", cause_words(run), "#outages" if run.outages else "#p-weeks")]
    remedy = remedy_words(package)
    return [*rows, Fact("remedy", remedy, "#sizing")] if remedy else rows


def remedy_words(package: Package) -> str:
    """Return what would make a failing site pass, with its added cost, empty without any.

    Parameters
    ----------
    package
        All results; the search is made if it was not.
    """
    if never := hindrances(package.run):
        # What the cause says already is not said again.
        told = cause_words(package.run)
        return "; and ".join(
            one.remedy if one.why == told else str(one) for one in never
        )
    try:
        found = package.sizing
    except PowerBudgetError as exc:
        return f"no size search: {exc}"
    if found is None:
        return ""
    sizes = remedies(found, package.run)
    if not sizes:
        return found.other_controller or f"no size passes: {found.binding}"
    other = found.other_controller
    first = f"{other}; or " if other else _controller_first(package.run)
    said = first + "; or ".join(
        _change(package.run, size, found.currency) for size in sizes
    )
    priced = ", costs without labor" * (sizes[0].cost is not None)
    if not found.lasts:
        return said + priced
    ends = "both pass" if len(sizes) > 1 else "passes"
    return f"{said}; {ends} at end of life{priced}"


def _controller_first(run: Simulation) -> str:
    # The search keeps the file's controller, and would pay for its limit in pieces.
    if limited_share(run) < SMALL_FRAC:
        return ""
    words = rating_words(
        run.problem.design.parts, controller_rating(run.problem, run.strings)
    )
    return (
        f"first a charge controller for the full array, {words}, then size again; "
        "otherwise "
    )


def _change(run: Simulation, size: Candidate, currency: str) -> str:
    tables, old_ah = run.problem.design.tables, run.bank.nameplate_ah
    modules = run.strings * tables.array.series
    old_w = modules * run.problem.array.module.power_w
    array = f"array {old_w:,.0f} -> {in_unit(size.array_w, 'W')}"
    battery = f"battery {old_ah:,.0f} -> {in_unit(size.battery_ah, 'Ah')}"
    words = f"{array}, {battery}"
    if size.battery_ah == old_ah:
        words = f"{array} with this battery"
    elif size.array_w == old_w:
        words = f"{battery} with this array"
    own = installed_cost(run.problem, run.strings, run.bank.parallel)
    if size.cost is None or own is None:
        return words
    more = size.cost - own
    return f"{words} ({money(more, currency, sign=True)})"


def _bill(package: Package) -> Table:
    """Return what is bought, at the recommended size where there is one."""
    pick = package.sizing.pick if package.sizing else None
    run, tables = package.run, package.tables
    problem = package.search.problem if pick else package.problem
    strings = pick.array_strings if pick else run.strings
    batteries = pick.battery_strings if pick else run.bank.parallel
    modules = strings * problem.design.tables.array.series
    kg = piece_masses_kg(package.design)
    lines = {x.key: x for x in cost_lines(problem, strings, batteries)}
    unit = run.bank.unit
    rows = [
        _part("battery unit", f"{unit.nominal_v:g} V, {unit.capacity_ah:g} Ah at "
              f"{unit.hour_rate_h:g} h, {run.bank.chemistry.title}",
              batteries * tables.battery.series, kg[1], _priced(lines, *BATTERY_KEYS)),
        *[_part("generator", f"{x.name}: {in_unit(x.rated_w, 'W')} {x.kind.title}", 1)
          for x in package.problem.sources.units],
        *[_part("dc/dc converter", _converter(s), 1) for s in tables.supply],
        *[_installed(x) for x in lines.values()
          if x.key not in {*MODULE_KEYS, *BATTERY_KEYS, CONTROLLER_KEY}],
    ]  # fmt: skip
    if modules:
        module = f"{package.problem.array.module.power_w:g} W"
        rows = [_part("PV module", module, modules, kg[0], _priced(lines, *MODULE_KEYS)),
                _controller(problem, strings, lines.get(CONTROLLER_KEY)), *rows]  # fmt: skip
    currency = tables.costs.currency if tables.costs else ""
    columns = (
        Column("part"), Column("rating, or basis of the price"),
        Column("qty", "", True), Column("mass", "kg", True),
        *[Column(head, currency, True) for head in ("cost", "low", "high")],
        Column("price"),
    )  # fmt: skip
    what = "the recommended size" if pick else "the specified site"
    return Table("bill", f"Bill of material for {what}", columns, tuple(rows),
                 note="Wire, fuses, electronics enclosure, and labor are not included. Low and "
"high are the range of the price source.")  # fmt: skip


def _priced(lines: dict[str, CostLine], *keys: str) -> CostLine | None:
    return next((lines[key] for key in keys if key in lines), None)


def _controller(problem: Problem, strings: int, line: CostLine | None) -> Row:
    """Return the charge controllers: the part that fits, beside what is asked of it."""
    tables, asked = problem.design.tables, controller_rating(problem, strings)
    name, count, _ = controller_piece(PieceBook(tables), problem, strings)
    needs = f"required: {in_unit(asked.charge_a, 'A')} and {in_unit(asked.input_v, 'V')} input"
    rating = f"{tables.regulator.kind.upper()}, {asked.nominal_v:g} V: {name}; {needs}"
    return _part("charge controller", rating, count, None, line)


def _installed(line: CostLine) -> Row:
    """Return a piece that has no rating; what freight counts is the mass."""
    if line.piece == FREIGHT:
        return _part(line.piece, line.source, 1, line.count, line)
    return _part(line.piece, line.source, line.count, None, line)


def _converter(supply: Supply) -> str:
    return supply.name + (f", {supply.output_v:g} V" if supply.output_v else "")


def _part(
    name: str,
    rating: str,
    qty: int,
    kg: float | None = None,
    line: CostLine | None = None,
) -> Row:
    mass = word("") if kg is None else whole(qty * kg)
    if line is None:
        return Row((word(name), word(rating), whole(qty), mass, *[word("")] * 4))
    sums = [cost(x) for x in (line.cost, line.low, line.high)]
    return Row((word(name), word(rating), whole(qty), mass, *sums, word(line.status)))
