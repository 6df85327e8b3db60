"""The bank: charge current, set point, temperature, short circuit, air, frost."""

from __future__ import annotations

from collections.abc import Iterator

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
    Verdict,
    at_least,
    at_most,
    judged,
)
from powerbudget.limits import within
from powerbudget.quantities import show
from powerbudget.site.cells import is_lithium

LEAST_CHARGE_PERCENT = {"flooded": 2.0, "tubular": 2.0}
LEAST_SEALED_PERCENT = 1.0
COMPENSATION_MV = (2.0, 6.0)
"""What makers print lies within, a cell [mV/degC]."""
MM = 1000.0

CHARGE_HIGH = Rule(
    "charge current, high",
    "the most that array, regulator and generators push in <= the bank's highest charge "
    "current",
    "maker's figure where stated; else the chemistry's usual limit, unverified",
    "a larger bank, a regulator of less current, or fewer strings",
)
CHARGE_LOW = Rule(
    "charge current, low",
    f"at least {LEAST_SEALED_PERCENT:g} % of the rated Ah ({2:g} % for flooded cells, "
    "whose acid must be stirred by gassing)",
    "common practice, no source: less never fills a bank, it sulphates",
    "more panel, or a smaller bank",
)
CHARGE_COLD = Rule(
    "charging temperature, cold",
    "no sun falls on a bank colder than it may be charged",
    "chemistry's window: charge 0 to 45 degC (lithium iron phosphate pack "
    "specifications); others unverified",
    "a heated or buried box; and a regulator that itself stops below the limit "
    "(charge_minimum in [regulator])",
)
CHARGE_HOT = Rule(
    "charging temperature, hot",
    "the hottest battery <= the highest charging temperature",
    "chemistry's window, unverified",
    "shade and air for the box, or a buried vault",
)
DISCHARGE_COLD = Rule(
    "discharge temperature, cold",
    "the battery stays warm enough to carry the loads, at its coldest and at the design "
    "temperature",
    "capacity over temperature of the chemistry, or the maker's curve",
    "heat the box, state a milder design temperature, or take another chemistry",
)
COMPENSATION = Rule(
    "charge compensation",
    f"{COMPENSATION_MV[0]:g} to {COMPENSATION_MV[1]:g} mV/degC a cell for lead-acid and "
    "nickel-cadmium, none for lithium",
    "published coefficients of 3 to 5.5 mV/degC a cell; sources disagree",
    "a figure for one cell: a sheet's 18 mV/degC for a 12 V block is 3 mV a cell",
)
INTERRUPTING = Rule(
    "battery short-circuit",
    "V_rest / R of the full bank at 25 degC <= what its fuse can break at DC",
    "Ohm's law; NEC 706.31: DC devices with enough interrupting rating",
    "a fuse of a class with a higher DC interrupting rating, one for each string, as "
    "near to the terminals as it can stand",
)
VENTS = Rule(
    "ventilation",
    "each of two openings >= 28 Q cm2, Q = 0.05 n I_gas Ah / 1000 m3/h",
    "EN 50272-2 / IEC 62485-2, as quoted in published notes",
    "two openings of that size, low and high, on opposite sides; never gas-tight",
)
FREEZING = Rule(
    "freezing",
    "coldest battery >= the freezing point of the acid at the deepest discharge that the "
    "criteria allow; fails where the hourly run freezes it",
    "US Army TM 10-6140-200-14, table 1-1; TM 5-1185, tables II and III",
    "allow less discharge in the cold, a larger bank, a buried or heated box, or stronger "
    "acid by the maker",
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
    yield at_most(CHARGE_HIGH, Found("bank", amps, limit, "A", words))


def _charge_a(facts: CheckInputs) -> tuple[float, str]:
    amps, limit = (
        facts.array_charge_a,
        facts.tables.regulator.of_all("maximum_charge_a"),
    )
    words = [f"the array gives up to {show(amps, 'A')}"] if facts.panels else []
    if limit is not None and limit < amps:
        amps = limit
        words.append(f"the regulator passes {limit:g} A")
    given = facts.generator_charge_a
    words += [f"generators give up to {show(given, 'A')}"] if given else []
    return amps + given, ", ".join(words)


def charge_low(facts: CheckInputs) -> Iterator[Row]:
    """Yield the charge current against the least that fills a bank [rows]."""
    bank = facts.bank
    if is_lithium(bank.chemistry.name):
        return
    amps, words = _charge_a(facts)
    percent = LEAST_CHARGE_PERCENT.get(bank.chemistry.name, LEAST_SEALED_PERCENT)
    share = 100 * amps / bank.nameplate_ah
    found = Found("bank", share, percent, "% of Ah", words)
    yield at_least(CHARGE_LOW, found, "warn")


def charge_cold(facts: CheckInputs) -> Iterator[Row]:
    """Yield the coldest battery in sun against its lowest charging temperature [rows]."""
    bank, conditions = facts.bank, facts.problem.conditions
    limit = bank.chemistry.charge_min_degc
    hours, _ = _blocked(facts.run)
    degc = min(float(conditions.battery_degc.min()), facts.battery_low_degc)
    words = f"{hours:,.0f} h of sun find charging blocked"
    found = Found("bank", degc, limit, "degC", words)
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
    words = bank.no_current(min(design, coldest)) or (
        f"design {design:g} degC, coldest of the battery {coldest:.1f} degC"
    )
    found = Found("bank", min(design, coldest), limit, "degC", words)
    yield at_least(DISCHARGE_COLD, found)


def _blocked(run: Simulation) -> tuple[float, float]:
    return run.blocked_sun_h, run.blocked_sun_wh


def charge_hot(facts: CheckInputs) -> Iterator[Row]:
    """Yield the hottest battery against its highest charging temperature [rows]."""
    degc = float(facts.problem.conditions.battery_degc.max())
    limit = facts.bank.chemistry.charge_max_degc
    yield at_most(CHARGE_HOT, Found("bank", degc, limit, "degC"), "warn")


def compensation(facts: CheckInputs) -> Iterator[Row]:
    """Yield the regulator's temperature compensation against its usual span [rows]."""
    given = facts.tables.regulator.compensation_v_per_k_cell
    lithium = is_lithium(facts.bank.chemistry.name)
    if given is None:
        if not lithium:
            taken = -MM * facts.bank.compensation_v_per_k
            missing = "[regulator] temperature_compensation_per_cell"
            say = f"{taken:g} mV/degC a cell is taken"
            yield NotChecked(COMPENSATION.name, "regulator", missing, say)
        return
    value = -MM * given
    if lithium:
        yield at_most(
            COMPENSATION, Found("regulator", value, 0.0, "mV/degC a cell"), "warn"
        )
        return
    low, high = COMPENSATION_MV
    if value > high:
        found = Found("regulator", value, high, "mV/degC a cell")
        # Settable to 10 mV on many controllers: a question, not a fault.
        yield at_most(COMPENSATION, found, "warn")
    else:
        found = Found("regulator", value, low, "mV/degC a cell")
        yield at_least(COMPENSATION, found, "warn")


def interrupting(facts: CheckInputs) -> Iterator[Row]:
    """Yield the bank's short-circuit current against what its fuse can break [rows]."""
    battery, bank = facts.tables.battery, facts.bank
    amps = resistance.short_circuit_a(bank, battery.short_circuit_a)
    given = battery.short_circuit_a is not None
    basis = "maker's figure" if given else resistance.SOURCE
    strings = "one string" if bank.parallel == 1 else f"{bank.parallel} strings"
    words = f"{strings}; {basis}"
    if battery.fuse_a == 0:
        return
    if battery.fuse_interrupting_a is None:
        say = f"the bank delivers about {amps / 1000:.1f} kA"
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
    words = f"{air.flow_m3_h:.2f} m3/h at {air.mode} charge, {air.cells} cells"
    if given is None:
        say = f"{words}: two openings of {air.opening_cm2:.0f} cm2 are needed"
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
    need = "no charge is enough" if floor >= NEVER else f"{100 * floor:.0f} % charge"
    words = (
        f"at {degc:.1f} degC it takes {need}; {100 * state:.0f} % may be left; in the "
        f"record {frost.hours_frozen:,.0f} h frozen"
    )
    verdict: Verdict = "pass" if within(degc, point, "lower") else "warn"
    if frost.hours_frozen:
        verdict = "fail"
    elif frost.hours_below_margin:
        verdict = "warn"
        words += f", {frost.hours_below_margin:,.0f} h within the margin"
    return judged(FREEZING, Found("bank", degc, point, "degC", words), "lower", verdict)
