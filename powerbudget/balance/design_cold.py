"""What the place asks of the parts: design cold on battery and panel, snow."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from powerbudget.array.snow import snow_findings
from powerbudget.battery.bank import make_bank
from powerbudget.charging.controller import open_circuit_cold_v
from powerbudget.errors import Finding
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
            short.append(f"{load.name} ({window.min:g} degC)")
    if not short:
        return []
    return [
        Finding(
            "warning",
            f"The coldest of the place is {coldest:.1f} degC, and these end above it: "
            f"{', '.join(short)}.  They need a warmed enclosure or another make.",
        )
    ]


def _bank(design: Design, coldest: float) -> Finding:
    """Say what the bank holds at the design cold, its box as warm as the file says."""
    tables = design.tables
    bank = make_bank(tables.battery, design.battery_unit, tables.regulator)
    degc = coldest + tables.battery.box_warmer_k
    held = float(bank.capacity_frac(degc))
    boxed = tables.battery.box is not None or tables.battery.box_time_constant_h > 0
    text = (
        f"At the design cold the battery stands at {degc:.1f} degC"
        f"{', did its box not hold the cold off,' if boxed else ''} and holds "
        f"{100 * held:.0f} % of its capacity at 25 degC"
    )
    if degc < bank.chemistry.charge_min_degc:
        text += f", and must not be charged ({bank.chemistry.title})"
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
                f"autonomy_temperature is {stated:g} degC and the design minimum of "
                f"the place {coldest:.1f} degC: the days of autonomy hold for a milder "
                "site, unless the battery box keeps the difference.",
            )
        )
    lowest = coldest_degc(record)
    volts = open_circuit_cold_v(module, panels.series, lowest)
    found.append(_bank(design, lowest))
    if not panels.parallel:
        return found
    found.append(
        Finding(
            "note",
            f"At {lowest:.1f} degC a string can reach {volts:.0f} V with the circuit "
            "open; the regulator must bear it.",
        )
    )
    return found
