"""The whole load: lines, totals and the load of every clock hour in the year.

One list gives three sums that must not be mixed: energy (typical draw times duty,
with the contingency once), simultaneous maximum (wires, fuses, converters) and the
peak at the lowest bus voltage (brown-out), with the largest single inrush on top.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from powerbudget.data.figures import UNVERIFIED
from powerbudget.errors import Fault, Finding, InputError
from powerbudget.loads.items import Item, site_items
from powerbudget.loads.lines import (
    Line,
    class_wh,
    make_lines,
    rail_maximum_w,
    status_shares,
)
from powerbudget.loads.loop_checks import LoopCheck, check_loops
from powerbudget.loads.rack_parts import RackResult
from powerbudget.loads.rails import Rail, rails
from powerbudget.loads.schedule import BEHAVIOURS, Moments, Slice, design_grid
from powerbudget.loads.voltage import Peak, brown_outs, lowest_v, peak
from powerbudget.quantities import show
from powerbudget.site.reader import Design

Floats = NDArray[np.float64]

__all__ = ["Budget", "Line", "load_budget"]

SCALED = (
    "average_w", "maximum_w", "peak_w", "wh_per_day", "ah_per_day", "hidden_w",
    "bus_w", "bus_a", "bus_s", "tier_w", "tier_a", "tier_s", "base_a", "maximum_a",
    "peak_a", "load_factor",
)  # fmt: skip
"""Figures of a budget that grow with its loads; volts and shares do not."""


@dataclass(frozen=True)
class Budget:
    """The power budget of a site.

    Parameters
    ----------
    lines
        Parasitic loads first, then the equipment list, then contingency, in the
        highest-load month.
    average_w, wh_per_day, ah_per_day
        Average load and daily load at the bus in the highest-load month, contingency
        included, heaters at the design cold, at nominal volts [W, Wh, Ah].
    maximum_w
        Maximum running load: every load at its maximum power, at the bus and at
        nominal volts, without contingency [W].
    peak_w
        Peak load: ``peak_a`` at the lowest bus voltage [W].
    hidden_w
        Parasitic load: average of converters, wiring, charge controller and leakage
        in the highest-load month, without contingency [W].
    contingency_frac
        Share added to the energy, once [fraction].
    highest_load_month
        Month with the largest daily load, the first of equals [1-12].
    bus_w, bus_a, bus_s
        Load at the bus by month and clock hour, contingency included, split by
        behaviour; shape (12, 24) [W, A, S].
    base_a
        Regulator and leakage: drawn even when the loads are disconnected [A].
    nominal_v
        Bus volts behind the Ah figure [V].
    findings
        What a colleague would point out.
    tier_w, tier_a, tier_s
        As ``bus_w`` and so on, split by tier: 0 kept to the last, 1 shed first, 2 shed
        second; they add up to it; shape (3, 12, 24) [W, A, S].
    items, rails
        Each load with its draw, wire and duty cycle by month and hour, and what feeds
        it by name; the bus has an empty name.
    slices, grid
        Each load as the bus sees it, and the year behind the tables, for
        `powerbudget.loads.series.bus_series`.
    lowest_bus_v, maximum_a, peak_a, inrush
        Lowest bus voltage with loads on; the maximum running load and the peak load at
        that voltage; and the load that starts [V, A, A, text].
    status_frac, class_wh
        Energy by status word and by load class [fraction, Wh/day].
    doubtful_frac
        Share of the energy from unverified, assumed or fictitious figures [fraction].
    rack, loops
        How the rack came about, and each loop checked at both ends.
    load_factor
        What every load was multiplied by since the site file [ratio].
    """

    lines: tuple[Line, ...]
    average_w: float
    maximum_w: float
    peak_w: float
    wh_per_day: float
    ah_per_day: float
    hidden_w: float
    contingency_frac: float
    highest_load_month: int
    bus_w: Floats
    bus_a: Floats
    bus_s: Floats
    base_a: float
    nominal_v: float
    findings: tuple[Finding, ...]
    tier_w: Floats
    tier_a: Floats
    tier_s: Floats
    items: tuple[Item, ...]
    rails: dict[str, Rail]
    slices: tuple[Slice, ...]
    grid: Moments
    lowest_bus_v: float = 0.0
    maximum_a: float = 0.0
    peak_a: float = 0.0
    inrush: str = ""
    status_frac: dict[str, float] = field(default_factory=dict)
    class_wh: dict[str, float] = field(default_factory=dict)
    doubtful_frac: float = 0.0
    rack: RackResult | None = None
    loops: tuple[LoopCheck, ...] = ()
    load_factor: float = 1.0

    @property
    def typical_w(self) -> float:
        """Old name of ``average_w`` [W]."""
        return self.average_w

    @property
    def heaviest_month(self) -> int:
        """Old name of ``highest_load_month`` [1-12]."""
        return self.highest_load_month

    @property
    def mean_w(self) -> Floats:
        """Mean bus watts by month and hour at nominal volts, shape (12, 24) [W]."""
        volts = self.nominal_v
        switched = self.bus_w + self.bus_a * volts + self.bus_s * volts**2
        return switched + self.base_a * volts

    @property
    def daily_load_wh(self) -> Floats:
        """Daily load of each month, heaters at the design cold, shape (12) [Wh/day]."""
        found: Floats = self.mean_w.sum(axis=1)
        return found

    @property
    def design_cold_degc(self) -> float:
        """Air at which heaters are reckoned in the tables of the budget [degC]."""
        return float(self.grid.air_degc[0])

    @property
    def heated(self) -> bool:
        """Whether a load follows the air: its daily load is that of the design cold."""
        return any(
            item.load.heater is not None and item.on_w > 0 for item in self.items
        )

    def scaled(self, factor: float) -> Budget:
        """Return the budget with every load at the bus so many times as large.

        The factor stands where the contingency stands, on all that the bus carries:
        loads, converters, wiring, charge controller and leakage, in watts, amperes
        and siemens alike.  Unlike the contingency it is on the maximum and the peak
        too.  It is the budget of a site in which each draw and each converter is
        that much larger and each wire that much thicker: no voltage moves, and no
        finding, loop or rack either, which stay those of the site as written.

        Parameters
        ----------
        factor
            0 or more [ratio].

        Returns
        -------
        Budget
            Its ``load_factor`` is multiplied along.

        Raises
        ------
        ValueError
            When the factor is negative or not a number.
        """
        if not factor >= 0:
            raise ValueError(f"load factor is {factor}; it must be 0 or more")
        if factor == 1.0:
            return self
        changed: dict[str, Any] = {
            name: factor * getattr(self, name) for name in SCALED
        }
        return replace(
            self,
            **changed,
            lines=tuple(line.scaled(factor) for line in self.lines),
            items=tuple(item.scaled(factor) for item in self.items),
            rails={name: rail.scaled(factor) for name, rail in self.rails.items()},
            slices=tuple(
                replace(piece, amount=factor * piece.amount) for piece in self.slices
            ),
            class_wh={word: factor * wh for word, wh in self.class_wh.items()},
        )


def load_budget(design: Design) -> Budget:
    """Return the power budget of a site.

    Returns
    -------
    Budget
        Lines, totals and the load of every clock hour.

    Raises
    ------
    InputError
        When a wire gauge is not known, an input-output list or a log cannot be used,
        or the list draws nothing at all.

    Notes
    -----
    Heaters are reckoned at the design cold in these tables; the hourly simulation
    follows the air of the weather record, and
    `powerbudget.loads.series.daily_load_wh` tells what months come to then.
    """
    feeds = rails(design)
    grid = design_grid(_place(design), design.tables.criteria.autonomy_degc)
    items, rack = site_items(design, feeds, grid)
    _refuse_nothing(items, design)
    tables = design.tables
    volts, c = tables.bus.nominal_v, tables.bus.contingency_frac
    base_a = tables.regulator.all_own_a + tables.bus.leakage_a
    slices = _slices(items, feeds, 1 + c)
    by_tier = _by_tier(slices, items, feeds, 1 + c)
    bus_w, bus_a, bus_s = by_tier.sum(axis=0)
    mean = bus_w + bus_a * volts + bus_s * volts**2 + (1 + c) * base_a * volts
    month = _highest_load(mean.sum(axis=1))
    lowest = lowest_v(tables.bus)
    lines = make_lines(items, feeds, design, month, lowest)
    loops, loop_findings = check_loops(items, lowest)
    wh_per_day = float(mean[month].sum())
    return Budget(
        lines=lines,
        average_w=wh_per_day / 24,
        maximum_w=_maximum_w(items, feeds) + base_a * volts,
        wh_per_day=wh_per_day,
        ah_per_day=wh_per_day / volts,
        contingency_frac=c,
        highest_load_month=month + 1,
        base_a=(1 + c) * base_a,
        nominal_v=volts,
        findings=(
            *_findings(items, feeds, design, rack),
            *brown_outs(items, feeds, lowest),
            *loop_findings,
        ),
        items=tuple(items),
        rails=feeds,
        slices=slices,
        grid=grid,
        lowest_bus_v=lowest,
        rack=rack,
        loops=tuple(loops),
        **_draws(by_tier),
        **_peaks(peak(items, feeds, base_a, lowest)),
        **_shares(lines),
    )


def _highest_load(by_month_wh: Floats) -> int:
    """Return the first month whose load no other exceeds by more than dust [from 0]."""
    return int(np.argmax(by_month_wh >= (1 - 1e-9) * by_month_wh.max()))


def _draws(by_tier: Floats) -> dict[str, Any]:
    """Return watts, amperes and siemens at the bus, of each tier and of all."""
    whole = by_tier.sum(axis=0)
    found: dict[str, Any] = {}
    for k, letter in enumerate("was"):
        found |= {f"bus_{letter}": whole[k], f"tier_{letter}": by_tier[:, k]}
    return found


def _peaks(most: Peak) -> dict[str, Any]:
    """Return the figures of a budget that stand at its lowest voltage."""
    return {
        "peak_w": most.peak_a * most.lowest_v,
        "maximum_a": most.maximum_a,
        "peak_a": most.peak_a,
        "inrush": most.inrush,
    }


def _shares(lines: tuple[Line, ...]) -> dict[str, Any]:
    """Return what the energy of a budget's lines rests on."""
    shares = status_shares(lines)
    return {
        "hidden_w": sum(line.wh_per_day for line in lines if line.hidden) / 24,
        "status_frac": shares,
        "class_wh": class_wh(lines),
        "doubtful_frac": sum(shares.get(word, 0.0) for word in UNVERIFIED),
    }


