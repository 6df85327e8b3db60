"""What is checked once a schedule is read: totals, losses, margins, converters."""

from __future__ import annotations

import re

from powerbudget.lists.found import FoundPart, Import
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.schedule_rows import ScheduleResult
from powerbudget.lists.schedule_words import REGULATOR
from powerbudget.lists.words import folded

_CONVERTER = re.compile(
    r"dc ?[/-] ?dc|converter|wandler|convertidor|convertisseur", re.IGNORECASE
)


def hidden_schedule(out: Import, name: str, found: ScheduleResult) -> None:
    """Leave out a schedule on a hidden sheet and say so."""
    for load in found.loads:
        found.classes[load.row - 1] = "copy"
    out.asked.ask(
        "old-sheet",
        "Sheets are hidden or look superseded",
        "Left out; confirm.",
        sheet=name,
        name=f"{name} ({len(found.loads)} loads)",
    )


def after_schedule(out: Import, part: FoundPart, found: ScheduleResult) -> None:
    """Check the totals of a schedule and what it counts beside its loads."""
    columns = part.columns
    in_rows = bool(columns.of("efficiency", "loss"))
    sheet = part.table.sheet.name
    _row_energies(out, found, in_rows=in_rows)
    for row, label, watts in found.losses:
        own = REGULATOR.search(folded(label))
        figure = f"'{label}'" + (f" ({watts:.3g} W)" if watts is not None else "")
        if own:
            out.asked.ask(
                "own-draw",
                "The charge controller's self-consumption stands among the loads",
                "Left out; state it at the charge controller.",
                sheet=sheet,
                row=row,
                name=figure,
            )
        else:
            said = (
                "The rows have an efficiency or losses of their own: left out, else counted twice."
                if in_rows
                else "Left out of the loads; state the efficiency of the converter."
            )
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
        out.asked.ask(
            "contingency",
            "The sheet adds a contingency",
            "Taken once, as contingency of the bus; not in the loads.",
            sheet=sheet,
            row=row,
            name=text,
        )
    fed = [x for x in found.loads if x.ac and not x.dc_side]
    if fed and not any(q.cause == "inverter" for q in out.asked):
        for load in fed:
            out.asked.ask(
                "ac",
                "AC loads without an inverter",
                "Written with an assumed efficiency of the inverter; "
                "state it and its standby draw, or that another source feeds them.",
                sheet=load.sheet,
                row=load.row,
                name=load.name,
            )
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
            "row-energy",
            "Wh/day of a row disagree with its watts and hours",
            "The higher is taken; correct the row.",
            sheet=load.sheet,
            row=load.row,
            name=f"{load.name} ({own:.4g} Wh/day, the sheet says {said:.4g})",
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
        for name, said in numbers:
            kind, _, share = name.partition(" ")
            if kind not in {"energy", "power"} or not said:
                continue
            sums = []
            for part in (
                [x for x in loads if before < x.row < row],
                [x for x in loads if x.row < row],
            ):
                sums += [_sum(part, kind), _sum(part, kind, said=True)]
                if kind == "power" and share != "total":
                    sums += _plain_sums(part)
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
            rows_say = _sum([x for x in loads if x.row < row], kind)
            if not near and loads and rows_say:
                out.asked.ask(
                    "total",
                    "Totals of the sheet differ from the sum of its rows",
                    "The rows count; check the totals.",
                    sheet=sheet,
                    row=row,
                    name=f"{label.strip()} {said:.4g} (rows {rows_say:.4g})",
                )
        before = row


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
        "converters",
        said,
        "State the bus voltage, and efficiency and no-load power of each converter.",
        sheet=part.table.sheet.name,
        name="; ".join(named)[:90],
    )
