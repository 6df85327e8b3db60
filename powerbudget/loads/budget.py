"""The whole load: lines, totals and the load of every clock hour in the year.

One list gives three sums that must not be mixed: energy (typical draw times duty,
with the contingency once), simultaneous maximum (wires, fuses, converters) and
peak (the maximum with the largest single inrush on top).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import Fault, Finding, InputError, ModelRangeError
from powerbudget.loads import draws
from powerbudget.loads.converter import slope_from_point
from powerbudget.loads.wiring import pair_ohm
from powerbudget.quantities import show
from powerbudget.site.model import Load, Supply
from powerbudget.site.parts import ConverterPart
from powerbudget.site.reader import Design

Floats = NDArray[np.float64]
WIRE_DEGC = 20.0


@dataclass(frozen=True)
class Line:
    """One line of the budget, at its own terminals.

    Parameters
    ----------
    name, kind, part, supply
        What it is and what feeds it [text].
    quantity
        Pieces [count].
    typical_w, maximum_w
        Draw of all pieces, mean while on and highest lasting [W].
    duty_frac
        Share of the heaviest month that it is on [fraction].
    wh_per_day
        Energy in the heaviest month [Wh/day].
    hidden
        True for what no equipment list shows: converters, wiring, leakage.
    basis, source, status
        How the figure came about, where from, and the status word [text].
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


@dataclass(frozen=True)
class Budget:
    """The power budget of a site.

    Parameters
    ----------
    lines
        Hidden loads first, then the equipment list, then contingency.
    typical_w, wh_per_day, ah_per_day
        Mean at the bus in the heaviest month, contingency included [W, Wh, Ah].
    maximum_w
        Everything on at its highest lasting draw, at the bus [W].
    peak_w
        That, with the largest single inrush on top [W].
    hidden_w
        Mean of converters, wiring, regulator and leakage [W].
    contingency_frac
        Share added to the energy, once [fraction].
    heaviest_month
        Month number 1-12.
    bus_w, bus_a, bus_s
        Load at the bus by month and clock hour, contingency included, split by
        behaviour; shape (12, 24) [W, A, S].
    base_a
        Regulator and leakage: drawn even when the loads are disconnected [A].
    nominal_v
        Bus volts behind the Ah figure [V].
    findings
        What a colleague would point out.
    """

    lines: tuple[Line, ...]
    typical_w: float
    maximum_w: float
    peak_w: float
    wh_per_day: float
    ah_per_day: float
    hidden_w: float
    contingency_frac: float
    heaviest_month: int
    bus_w: Floats
    bus_a: Floats
    bus_s: Floats
    base_a: float
    nominal_v: float
    findings: tuple[Finding, ...]

    @property
    def mean_w(self) -> Floats:
        """Mean bus watts by month and hour at nominal volts, shape (12, 24) [W]."""
        volts = self.nominal_v
        switched = self.bus_w + self.bus_a * volts + self.bus_s * volts**2
        return switched + self.base_a * volts


@dataclass(frozen=True)
class _Rail:
    """A converter between bus and loads, or the bus itself."""

    name: str
    volts: float
    no_load_w: float = 0.0
    slope: float = 1.0
    rated_w: float = float("inf")
    source: str = ""
    status: str = ""


@dataclass(frozen=True)
class _Item:
    """A load line with its draw and wire."""

    load: Load
    draw: draws.Draw
    rail: _Rail
    share: Floats
    wire_ohm: float
    kind: str
    source: str
    status: str

    @property
    def on_w(self) -> float:
        return self.draw.typical_w * self.load.quantity

    def wire_w(self, device_w: float) -> float:
        amps = device_w / self.rail.volts
        return amps**2 * self.wire_ohm * self.load.quantity


def load_budget(design: Design) -> Budget:
    """Return the power budget of a site.

    Parameters
    ----------
    design
        A checked site.

    Returns
    -------
    Budget
        Lines, totals and the load of every clock hour.

    Raises
    ------
    InputError
        When a wire gauge is not known, or the list draws nothing at all.
    """
    rails = _rails(design)
    items = _items(design, rails)
    tables = design.tables
    volts, c = tables.bus.nominal_v, tables.bus.contingency_frac
    base_a = tables.regulator.own_current_a + tables.bus.leakage_a
    split = _by_behaviour(items, rails)
    bus_w, bus_a, bus_s = ((1 + c) * table for table in split)
    mean = bus_w + bus_a * volts + bus_s * volts**2 + (1 + c) * base_a * volts
    month = int(np.argmax(mean.sum(axis=1)))
    lines = _lines(items, rails, design, month)
    wh_per_day = float(mean[month].sum())
    maximum = _maximum_w(items, rails) + base_a * volts
    surge = max((i.draw.peak_w - i.draw.maximum_w for i in items), default=0.0)
    return Budget(
        lines=lines,
        typical_w=wh_per_day / 24,
        maximum_w=maximum,
        peak_w=maximum + surge,
        wh_per_day=wh_per_day,
        ah_per_day=wh_per_day / volts,
        hidden_w=sum(line.wh_per_day for line in lines if line.hidden) / 24,
        contingency_frac=c,
        heaviest_month=month + 1,
        bus_w=bus_w,
        bus_a=bus_a,
        bus_s=bus_s,
        base_a=(1 + c) * base_a,
        nominal_v=volts,
        findings=_findings(items, rails),
    )