def _place(design: Design) -> tuple[float, float, float]:
    site = design.tables.site
    offset = site.utc_offset_h
    if offset is None:
        offset = round(site.longitude_deg / 15)
    return site.latitude_deg, site.longitude_deg, float(offset)


def _refuse_nothing(items: list[Item], design: Design) -> None:
    if not any(item.on_w * item.share.max() + item.strokes_w for item in items):
        raise InputError(
            Fault(
                "load",
                "the load list has no power; a site needs a load",
                file=str(design.path or ""),
            )
        )


def _slices(
    items: list[Item], feeds: dict[str, Rail], margin: float
) -> tuple[Slice, ...]:
    """Return each load as the bus sees it at full share."""
    found = []
    for item in items:
        for how, amount in _amounts(item, feeds):
            if amount:
                found.append(
                    Slice(
                        item.load.name,
                        item.tier,
                        how,
                        margin * amount,
                        item.share,
                        item.load,
                    )
                )
    return tuple(found)


def _amounts(item: Item, feeds: dict[str, Rail]) -> list[tuple[str, float]]:
    """Return what a line adds to the bus at full share, by behaviour [W, A or S]."""
    loss = item.wire_w(item.draw.typical_w)
    if item.load.supply:
        return [("power", feeds[item.load.supply].slope * (item.on_w + loss))]
    volts = item.rail.volts
    scale = {"power": 1.0, "current": volts, "resistance": volts**2}
    how = item.draw.behaviour
    return [("power", loss), (how, item.on_w / scale[how])]


