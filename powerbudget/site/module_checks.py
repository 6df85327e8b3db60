"""Checks of a module's data-sheet points against each other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from powerbudget.errors import Fault
from powerbudget.quantities import count, in_unit, plain

if TYPE_CHECKING:
    from powerbudget.site.tables import ModuleData

FILL_FACTOR_RANGE = (0.5, 0.87)
"""Silicon modules lie at 0.70-0.82; outside this a figure is wrong (assumed)."""
VOLTS_PER_CELL_RANGE_V = (0.45, 0.95)
"""Open-circuit volts of one cell in series, silicon to thin film (assumed)."""
POWER_TOLERANCE_FRAC = 0.05
"""Between the rated watts and volts x amperes; makers print +-3 % (assumed)."""


def point_faults(data: ModuleData, where: str) -> Iterator[Fault]:
    """Yield every data-sheet point that cannot be right.

    Parameters
    ----------
    data
        Points at 1000 W/m2 and 25 degC.
    where
        Key of the module in the site file, or the name of the part [text].

    Yields
    ------
    Fault
        Shape and cells are asked where the points themselves can be right.
    """

    def fault(key: str, problem: str, given: str, allowed: str) -> Fault:
        advice = "check the value on the data sheet, at 1000 W/m² and 25 °C"
        return Fault(f"{where}.{key}", problem, given, allowed, advice)

    found = []
    if data.max_power_v >= data.open_circuit_v:
        found.append(
            fault(
                "max_power_voltage",
                "is not below the open-circuit voltage",
                f"{data.max_power_v:g} V",
                f"less than {data.open_circuit_v:g} V",
            )
        )
    if data.max_power_a >= data.short_circuit_a:
        found.append(
            fault(
                "max_power_current",
                "is not below the short-circuit current",
                f"{data.max_power_a:g} A",
                f"less than {data.short_circuit_a:g} A",
            )
        )
    product_w = data.max_power_v * data.max_power_a
    if abs(product_w / data.power_w - 1) > POWER_TOLERANCE_FRAC:
        found.append(
            fault(
                "power",
                "does not match voltage times current at the maximum-power point",
                f"{data.power_w:g} W",
                f"within {in_unit(100 * POWER_TOLERANCE_FRAC, '%')} of {plain(product_w, 4, 'W')}",
            )
        )
    yield from found or _odd_shape(data, fault)


def _odd_shape(data: ModuleData, fault: Any) -> list[Fault]:
    """Return faults in the fill factor and in the number of cells."""
    found = []
    product_w = data.max_power_v * data.max_power_a
    fill = product_w / (data.open_circuit_v * data.short_circuit_a)
    low, high = FILL_FACTOR_RANGE
    if not low <= fill <= high:
        found.append(
            fault(
                "open_circuit_voltage, short_circuit_current",
                "the fill factor (Vmp Imp / Voc Isc) is not that of a module",
                f"{fill:.3f}",
                f"{low} to {high}",
            )
        )
    low, high = VOLTS_PER_CELL_RANGE_V
    # Half-cut modules have two groups of cells in parallel; up to four are sold.
    each = [data.open_circuit_v * groups / data.cells for groups in (1, 2, 3, 4)]
    if not any(low <= volts <= high for volts in each):
        likely = min(
            (36, 48, 54, 60, 72, 96), key=lambda n: abs(n * 0.64 - data.open_circuit_v)
        )
        found.append(
            fault(
                "cells",
                f"{data.open_circuit_v:g} V would be {in_unit(each[0], 'V', 2)} for each cell",
                f"{data.cells}",
                f"{low} to {high} V for each cell in series, as with {count(likely, 'cell')}",
            )
        )
    return found
