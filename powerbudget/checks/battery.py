"""The bank: charge current, set point, temperature, short circuit, air, frost."""

from __future__ import annotations

from collections.abc import Iterator

from powerbudget.balance.run_findings import MOST_LOST
from powerbudget.balance.simulation import Simulation
from powerbudget.battery import resistance
from powerbudget.battery.freezing import NEVER, freezing_degc, lowest_state_frac
from powerbudget.battery.ventilation import ventilation
from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.result import (
    Check,
    Found,
    NotChecked,
    Row,
    Rule,
    at_least,
    at_most,
    judged,
)
from powerbudget.quantities import count, in_unit, show
from powerbudget.site.cells import COMPENSATION_MV, PER_CELL, is_lithium

LEAST_CHARGE_PERCENT = {"flooded": 2.0, "tubular": 2.0}
LEAST_SEALED_PERCENT = 1.0
MM = 1000.0

CHARGE_HIGH = Rule(
    "charge current, maximum",
    "charge current from array, charge controller, and generators <= maximum "
    "charge current of the battery",
    (
        "manufacturer's figure where stated; else the usual limit of the "
        "chemistry, unverified"
    ),
    (
        "use a larger battery, a charge controller with a lower current, or "
        "fewer PV strings"
    ),
)
CHARGE_LOW = Rule(
    "charge current, minimum",
    f"charge current >= {LEAST_SEALED_PERCENT:g} % of rated capacity per hour "
    f"({2:g} % for flooded cells, to stir the acid by gassing)",
    (
        "common practice, no source: a lower current does not fill the battery; "
        "lead-acid cells sulfate"
    ),
    "use a larger array or a smaller battery",
)
CHARGE_COLD = Rule(
    "charging temperature, cold",
    ("no irradiance while the battery is below its minimum charging temperature"),
    "temperature range of the chemistry: charge 0 to 45 °C (lithium iron "
    "phosphate pack specifications); others unverified",
    "use a heated or buried box, and a charge controller that inhibits "
    "charging below the limit (charge_minimum in [charge_controller])",
)
CHARGE_HOT = Rule(
    "charging temperature, hot",
    "highest battery temperature <= maximum charging temperature; FAIL where more than "
    "half of the array energy comes above it",
    "temperature range of the chemistry, unverified",
    "use less heat in the box or a higher conductance, shade and ventilate it, or bury it",
)
DISCHARGE_COLD = Rule(
    "discharge temperature, cold",
    "the battery supplies the loads at its lowest temperature and at the "
    "design minimum temperature",
    "temperature derating curve of the chemistry, or the manufacturer's curve",
    ("heat the box, state a milder design temperature, or use another chemistry"),
)
COMPENSATION = Rule(
    "temperature compensation",
    f"{COMPENSATION_MV[0]:g} to {COMPENSATION_MV[1]:g} mV/K per cell for "
    "lead-acid and nickel-cadmium, none for lithium",
    "published coefficients of 3 to 5.5 mV/K per cell; sources disagree",
    PER_CELL,
)
INTERRUPTING = Rule(
    "interrupting rating, dc",
    ("Voc / R of the full battery at 25 °C <= interrupting rating (dc) of the fuse"),
    "Ohm's law; NEC 706.31: dc devices with sufficient interrupting rating",
    "use a fuse class with a higher dc interrupting rating, one per string, "
    "at the terminals",
)
VENTS = Rule(
    "ventilation",
    "each of two openings >= 28 Q cm2, Q = 0.05 n I_gas Ah / 1000 m3/h",
    "EN 50272-2 / IEC 62485-2, as quoted in published notes",
    (
        "make two openings of that size, low and high, on opposite sides; the "
        "box must not be gas-tight"
    ),
)
FREEZING = Rule(
    "freezing",
    "lowest battery temperature >= freezing point at the maximum DOD limit; smallest "
    "freezing margin in the simulation, in points of SOC, >= freeze_margin (WARNING) "
    "and >= 0 (FAIL)",
    "US Army TM 10-6140-200-14, table 1-1; TM 5-1185, tables II and III",
    "allow a smaller DOD at low temperature, or use a larger battery, a "
    "buried or heated box, or a higher acid density",
)


