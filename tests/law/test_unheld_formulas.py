"""Formulas that no whole answer goes through, held at their ends and a second way."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from reference import together

from powerbudget.charging.controller import describe_orientation
from powerbudget.fleet.page import fleet_page
from powerbudget.generators.output import couple_efficiency_frac
from powerbudget.site.starter import starter_design
from powerbudget.sizing.new_site import _bus
from powerbudget.sizing.worksheet.backup_generator import backup_year

SIDES = ("north", "north-east", "east", "south-east", "south", "south-west", "west",
         "north-west")  # fmt: skip


@together.parametrize("turn", range(17))
def test_a_direction_is_called_by_the_nearest_eighth_of_the_compass(turn):
    """Every 22.5 degrees: an eighth by its name, what lies near one about it."""
    for off in (0.0, -20.0, 20.0):
        azimuth = (45.0 * turn + off) % 360.0
        said = describe_orientation(30.0, azimuth)
        about = "" if off == 0.0 else "about "
        name = SIDES[turn % 8]
        assert said == f"30° tilt, azimuth {azimuth:g}° ({about}{name})"


@pytest.mark.parametrize("merit", [0.2, 0.8, 2.0])
@pytest.mark.parametrize(("hot", "cold"), [(538.0, 163.0), (250.0, 30.0)])
def test_a_couple_is_the_best_load_on_its_own_resistance(hot, cold, merit):
    """Efficiency over every load ratio; the closed form is its highest, below Carnot's."""
    warm, cool = hot + 273.15, cold + 273.15
    ratio = np.linspace(0.2, 6.0, 60_001)
    mean = (warm + cool) / 2
    # Current through the couple: heat conducted, carried and half of Joule's.
    carnot = (warm - cool) / warm
    z = merit / mean
    losses = (1 + ratio) ** 2 / (z * warm) + (1 + ratio) - carnot / 2
    best = float((carnot * ratio / losses).max())
    found = couple_efficiency_frac(hot, cold, merit)
    assert found == pytest.approx(best, rel=1e-6)
    assert found < carnot
    assert couple_efficiency_frac(hot, cold, 0.0) == 0.0


@pytest.mark.parametrize("volts", [12.0, 30.0, 48.0])
@pytest.mark.parametrize("share", [None, 0.25])
def test_a_new_site_has_the_bus_of_the_example_at_its_own_volts(volts, share):
    """Volts in proportion, the leakage as it is, a contingency that a list states."""
    own = starter_design().tables.bus
    said = dict(line.split(" = ") for line in _bus(volts, share)[1:])
    figure = {key: float(text.split('"')[1].split()[0]) for key, text in said.items()}
    assert figure["nominal"] == volts
    for key, at in (("low_voltage_disconnect", own.disconnect_v),
                    ("low_voltage_reconnect", own.reconnect_v)):  # fmt: skip
        assert figure[key] / volts == pytest.approx(at / own.nominal_v, rel=1e-3)
    kept = own.contingency_frac if share is None else share
    assert figure["contingency"] == pytest.approx(100 * kept)
    assert figure["standing_leakage"] == pytest.approx(1000 * own.leakage_a)
    assert ("stated by the list" in said["contingency"]) == (share is not None)


def test_a_backup_runs_for_what_is_left_open_over_what_it_gives():
    """1 % of 1 kW through 8,760 h from 800 W at 0.5 L an hour."""
    unit = SimpleNamespace(
        bus_w=lambda degc: 800.0 - degc, terminal_w=lambda degc: 900.0 + degc,
        fuel_per_day=lambda watts: watts / 900.0 * 12.0,
    )  # fmt: skip
    found = backup_year(unit, 1000.0, 0.01, 0.0)
    assert found.energy_kwh == pytest.approx(87.6)
    assert found.hours == pytest.approx(109.5)
    assert found.fuel == pytest.approx(54.75)
    assert backup_year(unit, 1000.0, 0.01, 400.0).hours == pytest.approx(219.0)


def row(file, met, served, fault=""):
    """Return one row of a fleet."""
    return SimpleNamespace(
        file=file, fault=fault, met=met, failed="" if met else "availability",
        availability_frac=served, wh_per_day=1234.4, array_w=400.0, battery_ah=205.6,
        lowest_soc_frac=0.456, autonomy_design_days=4.26, autonomy_record_days=3.14,
        pick_array_w=600.0, pick_battery_ah=None,
    )  # fmt: skip


def test_a_fleet_begins_with_what_fails_worst_and_counts_every_site():
    """Failing sites by their availability, then those that meet; faults at the end."""
    rows = [row("good", True, 1.0), row("bad", False, 0.97), row("worse", False, 0.5),
            row("broken", None, None, "cannot be read")]  # fmt: skip
    page = fleet_page(rows, sizes=True)
    assert page.startswith("4 sites: 1 PASS, 2 FAIL, 1 with input errors")
    places = [page.index(name) for name in ("worse", "bad", "good", "broken")]
    assert places == sorted(places)
    line = next(x for x in page.splitlines() if x.startswith("bad"))
    assert line.split()[1:] == ["FAIL", "1,234", "400", "206", "97.00", "%", "46", "%",
                                "4.3", "3.1", "600", "none"]  # fmt: skip
    assert "  bad: availability" in page
    assert "  broken: cannot be read" in page
    assert "with input errors" not in fleet_page(rows[:1], sizes=False)
