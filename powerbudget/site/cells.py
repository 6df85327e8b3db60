"""How many cells a battery has, which chemistry its volts fit, and what a cell bears."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from powerbudget.data.figures import Entry, entries, tables
from powerbudget.errors import Fault
from powerbudget.limits import within
from powerbudget.quantities import count, plain

FIT_FRAC = 0.01
"""How far nameplate volts may lie from a whole number of cells (assumed)."""
COMPENSATION_MV = (2.0, 6.0)
"""Fall of the charging voltage that makers print for lead and nickel-cadmium, a cell;
settable to 10 on many controllers: a question, not a fault [mV/K]."""
PER_CELL = (
    "enter a figure per cell: 18 mV/K on the sheet of a 12 V unit is 3 mV/K per cell"
)
"""Remedy of most figures outside it."""
BUS_FRAC = 0.1
"""How far the volts of a bank may lie from those of the bus (assumed)."""


def cell_kind(chemistry: str) -> Entry:
    """Return the volts of a chemistry's cells, by its name in the site file [Entry]."""
    tables = entries("cells").values()
    return next(t for t in tables if chemistry in t.words["chemistries"])


def nominal_v(chemistry: str) -> float:
    """Return the nominal volts of one cell, the first where two are usual [V].

    Examples
    --------
    >>> nominal_v("lfp"), nominal_v("lithium-ion")
    (3.2, 3.6)
    """
    return cell_kind(chemistry).figures["nominal_v"][0].value


def is_lithium(chemistry: str) -> bool:
    """Return whether a chemistry is a lithium one, which needs its own protection."""
    return cell_kind(chemistry).name in {"iron-phosphate", "lithium-ion"}


def cell_count(volts: float, chemistry: str, stated: int | None = None) -> int:
    """Return the cells in series of a battery, 0 where no whole number fits [count].

    Parameters
    ----------
    volts
        On the nameplate [V].
    chemistry
        Name in the site file [text].
    stated
        Cells that the file states, None to derive them [count].

    Returns
    -------
    int
        Stated, or the whole number whose volts lie within 1 %; a stated one may be
        that of a pack that is sold by other volts [count].

    Examples
    --------
    >>> [cell_count(v, "lfp") for v in (12.8, 48.0, 51.2, 14.8, 12.0)]
    [4, 15, 16, 0, 0]
    >>> [cell_count(*pack) for pack in ((12.0, "nicd", 9), (12.0, "lfp", 4))]
    [9, 4]
    >>> [cell_count(14.8, "lfp", cells) for cells in (4, 5)]
    [0, 0]
    """
    kind = cell_kind(chemistry)
    for row in kind.figures["nominal_v"]:
        cells = stated or round(volts / row.value)
        if cells and abs(cells * row.value / volts - 1.0) <= FIT_FRAC:
            return cells
    for sold_v, cells in kind.words.get("sold_v_cells", ()):
        if cells == stated and abs(sold_v / volts - 1.0) <= FIT_FRAC:
            return int(cells)
    return 0


def fitting(volts: float) -> tuple[tuple[str, int], ...]:
    """Return the kinds of battery that nameplate volts fit, with their cells.

    Parameters
    ----------
    volts
        On the nameplate [V].

    Returns
    -------
    tuple
        Chemistry as the site file names it, first of its kind, and cells [text, count].

    Examples
    --------
    >>> fitting(14.8), fitting(12.0)
    ((('lithium-ion', 4),), (('flooded', 6), ('nicd', 10)))
    """
    first = [str(t.words["chemistries"][0]) for t in entries("cells").values()]
    found = ((name, cell_count(volts, name)) for name in first)
    return tuple((name, cells) for name, cells in found if cells)