def charge_high(facts: CheckInputs) -> Iterator[Row]:
    """Yield the highest charge current against what the bank takes [rows]."""
    bank, battery = facts.bank, facts.tables.battery
    amps, words = _charge_a(facts)
    if battery.maximum_charge_a is not None:
        limit = battery.maximum_charge_a * bank.parallel
        words += f"; {bank.parallel} x {battery.maximum_charge_a:g} A stated"
    else:
        share = bank.chemistry.charge_limit_per_h
        limit = share * bank.nameplate_ah
        words += f"; usual limit {100 * share:g} % of {bank.nameplate_ah:g} Ah"
    yield at_most(CHARGE_HIGH, Found("battery", amps, limit, "A", words))


def _charge_a(facts: CheckInputs) -> tuple[float, str]:
    amps, limit = (
        facts.array_charge_a,
        facts.tables.regulator.of_all("maximum_charge_a"),
    )
    words = [f"array: up to {show(amps, 'A')}"] if facts.panels else []
    if limit is not None and limit < amps:
        amps = limit
        words.append(f"charge controller limit: {limit:g} A")
    given = facts.generator_charge_a
    words += [f"generators: up to {show(given, 'A')}"] if given else []
    return amps + given, ", ".join(words)


def charge_low(facts: CheckInputs) -> Iterator[Row]:
    """Yield the charge current against the least that fills a bank [rows]."""
    bank = facts.bank
    if is_lithium(bank.chemistry.name):
        return
    amps, words = _charge_a(facts)
    percent = LEAST_CHARGE_PERCENT.get(bank.chemistry.name, LEAST_SEALED_PERCENT)
    share = 100 * amps / bank.nameplate_ah
    found = Found("battery", share, percent, "% of Ah", words)
    yield at_least(CHARGE_LOW, found, "warn")


def charge_cold(facts: CheckInputs) -> Iterator[Row]:
    """Yield the coldest battery in sun against its lowest charging temperature [rows]."""
    bank, conditions = facts.bank, facts.problem.conditions
    limit = bank.chemistry.charge_min_degc
    hours, _ = _blocked(facts.run)
    degc = min(float(conditions.battery_degc.min()), facts.battery_low_degc)
    words = f"charging inhibited for {in_unit(hours, 'h')} with irradiance"
    found = Found("battery", degc, limit, "degC", words)
    own = facts.tables.regulator.charge_min_degc
    harmless = not hours or not is_lithium(bank.chemistry.name)
    guarded = own is not None and own >= limit
    yield at_least(CHARGE_COLD, found, "warn" if harmless or guarded else "fail")


def discharge_cold(facts: CheckInputs) -> Iterator[Row]:
    """Yield the coldest battery against where its chemistry still delivers [rows]."""
    bank = facts.bank
    limit = bank.discharge_min_degc
    if limit is None:
        return
    design = facts.problem.design_degc
    coldest = min(float(facts.problem.conditions.battery_degc.min()),
                  facts.battery_low_degc)  # fmt: skip
    cold = bank.no_current(min(design, coldest))
    # The remedy is that of the rule.
    words = (
        cold.why
        if cold
        else (
            f"design minimum {design:g} °C, lowest battery temperature {in_unit(coldest, '°C', 1)}"
        )
    )
    found = Found("battery", min(design, coldest), limit, "degC", words)
    yield at_least(DISCHARGE_COLD, found)


def _blocked(run: Simulation) -> tuple[float, float]:
    return run.blocked_sun_h, run.blocked_sun_wh


def charge_hot(facts: CheckInputs) -> Iterator[Row]:
    """Yield the hottest battery against its highest charging temperature [rows]."""
    degc = facts.problem.conditions.battery_degc
    limit, sun_w = facts.bank.chemistry.charge_max_degc, facts.problem.array.p_mp_w
    found = Found("battery", float(degc.max()), limit, "degC")
    # A few hot hours cost nothing; a box too hot to be charged in is a fault.
    lost_w = float(sun_w[degc > limit].sum())
    most = facts.panels and lost_w > MOST_LOST * float(sun_w.sum())
    yield at_most(CHARGE_HOT, found, "fail" if most else "warn")


