"""What a careful colleague would say about a run."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from powerbudget.balance.controller_rating import controller_rating, string_too_high
from powerbudget.balance.generator_findings import source_findings
from powerbudget.balance.ledger import BELOW, demand_w, limited_w
from powerbudget.balance.packed_site import OVERLOAD
from powerbudget.balance.problem import Problem
from powerbudget.balance.ring import MOST_LAPS, open_frac, repeated, runs_down
from powerbudget.balance.sheet_devices import rated_elevations
from powerbudget.balance.simulation import Simulation
from powerbudget.battery.resistance import LOW_STATE, ohmic_ohm
from powerbudget.charging.device import COOL_DEGC, rating_left_frac
from powerbudget.charging.ratings import rating_words
from powerbudget.errors import Finding, Hindrance
from powerbudget.limits import TOLERANCE_FRAC, within
from powerbudget.quantities import in_unit, plain, show
from powerbudget.site.cells import COMPENSATION_MV, PER_CELL, is_lithium
from powerbudget.site.fields import MONTHS

SMALL_FRAC = 0.01
"""Share of the array's energy below which nobody asks (assumed)."""
MOST_LOST = 0.5
"""And above which no size of it is of use (assumed)."""


def run_findings(run: Simulation) -> tuple[Finding, ...]:
    """Return every remark on a run, the record's and the load's first.

    Returns
    -------
    tuple of Finding
        Empty when there is nothing to say.
    """
    from powerbudget.charging.controller import (
        orientation_findings,
        voltage_class_findings,
    )

    problem = run.problem
    tables = problem.design.tables
    found = [*problem.record.findings, *problem.budget.findings]
    if run.strings:
        found += orientation_findings(
            tables.site.latitude_deg, tables.array.tilt_deg, tables.array.azimuth_deg
        )
        found += voltage_class_findings(
            problem.array.module,
            tables.array.series,
            tables.bus.nominal_v,
            tables.regulator.kind,
        )
    found += _told(over_input(run))
    found += _above_elevation(problem)
    found += _limited(run)
    found += _below_window(run)
    found += _overloaded(run)
    found += _open_ring(run)
    found += _never_full(run)
    found += _disconnect(run)
    found += _blocked(run)
    found += _frost(run)
    found += _no_current(run)
    found += _heated(run)
    found += _compensated(run)
    found += _clamped(run)
    found += _high_voltage(run)
    found += _restart(run)
    found += source_findings(run)
    return tuple(found)


def _share_words(frac: float) -> str:
    """Return a share with two digits, and never as a power of ten [text]."""
    if frac < 0.001:
        return "less than 0.1 %"
    return in_unit(100 * frac, "%") if frac >= 0.1 else plain(100 * frac, 2, "%")


def lost_below(run: Simulation) -> float:
    """Return the share of the array's energy below the tracker's window [fraction]."""
    lost_wh = run.ledger.terms_wh.get(BELOW, 0.0)
    best_wh = run.strings * run.problem.array.energy_wh
    return lost_wh / best_wh if best_wh else 0.0


MORE_SERIES = "more modules in series, or modules with more cells"
"""What strings below a tracker's input window need."""


def no_current(problem: Problem) -> Hindrance | None:
    """Return why the bank carries no load at its design temperature.

    Returns
    -------
    Hindrance or None
        None where it does; with what its heater lacks.
    """
    cold, heater = problem.bank.no_current(problem.design_degc), None
    if cold is not None:
        heater = problem.design.tables.battery.heater
    if cold is None or heater is None:
        return cold
    if heater.feed == "array":
        return replace(
            cold,
            remedy=f"{cold.remedy}. Its heater has no power without sun: "
            'feed = "battery"',
        )
    return replace(
        cold,
        remedy=f"{cold.remedy}. Its heater of {heater.power_w:g} W holds no more than "
        "that: a stronger one, on from a higher temperature, or a box of less conductance",
    )


def hindrances(run: Simulation) -> tuple[Hindrance, ...]:
    """Return what no size of array or battery cures.

    Returns
    -------
    tuple of Hindrance
        Empty where sizes may help: the cold in which the chemistry gives nothing,
        strings above the controller's input rating or below its window, load
        terminals that open, a controller derated to nothing, a disconnect above a full
        battery, temperatures that forbid charging.
    """
    found = (
        no_current(run.problem),
        over_input(run),
        _open_terminals(run),
        _no_window(run),
        derated_to_nothing(run),
        disconnects_when_full(run),
        _inhibited(run),
    )
    return tuple(filter(None, found))


