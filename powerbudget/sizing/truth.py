"""What the record shows in place of the worksheet's assumptions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.events import local_iso
from powerbudget.balance.simulation import Simulation, demand_w
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.candidate import day_words
from powerbudget.sizing.figures import ArrayFigures, BatteryFigures, LoadFigures
from powerbudget.sizing.sheetlines import design_tilt, temperature_factor

Floats = NDArray[np.float64]
Figures = tuple[LoadFigures, BatteryFigures, ArrayFigures]
FULL_FRAC = 0.95
"""A state above which the bank counts as full again (own choice) [fraction]."""
GIVEN = "site file"


@dataclass(frozen=True)
class Truth:
    """The record's own figures for one design.

    Parameters
    ----------
    spell_days, spell_start, spell_end
        From the last full charge to the lowest state [d, text].
    spell_sun
        Sun on the panel in it [kWh/m2/day].
    load_ah_per_day
        What the loads draw at the volts of the run in the spell [Ah/day].
    string_ah_per_kwh
        What one string offers at the bus for each kWh/m2 of the spell [Ah].
    charge_efficiency_frac
        What the battery gives back and passes on of the array Ah used in it [fraction].
    dependable_sun
        The steady sun that would ask as large an array as the record does beside this
        battery: largest shortage equal to its allowed charge [kWh/m2/day].
    drawdown_days
        Largest shortage of the array's Ah beneath the load's, in days of load [d].
    cold_factor
        1 over the capacity left at the spell's mean battery temperature [ratio].
    spell_degc
        That temperature [degC].
    usable_frac
        Share of the capacity left in the stated cold that is used when the
        disconnect (or frost) ends the autonomy [fraction].
    health_frac
        Of the bank [fraction].
    """

    spell_days: float
    spell_start: str
    spell_end: str
    spell_sun: float
    load_ah_per_day: float
    string_ah_per_kwh: float
    charge_efficiency_frac: float
    dependable_sun: float
    drawdown_days: float
    cold_factor: float
    spell_degc: float
    usable_frac: float
    health_frac: float


@dataclass(frozen=True)
class Replacement:
    """One assumption and how to put the record's figure in its place.

    Parameters
    ----------
    assumption, symbol, unit, side
        Name, worksheet line, unit and what it changes [text].
    by_hand, in_record
        Both figures.
    words
        The assumption in a sentence [text].
    apply
        Returns the worksheet's figures with it replaced.
    """

    assumption: str
    symbol: str
    unit: str
    side: str
    by_hand: float
    in_record: float
    words: str
    apply: Callable[[Figures], Figures]


def truth_of(run: Simulation) -> Truth:
    """Return what a run shows of each of the worksheet's assumptions.

    Parameters
    ----------
    run
        Of the worksheet's own design.

    Returns
    -------
    Truth
        Measured in the spell that decides, from full to the lowest state.
    """
    problem, out = run.problem, run.out
    step = problem.record.step_h
    first, last = _spell(run)
    window = slice(first, last + 1)
    days = (last + 1 - first) * step / 24.0
    sun = float(problem.array.poa_w_m2[window].sum()) * step / 1000.0
    asked = _asked_a(run)
    offered_ah = float(out[window, col.R_OFFERED_A].sum()) * step
    string_ah = offered_ah / (max(sun, 1e-9) * run.strings)
    degc = float(problem.conditions.battery_degc[window].mean())
    left = max(float(run.bank.capacity_frac(degc)), 1e-9)
    efficiency = _efficiency(run, asked, window)
    supplied = efficiency * out[:, col.R_OFFERED_A] * step
    needed_ah = asked * step
    least = _least_share(needed_ah, supplied, _allowed_ah(run)) * run.strings
    load = 24.0 / step * float(needed_ah[window].mean())
    return Truth(
        spell_days=days,
        spell_start=day_words(run, local_iso(problem, first)),
        spell_end=day_words(run, local_iso(problem, last)),
        spell_sun=sun / days,
        load_ah_per_day=load,
        string_ah_per_kwh=string_ah,
        charge_efficiency_frac=efficiency,
        dependable_sun=load / max(least * string_ah * efficiency, 1e-9),
        drawdown_days=_shortage_ah(needed_ah, supplied)
        / max(float(needed_ah.mean()) * 24.0 / step, 1e-12),
        cold_factor=1.0 / left,
        spell_degc=degc,
        usable_frac=_usable_frac(run),
        health_frac=run.bank.health_frac,
    )


def _spell(run: Simulation) -> tuple[int, int]:
    """Return first and last interval from the last full charge to the lowest state."""
    off = np.flatnonzero(~run.served)
    lowest = int(off[0]) if off.size else int(np.argmin(run.soc_frac))
    full = np.flatnonzero(run.soc_frac[:lowest] >= FULL_FRAC)
    return (int(full[-1]) if full.size else 0), lowest


def _asked_a(run: Simulation) -> Floats:
    """Return what all loads would draw, on or off, at the run's volts [A]."""
    volts = run.out[:, col.R_BUS_V]
    watts = demand_w(run.problem, run.out) + run.problem.hourly[:, col.H_BASE_W]
    return np.asarray(watts / volts + run.problem.budget.base_a)


