"""Every input of the site with its value, status word and source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from powerbudget.data.figures import UNVERIFIED
from powerbudget.report.document.blocks import Cell, Column, Row, Section, Table
from powerbudget.report.sections.sources import Sources, statuses
from powerbudget.report.sections.values import shown
from powerbudget.site.generator import Access
from powerbudget.site.open_site import in_file

if TYPE_CHECKING:
    from collections.abc import Iterator

    from powerbudget.report.document.package import Package

TABLES = (
    "weather", "bus", "supply", "rack", "array", "regulator", "generator", "access",
    "battery", "protection", "criteria", "sizing", "worksheet", "ensemble", "costs",
    "compare",
)  # fmt: skip
"""Tables whose keys are listed; place and loads have sections of their own."""
EVERY = {"weather", "bus", "battery", "criteria"}
"""Tables that every site has."""
ITEMS = {
    "open_circuit": ("open-circuit voltage by SOC", "V per cell", ("open_circuit",)),
    "efficiency": ("coulombic efficiency by SOC", "fraction", ("efficiency",)),
    "resistance": ("resistance, discharge and charge", "ohm Ah per cell",
                   ("discharge_ohm_ah", "charge_ohm_ah")),
    "needs_watering": ("needs water", "", ("needs_watering",)),
    "absorption": ("absorption voltage", "V per cell", ("absorption_v",)),
    "charge_share": ("charge limit by temperature", "fraction",
                     ("charge_share_by_degc",)),
    "charge_limit": ("charge current over rated capacity", "1/h", ("charge_limit_per_h",)),
    "self_discharge": ("self-discharge in 30 days", "fraction",
                       ("self_discharge_per_month",)),
    "rate": ("capacity by hour rate", "ratio", ("rate",)),
    "cycles": ("cycles by DOD", "count", ("cycles",)),
    "calendar": ("calendar life at 20 °C; temperature rise that halves it", "years; K",
                 ("calendar_y_at_20_degc", "calendar_halving_k")),
    "end_of_life": ("end-of-life capacity", "fraction of rated", ("end_of_life_frac",)),
    "gas": ("gassing current, float and boost", "mA/Ah",
            ("gas_float_ma_ah", "gas_boost_ma_ah")),
    "acid": ("freezing point by SOC, empty and full", "degC", ("freezing",)),
}  # fmt: skip
"""What each source of a chemistry is about: words, unit and attributes."""


DEFAULT = "default of the program, see its reference"
COLD_CURVE = "battery.chemistry: capacity by temperature"
COLD_HREF = "#input-battery-chemistry--capacity-by-temperature"


@dataclass(frozen=True)
class Assumption:
    """One input.

    Parameters
    ----------
    path
        Key in the site file, or what it is in a library [text].
    value, unit
        As printed [text].
    status, source
        Status word, and where it comes from [text].
    """

    path: str
    value: str
    unit: str
    status: str
    source: str

    @property
    def anchor(self) -> str:
        """Its place on the page [text]."""
        return anchor_of(self.path)


def anchor_of(path: str) -> str:
    """Return the anchor of an input [text].

    Parameters
    ----------
    path
        Key in the site file [text].

    Examples
    --------
    >>> anchor_of("battery.cold_curve")
    'input-battery-cold-curve'
    """
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in path)
    return f"input-{plain}"


def assumptions(package: Package) -> tuple[Assumption, ...]:
    """Return every input beyond the load list, library figures included."""
    found: list[Assumption] = []
    tables, costs = package.tables, package.tables.costs
    currency = "" if costs is None else costs.currency
    for name in TABLES:
        if name in tables.model_fields_set or name in _used(package):
            value = getattr(tables, name)
            if name == "access" and value is None:
                value = Access()
            found += _value_rows(in_file(name), value, "", currency)
    if tables.parts_file is not None:
        found.append(Assumption("parts_file", tables.parts_file, "", "user input", ""))
    found += _part_rows(package)
    found += generator_inputs(package)
    found += _chemistry_rows(package)
    return tuple(found)


def _used(package: Package) -> set[str]:
    """Return the tables that the calculation rests on, written or not."""
    names = set(EVERY)
    names |= {"access"} if package.run.generation else set()
    names |= {"sizing", "worksheet"} if package.sizing is not None else set()
    names |= {"ensemble"} if package.odds is not None else set()
    return names


def _value_rows(
    key: str, value: Any, source: str, currency: str
) -> Iterator[Assumption]:
    """Yield the rows of a table, or of each of a list of tables, counted from 1."""
    if isinstance(value, BaseModel):
        where = getattr(value, "source", "") or source
        yield from _table_rows(key, value, where, currency)
    elif value is not None:
        for number, item in enumerate(value, start=1):
            yield from _value_rows(f"{key}.{number}", item, source, currency)


def _table_rows(
    path: str, table: BaseModel, source: str, currency: str
) -> Iterator[Assumption]:
    for name, info in type(table).model_fields.items():
        value = getattr(table, name)
        stated = name in table.model_fields_set
        empty = value is None or name == "source" or value in ((), {})
        if empty or (not stated and _idle(table, name)):
            continue
        key = f"{path}.{info.alias or name}"
        if _holds_tables(value):
            if stated:
                yield from _value_rows(key, value, source, currency)
            continue
        text, unit = shown(name, value, currency)
        status = "user input" if stated else "assumed"
        where = source if stated else DEFAULT
        yield Assumption(key, text, unit, status, where)


def _holds_tables(value: Any) -> bool:
    items = value if isinstance(value, tuple | list) else (value,)
    return bool(items) and all(isinstance(item, BaseModel) for item in items)


def _idle(table: BaseModel, name: str) -> bool:
    """Return whether nothing rests on a default that the site file leaves alone."""
    if name in {"box_time_constant_h", "box_warmer_k"}:
        return getattr(table, "box", None) is not None
    if name in {"depth_m", "soil_diffusivity_m2_s"}:
        return "buried" not in {getattr(table, "kind", ""), getattr(table, "place", "")}
    if name == "exercise_for_h":
        return getattr(table, "exercise_every_d", None) is None
    return name == "array_to_load_ratio"


def _part_rows(package: Package) -> Iterator[Assumption]:
    """Yield what the named module and battery unit say on their data sheets."""
    tables, parts = package.tables, package.design.parts
    module = tables.array.module
    if isinstance(module, str) and "array" in tables.model_fields_set:
        part: Any = parts.get(module)
        if part is not None:
            yield from _from_part("array.module", part, part.data)
        else:
            yield Assumption(f"array.module: {module}", "figures of the table", "",
                             "published", "CEC module table of pvlib")  # fmt: skip
    unit = tables.battery.unit
    if isinstance(unit, str):
        yield from _from_part("battery.unit", parts[unit], package.design.battery_unit)


KIND_FIGURES = (
    "efficiency_frac", "no_load_fuel_frac", "ambient_per_k", "altitude_per_km",
    "altitude_reference_m", "ageing_per_y", "warm_up_h", "minimum_run_h", "lowest_degc",
    "highest_degc", "service_every_h", "life_h", "charger_efficiency_frac",
)  # fmt: skip
"""Fields of ``[[generator]]`` that its kind fills."""


def generator_inputs(package: Package) -> Iterator[Assumption]:
    """Yield the figures that each generator takes from its kind, and its fuel's heat."""
    for number, unit in enumerate(package.problem.sources.units, start=1):
        fields = type(unit.table).model_fields
        for field in KIND_FIGURES:
            if getattr(unit.table, field) is not None:
                continue
            if field == "efficiency_frac" and unit.table.fuel_use_l_d is not None:
                continue
            figure = unit.data(field)
            text, symbol = shown(field, figure.value)
            name = fields[field].alias or field
            yield Assumption(f"generator.{number}, of its kind: {name}", text, symbol,
                             figure.status, figure.source)  # fmt: skip
        if unit.needed_kpa and unit.table.burner_pressure_kpa is None:
            figure = unit.data("burner_pressure_kpa")
            yield Assumption(f"generator.{number}, of its kind: burner_pressure",
                             f"{unit.burner_kpa:g}", "kPa", figure.status,
                             figure.source)  # fmt: skip
        if unit.fuel.name != "none":
            yield Assumption(f"generator.{number}, of its fuel: higher heating value",
                             f"{unit.fuel.heat_mj_per_l * unit.fuel.litres_per_unit:g}",
                             f"MJ/{unit.fuel.unit}", unit.fuel.heat.status,
                             unit.fuel.heat.source)  # fmt: skip


