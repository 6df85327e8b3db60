"""Load lines made ready for summing: draw, wire, schedule, source of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import Fault, Finding, InputError
from powerbudget.loads import draws
from powerbudget.loads.rack import build
from powerbudget.loads.rack_parts import RackLine, RackResult
from powerbudget.loads.rails import Rail
from powerbudget.loads.schedule import Moments, tier, yearly_share
from powerbudget.loads.wiring import pair_ohm
from powerbudget.site.load import Load
from powerbudget.site.parts import DevicePart, Part, TransmitterPart
from powerbudget.site.reader import Design
from powerbudget.site.readings import weakest

Floats = NDArray[np.float64]
WIRE_DEGC = 20.0


@dataclass(frozen=True)
class Item:
    """A load line with its draw, wire and schedule.

    Parameters
    ----------
    load, part, rail
        The line, its part if any, and what feeds it.
    draw
        Of one piece, at its terminals.
    share
        Share of each month's clock hour for which it is on, (12, 24) [fraction].
    wire_ohm
        Resistance of the pair, there and back [ohm].
    stroke_w
        Mean of one piece's strokes, on top of the typical draw [W].
    kind, source, status
        What it is, where its figures came from and the status word [text].
    profile
        Share by clock hour of a logged load, None for a computed one.
    findings
        What came up on the way.
    """

    load: Load
    part: Part | None
    rail: Rail
    draw: draws.Draw
    share: Floats
    wire_ohm: float
    stroke_w: float
    kind: str
    source: str
    status: str
    profile: Floats | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def on_w(self) -> float:
        """All pieces while they are on [W]."""
        return self.draw.typical_w * self.load.quantity

    @property
    def maximum_w(self) -> float:
        """All pieces at their highest lasting draw [W]."""
        return self.draw.maximum_w * self.load.quantity

    @property
    def strokes_w(self) -> float:
        """Mean of the strokes of all pieces, spread over the day [W]."""
        return self.stroke_w * self.load.quantity

    @property
    def shared(self) -> bool:
        """Whether all pieces hang on one pair [true or false]."""
        loop = self.load.loop
        by_loop = loop is not None and loop.kind in {"multidrop", "fieldbus"}
        return by_loop or bool(self.load.wire and self.load.wire.shared)

    @property
    def minimum_v(self) -> float:
        """Least voltage at the terminals, 0 where not known [V]."""
        window = self.part.input if self.part else None
        return self.load.minimum_v or (window.min if window else 0.0)

    @property
    def tier(self) -> int:
        """Shedding tier [0, 1 or 2]."""
        return tier(self.load)

    def on_frac(self, month: int) -> float:
        """Return the duty cycle in a month, from 0 [fraction]."""
        return float(self.share[month].mean())

    def average_w(self, month: int) -> float:
        """Return the average load of all pieces in a month, from 0, wires left out [W]."""
        return self.on_w * self.on_frac(month) + self.strokes_w

    def wire_average_w(self, month: int) -> float:
        """Return the average loss in the wires of all pieces in a month, from 0 [W]."""
        return self.wire_w(self.draw.typical_w) * self.on_frac(month)

    def scaled(self, factor: float) -> Item:
        """Return the load drawing so many times as much, its wire as much thicker.

        The site file's own words in ``load`` stay as they are written.
        """
        draw = replace(
            self.draw,
            typical_w=factor * self.draw.typical_w,
            maximum_w=factor * self.draw.maximum_w,
            peak_w=factor * self.draw.peak_w,
        )
        return replace(
            self,
            draw=draw,
            rail=self.rail.scaled(factor),
            stroke_w=factor * self.stroke_w,
            wire_ohm=self.wire_ohm / factor if factor else 0.0,
        )

    def wire_w(self, device_w: float) -> float:
        """Return the loss in the wires of all pieces at a draw of one piece [W].

        A constant current is charged at the rail's voltage wherever the volts
        drop, so its wire costs nothing on top.
        """
        if self.draw.behaviour == "current" or not self.wire_ohm:
            return 0.0
        amps = device_w / self.rail.volts
        count = self.load.quantity
        return amps**2 * self.wire_ohm * (count**2 if self.shared else count)


def site_items(
    design: Design, rails: dict[str, Rail], grid: Moments
) -> tuple[list[Item], RackResult | None]:
    """Return every load line of a site, the rack's among them.

    Parameters
    ----------
    design
        A checked site.
    rails
        What feeds the loads.
    grid
        Hours of a year at design temperature.

    Returns
    -------
    list of Item
        In the order of the file, the rack's lines first.
    RackResult or None
        How the rack came about.

    Raises
    ------
    InputError
        With every wire, list and log that cannot be used.
    """
    faults: list[Fault] = []
    items: list[Item] = []
    rack_lines, rack = _rack(design, faults)
    entries: list[tuple[str, Load, RackLine | None]] = [
        ("rack", line.load, line) for line in rack_lines
    ]
    entries += [
        (f"load[{number}] ({load.name})", load, None)
        for number, load in enumerate(design.tables.load, start=1)
    ]
    for where, load, line in entries:
        try:
            item = _item(where, load, design, rails, grid)
        except InputError as exc:
            faults += exc.faults
            continue
        if line is not None:
            item = _from_rack(item, line)
        items.append(item)
    if faults:
        raise InputError(faults)
    return items, rack


def _rack(
    design: Design, faults: list[Fault]
) -> tuple[list[RackLine], RackResult | None]:
    rack = design.tables.rack
    if rack is None:
        return [], None
    from powerbudget.lists.io_list import Options, read_io_list

    try:
        listing = (
            read_io_list(
                _path(design, rack.io_list),
                Options(rack.sheet, rack.encoding, rack.decimal),
            )
            if rack.io_list
            else None
        )
    except InputError as exc:
        faults += exc.faults
        return [], None
    return build(rack, design.parts, listing)


def _path(design: Design, name: str) -> Path:
    return design.folder / name


def _from_rack(item: Item, line: RackLine) -> Item:
    status = item.status if line.status == "user input" else line.status
    return replace(
        item,
        kind=line.kind,
        source=line.source,
        status=status,
        draw=replace(item.draw, basis=line.basis),
    )


def _item(
    where: str, load: Load, design: Design, rails: dict[str, Rail], grid: Moments
) -> Item:
    rail = rails[load.supply or ""]
    part = design.parts.get(load.part or "")
    if load.heater is not None and load.typical is None and part is not None:
        # A heater's schedule needs its rating, which here is the part's.  What the
        # enclosure loses is the site file's: the line is worth the weaker of both.
        rated = draws.of_load(load, part, rail.volts).typical_w
        load = load.model_copy(
            update={
                "typical": ("W", rated),
                "status": load.status or weakest((part.status, design.own_status)),
                "source": load.source or part.source,
            }
        )
    item = Item(
        load=load,
        part=part,
        rail=rail,
        draw=draws.Draw(0.0, 0.0, 0.0, "power"),
        share=yearly_share(load, grid),
        wire_ohm=_wire_ohm(where, load, design),
        stroke_w=draws.stroke_w(load, rail.volts),
        kind=part.kind if part else "device",
        source=_source(load, part),
        status=load.status or design.own_status,
    )
    if load.measured is not None:
        return _measured(item, design)
    draw = draws.of_load(load, part, rail.volts)
    item = replace(item, draw=draws.with_strokes(draw, load, rail.volts))
    if load.status or load.typical is not None or part is None:
        return item
    return replace(item, status=part.status_of(draw.leading))


def _source(load: Load, part: Part | None) -> str:
    given = load.typical is not None or part is None
    return load.source or ("site file" if given or not part else part.source)


def _wire_ohm(where: str, load: Load, design: Design) -> float:
    if load.wire is None:
        return 0.0
    try:
        return float(pair_ohm(load.wire.gauge, load.wire.length_m, WIRE_DEGC))
    except InputError as exc:
        raise InputError(
            Fault(f"{where}.wire.gauge", str(exc), file=str(design.path or ""))
        ) from None


def _measured(item: Item, design: Design) -> Item:
    """Return a line whose draw was measured in place of computed."""
    load, volts = item.load, item.rail.volts
    measured = load.measured
    assert measured is not None
    if measured.spot is not None:
        return _spot(item, measured.spot, measured.method)
    from powerbudget.loads.measured import read_log

    log = read_log(measured, design.folder, load.name, design.tables.site.utc_offset_h)
    scale = volts if log.unit == "A" else 1.0
    most = log.highest * scale
    maximum = max(most, draws.watts(load.maximum, volts) if load.maximum else 0.0)
    peak = max(maximum, draws.watts(load.peak, volts) if load.peak else 0.0)
    behaviour = load.behaviour or ("current" if log.unit == "A" else "power")
    draw = draws.Draw(log.mean * scale, maximum, peak, behaviour, log.basis)
    source = measured.method or load.source or f"logged: {measured.file}"
    # The log holds all pieces together; it is not multiplied by their number.
    one = load.model_copy(update={"quantity": 1})
    return replace(
        item,
        load=one,
        draw=draw,
        share=log.profile,
        profile=log.profile,
        source=source,
        status="measured",
        findings=log.findings,
    )


def _spot(item: Item, spot: tuple[str, float], method: str) -> Item:
    load, volts = item.load, item.rail.volts
    watts = draws.watts(spot, volts)
    maximum = max(watts, draws.watts(load.maximum, volts) if load.maximum else 0.0)
    if isinstance(item.part, DevicePart):
        maximum = max(maximum, item.part.power.high)
    peak = max(maximum, draws.watts(load.peak, volts) if load.peak else 0.0)
    behaviour = load.behaviour or ("current" if spot[0] == "A" else "power")
    basis = "a single reading used as the mean"
    found = Finding(
        "warning",
        f"{load.name!r} is a spot measurement: it misses bursts and sleep. Log "
        "the current over a day or more, or integrate Wh, and give measured.file.",
    )
    return replace(
        item,
        draw=draws.Draw(watts, maximum, peak, behaviour, basis),
        source=method or load.source or "single reading",
        status="spot measurement",
        findings=(found,),
    )


def is_two_wire(item: Item) -> bool:
    """Return whether a line's instruments live off their own signal loop."""
    if item.load.loop is not None:
        return item.load.loop.kind in {"plain", "hart", "multidrop"}
    return isinstance(item.part, TransmitterPart) and item.part.wiring == "two-wire"
