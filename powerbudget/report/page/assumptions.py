"""Every input of the site with its value, status word and source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel

from powerbudget.report.page.blocks import Cell, Column, Row, Section, Table
from powerbudget.report.page.sources import Sources, statuses

if TYPE_CHECKING:
    from powerbudget.report.page.package import Package

UNITS = {
    "w": "W", "wh": "Wh", "ah": "Ah", "a": "A", "v": "V", "h": "h", "d": "d", "m": "m",
    "s": "s", "k": "K", "y": "years", "deg": "deg", "degc": "degC", "frac": "%",
    "ohm": "ohm",
}  # fmt: skip
"""What the last part of a field's name says about its unit."""
LONG_UNITS = {
    "conductance_w_per_k": "W/K", "compensation_v_per_k_cell": "V/K a cell",
    "open_circuit_per_k": "1/K", "short_circuit_per_k": "1/K",
    "soil_diffusivity_m2_s": "m2/s", "ghi_kwh_m2_d": "kWh/m2/d", "wind_m_s": "m/s",
    "albedo_by_month": "fraction", "soiling_by_month": "fraction",
    "clearness": "fraction",
}  # fmt: skip
TABLES = ("weather", "bus", "array", "regulator", "battery", "criteria", "sizing",
          "costs")  # fmt: skip
ITEMS = {
    "open_circuit": ("rest voltage by state", "V a cell", ("open_circuit",)),
    "efficiency": ("charge efficiency by state", "fraction", ("efficiency",)),
    "resistance": ("resistance, discharge and charge", "ohm Ah a cell",
                   ("discharge_ohm_ah", "charge_ohm_ah")),
    "absorption": ("absorption voltage", "V a cell", ("absorption_v",)),
    "charge_share": ("charge limit by temperature", "fraction",
                     ("charge_share_by_degc",)),
    "charge_limit": ("charge current over rated Ah", "1/h", ("charge_limit_per_h",)),
    "self_discharge": ("self-discharge in 30 days", "fraction",
                       ("self_discharge_per_month",)),
    "rate": ("capacity by discharge hours", "ratio", ("rate",)),
    "cycles": ("cycles by depth", "count", ("cycles",)),
    "calendar": ("life at rest at 20 degC; warming that halves it", "years; K",
                 ("calendar_y_at_20_degc", "calendar_halving_k")),
    "end_of_life": ("end of life", "fraction of rated", ("end_of_life_frac",)),
    "gas": ("gassing current, float and boost", "mA/Ah",
            ("gas_float_ma_ah", "gas_boost_ma_ah")),
    "acid": ("freezing point by state, empty and full", "degC", ("freezing",)),
}  # fmt: skip
"""What each source of a chemistry is about: words, unit and attributes."""


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
    """Return every input beyond the load list, library figures included.

    Parameters
    ----------
    package
        All results.
    """
    found: list[Assumption] = []
    for name in TABLES:
        table = getattr(package.tables, name)
        if table is not None:
            found += _table_rows(name, table, getattr(table, "source", ""))
    found += _part_rows(package)
    found += _chemistry_rows(package)
    return tuple(found)


def _table_rows(path: str, table: BaseModel, source: str) -> Iterator[Assumption]:
    for name, info in type(table).model_fields.items():
        value = getattr(table, name)
        if value is None or name == "source" or value in ((), {}):
            continue
        key = f"{path}.{info.alias or name}"
        stated = name in table.model_fields_set
        if isinstance(value, BaseModel):
            if stated:
                yield from _table_rows(key, value, getattr(value, "source", source))
            continue
        text, unit = shown(name, value)
        status = "site file" if stated else "default"
        where = source if stated else "default of the program, in its reference"
        yield Assumption(key, text, unit, status, where)