def _by_tier(
    slices: tuple[Slice, ...], items: list[Item], feeds: dict[str, Rail], margin: float
) -> Floats:
    """Return the bus load by tier, behaviour, month and hour, shape (3, 3, 12, 24)."""
    table = np.zeros((3, 3, 12, 24))
    for piece in slices:
        k = BEHAVIOURS.index(piece.behaviour)
        table[piece.tier, k] += piece.amount * piece.share
    for item in items:
        slope = feeds[item.load.supply].slope if item.load.supply else 1.0
        table[item.tier, 0] += margin * slope * item.strokes_w
    # A converter idles until the final disconnect, whatever hangs on it.
    table[0, 0] += margin * sum(r.no_load_w for name, r in feeds.items() if name)
    return table


def _maximum_w(items: list[Item], feeds: dict[str, Rail]) -> float:
    return sum(r.input_w(rail_maximum_w(items, n)) for n, r in feeds.items())


def _findings(
    items: list[Item],
    feeds: dict[str, Rail],
    design: Design,
    rack: RackResult | None,
) -> list[Finding]:
    found = []
    for name, rail in feeds.items():
        most = rail_maximum_w(items, name)
        if most > rail.rated_w:
            found.append(
                Finding(
                    "serious",
                    f"converter {name!r} is rated {show(rail.rated_w, 'W')}; its loads total "
                    f"{show(most, 'W')}. Use a larger one or split the loads",
                )
            )
    found += [
        Finding(
            "warning",
            f"radio {item.load.name!r} has no traffic: transmit duty 0 assumed. Add "
            "traffic = { polls_per_hour, registers, bit_rate, ... }",
        )
        for item in items
        if item.draw.assumed
    ]
    found += [finding for item in items for finding in item.findings]
    if rack is not None:
        found += [*rack.findings, *_counted_twice(design)]
    return found


def _counted_twice(design: Design) -> list[Finding]:
    doubles = [
        load.name
        for load in design.tables.load
        if load.part and design.parts[load.part].kind in {"controller", "card", "node"}
    ]
    if not doubles:
        return []
    return [
        Finding(
            "warning",
            "the site has a [rack], and also process controllers or cards among its "
            f"loads ({', '.join(doubles[:4])}): check for a double entry",
        )
    ]
