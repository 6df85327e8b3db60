"""Figures that stand in sentences, and small sums beside them, worked a second way."""

from __future__ import annotations

import calendar
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from powerbudget.balance.generation import _stack_life_y
from powerbudget.balance.generator_findings import _cold, _quality
from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate, simulate_size
from powerbudget.checks.charging import array_drop
from powerbudget.checks.inputs import collect
from powerbudget.checks.loops import compliance
from powerbudget.checks.protection import derating_share
from powerbudget.compare.search import OptionSize
from powerbudget.generators.unit import make_unit
from powerbudget.limits import CLAIM_ROUNDING_FRAC, HOURS_PER_YEAR
from powerbudget.loads.wiring import pair_ohm
from powerbudget.review.array_claims import _array_faults
from powerbudget.review.claim_tables import ArrayClaim
from powerbudget.review.claims_file import claims_of
from powerbudget.review.reviewer import review
from powerbudget.review.varied_site import VariedSite
from powerbudget.site.generator import Generator
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.criteria import daily_discharge_frac
from powerbudget.sizing.picks import _row
from powerbudget.sizing.search import size
from powerbudget.sizing.uncertainty import reliability
from powerbudget.weather.record import SERIES

LOAD = '[[load]]\nname = "station"\ntypical = "{} W"\nmaximum = "{} W"\n'
LIMITS = "[sizing]\nmax_array_strings = 9\nmax_battery_strings = 5\n"
MODULE = "module-36-cell-100w"


@pytest.fixture(scope="module")
def plain(site_text):
    """Return a 12 V site of 10 W that is well off."""
    return read_site_text(site_text(LOAD.format(10, 14), 12))


@pytest.fixture(scope="module")
def short(site_text):
    """Return a simulation with outages: 45 W on the same panels and battery."""
    return simulate(read_site_text(site_text(LOAD.format(45, 45), 12)))


def judged(design, **keys):
    """Return one claim judged against a site."""
    return review(design, claims_of({"claim": [keys]})).claims[0]


def test_an_outage_tells_the_charge_that_it_began_with(short):
    """The percent of the sentence is the share beside it, and that of the record."""
    assert len(short.outages) > 3
    for outage in short.outages:
        said = re.search(r"SOC (\d+) %", outage.cause)
        assert float(said[1]) == pytest.approx(100 * outage.charge_left_frac, abs=0.5)
    charge = short.problem.scalars(short.strings, short.bank)["charge_ah"]
    left = [1 - short.removed_ah[one.index] / charge for one in short.outages]
    assert [one.charge_left_frac for one in short.outages] == pytest.approx(left)


@pytest.fixture(scope="module")
def sunny(plain):
    """Return the mean peak sun hours of each month on the panel's plane [h]."""
    problem = prepare(plain)
    light, month = problem.array.poa_w_m2, problem.record.month
    return [float(light[month == m].mean()) * 24 / 1000 for m in range(1, 13)]


@pytest.mark.parametrize("rank", [0, 3, 6, 11])
def test_months_with_enough_sun_are_named(plain, sunny, rank):
    """The figure of one month: it and those above it, by name, in order of the year."""
    claimed = sorted(sunny)[rank]
    # Stated figures are rounded: what lies within that of the claim counts as enough.
    for over, least in ((0.8, claimed), (1.2, np.nextafter(claimed, 99))):
        asked = claimed * (1 + over * CLAIM_ROUNDING_FRAC)
        names = [calendar.month_abbr[m] for m, h in enumerate(sunny, 1) if h >= least]
        solved = judged(plain, kind="sun", claimed=f"{asked:.9f} h").solved[0]
        assert solved.value == len(names)
        assert solved.text.endswith(" in " + (", ".join(names) or "no month"))


@pytest.mark.slow
def test_a_battery_that_is_not_enough_names_what_it_fails(plain):
    """20 Ah fail what 2,000 Ah meet, and the first remark says what."""
    small = judged(plain, kind="battery", claimed="20 Ah")
    large = judged(plain, kind="battery", claimed="2000 Ah")
    assert (small.verdict, large.verdict) == ("not supported", "supported")
    said = [text for text in small.remarks if text.startswith("fails with it: ")]
    assert len(said) == 1
    assert "autonomy" in said[0]
    assert not any(text.startswith("FAIL") for text in large.remarks)


