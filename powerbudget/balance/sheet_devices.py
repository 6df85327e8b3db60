"""Devices of a site whose data sheets limit where they may stand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from powerbudget.loads.items import Item
from powerbudget.site.reader import Design


def sheet_devices(
    design: Design, items: Iterable[Item]
) -> Iterator[tuple[str, Any, Any]]:
    """Yield what a sheet may limit: loads, converters, charge controller.

    Parameters
    ----------
    design
        A checked site.
    items
        Loads of its budget; of none of a kind there is no device.

    Yields
    ------
    tuple
        Name, its table of the site file, and its part or None [text].
    """
    tables, parts = design.tables, design.parts
    things: list[Any] = [item.load for item in items if item.load.quantity]
    for thing in [*things, *tables.supply]:
        yield thing.name, thing, parts.get(thing.part or "")
    if tables.array.parallel > 0 or "regulator" in tables.model_fields_set:
        regulator = tables.regulator
        yield "charge controller", regulator, parts.get(regulator.part or "")


def rated_elevations(
    design: Design, items: Iterable[Item]
) -> Iterator[tuple[str, float]]:
    """Yield each device that states a highest elevation, its own before its part's.

    Yields
    ------
    tuple
        Name and highest rated elevation [text, m].
    """
    for name, thing, part in sheet_devices(design, items):
        most = thing.highest_m
        if most is None:
            most = getattr(part, "maximum_elevation", None)
        if most is not None:
            yield name, most
