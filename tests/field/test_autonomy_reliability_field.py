"""Reported cases of disconnects and lost charge, and what the commands answer."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.balance.stages import fill_climate
from powerbudget.battery.bank import climate
from powerbudget.cli import app
from powerbudget.report.charts.autonomy import autonomy_chart
from powerbudget.report.charts.reliability import reliability_chart
from powerbudget.report.render.terminal import section_text
from powerbudget.report.sections.uncertainty import reliability_section
from powerbudget.report.sections.view import autonomy_view_section
from powerbudget.site.ensemble import Spread
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.autonomy_view import autonomy_view, moved_disconnect
from powerbudget.sizing.uncertainty.members import season_rows
from powerbudget.sizing.uncertainty.monte_carlo import ensemble
from powerbudget.sizing.uncertainty.reliability import (
    fit_curve,
    iso_curves,
    length_classes,
    part_bank,
    reliability_view,
    unmet_frac,
)


@pytest.fixture(scope="module")
def view(prepared):
    """Return the example's autonomy from every side."""
    return autonomy_view(simulate_size(prepared("starter")))


@pytest.fixture(scope="module")
def dark(prepared):
    """Return the coastal site with too small an array, and its reliability."""
    problem = prepared("coastal-meter-run")
    tables = problem.design.tables
    small = tables.array.model_copy(update={"parallel": 2})

    design = replace(problem.design, tables=tables.model_copy(update={"array": small}))
    problem = replace(problem, design=design)
    return problem, reliability_view(problem)


def test_which_disconnect_is_shown_at_three_settings(view):
    """Settings from 10.5 to 11.7 V are in use on 12 V; the choice is put on the page."""
    # Reported: 10.5 V default, 10.8 V in a fleet, 11.0 V fixed, 11.1-11.7 V advised.
    volts = list(dict.fromkeys(row.disconnect for row in view.settings))
    assert volts == ["11.3 V", "11.6 V", "11.9 V"]
    page = section_text(autonomy_view_section(view, typical=True))
    assert "LVD setting" in page
    assert "site file" in page


def test_blown_fuse_drains_the_bank_that_nothing_protects(view):
    """Charge lost: with no disconnect the bank is drained days after the loads would go."""
    # Reported: a blown fuse in a charger, radios drained batteries to 2 V.
    january = view.lost[0]
    assert 0 < january.to_disconnect_h < january.unprotected_h
    assert january.unprotected_damage == "overdischarge"
    assert january.unprotected_h < 24 * 14
    page = section_text(autonomy_view_section(view, typical=True))
    assert "LVD fails" in page.replace("\n", " ")
    assert "overdischarge" in page


@pytest.mark.slow
def test_polar_bank_without_disconnect_freezes(prepared):
    """Where winters are deep enough, damage by lost charge is ice, and it is said."""
    problem = prepared("starter")

    bank = problem.bank.with_cold_curve("slow-rate")
    cold = climate(bank, problem.conditions.battery_degc - 25.0)
    rows = problem.hourly.copy()
    fill_climate(rows, cold)
    run = simulate_size(
        replace(problem, bank=bank, conditions=cold, hourly=rows), 40, 30
    )
    view = autonomy_view(run)
    assert any(row.unprotected_damage == "frost" for row in view.lost)
    assert any("the battery freezes" in finding.text for finding in view.findings)


def test_disconnect_by_state_moves_by_ten_points(prepared):
    """A disconnect by charge has settings in percent and never leaves 0 to 95."""
    problem = prepared("starter")
    tables = problem.design.tables
    bus = tables.bus.model_copy(
        update={"disconnect_v": None, "reconnect_v": None,
                "disconnect_soc_frac": 0.05, "reconnect_soc_frac": 0.5}
    )  # fmt: skip
    design = replace(problem.design, tables=tables.model_copy(update={"bus": bus}))
    problem = replace(problem, design=design)
    assert [moved_disconnect(problem, k)[1] for k in (-1, 0, 1)] == [
        "SOC 0 %",
        "SOC 5 %",
        "SOC 15 %",
    ]


@pytest.mark.slow
def test_run_with_autonomy_adds_its_key_and_picture(tmp_path):
    """`run --autonomy --json` keeps every key and adds the view."""
    picture = tmp_path / "autonomy.png"
    args = ["run", "--autonomy", "--json", "--plot-autonomy", str(picture)]
    found = CliRunner().invoke(app, args)
    assert found.exit_code == 0
    answer = json.loads(found.stdout)
    assert answer["autonomy_record_days"] == pytest.approx(
        min(answer["autonomy_view"]["by_month_days"])
    )
    assert np.shape(answer["autonomy_view"]["by_month_hour_days"]) == (12, 24)
    assert picture.stat().st_size > 10_000


