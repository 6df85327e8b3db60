"""Panels and regulator: string voltage in the cold, currents, voltage class."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from powerbudget.array.module import Module
from powerbudget.balance.stages import behind_controller_w
from powerbudget.charging.cold_string import (
    STRING_VOLTAGE,
    coefficient_known,
    cold_factor,
    string_cold_v,
    voltage_limits,
)
from powerbudget.charging.controller import (
    CHARGING_FRAC,
    HOT_CELL_DEGC,
    MISMATCHED_FRAC,
    WASTEFUL_FRAC,
    open_circuit_cold_v,
)
from powerbudget.charging.device import COOL_DEGC, rating_left_frac
from powerbudget.checks.code_tables import (
    AMPACITY_SOURCE,
    ampacity_a,
    next_fuse_a,
    photovoltaic_fuse_a,
    photovoltaic_max_a,
)
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
from powerbudget.quantities import count, in_unit, plain, show
from powerbudget.site.tables import ModuleData

STRINGS_WITHOUT_FUSE = 2
COLD_REMEDY = (
    "use fewer modules in series, or a charge controller and modules with a "
    "higher voltage rating"
)
STRING = Rule(
    STRING_VOLTAGE,
    "n Voc (1 + β (T_low - 25 °C)) <= the limit; T_low is the lower of "
    "weather file and design minimum; where β is not stated, the larger of a "
    "usual β and the factor of the code table",
    "NEC 690.7(A): the coefficient of the module first, Table 690.7(A) second",
    COLD_REMEDY,
)
REGULATOR_CURRENT = Rule(
    "array current, charge controller",
    "1.25 n Isc <= maximum input current of the charge controller",
    "NEC 690.8(A)",
    "use a larger charge controller, or fewer strings on it",
)
CLIPPED = Rule(
    "array power, charge controller",
    "best hourly array power over 95 % of nominal voltage <= rated charge "
    "current; above it an MPPT controller curtails",
    "energy balance",
    "use a larger charge controller, or accept the curtailed energy",
)
ARRAY_FUSE = Rule(
    "array current, fuse",
    "fuse >= 1.25 x 1.25 n Isc",
    "NEC 690.8(A) and 690.8(B), 690.9",
    "use the next larger fuse, and a wire that it protects",
)
ARRAY_WIRE = Rule(
    "array current, wire",
    "ampacity at 30 °C >= 1.25 x 1.25 n Isc, and in hot air >= 1.25 n Isc",
    f"NEC 690.8(B); {AMPACITY_SOURCE}",
    "use larger conductors, or insulation with a higher temperature rating",
)
STRING_FUSE = Rule(
    "string fuse",
    (
        "fuse of each string from 1.25 x 1.25 Isc to the maximum series fuse of "
        "the module"
    ),
    "NEC 690.8(B), 690.9(A); maximum series fuse of the module",
    "use a fuse within these limits in each string",
)
BACKFEED = Rule(
    "reverse (backfeed) current",
    (
        "without string fuses: 1.25 (n - 1) Isc of the other strings <= maximum "
        "series fuse of the module"
    ),
    "NEC 690.9(A): strings in parallel feed a fault in one of them",
    ("use a fuse in each string, not above the maximum series fuse of the module"),
)
CLASS_LOW = Rule(
    "module voltage class",
    f"n Vmp with cells at {HOT_CELL_DEGC:g} °C >= {CHARGING_FRAC:g} x nominal "
    "bus voltage",
    "common practice, no source: 14.4 V charges a 12 V battery",
    "use more modules in series, or modules of a higher voltage class",
)
CLASS_HIGH = Rule(
    "voltage class, PWM mismatch",
    f"n Vmp <= {WASTEFUL_FRAC:g} x nominal bus voltage (WARNING) or "
    f"{MISMATCHED_FRAC:g} x (FAIL): a PWM controller holds the array at "
    "battery voltage",
    "I at V_battery on the module curve; limits assumed",
    (
        "use modules made for this bus (36 cells for 12 V, 72 for 24 V), or an "
        "MPPT controller"
    ),
)


def string_voltage(facts: CheckInputs) -> Iterator[Row]:
    """Yield the string's open-circuit voltage in the cold against each limit [rows].

    Notes
    -----
    Both ways are in the detail; the table, which is the coarser, judges only where the
    module's own coefficient is not stated.
    """
    volts, words, cases = cold_string(facts)
    for subject, limit, key in voltage_limits(facts.design):
        if limit is None:
            say = f"string Voc {in_unit(volts, 'V', 1)} at {in_unit(facts.air.low_degc, '°C', 1)}"
            yield NotChecked(STRING.name, subject, key, say)
            continue
        found = Found(subject, volts, limit, "V", words, cases)
        check = at_most(STRING, found)
        yield check
        beyond = cold_factor(facts.air.low_degc) is None
        if check.verdict == "pass" and beyond and not coefficient_known(facts.design):
            missing = "open_circuit_temperature of the module"
            say = "below -40 °C the code table ends and the coefficient applies"
            yield NotChecked(STRING.name, subject, missing, say)


def cold_string(facts: CheckInputs) -> tuple[float, str, tuple[dict[str, Any], ...]]:
    """Return the string's highest voltage, in words, and by each way.

    Returns
    -------
    tuple
        Volts that judge, the detail, and rows of ``way``, ``air_degc`` and ``volts``
        [V, text, degC].
    """
    module, series = facts.problem.array.module, facts.tables.array.series
    air, factor = facts.air, cold_factor(facts.air.low_degc)
    own = open_circuit_cold_v(module, series, air.low_degc)
    judges = string_cold_v(facts.design, module, series, air.low_degc)
    record = open_circuit_cold_v(module, series, air.record_low_degc)
    table = series * module.open_circuit_v * factor if factor else None
    cases = (
        {
            "way": "coefficient, weather file",
            "air_degc": air.record_low_degc,
            "volts": record,
        },
        {"way": "coefficient, design minimum", "air_degc": air.low_degc, "volts": own},
        {"way": "code table", "air_degc": air.low_degc, "volts": table},
    )
    known = coefficient_known(facts.design)
    beta = plain(100 * module.open_circuit_per_k, 2, "%/K")
    words = (
        f"{series} x {module.open_circuit_v:g} V; {beta}"
        f"{'' if known else ' (not stated, usual value)'}: {in_unit(record, 'V', 1)} at "
        f"{in_unit(air.record_low_degc, '°C', 1)} (lowest in the weather file)"
    )
    if air.low_degc < air.record_low_degc:
        words += f", {in_unit(own, 'V', 1)} at {in_unit(air.low_degc, '°C', 1)} (design minimum)"
    words += (
        f"; code table {in_unit(table, 'V', 1)}"
        if table
        else "; below the range of the code table"
    )
    return judges, words, cases


def regulator_current(facts: CheckInputs) -> Iterator[Row]:
    """Yield the array's current against the regulator's limits [rows]."""
    regulator, module = facts.tables.regulator, facts.problem.array.module
    strings = facts.problem.strings
    most = photovoltaic_max_a(module.short_circuit_a, strings)
    words = f"1.25 x {strings} x {module.short_circuit_a:g} A"
    direct = regulator.kind == "pwm"
    limit = regulator.of_all("maximum_input_a")
    if direct:
        # What comes in goes out: the charge rating is the limit.
        given = (limit, regulator.of_all("maximum_charge_a"))
        limit = min((amps for amps in given if amps is not None), default=None)
    if limit is None:
        key = "maximum_charge_current" if direct else "maximum_input_current"
        say = f"array up to {show(most, 'A')}"
        yield NotChecked(
            REGULATOR_CURRENT.name,
            "charge controller input",
            f"[charge_controller] {key}",
            say,
        )
    else:
        found = Found("charge controller input", most, limit, "A", words)
        yield at_most(REGULATOR_CURRENT, found)
    if not direct:
        yield _clipped(facts)


def _clipped(facts: CheckInputs) -> Row:
    limit = facts.tables.regulator.of_all("maximum_charge_a")
    # What a string of too few volts keeps back is another row's: a longer one gives it.
    problem = facts.problem
    watts = problem.strings * float(
        behind_controller_w(problem.design, problem.array.p_mp_w).max()
    )
    amps = watts / (0.95 * facts.nominal_v)
    words = f"{show(watts, 'W')} in the best hour"
    if limit is None:
        say = f"{words}, {show(amps, 'A')} into the battery"
        missing = "[charge_controller] maximum_charge_current"
        return NotChecked(CLIPPED.name, "charge controller output", missing, say)
    height = facts.tables.site.elevation_m
    # Heat and the best sun come at different hours: the simulation holds them together.
    left = float(rating_left_frac(facts.tables.regulator, COOL_DEGC, height)[0])
    if left < 1.0:
        words += (
            f"; {in_unit(100 * left, '%')} of {limit:g} A at {in_unit(height, 'm')}"
        )
    limit *= left
    return at_most(
        CLIPPED, Found("charge controller output", amps, limit, "A", words), "warn"
    )


def array_fuse(facts: CheckInputs) -> Iterator[Row]:
    """Yield the array's fuse against 1.5625 times its short-circuit current [rows]."""
    fuse, need = facts.tables.array.fuse_a, _needed_a(facts)
    if fuse is None:
        say = f"minimum {show(need, 'A')}: use {next_fuse_a(need):g} A"
        yield NotChecked(
            ARRAY_FUSE.name, "array to charge controller", "[array] fuse", say
        )
        return
    words = _current_words(facts)
    yield at_least(
        ARRAY_FUSE, Found("array to charge controller", fuse, need, "A", words)
    )


