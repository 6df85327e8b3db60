"""Array and battery of a site that names none: parts that the climate allows, tried.

Every module and battery unit of the library that suits the bus is sized hour by hour;
chemistries that cannot be charged in the site's cold, or that want water, are left out
and named.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from powerbudget.balance.problem import prepare
from powerbudget.battery.chemistry import chemistries
from powerbudget.errors import Fault, InputError
from powerbudget.quantities import in_unit
from powerbudget.site.open_site import array_table, battery_table, strings_of_unit
from powerbudget.site.parts import BatteryPart, ModulePart
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario
from powerbudget.site.tables import Array, Battery
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Progress
from powerbudget.sizing.search import search_sizes
from powerbudget.weather.record import WeatherRecord
from powerbudget.weather.summary import coldest_days_degc

RULE = (
    "lowest mass of modules and battery units, then the smallest number: "
    "built-in parts have no prices"
)


@dataclass(frozen=True)
class Alternative:
    """One pair of parts and what it takes of them.

    Parameters
    ----------
    module, battery, chemistry
        Parts of the library, and the chemistry of the battery unit [text].
    design
        The site with one string of each.
    pick
        Lightest size that meets every criterion, None where none in reach does.
    why
        What nothing in reach meets, empty otherwise [text].
    """

    module: str
    battery: str
    chemistry: str
    design: Design
    pick: Candidate | None
    why: str = ""


@dataclass(frozen=True)
class FromNothing:
    """What was tried for a site that leaves parts open.

    Parameters
    ----------
    pick
        The pair to take, None where nothing in reach meets the criteria.
    tried
        Every pair.
    left_out
        Battery unit and why the climate or the bus rules it out [text].
    coldest_degc
        Mean of the coldest day of the record [degC].
    """

    pick: Alternative | None
    tried: tuple[Alternative, ...]
    left_out: tuple[tuple[str, str], ...]
    coldest_degc: float


def size_from_nothing(
    design: Design, progress: Progress | None = None, asked: tuple[str, ...] = ()
) -> FromNothing:
    """Try every module and battery that the climate allows, and take the lightest.

    Parameters
    ----------
    design
        A site from `read_open_site`.
    progress
        Called with pairs done and pairs in all [count].
    asked
        Chemistries to try in place of all [text].

    Raises
    ------
    InputError, DataError
        When the site cannot be prepared, or a chemistry is not known.

    Notes
    -----
    Tilts are those of ``[sizing]``, or latitude and near it; modules in series are
    worked out.  The bus must be made of whole units within 10 %.  Nobody is at the site
    to top up cells: chemistries that want it are tried where they are asked for, or
    where no other one will do.
    """
    record = prepare(_pairs(design, *_first(design))).weather
    coldest = coldest_days_degc(record, 1.0)
    kept, left_out = _batteries(design, coldest, asked)
    watered = [] if asked else [b for b in kept if b and _needs_watering(b)]
    tried = _all_tried(design, record, [b for b in kept if b not in watered], progress)
    if watered and not any(a.pick for a in tried):
        tried += _all_tried(design, record, watered, progress)
    else:
        left_out += [(b.name, _watering_words(b)) for b in watered]
    met = [a for a in tried if a.pick is not None]
    pick = min(met, key=_weight) if met else None
    return FromNothing(pick, tuple(tried), tuple(left_out), coldest)


def _needs_watering(part: BatteryPart) -> bool:
    return chemistries()[part.chemistry].needs_watering


def _watering_words(part: BatteryPart) -> str:
    return (
        f"{part.chemistry} cells need water several times a year on site; "
        f"`--chemistry {part.chemistry}` includes them"
    )


def _all_tried(
    design: Design,
    record: WeatherRecord,
    batteries: Sequence[BatteryPart | None],
    progress: Progress | None,
) -> list[Alternative]:
    """Return every module with every battery unit, each pair at its lightest."""
    pairs = [(m, b) for b in batteries for m in _modules(design)]
    tried = []
    for number, (module, battery) in enumerate(pairs, start=1):
        tried.append(_tried(_pairs(design, module, battery), record, module, battery))
        if progress:
            progress(number, len(pairs))
    return tried


def _weight(found: Alternative) -> tuple[float, float]:
    pick = found.pick
    assert pick is not None
    return (float("inf") if pick.mass_kg is None else pick.mass_kg, float(pick.parts))


def _modules(design: Design) -> list[ModulePart | None]:
    if "array" not in design.left_open:
        return [None]
    return [p for p in design.parts.values() if isinstance(p, ModulePart)]


def _batteries(
    design: Design, coldest_degc: float, asked: tuple[str, ...]
) -> tuple[list[BatteryPart | None], list[tuple[str, str]]]:
    """Return the battery units to try, and those left out with the reason."""
    if asked:
        _known(design, asked)
    if "battery" not in design.left_open:
        return [None], []
    kept: list[BatteryPart | None] = []
    left_out = []
    for part in design.parts.values():
        if isinstance(part, BatteryPart) and part.chemistry in (asked or chemistries()):
            why = _ruled_out(part, design.tables.bus.nominal_v, coldest_degc)
            if why:
                left_out.append((part.name, why))
            else:
                kept.append(part)
    return kept, left_out


def _known(design: Design, asked: tuple[str, ...]) -> None:
    """Refuse chemistries that are not known, or that the site's battery leaves no room."""
    unknown = [name for name in asked if name not in chemistries()]
    if unknown:
        names = ", ".join(chemistries())
        raise InputError(Fault("--chemistry", "is not known", unknown[0], names))
    if "battery" not in design.left_open:
        raise InputError(
            Fault(
                "--chemistry",
                "applies only to a site file without [battery]",
                advice="change [battery] in the site file, or remove it",
            )
        )


