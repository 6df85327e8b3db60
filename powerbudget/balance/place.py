"""What the place asks of the parts: design cold on battery and panel, snow."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from powerbudget.array.regulator import open_circuit_cold_v
from powerbudget.array.snow import snow_findings
from powerbudget.errors import Finding
from powerbudget.weather.design import coldest_design_degc

if TYPE_CHECKING:
    from powerbudget.array.module import Module
    from powerbudget.site.model import Array
    from powerbudget.site.reader import Design
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
    return snow_findings(record, panels) + _cold(design, record, panels, module)


def _cold(
    design: Design, record: WeatherRecord, panels: Array, module: Module
) -> list[Finding]:
    if record.design is None:
        return []
    coldest = coldest_design_degc(record.design)
    if math.isnan(coldest):
        return []
    found = []
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
    volts = open_circuit_cold_v(module, panels.series, min(coldest, record_low(record)))
    found.append(
        Finding(
            "note",
            f"At {min(coldest, record_low(record)):.1f} degC a string can reach "
            f"{volts:.0f} V with the circuit open; the regulator must bear it.",
        )
    )
    return found


def record_low(record: WeatherRecord) -> float:
    """Return the lowest air temperature of a record [degC]."""
    return float(record.temp_air_degc.min())
