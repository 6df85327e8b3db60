"""The weather of a record under a scenario."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from powerbudget.site.scenario import Scenario
from powerbudget.weather.record import WeatherRecord, cut


def record_under(record: WeatherRecord, scenario: Scenario) -> WeatherRecord:
    """Return the weather under a scenario's sun, temperature and years.

    Returns
    -------
    WeatherRecord
        The record itself where nothing is asked of it.
    """
    changes: dict[str, Any] = {}
    if scenario.sun_factor not in (None, 1.0):
        light = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")
        changes = {n: scenario.sun_factor * getattr(record, n) for n in light}
    if scenario.temperature_shift_k:
        changes["temp_air_degc"] = record.temp_air_degc + scenario.temperature_shift_k
    if changes:
        record = replace(record, **changes)
    if scenario.years is None:
        return record
    year = record.day_local.astype("datetime64[Y]").astype(np.int64) + 1970
    return cut(record, np.flatnonzero(np.isin(year, scenario.years)))
