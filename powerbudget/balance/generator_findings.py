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
from powerbudget.quantities import show

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
        return [Finding("serious", "no generator can run in any hour of the record")]
    weak = float(running.min())
    if weak >= mean_w:
        return []
    most = float(running.max())
    return [
        Finding(
            "serious",
            f"without panels the site asks {show(mean_w, 'W')} in the mean, and its "
            f"generators give {show(weak, 'W')} to {show(most, 'W')} at the bus over "
            "the record: "
            + (
                "they cannot carry it"
                if most < mean_w
                else "they cannot carry it in the worst hours"
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
        f"{cold.burner_kpa:g} kPa at the burner and {cold.drop_kpa:g} kPa for the "
        f"regulator end at a liquid of {cold.limit_degc:.1f} degC"
    )
    found = []
    if year.pressure_h or cold.hours_below:
        found.append(
            _say(
                "serious", year.name,
                f"propane starves for {cold.hours_below:,.0f} h of the record: {need}, and "
                f"the tank falls to {cold.value_degc:.1f} degC. Boiling at -42 degC does "
                "not help; a buried or warmed tank, or a burner for less pressure, does",
            )
        )  # fmt: skip
    elif cold.value_degc < cold.limit_degc + NEAR_K:
        found.append(
            _say("warning", year.name, f"{need}; the record's coldest tank is "
                 f"{cold.value_degc:.1f} degC, less than {NEAR_K:g} K above")
        )  # fmt: skip
    if cold.tank_needed_l > cold.tank_l:
        found.append(
            _say(
                "warning", year.name,
                f"at {cold.value_degc:.0f} degC a tank of about "
                f"{cold.tank_needed_l:,.0f} L boils off enough at full burn (half full, "
                f"intermittent draw); this one holds {cold.tank_l:,.0f} L",
            )
        )  # fmt: skip
    if (year.pressure_h or year.no_fuel_h) and unit.table.relight is None:
        found.append(
            _say("note", year.name, "it is taken to light again by itself when fuel "
                 'returns; without automatic ignition set relight = "visit"')
        )  # fmt: skip
    return found


def _stock(unit: Machine, year: GeneratorYear) -> list[Finding]:
    found = []
    if year.no_fuel_h:
        found.append(
            _say("serious", year.name, f"no fuel for {year.no_fuel_h:,.0f} h in which it "
                 "should have run")
        )  # fmt: skip
    if year.closed_h:
        found.append(
            _say("warning", year.name, f"fuel is not available in {year.closed_h:,.0f} h "
                 "of the record in which it should have run")
        )  # fmt: skip
    if math.isinf(unit.stock_wh):
        return found
    days = min(year.stock_days, year.stock_days_as_run)
    if days < year.wait_days:
        found.append(
            _say(
                "warning", year.name,
                f"full stores last {days:,.0f} d and nobody may come for "
                f"{year.wait_days:,.0f} d (closed season and delay): the storm that stops "
                "the sun also closes the road",
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
                f"runs {year.run_h_per_year:,.0f} h a year and battery and loads take "
                f"{100 * taken / offered:.0f} % of what it could give: fuel and hours are "
                "used, little is delivered; look at the charge limit and at the cold",
            )
        )  # fmt: skip
    if not unit.follows and offered and taken < 0.5 * offered:
        found.append(
            _say("note", year.name, f"{100 * (1 - taken / offered):.0f} % of what it could "
                 "give finds no use, and it burns the same")
        )  # fmt: skip
    if year.ambient_h:
        found.append(
            _say("warning", year.name, f"outside the ambient of its kind for "
                 f"{year.ambient_h:,.0f} h")
        )  # fmt: skip
    if year.life_y < 5.0:
        found.append(
            _say("note", year.name, f"at {year.run_h_per_year:,.0f} h a year it is due for "
                 f"replacement every {year.life_y:.1f} years")
        )  # fmt: skip
    if year.stack_life_y < 10.0:
        found.append(
            _say("note", year.name, "its stack is due for replacement every "
                 f"{year.stack_life_y:.1f} years")
        )  # fmt: skip
    if unit.kind.name == "methanol-cell" and run.problem.record.temp_air_degc.min() < 1:
        found.append(
            _say("note", year.name, "its product water freezes: it needs a box above "
                 "freezing, and freezes when it stands without power")
        )  # fmt: skip
    return found


def _starting(unit: Machine, year: GeneratorYear) -> list[Finding]:
    risk = year.starts_risk
    if risk is None:
        return []
    found = []
    if not risk.stated:
        found.append(
            _say("note", year.name, "every start is taken to succeed: state "
                 "start_probability and standing_faults_per_y")
        )  # fmt: skip
    else:
        every = unit.table.exercise_every_d
        found.append(
            _say(
                "warning" if every is None or risk.risk_exercised_frac > 0.05 else "note",
                year.name,
                f"after its longest rest of {risk.longest_rest_h / 24:,.0f} d the start "
                f"fails with {100 * risk.risk_frac:.1f} % without exercise, with "
                f"{100 * risk.risk_exercised_frac:.1f} % exercised every "
                f"{every or 7:g} d; at least one failed start in a year: "
                f"{100 * risk.year_risk_frac:.0f} %. One seeded run is one draw of many",
            )
        )  # fmt: skip
    if year.failed_starts_per_year:
        found.append(
            _say("serious", year.name, f"failed to start "
                 f"{year.failed_starts_per_year:.2f} times a year and was down for "
                 f"{year.failed_h:,.0f} h in which it was wanted")
        )  # fmt: skip
    if unit.kind.name == "engine":
        found.append(
            _say("note", year.name, "exercise it under load: idle exercise leaves wet "
                 "cylinders and may lose the residual field of the alternator")
        )  # fmt: skip
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
            f"stands still for {hours:,.0f} h in which the loads are off, because nothing "
            f"asks for it: the disconnect acts at {100 * float(state.min()):.0f} % charge "
            "or more, before the start that is set. Cold lowers the voltage, not the "
            "state; start it sooner, or let the disconnect start it",
        )
    ]  # fmt: skip


def _quality(unit: Machine, year: GeneratorYear) -> list[Finding]:
    table, found = unit.table, []
    ppm = table.hydrogen_sulphide_ppm
    if ppm is not None and ppm > SULPHIDE_PPM:
        found.append(
            _say("warning", year.name, f"{ppm:g} ppm of hydrogen sulphide are more than "
                 f"the about {SULPHIDE_PPM:g} ppm that makers allow (unverified): "
                 "scrub the gas or ask the maker")
        )  # fmt: skip
    if unit.fuel.name == "natural-gas" and table.supply_pressure_kpa is None:
        found.append(
            _say("note", year.name, f"the burner needs {unit.burner_kpa:g} kPa and the "
                 f"regulator {unit.drop_kpa:g} kPa more; state supply_pressure")
        )  # fmt: skip
    efficiency = unit.data("efficiency_frac")
    from_memory = efficiency.status == "unverified"
    own = table.efficiency_frac is not None or table.fuel_use_l_d is not None
    if from_memory and not own and unit.fuel.name != "none":
        found.append(
            _say("note", year.name, "its fuel rests on an efficiency of "
                 f"{100 * efficiency.value:.1f} %: {efficiency.source}")
        )  # fmt: skip
    return found