def _from_part(path: str, part: Any, data: BaseModel) -> Iterator[Assumption]:
    for name, info in type(data).model_fields.items():
        value = getattr(data, name, None)
        if value is None:
            continue
        text, unit = shown(name, value)
        key = f"{path}: {info.alias or name}"
        yield Assumption(key, text, unit, part.status, part.source)


def _chemistry_rows(package: Package) -> Iterator[Assumption]:
    """Yield the curves behind the bank, each with its source and status word."""
    bank = package.run.bank
    chemistry, said = bank.chemistry, bank.chemistry.sources
    for key, text in said.items():
        if not key.endswith("_source"):
            continue
        item = key.removesuffix("_source")
        name, unit, fields = ITEMS.get(item, (item.replace("_", " "), "", ()))
        values = [_curve_text(getattr(chemistry, field)) for field in fields]
        status = said.get(f"{item}_status", status_of(text))
        yield Assumption(f"battery.chemistry: {name}", "; ".join(values), unit, status,
                         text)  # fmt: skip
    curve = chemistry.cold[bank.cold_curve]
    degc = package.problem.design_degc
    left = float(bank.capacity_frac(degc))
    value = f"{left:.3f} at {degc:g} °C; {bank.cold_curve}: {_curve_text(curve)}"
    yield Assumption(COLD_CURVE, value, "fraction", status_of(curve.source),
                     curve.source)  # fmt: skip