def what_forbids(run: Simulation) -> str:
    """Return `hindrances` with their remedies, empty without any [text]."""
    return "; and ".join(map(str, hindrances(run)))


def _open_terminals(run: Simulation) -> Hindrance | None:
    if not overloaded_h(run):
        return None
    return Hindrance(
        "the loads exceed the load terminal rating of the charge controller",
        "use a charge controller with a higher maximum_load_current, or feed loads from "
        "the battery",
    )


def _no_window(run: Simulation) -> Hindrance | None:
    if lost_below(run) <= MOST_LOST:
        return None
    return Hindrance(
        "the string voltage is below the input range of the charge controller",
        MORE_SERIES,
    )


def overloaded_h(run: Simulation) -> float:
    """Return the hours in which the loads are more than the load terminals bear [h]."""
    limit_a = float(run.scalars["load_limit_a"])
    if not limit_a:
        return 0.0
    over = demand_w(run.problem, run.out) > limit_a * run.out["bus_v"]
    return float((over | (run.out["cause"] == 3)).sum() * run.problem.record.step_h)


def disconnects_when_full(run: Simulation) -> Hindrance | None:
    """Return that the disconnect lies above what a full battery rests at, if it does."""
    trip_v = run.problem.design.tables.bus.disconnect_v or 0.0
    full_v = run.problem.full_rest_v
    if trip_v < full_v:
        return None
    return Hindrance(
        f"the battery carries no load, because the LVD of {trip_v:g} V is not below the "
        f"{in_unit(full_v, 'V', 2)} at which a full battery rests",
        f"lower the LVD (a full {run.bank.label} cell rests at "
        f"{in_unit(full_v / run.bank.cells, 'V', 2)})",
    )


def _inhibited(run: Simulation) -> Hindrance | None:
    """Return that temperature forbids most charging, if it does."""
    whole_wh = run.strings * run.problem.array.energy_wh
    if run.blocked_sun_wh <= MOST_LOST * whole_wh:
        return None
    c, degc = run.bank.chemistry, run.problem.conditions.battery_degc
    share = _share_words(run.blocked_sun_wh / whole_wh)
    if float(np.median(degc)) > c.charge_max_degc:
        return Hindrance(
            f"the battery at up to {in_unit(degc.max(), '°C')} is above the "
            f"{c.charge_max_degc:g} °C to which it may be charged in {share} of the sun",
            "use less heat in the box, a higher conductance, or a cooler place",
        )
    heater = run.problem.design.tables.battery.heater
    return Hindrance(
        f"the battery down to {in_unit(degc.min(), '°C')} is below the "
        f"{run.bank.charge_min_degc:g} °C from which it may be charged in {share} of the "
        "sun",
        f"use a heater of more than {heater.power_w:g} W, a box of lower conductance, or "
        "another chemistry"
        if heater
        else "heat the box, bury it, or use another chemistry",
    )


def _below_window(run: Simulation) -> list[Finding]:
    """Say what strings below the tracker's input window do not give."""
    share = lost_below(run)
    if share < SMALL_FRAC:
        return []
    tables = run.problem.design.tables
    need = float(run.out["bus_v"].mean()) + tables.regulator.run_headroom_v
    module = run.problem.array.module
    return [
        Finding(
            "serious" if share > MOST_LOST else "warning",
            f"Strings of {tables.array.series} in series ({tables.array.series} x "
            f"{in_unit(module.max_power_v, 'V', 1)} at 25 °C) are below the "
            f"{in_unit(need, 'V', 1)}, on "
            "average, that a step-down MPPT controller needs to charge: "
            f"{_share_words(share)} of the array energy is lost. Use more modules in "
            "series, or modules with more cells.",
        )
    ]


def over_input(run: Simulation) -> Hindrance | None:
    """Return that the string exceeds its voltage limit in the cold, if it does."""
    over = string_too_high(run.problem) if run.strings else None
    return over.hindrance if over else None