def cell_faults(battery: Any, unit: Any, regulator: Any, bus: Any) -> Iterator[Fault]:
    """Yield where nameplate, set points and disconnect do not go with the cells.

    Parameters
    ----------
    battery
        The ``[battery]`` table, None where it could not be read.
    unit
        Nameplate of one battery, None where it is not known.
    regulator, bus
        Further tables; None where one could not be read.

    Yields
    ------
    Fault
        One for each.
    """
    if battery is None or unit is None:
        return
    # A part of the library names its volts otherwise, and states no cells.
    volts = getattr(unit, "nominal_v", None) or unit.nominal
    stated = getattr(unit, "cells", None)
    kind = cell_kind(battery.chemistry)
    if regulator is not None:
        yield from _compensation(kind, regulator.compensation_v_per_k_cell)
    cells = cell_count(volts, battery.chemistry, stated)
    if not cells:
        yield _no_fit(volts, battery.chemistry, stated)
        return
    series = battery.series * cells
    if bus is not None and abs(battery.series * volts / bus.nominal_v - 1.0) > BUS_FRAC:
        # A bank for another bus is told once, by its number in series.
        return
    if regulator is not None:
        yield from _set_points(kind, series, regulator, bus)
        usual_v = series * tables("chemistries")[battery.chemistry]["absorption_v"]
        if regulator.absorption_v is None:
            yield from float_faults(regulator, usual_v)
    least_v = series * kind.figure("lowest_v").value
    trip_v = None if bus is None else bus.disconnect_v
    # A voltage for another bus is told once, by the check of the bus.
    if trip_v is None or not within(trip_v, 0.8 * bus.nominal_v, "lower"):
        return
    if not within(trip_v, least_v, "lower"):
        yield Fault(
            "bus.low_voltage_disconnect", "is below what the cells bear",
            f"{bus.disconnect_v:g} V, {plain(bus.disconnect_v / series, 3, 'V')} per cell",
            f"at least {plain(least_v, 4, 'V')}, {series} cells of {kind.title}",
        )  # fmt: skip


def _no_fit(volts: float, chemistry: str, stated: int | None) -> Fault:
    fits = [f'"{name}" with {count(cells, "cell")}' for name, cells in fitting(volts)]
    of = cell_kind(chemistry)
    each = " or ".join(f"{row.value:g} V" for row in of.figures["nominal_v"])
    given = f"{volts:g} V" + ("" if stated is None else f", {count(stated, 'cell')}")
    return Fault(
        "battery.unit.nominal" if stated is None else "battery.unit.cells",
        f"{'is no whole' if stated is None else 'is not the'} number of {of.title} cells "
        f"of {each}",
        f'{given}, chemistry = "{chemistry}"',
        f"volts within {100 * FIT_FRAC:g} % of cells times volts per cell",
        f"this voltage fits chemistry {' or '.join(fits)}" if fits else
        "see the nameplate: volts and cells of one battery",
    )  # fmt: skip


def _set_points(kind: Entry, series: int, regulator: Any, bus: Any) -> Iterator[Fault]:
    most_v, set_v = series * kind.figure("highest_v").value, regulator.absorption_v
    of_bus = bus is None or (set_v or 0.0) <= 1.35 * bus.nominal_v
    if set_v is not None and set_v > most_v and of_bus:
        yield Fault(
            "regulator.absorption", "is above what the cells bear",
            f"{set_v:g} V, {plain(set_v / series, 3, 'V')} per cell",
            f"at most {plain(most_v, 4, 'V')}, {series} cells of {kind.title}",
        )  # fmt: skip


def float_faults(regulator: Any, absorption_v: float) -> Iterator[Fault]:
    """Yield a float voltage that is not below the absorption voltage.

    Parameters
    ----------
    regulator
        The ``[charge_controller]`` table.
    absorption_v
        Stated, or that of the chemistry [V].
    """
    if regulator.float_v is not None and regulator.float_v >= absorption_v:
        yield Fault(
            "regulator.float", "is not below the absorption voltage",
            f"{regulator.float_v:g} V", f"below {plain(absorption_v, 4, 'V')}",
        )  # fmt: skip


def _compensation(kind: Entry, given: float | None) -> Iterator[Fault]:
    low = kind.figure("least_compensation_v_per_k").value
    high = kind.figure("most_compensation_v_per_k").value
    if given is not None and not low <= given <= high:
        allowed = "0" if low == high else f"{1e3 * low:g} to {1e3 * high:g} mV/K"
        yield Fault(
            "regulator.temperature_compensation_per_cell",
            f"does not belong to {kind.title} cells", f"{1e3 * given:g} mV/K", allowed,
        )  # fmt: skip
