"""What the place asks of the parts: design cold on battery and panel, snow."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from powerbudget.array.snow import snow_findings
from powerbudget.battery.bank import make_bank
from powerbudget.charging.cold_string import string_cold_v
from powerbudget.errors import Finding
from powerbudget.quantities import in_unit
from powerbudget.weather.design import coldest_design_degc

if TYPE_CHECKING:
    from powerbudget.array.module import Module
    from powerbudget.site.reader import Design
    from powerbudget.site.tables import Array
    from powerbudget.weather import WeatherRecord


def with_findings(record: WeatherRecord, found: list[Finding]) -> WeatherRecord:
    """Return the record with more remarks, each said once [record]."""
    new = tuple(finding for finding in found if finding not in record.findings)
    return replace(record, findings=record.findings + new) if new else record


def site_findings(
    design: Design, record: WeatherRecord, panels: Array, module: Module
) -> list[Finding]:
    """Return what a careful colleague would say about place, cold and snow.

    Parameters
    ----------
    design
        A checked site.
    record
        Its weather.
    panels
        ``[array]``, horizon read.
    module
        Its module.

    Returns
    -------
    list of Finding
        Empty when nothing stands out.
    """
    return (
        (snow_findings(record, panels) if panels.parallel else [])
        + _electronics(design, record)
        + _cold(design, record, panels, module)
    )


def coldest_degc(record: WeatherRecord) -> float:
    """Return the coldest of the record and of the design temperatures [degC]."""
    lowest = float(record.temp_air_degc.min())
    if record.design is None:
        return lowest
    design = coldest_design_degc(record.design)
    return lowest if math.isnan(design) else min(lowest, design)


def _electronics(design: Design, record: WeatherRecord) -> list[Finding]:
    """Name parts whose data sheets end above the coldest of the place."""
    coldest, short = coldest_degc(record), []
    for load in design.tables.load:
        window = getattr(design.parts.get(load.part or ""), "temperature", None)
        if window is not None and window.min > coldest:
            short.append(f"{load.name} ({window.min:g} °C)")
    if not short:
        return []
    return [
        Finding(
            "warning",
            f"The lowest temperature of the site is {in_unit(coldest, '°C', 1)}. Rated above it: "
            f"{', '.join(short)}. Use a heated enclosure or other devices.",
        )
    ]


def _bank(design: Design, coldest: float) -> Finding:
    """Say what the bank holds at the design cold, its box as warm as the file says."""
    tables = design.tables
    bank = make_bank(tables.battery, design.battery_unit, tables.regulator)
    degc = coldest + tables.battery.box_warmer_k
    held = float(bank.capacity_frac(degc))
    boxed = tables.battery.box is not None or tables.battery.box_time_constant_h > 0
    box = ", box not credited" if boxed else ""
    text = (
        f"Available capacity at {in_unit(degc, '°C', 1)} (design minimum{box}): "
        f"{in_unit(100 * held, '%')} of full-charge capacity"
    )
    if degc < bank.chemistry.charge_min_degc:
        text += f"; charging not allowed ({bank.chemistry.title})"
    return Finding("note", f"{text}.")


def _cold(
    design: Design, record: WeatherRecord, panels: Array, module: Module
) -> list[Finding]:
    if record.design is None:
        return []
    if math.isnan(coldest_design_degc(record.design)):
        return []
    coldest, found = coldest_design_degc(record.design), []
    stated = design.tables.criteria.autonomy_degc
    if stated - coldest > 2.0:
        found.append(
            Finding(
                "warning",
                f"Autonomy is calculated at {stated:g} °C, above the site design minimum of "
                f"{in_unit(coldest, '°C', 1)}. Autonomy is overstated unless the box keeps the "
                "battery warmer.",
            )
        )
    lowest = coldest_degc(record)
    volts = string_cold_v(design, module, panels.series, lowest)
    found.append(_bank(design, lowest))
    # A rating that is stated is a criterion.
    if not panels.parallel or design.tables.regulator.maximum_input_v is not None:
        return found
    found.append(
        Finding(
            "note",
            f"String Voc at {in_unit(lowest, '°C', 1)}: {in_unit(volts, 'V')}. The "
            "input rating of the "
            "charge controller must exceed this.",
        )
    )
    return found
