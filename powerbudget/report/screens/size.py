"""First screen of `size`: recommended size, what limits it, the other sizes that pass."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.limits import printed
from powerbudget.quantities import count, in_unit, money
from powerbudget.report.document.blocks import (
    Column,
    Row,
    Table,
    charge,
    cost,
    fixed,
    whole,
    word,
)
from powerbudget.report.document.words import figures_apart, percent  # fmt: skip
from powerbudget.report.render.terminal import table_text
from powerbudget.report.screens.layout import Screen, first_line, wrap
from powerbudget.report.screens.site import CHEMISTRIES, azimuth, battery_heater
from powerbudget.report.sections.sizing import turned

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.sizing.candidates import Candidate
    from powerbudget.sizing.search import Sizing

OPTIONS = "--feasible --worksheet --compare-worksheet --next-step --monte-carlo N --findings --full"
LABEL, MOST_SIZES = 13, 4
PICKS = {
    "cheapest": "lowest cost",
    "lightest": "lightest",
    "fewest_parts": "fewest parts",
}


def size_screen(package: Package) -> Screen:
    """Return the recommended size and what limits it, on one screen.

    Parameters
    ----------
    package
        All results of a site with panels.
    """
    found = package.search
    pick = found.pick
    grave = sum(f.severity != "note" for f in found.findings)
    result = "NOT FEASIBLE" if pick is None else "FEASIBLE"
    result += f"   {count(grave, 'warning')}" if grave else ""
    body = [*_asked(package), *_specified(package)]
    if pick is None:
        body += _unmet(found)
    else:
        body += [*_recommended(found, pick), *_controller(found), *_installed(found)]
        body += ["", "Limiting criterion"]
        body += [
            line for name in ("array", "battery") for line in _limiting(found, name)
        ]
        body += ["", *table_text(_sizes(found)).splitlines(), *_rest(found)]
    body += ["", *wrap("", f"Worksheet (IEEE 1013/1562)  {_worksheet(found)}")]
    name = package.tables.site.name
    return Screen(first_line("SIZE", name, result), body, found.findings, OPTIONS)


def _asked(package: Package) -> list[str]:
    found, budget = package.search, package.budget
    tables, bank = found.problem.design.tables, found.problem.bank
    chemistry = CHEMISTRIES.get(bank.chemistry.name, bank.chemistry.name)
    tilt = {c.tilt_deg for c in found.tried}
    stands = (
        f"{tables.array.tilt_deg:g}° tilt"
        if len(tilt) < 2
        else count(len(tilt), "tilt")
    )
    load = f"{in_unit(budget.wh_per_day, 'Wh/day')}, {budget.nominal_v:g} V dc"
    load += battery_heater(float(found.problem.conditions.heater_w.mean()))
    steps = (
        f"{found.problem.array.module.power_w:g} W modules, {bank.unit.nominal_v:g} V "
        f"{bank.unit.capacity_ah:g} Ah {chemistry} units, {stands}, "
        f"{azimuth(tables.array.azimuth_deg)}"
    )
    return [*wrap("Load", load, LABEL), *wrap("Search", steps, LABEL),
            *wrap("Sized for", age_words(found), LABEL)]  # fmt: skip


def age_words(found: Sizing) -> str:
    """Return at which SOH the criteria are met [text]."""
    share = percent(found.health_frac, 0)
    if found.lasts:
        return f"end of life (SOH {share}); also passes with a new battery"
    return f"battery as specified (SOH {share}), not for end of life"


def _specified(package: Package) -> list[str]:
    run, verdicts = package.run, package.verdicts
    watts = (
        run.strings * package.tables.array.series * package.problem.array.module.power_w
    )
    failed = [v.name for v in verdicts if not v.met]
    words = f"FAIL   {', '.join(failed)}" if failed else "PASS"
    size = f"{in_unit(watts, 'W')} + {in_unit(run.bank.nameplate_ah, 'Ah')}"
    soh = percent(run.bank.health_frac, 0)
    return wrap("Specified", f"{size:22} {words} (SOH {soh})", LABEL)


def _size(c: Candidate) -> str:
    return f"{in_unit(c.array_w, 'W')} + {in_unit(c.battery_ah, 'Ah')}"


def _recommended(found: Sizing, pick: Candidate) -> list[str]:
    cost = "" if pick.cost is None else f"{money(pick.cost, found.currency)}, "
    mass = "" if pick.mass_kg is None else f"{in_unit(pick.mass_kg, 'kg')}, "
    parts = (
        f"{count(pick.modules, 'module')}, {count(pick.battery_units, 'battery unit')}"
    )
    if turned(found):
        strings = count(pick.array_strings, "string")
        parts += f", {strings} of {pick.series}, {pick.tilt_deg:g}° tilt"
    lines = wrap("Recommended", f"{_size(pick):22} PASS   {cost}{mass}{parts}", LABEL)
    if pick.cost is None:
        why = f"{found.rule}; state both prices in [costs] to rank by cost"
        lines += wrap("Ranked by", why, LABEL)
    return lines


def _controller(found: Sizing) -> list[str]:
    """Return the charge controller that the pick asks for, and the part that fits."""
    need = found.controller
    asked = f"{in_unit(need.charge_a, 'A')} charge current, {in_unit(need.input_v, 'V')} input"
    words = "no part of the library has this rating"
    if need.part:
        words = f"{need.count} x {need.part}"
    if need.stated_a is not None and need.stated_a < need.charge_a:
        words += f", {need.stated_a:g} A stated"
    return wrap("Controller", f"{words}; full array: {asked}", LABEL)


def _installed(found: Sizing) -> list[str]:
    """Return what the pick costs, piece by piece, and the range of its prices."""
    lines = found.installed
    if not lines:
        return []
    low, high = sum(x.low for x in lines), sum(x.high for x in lines)
    each = ", ".join(f"{x.piece} {money(x.cost)}" for x in lines)
    words = f"{money(low)} to {money(high, found.currency)}, without labor: {each}"
    return wrap("Installed", words, LABEL)


def _limiting(found: Sizing, name: str) -> list[str]:
    less = found.smaller.get(name)
    part = {"array": "string", "battery": "string"}[name]
    if less is None:
        return wrap(f"  {name}", f"at minimum size (1 {part})", LABEL)
    said = {
        "availability": f"outage on {less.lost_at}",
        "maximum DOD": f"maximum DOD {percent(1 - less.lowest_soc_frac, 0)} on "
        f"{less.lowest_soc_at}",
    }
    words = "; ".join(said.get(n, n) for n in less.failed)
    size = (
        in_unit(less.array_w, "W")
        if name == "array"
        else in_unit(less.battery_ah, "Ah")
    )
    return wrap(f"  {name}", f"one step fewer ({size}): {words or 'passes'}", LABEL)


def _sizes(found: Sizing) -> Table:
    priced = any(c.cost is not None for c in found.frontier)
    weighed = any(c.mass_kg is not None for c in found.frontier)
    rows = []
    for c in found.frontier[:MOST_SIZES]:
        best = [PICKS[key] for key, other in found.picks.items() if other is c]
        rows.append(Row((
            word(f"{in_unit(c.array_w, 'W')} ({c.modules})"),
            word(f"{in_unit(c.battery_ah, 'Ah')} ({c.battery_units})"),
            *([cost(c.cost)] if priced else []), *([whole(c.mass_kg)] if weighed else []),
            *([fixed(c.tilt_deg, 0), whole(c.series)] if turned(found) else []),
            charge(c.lowest_soc_frac), fixed(c.found("autonomy"), 1),
            fixed(c.found("array"), 2), word(", ".join(best)),
        ), mark="picked" if c is found.pick else ""))  # fmt: skip
    columns = (
        Column("array"), Column("battery"),
        *([Column("cost", found.currency, True)] if priced else []),
        *([Column("mass", "kg", True)] if weighed else []),
        *([Column("tilt", "deg", True), Column("in series", "", True)] if turned(found) else []),
        Column("min SOC", "%", True), Column("autonomy", "d", True), Column("A:L", "", True),
        Column(""),
    )  # fmt: skip
    what = " (cost installed, without labor)" if priced else ""
    title = f"Smallest passing array for each battery{what}"
    return Table("sizes", title, columns, tuple(rows))


def _rest(found: Sizing) -> list[str]:
    more = len(found.frontier) - MOST_SIZES
    return [f"  and {more} more: --feasible"] if more > 0 else []


def _unmet(found: Sizing) -> list[str]:
    """Return what no size tried meets, its best value and what would."""
    lines = wrap("FAIL", ", ".join(r.criterion for r in found.unmet) or found.binding,
                 LABEL)  # fmt: skip
    for r in found.unmet:
        two = figures_apart(r.found, r.needed, r.unit)
        best = (
            f"best {two[0]}, limit {two[1]}, margin {printed(r.held, *two)}; {r.cure}"
        )
        lines += wrap(f"  {r.criterion}: ", best)
    miss = found.nearest_miss
    tried = [] if miss is None else wrap("Largest", f"{_size(miss)} tried", LABEL)
    return [*lines, *tried]


def _worksheet(found: Sizing) -> str:
    how = found.disagreement
    if how.design is None:
        return how.by_hand
    failed = ", ".join(how.design.failed)
    fares = f"FAIL in the simulation: {failed}" if failed else "PASS in the simulation"
    return f"{_size(how.design)}; {fares}"
