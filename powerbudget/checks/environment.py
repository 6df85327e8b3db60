"""What the place asks: temperature of devices, altitude, and a plausible load."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from powerbudget.balance.sheet_devices import rated_elevations, sheet_devices
from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.result import (
    Found,
    NotChecked,
    Row,
    Rule,
    Verdict,
    at_least,
    at_most,
)
from powerbudget.loads.lines import kinds_wh
from powerbudget.quantities import in_unit

HIGHEST_M = 2000.0
BAND_W = (5.0, 20.0)
LEAST_RTU_W = 0.5
"""A controller that draws less is a logger or flow computer; assumed [W]."""
RTU_KINDS = {"controller", "node"}
STATION_KINDS = RTU_KINDS | {
    "card", "transmitter", "radio", "network", "converter", "regulator", "wiring",
    "leakage",
}  # fmt: skip
"""What a remote terminal unit consists of; detectors, valves and heaters stand beside
it."""

COLD = Rule(
    "device temperature, cold",
    "lowest of the weather file and the design minimum temperature >= "
    "minimum temperature of the device; WARNING only where the design "
    "temperature is a 50-year minimum",
    ("data sheets; radios and displays may not start below it although they run"),
    (
        "use a heated enclosure (state enclosure_coldest in [protection]) or "
        "another device"
    ),
)
HOT = Rule(
    "device temperature, hot",
    (
        "highest of the weather file and the design temperature <= maximum "
        "temperature of the device"
    ),
    "data sheets; solar heating of an enclosure adds 10 to 20 K, unverified",
    (
        "use shade or a vented or white enclosure (state enclosure_hottest), or "
        "another device"
    ),
)
DEVICE_ALTITUDE = Rule(
    "device elevation",
    ("elevation of the site <= maximum elevation on the data sheet of the device"),
    "data sheets; thinner air cools and insulates less",
    "use another device, or the manufacturer's altitude derating",
)
ALTITUDE = Rule(
    "altitude",
    (
        f"at most {HIGHEST_M:g} m; above it air cools less (1 - h / 17500) and "
        "insulates less"
    ),
    "IEC 60664-1: clearances are valid to 2000 m; cooling: rule of thumb",
    (
        "derate converters and charge controllers, and request the altitude "
        "rating from the manufacturers"
    ),
)
BAND = Rule(
    "plausible load",
    f"the average load of a gas-grid remote terminal unit is {BAND_W[0]:g} to "
    f"{BAND_W[1]:g} W, 120 to 480 Wh/day",
    "published review of small gas-fed sources; a usual range, not a limit",
    "check for a missing load, a double entry, or a load larger than its kind",
)


def air_density_share(height_m: float) -> float:
    """Return the share of convective cooling that is left at a height [fraction].

    Parameters
    ----------
    height_m
        Above sea level [m].

    Returns
    -------
    float
        ``1 - h / 17500`` [fraction].

    References
    ----------
    Rule of thumb from an encyclopaedia on cooling of electronics.

    Examples
    --------
    >>> round(air_density_share(3000.0), 3)
    0.829
    """
    return 1.0 - height_m / 17_500.0


def _spans(facts: CheckInputs) -> Iterator[tuple[str, Any]]:
    """Yield each device's temperature range, its own before that of its part."""
    for name, thing, part in sheet_devices(facts.design, facts.items):
        yield name, thing.temperature or getattr(part, "temperature", None)


def cold(facts: CheckInputs) -> Iterator[Row]:
    """Yield each device's lowest temperature against the place [rows]."""
    kept = facts.protection.enclosure_coldest_degc
    degc = facts.air.low_degc if kept is None else kept
    # What comes once in fifty years is a risk to weigh; every year's is not.
    usual = facts.air.record_low_degc if kept is None else kept
    if kept is None and not math.isnan(facts.air.yearly_low_degc):
        usual = facts.air.yearly_low_degc
    words = _cold_words(facts, kept)
    for name, span in _spans(facts):
        if span is None:
            yield NotChecked("device temperature", name, "temperature = { min, max }")
            continue
        worse: Verdict = "fail" if usual < span.min else "warn"
        yield at_least(COLD, Found(name, degc, span.min, "degC", words), worse)


def _cold_words(facts: CheckInputs, kept: float | None) -> str:
    if kept is not None:
        return "as held in the enclosure, stated in the site file"
    air = facts.air
    words = f"lowest in the weather file {in_unit(air.record_low_degc, '°C', 1)}"
    if not math.isnan(air.design_low_degc):
        words += f", design minimum {in_unit(air.design_low_degc, '°C', 1)}"
    return words


def hot(facts: CheckInputs) -> Iterator[Row]:
    """Yield each device's highest temperature against the place [rows]."""
    kept = facts.protection.enclosure_hottest_degc
    degc = facts.air.high_degc if kept is None else kept
    words = "ambient temperature" if kept is None else "as held in the enclosure"
    for name, span in _spans(facts):
        if span is not None:
            yield at_most(HOT, Found(name, degc, span.max, "degC", words))


def altitude(facts: CheckInputs) -> Iterator[Row]:
    """Yield the site's height against what equipment is built for [rows]."""
    height = facts.tables.site.elevation_m
    words = (
        f"cooling {in_unit(100 * air_density_share(height), '%')} of that at sea level"
    )
    yield at_most(ALTITUDE, Found("site", height, HIGHEST_M, "m", words), "warn")
    for name, most in rated_elevations(facts.design, facts.items):
        yield at_most(DEVICE_ALTITUDE, Found(name, height, most, "m"))


def _has_station(facts: CheckInputs) -> bool:
    """Return whether there is a terminal unit; a logger that sleeps is none."""
    if facts.tables.rack is not None:
        return True
    return any(
        item.kind in RTU_KINDS and item.draw.typical_w >= LEAST_RTU_W
        for item in facts.items
    )


def band(facts: CheckInputs) -> Iterator[Row]:
    """Yield the mean load of a station with a controller against the usual [rows]."""
    if not _has_station(facts):
        return
    watts = kinds_wh(facts.problem.budget.lines, STATION_KINDS) / 24
    low, high = BAND_W
    words = (
        f"{in_unit(24 * watts, 'Wh/day')} in process controller, cards, loops, and radio; "
        "detectors, valves, and heaters not included"
    )
    if watts > high:
        yield at_most(BAND, Found("station", watts, high, "W", words), "warn")
    elif watts < low or watts - low < high - watts:
        yield at_least(BAND, Found("station", watts, low, "W", words), "warn")
    else:
        yield at_most(BAND, Found("station", watts, high, "W", words), "warn")
