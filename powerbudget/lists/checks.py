"""What is checked once a table is read: totals, twins, old sheets, ports, voltages."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from powerbudget.errors import Fault, InputError
from powerbudget.lists.cells import Value
from powerbudget.lists.io_rows import ListResult
from powerbudget.lists.rows import Line, Load, Tally, ranges
from powerbudget.lists.schedule_rows import ScheduleResult
from powerbudget.lists.schedule_words import REGULATOR
from powerbudget.lists.signals import read_address
from powerbudget.lists.status import TOTAL
from powerbudget.lists.words import folded

if TYPE_CHECKING:
    from powerbudget.lists.importer import Import, Part

_CONVERTER = re.compile(
    r"dc ?[/-] ?dc|converter|wandler|convertidor|convertisseur", re.IGNORECASE
)


def is_total(text: str) -> bool:
    """Return whether a row's first words say that it is a total."""
    return bool(TOTAL.match(folded(text)))


def reads_as_address(cell: Value) -> bool:
    """Return whether a cell is the address of an input or output."""
    return isinstance(cell, str) and bool(read_address(cell))


# --- signal lists ---


def add_list(out: Import, part: Part, found: ListResult) -> None:
    """Add the rows of a list; rows that stand on another sheet too count once."""
    before = {
        (x.tag.casefold(), tuple(sorted(x.points))): x for x in out.lines if x.tag
    }
    live = [x for x in found.lines if x.kind == "point"]
    twins = [x for x in live if (x.tag.casefold(), tuple(sorted(x.points))) in before]
    if live and len(twins) >= 0.5 * len(live) and twins:
        ids = {id(x) for x in twins}
        for line in twins:
            found.classes[line.row - 1] = "copy"
            out.asked.ask(
                "twins", "Tags stand on two sheets", "Counted once; name the sheet that counts.",
                sheet=line.sheet, row=line.row, name=line.tag,
            )  # fmt: skip
        found.lines = [x for x in found.lines if id(x) not in ids]
    out.lines += found.lines
    _same_tags(out, found.lines)
    _empty_columns(out, part)
    _list_totals(out, part, found)
    _left_out(out, part)


def _same_tags(out: Import, lines: list[Line]) -> None:
    """Ask about tags that differ by case only, and about rows that stand twice."""
    seen: dict[str, str] = {}
    whole: dict[tuple[str, ...], int] = {}
    for line in lines:
        if line.kind != "point" or not line.tag:
            continue
        first = seen.setdefault(line.tag.casefold(), line.tag)
        if first != line.tag:
            out.asked.ask(
                "case", "Tags differ by capital letters only", "Counted as two tags each; confirm.",
                sheet=line.sheet, row=line.row, name=f"{first} / {line.tag}",
            )  # fmt: skip
        if not line.text:
            continue
        key = (line.tag, line.text, line.signal, line.state, line.port, *line.points)
        if key in whole and line.quantity == 1:
            out.asked.ask(
                "twice", "Rows stand twice", "Counted twice; delete one if it is the same point.",
                sheet=line.sheet, row=line.row, name=f"{line.tag} (also row {whole[key]})",
            )  # fmt: skip
        whole.setdefault(key, line.row)


def _empty_columns(out: Import, part: Part) -> None:
    for column in part.columns.all:
        useful = column.field in {
            "supply",
            "power",
            "current",
            "normal",
            "signal",
            "io_type",
            "quantity",
        }
        if (
            useful
            and not column.filled
            and column.head.text
            and part.table.last - part.table.first > 1
        ):
            out.asked.ask(
                "empty-column", "Columns are empty on all rows", "Nothing was read from them; fill them "
                "or leave them out.", sheet=part.table.sheet.name,
                name=f"{column.letter} '{column.head.text}'",
            )  # fmt: skip


def _list_totals(out: Import, part: Part, found: ListResult) -> None:
    """Compare the totals of a list with its rows."""
    for _, numbers in found.totals:
        for name, said in numbers.items():
            if name == "quantity":
                sums = _quantities(found, None)
            elif name.startswith("count:") and name != "count:serial":
                sums = _quantities(found, name[6:])
            else:
                continue
            live, spare, gone = sums
            if said in {live, live + spare}:
                continue
            what = (
                f" (deleted rows {gone:g} and spares {spare:g} among them)"
                if said == live + spare + gone
                else ""
            )
            out.asked.ask(
                "list-total", "Totals of the list differ from its live rows", "The rows count; check the "
                "totals.", sheet=part.table.sheet.name,
                name=f"{name.removeprefix('count:')} {said:g}, live rows {live:g}{what}",
            )  # fmt: skip


def _quantities(found: ListResult, kind: str | None) -> tuple[float, float, float]:
    sums = dict.fromkeys(("point", "spare", "deleted"), 0.0)
    for line in found.lines:
        if line.kind in sums:
            sums[line.kind] += (
                line.quantity if kind is None else line.points.get(kind, 0)
            )
    return sums["point"], sums["spare"], sums["deleted"]


