"""The table of kinds of claim: what each may state, its sense, and how it is judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from powerbudget.review import (
    array_claims,
    battery_claims,
    formula_claims,
    generator_claims,
    load_claims,
    panel_claims,
    temperature_claims,
    without_site,
)
from powerbudget.review import claim_tables as c
from powerbudget.review.result import Judged, Sense

# Each takes its own table of claims; the row pairs them.
Judge = Callable[[Any, Judged, Any], None]
Bare = Callable[[Any, Judged], None]


@dataclass(frozen=True)
class Kind:
    """One kind of claim.

    Parameters
    ----------
    words
        What it is about, in front of its figure [text].
    table
        What the claims file may hold of it.
    sense, unit
        On which side of the stated figure the site must lie, and the unit in which
        both are compared; empty for the unit as stated [text].
    judge
        Asks the site; with None in its place where `bare` is None.
    bare
        What can be told without a site; None where `judge` needs none.
    panels
        Whether it means nothing at a site without panels.
    """

    words: str
    table: type[c.Claim]
    sense: Sense
    unit: str
    judge: Judge
    bare: Bare | None = without_site.needs_site
    panels: bool = False


KINDS = {
    "draw": Kind(
        "draw", c.DrawClaim, "at most", "W", load_claims.judge_draw,
        without_site.bare_load),
    "energy": Kind(
        "daily energy", c.EnergyClaim, "at most", "Wh/day", load_claims.judge_energy,
        without_site.bare_load),
    "autonomy": Kind(
        "autonomy", c.AutonomyClaim, "at least", "d",
        battery_claims.judge_autonomy, without_site.bare_autonomy),
    "battery": Kind(
        "battery is enough", c.BatteryClaim, "at most", "Ah",
        battery_claims.judge_battery, without_site.bare_battery),
    "array": Kind(
        "array is enough", c.ArrayClaim, "at most", "W", array_claims.judge_array,
        panels=True),
    "availability": Kind(
        "availability", c.AvailabilityClaim, "at least", "fraction",
        array_claims.judge_availability),
    "recovery": Kind(
        "recovery time", c.RecoveryClaim, "at most", "d",
        array_claims.judge_recovery),
    "yield": Kind(
        "array energy per day", c.YieldClaim, "at least", "Wh/day",
        panel_claims.judge_yield, panels=True),
    "sun": Kind(
        "peak sun hours", c.SunClaim, "at least", "h", panel_claims.judge_sun,
        panels=True),
    "module": Kind(
        "module power", c.ModuleClaim, "at least", "W", panel_claims.judge_panel, None),
    "fuel": Kind(
        "fuel consumption", c.FuelClaim, "at most", "", generator_claims.judge_fuel, None),
    "generator": Kind(
        "generator carries the site", c.GeneratorClaim, "at most", "W",
        generator_claims.judge_generator, None),
    "temperature": Kind(
        "works at", c.TemperatureClaim, "at most", "degC",
        temperature_claims.judge_temperature),
    "charge-voltage": Kind(
        "charging voltage", c.ChargeVoltageClaim, "equal", "V",
        temperature_claims.judge_charge_voltage, None),
    "capacity": Kind(
        "available capacity", c.CapacityClaim, "at least", "",
        formula_claims.judge_capacity, None),
    "formula": Kind(
        "sizing formula", c.FormulaClaim, "equal", "", formula_claims.judge_formula, None),
    "tracking": Kind(
        "MPPT gain", c.TrackingClaim, "at least", "fraction",
        panel_claims.judge_tracking, panels=True),
    "life": Kind(
        "battery life", c.LifeClaim, "at least", "years", battery_claims.judge_life),
    "self-discharge": Kind(
        "self-discharge per month", c.SelfDischargeClaim, "at most", "fraction",
        battery_claims.judge_self_discharge, None),
}  # fmt: skip
"""Word in ``kind`` -> the row of that claim."""
