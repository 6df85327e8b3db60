"""Fuelled sources at their place: pressure of propane in the cold, output at altitude."""

from __future__ import annotations

from collections.abc import Iterator

from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.result import Check, NotChecked, Row
from powerbudget.generators.altitude import KEY, setups_words
from powerbudget.generators.cold import fuel_pressure_check
from powerbudget.limits import Limit
from powerbudget.quantities import in_unit

NAME = "minimum supply pressure, cold"
REMEDY = (
    "bury or insulate the tank, heat it with the generator, use a "
    "low-pressure burner, or use another source; heated tanks need a "
    "licensed person"
)


def pressure(facts: CheckInputs) -> Iterator[Row]:
    """Yield the coldest liquid of each propane tank against what its burner needs."""
    for unit in facts.problem.sources.units:
        found = fuel_pressure_check(unit, facts.problem.record)
        if found is None:
            continue
        held = Limit(found.value_degc, found.limit_degc, "lower", "degC")
        yield Check(
            name=NAME,
            subject=found.name,
            value=found.value_degc,
            limit=found.limit_degc,
            unit="degC",
            verdict=found.verdict,
            margin=held.margin,
            margin_unit=held.margin_unit,
            side=held.sense,
            rule=found.rule,
            source=found.source,
            remedy=REMEDY,
            detail=f"burner {found.burner_kpa:g} kPa plus pressure regulator "
            f"{found.drop_kpa:g} kPa; {in_unit(found.hours_below, 'h')} too cold; tank "
            f"{in_unit(found.tank_l, 'L')}, tank vaporization rate needs "
            f"{in_unit(found.tank_needed_l, 'L')} at that temperature",
        )


def altitude(facts: CheckInputs) -> Iterator[Row]:
    """Yield each burner whose output at this altitude hangs on how its fuel is set."""
    for unit in facts.problem.sources.units:
        words = setups_words(unit)
        if words:
            yield NotChecked("output at altitude", unit.name, KEY, words)