def status_of(source: str) -> str:
    """Return the status word of a figure that has a source and no word [text].

    Parameters
    ----------
    source
        What its source says of itself [text].

    Examples
    --------
    >>> status_of("IEC 62485-2 table 1, unverified"), status_of("assumed between two sources")
    ('unverified', 'assumed')
    """
    if "unverified" in source:
        return "unverified"
    if any(word in source for word in ("assumed", "set between", "set below")):
        return "assumed"
    return "common practice" if "no source" in source else "published"


def _curve_text(value: Any) -> str:
    """Return a figure, or the points of a curve, long ones by their ends."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:g}"
    pairs = list(zip(value.x, value.y, strict=True))
    if len(pairs) > 12:
        pairs = [pairs[0], pairs[-1]]
    return ", ".join(f"{x:g}: {y:.4g}" for x, y in pairs)


def assumptions_section(package: Package, sources: Sources) -> Section:
    """Return inputs and sources; the last section that may name a source."""
    found = assumptions(package)
    # Two keys may come to one anchor; the first of them has it.
    first = {item.anchor: item for item in reversed(found)}
    rows = tuple(_row(i, sources, named=first[i.anchor] is i) for i in found)
    columns = (
        Column("input"), Column("value"), Column("unit"), Column("status"),
        Column("source"),
    )  # fmt: skip
    words = {item.status for item in found}
    words |= {line.status for line in package.budget.lines}
    table = Table(
        "inputs", "Inputs beyond the equipment list", columns, rows, tools=True,
        note="Figures of the equipment are in the power budget. " + statuses(words),
    )  # fmt: skip
    return Section(
        "assumptions", "Assumptions and sources", "Assumptions",
        "Each input by its key in the site file, with data quality and source.",
        (table, sources.table()),
    )  # fmt: skip


def _row(item: Assumption, sources: Sources, *, named: bool) -> Row:
    doubt = item.status in UNVERIFIED
    cells = (
        Cell(item.path), Cell(item.value), Cell(item.unit),
        Cell(item.status, tone="doubt" if doubt else ""),
        sources.cell(item.source, item.status),
    )  # fmt: skip
    return Row(cells, anchor=item.anchor if named else "")
