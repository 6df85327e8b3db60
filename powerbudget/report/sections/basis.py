"""The site as it was taken: location, weather and equipment, as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import count, in_unit
from powerbudget.report.document.blocks import Block, Fact, Facts, Prose, Section
from powerbudget.report.document.words import coordinates, percent
from powerbudget.report.sections.generators import unit_words
from powerbudget.report.sections.sky import record_words

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources


def basis_section(package: Package, sources: Sources) -> Section:
    """Return site, bus, array, battery and weather as they were taken."""
    lead = "All results hold for this site, equipment, and weather file."
    blocks: list[Block] = [Facts(tuple(_place_facts(package, sources))),
                           Facts(tuple(_plant_facts(package)), "Equipment")]  # fmt: skip
    note = package.tables.site.note
    if note:
        blocks.append(Prose(note, "Note of the site file"))
    return Section("basis", "Site and basis", "Basis", lead, tuple(blocks))


def _place_facts(package: Package, sources: Sources) -> list[Fact]:
    site, record = package.tables.site, package.record
    temps = f"{record.temp_air_degc.min():.1f} to {in_unit(record.temp_air_degc.max(), '°C', 1)}"
    return [
        Fact("site", site.name),
        Fact("location", coordinates(site.latitude_deg, site.longitude_deg, site.elevation_m)),
        Fact("weather", f"{record.source}; {record_words(package.record)}",
             sources.href(record.source)),
        Fact("temperature in the weather file", temps),
        Fact("time", f"local standard time all year, UTC{record.utc_offset_h:+g}; "
             f"intervals of {60 * record.step_h:g} min"),
    ]  # fmt: skip


def _plant_facts(package: Package) -> list[Fact]:
    tables, run = package.tables, package.run
    bus = tables.bus
    trip = (
        f"LVD {bus.disconnect_v:g} V, LVR {bus.reconnect_v:g} V"
        if bus.disconnect_v is not None
        else f"SOC disconnect {percent(bus.disconnect_soc_frac or 0, 0)}, SOC "
        f"reconnect {percent(bus.reconnect_soc_frac or 0, 0)}"
    )
    bank, warm = run.bank, package.problem.conditions.battery_degc
    return [
        Fact("bus", f"{bus.nominal_v:g} V; {trip}"),
        *_array_facts(package),
        *[
            Fact("generator", f"{unit.name}: {unit_words(unit)}", "#generators")
            for unit in package.problem.sources.units
        ],
        Fact(
            "battery",
            f"{count(bank.parallel, 'string')} of {bank.series} × "
            f"{bank.unit.nominal_v:g} V {bank.unit.capacity_ah:g} Ah, "
            f"{bank.chemistry.title}, SOH {percent(bank.health_frac, 0)}",
        ),
        Fact(
            "battery box",
            f"{box_words(package)}; battery {warm.min():.1f} to {in_unit(warm.max(), '°C', 1)} "
            "in the simulation",
        ),
    ]


def _array_facts(package: Package) -> list[Fact]:
    from powerbudget.charging.controller import describe_orientation

    tables, run = package.tables, package.run
    point = f"regulation voltage {in_unit(run.bank.regulation_v, 'V', 2)} at 25 °C"
    if not run.strings:
        return [Fact("array", "none"), Fact("charging", f"by generator, {point}")]
    array, module = tables.array, package.problem.array.module
    look = describe_orientation(array.tilt_deg, array.azimuth_deg)
    kind = "MPPT controller" if tables.regulator.kind == "mppt" else (
        "PWM controller")  # fmt: skip
    return [
        Fact("array", f"{count(run.strings, 'string')} of {array.series} × "
             f"{module.power_w:g} W, {look}"),
        Fact("charge controller", f"{kind}, {point}"),
    ]  # fmt: skip


def box_words(package: Package) -> str:
    """Return how the battery's temperature follows the air, as it is computed [text]."""
    battery = package.tables.battery
    box, warmer_k = battery.box, battery.box_warmer_k
    if box is None:
        warmer = f", {warmer_k:g} K warmer" if warmer_k else ""
        return _lag(battery.box_time_constant_h) + warmer
    heat = box.internal_heat_w + sum(
        unit.table.heat_to_box_w for unit in package.problem.sources.units
    )
    words = [
        box.kind + (f" at {box.depth_m:g} m" if box.kind == "buried" else ""),
        "" if box.kind == "buried" else _lag(box.time_constant_h),
        f"{heat:g} W of heat through {box.conductance_w_per_k:g} W/K" if heat else "",
        "with a battery heater" if battery.heater else "",
    ]
    return ", ".join(part for part in words if part)


def _lag(hours: float) -> str:
    return f"follows ambient temperature with a time constant of {hours:g} h" if hours else (
        "at ambient temperature")  # fmt: skip
