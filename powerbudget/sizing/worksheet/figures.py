"""Bare figures that a hand worksheet is filled with, from a site file or from paper."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from powerbudget.errors import Fault, InputError
from powerbudget.quantities import count, plain

LoadKind = Literal["running", "momentary", "parasitic"]


@dataclass(frozen=True)
class SheetLoad:
    """One load as it stands on a worksheet.

    Parameters
    ----------
    name
        What it is [text].
    hours_per_day
        Hours in which it draws [h/day].
    draw_w, draw_a
        One of the two: its draw while on [W, A].
    quantity
        How many of them [count].
    efficiency_frac
        Of the converter or inverter that feeds it [fraction].
    kind
        ``running``, ``momentary`` (a minute or less, such as a start) or
        ``parasitic`` (always on) [text].
    group
        Loads of one group are one device in its states: the largest counts once in
        the highest current.  Empty for a load of its own [text].
    """

    name: str
    hours_per_day: float
    draw_w: float | None = None
    draw_a: float | None = None
    quantity: float = 1.0
    efficiency_frac: float = 1.0
    kind: LoadKind = "running"
    group: str = ""

    def amps(self, nominal_v: float) -> float:
        """Return the draw of all of them at the bus while on [A]."""
        each = (self.draw_w or 0.0) / nominal_v
        if self.draw_a is not None:
            each = self.draw_a
        return each * self.quantity / self.efficiency_frac


@dataclass(frozen=True)
class LoadFigures:
    """What the loads ask of the battery.

    Parameters
    ----------
    nominal_v
        Bus volts [V].
    ah_per_day
        Daily load, every efficiency of its chain in it once [Ah/day].
    running_a, momentary_a
        Highest lasting and highest momentary current [A].
    mean_a
        Current by which the hour rate is found; the highest running one where it is
        None [A].
    rows
        Name, Ah/day and how it was found, of each load that is listed.
    inputs, source
        As printed [text].
    """

    nominal_v: float
    ah_per_day: float
    running_a: float
    momentary_a: float
    mean_a: float | None = None
    rows: tuple[tuple[str, float, str], ...] = ()
    inputs: str = ""
    source: str = "given"


@dataclass(frozen=True)
class BatteryFigures:
    """What the battery is asked, and which unit it is made of.

    Parameters
    ----------
    days
        Autonomy [d].
    unit_ah, unit_v
        Capacity of one unit at the hours of ``hour_rate_h``, and its volts [Ah, V].
    deepest_frac, daily_frac
        Allowed depth over the autonomy and in a day; None leaves that rule out
        [fraction].
    end_of_life_frac
        Capacity at which it is replaced; 1 leaves the rule out [fraction].
    degc
        Lowest battery temperature [degC].
    temperature_factor
        Multiplier for it; None takes IEEE 485 table 1, without credit above 25 degC
        [ratio].
    temperature_source
        Where the factor comes from [text].
    margin_frac
        Added at the end; nothing where the contingency is on the load [fraction].
    hour_rate_h
        Hours of the capacity on the name-plate [h].
    window_v
        Lowest and highest volts that every device takes [V].
    disconnect_v, full_charge_v
        Set points of the regulator [V].
    cell_full_v, cell_end_v, cell_v
        Full-charge volts, recommended lowest volts and nominal volts of a cell [V].
    adjusted_unit_ah
        Capacity of a unit at the functional hour rate, where it is known [Ah].
    """

    days: float
    unit_ah: float
    unit_v: float = 12.0
    deepest_frac: float | None = 0.8
    daily_frac: float | None = 0.2
    end_of_life_frac: float = 0.8
    degc: float = 25.0
    temperature_factor: float | None = None
    temperature_source: str = ""
    margin_frac: float = 0.0
    hour_rate_h: float = 20.0
    window_v: tuple[float | None, float | None] = (None, None)
    disconnect_v: float | None = None
    full_charge_v: float | None = None
    cell_full_v: float | None = None
    cell_end_v: float | None = None
    cell_v: float = 2.0
    adjusted_unit_ah: float | None = None


@dataclass(frozen=True)
class ArrayFigures:
    """Sun, losses and module of the array part.

    Parameters
    ----------
    sun_kwh_m2_day
        Sun on the panel by candidate tilt: twelve months, or one worst month
        [kWh/m2/day by deg].
    module_a, module_w
        Maximum-power current and rated power of one module [A, W].
    module_v
        Volts that one module adds to a string: nominal ones, or those of the hot
        maximum-power point [V].
    charge_v
        Volts that a string must reach: the bus's nominal ones beside a nominal
        ``module_v``, otherwise the charging volts [V].
    ratio
        Array-to-load ratio wanted [ratio].
    charge_efficiency_frac, system_loss_frac
        Of the battery, and lost to dirt, mismatch, wires and age; leave at 1 and 0
        what is in the load already [fraction].
    recovery_d
        Days in which the autonomy is to be charged again, None without [d].
    load_ah_by_month
        Twelve daily loads, where they differ [Ah/day].
    tilt_deg
        The tilt to count with; None takes the best of those given [deg].
    tracker_efficiency_frac
        Of a maximum-power-point regulator, None for a direct connection [fraction].
    modules_in_series
        How many the site has, None to count the fewest [count].
    ratio_source, efficiency_source, loss_source
        As printed [text].
    """

    sun_kwh_m2_day: dict[float, tuple[float, ...]]
    module_a: float
    module_w: float
    module_v: float
    charge_v: float
    ratio: float = 1.3
    charge_efficiency_frac: float = 1.0
    system_loss_frac: float = 0.0
    recovery_d: float | None = None
    load_ah_by_month: tuple[float, ...] | None = None
    tilt_deg: float | None = None
    tracker_efficiency_frac: float | None = None
    modules_in_series: int | None = None
    ratio_source: str = "given"
    efficiency_source: str = "given"
    loss_source: str = field(default="given")


def loads_from(
    nominal_v: float, *loads: SheetLoad, efficiencies: tuple[float, ...] = ()
) -> LoadFigures:
    """Return daily ampere-hours and highest currents of a list of loads.

    Parameters
    ----------
    nominal_v
        Bus volts [V].
    *loads
        Lines of the list.
    efficiencies
        Of what stands between the loads and where the worksheet counts (regulator,
        cables, battery), each used once [fraction].

    Returns
    -------
    LoadFigures
        Daily load [Ah/day], highest running and momentary current [A].

    Raises
    ------
    InputError
        When a figure cannot be meant.

    References
    ----------
    IEEE Std 1013 worksheet lines 5a to 5d, as taught by K. Webb, Oregon State
    University, ESE 471 section 6, slides 34-54.

    Examples
    --------
    >>> found = loads_from(12.0, SheetLoad("lamp", 6.0, draw_w=15.0, quantity=2),
    ...     SheetLoad("radio", 1.0, draw_w=50.0), efficiencies=(0.95, 0.85, 0.98))
    >>> round(found.ah_per_day, 2)
    24.22
    """
    _check(nominal_v, loads, efficiencies)
    behind = 1.0
    for efficiency in efficiencies:
        behind /= efficiency
    rows = []
    for load in loads:
        amps = load.amps(nominal_v)
        how = f"{plain(amps, 4, 'A')}, {plain(load.hours_per_day, 4, 'h/day')}, {load.kind}"
        rows.append((load.name, amps * load.hours_per_day, how))
    running, momentary = _highest(nominal_v, loads)
    chain = "".join(f" / {e:g}" for e in efficiencies)
    return LoadFigures(
        nominal_v=nominal_v,
        ah_per_day=sum(row[1] for row in rows) * behind,
        running_a=running,
        momentary_a=momentary,
        rows=tuple(rows),
        inputs=f"{count(len(rows), 'load')}{chain}",
        source="list of loads",
    )


def _highest(nominal_v: float, loads: tuple[SheetLoad, ...]) -> tuple[float, float]:
    """Return the highest running and momentary current of a list [A]."""
    lasting: dict[str, float] = {}
    starts: dict[str, float] = {}
    for number, load in enumerate(loads):
        group = load.group or f"#{number}"
        kept = starts if load.kind == "momentary" else lasting
        kept[group] = max(kept.get(group, 0.0), load.amps(nominal_v))
    running = sum(lasting.values())
    peaks = [running - lasting.get(group, 0.0) + a for group, a in starts.items()]
    return running, max([running, *peaks])


def _check(
    nominal_v: float, loads: tuple[SheetLoad, ...], efficiencies: tuple[float, ...]
) -> None:
    faults = []
    if not nominal_v > 0:
        faults.append(Fault("nominal_v", "is not above 0", f"{nominal_v:g} V"))
    if not loads:
        faults.append(Fault("loads", "the list is empty: add one load or more"))
    for load in loads:
        if (load.draw_w is None) == (load.draw_a is None):
            faults.append(
                Fault(
                    load.name, "needs one power or current", allowed="draw_w or draw_a"
                )
            )
        figures = (load.draw_w or 0.0, load.draw_a or 0.0, load.quantity)
        if min(figures) < 0 or not 0 <= load.hours_per_day <= 24:
            faults.append(
                Fault(load.name, "has a power, quantity, or duration out of range",
                      allowed="0 or more, and 0 to 24 h/day")
            )  # fmt: skip
        if not 0 < load.efficiency_frac <= 1:
            faults.append(_share(f"{load.name}: efficiency_frac", load.efficiency_frac))
    faults += [_share("efficiencies", e) for e in efficiencies if not 0 < e <= 1]
    if faults:
        raise InputError(faults)


def _share(where: str, given: float) -> Fault:
    return Fault(where, "is outside 0 to 1", f"{given:g}", "above 0, at most 1")