def _left_out(out: Import, part: Part) -> None:
    for column in part.columns.twins:
        out.asked.ask(
            "two-columns", "Two columns have the same meaning", "The other one was taken; name the one "
            "that counts in the mapping.", sheet=part.table.sheet.name,
            name=f"{column.letter} '{column.head.text}'",
        )  # fmt: skip


def old_sheet(out: Import, name: str, found: ListResult, *, hidden: bool) -> None:
    """Leave out a sheet that is hidden or called old, and say which tags it alone has."""
    for line in found.lines:
        found.classes[line.row - 1] = "copy"
    out.asked.ask(
        "old-sheet", "Sheets are hidden or look superseded" if hidden else "Sheets look superseded",
        "Left out; confirm.", sheet=name, name=f"{name} ({len(found.lines)} tags)",
    )  # fmt: skip


def hidden_schedule(out: Import, name: str, found: ScheduleResult) -> None:
    """Leave out a schedule on a hidden sheet and say so."""
    for load in found.loads:
        found.classes[load.row - 1] = "copy"
    out.asked.ask("old-sheet", "Sheets are hidden or look superseded", "Left out; confirm.", sheet=name,
                  name=f"{name} ({len(found.loads)} loads)")  # fmt: skip


# --- schedules ---


def after_schedule(out: Import, part: Part, found: ScheduleResult) -> None:
    """Check the totals of a schedule and what it counts beside its loads."""
    columns = part.columns
    in_rows = bool(columns.of("efficiency", "loss"))
    sheet = part.table.sheet.name
    _row_energies(out, found, in_rows=in_rows)
    for row, label, watts in found.losses:
        own = REGULATOR.search(folded(label))
        figure = f"'{label}'" + (f" ({watts:.3g} W)" if watts is not None else "")
        if own:
            out.asked.ask("own-draw", "The charge controller's self-consumption stands among the loads",
                          "Left out; state it at the charge controller.", sheet=sheet, row=row, name=figure)  # fmt: skip
        else:
            said = "The rows have an efficiency or losses of their own: left out, else counted twice." if in_rows \
                else "Left out of the loads; state the efficiency of the converter."  # fmt: skip
            out.asked.ask(
                "losses",
                "Losses stand as a row of their own",
                said,
                sheet=sheet,
                row=row,
                name=figure,
            )
    for row, label, share in found.contingency:
        text = f"{100 * share:g} %" if share is not None else f"'{label}'"
        if share is not None:
            out.contingency_frac = share
        out.asked.ask("contingency", "The sheet adds a contingency", "Taken once, as contingency of the bus; "
                      "not in the loads.", sheet=sheet, row=row, name=text)  # fmt: skip
    fed = [x for x in found.loads if x.ac and not x.dc_side]
    if fed and not any(q.cause == "inverter" for q in out.asked):
        for load in fed:
            out.asked.ask(
                "ac", "AC loads without an inverter", "Written with an assumed efficiency of the inverter; "
                "state it and its standby draw, or that another source feeds them.", sheet=load.sheet,
                row=load.row, name=load.name,
            )  # fmt: skip
    if found.efficiencies:
        out.inverter_frac = min(found.efficiencies)
    loads = [x for x in found.loads if x.wh_per_day is not None]
    check_totals(out, sheet, found.totals, loads, found.losses)
    _converters(out, part)


def _row_energies(out: Import, found: ScheduleResult, *, in_rows: bool) -> None:
    """Compare the Wh/day of each row with its watts and hours."""
    for load in found.loads:
        said, own = load.energy_said, load.wh_per_day
        if (
            said is None
            or own is None
            or in_rows
            or abs(said - own) <= 0.01 * max(abs(said), abs(own), 0.1)
        ):
            continue
        out.asked.ask(
            "row-energy", "Wh/day of a row disagree with its watts and hours", "The higher is taken; correct "
            "the row.", sheet=load.sheet, row=load.row,
            name=f"{load.name} ({own:.4g} Wh/day, the sheet says {said:.4g})",
        )  # fmt: skip
        load.wh_per_day = max(said, own)


def check_totals(
    out: Import, sheet: str, totals: list[tuple[int, str, dict[str, float]]], loads: list[Load],
    losses: list[tuple[int, str, float | None]] | None = None,
) -> None:  # fmt: skip
    """Compare the totals of a sheet with the sums of its rows, and say where they differ."""
    extra = sum((watts or 0.0) for _, _, watts in losses or [])
    before = 0
    for row, label, numbers in totals:
        for name, said in numbers.items():
            kind, _, share = name.partition(" ")
            if (
                kind not in {"energy", "power"}
                or not said
                or (kind == "power" and share != "total")
            ):
                continue
            sums = []
            for part in (
                [x for x in loads if before < x.row < row],
                [x for x in loads if x.row < row],
            ):
                sums.append(_sum(part, kind))
                sums.append(_sum(part, kind, said=True))
            with_losses = [
                *sums,
                *(s + (24 * extra if kind == "energy" else extra) for s in sums),
            ]
            more = 1 + (out.contingency_frac or 0)
            near = [
                s
                for s in with_losses
                for f in (1, more)
                if abs(s * f - said) <= 0.012 * abs(said)
            ]
            if not near and loads and sums[2]:
                out.asked.ask(
                    "total", "Totals of the sheet differ from the sum of its rows", "The rows count; check "
                    "the totals.", sheet=sheet, row=row,
                    name=f"{label.strip()} {said:.4g} (rows {sums[2]:.4g})",
                )  # fmt: skip
        before = row