def _ruled_out(part: BatteryPart, bus_v: float, coldest_degc: float) -> str:
    if not strings_of_unit(part.nominal, bus_v):
        return f"no whole number of {part.nominal:g} V units makes {bus_v:g} V"
    least = chemistries()[part.chemistry].charge_min_degc
    if coldest_degc < least:
        return (
            f"charging is inhibited below {least:g} °C; the coldest day is "
            f"{in_unit(coldest_degc, '°C')}"
        )
    return ""


def _first(design: Design) -> Iterator[Any]:
    modules = _modules(design)
    units = [p for p in design.parts.values() if isinstance(p, BatteryPart)]
    bus_v = design.tables.bus.nominal_v
    fits = [p for p in units if strings_of_unit(p.nominal, bus_v)]
    yield modules[0]
    yield fits[0] if fits and "battery" in design.left_open else None


def _pairs(
    design: Design, module: ModulePart | None, battery: BatteryPart | None
) -> Design:
    """Return the site with one string of a module and one of a battery unit."""
    tables, bus_v = design.tables, design.tables.bus.nominal_v
    new: dict[str, Any] = {}
    if module is not None:
        place = tables.site.latitude_deg
        new["array"] = Array.model_validate(array_table(module, place, bus_v))
        steps = tables.sizing
        new["sizing"] = steps.model_copy(
            update={"tilts": steps.tilts or "auto", "series": steps.series or "auto"}
        )
    if battery is not None:
        new["battery"] = Battery.model_validate(battery_table(battery, bus_v))
    return replace(design, tables=tables.model_copy(update=new), left_open=())


def _tried(
    design: Design,
    record: WeatherRecord,
    module: ModulePart | None,
    battery: BatteryPart | None,
) -> Alternative:
    own, bank = design.tables.array.module, design.tables.battery
    names = (
        module.name if module else str(own),
        battery.name if battery else str(bank.unit),
        bank.chemistry,
    )
    try:
        search, frontier = search_sizes(prepare(design, record), only="lightest")
    except InputError as exc:
        return Alternative(*names, design, None, exc.faults[0].problem)
    if not frontier:
        return Alternative(*names, design, None, _why(search.tried))
    pick = min(
        frontier, key=lambda c: (c.mass_kg if c.mass_kg is not None else 0.0, c.parts)
    )
    return Alternative(*names, design, pick)


def _why(tried: tuple[Candidate, ...]) -> str:
    """Return what the best of the designs tried fails [text]."""
    if not tried:
        return "no battery in the search range has the autonomy and the daily DOD"
    return "fails " + ", ".join(min(tried, key=lambda c: len(c.failed)).failed)


def design_of(found: Alternative) -> Design:
    """Return the site as an alternative's lightest size is built."""
    pick = found.pick
    assert pick is not None
    return Scenario(
        tilt_deg=pick.tilt_deg,
        modules_in_series=pick.series,
        array_strings=pick.array_strings,
        battery_strings=pick.battery_strings,
    ).site(found.design)


def tables_of(
    design: Design, pick: Candidate, left_open: tuple[str, ...]
) -> dict[str, dict[str, Any]]:
    """Return the keys of a site file that build a pick.

    Parameters
    ----------
    design
        The site whose parts were sized.
    pick
        A size of them.
    left_open
        Tables that the file has not: their parts are written too [text].
    """
    array: dict[str, Any] = {
        "series": pick.series,
        "parallel": pick.array_strings,
        "tilt": f"{pick.tilt_deg:g} deg",
    }
    battery: dict[str, Any] = {"parallel": pick.battery_strings}
    own, bank = design.tables.array, design.tables.battery
    if "array" in left_open:
        array |= {"module": own.module, "azimuth": f"{own.azimuth_deg:g} deg"}
    if "battery" in left_open:
        battery |= {
            "chemistry": bank.chemistry,
            "unit": bank.unit,
            "series": bank.series,
        }
    found = {"array": array, "battery": battery}
    if "regulator" in left_open:
        found["regulator"] = {"kind": design.tables.regulator.kind}
    return found