@pytest.mark.parametrize(
    ("watts", "contradicts"),
    [(200, False), (209, False), (191, False), (211, True), (189, True)],
)
def test_watts_and_modules_of_one_claim_agree_within_five_percent(
    plain, watts, contradicts
):
    """Modules of 100 W: 95 to 105 W each are one statement, more or less are two."""
    table = {"kind": "array", "claimed": f"{watts} W", "modules": 2, "module": MODULE}
    faults = _array_faults(ArrayClaim.model_validate(table), VariedSite(plain))
    assert bool(faults) == contradicts
    for fault in faults:
        assert "one is rated 100 W" in str(fault)


def test_no_stated_draw_is_none(plain):
    """A draw that a claim leaves out is 0 W, amperes count at the bus."""
    varied = VariedSite(plain)
    assert varied.watts(None) == 0.0
    assert varied.watts(("A", 2.0)) == 24.0
    assert varied.watts(("A", 2.0), 48.0) == 96.0
    assert varied.watts(("W", 2.0), 48.0) == 2.0


@pytest.mark.parametrize(("height", "whole"), [(0, True), (2000, True), (2001, False)])
def test_a_converter_is_derated_above_two_thousand_meters(site_text, height, whole):
    """Ratings hold up to 2,000 m, the height of the converter standards."""
    text = site_text(LOAD.format(10, 14), 12).replace(
        "latitude", f'elevation = "{height} m"\nlatitude'
    )
    share = derating_share(collect(read_site_text(text)))
    assert share <= 1.0
    assert (share == 1.0) == whole


def test_a_day_of_the_load_is_a_share_of_the_charge(plain):
    """Ah of a day over the charge at the rate of the mean load; nothing else is taken off."""
    problem = prepare(plain)
    share = problem.budget.ah_per_day / problem.bank.charge_ah(problem.mean_load_a)
    assert daily_discharge_frac(problem, problem.bank) == pytest.approx(
        share, rel=1e-12
    )


def test_the_drop_of_the_arrays_wire_is_a_percent_of_its_volts(site_text):
    """Ohm's law on the pair of wires, at the best point of four panels side by side."""
    text = site_text(LOAD.format(10, 14), 12).replace(
        "parallel = 4", 'parallel = 4\nwire = { gauge = "6 AWG", length = "12 m" }'
    )
    design = read_site_text(text)
    facts = collect(design)
    module = design.parts[MODULE].data
    amps, volts = 4 * module.max_power_a, module.max_power_v
    ohm = pair_ohm("6 AWG", 12.0, facts.wire_hot_degc)
    (found,) = array_drop(facts)
    assert found.value == pytest.approx(100 * amps * ohm / volts, rel=1e-9)


@pytest.mark.parametrize("starts", [0.0, 0.25, 1.0, 500.0])
def test_a_stack_is_worn_by_hours_or_by_starts(starts):
    """Whichever comes first; no start wears nothing."""
    table = {"name": "cell", "kind": "solid-oxide-cell", "rated": "500 W",
             "fuel": "natural-gas"}  # fmt: skip
    unit = make_unit(Generator.model_validate(table), 0.0)
    by_hours, most = unit.figure("stack_life_h"), unit.figure("stack_starts")
    for run_h in (0.001, 8000.0):
        worn = [by_hours / run_h, *([most / starts] if starts else [])]
        assert _stack_life_y(unit, run_h, starts) == pytest.approx(min(worn))


def test_a_loop_without_a_resistor_has_its_wire_alone(site_text):
    """Too long a wire fails by itself, and no ohm is added to it."""
    load = (
        '[[load]]\nname = "transmitter"\npart = "transmitter-pressure-two-wire"\n'
        'wire = { gauge = "18 AWG", length = "3000 m" }\n'
    )
    (found,) = compliance(collect(read_site_text(site_text(load, 12))))
    assert found.verdict == "fail"
    for case in found.cases:
        ohm = pair_ohm("18 AWG", 3000.0, case["cable_degc"])
        assert case["loop_ohm"] == pytest.approx(ohm, rel=1e-9)


@pytest.mark.parametrize("given", [True, False])
def test_who_stated_a_draw_is_told(site_text, given):
    """A draw of the site file is the site's, one of the parts library the library's."""
    own = 'typical = "3 W"\nmaximum = "4 W"\n' if given else ""
    load = f'[[load]]\nname = "x"\npart = "camera-fixed"\n{own}'
    design = read_site_text(site_text(load, 12))
    part = design.parts["camera-fixed"]
    (item,) = collect(design).items
    wanted = ("site file", "user input") if given else (part.source, part.status)
    assert (item.source, item.status) == wanted