def _told(one: Hindrance | None) -> list[Finding]:
    """Say a hindrance as a sentence, nothing where there is none."""
    words = str(one or "")
    return [Finding("serious", f"{words[:1].upper()}{words[1:]}.")] if words else []


def _overloaded(run: Simulation) -> list[Finding]:
    """Say where the load terminals of the charge controller open."""
    rated_a, hours = run.problem.design.tables.regulator.of_all("maximum_load_a"), 0.0
    if rated_a is not None:
        hours = overloaded_h(run)
    if not hours:
        return _may_overload(run.problem, rated_a)
    return [
        Finding(
            "serious",
            f"The loads draw more than {OVERLOAD:g} times the {rated_a:g} A of the load "
            f"terminals of the charge controller in {in_unit(hours, 'h')}: these open. Use a "
            "higher maximum_load_current, or feed loads from the battery.",
        )
    ]


def _may_overload(problem: Problem, rated_a: float | None) -> list[Finding]:
    """Say where not the simulated load, but its maximum opens the load terminals."""
    most_a = problem.budget.maximum_a
    if rated_a is None or most_a <= OVERLOAD * rated_a:
        return []
    return [
        Finding(
            "warning",
            f"The maximum running load of {plain(most_a, 3, 'A')} is more than {OVERLOAD:g} "
            f"times the {rated_a:g} A of the load terminals of the charge controller: these "
            "open. The simulation has the mean load. Use a higher maximum_load_current, or "
            "feed loads from the battery.",
        )
    ]


def stated_limits(problem: Problem) -> str:
    """Return the charge limits that the site states for its controller [text]."""
    controller = problem.design.tables.regulator
    keys = (("maximum_charge_current", controller.maximum_charge_a, "A"),
            ("maximum_charge_power", controller.maximum_charge_w, "W"))  # fmt: skip
    each = f"{controller.parallel} x " if controller.parallel > 1 else ""
    left, height = thin_air_frac(problem), problem.design.tables.site.elevation_m

    def acts(x: float, unit: str) -> str:
        at = f" ({plain(left * x, 3, unit)} at {in_unit(height, 'm')})"
        return at if left < 1.0 else ""

    return " and ".join(
        f"{key} of {each}{x:g} {unit}{acts(x, unit)}" for key, x, unit in keys if x
    )


def thin_air_frac(problem: Problem) -> float:
    """Return what the site's elevation leaves of the controller's limits [fraction]."""
    tables = problem.design.tables
    height = tables.site.elevation_m
    return float(rating_left_frac(tables.regulator, COOL_DEGC, height)[0])


def derated_to_nothing(run: Simulation) -> Hindrance | None:
    """Return that elevation leaves a stated limit nothing, if it does."""
    problem = run.problem
    if not (run.strings and stated_limits(problem)) or thin_air_frac(problem) > 0:
        return None
    height = in_unit(problem.design.tables.site.elevation_m, "m")
    return Hindrance(
        f"derating_per_km leaves the charge controller 0 A at {height}",
        f"use a charge controller rated for full output at {height}",
    )


def limited_share(run: Simulation, span: Any = slice(None)) -> float:
    """Return the share of what the array offers that the controller's limit curtails.

    Parameters
    ----------
    run
        A simulation.
    span
        Intervals that are asked about, all of them if left out [count].

    Returns
    -------
    float
        0 where nothing is offered [fraction].
    """
    over_w = limited_w(run.problem, run.out)[span].sum()
    offered_w = (run.out["offered_a"] * run.out["bus_v"])[span].sum()
    return float(over_w / offered_w) if offered_w > 0 else 0.0


def _limited(run: Simulation) -> list[Finding]:
    """Say what the charge controller's own limit keeps off the bus."""
    share = limited_share(run)
    if share <= TOLERANCE_FRAC:
        return []
    over_w, step = limited_w(run.problem, run.out), run.problem.record.step_h
    stated = stated_limits(run.problem)
    asked = controller_rating(run.problem, run.strings)
    return [
        Finding(
            "warning" if share >= SMALL_FRAC else "note",
            f"The {stated} of the charge controller curtails "
            f"{show(float(over_w.sum()) * step / 1000, 'kWh')} in "
            f"{in_unit((over_w > 0).sum() * step, 'h')}, {_share_words(share)} of the "
            f"available array energy.{_heat_words(run)} Hourly means hide shorter peaks: "
            "the loss is larger under broken cloud. The full array needs "
            f"{rating_words(run.problem.design.parts, asked)}.",
        )
    ]


