"""Inputs as people read them: value and unit of whatever a site file may hold."""

from __future__ import annotations

from typing import Any

from powerbudget.report.document.words import percent
from powerbudget.site.costs import Price
from powerbudget.site.fields import MONTHS

UNITS = {
    "w": "W", "wh": "Wh", "ah": "Ah", "a": "A", "v": "V", "h": "h", "d": "d", "m": "m",
    "s": "s", "k": "K", "y": "yr", "deg": "deg", "degc": "degC", "frac": "%",
    "ohm": "ohm", "l": "L", "kpa": "kPa", "ppm": "ppm", "kg": "kg", "km": "km",
    "years": "yr", "m2": "m2",
}  # fmt: skip
"""What the last part of a field's name says about its unit."""
LONG_UNITS = {
    "conductance_w_per_k": "W/K", "compensation_v_per_k_cell": "V/K per cell",
    "open_circuit_per_k": "1/K", "short_circuit_per_k": "1/K",
    "ghi_kwh_m2_d": "kWh/m2/d", "wind_m_s": "m/s",
    "albedo_by_month": "fraction", "soiling_by_month": "fraction",
    "clearness": "fraction", "tilts": "deg",
    "ambient_per_k": "1/K", "altitude_per_km": "1/km", "ageing_per_y": "1/yr",
    "standing_faults_per_y": "1/yr", "heating_value_mj_m3": "MJ/m3",
    "fuel_use_l_d": "L/day", "visits_per_year": "1/yr", "emission_kg_kwh": "kg/kWh",
    "utc_offset_h": "h from UTC", "snow_days": "d", "first_year": "", "last_year": "",
}  # fmt: skip


def shown(name: str, value: Any, currency: str = "") -> tuple[str, str]:
    """Return an input's value and unit as printed.

    Parameters
    ----------
    name
        Field name, whose end is the unit [text].
    value
        The value.
    currency
        Of the price table, for prices that name none [text].

    Examples
    --------
    >>> shown("health_frac", 0.9), shown("tilt_deg", 70.0), shown("kind", "mppt")
    (('90', '%'), ('70', 'deg'), ('mppt', ''))
    >>> shown("propane", Price(2.5, "USD", "gal")), shown("visit", Price(600, "", ""), "EUR")
    (('2.5', 'USD/gal'), ('600', 'EUR'))
    >>> shown("start", ("state", 0.45)), shown("closed", (1015, 515))
    (('SOC 45 %', ''), ('15 Oct to 15 May', ''))
    """
    if isinstance(value, Price):
        per = f"/{value.unit}" if value.unit else ""
        return f"{value.amount:,.10g}", (value.currency or currency) + per
    if name in {"module", "battery_unit"} and isinstance(value, float):
        return f"{value:,.10g}", f"{currency} each"
    if name == "soil_diffusivity_m2_s":
        return f"{1e6 * value:g}", "mm2/s"
    words = _special(name, value)
    if words is not None:
        return words, ""
    unit = LONG_UNITS.get(name, UNITS.get(name.rsplit("_", 1)[-1], ""))
    return _plain(value, unit)


def _plain(value: Any, unit: str) -> tuple[str, str]:
    """Return a figure, a list of figures or a word, with the unit of figures."""
    if isinstance(value, bool):
        return ("yes" if value else "no"), ""
    if isinstance(value, int | float):
        return f"{100 * value if unit == '%' else value:.7g}", unit
    if isinstance(value, tuple | list):
        if unit == "%" and all(isinstance(x, int | float) for x in value):
            value = [100 * x for x in value]
        if len(value) == 12 and len(set(value)) == 1:
            return f"{_piece(value[0])} in every month", unit
        return ", ".join(_piece(item) for item in value), unit
    return str(value), ""


def _special(name: str, value: Any) -> str | None:
    """Return what is no plain figure: a threshold, a draw, dates, months, names by name."""
    if isinstance(value, dict):
        return ", ".join(f"{key}: {item}" for key, item in value.items())
    if not isinstance(value, tuple):
        return None
    if name == "months":
        return ", ".join(MONTHS[month - 1] for month in value)
    if name == "closed":
        return dates_words((value[0], value[1]))
    if len(value) == 2 and isinstance(value[0], str) and isinstance(value[1], float):
        kind, figure = value
        return f"SOC {percent(figure, 0)}" if kind == "state" else f"{figure:g} {kind}"
    return None


def _piece(item: Any) -> str:
    if isinstance(item, tuple | list):
        return "[" + ", ".join(_piece(x) for x in item) + "]"
    return f"{item:.6g}" if isinstance(item, int | float) else str(item)


def dates_words(ends: tuple[int, int]) -> str:
    """Return first and last day of a season, each month times 100 plus day [text].

    Examples
    --------
    >>> dates_words((1015, 515))
    '15 Oct to 15 May'
    """
    return " to ".join(f"{end % 100} {MONTHS[end // 100 - 1]}" for end in ends)
