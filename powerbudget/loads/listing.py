"""A list of inputs and outputs put into a site, and taken out of it again."""

from __future__ import annotations

from pathlib import Path

from powerbudget.errors import Fault, InputError
from powerbudget.lists.io_list import Options, read_io_list
from powerbudget.lists.site_text import CONTROLLER, LOOP_V
from powerbudget.loads.budget import Budget
from powerbudget.loads.rack_slots import HEADS, rows
from powerbudget.loads.rails import rails
from powerbudget.site.load import Rack
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario

Table = list[list[str | float]]
LOAD_HEADS = (
    "Load", "Qty", "Typical W each", "Maximum W each", "Hours per day [h]",
    "Energy [Wh/day]", "Voltage [V]", "Document", "Data status",
)  # fmt: skip


def with_io_list(
    design: Design,
    path: Path,
    *,
    sheet: str | None = None,
    decimal: str | None = None,
    encoding: str | None = None,
) -> Design:
    """Return a design whose rack is filled from another list.

    Parameters
    ----------
    design
        A checked site.
    path
        The list [path].
    sheet, decimal, encoding
        How to read it, None to find out [text].

    Returns
    -------
    Design
        The same site with that list; a site without a [rack] gets one with the
        low-power controller, its loops on the first supply that can drive them.

    Raises
    ------
    InputError
        When ``decimal`` is neither ``point`` nor ``comma``.
    """
    if decimal not in {None, "point", "comma"}:
        raise InputError(
            Fault(
                "--decimal", "is not one of the choices", repr(decimal), "point, comma"
            )
        )
    rack = design.tables.rack or _plain_rack(design)
    rack = rack.model_copy(
        update={
            "io_list": str(path.resolve()),
            "sheet": sheet or rack.sheet,
            "decimal": decimal or rack.decimal,
            "encoding": encoding or rack.encoding,
        }
    )
    return Scenario(rack=rack).site(design)


def _plain_rack(design: Design) -> Rack:
    """Return a rack for a site that has none: its loops on a supply that can."""
    feeds = rails(design)
    high = [name for name, rail in feeds.items() if name and rail.volts >= LOOP_V]
    return Rack(controller=CONTROLLER, loop_supply=high[0] if high else None)


def export_tables(budget: Budget, design: Design) -> dict[str, Table]:
    """Return a site's I/O list and its loads as tables, watts and Wh/day in each row.

    Returns
    -------
    dict
        Name of a sheet to its rows, heads first: ``IO list`` where the site has one,
        and ``Loads``.
    """
    found: dict[str, Table] = {}
    rack = design.tables.rack
    if rack is not None and rack.io_list is not None and budget.rack is not None:
        how = Options(rack.sheet, rack.encoding, rack.decimal)
        listing = read_io_list(design.folder / rack.io_list, how)
        volts = {name: rail.volts for name, rail in budget.rails.items()}
        tags = rows(listing, rack, budget.rack, design.parts, volts)
        found["IO list"] = [[*HEADS], *tags]
    loads = _load_rows(budget, {load.name for load in design.tables.load})
    if loads:
        found["Loads"] = [[*LOAD_HEADS], *loads]
    return found


def _load_rows(budget: Budget, names: set[str]) -> Table:
    """Return the loads of the site file, one piece's watts and the Wh/day of all."""
    return [
        [
            line.name,
            line.quantity,
            float(f"{line.typical_w / line.quantity:.6g}"),
            float(f"{line.maximum_w / line.quantity:.6g}"),
            float(f"{24 * line.duty_frac:.6g}"),
            float(f"{line.wh_per_day:.6g}"),
            budget.rails[line.supply if line.supply in budget.rails else ""].volts,
            line.source,
            line.status,
        ]
        for line in budget.lines
        if line.name in names and not line.hidden
    ]
