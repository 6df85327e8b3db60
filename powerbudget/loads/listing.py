"""A list of inputs and outputs put into a site, and taken out of it again."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from powerbudget.errors import Fault, InputError
from powerbudget.lists.io_list import Options, read_io_list
from powerbudget.lists.site_text import CONTROLLER, LOOP_V
from powerbudget.loads.budget import Budget
from powerbudget.loads.rack_slots import rows
from powerbudget.loads.rails import rails
from powerbudget.site.load import Rack
from powerbudget.site.reader import Design


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
    return replace(design, tables=design.tables.model_copy(update={"rack": rack}))


def _plain_rack(design: Design) -> Rack:
    """Return a rack for a site that has none: its loops on a supply that can."""
    feeds = rails(design)
    high = [name for name, rail in feeds.items() if name and rail.volts >= LOOP_V]
    return Rack(controller=CONTROLLER, loop_supply=high[0] if high else None)


def export_rows(budget: Budget, design: Design) -> list[list[str | float]]:
    """Return a site's list with the place and the watts of every tag.

    Parameters
    ----------
    budget
        The site's budget.
    design
        The site.

    Returns
    -------
    list of list
        Rows as `powerbudget.loads.rack_slots.HEADS`.

    Raises
    ------
    InputError
        When the site has no list.
    """
    rack = design.tables.rack
    if rack is None or rack.io_list is None or budget.rack is None:
        raise InputError(
            Fault(
                "--export",
                "the site has no list of inputs and outputs",
                allowed="[rack] with io_list = 'tags.csv', or --io-list FILE",
            )
        )
    listing = read_io_list(
        design.folder / rack.io_list, Options(rack.sheet, rack.encoding, rack.decimal)
    )
    volts = {name: rail.volts for name, rail in budget.rails.items()}
    return rows(listing, rack, budget.rack, design.parts, volts)
