"""Lines of the budget: hidden loads, then the equipment list, then contingency."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

from powerbudget.loads.items import WIRE_DEGC, Item
from powerbudget.loads.rails import Rail
from powerbudget.loads.schedule import TIERS, follows_weather
from powerbudget.loads.voltage import line_end
from powerbudget.quantities import show
from powerbudget.site.reader import Design

CONTINGENCY = "contingency"
"""Kind of the line that holds the contingency."""
STANDING = ("regulator", "leakage")
"""Kinds of the lines that draw whether loads are connected or not."""


@dataclass(frozen=True)
class Line:
    """One load of the budget, all pieces together, at their own terminals.

    Parameters
    ----------
    name, kind, part, supply
        What it is and what feeds it [text].
    quantity
        Pieces [count].
    typical_w, maximum_w
        Typical power: the mean of all pieces while on, strokes left out; and maximum
        power: their highest lasting draw [W].
    peak_w
        Their maximum power, with one piece starting [W].
    duty_frac
        Duty cycle in the highest-load month [fraction].
    wh_per_day
        Daily load in the highest-load month, strokes included; the lines' add up to
        the budget's [Wh/day].
    hidden
        True for what no equipment list shows: converters, wiring, leakage.
    basis, source, status
        How the figure came about, where from, and the status word [text].
    behaviour
        How it follows the voltage: power, current or resistance [text].
    load_class
        ``running``, ``momentary`` or ``parasitic`` (IEEE 1013) [text].
    priority
        When it is shed [text].
    peak_a, end_v, minimum_v
        Current of one piece at its peak, voltage that reaches it with the bus at its
        lowest, and voltage that it needs, 0 where not known [A, V, V].
    """

    name: str
    kind: str
    quantity: int
    typical_w: float
    maximum_w: float
    duty_frac: float
    wh_per_day: float
    supply: str
    status: str
    part: str = ""
    hidden: bool = False
    basis: str = ""
    source: str = ""
    peak_w: float = 0.0
    behaviour: str = "power"
    load_class: str = "running"
    priority: str = "last"
    peak_a: float = 0.0
    end_v: float = 0.0
    minimum_v: float = 0.0

    def scaled(self, factor: float) -> Line:
        """Return the line drawing so many times as much, at the same volts [Line]."""
        return replace(
            self,
            typical_w=factor * self.typical_w,
            maximum_w=factor * self.maximum_w,
            peak_w=factor * self.peak_w,
            wh_per_day=factor * self.wh_per_day,
            peak_a=factor * self.peak_a,
        )


def make_lines(
    items: Sequence[Item],
    rails: Mapping[str, Rail],
    design: Design,
    month: int,
    lowest_v: float,
) -> tuple[Line, ...]:
    """Return the lines of the budget in the highest-load month.

    Parameters
    ----------
    items
        Load lines.
    rails
        What feeds them.
    design
        The site.
    month
        Highest-load month, from 0 [count].
    lowest_v
        Lowest bus voltage [V].

    Returns
    -------
    tuple of Line
        Hidden ones first, contingency last.
    """
    hidden = [*_converter_lines(items, rails, month), *_wire_lines(items, month)]
    hidden += _base_lines(design)
    listed = [_load_line(item, month, lowest_v) for item in items]
    c = design.tables.bus.contingency_frac
    subtotal = sum(line.wh_per_day for line in [*hidden, *listed])
    extra = Line(
        "contingency",
        CONTINGENCY,
        1,
        c * subtotal / 24,
        0.0,
        1.0,
        c * subtotal,
        "bus",
        "user input",
        basis=f"{100 * c:g} % of all loads above, applied once",
    )
    return (*hidden, *listed, *([extra] if c else []))


def _load_line(item: Item, month: int, lowest_v: float) -> Line:
    load, draw = item.load, item.draw
    end = line_end(item, lowest_v)
    pieces = load.quantity
    basis = draw.basis
    if load.heater is not None:
        basis = (
            "thermostat at the design minimum; the simulation uses ambient temperature"
        )
    elif follows_weather(load):
        basis += "; follows night or date"
    return Line(
        name=load.name,
        kind=item.kind,
        quantity=pieces,
        typical_w=item.on_w,
        maximum_w=item.maximum_w,
        duty_frac=item.on_frac(month),
        wh_per_day=24 * item.average_w(month),
        supply=load.supply or "bus",
        status=item.status,
        part=load.part or "",
        basis=basis,
        source=item.source,
        peak_w=item.maximum_w + (draw.peak_w - draw.maximum_w if pieces else 0.0),
        behaviour=draw.behaviour,
        load_class=_load_class(item),
        priority=load.priority,
        peak_a=end.amps if pieces else 0.0,
        end_v=end.volts,
        minimum_v=item.minimum_v,
    )


def _load_class(item: Item) -> str:
    """Return the class of a listed load: momentary where it only works at times."""
    # Of the whole year: a seasonal load is of one class in every month.
    standing_w = item.on_w * float(item.share.mean())
    return "momentary" if item.strokes_w > standing_w else "running"


def _converter_lines(
    items: Sequence[Item], rails: Mapping[str, Rail], month: int
) -> list[Line]:
    lines = []
    for name, rail in rails.items():
        if not name:
            continue
        idle = rail.no_load_w
        loss = rail.conversion_w(rail_average_w(items, name, month))
        most = rail.conversion_w(rail_maximum_w(items, name))
        no_load = _rail_line(f"{name}: no-load", rail, idle, idle)
        lines += [
            replace(no_load, load_class="parasitic"),
            _rail_line(f"{name}: conversion", rail, loss, most),
        ]
    return lines


def _rail_line(name: str, rail: Rail, typical_w: float, most_w: float) -> Line:
    """Return one of the two terms of a converter."""
    idle = show(rail.no_load_w, "W")
    return Line(
        name,
        "converter",
        1,
        typical_w,
        most_w,
        1.0,
        24 * typical_w,
        "bus",
        rail.status,
        hidden=True,
        basis=f"two-term converter: {idle} no-load, slope {rail.slope:.3g}",
        source=rail.source,
        peak_w=most_w,
    )


def rail_average_w(items: Sequence[Item], name: str, month: int) -> float:
    """Return the average output of a rail in a month from 0, wires included [W]."""
    return sum(
        item.average_w(month) + item.wire_average_w(month)
        for item in items
        if (item.load.supply or "") == name
    )


def rail_maximum_w(items: Sequence[Item], name: str) -> float:
    """Return the highest lasting output of a rail, its wires included [W]."""
    return sum(
        item.maximum_w + item.wire_w(item.draw.maximum_w)
        for item in items
        if (item.load.supply or "") == name
    )


def _wire_lines(items: Sequence[Item], month: int) -> list[Line]:
    typical = sum(i.wire_average_w(month) for i in items)
    most = sum(i.wire_w(i.draw.maximum_w) for i in items)
    if not most:
        return []
    return [
        Line(
            "wiring",
            "wiring",
            1,
            typical,
            most,
            1.0,
            24 * typical,
            "bus",
            "published",
            hidden=True,
            basis=f"current squared times resistance, conductors at {WIRE_DEGC:g} °C",
            source="NEC chapter 9 table 8; IEC 60228",
            peak_w=most,
        )
    ]


def _base_lines(design: Design) -> list[Line]:
    bus, regulator = design.tables.bus, design.tables.regulator
    rows = (
        (
            "charge controller self-consumption",
            "regulator",
            regulator.all_own_a,
            "own_current_a" in regulator.model_fields_set,
            "5 / 15 / 30 mA (PWM), 10 / 30 / 50 mA (MPPT) low / typical / high",
        ),
        (
            "standing leakage",
            "leakage",
            bus.leakage_a,
            "leakage_a" in bus.model_fields_set,
            "parasitic load is never zero",
        ),
    )
    none = not design.tables.array.parallel and not regulator.own_current_a
    return [
        _base_line(
            name, kind, amps, bus.nominal_v, "" if given else source, design.own_status
        )
        for name, kind, amps, given, source in rows
        if kind != "regulator" or not none
    ]


def _base_line(
    name: str, kind: str, amps: float, volts: float, memory: str, own_status: str
) -> Line:
    """Return a standing draw; what the file does not state is unverified."""
    watts = amps * volts
    return Line(
        name,
        kind,
        1,
        watts,
        watts,
        1.0,
        24 * watts,
        "bus",
        "unverified" if memory else own_status,
        hidden=True,
        basis=f"{1000 * amps:g} mA at {volts:g} V",
        source=f"{memory}, unverified" if memory else "site file",
        peak_w=watts,
        behaviour="current",
        load_class="parasitic",
        priority="always",
    )


def status_shares(lines: tuple[Line, ...]) -> dict[str, float]:
    """Return the share of the energy that rests on each status word [fraction].

    Parameters
    ----------
    lines
        The budget's lines; contingency is left out, as it follows from the rest.

    Returns
    -------
    dict
        Status word to share, the largest first.
    """
    energy: dict[str, float] = {}
    for line in lines:
        if line.kind != CONTINGENCY:
            energy[line.status] = energy.get(line.status, 0.0) + line.wh_per_day
    total = sum(energy.values())
    ranked = sorted(energy.items(), key=lambda pair: -pair[1])
    return {word: value / total for word, value in ranked if total and value}


def class_wh(lines: tuple[Line, ...]) -> dict[str, float]:
    """Return the daily energy by load class: running, momentary, parasitic [Wh/day].

    References
    ----------
    IEEE Std 1013-2007, 5.2: momentary, running and parasitic loads.
    """
    found = {"running": 0.0, "momentary": 0.0, "parasitic": 0.0}
    for line in lines:
        if line.kind != CONTINGENCY:
            found[line.load_class] += line.wh_per_day
    return found


def kinds_wh(lines: tuple[Line, ...], kinds: Collection[str]) -> float:
    """Return the daily load of the lines of some kinds, contingency left out [Wh/day].

    Parameters
    ----------
    lines
        The budget's lines.
    kinds
        As in ``Line.kind`` [text].
    """
    return sum(line.wh_per_day for line in lines if line.kind in kinds)


def tier_w(lines: tuple[Line, ...]) -> dict[str, float]:
    """Return the mean draw of listed loads by priority, converters left out [W]."""
    found = dict.fromkeys(TIERS, 0.0)
    for line in lines:
        if not line.hidden and line.kind != CONTINGENCY:
            found[line.priority] += line.wh_per_day / 24
    return found
