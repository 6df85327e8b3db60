"""Autonomy from every side, against the two autonomies and plain simulations."""

from __future__ import annotations

import math

import numpy as np
import pytest

from powerbudget.balance.simulation import simulate_size
from powerbudget.sizing.autonomy import autonomy, record_autonomy
from powerbudget.sizing.autonomy_view import (
    autonomy_view,
    charge_lost,
    holds_days,
    moved_disconnect,
    view_starts,
)


@pytest.fixture(scope="module")
def pair(prepared):
    """Return the example's run and its view."""
    run = simulate_size(prepared("starter"))
    return run, autonomy_view(run)


def test_worst_month_is_the_record_autonomy(pair):
    """The least over months and over the heat map is that of `autonomy`."""
    run, view = pair
    days, start = record_autonomy(run)
    assert min(view.by_month_days) == pytest.approx(days)
    assert np.nanmin(view.by_month_hour_days) == pytest.approx(days)
    month = run.problem.record.month[start] - 1
    assert view.by_month_days[month] == pytest.approx(days)
    assert view.by_age["as specified"] == pytest.approx(view.by_month_days)


def test_settings_hold_the_sites_own_autonomies(pair):
    """The row of the site's own setting and age is what `run` reports."""
    run, view = pair
    both = autonomy(run)
    (own,) = [row for row in view.settings if row.own and row.age == "as specified"]
    assert own.design_days == pytest.approx(both.design_days)
    assert own.record_days == pytest.approx(both.record_days)


def test_older_bank_and_higher_disconnect_never_last_longer(pair):
    """Autonomy falls with age and with the setting, month by month too."""
    _, view = pair
    assert len(view.settings) == 9
    for age in ("new", "as specified", "end of life"):
        days = [row.design_days for row in view.settings if row.age == age]
        assert days[0] >= days[1] >= days[2]
        assert days[0] > days[2]
    for name in {row.disconnect for row in view.settings}:
        days = [row.design_days for row in view.settings if row.disconnect == name]
        assert days[0] > days[1] > days[2]
    for new, old in zip(view.by_age["new"], view.by_age["end of life"], strict=True):
        assert new > old


def test_lost_charge_ends_at_the_autonomy_of_its_month(pair):
    """Hours to the disconnect are the month's shortest autonomy; the disconnect delays harm."""
    _, view = pair
    assert [row.month for row in view.lost] == list(range(1, 13))
    for row in view.lost:
        assert row.to_disconnect_h / 24 == pytest.approx(
            view.by_month_days[row.month - 1]
        )
        # Without the disconnect the loads go on, so harm comes no later.
        assert row.unprotected_h <= row.to_damage_h
        if row.to_damage_h < row.to_disconnect_h:
            # A warm bank is under 20 % before it falls to the disconnect voltage.
            assert row.unprotected_h == row.to_damage_h
    winter = view.lost[11]
    assert winter.to_disconnect_h < winter.unprotected_h < winter.to_damage_h


def test_disconnect_keeps_charge_for_the_frost(prepared):
    """In deep cold a bank whose disconnect fails freezes before one that is kept."""
    problem = prepared("fleet-station-north")
    run = simulate_size(problem)
    cold = int(np.argmin(problem.conditions.battery_degc))
    lost = charge_lost(run, cold)
    assert lost.unprotected_h <= lost.to_damage_h
    assert lost.to_disconnect_h <= lost.to_damage_h


def test_starts_of_long_records_come_to_every_clock_hour(prepared):
    """Thirty years are thinned, and still begin at all 24 hours of the day."""
    run = simulate_size(prepared("northern-wellpad-no-record"))
    starts, every_h = view_starts(run)
    assert starts.size <= 20_000
    assert every_h > 1
    assert set(np.floor(run.problem.record.hour_local[starts])) == set(range(24))


def test_loads_that_are_off_have_no_autonomy(prepared):
    """A start in an outage counts as nothing, not as a fresh battery."""
    run = simulate_size(prepared("starter"), 4, 2)
    off = np.flatnonzero(~run.served)
    assert off.size
    assert holds_days(run, off).max() == 0.0
    assert min(autonomy_view(run).by_month_days) == 0.0


def test_moved_disconnect_keeps_its_gap(prepared):
    """One step is 0.3 V on 12 V, twice that on 24 V, and the reconnect moves along."""
    for name in ("starter", "coastal-meter-run"):
        problem = prepared(name)
        bus = problem.design.tables.bus
        moved = moved_disconnect(problem, 1)[0].design.tables.bus
        step = 0.3 * bus.nominal_v / 12
        assert moved.disconnect_v - bus.disconnect_v == pytest.approx(step)
        assert moved.reconnect_v - bus.reconnect_v == pytest.approx(step)
        s = moved_disconnect(problem, -1)[0].scalars(1, problem.bank)
        assert s["trip_v"] == pytest.approx(bus.disconnect_v - step)


def test_months_that_the_record_lacks_are_not_made_up(pair):
    """Every month of a whole year has a figure; none is infinite."""
    _, view = pair
    assert all(math.isfinite(x) for x in view.by_month_days)
    assert np.isfinite(view.by_month_hour_days).all()