def _rails(design: Design) -> dict[str, _Rail]:
    bus = design.tables.bus
    rails = {"": _Rail("bus", bus.nominal_v)}
    for supply in design.tables.supply:
        rails[supply.name] = _rail(supply, design)
    return rails


def _rail(supply: Supply, design: Design) -> _Rail:
    part = design.parts.get(supply.part or "")
    known = part if isinstance(part, ConverterPart) else None
    volts = supply.output_v or (known.output if known else 0.0)
    rated = supply.rated_w or (known.rated if known else 0.0)
    no_load = supply.no_load_w
    if no_load is None:
        no_load = known.no_load if known else 0.0
    efficiency = supply.efficiency_frac or (known.efficiency if known else 1.0)
    return _Rail(
        supply.name,
        volts,
        no_load,
        slope_from_point(rated, efficiency, no_load),
        rated,
        supply.source or (known.source if known else "site file"),
        known.status if known else "site file",
    )


def _items(design: Design, rails: dict[str, _Rail]) -> list[_Item]:
    items, faults = [], []
    for number, load in enumerate(design.tables.load, start=1):
        rail = rails[load.supply or ""]
        part = design.parts.get(load.part or "")
        ohm = 0.0
        if load.wire:
            try:
                ohm = pair_ohm(load.wire.gauge, load.wire.length_m, WIRE_DEGC)
            except InputError as exc:
                where = f"load[{number}] ({load.name}).wire.gauge"
                faults.append(Fault(where, str(exc), file=str(design.path or "")))
        try:
            draw = draws.of_load(load, part, rail.volts)
        except ModelRangeError as exc:
            where = f"load[{number}] ({load.name})"
            faults.append(Fault(where, str(exc), file=str(design.path or "")))
            continue
        given = load.typical is not None or part is None
        items.append(
            _Item(
                load, draw, rail, draws.on_share(load), ohm,
                part.kind if part else "device",
                load.source or ("site file" if given or not part else part.source),
                load.status or ("site file" if given or not part else part.status),
            )
        )  # fmt: skip
    if faults:
        raise InputError(faults)
    if not any(item.on_w * item.share.max() for item in items):
        raise InputError(
            Fault("load", "the whole list draws nothing; a site needs a load",
                  file=str(design.path or ""))
        )  # fmt: skip
    return items


def _by_behaviour(
    items: list[_Item], rails: dict[str, _Rail]
) -> tuple[Floats, Floats, Floats]:
    """Return bus watts, amperes and siemens by month and hour, no contingency."""
    watts, amps, siemens = (np.zeros((12, 24)) for _ in range(3))
    outputs = {name: np.zeros((12, 24)) for name in rails if name}
    for item in items:
        loss = item.wire_w(item.draw.typical_w)
        if item.load.supply:
            outputs[item.load.supply] += (item.on_w + loss) * item.share
            continue
        watts += loss * item.share
        volts = item.rail.volts
        if item.draw.behaviour == "power":
            watts += item.on_w * item.share
        elif item.draw.behaviour == "current":
            amps += item.on_w / volts * item.share
        else:
            siemens += item.on_w / volts**2 * item.share
    for name, output in outputs.items():
        watts += rails[name].no_load_w + rails[name].slope * output
    return watts, amps, siemens


def _maximum_w(items: list[_Item], rails: dict[str, _Rail]) -> float:
    total = 0.0
    for name, rail in rails.items():
        output = _rail_maximum_w(items, name)
        total += rail.no_load_w + rail.slope * output
    return total


def _rail_maximum_w(items: list[_Item], name: str) -> float:
    return sum(
        item.draw.maximum_w * item.load.quantity + item.wire_w(item.draw.maximum_w)
        for item in items
        if (item.load.supply or "") == name
    )


