"""Fuelled sources at their place: pressure of propane in the cold, output at altitude."""

from __future__ import annotations

from collections.abc import Iterator

from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.result import Check, NotChecked, Row
from powerbudget.generators.altitude import KEY, setups_words
from powerbudget.generators.cold import fuel_pressure_check
from powerbudget.limits import Limit

NAME = "fuel pressure in the cold"
REMEDY = (
    "bury or insulate the tank, let the generator's heat reach it, ask for a burner of "
    "less pressure, or take another source; licensed people decide on heated tanks"
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
            detail=f"burner {found.burner_kpa:g} kPa and regulator {found.drop_kpa:g} kPa; "
            f"{found.hours_below:,.0f} h of the record too cold; tank "
            f"{found.tank_l:,.0f} L, {found.tank_needed_l:,.0f} L needed to boil off "
            "what the burner takes in that cold",
        )


def altitude(facts: CheckInputs) -> Iterator[Row]:
    """Yield each burner whose output at this altitude hangs on how its fuel is set."""
    for unit in facts.problem.sources.units:
        words = setups_words(unit)
        if words:
            yield NotChecked("output at altitude", unit.name, KEY, words)
