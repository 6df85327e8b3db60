"""`powerbudget parts`: the library, its figures, sources and status words."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    check_form,
    load_design,
    naming,
    print_csv,
    print_json,
)
from powerbudget.quantities import count, plain

if TYPE_CHECKING:
    from powerbudget.sizing.unverified_picks import Worth


def command(
    name: Annotated[
        str | None,
        typer.Argument(
            metavar="NAME",
            help="A part, a kind such as radio, or a word of a name; without it, all.",
            show_default=False,
        ),
    ] = None,
    extra: Annotated[
        Path | None,
        typer.Option(
            "--parts-file",
            metavar="FILE",
            help="Add the parts of this file of your own (.toml, .csv, .xlsx).",
            show_default=False,
        ),
    ] = None,
    missing: Annotated[
        Path | None,
        typer.Option(
            "--missing",
            metavar="SITE.toml",
            help="List the unverified figures of a site by their effect on its size.",
            show_default=False,
        ),
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List the parts: low / typical / high W, source, status.

    Status words: published (a public document), data sheet (a manufacturer's), common
    practice (no single source), unverified (confirm before use), assumed.
    """
    from powerbudget.site.parts import find_part, load_parts

    check_form(as_json, as_csv)
    if missing is not None:
        _missing(missing, as_json=as_json, as_csv=as_csv)
        return
    parts = load_parts(extra)
    exact = name is not None and name in parts
    chosen = {
        key: part
        for key, part in parts.items()
        if name is None or (key == name if exact else name == part.kind or name in key)
    }
    if name is not None and not chosen:
        find_part(parts, name)
    rows = [_row(part) for part in chosen.values()]
    if as_json:
        print_json({"parts": [part.model_dump() for part in chosen.values()]})
    elif as_csv:
        print_csv(rows)
    else:
        _page(list(chosen.values()), rows)


def _missing(site: Path, *, as_json: bool, as_csv: bool) -> None:
    """Print the figures of a site that are worth getting."""
    from powerbudget.balance.problem import prepare
    from powerbudget.loads.budget import load_budget
    from powerbudget.report.render.terminal import table_text
    from powerbudget.report.sections.unverified import priced_in, worth_table
    from powerbudget.sizing.unverified_picks import (
        has_size,
        unverified_picks,
        worth_getting,
    )

    design = load_design(site, may_be_open=True)
    with naming(site):
        ends = unverified_picks(prepare(design)) if has_size(design) else ()
        found = worth_getting(design, ends)
        budget = load_budget(design)
    unit = priced_in(design)
    rows = [_worth(one, unit) for one in found]
    if as_json:
        print_json({"missing": rows, "wh_per_day": budget.wh_per_day})
    elif as_csv:
        print_csv(rows)
    else:
        typer.echo(table_text(worth_table(found, unit)), nl=False)


def _worth(one: Worth, currency: str) -> dict[str, Any]:
    """Return a figure worth getting as a row; no size is no figure."""
    gap = one.gap
    row: dict[str, Any] = {
        name: getattr(gap, name)
        for name in ("figure", "loads", "status", "low_wh", "high_wh", "field")
    }
    for level in ("low", "high"):
        pick = getattr(one, level)
        row[f"{level}_array_w"] = pick and pick.array_w
        row[f"{level}_battery_ah"] = pick and pick.battery_ah
    row["moves"] = one.moves
    row["moves_unit"] = currency or "units"
    return row


def _row(part: Any) -> dict[str, Any]:
    window = part.input
    return {
        "name": part.name,
        "kind": part.kind,
        "figures": _figures(part),
        "input": f"{window.min:g}-{window.max:g} V" if window else "",
        "status": part.status,
    }


def _figures(part: Any) -> str:
    """Return a part's figures in one cell, units in it."""
    three = "{0.low:.4g} / {0.typical:.4g} / {0.high:.4g} W"
    text = ""
    if part.kind == "card":
        base, live = three.format(part.base), three.format(part.per_channel)
        text = f"{base}, {count(part.channels, 'channel')}"
        if part.per_channel.high:
            text = f"{base} + {part.channels} x {live}"
    elif part.kind == "transmitter":
        c = part.current
        text = f"{1e3 * c.low:.3g} / {1e3 * c.typical:.3g} / {plain(1e3 * c.high, 3, 'mA')}"
    elif part.kind == "radio":
        send, hear = three.format(part.transmit), three.format(part.receive)
        text = f"send {send}, receive {hear}"
    elif part.kind == "converter":
        share = f"{100 * part.efficiency:g} %"
        text = (
            f"{part.output:g} V, {part.rated:g} W, no-load {part.no_load:g} W, {share}"
        )
    elif part.kind == "module":
        data = part.data
        text = f"{data.power_w:g} W, {data.max_power_v:g} V, {data.max_power_a:g} A"
    elif part.kind == "battery":
        text = f"{part.nominal:g} V, {part.capacity:g} Ah at {part.hour_rate:g} h"
    elif part.kind == "charge-controller":
        text = (
            f"{part.regulation.upper()}, {part.charge_current:g} A, up to "
            f"{part.highest_input:g} V, {part.price.low:g} / {part.price.typical:g} / "
            f"{part.price.high:g} {part.price.currency} of {part.price.year}"
        )
    return text or three.format(part.power)


def _page(parts: list[Any], rows: list[dict[str, Any]]) -> None:
    from powerbudget.report.render.terminal import table
    from powerbudget.report.screens.parts import part_page

    if len(parts) == 1:
        typer.echo(part_page(parts[0], rows[0]), nl=False)
        return
    cells = [[str(value) for value in row.values()] for row in rows]
    title = (
        "Parts library (low / typical / high; `powerbudget parts NAME`: its readings)"
    )
    heads = ["name", "kind", "figures", "input", "status"]
    typer.echo(table(title, heads, cells), nl=False)