def test_lost_load_adds_up(dark):
    """Hours, energy, outages and months of the view are those of the run."""
    problem, view = dark
    run = simulate_size(problem)
    hours = sum(outage.hours for outage in run.outages)
    assert hours > 100
    assert view.hours_off_per_year * view.years == pytest.approx(hours)
    assert sum(view.hours_off_by_month) == pytest.approx(view.hours_off_per_year)
    assert sum(c.hours for c in view.lengths) == pytest.approx(hours)
    assert sum(c.outages for c in view.lengths) == len(run.outages)
    assert view.lolp_hours_frac == pytest.approx(1 - run.availability_frac)
    assert view.unmet_wh_per_year * view.years == pytest.approx(
        run.energy_not_served_wh
    )
    assert view.longest_outage_h == max(outage.hours for outage in run.outages)


def test_curves_fall_with_storage_and_rise_with_reliability(dark):
    """More storage never needs more array, and fewer losses never less."""
    _, view = dark
    levels = sorted({p.llp_frac for p in view.curves}, reverse=True)
    assert len(levels) == 4
    by_level = {
        level: [p for p in view.curves if p.llp_frac == level] for level in levels
    }
    for points in by_level.values():
        ratios = [p.array_ratio for p in points]
        assert all(b <= 1.02 * a for a, b in pairwise(ratios))
    for easy, hard in pairwise(levels):
        at = {p.battery_strings: p.array_ratio for p in by_level[easy]}
        for point in by_level[hard]:
            assert point.array_ratio >= 0.99 * at[point.battery_strings]


def test_points_of_a_curve_lose_what_they_say(prepared):
    """The hourly run at a point loses its level and no more, and 3 % less array more."""
    problem = prepared("starter")
    points = iso_curves(problem, (0.05,), (3.0, 8.0))
    assert len(points) == 2
    for point in points:
        bank = part_bank(problem.bank, point.battery_strings)
        assert unmet_frac(problem, point.array_strings, bank) <= 0.05
        assert unmet_frac(problem, 0.97 * point.array_strings, bank) > 0.05


def test_fit_finds_a_curve_of_the_published_form(dark):
    """Points of C_A = 1.3 C_S^-0.25 give that factor and exponent back."""
    _, view = dark
    line = [
        replace(view.curves[0], storage_days=d, array_ratio=1.3 * d**-0.25)
        for d in (1.0, 2.0, 5.0, 9.0)
    ]
    fit = fit_curve(line)
    assert fit is not None
    assert (fit.f, fit.u, fit.points) == (pytest.approx(1.3), pytest.approx(0.25), 4)
    assert fit_curve(line[:2]) is None


def test_few_and_many_real_winters_are_told_apart():
    """Draws from real winters say how many there are, whatever the number of draws."""
    site = Path(__file__).parents[2] / "sites" / "northern-wellpad-no-record.toml"
    text = site.read_text(encoding="utf-8")
    assert "years = 30" in text
    problem = prepare(read_site_text(text.replace("years = 30", "years = 12")))
    spread = Spread().model_copy(update={"years_from": "record"})
    found = ensemble(problem, 3, 1, sizes=[(4, 8)], spread=spread)
    winters = len(season_rows(problem.record))
    assert winters >= 10
    assert any(
        f"{winters} actual winters" in finding.text for finding in found.findings
    )


def test_an_outage_of_a_day_is_counted_once():
    """Bounds belong to the longer class, and every outage to one class."""
    found = length_classes([5.9, 6.0, 24.0, 72.0, 168.0, 1000.0], 2.0)
    assert [c.outages for c in found] == [1, 1, 1, 1, 2]
    assert found[-1].per_year == 1.0


@pytest.mark.slow
def test_pages_and_pictures_of_good_and_bad_sites(dark, view, prepared, tmp_path):
    """A site that loses load and one that does not both get page and picture."""
    _, bad = dark
    good = reliability_view(prepared("starter"))
    assert "LOLP" in section_text(reliability_section(bad))
    assert "longest" in section_text(reliability_section(bad))
    assert "longest" not in section_text(reliability_section(good))
    assert "one typical year cannot show rare losses" in section_text(
        reliability_section(good)
    )
    for number, lost in enumerate((bad, good)):
        target = tmp_path / f"{number}.svg"
        reliability_chart(lost, "a site", target)
        assert target.stat().st_size > 10_000
    target = tmp_path / "autonomy.svg"
    autonomy_chart(view, "a site", target)
    assert target.stat().st_size > 10_000