def compensation(facts: CheckInputs) -> Iterator[Row]:
    """Yield the regulator's temperature compensation against its usual span [rows]."""
    given = facts.tables.regulator.compensation_v_per_k_cell
    lithium = is_lithium(facts.bank.chemistry.name)
    if given is None:
        if not lithium:
            taken = -MM * facts.bank.compensation_v_per_k
            missing = "[charge_controller] temperature_compensation_per_cell"
            say = f"assumed: {taken:g} mV/K per cell"
            yield NotChecked(COMPENSATION.name, "charge controller", missing, say)
        return
    value = -MM * given
    if lithium:
        yield at_most(
            COMPENSATION,
            Found("charge controller", value, 0.0, "mV/K per cell"),
            "warn",
        )
        return
    low, high = COMPENSATION_MV
    if value > high:
        found = Found("charge controller", value, high, "mV/K per cell")
        # Settable to 10 mV on many controllers: a question, not a fault.
        yield at_most(COMPENSATION, found, "warn")
    else:
        found = Found("charge controller", value, low, "mV/K per cell")
        yield at_least(COMPENSATION, found, "warn")


def interrupting(facts: CheckInputs) -> Iterator[Row]:
    """Yield the bank's short-circuit current against what its fuse can break [rows]."""
    battery, bank = facts.tables.battery, facts.bank
    amps = resistance.short_circuit_a(bank, battery.short_circuit_a)
    given = battery.short_circuit_a is not None
    basis = "manufacturer's figure" if given else resistance.SOURCE
    strings = count(bank.parallel, "string")
    words = f"{strings}; {basis}"
    if battery.fuse_a == 0:
        return
    if battery.fuse_interrupting_a is None:
        say = f"available short-circuit current about {in_unit(amps / 1000, 'kA', 1)}"
        missing = "[battery] fuse and fuse_interrupting"
        yield NotChecked(INTERRUPTING.name, "battery fuse", missing, say)
        return
    found = Found("battery fuse", amps, battery.fuse_interrupting_a, "A", words)
    yield at_most(INTERRUPTING, found)


def vents(facts: CheckInputs) -> Iterator[Row]:
    """Yield the battery place's openings against what hydrogen asks [rows]."""
    air = ventilation(facts.bank, facts.tables.battery.charge_mode)
    if not air.flow_m3_h:
        return
    given = facts.tables.battery.vent_m2
    words = f"{in_unit(air.flow_m3_h, 'm³/h', 2)} at {air.mode} charge, {count(air.cells, 'cell')}"
    if given is None:
        say = f"{words}: needs two openings of {in_unit(air.opening_cm2, 'cm²')}"
        yield NotChecked(VENTS.name, "battery box", "[battery] vent_opening", say)
        return
    found = Found("battery box", given * 1e4, air.opening_cm2, "cm2", words)
    yield at_least(VENTS, found)


def freezing(facts: CheckInputs) -> Iterator[Row]:
    """Yield whether the electrolyte stays liquid in the coldest battery [rows]."""
    curve = facts.bank.chemistry.freezing
    if curve is None:
        return
    yield _frozen(facts)


def _frozen(facts: CheckInputs) -> Check:
    frost, bank = facts.run.frost, facts.bank
    depth = facts.tables.criteria.deepest_discharge_frac
    state = 1.0 - depth
    point = float(freezing_degc(state, bank.chemistry.freezing))
    degc = facts.battery_low_degc
    floor = float(lowest_state_frac(degc, bank.chemistry.freezing))
    need = (
        "the battery freezes at any SOC"
        if floor >= NEVER
        else f"freezing SOC {in_unit(100 * floor, '%')}"
    )
    words = (
        f"at {in_unit(degc, '°C', 1)}: {need}; minimum SOC allowed {in_unit(100 * state, '%')}; "
        f"frozen for {in_unit(frost.hours_frozen, 'h')} in the simulation"
    )
    left = 100 * frost.least_margin_frac
    # The figures are those that decide, so that the margin has the verdict's sign.
    if frost.hours_frozen:
        found = Found("battery", left, 0.0, "points", words)
        return judged(FREEZING, found, "lower", "fail")
    if frost.hours_below_margin:
        words += f", {in_unit(frost.hours_below_margin, 'h')} below the freezing margin"
        asked = 100 * facts.tables.battery.freeze_margin_frac
        found = Found("battery", left, asked, "points", words)
        return judged(FREEZING, found, "lower", "warn")
    found = Found("battery", degc, point, "degC", words)
    return at_least(FREEZING, found, "warn")