def _lines(
    items: list[_Item], rails: dict[str, _Rail], design: Design, month: int
) -> tuple[Line, ...]:
    hidden = [*_converter_lines(items, rails, month), *_wire_lines(items, month)]
    hidden += _base_lines(design)
    listed = [_load_line(item, month) for item in items]
    c = design.tables.bus.contingency_frac
    subtotal = sum(line.wh_per_day for line in [*hidden, *listed])
    extra = Line(
        "contingency", "contingency", 1, c * subtotal / 24, 0.0, 1.0, c * subtotal,
        "bus", "site file", basis=f"{100 * c:g} % of all lines above, applied once",
    )  # fmt: skip
    return (*hidden, *listed, *([extra] if c else []))


def _load_line(item: _Item, month: int) -> Line:
    duty = float(item.share[month].mean())
    return Line(
        name=item.load.name,
        kind=item.kind,
        quantity=item.load.quantity,
        typical_w=item.on_w,
        maximum_w=item.draw.maximum_w * item.load.quantity,
        duty_frac=duty,
        wh_per_day=item.on_w * duty * 24,
        supply=item.load.supply or "bus",
        status=item.status,
        part=item.load.part or "",
        basis=item.draw.basis,
        source=item.source,
    )


def _converter_lines(
    items: list[_Item], rails: dict[str, _Rail], month: int
) -> list[Line]:
    lines = []
    for name, rail in rails.items():
        if not name:
            continue
        mean = sum(
            (item.on_w + item.wire_w(item.draw.typical_w)) * item.share[month].mean()
            for item in items
            if item.load.supply == name
        )
        most = _rail_maximum_w(items, name)
        idle, loss = rail.no_load_w, (rail.slope - 1) * mean
        basis = f"two-term converter: {show(idle, 'W')} no-load, slope {rail.slope:.3g}"
        lines += [
            Line(f"{name}: no-load", "converter", 1, idle, idle, 1.0, 24 * idle, "bus",
                 rail.status, hidden=True, basis=basis, source=rail.source),
            Line(f"{name}: conversion", "converter", 1, loss, (rail.slope - 1) * most,
                 1.0, 24 * loss, "bus", rail.status, hidden=True, basis=basis,
                 source=rail.source),
        ]  # fmt: skip
    return lines


def _wire_lines(items: list[_Item], month: int) -> list[Line]:
    typical = sum(i.wire_w(i.draw.typical_w) * i.share[month].mean() for i in items)
    most = sum(i.wire_w(i.draw.maximum_w) for i in items)
    if not most:
        return []
    return [
        Line("wiring", "wiring", 1, float(typical), most, 1.0, 24 * float(typical),
             "bus", "published", hidden=True,
             basis=f"current squared times resistance, conductors at {WIRE_DEGC:g} degC",
             source="NEC chapter 9 table 8; IEC 60228")
    ]  # fmt: skip


def _base_lines(design: Design) -> list[Line]:
    bus, regulator = design.tables.bus, design.tables.regulator
    rows = (
        ("charge regulator, own draw", "regulator", regulator.own_current_a,
         "own_current_a" in regulator.model_fields_set,
         "5 / 15 / 30 mA (PWM), 10 / 30 / 50 mA (MPPT) low / typical / high"),
        ("standing leakage", "leakage", bus.leakage_a,
         "leakage_a" in bus.model_fields_set,
         "parasitic draw is never zero"),
    )  # fmt: skip
    lines = []
    for name, kind, amps, given, source in rows:
        watts = amps * bus.nominal_v
        lines.append(
            Line(name, kind, 1, watts, watts, 1.0, 24 * watts, "bus",
                 "site file" if given else "remembered", hidden=True,
                 basis=f"{1000 * amps:g} mA at {bus.nominal_v:g} V",
                 source="site file" if given else f"{source}, from memory")
        )  # fmt: skip
    return lines


def _findings(items: list[_Item], rails: dict[str, _Rail]) -> tuple[Finding, ...]:
    found = []
    for name, rail in rails.items():
        most = _rail_maximum_w(items, name)
        if most > rail.rated_w:
            found.append(
                Finding(
                    "serious",
                    f"supply {name!r} is rated {show(rail.rated_w, 'W')} but its loads "
                    f"reach {show(most, 'W')} together; take a larger one or split it",
                )
            )
    found += [
        Finding(
            "warning",
            f"radio {item.load.name!r} has no traffic: its transmit duty is taken as "
            "zero. Add traffic = { polls_per_hour, registers, bit_rate, ... }",
        )
        for item in items
        if item.draw.assumed
    ]
    return tuple(found)