def _efficiency(run: Simulation, asked: Floats, window: slice) -> float:
    """Return load and stored charge over array Ah used, in a window [fraction]."""
    step = run.problem.record.step_h
    on = run.served[window]
    drawn = np.where(on, asked[window], run.problem.budget.base_a).sum() * step
    given = run.removed_ah[window.stop] - run.removed_ah[window.start]
    used = float(run.out[window, col.R_ARRAY_A].sum()) * step
    return min(max(float(drawn - given) / used, 0.05), 1.0) if used > 0 else 1.0


def _allowed_ah(run: Simulation) -> float:
    """Return the charge that the criterion lets the record take out [Ah]."""
    depth = run.problem.design.tables.criteria.deepest_discharge_frac
    return float(depth * run.scalars[col.S_CHARGE_AH])


def _shortage_ah(needed: Floats, supplied: Floats) -> float:
    """Return the largest shortage that piles up, after the sequent peak [Ah]."""
    short = np.cumsum(needed - supplied)
    return float((short - np.minimum.accumulate(np.minimum(short, 0.0))).max())


def _least_share(needed: Floats, supplied: Floats, allowed_ah: float) -> float:
    """Return the share of a supply whose largest shortage is just allowed."""
    low, high = 0.0, 1.0
    while _shortage_ah(needed, high * supplied) > allowed_ah and high < 1e4:
        low, high = high, 2.0 * high
    for _ in range(20):
        middle = (low + high) / 2.0
        if _shortage_ah(needed, middle * supplied) > allowed_ah:
            low = middle
        else:
            high = middle
    return high


def _usable_frac(run: Simulation) -> float:
    problem, bank = run.problem, run.bank
    degc = problem.design.tables.criteria.autonomy_degc
    days = design_autonomy_days(problem, bank, degc)
    held = bank.charge_ah(problem.mean_load_a) * float(bank.capacity_frac(degc))
    used = days * problem.budget.ah_per_day
    return min(max(used / max(held, 1e-9), 0.01), 1.0)


def replacements(figures: Figures, truth: Truth) -> tuple[Replacement, ...]:
    """Return each assumption with the record's figure to put in its place.

    Parameters
    ----------
    figures
        Of the site's worksheet.
    truth
        From `truth_of`.

    Returns
    -------
    tuple of Replacement
        Array first, then battery.
    """
    return (*_array_side(figures, truth), *_battery_side(figures, truth))


