"""A site in four lines: location, load, array, battery."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import count, in_unit, show
from powerbudget.report.document.words import coordinates, percent
from powerbudget.report.screens.layout import wrap

if TYPE_CHECKING:
    from powerbudget.balance.simulation import Simulation
    from powerbudget.generators.unit import Machine

LABEL = 10
WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west",
         "north-west")  # fmt: skip
CHEMISTRIES = {"agm": "AGM", "lfp": "LFP", "nicd": "NiCd", "nicd-arctic": "NiCd"}


def site_lines(run: Simulation) -> list[str]:
    """Return what was calculated, in four lines [text]."""
    return [
        *wrap("Site", location(run), LABEL), *wrap("Load", load(run), LABEL),
        *wrap("Array", array(run), LABEL), *wrap("Battery", battery(run), LABEL),
        *[line for unit in run.problem.sources.units
          for line in wrap("Generator", generator(unit), LABEL)],
    ]  # fmt: skip


def location(run: Simulation) -> str:
    """Return location and weather file [text]."""
    site, record = run.problem.design.tables.site, run.problem.record
    kind = "typical year" if record.typical_year else (
        count(record.years, "synthetic year" if record.synthetic else "actual year"))  # fmt: skip
    where = coordinates(site.latitude_deg, site.longitude_deg, site.elevation_m)
    return f"{where}; {kind}; times UTC{record.utc_offset_h:+g}"


def load(run: Simulation) -> str:
    """Return daily, average and maximum load [text]."""
    budget = run.problem.budget
    words = (
        f"{show(budget.wh_per_day, 'Wh/day')}, {show(budget.average_w, 'W')} average, "
        f"{show(budget.maximum_w, 'W')} maximum, {budget.nominal_v:g} V dc"
    )
    words += battery_heater(float(run.problem.conditions.heater_w.mean()))
    if not budget.contingency_frac:
        return words
    return f"{words}; includes {percent(budget.contingency_frac, 0)} contingency"


def battery_heater(mean_w: float) -> str:
    """Return what a battery heater draws beside the load, empty without one [text].

    Parameters
    ----------
    mean_w
        Through the weather file [W].
    """
    return f"; and {show(mean_w, 'W')} average of the battery heater" if mean_w else ""


def azimuth(azimuth_deg: float) -> str:
    """Return an azimuth with its compass direction [text].

    Parameters
    ----------
    azimuth_deg
        Clockwise from north [deg].

    Examples
    --------
    >>> azimuth(180.0), azimuth(350.0)
    ('azimuth 180° (south)', 'azimuth 350° (about north)')
    """
    near = round(azimuth_deg / 45) % 8
    about = "" if azimuth_deg % 45 == 0 else "about "
    return f"azimuth {azimuth_deg:g}° ({about}{WINDS[near]})"


def array(run: Simulation) -> str:
    """Return the array and its charge controller [text]."""
    tables, module = run.problem.design.tables, run.problem.array.module
    modules = run.strings * tables.array.series
    if not modules:
        return "none"
    tilt = tables.array.tilt_deg
    stands = f"{tilt:g}° tilt, {azimuth(tables.array.azimuth_deg)}" if tilt else "flat"
    return (
        f"{in_unit(modules * module.power_w, 'W')} ({modules} x {module.power_w:g} W), {stands}, "
        f"{tables.regulator.kind.upper()}"
    )


def battery(run: Simulation) -> str:
    """Return the battery and its disconnect [text]."""
    bank, bus = run.bank, run.problem.design.tables.bus
    name = CHEMISTRIES.get(bank.chemistry.name, bank.chemistry.name)
    ends = (
        f"SOC disconnect {percent(bus.disconnect_soc_frac or 0, 0)}, reconnect "
        f"{percent(bus.reconnect_soc_frac or 0, 0)}"
        if bus.disconnect_v is None
        else f"LVD {bus.disconnect_v:g} V, LVR {bus.reconnect_v:g} V"
    )
    return (
        f"{in_unit(bank.nameplate_ah, 'Ah')} at {bank.unit.hour_rate_h:g} h ({bank.units} x "
        f"{bank.unit.nominal_v:g} V {name}), SOH {percent(bank.health_frac, 0)}, {ends}"
    )


def generator(unit: Machine) -> str:
    """Return a generator in one line [text]."""
    from powerbudget.report.sections.generators import unit_words

    return f"{unit.name}: {unit_words(unit)}"
