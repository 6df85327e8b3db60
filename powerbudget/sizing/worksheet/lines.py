"""The lines of the hand worksheet from bare figures; a site's own go the same way."""

from __future__ import annotations

import math

from powerbudget.battery.capacity import ieee_485_factor
from powerbudget.errors import Fault, InputError
from powerbudget.quantities import plain
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.worksheet import formulas as w
from powerbudget.sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    LoadFigures,
)
from powerbudget.sizing.worksheet.formulas import WorksheetLine

_1013 = "IEEE 1013 worksheet"
_1562 = "IEEE 1562, unverified"
WARM_DEGC = 25.0
NO_SUN_KWH = 1e-6
"""What stands for the sun of a polar night, so that a quotient exists [kWh/m2/day]."""
DARK_KWH = 0.001
"""Sun under which no array carries a month, whatever the quotient [kWh/m2/day]."""

Row = tuple[str, str, float, str, str, str, str]


def worksheet_from(
    loads: LoadFigures, battery: BatteryFigures, array: ArrayFigures | None = None
) -> tuple[WorksheetLine, ...]:
    """Return the worksheet of bare figures, line by line.

    Parameters
    ----------
    loads
        What is asked of the battery; `loads_from` makes it from a list.
    battery
        Autonomy, depths, temperature, window and unit.
    array
        Sun, losses and module; None leaves the array out.

    Returns
    -------
    tuple of WorksheetLine
        In order, each with its own unit [-].

    Raises
    ------
    InputError
        When a figure cannot be meant, such as a negative margin.

    References
    ----------
    IEEE Std 1013 worksheet, as taught by K. Webb, Oregon State University, ESE 471
    section 6, slides 34-54; IEEE Std 1562 (unverified).

    Examples
    --------
    >>> from powerbudget.sizing.worksheet.figures import loads_from, SheetLoad
    >>> lines = worksheet_from(
    ...     loads_from(12.0, SheetLoad("logger and radio", 24.0, draw_a=0.5)),
    ...     BatteryFigures(days=10.0, unit_ah=100.0))
    >>> {line.symbol: line.value for line in lines}["Np"]
    2.0
    """
    faults = [*_battery_faults(battery), *_array_faults(array)]
    if faults:
        raise InputError(faults)
    rows, adjusted = _battery_rows(loads, battery)
    rows += _string_rows(loads, battery, adjusted)
    if array is not None:
        rows += _array_rows(loads, battery, array)
    return tuple(WorksheetLine(number, *row) for number, row in enumerate(rows, 1))


def _battery_faults(b: BatteryFigures) -> list[Fault]:
    found = []
    if b.margin_frac < 0:
        found.append(
            Fault("margin_frac", "is negative: a design margin adds to the battery",
                  f"{b.margin_frac:g}", "0 or more, such as 0.10")
        )  # fmt: skip
    shares = {
        "deepest_frac": b.deepest_frac, "daily_frac": b.daily_frac,
        "end_of_life_frac": b.end_of_life_frac,
    }  # fmt: skip
    for name, share in shares.items():
        if share is not None and not 0 < share <= 1:
            found.append(
                Fault(name, "is outside 0 to 1", f"{share:g}", "above 0, at most 1")
            )
    names = ("days", "unit_ah", "unit_v", "hour_rate_h", "cell_v")
    return found + _not_above_0(b, names)


def _not_above_0(figures: object, names: tuple[str, ...]) -> list[Fault]:
    given = {name: getattr(figures, name) for name in names}
    return [
        Fault(name, "must be above 0", f"{value:g}")
        for name, value in given.items()
        if not 0 < value < math.inf
    ]


def _array_faults(a: ArrayFigures | None) -> list[Fault]:
    if a is None:
        return []
    found = _not_above_0(a, ("module_a", "module_w", "module_v", "charge_v"))
    if a.ratio < 0 or not 0 <= a.system_loss_frac < 1:
        found.append(
            Fault("ratio, system_loss_frac", "a margin or loss is out of range",
                  f"{a.ratio:g}, {a.system_loss_frac:g}", "0 or more; 0 to below 1")
        )  # fmt: skip
    if not 0 < a.charge_efficiency_frac <= 1:
        found.append(
            Fault("charge_efficiency_frac", "is outside 0 to 1",
                  f"{a.charge_efficiency_frac:g}", "above 0, at most 1")
        )  # fmt: skip
    if not a.sun_kwh_m2_day or not all(a.sun_kwh_m2_day.values()):
        found.append(Fault("sun_kwh_m2_day", "is empty", allowed="one or twelve"))
    return found


