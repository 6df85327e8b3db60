"""Costs and emissions of sources against published factors, examples and tariffs."""

from __future__ import annotations

import pytest

from powerbudget.compare.emissions import (
    J_PER_MMBTU,
    emission,
    emission_tables,
    fuel_quantity,
    vented_ch4_kg,
)
from powerbudget.compare.lifecycle import Bill, Piece, Terms, life_cycle
from powerbudget.compare.money import (
    net_rate_frac,
    real_rate_frac,
    recovery_factor,
    single_factor,
    uniform_factor,
)
from powerbudget.compare.power_line import extension_cost
from powerbudget.site.prices import price_tables

FOREVER = float("inf")


def terms(years, rate, convention="end-of-year", **more):
    """Return terms without any price."""
    plain = {"visit": 0.0, "delivery": 0.0, "service": 0.0, "installation_frac": 0.0}
    return Terms(
        years, rate, convention, {}, **{**plain, "residual_value": False, **more}
    )


# MIL-HDBK-1004/10, Electrical Engineering Cathodic Protection, 31 January 1990,
# section 13.6, Example 3, Alternative 2, printed page 249: 25 years at 10 %, $986,000
# at the start, $3,800 a year, $12,000 in year 15; factors 9.524 and 0.251.
def test_continuous_flow_example_to_the_dollar():
    """The handbook's alternative comes to its printed $1,025,203."""
    line = Piece("line", "generator", 986_000.0, FOREVER, installed=False)
    bill = Bill((line,), yearly={"upkeep": 3800.0}, once=(("rehab", 15, 12_000.0),))
    cost = life_cycle(bill, terms(25, 0.10, "continuous", factor_digits=3))
    assert round(cost.total) == 1_025_203
    assert round(cost.groups["utility charges"]) == 36_191
    assert round(cost.groups["replacement"]) == 3_012


@pytest.mark.parametrize(
    ("convention", "printed"),
    [("continuous", 9.524), ("end-of-year", 9.077), ("mid-year", 9.520)],
)
def test_conventions_of_the_handbook_rate(convention, printed):
    """The printed 9.524 is the flow through the year and no other convention."""
    assert uniform_factor(0.10, 25, convention) == pytest.approx(printed, abs=5e-4)


def test_leak_repair_line_of_the_handbook():
    """Example 1, Alternative 3, page 243: $12,000 a year is printed as $114,288."""
    assert round(12_000 * round(uniform_factor(0.10, 25, "continuous"), 3)) == 114_288


# EPA, ONG-Analysis-2022-Supplemental-Proposal, R/npv-math-funs.R: annuity-due.
@pytest.mark.parametrize(
    ("rate", "years", "factor"),
    [(0.03, 4, 0.26119), (0.03, 10, 0.11382), (0.03, 15, 0.08133),
     (0.07, 4, 0.27591), (0.07, 10, 0.13306), (0.07, 15, 0.10261)],
)  # fmt: skip
def test_recovery_factors_of_the_wellpad_model(rate, years, factor):
    """Capital recovery with payment at the beginning of each year."""
    found = recovery_factor(rate, years, "annuity-due")
    assert found == pytest.approx(factor, abs=6e-6)


# The same model's (4 controllers, 1 pump) site: panels 943, battery 1,503; panels last
# 10 years and batteries 4; 15 years at 3 % and 7 %, replacements at plain price.
@pytest.mark.parametrize(("rate", "total"), [(0.03, 5299), (0.07, 4559)])
def test_wellpad_panels_and_battery_over_fifteen_years(rate, total):
    """First cost with the factor 1.5 and replacements without it."""
    panels = Piece("panels", "PV modules", 256.7 * 2.45, 10.0)
    battery = Piece("battery", "battery", 409.1 * 2.45, 4.0)
    cost = life_cycle(Bill((panels, battery)), terms(15, rate, installation_frac=0.5))
    assert cost.total == pytest.approx(total, abs=2)


# 10 CFR 436 worked year 2010: nominal 4.0 %, real 3.0 %, inflation 0.9 % as printed.
def test_real_rate_of_a_federal_year():
    """Nominal 4 % over printed inflation is 3 % to the printed digit."""
    assert real_rate_frac(0.04, 0.009) == pytest.approx(0.03, abs=0.0015)


@pytest.mark.parametrize(
    ("escalation", "factor"), [(0.01, 16.383), (0.02, 18.081), (-0.01, 13.542)]
)
def test_modified_uniform_factors(escalation, factor):
    """UPV* at 3 % over 20 years, from the standard form summed by hand."""
    found = uniform_factor(net_rate_frac(0.03, escalation), 20)
    assert found == pytest.approx(factor, abs=6e-4)


# 40 CFR 98 subpart C, Table C-1 (81 FR 89188) and Table C-2 (89 FR 42220).
@pytest.mark.parametrize(
    ("fuel", "co2", "ch4", "n2o", "heat"),
    [("natural-gas", 53.06, 1.0e-3, 1.0e-4, 1.026e-3),
     ("propane", 62.87, 3.0e-3, 6.0e-4, 0.091)],
)  # fmt: skip
def test_factors_are_those_of_the_tables(fuel, co2, ch4, n2o, heat):
    """Factors and heating values stand as printed."""
    row = emission_tables()["fuel"][fuel]
    assert row["co2_kg_per_mmbtu"] == co2
    assert row["ch4_kg_per_mmbtu"] == ch4
    assert row["n2o_kg_per_mmbtu"] == n2o
    assert row["hhv_mmbtu_per_unit"] == heat