def _needed_a(facts: CheckInputs) -> float:
    module = facts.problem.array.module
    return photovoltaic_fuse_a(module.short_circuit_a, facts.problem.strings)


def _current_words(facts: CheckInputs) -> str:
    amps = facts.problem.array.module.short_circuit_a
    return f"1.5625 x {facts.problem.strings} x {amps:g} A"


def array_wire(facts: CheckInputs) -> Iterator[Row]:
    """Yield the array's wire against the code's current, in hot air too [rows]."""
    wire, need = facts.tables.array.wire, _needed_a(facts)
    if wire is None:
        say = f"minimum {show(need, 'A')}"
        yield NotChecked(
            ARRAY_WIRE.name, "array to charge controller", "[array.wire]", say
        )
        return
    cool = ampacity_a(wire.gauge, wire.insulation_degc, 30.0)
    hot = ampacity_a(wire.gauge, wire.insulation_degc, facts.wire_hot_degc)
    # Both conditions as one figure: the hot one counts 1.25 times.
    carried = min(cool, hot * 1.25)
    words = (
        f"{wire.gauge}: {show(cool, 'A')} at 30 °C, {show(hot, 'A')} at "
        f"{in_unit(facts.wire_hot_degc, '°C')}; {_current_words(facts)}"
    )
    yield at_least(
        ARRAY_WIRE, Found("array to charge controller", carried, need, "A", words)
    )


