"""What is checked once a schedule is read: totals, losses, margins, converters."""

from __future__ import annotations

import re
from itertools import combinations

from powerbudget.lists.figures import cell_number
from powerbudget.lists.found import FoundPart, Import
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.schedule_rows import ScheduleResult
from powerbudget.lists.schedule_words import REGULATOR
from powerbudget.lists.status import is_total
from powerbudget.lists.words import folded
from powerbudget.quantities import count, plain

_CONVERTER = re.compile(
    r"dc ?[/-] ?dc|converter|wandler|convertidor|convertisseur", re.IGNORECASE
)


def hidden_schedule(out: Import, name: str, found: ScheduleResult) -> None:
    """Leave out a schedule on a hidden sheet and say so."""
    for load in found.loads:
        found.classes[load.row - 1] = "copy"
    out.asked.ask("old-sheet", name, 0, f"{name} ({count(len(found.loads), 'load')})")


def after_schedule(out: Import, part: FoundPart, found: ScheduleResult) -> None:
    """Check the totals of a schedule and what it counts beside its loads."""
    columns = part.columns
    in_rows = bool(columns.of("efficiency", "loss"))
    sheet = part.table.sheet.name
    _row_energies(out, found)
    _efficiencies(out, found)
    for row, label, watts in found.losses:
        own = REGULATOR.search(folded(label))
        figure = f"'{label}'" + (
            f" ({plain(watts, 3, 'W')})" if watts is not None else ""
        )
        if own:
            out.asked.ask("own-draw", sheet, row, figure)
        else:
            out.asked.ask("losses-in-rows" if in_rows else "losses", sheet, row, figure)
    ask_contingency(out, sheet, found.contingency)
    for column in columns.of("contingency") if found.loads else ():
        said_frac = re.search(r"(\d+(?:[.,]\d+)?) ?%", column.head.text)
        if said_frac:
            out.contingency_frac = float(said_frac.group(1).replace(",", ".")) / 100
        out.asked.ask("contingency", sheet, 0, f"column {column.called}")
    fed = [x for x in found.loads if x.ac and not x.dc_side]
    if fed and not any(q.cause in {"inverter", "inverter-stated"} for q in out.asked):
        for load in fed:
            out.asked.ask("ac", load.sheet, load.row, load.name)
    if found.efficiencies:
        out.inverter_frac = min(found.efficiencies)
    loads = [x for x in found.loads if x.wh_per_day is not None]
    check_totals(out, sheet, found.totals, loads, found.losses)
    _converters(out, part)


def ask_contingency(
    out: Import, sheet: str, stated: list[tuple[int, str, float | None]]
) -> None:
    """Take the contingency that a sheet states, and say so."""
    for row, label, share in stated:
        text = f"{100 * share:g} %" if share is not None else f"'{label}'"
        if share is not None:
            out.contingency_frac = share
        out.asked.ask("contingency", sheet, row, text)


def _efficiencies(out: Import, found: ScheduleResult) -> None:
    """Ask whether the watts of rows with an efficiency are drawn or delivered."""
    for load in found.loads if not found.losses else ():
        if load.drawn_frac < 1:
            name = f"{load.name} ({load.drawn_frac:.3g})"
            out.asked.ask("efficiency", load.sheet, load.row, name)


def _row_energies(out: Import, found: ScheduleResult) -> None:
    """Compare the Wh/day of each row with its watts and hours."""
    for load in found.loads:
        said, own = load.energy_said, load.wh_per_day
        if said is None or own is None:
            continue
        near = 0.01 * max(abs(said), abs(own), 0.1)
        if any(abs(said - x) <= near for x in (own, own / load.drawn_frac)):
            continue
        if load.clock == "none" and said < own:
            # No time was stated: the energy tells how long the load runs.
            load.wh_per_day, load.clock = said, ""
            out.asked.ask("energy-time", load.sheet, load.row, load.name, weight=said)
            continue
        out.asked.ask(
            "row-energy",
            load.sheet,
            load.row,
            f"{load.name} ({plain(own, 4, 'Wh/day')}, the sheet says {said:.4g})",
        )
        load.wh_per_day = max(said, own)


def check_totals(
    out: Import,
    sheet: str,
    totals: list[tuple[int, str, list[tuple[str, float]]]],
    loads: list[ListedLoad],
    losses: list[tuple[int, str, float | None]] | None = None,
) -> None:
    """Compare the totals of a sheet with the sums of its rows, and say where they differ."""
    extra = sum((watts or 0.0) for _, _, watts in losses or [])
    before = 0
    for row, label, numbers in totals:
        above = [x for x in loads if x.row < row] or loads
        block = [x for x in above if x.row > before]
        for name, said in numbers:
            kind, _, share = name.partition(" ")
            if kind not in {"energy", "power"} or not said:
                continue
            rows_say = _sum(block or above, kind) or _sum(above, kind)
            agrees = any(
                _agrees(part, kind, share, said, (extra, out.contingency_frac or 0.0))
                for part in (block, above)
            )
            if rows_say and not agrees:
                out.asked.ask(
                    "total",
                    sheet,
                    row,
                    f"{label.strip()} {said:.4g} (rows {rows_say:.4g})",
                )
        before = row


