"""What must hold for every circuit check: signs, order, second ways of computing."""

from __future__ import annotations

import dataclasses
import math
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from powerbudget.battery.resistance import OHM_AH, ohmic_ohm, short_circuit_a
from powerbudget.checks.branches import lasting_end, peak_end, source_v
from powerbudget.checks.code_tables import (
    AWG_AMPACITY_A,
    MM2_AMPACITY_A,
    ampacity_a,
    highest_fuse_a,
    next_fuse_a,
    temperature_share,
)
from powerbudget.checks.inputs import collect
from powerbudget.checks.registry import FINDERS, check
from powerbudget.checks.result import (
    ORDER,
    Check,
    Found,
    Rule,
    at_least,
    at_most,
    worst_first,
)
from powerbudget.checks.voltage_profile import stairs
from powerbudget.loads.wiring import AWG_OHM_PER_KFT, MM2_OHM_PER_KM
from powerbudget.site.reader import read_site
from powerbudget.site.starter import starter_design

SITES = Path(__file__).resolve().parents[2] / "sites"
NAMES = ["balances-on-paper", "checked-station-12v", "checked-station-24v", "starter"]
RULE = Rule("rule", "text", "source", "remedy")
finite = st.floats(-1e6, 1e6)


@pytest.fixture(scope="module")
def reports():
    """Return the checks of some demo sites, each made once."""
    designs = {
        name: starter_design()
        if name == "starter"
        else read_site(SITES / f"{name}.toml")
        for name in NAMES
    }
    return {name: check(design) for name, design in designs.items()}


@given(value=finite, limit=finite)
def test_verdict_and_margin_tell_the_same(value, limit):
    """A check passes exactly where its margin is not negative, up to rounding."""
    found = Found("x", value, limit, "V")
    for make, spare in ((at_most, limit - value), (at_least, value - limit)):
        made = make(RULE, found)
        margin = spare / abs(limit) if limit else spare
        assert made.margin == pytest.approx(margin, rel=1e-9, abs=1e-9)
        if abs(spare) > 1e-6 * max(1.0, abs(limit)):
            assert (made.verdict == "pass") == (spare > 0)


@pytest.mark.parametrize("name", NAMES)
def test_worst_stands_first_and_every_row_can_be_looked_up(reports, name):
    """Order by verdict, then margin; each row has rule, source, remedy and unit."""
    checks = reports[name].checks
    ranks = [(ORDER[c.verdict], c.held.order) for c in checks]
    assert ranks == sorted(ranks)
    for c in checks:
        assert c.rule
        assert c.source
        assert c.remedy
        assert c.unit
        assert math.isfinite(c.margin)


@pytest.mark.parametrize("name", NAMES)
def test_failing_rows_have_no_margin_and_passing_ones_have(reports, name):
    """No row says pass with a negative margin, nor fail with a positive one."""
    for c in reports[name].checks:
        if c.verdict == "pass":
            assert c.margin >= -1e-6
        elif c.name != "voltage drop, peak":
            assert c.margin <= 1e-6


@pytest.mark.parametrize("name", NAMES)
def test_the_stairs_end_where_the_terminals_are(reports, name):
    """Losses taken one by one from the battery lead to the terminal voltage."""
    facts = reports[name].facts
    for item in facts.items:
        found = stairs(facts, item)
        level = found.steps[0].level_v
        for step in found.steps[1:]:
            level += step.change_v
            assert level == pytest.approx(step.level_v, abs=1e-9)
        assert level == pytest.approx(found.steps[-1].level_v, abs=1e-9)


@pytest.mark.parametrize("name", ["checked-station-12v", "checked-station-24v"])
def test_thicker_wire_never_lowers_the_terminals(name):
    """Each step to a thicker wire gives each branch as many volts or more."""
    facts = collect(read_site(SITES / f"{name}.toml"))
    found = []
    for size in ("18 AWG", "12 AWG", "6 AWG"):
        ends = []
        for item in facts.items:
            if item.load.wire is None:
                continue
            wire = item.load.wire.model_copy(update={"gauge": size})
            load = item.load.model_copy(update={"wire": wire})
            thick = dataclasses.replace(item, load=load)
            head = source_v(thick, facts.low_v)
            ends.append(lasting_end(facts, thick, head).volts)
            assert peak_end(facts, thick, head).volts <= ends[-1] + 1e-9
        found.append(ends)
    for thin, thick in pairwise(found):
        assert all(b >= a - 1e-9 for a, b in zip(thin, thick, strict=True))