def string_fuse(facts: CheckInputs) -> Iterator[Row]:
    """Yield string fuses, or what strings can do to each other without [rows]."""
    module, strings = facts.problem.array.module, facts.problem.strings
    data = facts.design.module_data
    most = data.series_fuse_a if isinstance(data, ModuleData) else None
    fuse = facts.tables.array.string_fuse_a
    if fuse:
        least = photovoltaic_fuse_a(module.short_circuit_a, 1)
        yield at_least(STRING_FUSE, Found("minimum rating", fuse, least, "A"))
        if most is not None:
            yield at_most(STRING_FUSE, Found("module maximum", fuse, most, "A"))
    elif strings > STRINGS_WITHOUT_FUSE:
        yield from _backfeed(module, strings, most, known=fuse is not None)


def _backfeed(
    module: Module, strings: int, most: float | None, *, known: bool
) -> Iterator[Row]:
    amps = photovoltaic_max_a(module.short_circuit_a, strings - 1)
    words = f"{count(strings, 'string')} in parallel, no string fuse"
    words += "" if known else " stated"
    if most is not None and (known or amps <= most):
        found = Found("strings in parallel", amps, most, "A", words)
        yield at_most(BACKFEED, found)
        return
    say = f"{words}; the other strings feed {show(amps, 'A')} into a fault"
    if most is not None:
        say += f", module limit {show(most, 'A')}"
    missing = "maximum_series_fuse of the module" if known else "[array] string_fuse"
    yield NotChecked(STRING_FUSE.name, "strings in parallel", missing, say)


def class_low(facts: CheckInputs) -> Iterator[Row]:
    """Yield whether the string's voltage charges the bank at all [rows]."""
    module, series = facts.problem.array.module, facts.tables.array.series
    string_v = series * module.max_power_v
    slope = series * module.open_circuit_v * module.open_circuit_per_k
    hot = string_v + slope * (HOT_CELL_DEGC - 25.0)
    need = CHARGING_FRAC * facts.nominal_v
    words = (
        f"{series} x {module.max_power_v:g} V = {in_unit(string_v, 'V', 1)} at 25 °C"
    )
    worse: Verdict = "fail" if string_v < need else "warn"
    yield at_least(CLASS_LOW, Found("string on this bus", hot, need, "V", words), worse)


def class_high(facts: CheckInputs) -> Iterator[Row]:
    """Yield whether a direct connection wastes the panel's voltage [rows]."""
    if facts.tables.regulator.kind != "pwm":
        return
    module, series = facts.problem.array.module, facts.tables.array.series
    string_v, volts = series * module.max_power_v, facts.nominal_v
    used = 1.1 * volts / string_v
    words = (
        f"about {in_unit(1.1 * volts, 'V', 1)} of {in_unit(string_v, 'V', 1)} used, "
        f"{in_unit(100 * used, '%')} "
        "of the power"
    )
    found = Found("string on this bus", string_v, WASTEFUL_FRAC * volts, "V", words)
    worse: Verdict = "fail" if string_v > MISMATCHED_FRAC * volts else "warn"
    yield at_most(CLASS_HIGH, found, worse)