def _agrees(
    loads: list[ListedLoad],
    kind: str,
    share: str,
    said: float,
    more: tuple[float, float],
) -> bool:
    """Return whether a total may sum some rows, losses or a contingency in it or not."""
    losses_w, contingency_frac = more
    sums = [_sum(loads, kind), _sum(loads, kind, said=True)]
    if kind == "power" and share != "total":
        sums += _plain_sums(loads)
    if kind == "power":
        rests = sum(x.standby_w for x in loads)
        sums += [one + rests for one in sums] if rests else []
    losses = 24 * losses_w if kind == "energy" else losses_w
    return any(
        abs(one * factor - said) <= 0.012 * abs(said)
        for one in (*sums, *(one + losses for one in sums))
        for factor in (1.0, 1 + contingency_frac)
    )


def check_summaries(out: Import) -> None:
    """Ask about tables that sum the loads by group and come to another figure."""
    for part in out.parts if out.loads else ():
        for column in part.columns.of("power", "energy"):
            if part.kind != "summary" or part.hidden:
                continue
            rows = [r for r in part.table.rows() if len(r) > column.index]
            rows = [
                r
                for r in rows
                if not any(isinstance(c, str) and is_total(c) for c in r)
            ]
            said = sum(cell_number(row[column.index]) or 0.0 for row in rows)
            kind, more = column.field, (0.0, out.contingency_frac or 0.0)
            if said and not _agrees(out.loads, kind, column.head.share, said, more):
                out.asked.ask(
                    "summary",
                    part.table.sheet.name,
                    part.table.first,
                    f"{column.head.text} {said:.4g} "
                    f"(loads {_sum(out.loads, kind):.4g})",
                )


def check_copies(out: Import) -> None:
    """Ask about two tables of loads that come to one figure: one may sum the other."""
    tables = [
        (part, part.result.loads)
        for part in out.parts
        if isinstance(part.result, ScheduleResult) and not part.hidden
    ]
    whole = sum(_sum(loads, "power") for _, loads in tables)
    for part, loads in tables if len(tables) > 2 else ():
        own, name = _sum(loads, "power"), part.table.sheet.name
        if own and abs(2 * own - whole) <= 1e-3 * whole:
            if all(load.name == f"row {load.row}" for load in loads):
                _take_out(out, name, loads)
                continue
            said = f"{name} {plain(own, 4, 'W')}, all others together"
            out.asked.ask("same-total", name, part.table.first, said)
    for (first, one), (second, other) in combinations(tables, 2):
        sums = [_sum(loads, "power") for loads in (one, other)]
        if min(len(one), len(other)) > 1 and abs(sums[0] - sums[1]) <= 1e-3 * sums[0]:
            out.asked.ask(
                "same-total",
                second.table.sheet.name,
                second.table.first,
                f"{first.table.sheet.name}, {second.table.sheet.name} {plain(sums[0], 4, 'W')}",
            )


def _take_out(out: Import, sheet: str, loads: list[ListedLoad]) -> None:
    """Read a table that names groups only, and sums all other tables, as totals."""
    ids = {id(load) for load in loads}
    out.loads = [load for load in out.loads if id(load) not in ids]
    rows = {load.row - 1 for load in loads}
    for tally in (t for t in out.tallies if t.sheet == sheet):
        tally.rows = ["copy" if k in rows else x for k, x in enumerate(tally.rows)]
    for load in loads:
        out.asked.ask("sum-row", sheet, load.row, load.name)
    loads.clear()


def _plain_sums(loads: list[ListedLoad]) -> list[float]:
    """Return what a total under a plain head may mean: of one piece each, or highest."""
    pieces = [(x, max(x.quantity, 1)) for x in loads]
    return [
        sum((x.running_w or 0.0) / n for x, n in pieces),
        sum(x.maximum_w or x.running_w or 0.0 for x in loads),
        sum((x.maximum_w or x.running_w or 0.0) / n for x, n in pieces),
    ]


def _sum(loads: list[ListedLoad], kind: str, *, said: bool = False) -> float:
    if kind == "power":
        return sum(x.running_w or 0.0 for x in loads)
    if said:
        return sum(x.energy_said or x.wh_per_day or 0.0 for x in loads)
    return sum(x.wh_per_day or 0.0 for x in loads)


def _converters(out: Import, part: FoundPart) -> None:
    """Ask about converters: several voltages, or one that the sheet names."""
    loads = out.loads
    volts = sorted({x.volts for x in loads if x.volts and not x.ac}, reverse=True)
    rows = part.table.sheet.rows[: min(part.table.head_rows, default=0)]
    named = [
        c for row in rows for c in row if isinstance(c, str) and _CONVERTER.search(c)
    ]
    if len(volts) < 2 and not named:
        return
    said = (
        f"Loads at {', '.join(f'{v:g} V' for v in volts)}"
        if len(volts) > 1
        else "Converters are named"
    )
    out.asked.ask(
        "converters", part.table.sheet.name, name="; ".join(named)[:90], what=said
    )