@pytest.mark.parametrize("kind", ["thermoelectric", "engine", "stirling"])
def test_the_efficiency_that_fuel_rests_on_is_told_in_percent(kind):
    """The note on an unverified efficiency carries the figure of the library."""
    table = {"name": "g", "kind": kind, "rated": "500 W", "fuel": "natural-gas"}
    unit = make_unit(Generator.model_validate(table), 0.0)
    share = unit.data("efficiency_frac")
    said = [one.text for one in _quality(unit, SimpleNamespace(name="g"))]
    percent = f"{100 * share.value:.1f} %"
    note = f"g: fuel consumption is calculated with an efficiency of {percent}"
    assert (f"{note}: {share.source}" in said) == (share.status == "unverified")


@pytest.mark.parametrize(
    ("above_k", "starves_h", "severity"),
    [(4.9, 0, "warning"), (5.1, 0, None), (-1.0, 12, "serious")],
)
def test_propane_is_remarked_on_within_five_kelvin(above_k, starves_h, severity):
    """Starved is serious, within 5 K of it a warning, and beyond nothing is said."""
    table = {"name": "g", "kind": "thermoelectric", "rated": "54 W", "fuel": "propane"}
    unit = make_unit(Generator.model_validate(table), 0.0)
    cold = SimpleNamespace(
        burner_kpa=48.0, drop_kpa=25.0, limit_degc=-29.0, value_degc=-29.0 + above_k,
        hours_below=starves_h, tank_needed_l=1.0, tank_l=1000.0,
    )  # fmt: skip
    year = SimpleNamespace(name="g", pressure=cold, pressure_h=starves_h, no_fuel_h=0)
    said = [one.severity for one in _cold(unit, year)]
    assert said[:1] == ([severity] if severity else [])


def test_nothing_simulated_meets_nothing():
    """An option without a size that could be simulated is not met."""
    assert not OptionSize(trial=None).met


@pytest.mark.parametrize("parts", [1, 2, 4])
def test_a_record_in_parts_of_an_hour_has_the_load_of_an_hourly_one(plain, parts):
    """10 W are 240 Wh a day and 87.6 kWh a year whatever the step, each hour told again."""
    record = prepare(plain).record
    step = np.timedelta64(3600 // parts, "s")
    starts = record.start_utc[:, None] + step * np.arange(parts)
    told = {name: np.repeat(getattr(record, name), parts) for name in SERIES}
    finer = replace(
        record, start_utc=starts.ravel(), step_h=1 / parts, sun_offset_h=0.5 / parts,
        albedo_frac=None, snow_depth_m=None, **told,
    )  # fmt: skip
    run = simulate_size(prepare(plain, finer))
    assert [m.load_wh_per_day for m in run.monthly] == pytest.approx([240.0] * 12)
    assert run.ledger.terms_wh["loads served"] == pytest.approx(240.0 * 365)


def test_one_more_counts_the_hours_of_a_year(site_text):
    """Hours off and gained are the availability's, before and after the step."""
    text = site_text(LOAD.format(45, 45), 12) + 'availability = "90 %"\n'
    text = text.replace('autonomy = "3 d"', 'autonomy = "1 d"')
    found = size(read_site_text(text + LIMITS))
    assert found.pick.availability_frac < 1
    for row in found.one_more:
        off = (1 - row.availability_frac) * HOURS_PER_YEAR
        gained = (row.availability_frac - found.pick.availability_frac) * HOURS_PER_YEAR
        assert row.hours_off_per_year == pytest.approx(off)
        assert row.gained_hours_per_year == pytest.approx(gained)


@pytest.mark.parametrize("before", [0.2, 0.9])
@pytest.mark.parametrize("after", [0.3, 0.95, 1.0])
def test_a_step_counts_the_hours_of_a_year(before, after):
    """Also where the loads are off for most of it."""
    pick, more = (
        SimpleNamespace(
            cost=None, modules=1, battery_units=1, availability_frac=share,
            lowest_soc_frac=0.5, found=lambda _: 3.0,
        )
        for share in (before, after)
    )  # fmt: skip
    row = _row("array string", (pick, more), (1.0, 1.5))
    assert row.hours_off_per_year == pytest.approx((1 - after) * 365.25 * 24)
    assert row.gained_hours_per_year == pytest.approx((after - before) * 365.25 * 24)
    assert (row.gained_record_days, row.gained_design_days) == (0.5, 0.0)


def test_the_points_of_reliability_curves_stand_in_order():
    """Storage from one day up, levels from often to seldom."""
    days, levels = reliability.STORAGE_DAYS, reliability.LEVELS
    assert list(days) == sorted(days)
    assert days[0] == 1.0
    assert list(levels) == sorted(levels, reverse=True)
    assert list(reliability.LENGTH_BOUNDS_H) == sorted(reliability.LENGTH_BOUNDS_H)