def _heat_words(run: Simulation) -> str:
    """Return what heat leaves of the controller's limit in the sun, if less [text]."""
    problem, offered = run.problem, run.out["offered_a"] > 0
    share, thin = problem.hourly["controller_share"], thin_air_frac(problem)
    hot = np.flatnonzero(offered & (share < thin * (1.0 - TOLERANCE_FRAC)))
    if not hot.size:
        return ""
    left = share / thin
    least = hot[np.argmin(left[hot])]
    full = problem.design.tables.regulator.full_output_degc
    return (
        f" Above {full:g} °C heat derates it, in "
        f"{in_unit(hot.size * problem.record.step_h, 'h')} with irradiance, to as little "
        f"as {in_unit(100 * float(left[least]), '%')} at "
        f"{in_unit(problem.record.temp_air_degc[least], '°C', 1)}."
    )


def _open_ring(run: Simulation) -> list[Finding]:
    apart = open_frac(run.problem, run.scalars, run.removed_ah)
    if not apart:
        return []
    return [
        Finding(
            "warning",
            f"The typical year ends {plain(100 * apart, 2, '%')} SOC from its start, after up "
            f"to {MOST_LAPS} repeats. Figures near 1 January depend on the first "
            "month of the simulation.",
        )
    ]


def _never_full(run: Simulation) -> list[Finding]:
    """Say what a battery that is not full all year lives on, where the record is a line."""
    problem, removed = run.problem, run.removed_ah
    ends = 1.0 - float(removed[-1]) / run.scalars["charge_ah"]
    if runs_down(problem, run.scalars, removed):
        return [
            Finding(
                "serious",
                "the battery is not full at any time of the last year. The weather file "
                f"begins at SOC {in_unit(100 * run.start_soc_frac, '%')} and ends at SOC "
                f"{in_unit(100 * ends, '%')}: the result depends on the initial SOC.",
            )
        ]
    if not repeated(problem, run.scalars, removed):
        return []
    return [
        Finding(
            "warning",
            "the battery is not full at any time of the last year. The initial SOC is that "
            f"of the end, {in_unit(100 * ends, '%')}: from a full battery the result would depend "
            "on that charge.",
        )
    ]


def _when(run: Simulation, iso: str) -> str:
    """Return a moment in words; the year of a typical year is only a label."""
    day, month = int(iso[8:10]), MONTHS[int(iso[5:7]) - 1]
    year = "" if run.problem.record.typical_year else f" {iso[:4]}"
    return f"{day} {month}{year} {iso[11:16]}"


def _disconnect(run: Simulation) -> list[Finding]:
    bus = run.problem.design.tables.bus
    found = _told(disconnects_when_full(run))
    if bus.disconnect_v is not None and bus.reconnect_v is not None:
        gap = (bus.reconnect_v - bus.disconnect_v) * 12 / bus.nominal_v
        if gap < 1.0:
            found.append(
                Finding(
                    "warning",
                    f"LVD hysteresis is {plain(gap, 2, 'V')} (on a 12 V base); field "
                    "units use 1.0 V "
                    "to 1.5 V. A smaller one switches repeatedly",
                )
            )
        found += _inrush(run, bus.disconnect_v)
    return found


def _inrush(run: Simulation, trip_v: float) -> list[Finding]:
    """Say when the largest inrush, not the mean load, would reach the disconnect."""
    problem, out = run.problem, run.out
    budget = problem.budget
    extra_a = max(0.0, budget.peak_w - budget.average_w) / budget.nominal_v
    charge_ah = problem.scalars(run.strings, run.bank)["charge_ah"]
    held_ah = charge_ah * np.maximum(problem.hourly["capacity"], 1e-9)
    # Cold may hide more than is left: the resistance of an empty bank is its highest.
    left = np.clip(1.0 - run.removed_ah[:-1] / held_ah, 0.0, 1.0)
    # A start lasts a moment: it meets the fast resistance, not that of hours of current.
    warmth = run.bank.chemistry.discharge_by_degc.at(problem.conditions.battery_degc)
    ohm = ohmic_ohm(run.bank, 25.0) * warmth * (1 + (LOW_STATE - 1) * (1 - left))
    low = out["bus_v"] - extra_a * ohm
    hours = float(((low < trip_v) & run.served).sum() * problem.record.step_h)
    if not hours:
        return []
    draw = "the largest inrush" if budget.inrush else "maximum running load"
    return [
        Finding(
            "warning",
            f"At {draw} ({plain(budget.peak_w, 3, 'W')}) the battery sags to "
            f"{in_unit(low[run.served].min(), 'V', 2)}, below the LVD, in {in_unit(hours, 'h')} of "
            "service. The LVD needs a longer time delay",
        )
    ]