def _load_rows(f: LoadFigures, b: BatteryFigures) -> list[Row]:
    listed: list[Row] = [
        (f"Q{k}", name, ah, "Ah/day", "A h/day", how, f.source)
        for k, (name, ah, how) in enumerate(f.rows, 1)
    ]
    low, high = b.window_v
    rows: list[Row] = [
        ("D", "autonomy", b.days, "d", "given", "", f"{_1013} 3"),
        *listed,
        ("Ip", "peak load current", f.momentary_a, "A", "peak load / V",
         f"{f.nominal_v:g} V", f"{_1013} 5a; {f.source}"),
        ("Ir", "maximum running current", f.running_a, "A", "maximum load / V",
         f"{f.nominal_v:g} V", f"{_1013} 5b; {f.source}"),
        ("Ix", "highest current", max(f.momentary_a, f.running_a), "A",
         "larger of Ip, Ir", "", f"{_1013} 5c"),
        ("Q", f"daily load{'' if listed else ', includes contingency'}",
         f.ah_per_day, "Ah/day",
         "Wh/day / V" if not listed else "sum", f.inputs, f"{_1013} 5d; {f.source}"),
    ]  # fmt: skip
    if high is not None:
        rows.append(("Vx", "lowest maximum input voltage", high, "V",
                     "smallest of the upper limits", "", f"{_1013} 5e"))  # fmt: skip
    if low is not None:
        rows.append(("Vn", "highest minimum operating voltage", low, "V",
                     "largest of the lower limits", "", f"{_1013} 5f"))  # fmt: skip
    return rows


def temperature_factor(b: BatteryFigures) -> tuple[float, str]:
    """Return the multiplier for the battery's temperature and its source [ratio].

    Returns
    -------
    tuple of float and str
        At least 1: no credit above 25 °C [ratio, text].
    """
    if b.temperature_factor is not None:
        return b.temperature_factor, b.temperature_source or "given"
    factor = max(1.0, ieee_485_factor(min(b.degc, WARM_DEGC)))
    return factor, "IEEE 485 table 1, no credit above 25 °C"


def _battery_rows(f: LoadFigures, b: BatteryFigures) -> tuple[list[Row], float]:
    q, c1 = f.ah_per_day, f.ah_per_day * b.days
    factor, source = temperature_factor(b)
    rules: list[Row] = []
    if b.deepest_frac is not None:
        rules.append(("C2", "capacity for maximum DOD", c1 / b.deepest_frac, "Ah",
                      "C1 / DOD", f"DOD {b.deepest_frac:g}", f"{_1013} 6c"))  # fmt: skip
    if b.daily_frac is not None:
        rules.append(("C3", "capacity for daily DOD", q / b.daily_frac, "Ah",
                      "Q / daily DOD", f"daily DOD {b.daily_frac:g}",
                      f"{_1013} 6e"))  # fmt: skip
    rules.append(("C4", "capacity for end of life", c1 / b.end_of_life_frac, "Ah",
                  "C1 / end-of-life capacity", f"end-of-life capacity {b.end_of_life_frac:g}",
                  f"{_1013} 6g"))  # fmt: skip
    governing = max(row[2] for row in rules)
    warm, margin = governing * factor, 1.0 + b.margin_frac
    names = ", ".join(row[0] for row in rules)
    return [
        *_load_rows(f, b),
        ("C1", "unadjusted capacity", c1, "Ah", "Q D",
         f"{plain(q, 4, 'Ah/day')}, {b.days:g} d", f"{_1013} 6a"),
        *rules,
        ("C5", "governing capacity", governing, "Ah", f"largest of {names}",
         "not the product", f"{_1013} 6h"),
        ("kT", "temperature correction factor", factor, "ratio",
         "1 / available capacity" if b.temperature_factor else "from the table",
         f"at {b.degc:g} °C", f"{_1013} 6j; {source}"),
        ("CT", "adjusted for temperature", warm, "Ah", "C5 kT", "", f"{_1013} 6k"),
        ("m", "design margin", margin, "ratio", "given",
         "" if b.margin_frac else "contingency is included in Q", f"{_1013} 6l"),
        ("C6", "adjusted capacity", warm * margin, "Ah", "CT m", "", f"{_1013} 6m"),
    ], warm * margin  # fmt: skip