def _sum(loads: list[Load], kind: str, *, said: bool = False) -> float:
    if kind == "power":
        return sum(x.running_w or 0.0 for x in loads)
    if said:
        return sum(x.energy_said or x.wh_per_day or 0.0 for x in loads)
    return sum(x.wh_per_day or 0.0 for x in loads)


def _converters(out: Import, part: Part) -> None:
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
    out.asked.ask("converters", said, "State the bus voltage, and efficiency and no-load power of each "
                  "converter.", sheet=part.table.sheet.name, name="; ".join(named)[:90])  # fmt: skip


# --- the whole import ---


def after(out: Import) -> None:
    """Ask what only the whole import shows, and refuse one that holds no list."""
    _counts_beside_list(out)
    if not out.lines and not out.loads:
        raise InputError(_no_list(out))
    _ports(out)
    _voltages(out)
    for tally in out.tallies:
        if tally.use == "neither" and len(tally.rows) - tally.rows.count("blank") > 8:
            out.asked.ask("unread-sheet", "Sheets hold neither signals nor loads", "Not read; name its "
                          "columns in the mapping if it counts.", sheet=tally.sheet, name=tally.sheet)  # fmt: skip


def _no_list(out: Import) -> Fault:
    seen = [
        f"{p.table.sheet.name}: {', '.join(h.text for h in p.table.heads if h.text)[:80]}" for p in out.parts
    ]  # fmt: skip
    return Fault(
        "file", "holds no signal list and no equipment schedule", "; ".join(seen)[:300] or "no row of heads",
        "a tag with its signal (AI, DI, 4-20 mA ...), or a name with W, mA or A", "name the columns so, or in "
        "--mapping", str(out.books[0].path) if len(out.books) == 1 else "",
    )  # fmt: skip


def _counts_beside_list(out: Import) -> None:
    """Leave out a table of counts that says the same as the list beside it, ask if it differs."""
    wide = [p for p in out.parts if p.kind == "io" and not p.hidden and isinstance(p.result, ListResult)
            and len(p.columns.counts()) > 1]  # fmt: skip
    long = [p for p in out.parts if p.kind == "io" and not p.hidden and isinstance(p.result, ListResult)
            and p not in wide and p.result.lines]  # fmt: skip
    if not wide or not long:
        return
    sums = [
        _kinds(line for p in parts for line in p.result.lines) for parts in (wide, long)
    ]  # type: ignore[union-attr]
    if sums[0] == sums[1]:
        for part in wide:
            gone = {id(line) for line in part.result.lines}  # type: ignore[union-attr]
            out.lines = [line for line in out.lines if id(line) not in gone]
            for tally in out.tallies:
                if tally.sheet == part.table.sheet.name:
                    tally.rows = [
                        "copy" if name in {"point", "spare"} else name
                        for name in tally.rows
                    ]
        return
    for part in wide:
        out.asked.ask("counts-and-list", "A table of counts stands beside a list of signals", "Both were counted; "
                      "leave one out if they are the same points.", sheet=part.table.sheet.name,
                      name=part.table.sheet.name)  # fmt: skip


def _kinds(lines: Iterable[Line]) -> dict[str, int]:
    found: dict[str, int] = {}
    for line in lines:
        if line.kind in {"point", "spare"}:
            for kind, count in line.points.items():
                found[kind] = found.get(kind, 0) + count
    return found


def _ports(out: Import) -> None:
    devices = [x for x in out.lines if x.kind == "point" and x.points.get("serial")]
    bare = [x for x in devices if not x.port]
    if len(devices) > 1 and bare:
        for line in bare:
            out.asked.ask("ports", "Bus devices state no port", "Which of them share one port?",
                          sheet=line.sheet, row=line.row, name=line.tag)  # fmt: skip
    if any(q.cause == "ports" for q in out.asked):
        out.asked.drop("registers")


def _voltages(out: Import) -> None:
    for part in out.parts:
        if part.kind != "io" or part.hidden:
            continue
        for column in part.columns.of("volts"):
            cells = [
                row[column.index]
                for row in part.table.rows()
                if column.index < len(row)
            ]
            volts = sorted({c for c in cells if isinstance(c, float) and 0 < c < 90})
            if len(volts) > 1:
                out.asked.ask("voltages", "Devices have different voltages", "Which is the bus, and what "
                              "feeds the others?", sheet=part.table.sheet.name,
                              name=", ".join(f"{v:g} V" for v in volts))  # fmt: skip


def tally_text(tally: Tally) -> str:
    """Return the rows of a sheet by class on one line [text]."""
    return "; ".join(
        f"{name} {ranges(rows)}" for name, rows in tally.by_class().items()
    )