def _blocked(run: Simulation) -> list[Finding]:
    if not run.blocked_sun_h:
        return []
    bank, c = run.bank, run.bank.chemistry
    share = run.blocked_sun_wh / max(1.0, run.strings * run.problem.array.energy_wh)
    policy = (
        "The pack then disconnects completely."
        if bank.off_when_cold
        else "The loads continue to discharge it."
    )
    return [
        Finding(
            "serious",
            f"{c.title} charges from {bank.charge_min_degc:g} °C (again from "
            f"{bank.charge_restart_degc:g} °C) to {c.charge_max_degc:g} °C. Charging "
            f"inhibited for {in_unit(run.blocked_sun_h, 'h')} with irradiance, "
            f"{_share_words(share)} of the array energy. {policy}",
        )
    ]


def _frost(run: Simulation) -> list[Finding]:
    frost = run.frost
    found = []
    for event in run.events:
        if event.kind == "battery frozen":
            words = (
                f"{event.text} ({_when(run, event.start)}). Frozen for "
                f"{in_unit(frost.hours_frozen, 'h')} in total. All later figures, availability "
                "included, assume a working battery."
            )
            found.append(Finding("serious", words))
    if frost.hours_below_margin and not frost.hours_frozen:
        margin = run.problem.design.tables.battery.freeze_margin_frac
        found.append(
            Finding(
                "warning",
                f"{in_unit(frost.hours_below_margin, 'h')} within "
                f"{in_unit(100 * margin, '%')} of the "
                "freezing SOC; smallest freezing margin "
                f"{in_unit(100 * frost.least_margin_frac, '%')} on "
                f"{_when(run, frost.least_margin_at)}",
            )
        )
    return found


def _no_current(run: Simulation) -> list[Finding]:
    """Say where the battery is too cold to carry a load at all."""
    bank, degc = run.bank, run.problem.conditions.battery_degc
    found = _told(no_current(run.problem))
    cold = run.problem.conditions.capacity_frac <= 0
    if not cold.any():
        return found
    hours = float(cold.sum() * run.problem.record.step_h)
    warmest = float(degc[cold].max())
    return [
        *found,
        Finding(
            "serious",
            f"Battery at {in_unit(warmest, '°C', 1)} or colder for "
            f"{in_unit(hours, 'h')}: {bank.label} "
            "delivers no current. The load is lost unless array or generator carries "
            "it.",
        ),
    ]


def _heated(run: Simulation) -> list[Finding]:
    """Say what a heater is credited with in the design cold, and when it had no power."""
    stated = run.problem.design.tables.criteria.autonomy_degc
    held, found = run.problem.held, []
    if held.degc > stated:
        found.append(
            Finding(
                "note",
                f"the heater holds the battery at {in_unit(held.degc, '°C', 1)} at the design "
                f"temperature of {stated:g} °C, with {show(held.heater_w, 'W')} from the "
                "battery. The autonomy counts both.",
            )
        )
    off = (run.out["served"] < -0.5) & (run.problem.conditions.heater_w > 0)
    if off.any():
        hours = float(off.sum() * run.problem.record.step_h)
        found.append(
            Finding(
                "serious",
                f"in {in_unit(hours, 'h')} the battery is fully discharged and its heater without "
                "power. It gets colder than the simulation has it.",
            )
        )
    return found