def _string_rows(f: LoadFigures, b: BatteryFigures, adjusted_ah: float) -> list[Row]:
    amps = f.mean_a or f.running_a
    rows: list[Row] = []
    if amps > 0:
        mean = "mean current" if f.mean_a else "Ir"
        why = "; at the average current of the load" if f.mean_a else ""
        rows.append(("tf", "functional hour rate",
                     w.functional_hour_rate_h(adjusted_ah, amps), "h", f"C6 / {mean}",
                     f"{plain(amps, 4, 'A')}; rated at {b.hour_rate_h:g} h",
                     f"{_1013} 7{why}"))  # fmt: skip
    rows += _cell_rows(f, b)
    unit = b.adjusted_unit_ah or b.unit_ah
    series = w.whole_strings(f.nominal_v, b.unit_v)
    parallel = w.whole_strings(adjusted_ah, unit)
    installed = parallel * unit
    rows += [
        ("Cu", "unit capacity at the functional hour rate", unit, "Ah",
         "rated capacity at tf", f"{b.unit_ah:g} Ah at {b.hour_rate_h:g} h",
         f"{_1013} 10a"),
        ("Np", "parallel battery strings", float(parallel), "count",
         "C6 / Cu, rounded up", f"{plain(adjusted_ah, 4, 'Ah')}, {plain(unit, 4, 'Ah')}",
         f"{_1013} 10b"),
        ("Ci", "installed capacity", installed, "Ah", "Np Cu", "", f"{_1013} 10c"),
        ("Nu", "battery units", float(parallel * series), "count",
         "Np x units in series", f"{series} x {b.unit_v:g} V", "arithmetic"),
    ]  # fmt: skip
    return rows


def _cell_rows(f: LoadFigures, b: BatteryFigures) -> list[Row]:
    """Return the volts and cells, as far as they are known."""
    lows = [v for v in (b.window_v[0], b.disconnect_v) if v is not None]
    highs = [v for v in (b.window_v[1], b.full_charge_v) if v is not None]
    rows: list[Row] = []
    cells = round(f.nominal_v / b.cell_v)
    if lows:
        rows.append(("Vd", "minimum bus voltage", max(lows), "V", "larger of Vn, LVD",
                     ", ".join(f"{v:g} V" for v in lows), f"{_1013} 8b"))  # fmt: skip
    if highs:
        rows.append(
            (
                "Vc",
                "maximum bus voltage",
                min(highs),
                "V",
                "smaller of Vx, regulation voltage",
                ", ".join(f"{v:g} V" for v in highs),
                f"{_1013} 8d",
            )
        )
    if highs and b.cell_full_v is not None:
        cells = w.cells_in_series(min(highs), b.cell_full_v)
        rows.append(("Ns", "maximum cells in series", float(cells), "count",
                     "Vc / charging voltage per cell, rounded down",
                     f"{plain(min(highs), 4, 'V')}, {plain(b.cell_full_v, 4, 'V')}",
                     f"{_1013} 9b"))  # fmt: skip
    if lows and cells:
        rows.append(("Ve", "end-of-discharge voltage per cell", max(lows) / cells, "V",
                     "Vd / Ns", f"{max(lows):g} V", f"{_1013} 9d"))  # fmt: skip
    if lows and b.cell_end_v is not None and cells:
        kept = w.cells_above_end_v(cells, max(lows), b.cell_end_v)
        rows.append(("Nc", "cells in series", float(kept), "count",
                     "Ns, one fewer while Ve is below the recommended voltage",
                     f"recommended {b.cell_end_v:g} V", f"{_1013} 9c, 9g"))  # fmt: skip
    return rows


def design_tilt(
    f: LoadFigures, a: ArrayFigures
) -> tuple[float, int, dict[float, float]]:
    """Return tilt and month to design for, and the worst load over sun by tilt.

    Returns
    -------
    tuple
        Tilt [deg], month from 0, largest load over sun [Ah/kWh by deg].
    """
    worst, months = {}, {}
    for tilt, sun in a.sun_kwh_m2_day.items():
        asked = a.load_ah_by_month or (f.ah_per_day,) * len(sun)
        ratio = [
            load / max(s, NO_SUN_KWH) if not math.isnan(s) else -1.0
            for load, s in zip(asked, sun, strict=True)
        ]
        months[tilt] = max(range(len(ratio)), key=lambda k: ratio[k])
        worst[tilt] = ratio[months[tilt]]
    tilt = a.tilt_deg if a.tilt_deg is not None else min(worst, key=lambda t: worst[t])
    return tilt, months[tilt], worst