def test_every_gauge_of_the_wire_tables_has_an_ampacity():
    """No wire that the reader takes is without a row, and more copper carries more."""
    assert set(AWG_AMPACITY_A) == set(AWG_OHM_PER_KFT)
    assert set(MM2_AMPACITY_A) == set(MM2_OHM_PER_KM)
    for names, unit in ((AWG_OHM_PER_KFT, "AWG"), (MM2_OHM_PER_KM, "mm2")):
        amps = [ampacity_a(f"{name} {unit}", None, 30.0) for name in names]
        assert amps == sorted(amps)


@settings(max_examples=60)
@given(
    gauge=st.sampled_from([f"{k} AWG" for k in AWG_AMPACITY_A]
                          + [f"{k} mm2" for k in MM2_AMPACITY_A]),
    air=st.floats(-40, 80),
    insulation=st.sampled_from([None, 60.0, 75.0, 90.0, 105.0]),
)  # fmt: skip
def test_hotter_air_never_lets_a_wire_carry_more(gauge, air, insulation):
    """Ampacity and the largest fuse fall as the air warms; both stay above zero or at it."""
    cool, warm = (ampacity_a(gauge, insulation, t) for t in (air, air + 5))
    assert 0 <= warm <= cool
    fuses = [highest_fuse_a(gauge, insulation, t) for t in (air, air + 5)]
    assert fuses[1] <= fuses[0]
    assert temperature_share(90.0, air) <= 1.0


@given(amps=st.floats(0.01, 399.0))
def test_the_next_fuse_is_not_below_and_not_far_above(amps):
    """The next usual fuse carries the current and is at most twice it from 1 A on."""
    fuse = next_fuse_a(amps)
    assert fuse >= amps
    if amps >= 1:
        assert fuse <= 2 * amps


@pytest.mark.parametrize("kind", OHM_AH)
def test_short_circuit_current_is_rest_voltage_over_least_resistance(kind, reports):
    """Doubling strings doubles it; a maker's figure adds up over strings."""
    from powerbudget.battery.chemistry import chemistries

    own, chemistry = reports["starter"].facts.bank, chemistries()[kind]
    volts = chemistry.cell_v * round(own.unit.nominal_v / chemistry.cell_v)
    unit = own.unit.model_copy(update={"nominal_v": volts})
    bank = dataclasses.replace(own, chemistry=chemistry, unit=unit)
    once = short_circuit_a(bank.with_strings(2))
    assert short_circuit_a(bank.with_strings(4)) == pytest.approx(2 * once)
    assert short_circuit_a(bank.with_strings(4), 900.0) == 3600.0
    cold, warm = (ohmic_ohm(bank, t, low_state=True) for t in (-30.0, 25.0))
    assert cold > warm > ohmic_ohm(bank, 25.0, best=True)
    # Thousands of amperes for 100 Ah of any chemistry, tens of thousands for a bank.
    assert 500 < short_circuit_a(bank.with_strings(1)) < 15_000


def test_worst_first_keeps_every_check():
    """Sorting drops none."""
    made = [at_most(RULE, Found(str(k), float(k), 3.0, "V")) for k in range(7)]
    assert sorted(c.subject for c in worst_first(made)) == [str(k) for k in range(7)]


@pytest.mark.parametrize("finder", FINDERS, ids=lambda f: f.__name__)
def test_each_finder_names_one_rule_for_each_subject(finder, reports):
    """No finder judges the same thing twice by the same rule."""
    for report in reports.values():
        rows = [row for row in finder(report.facts) if isinstance(row, Check)]
        keys = [(row.name, row.subject) for row in rows]
        assert len(keys) == len(set(keys))