def _compensated(run: Simulation) -> list[Finding]:
    """Ask about a temperature compensation that makers do not print."""
    given = run.problem.design.tables.regulator.compensation_v_per_k_cell
    low, high = COMPENSATION_MV
    lithium = is_lithium(run.bank.chemistry.name)
    if given is None or lithium or low <= -1000.0 * given <= high:
        return []
    degc = float(run.problem.conditions.battery_degc.min())
    return [
        Finding(
            "warning",
            f"temperature_compensation_per_cell of {1000 * given + 0.0:g} mV/K is outside the "
            f"usual {-low:g} to {-high:g} mV/K per cell. With the battery at "
            f"{in_unit(degc, '°C', 1)} it gives {in_unit(float(run.bank.asked_v(degc)), 'V', 2)} "
            "before limits. "
            f"Compare it with the data sheet; {PER_CELL}.",
        )
    ]


def _clamped(run: Simulation) -> list[Finding]:
    """Say where a usual clamp, and none of the site file's, holds the charge voltage."""
    bank, degc = run.bank, run.problem.conditions.battery_degc
    asked_v = float(bank.asked_v(degc).max())
    if asked_v <= bank.highest_v + 1e-9:
        return []
    usual_v = bank.chemistry.regulation_max_v
    title = bank.chemistry.title
    limit = f"the usual maximum of {title}"
    if bank.highest_v > usual_v * bank.cells + 1e-9:
        usual = f"{in_unit(usual_v, 'V', 2)} of {title}"
        limit = f"the stated absorption, above the usual maximum of {usual}"
    return [
        Finding(
            "warning",
            f"The simulation limits the charging voltage to {in_unit(bank.highest_v, 'V', 2)}, "
            f"{in_unit(bank.highest_v / bank.cells, 'V', 2)} per cell, {limit}. "
            "Temperature compensation alone gives up to "
            f"{in_unit(asked_v, 'V', 2)}; device limits are checked at that voltage. State "
            "highest_charge_voltage in [charge_controller].",
        )
    ]


def _high_voltage(run: Simulation) -> list[Finding]:
    """Check every device on the bus against the coldest charging day."""
    over, unknown = devices_over(run, run.highest_charge_v)
    when = _when(run, run.highest_charge_at)
    found = []
    if over:
        names = "; ".join(f"{name} limit {limit:g} V" for name, limit in over)
        found.append(
            Finding(
                "serious",
                f"maximum charging voltage {in_unit(run.highest_charge_v, 'V', 2)} "
                f"({when}): {names}",
            )
        )
    del unknown
    return found


def _above_elevation(problem: Problem) -> list[Finding]:
    """Say which devices stand above the elevation that their sheets allow."""
    height = problem.design.tables.site.elevation_m
    stated = rated_elevations(problem.design, problem.budget.items)
    over = [
        f"{name} {in_unit(m, 'm')}"
        for name, m in stated
        if not within(height, m, "upper")
    ]
    if not over:
        return []
    return [
        Finding(
            "serious",
            f"the site at {in_unit(height, 'm')} is above the maximum elevation of "
            f"{', '.join(over)}. Use another device, or the manufacturer's altitude "
            "derating.",
        )
    ]


def devices_over(
    run: Simulation, volts: float
) -> tuple[list[tuple[str, float]], list[str]]:
    """Return what hangs on the bus and takes less than a voltage.

    Parameters
    ----------
    run
        A simulation.
    volts
        Highest bus voltage [V].

    Returns
    -------
    tuple
        Names with their limits, and names without a known limit [text, V].
    """
    tables, parts = run.problem.design.tables, run.problem.design.parts
    over: list[tuple[str, float]] = []
    unknown: list[str] = []
    items: list[Any] = [load for load in tables.load if load.supply is None]
    for item in [*items, *tables.supply]:
        window = getattr(parts.get(item.part or ""), "input", None)
        limit = getattr(item, "maximum_v", None) or (window.max if window else None)
        if limit is None:
            unknown.append(item.name)
        elif volts > limit:
            over.append((item.name, float(limit)))
    return over, unknown


def _restart(run: Simulation) -> list[Finding]:
    dark = [event for event in run.events if event.kind == "charge controller off"]
    if dark:
        when = _when(run, dark[0].start)
        return [Finding("serious", f"{when}: {dark[0].text}")]
    unstated = run.problem.design.tables.regulator.minimum_battery_v is None
    if run.outages and run.strings and unstated:
        return [
            Finding(
                "note",
                "Automatic recovery of a fully discharged battery is not known: state "
                "minimum_battery in [charge_controller]",
            )
        ]
    return []