@pytest.mark.parametrize(
    ("fuel", "quantity", "co2", "total"),
    [("natural-gas", 2750.0, 5286.6, 5292.0), ("propane", 4145.0, 6264.0, 6288.2)],
)
def test_a_year_of_100_w_at_three_percent(fuel, quantity, co2, total):
    """Fuel, CO2 and CO2e with AR5 of a burner that runs all year."""
    heat = 100.0 / 0.03 * 8760 * 3600 / J_PER_MMBTU
    assert heat == pytest.approx(99.63, abs=0.01)
    found = emission(heat, fuel)
    assert fuel_quantity(heat, fuel) == pytest.approx(quantity, abs=1.0)
    assert found.co2_kg == pytest.approx(co2, abs=0.1)
    assert found.co2e_kg == pytest.approx(total, abs=0.1)


# EPA emission factors hub 2024: 0.05444 kg CO2, 0.00103 g CH4 a standard cubic foot.
def test_gas_by_the_cubic_foot():
    """Factors a unit of heat agree with the hub's factors a cubic foot."""
    found = emission(1.026e-3, "natural-gas")
    assert found.co2_kg == pytest.approx(0.05444, abs=5e-6)
    assert 1000 * found.ch4_kg == pytest.approx(0.00103, abs=6e-6)


# API Compendium Table 4-7 as quoted: lean burn 0.537 t/TJ is +30 % CO2e at GWP 28.
@pytest.mark.parametrize(
    ("burnt_in", "share"),
    [("rich-burn-engine", 0.056), ("lean-burn-engine", 0.30),
     ("two-stroke-engine", 0.35)],
)  # fmt: skip
def test_engines_slip_methane_and_burners_do_not(burnt_in, share):
    """Slip over the CO2 alone; the burner's default adds 0.05 %."""
    engine = emission(1.0, "natural-gas", burnt_in)
    assert 28 * engine.ch4_kg / engine.co2_kg == pytest.approx(share, abs=0.005)
    burner = emission(1.0, "natural-gas")
    assert 28 * burner.ch4_kg / burner.co2_kg == pytest.approx(0.0005, abs=5e-5)


# IPCC AR4, AR5, AR6, 100 years.
@pytest.mark.parametrize(
    ("gwp", "ch4", "n2o"), [("AR4", 25, 298), ("AR5", 28, 265), ("AR6", 27.9, 273)]
)
def test_warming_potentials(gwp, ch4, n2o):
    """The chosen set weighs each gas."""
    found = emission(10.0, "propane", gwp=gwp)
    whole = found.co2_kg + ch4 * found.ch4_kg + n2o * found.n2o_kg
    assert found.co2e_kg == pytest.approx(whole, rel=1e-12)


# 40 CFR 98 Table W-1 (89 FR 42323): low bleed 6.8, high bleed 21 scf/h of whole gas.
def test_gas_driven_devices_vent_by_table_w1():
    """Kinds keep the ratio of the table; methane is 82.9 % of the gas."""
    low, high = vented_ch4_kg(1, "low-bleed"), vented_ch4_kg(1, "high-bleed")
    assert high / low == pytest.approx(21 / 6.8)
    assert low == pytest.approx(6.8 * 8760 * 0.829 * 0.04163 * 0.45359237, rel=1e-3)


# Line extension tariff of a rural electric co-operative: $6.50 and $9.50 a foot.
@pytest.mark.parametrize(
    ("per_ft", "free_ft", "share", "sum_"),
    [(6.50, 1320, 1.0, 25_740), (6.50, 1320, 0.9, 23_166), (6.50, 1320, 0.8, 20_592),
     (9.50, 0, 1.0, 50_160), (9.50, 0, 0.9, 45_144)],
)  # fmt: skip
def test_line_extension_tariff(per_ft, free_ft, share, sum_):
    """One mile, with a free quarter and with the discounts printed."""
    metres = 0.3048
    found = extension_cost(5280 * metres, per_ft / metres, free_ft * metres, share)
    assert round(found) == sum_
    assert price_tables()["line"]["tariff"]["value"] == pytest.approx(21.325, abs=5e-4)


# Illustration with EPA's form: 100 W at 1.5 sun hours, 20 years at 3 %: 2,824 Wp and
# 1,688 Ah at $2.45, x1.5; batteries in years 4, 8, 12, 16, panels in year 10.
def test_solar_of_the_worked_illustration():
    """Replacements 12,413 and 5,148 beside a first cost of 16,579."""
    panels = Piece("panels", "PV modules", 6918.0, 10.0)
    battery = Piece("battery", "battery", 4134.0, 4.0)
    cost = life_cycle(Bill((panels, battery)), terms(20, 0.03, installation_frac=0.5))
    assert cost.capital == pytest.approx(16_579, abs=2)
    assert cost.groups["replacement"] == pytest.approx(12_413 + 5_148, abs=3)
    assert cost.total == pytest.approx(34_100, abs=60)


def test_fuel_of_the_worked_illustration():
    """1,095 gal a year at $2.50 over 20 years at 3 % is about $40,700."""
    bill = Bill((), fuel="propane", fuel_per_year=4145.0)
    priced = Terms(20, 0.03, "end-of-year", {"propane": 2.50 / 3.785411784}, 0, 0, 0, 0)
    assert life_cycle(bill, priced).total == pytest.approx(40_700, abs=50)
    assert single_factor(0.03, 4) == pytest.approx(0.8885, abs=5e-5)
