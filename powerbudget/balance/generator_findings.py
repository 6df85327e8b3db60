"""What a careful colleague would say about generators, fuel and access."""

from __future__ import annotations

import math

from powerbudget.balance import columns as col
from powerbudget.balance.generation import GeneratorYear
from powerbudget.balance.simulation import Simulation
from powerbudget.errors import Finding, Severity
from powerbudget.generators.altitude import setups_words
from powerbudget.generators.cold import NEAR_K
from powerbudget.generators.unit import Machine
from powerbudget.quantities import in_unit, show

SULPHIDE_PPM = 80.0
"""Hydrogen sulphide that thermoelectric makers allow, about 115 mg/m3, unverified."""
LITTLE_FRAC = 0.2
"""Share of what it could give below which running it did not help."""


def source_findings(run: Simulation) -> list[Finding]:
    """Return every remark on sources beside the array.

    Returns
    -------
    list of Finding
        Empty where the site has none.
    """
    found: list[Finding] = []
    if run.problem.sources.units:
        found += _strong_enough(run)
    for unit, year in zip(run.problem.sources.units, run.generation, strict=True):
        found += _altitude(unit)
        found += _cold(unit, year)
        found += _stock(unit, year)
        found += _running(run, unit, year)
        found += _starting(unit, year)
        found += _never_asked(run, unit, year)
        found += _quality(unit, year)
    return found


def _say(severity: Severity, name: str, text: str) -> Finding:
    return Finding(severity, f"{name}: {text}")


def _strong_enough(run: Simulation) -> list[Finding]:
    """Say when nothing but generators feed the site and they are weaker than it."""
    if run.strings:
        return []
    sources = run.problem.sources
    power = sources.steady_w + sources.follower_w
    running = power[power > 0]
    mean_w = run.problem.budget.average_w
    if not running.size:
        return [
            Finding("serious", "no generator can run in any hour of the weather file")
        ]
    weak = float(running.min())
    if weak >= mean_w:
        return []
    most = float(running.max())
    return [
        Finding(
            "serious",
            f"without an array the average load is {show(mean_w, 'W')}; the "
            f"generators deliver {show(weak, 'W')} to {show(most, 'W')} at the dc "
            "bus: "
            + (
                "they cannot carry the load"
                if most < mean_w
                else "they cannot carry the load in the worst hours"
            ),
        )
    ]


def _altitude(unit: Machine) -> list[Finding]:
    words = setups_words(unit)
    return [_say("warning", unit.name, words)] if words else []


def _cold(unit: Machine, year: GeneratorYear) -> list[Finding]:
    cold = year.pressure
    if cold is None:
        return []
    need = (
        f"{cold.burner_kpa:g} kPa (gauge) at the burner plus {cold.drop_kpa:g} "
        f"kPa across the pressure regulator need {in_unit(cold.limit_degc, '°C', 1)}"
    )
    found = []
    if year.pressure_h or cold.hours_below:
        found.append(
            _say(
                "serious", year.name,
                f"insufficient fuel pressure for {in_unit(cold.hours_below, 'h')}. Cause: "
f"propane at {in_unit(cold.value_degc, '°C', 1)}; {need}. Bury or heat the tank, or "
"use a low-pressure burner",
            )
        )  # fmt: skip
    elif cold.value_degc < cold.limit_degc + NEAR_K:
        found.append(
            _say(
                "warning",
                year.name,
                f"{need}; the lowest tank temperature is {in_unit(cold.value_degc, '°C', 1)}, less "
                f"than {NEAR_K:g} K above",
            )
        )
    if cold.tank_needed_l > cold.tank_l:
        found.append(
            _say(
                "warning", year.name,
                f"insufficient tank vaporization rate at {in_unit(cold.value_degc, '°C')}: full "
f"output needs a tank of about {in_unit(cold.tank_needed_l, 'L')} (half full, "
f"intermittent use); this one has {in_unit(cold.tank_l, 'L')}",
            )
        )  # fmt: skip
    if (year.pressure_h or year.no_fuel_h) and unit.table.relight is None:
        found.append(
            _say(
                "note",
                year.name,
                "automatic reignition is assumed when fuel returns; without it set "
                'relight = "visit"',
            )
        )
    return found


def _stock(unit: Machine, year: GeneratorYear) -> list[Finding]:
    found = []
    if year.no_fuel_h:
        found.append(
            _say(
                "serious",
                year.name,
                f"fuel tank empty for {in_unit(year.no_fuel_h, 'h')} of demand",
            )
        )
    if year.closed_h:
        found.append(
            _say(
                "warning",
                year.name,
                f"fuel not available for {in_unit(year.closed_h, 'h')} of demand",
            )
        )
    if math.isinf(unit.stock_wh):
        return found
    days = min(year.stock_days, year.stock_days_as_run)
    if days < year.wait_days:
        found.append(
            _say(
                "warning", year.name,
                f"fuel supply {in_unit(days, 'd')} on site, {in_unit(year.wait_days, 'd')} without "
"access (closed season and delay). The tank runs empty before access "
"reopens",
            )
        )  # fmt: skip
    return found