def shown(name: str, value: Any) -> tuple[str, str]:
    """Return an input's value and unit as printed.

    Parameters
    ----------
    name
        Field name, whose end is the unit [text].
    value
        The value.

    Examples
    --------
    >>> shown("health_frac", 0.9), shown("tilt_deg", 70.0), shown("kind", "mppt")
    (('90', '%'), ('70', 'deg'), ('mppt', ''))
    """
    unit = LONG_UNITS.get(name, UNITS.get(name.rsplit("_", 1)[-1], ""))
    if isinstance(value, bool):
        return ("yes" if value else "no"), ""
    if isinstance(value, int | float):
        return f"{100 * value if unit == '%' else value:.10g}", unit
    if isinstance(value, tuple | list):
        if unit == "%" and all(isinstance(x, int | float) for x in value):
            value = [100 * x for x in value]
        return ", ".join(_piece(item) for item in value), unit
    return str(value), ("" if unit == "%" else unit)


def _piece(item: Any) -> str:
    if isinstance(item, tuple | list):
        return "[" + ", ".join(_piece(x) for x in item) + "]"
    return f"{item:.6g}" if isinstance(item, int | float) else str(item)


def _part_rows(package: Package) -> Iterator[Assumption]:
    """Yield what the named module and battery unit say on their data sheets."""
    tables, parts = package.tables, package.design.parts
    module = tables.array.module
    if isinstance(module, str):
        part: Any = parts.get(module)
        if part is not None:
            yield from _from_part("array.module", part, part.data)
        else:
            yield Assumption(f"array.module: {module}", "figures of the table", "",
                             "published", "CEC module table that comes with pvlib")  # fmt: skip
    unit = tables.battery.unit
    if isinstance(unit, str):
        yield from _from_part("battery.unit", parts[unit], package.design.battery_unit)


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
        status = said.get(f"{item}_status", judged(text))
        yield Assumption(f"battery.chemistry: {name}", "; ".join(values), unit, status,
                         text)  # fmt: skip
    curve = chemistry.cold[bank.cold_curve]
    degc = package.tables.criteria.autonomy_degc
    left = float(bank.capacity_frac(degc))
    value = f"{left:.3f} at {degc:g} degC; {bank.cold_curve}: {_curve_text(curve)}"
    yield Assumption(COLD_CURVE, value, "fraction", judged(curve.source),
                     curve.source)  # fmt: skip


def judged(source: str) -> str:
    """Return the status word of a figure that has a source and no word [text].

    Parameters
    ----------
    source
        What its source says of itself [text].

    Examples
    --------
    >>> judged("IEC 62485-2 table 1, from memory"), judged("a judgement")
    ('remembered', 'practice')
    """
    if "memory" in source:
        return "remembered"
    loose = ("judgement", "judged", "set between", "set below", "no source")
    return "practice" if any(word in source for word in loose) else "published"


def _curve_text(value: Any) -> str:
    """Return a figure, or the points of a curve, long ones by their ends."""
    if value is None:
        return "none"
    if isinstance(value, int | float):
        return f"{value:g}"
    pairs = list(zip(value.x, value.y, strict=True))
    if len(pairs) > 12:
        pairs = [pairs[0], pairs[-1]]
    return ", ".join(f"{x:g}: {y:.4g}" for x, y in pairs)


def assumptions_section(package: Package, sources: Sources) -> Section:
    """Return inputs and sources; the last section that may name a source.

    Parameters
    ----------
    package
        All results.
    sources
        Those named so far.
    """
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
        note="Figures of the equipment stand in the power budget. " + statuses(words),
    )  # fmt: skip
    return Section(
        "assumptions", "Assumptions and sources", "Assumptions",
        "Each input, as the site file names it, with a word for how far it can be "
        "relied on and the source that it comes from.",
        (table, sources.table()),
    )  # fmt: skip


def _row(item: Assumption, sources: Sources, *, named: bool) -> Row:
    doubt = item.status in {"remembered", "invented", "spot reading"}
    cells = (
        Cell(item.path), Cell(item.value), Cell(item.unit),
        Cell(item.status, tone="doubt" if doubt else ""),
        sources.cell(item.source, item.status),
    )  # fmt: skip
    return Row(cells, anchor=item.anchor if named else "")
