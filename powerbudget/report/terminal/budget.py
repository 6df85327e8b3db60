"""The power budget as a page of text."""

from __future__ import annotations

from powerbudget.loads.budget import Budget
from powerbudget.loads.lines import Line, tier_w
from powerbudget.loads.rack_parts import Option, RackResult
from powerbudget.quantities import show
from powerbudget.report.terminal.text import facts, number, percent, table, wrapped
from powerbudget.site.fields import MONTHS

LETTERS = {"power": "P", "current": "I", "resistance": "R"}


def budget_page(budget: Budget, name: str, *, trace: bool = False) -> str:
    """Return the power budget as text.

    Parameters
    ----------
    budget
        What to show.
    name
        Name of the site [text].
    trace
        Whether to add part, basis and source of every line.
    """
    pages = [_line_table(budget, name), _sums(budget)]
    if budget.rack is not None:
        pages.append(_rack(budget.rack))
    if budget.loops:
        pages.append(_loops(budget))
    if trace:
        pages.append(_trace(budget.lines))
    return "\n".join([*pages, wrapped(budget.findings)])


def _line_table(budget: Budget, name: str) -> str:
    rows = [
        [
            ("* " if line.hidden else "  ") + line.name[:30],
            str(line.quantity),
            number(line.typical_w),
            number(line.maximum_w),
            number(line.peak_w),
            LETTERS[line.behaviour],
            number(100 * line.duty_frac),
            number(line.wh_per_day),
            number(line.end_v) if line.peak_a else "",
            line.supply[:11],
            line.status,
        ]
        for line in budget.lines
    ]
    heads = [
        "load",
        "no",
        "typ W",
        "max W",
        "peak W",
        "as",
        "on %",
        "Wh/day",
        "end V",
        "fed by",
        "status",
    ]
    legend = (
        "as: P constant power, I constant current, R resistance; end V: at the end of "
        f"its wire\nwith the bus at {show(budget.lowest_bus_v, 'V')}, one piece at its "
        "peak\n"
    )
    return table(f"Power budget of {name}   (* hidden load)", heads, rows) + legend


def _sums(budget: Budget) -> str:
    pairs = [*_three_sums(budget), *_shares(budget)]
    tiers = tier_w(budget.lines)
    if tiers["shed first"] or tiers["shed second"]:
        text = ", ".join(f"{word} {show(watts, 'W')}" for word, watts in tiers.items())
        pairs.append(("by priority", f"{text} (listed loads)"))
    return facts("Sums at the bus", pairs)


def _three_sums(budget: Budget) -> list[tuple[str, str]]:
    month = MONTHS[budget.highest_load_month - 1]
    lowest = show(budget.lowest_bus_v, "V")
    design = f" with heaters at the design cold of {budget.design_cold_degc:g} degC"
    cold = design if budget.heated else ""
    energy = (
        f"{show(budget.wh_per_day, 'Wh/day', 4)} = "
        f"{show(budget.ah_per_day, 'Ah/day', 4)} at {budget.nominal_v:g} V, "
        f"mean {show(budget.average_w, 'W')} in {month}{cold}, contingency "
        f"{percent(budget.contingency_frac, 0)} in it once"
    )
    maximum = (
        f"{show(budget.maximum_w, 'W')}, everything at its highest, "
        f"{show(budget.maximum_a, 'A')} at {lowest}: wires, fuses, converters"
    )
    peak = (
        f"{show(budget.peak_w, 'W')}, {show(budget.peak_a, 'A')} at {lowest}, "
        f"{_inrush(budget)}: brown-out"
    )
    return [("energy", energy), ("maximum", maximum), ("peak", peak)]


def _shares(budget: Budget) -> list[tuple[str, str]]:
    hidden = (
        f"{show(budget.hidden_w, 'W')} in converters, wiring, regulator and leakage"
    )
    classes = ", ".join(
        f"{word} {show(wh, 'Wh/day')}" for word, wh in budget.class_wh.items() if wh
    )
    status = ", ".join(
        f"{percent(share, 0)} {word}" for word, share in budget.status_frac.items()
    )
    doubtful = (
        f"so {percent(budget.doubtful_frac, 0)} of the energy rests on figures "
        "that are remembered or invented"
    )
    return [
        ("hidden", hidden), ("classes", classes), ("rests on", status), ("", doubtful),
    ]  # fmt: skip


def _inrush(budget: Budget) -> str:
    if budget.inrush:
        return f"with the inrush of {budget.inrush!r} on top"
    return "no line starts with more than its maximum"


def _rack(rack: RackResult) -> str:
    rows = [
        [
            c.card,
            c.signals,
            str(c.points),
            str(c.spares),
            str(c.built_in),
            str(c.cards),
            str(c.channels),
            number(c.typical_w),
        ]
        for c in rack.counts
    ]
    heads = [
        "card",
        "signals",
        "points",
        "spare",
        "built in",
        "cards",
        "a card",
        "typical W",
    ]
    options = [
        _rack_option(option, taken=option.mount == rack.mount)
        for option in (rack.cards, rack.nodes)
        if option is not None
    ]
    title = f"Rack for {rack.points} points with {percent(rack.spare_frac, 0)} spare"
    return table(title, heads, rows, left=2) + facts(
        "The points beyond the controller's own", options
    )


def _rack_option(option: Option, *, taken: bool) -> tuple[str, str]:
    """Return one way to mount the points, and what it takes, in words."""
    what = f"{option.pieces} {option.mount}"
    if option.other_cards:
        what += f" and {option.other_cards} cards"
    bases = "" if option.bases == 1 else f" in {option.bases} racks"
    fits = "" if option.fits else ", which do not fit"
    watts = (
        f"{show(option.typical_w, 'W')} typical, {show(option.maximum_w, 'W')} most, "
        "channels left out"
    )
    mine = " (taken)" if taken else ""
    return f"as {option.mount}{mine}", f"{what}{bases}{fits}: {watts}"


def _loops(budget: Budget) -> str:
    rows = [
        [
            loop.name[:38],
            number(loop.supply_v),
            number(loop.loop_ohm) + ("" if loop.described else " wire only"),
            f"{number(loop.low_v)} / {number(loop.low_needed_v)}",
            f"{number(loop.high_v)} / {number(loop.high_needed_v)}",
            "never" if loop.clips_a is None else f"{1e3 * loop.clips_a:.1f} mA",
        ]
        for loop in budget.loops
    ]
    heads = [
        "loop",
        "supply V",
        "ohm",
        "V at low end / needed",
        "V at high end / needed",
        "clips at",
    ]
    return table("Loops at the lowest supply, 3.6 and 21 mA", heads, rows)


def _trace(lines: tuple[Line, ...]) -> str:
    rows = []
    for line in lines:
        part = f"[{line.part}] " if line.part else ""
        rows.append(
            (
                line.name,
                f"{part}{line.basis} | {line.status} | {line.source or 'site file'}",
            )
        )
    return facts("Where every figure comes from", rows)