def _array_side(figures: Figures, truth: Truth) -> list[Replacement]:
    loads, _, array = figures
    tilt, month, _ = design_tilt(loads, array)
    sun = array.sun_kwh_m2_day[tilt]
    daily = (array.load_ah_by_month or (loads.ah_per_day,) * len(sun))[month]
    kept = 1.0 - array.system_loss_frac
    by_hand_a = _string_a(array) * kept

    def with_sun(f: Figures) -> Figures:
        only: dict[float, tuple[float, ...]] = {
            tilt: (max(truth.dependable_sun, 1e-6),)
        }
        asked = f[2].load_ah_by_month
        months = (asked[month],) if asked and len(asked) > 1 else asked
        new = replace(f[2], sun_kwh_m2_day=only, load_ah_by_month=months, tilt_deg=tilt)
        return f[0], f[1], new

    def with_yield(f: Figures) -> Figures:
        # One string brings so much less or more for the same light.
        ratio = max(truth.string_ah_per_kwh, 1e-9) / by_hand_a
        old = f[2]
        new = replace(old, module_a=old.module_a * ratio, module_w=old.module_w * ratio)
        return f[0], f[1], new

    def with_efficiency(f: Figures) -> Figures:
        new = replace(f[2], charge_efficiency_frac=truth.charge_efficiency_frac)
        return f[0], f[1], new

    def with_load(f: Figures) -> Figures:
        was = f[2].load_ah_by_month or (f[0].ah_per_day,)
        same = tuple(truth.load_ah_per_day * ah / daily for ah in was)
        return f[0], f[1], replace(f[2], load_ah_by_month=same)

    def with_ratio(f: Figures) -> Figures:
        return f[0], f[1], replace(f[2], ratio=1.0)

    found = [
        Replacement(
            "sun of a mean month", "G", "kWh/m2/day", "array", sun[month],
            truth.dependable_sun, f"sun of a mean design month {sun[month]:.2f} kWh/m2 "
            f"a day, while the record lets an array beside this battery count on "
            f"{truth.dependable_sun:.2f}", with_sun,
        ),
        Replacement(
            "what a string yields", "Im", "Ah per kWh/m2", "array", by_hand_a,
            truth.string_ah_per_kwh, f"a string brings {by_hand_a:.2f} Ah for a kWh/m2 "
            f"by hand, {truth.string_ah_per_kwh:.2f} in the spell (cells' temperature, "
            "glass, low light, volts, snow)", with_yield,
        ),
        Replacement(
            "charge efficiency", "eta", "fraction", "array",
            array.charge_efficiency_frac, truth.charge_efficiency_frac,
            f"charge efficiency {array.charge_efficiency_frac:.2f} by hand, "
            f"{truth.charge_efficiency_frac:.2f} in the spell (by day the load is fed "
            "past the battery)", with_efficiency,
        ),
        Replacement(
            "load at nominal volts", "Qm", "Ah/day", "array", daily,
            truth.load_ah_per_day, f"load {daily:.1f} Ah/day at nominal volts, "
            f"{truth.load_ah_per_day:.1f} at the volts of the run", with_load,
        ),
    ]  # fmt: skip
    if array.ratio_source != GIVEN:
        found.append(
            Replacement(
                "array-to-load ratio as a margin", "A", "ratio", "array", array.ratio,
                1.0, f"a ratio of {array.ratio:g} for what the mean hides, 1 where the "
                "record itself is asked", with_ratio,
            )
        )  # fmt: skip
    return found


def _string_a(array: ArrayFigures) -> float:
    from powerbudget.sizing.worksheet import tracked_string_a, whole_strings

    if array.tracker_efficiency_frac is None:
        return array.module_a
    series = array.modules_in_series or whole_strings(array.charge_v, array.module_v)
    watts = series * array.module_w
    return tracked_string_a(watts, array.charge_v, array.tracker_efficiency_frac)


def _battery_side(figures: Figures, truth: Truth) -> list[Replacement]:
    _, battery, _ = figures
    days = max(battery.days, truth.drawdown_days)
    factor, _ = temperature_factor(battery)
    depth = battery.deepest_frac or 1.0
    eol = battery.end_of_life_frac
    by_hand = min(depth, eol)

    def with_days(f: Figures) -> Figures:
        return f[0], replace(f[1], days=days), f[2]

    def with_cold(f: Figures) -> Figures:
        colder = max(factor, truth.cold_factor)
        return f[0], replace(f[1], temperature_factor=colder), f[2]

    def with_health(f: Figures) -> Figures:
        unit = f[1].adjusted_unit_ah or f[1].unit_ah
        aged = unit * truth.health_frac
        return f[0], replace(f[1], adjusted_unit_ah=aged), f[2]

    def with_usable(f: Figures) -> Figures:
        used = truth.usable_frac
        return f[0], replace(f[1], deepest_frac=used, end_of_life_frac=1.0), f[2]

    said = f"the record's worst draw-down {truth.drawdown_days:.1f} days of load"
    return [
        Replacement(
            "dark days from full, then sun", "D", "d", "battery", battery.days, days,
            f"{battery.days:g} days without sun asked, {said}", with_days,
        ),
        Replacement(
            "temperature of the battery", "kT", "ratio", "battery", factor,
            max(factor, truth.cold_factor), f"temperature factor {factor:.2f} by hand, "
            f"{truth.cold_factor:.2f} at the spell's mean of {truth.spell_degc:.0f} degC "
            "(the larger counts)",
            with_cold,
        ),
        Replacement(
            "depth in place of the disconnect", "C2", "fraction", "battery", by_hand,
            truth.usable_frac, f"{100 * by_hand:.0f} % of the charge used by hand, "
            f"{100 * truth.usable_frac:.0f} % when the disconnect acts in the cold",
            with_usable,
        ),
        Replacement(
            "age of the bank", "C4", "fraction", "battery", 1.0, truth.health_frac,
            f"a bank of {100 * truth.health_frac:.0f} % health in the run, a new one by "
            f"hand unless the end-of-life rule is the largest", with_health,
        ),
    ]  # fmt: skip