def _array_rows(f: LoadFigures, b: BatteryFigures, a: ArrayFigures) -> list[Row]:
    tilt, month, worst = design_tilt(f, a)
    sun = a.sun_kwh_m2_day[tilt]
    daily = (a.load_ah_by_month or (f.ah_per_day,) * len(sun))[month]
    g = max(sun[month], NO_SUN_KWH)
    name = MONTHS[month] if len(sun) == 12 else "the design month"
    tried = ", ".join(f"{t:g}°: {r:.2f}" for t, r in sorted(worst.items()))
    dark = "no irradiation: no array can carry this month; " if g < DARK_KWH else ""
    losses = (a.charge_efficiency_frac, a.system_loss_frac)
    just = w.replacing_array_a(daily, g, *losses)
    rows: list[Row] = [
        ("G", f"POA irradiation in {name}, the design month", g, "kWh/m2/day",
         "largest load over irradiation of the year",
         f"{dark}tilt {tilt:g}°; worst Ah/kWh by tilt {tried}",
         "IEEE 1562 method, unverified; latitude and 15° either side"),
        ("Qm", "daily load in that month", daily, "Ah/day", "Wh/day / V", "", f.source),
        ("eta", "coulombic efficiency of the battery", losses[0], "fraction", "given", "",
         a.efficiency_source),
        ("ls", "system losses", losses[1], "fraction", "given", "", a.loss_source),
        ("I0", "array current that replaces the load", just, "A",
         "Qm / (eta (1 - ls) G)", "", f"{_1562}; by ampere-hours"),
        ("A", "array sizing factor (worksheet)", a.ratio, "ratio", "given", "", a.ratio_source),
        ("I", "array current at 1000 W/m²", just * a.ratio, "A", "A I0", "",
         "IEEE 1013-2000, definition of array-to-load ratio"),
    ]  # fmt: skip
    return rows + _module_rows(f, b, a, (daily, g, just))


def _module_rows(
    f: LoadFigures,
    b: BatteryFigures,
    a: ArrayFigures,
    month: tuple[float, float, float],
) -> list[Row]:
    daily, _, just = month
    used = f.ah_per_day * b.days
    wanted = just * a.ratio
    rows: list[Row] = []
    if a.recovery_d:
        again = just * (daily + used / a.recovery_d) / daily
        wanted = max(wanted, again)
        rows.append(("Irec", "array current for the recharge time", again, "A",
                     "I0 (Qm + C1 / recovery) / Qm", f"recovery {a.recovery_d:g} d",
                     _1562))  # fmt: skip
    return rows + _string_count(f, a, month, wanted, used)


def _string_count(
    f: LoadFigures,
    a: ArrayFigures,
    month: tuple[float, float, float],
    wanted: float,
    used: float,
) -> list[Row]:
    daily, g, _ = month
    fewest = w.whole_strings(a.charge_v, a.module_v)
    series = a.modules_in_series or fewest
    each, how = a.module_a, "module current"
    if a.tracker_efficiency_frac is not None:
        each = w.tracked_string_a(
            series * a.module_w, a.charge_v, a.tracker_efficiency_frac
        )
        how = "W x efficiency / charging volts"
    strings = w.whole_strings(wanted, each)
    kept = a.charge_efficiency_frac * (1 - a.system_loss_frac)
    put_in = strings * each * g * kept
    has = "" if series == fewest else f"; site file: {series}"
    return [
        ("Ms", "minimum modules in series", float(fewest), "count",
         "required voltage / module voltage, rounded up",
         f"{plain(a.charge_v, 4, 'V')}, {plain(a.module_v, 4, 'V')}{has}", _1562),
        ("Im", "current of one string", each, "A", how,
         f"{series} x {a.module_w:g} W, {a.module_a:g} A", "module data"),
        ("Na", "array strings in parallel", float(strings), "count",
         "largest array current / Im, rounded up", plain(wanted, 4, "A"), _1562),
        ("Nm", "modules", float(strings * series), "count", "Na x modules in series",
         f"{series} in series", "arithmetic"),
        ("W", "array power", strings * series * a.module_w, "W", "Nm x module", "",
         "arithmetic"),
        ("Wn", "array power needed at nominal voltage", wanted * f.nominal_v, "W",
         "largest array current x V", f"{f.nominal_v:g} V", "arithmetic"),
        ("AL", "gross A:L (IEEE 1013)", strings * each * g / daily, "ratio",
         "Na Im G / Qm", f"losses not included; A needs {a.ratio / kept:.4g}",
         "IEEE 1013-2000, definition of array-to-load ratio"),
        ("R", "recharge time",
         w.recovery_days(used, put_in, daily), "d",
         "C1 / (eta (1 - ls) Na Im G - Qm)", "", _1562),
    ]  # fmt: skip