def _running(run: Simulation, unit: Machine, year: GeneratorYear) -> list[Finding]:
    found = []
    offered, taken = year.offered_wh_per_year, year.accepted_wh_per_year
    if unit.follows and year.run_h_per_year and taken < LITTLE_FRAC * offered:
        found.append(
            _say(
                "warning", year.name,
                f"runs {in_unit(year.run_h_per_year, 'h/yr')}; battery and loads use "
f"{in_unit(100 * taken / offered, '%')} of the available output. Check the charge "
"limit and the temperatures",
            )
        )  # fmt: skip
    if not unit.follows and offered and taken < 0.5 * offered:
        found.append(
            _say(
                "note",
                year.name,
                f"{in_unit(100 * (1 - taken / offered), '%')} of the available output is "
                "curtailed at the same fuel consumption",
            )
        )
    if year.ambient_h:
        found.append(
            _say(
                "warning",
                year.name,
                f"outside rated ambient range for {in_unit(year.ambient_h, 'h')}",
            )
        )
    if year.life_y < 5.0:
        found.append(
            _say(
                "note",
                year.name,
                f"at {in_unit(year.run_h_per_year, 'h/yr')} the generator needs replacement "
                f"every {in_unit(year.life_y, 'yr', 1)}",
            )
        )
    if year.stack_life_y < 10.0:
        found.append(
            _say(
                "note",
                year.name,
                f"the stack needs replacement every {in_unit(year.stack_life_y, 'yr', 1)}",
            )
        )
    if unit.kind.name == "methanol-cell" and run.problem.record.temp_air_degc.min() < 1:
        found.append(
            _say(
                "note",
                year.name,
                "product water freezes: install it in a heated box; it freezes without "
                "power",
            )
        )
    return found


def _starting(unit: Machine, year: GeneratorYear) -> list[Finding]:
    risk = year.starts_risk
    if risk is None:
        return []
    found = []
    if not risk.stated:
        found.append(
            _say("note", year.name, "failed starts are not included: state start_probability and "
"standing_faults_per_y")
        )  # fmt: skip
    else:
        every = unit.table.exercise_every_d
        found.append(
            _say(
                "warning" if every is None or risk.risk_exercised_frac > 0.05 else "note",
                year.name,
                f"after the longest rest of {in_unit(risk.longest_rest_h / 24, 'd')} the "
f"probability of failure to start is {in_unit(100 * risk.risk_frac, '%', 1)} without "
f"exercise, {in_unit(100 * risk.risk_exercised_frac, '%', 1)} with an exercise run "
f"every {every or 7:g} d; at least one failed start per year: "
f"{in_unit(100 * risk.year_risk_frac, '%')}. The simulation is one random sample",
            )
        )  # fmt: skip
    if year.failed_starts_per_year:
        found.append(
            _say(
                "serious",
                year.name,
                f"{year.failed_starts_per_year:.2f}/yr failed starts; unavailable "
                f"for {in_unit(year.failed_h, 'h')} of demand",
            )
        )
    if unit.kind.name == "engine":
        found.append(
            _say(
                "note",
                year.name,
                "exercise the generator under load: idling leaves wet cylinders and may "
                "lose the residual field of the alternator",
            )
        )
    return found


def _never_asked(run: Simulation, unit: Machine, year: GeneratorYear) -> list[Finding]:
    """Say when the loads are off and the source waits for a state below that."""
    if not unit.follows:
        return []
    waits = ~run.served & (run.out["source_code"] == col.G_OFF)
    # The hour in which the disconnect acts may be the first in which it is asked.
    waits[1:] &= ~run.served[:-1]
    hours = float(waits.sum()) * run.problem.record.step_h
    if not waits.any():
        return []
    state = (
        1.0
        - run.removed_ah[:-1][waits]
        / (run.problem.scalars(run.strings, run.bank)["charge_ah"])
    )
    return [
        _say(
            "serious", year.name,
            f"does not start for {in_unit(hours, 'h')} with the loads off. Cause: the LVD "
f"opens at SOC {in_unit(100 * float(state.min()), '%')} or more, above the start "
"SOC; low temperature lowers the voltage, not the SOC. Raise the start "
"SOC, or start on the LVD",
        )
    ]  # fmt: skip


def _quality(unit: Machine, year: GeneratorYear) -> list[Finding]:
    table, found = unit.table, []
    ppm = table.hydrogen_sulphide_ppm
    if ppm is not None and ppm > SULPHIDE_PPM:
        found.append(
            _say(
                "warning",
                year.name,
                f"hydrogen sulfide {ppm:g} ppm exceeds the usual limit of about "
                f"{SULPHIDE_PPM:g} ppm (unverified): treat the gas, or request the limit "
                "from the manufacturer",
            )
        )
    if unit.fuel.name == "natural-gas" and table.supply_pressure_kpa is None:
        found.append(
            _say(
                "note",
                year.name,
                f"the burner needs {unit.burner_kpa:g} kPa plus {unit.drop_kpa:g} kPa for "
                "the pressure regulator; state supply_pressure",
            )
        )
    efficiency = unit.data("efficiency_frac")
    from_memory = efficiency.status == "unverified"
    own = table.efficiency_frac is not None or table.fuel_use_l_d is not None
    if from_memory and not own and unit.fuel.name != "none":
        found.append(
            _say("note", year.name, "fuel consumption is calculated with an efficiency of "
f"{in_unit(100 * efficiency.value, '%', 1)}: {efficiency.source}")
        )  # fmt: skip
    return found
