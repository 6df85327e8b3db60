"""Unverified figures of a site's loads: their ends, what each moves, where to ask."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from powerbudget.data.figures import UNVERIFIED
from powerbudget.loads.budget import load_budget
from powerbudget.site.load import Load
from powerbudget.site.open_site import in_file
from powerbudget.site.parts import Amperes, CardPart, ConverterPart, Part, Watts
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario

Level = Literal["low", "high"]
Change = Callable[[Design, Level], Scenario]
TYPED_SHARE = 0.5
"""Half-width of the range of a typed figure that states no maximum (assumed)."""


@dataclass(frozen=True)
class Gap:
    """One unverified figure, and the daily load with it at either end.

    Parameters
    ----------
    figure
        What is unverified [text].
    loads
        Lines of the budget that draw by it [text].
    status
        Its status word [text].
    low_wh, high_wh
        Daily load of the site, contingency included [Wh/day].
    field
        Where a maker's figure goes [text].
    low, high
        What differs with that figure at either end.
    """

    figure: str
    loads: str
    status: str
    low_wh: float
    high_wh: float
    field: str
    low: Scenario = dataclasses.field(repr=False)
    high: Scenario = dataclasses.field(repr=False)

    @property
    def span_wh(self) -> float:
        """How far the daily load moves between the ends [Wh/day]."""
        return abs(self.high_wh - self.low_wh)


@dataclass(frozen=True)
class _Open:
    """An unverified figure and how a design has it at an end."""

    figure: str
    loads: str
    status: str
    field: str
    change: Change


def gaps(design: Design) -> tuple[Gap, ...]:
    """Return the unverified figures of a site, those that move the load most first.

    One that does not move it at all is left out.
    """
    found = [gap for one in _open(design) if (gap := _gap(design, one)).span_wh]
    return tuple(sorted(found, key=lambda gap: -gap.span_wh))


def _gap(design: Design, one: _Open) -> Gap:
    low, high = one.change(design, "low"), one.change(design, "high")
    low_wh, high_wh = (load_budget(end.site(design)).wh_per_day for end in (low, high))
    return Gap(one.figure, one.loads, one.status, low_wh, high_wh, one.field, low, high)


def at_ends(design: Design, level: Level) -> Design:
    """Return a site with every unverified figure of its loads at one end [Design].

    Parameters
    ----------
    design
        A checked site.
    level
        ``low`` or ``high`` [text].
    """
    for one in _open(design):
        design = one.change(design, level).site(design)
    return design


def part_at(part: Part, level: Level, figures: tuple[str, ...] | None = None) -> Part:
    """Return a part whose typical draw is its low or its high one [Part].

    Parameters
    ----------
    part
        Of the library or of a user.
    level
        ``low`` or ``high`` [text].
    figures
        Those that move, None for all [names].
    """
    moved = {
        name: held.model_copy(update={"typical": getattr(held, level)})
        for name, held in part
        if isinstance(held, Watts | Amperes) and (figures is None or name in figures)
    }
    return part.model_copy(update=moved)


def used_parts(design: Design) -> tuple[str, ...]:
    """Return the parts that a site's loads draw by [names].

    Parameters
    ----------
    design
        A checked site; with a rack every card may be in it.
    """
    tables = design.tables
    names = [load.part for load in tables.load if load.part and load.typical is None]
    if tables.rack is not None:
        # Which cards a list asks for is not known before it is read.
        names += [tables.rack.controller, tables.rack.node, tables.rack.solenoid]
        names += [n for n, part in design.parts.items() if isinstance(part, CardPart)]
    return tuple(name for name in dict.fromkeys(names) if name in design.parts)


def _open(design: Design) -> Iterator[_Open]:
    yield from _open_parts(design)
    yield from _open_loads(design)
    yield from _open_supplies(design)
    yield from _open_standing(design)


def _open_parts(design: Design) -> Iterator[_Open]:
    for name in used_parts(design):
        part: Any = design.parts[name]
        lines = (
            ", ".join(x.name for x in design.tables.load if x.part == name) or "rack"
        )
        for figure in part.asks:
            held = getattr(part, figure)
            if held.low == held.high:
                continue

            def change(
                d: Design, level: Level, name: str = name, figure: str = figure
            ) -> Scenario:
                moved = part_at(d.parts[name], level, (figure,))
                return Scenario(parts={name: moved})

            field = f'part {name}: [[part.reading]] figure = "{figure}"'
            yield _Open(figure, lines, part.status_of(figure), field, change)


def _open_loads(design: Design) -> Iterator[_Open]:
    for number, load in enumerate(design.tables.load):
        status = load.status or design.own_status
        ends = typed_at(load, "high")
        if not ends or status not in UNVERIFIED:
            continue

        def change(d: Design, level: Level, number: int = number) -> Scenario:
            loads = list(d.tables.load)
            moved = typed_at(loads[number], level)
            loads[number] = loads[number].model_copy(update=moved)
            return Scenario(loads=tuple(loads))

        names = ", ".join(ends)
        yield _Open(names, load.name, status, f"load {load.name}: {names}", change)


def typed_at(load: Load, level: Level) -> dict[str, Any]:
    """Return what a load's own figures of power are at an end, by their key.

    Typical draw, draw of a stroke, and what a heated enclosure loses.

    Parameters
    ----------
    load
        Of the site file.
    level
        ``low`` or ``high`` [text].
    """
    by, moved = _share(level), dict[str, Any]()
    if load.typical is not None:
        unit, value = load.typical
        most = load.maximum if level == "high" else None
        stated = most is not None and most[0] == unit and most[1] > value
        moved["typical"] = most if stated else (unit, by * value)
    if load.strokes is not None:
        unit, value = load.strokes.draw
        moved["strokes"] = load.strokes.model_copy(update={"draw": (unit, by * value)})
    if load.heater is not None:
        key = "area_m2" if load.heater.loss_w_per_k is None else "loss_w_per_k"
        loss = by * getattr(load.heater, key)
        moved["heater"] = load.heater.model_copy(update={key: loss})
    return moved


def _share(level: Level) -> float:
    return 1 - TYPED_SHARE if level == "low" else 1 + TYPED_SHARE


def _open_supplies(design: Design) -> Iterator[_Open]:
    for number, supply in enumerate(design.tables.supply):
        part = design.parts.get(supply.part or "")
        known = isinstance(part, ConverterPart)
        status = part.status if part and known else design.own_status
        if status not in UNVERIFIED:
            continue

        def change(
            d: Design, level: Level, number: int = number, part: Any = part
        ) -> Scenario:
            supplies = list(d.tables.supply)
            own = supplies[number]
            idle = own.no_load_w if own.no_load_w is not None else part.no_load
            share = own.efficiency_frac or (part.efficiency if part else 1.0)
            by = _share(level)
            supplies[number] = own.model_copy(
                update={"no_load_w": by * idle, "efficiency_frac": 1 - by * (1 - share)}
            )
            return Scenario(supplies=tuple(supplies))

        where = f"supply {supply.name}: no_load, efficiency"
        yield _Open("converter losses", supply.name, status, where, change)


def _open_standing(design: Design) -> Iterator[_Open]:
    for table, key, figure in (
        ("regulator", "own_current_a", "own current"),
        ("bus", "leakage_a", "standing leakage"),
    ):
        held = getattr(design.tables, table)
        stated = key in held.model_fields_set
        status = design.own_status if stated else "unverified"
        value = getattr(held, key)
        if status not in UNVERIFIED or not value:
            continue

        def change(
            d: Design, level: Level, table: str = table, key: str = key,
            value: float = value,
        ) -> Scenario:  # fmt: skip
            by = _share(level)
            if table == "bus":
                return Scenario(leakage_a=by * value)
            held = d.tables.regulator.model_copy(update={key: by * value})
            return Scenario(charge_controller=held)

        name = type(held).model_fields[key].alias or key
        yield _Open(
            figure,
            figure,
            status,
            f"[{in_file(table)}] {name}",
            change,
        )
