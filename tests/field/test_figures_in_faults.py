"""The figures that a refusal or a finding names are those of what was asked, by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from reference import together

from powerbudget.array.module import _no_curve
from powerbudget.battery.box import check_temperature
from powerbudget.charging.controller import (
    open_circuit_cold_v,
    orientation_findings,
    voltage_class_findings,
)
from powerbudget.errors import InputError
from powerbudget.site.module_checks import point_faults
from powerbudget.sizing.search import _long_enough
from powerbudget.sizing.uncertainty.members import season_rows
from powerbudget.weather.horizon import check_points

SHEET = {
    "power_w": 100.0, "max_power_v": 18.0, "max_power_a": 5.56, "open_circuit_v": 22.0,
    "short_circuit_a": 6.0, "open_circuit_per_k": -0.003, "cells": 36,
}  # fmt: skip


def sheet(**figures):
    """Return a data sheet with some figures of it changed."""
    return SimpleNamespace(**{**SHEET, **figures})


def module(volts=18.0):
    """Return a module of some volts, its coefficient -0.3 %/K of 22 V."""
    return SimpleNamespace(
        max_power_v=volts, open_circuit_v=22.0, open_circuit_per_k=-0.003
    )


@pytest.mark.parametrize(
    ("figures", "key", "given", "allowed"),
    [({"max_power_v": 22.5}, "max_power_voltage", "22.5 V", "less than 22 V"),
     ({"max_power_a": 6.25}, "max_power_current", "6.25 A", "less than 6 A"),
     ({"power_w": 130.0}, "power", "130 W", "of 100.1 W"),
     ({"cells": 72}, None, None, None),
     ({"cells": 20}, "cells", "20", "36 cells"),
     ({"open_circuit_v": 40.0, "cells": 64}, "open_circuit_voltage", "0.417", "0.")],
)  # fmt: skip
def test_a_data_sheet_that_cannot_be_right_is_told_with_its_own_figures(
    figures, key, given, allowed
):
    """Products and quotients of the points are formed from the sheet."""
    found = list(point_faults(sheet(**figures), "m"))
    if key is None:
        assert found == []
        return
    fault = next(f for f in found if key in f.where)
    assert fault.given == given
    assert allowed in fault.allowed
    if key == "cells":
        assert "22 V would be 1.10 V for each cell" in fault.problem


@pytest.mark.parametrize("groups", [1, 2, 3, 4])
def test_groups_of_cells_in_parallel_are_sold_up_to_four(groups):
    """Half-cut modules print all their cells; each has its volts all the same."""
    assert not list(point_faults(sheet(cells=36 * groups), "m"))


@pytest.mark.parametrize(
    ("figures", "key", "given"),
    [({"open_circuit_per_k": -0.0046}, "open_circuit_temperature", "-0.46 %/K"),
     ({"open_circuit_per_k": -0.0019}, "open_circuit_temperature", "-0.19 %/K"),
     ({"max_power_a": 5.0}, "short_circuit_current", "Imp / Isc = 0.833"),
     ({"max_power_a": 5.9}, "short_circuit_current", "Imp / Isc = 0.983"),
     ({}, "open_circuit_voltage", "Vmp / Voc = 0.818")],
)  # fmt: skip
def test_the_point_that_stands_out_of_a_data_sheet_is_named(figures, key, given):
    """The coefficient first, then the current, and else the voltage."""
    fault = _no_curve(sheet(**figures), "m")
    assert (fault.where, fault.given) == (f"m.{key}", given)


def test_a_cold_string_rises_by_its_coefficient():
    """22 V and 0.3 %/K: 40 K below 25 degC are 12 % more, times the modules."""
    assert open_circuit_cold_v(module(), 3, -15.0) == pytest.approx(3 * 22.0 * 1.12)
    assert open_circuit_cold_v(module(), 1, 25.0) == 22.0


@pytest.mark.parametrize(
    ("volts", "series", "kind", "severity", "said"),
    [(18.0, 1, "pwm", None, ""), (18.0, 2, "mppt", None, ""),
     (19.7, 1, "pwm", None, ""),
     (19.9, 1, "pwm", "warning", "about 13.2 V of 19.9 V are used, so about 34 %"),
     (25.0, 1, "pwm", "serious", "about 13.2 V of 25.0 V are used, so about 47 %"),
     (14.0, 1, "mppt", "serious", "14.0 V, 11.7 V with cells at 60 °C"),
     (16.0, 1, "mppt", "warning", "16.0 V, 13.7 V with cells at 60 °C"),
     (17.0, 1, "mppt", None, "")],
)  # fmt: skip
def test_strings_too_low_or_too_high_for_a_bus_are_told_in_volts_and_percent(
    volts, series, kind, severity, said
):
    """A 12 V bus charges at about 14.4 V; hot cells lose 22 V x 0.3 % x 35 K = 2.31 V."""
    found = voltage_class_findings(module(volts), series, 12.0, kind)
    assert [one.severity for one in found] == ([severity] if severity else [])
    for one in found:
        assert said in one.text
        assert "14.4 V" in one.text or kind == "pwm"


@together.parametrize(
    ("latitude", "tilt", "azimuth", "severity", "said"),
    [(50, 60, 180, None, ""), (50, 60, 225, None, ""), (50, 60, 135, None, ""),
     (50, 60, 226, "note", "azimuth is 46° from south"),
     (50, 60, 91, "note", "azimuth is 89° from south"),
     (50, 60, 271, "serious", "south is 180°"),
     (-50, 60, 350, None, ""), (-50, 60, 50, "note", "azimuth is 50° from north"),
     (-50, 60, 180, "serious", "north is 0°"), (10, 60, 0, None, ""),
     (16, 9.9, 0, "note", "at 9.9° tilt hold water"), (36, 29, 180, "note", "collect snow"),
     (34, 29, 180, None, ""), (36, 30, 180, None, "")],
)  # fmt: skip
def test_a_panel_that_stands_oddly_is_told_with_its_angle(
    latitude, tilt, azimuth, severity, said
):
    """Away from the equator by more than 45 deg; flat where snow or dirt stays."""
    found = orientation_findings(latitude, tilt, azimuth)
    assert [one.severity for one in found] == ([severity] if severity else [])
    assert all(said in one.text for one in found)


@pytest.mark.parametrize(
    ("points", "given"),
    [(((0.0, 5.0), (360.0, 89.0)), ""), (((361.0, 5.0),), "361, 5"),
     (((10.0, 90.0),), "10, 90"), (((10.0, -5.5),), "10, -5.5"),
     (((-0.5, 2.0),), "-0.5, 2")],
)  # fmt: skip
def test_points_of_a_horizon_lie_on_the_compass(points, given):
    """Both ends of the compass may be stated; nothing stands above the zenith."""
    if not given:
        check_points(points, "here")
        return
    with pytest.raises(InputError) as caught:
        check_points(points, "here")
    assert caught.value.faults[0].given == given


@pytest.mark.parametrize(("days", "asked"), [(365, 365.0), (365, 366.0), (730, 731.0)])
@pytest.mark.parametrize("step_h", [1.0, 0.5])
def test_an_autonomy_longer_than_its_record_is_refused_with_both(days, asked, step_h):
    """The record's days are its intervals times their length."""
    record = SimpleNamespace(n=round(24 * days / step_h), step_h=step_h)
    criteria = SimpleNamespace(autonomy_d=asked)
    tables = SimpleNamespace(criteria=criteria)
    problem = SimpleNamespace(record=record, design=SimpleNamespace(tables=tables))
    if asked <= days:
        _long_enough(problem)
        return
    with pytest.raises(InputError) as caught:
        _long_enough(problem)
    fault = caught.value.faults[0]
    assert (fault.given, fault.allowed) == (f"{asked:g} d", f"up to {days} d")


@pytest.mark.parametrize("days", [90, 250])
def test_a_record_of_less_than_a_year_makes_no_seasons(days):
    """Told in whole days."""
    hours = np.datetime64("2003-01-01T00") + np.arange(24 * days)
    record = SimpleNamespace(
        n=hours.size, step_h=1.0, latitude_deg=50.0, day_local=hours.astype("M8[D]")
    )
    with pytest.raises(InputError) as caught:
        season_rows(record)
    assert caught.value.faults[0].given == f"{days} days"


@pytest.mark.parametrize(
    ("degc", "said"),
    [((-79.9, 79.9), ""), ((-81.4, 10.0), "-81 to 10 °C"),
     ((-5.0, 96.0), "-5 to 96 °C")],
)  # fmt: skip
def test_a_battery_where_no_figure_holds_is_refused_with_both_ends(degc, said):
    """Colder or hotter than 80 degC on either side."""
    battery = SimpleNamespace(box=None, box_warmer_k=90.0, heater=None)
    if not said:
        check_temperature(battery, np.array(degc))
        return
    with pytest.raises(InputError) as caught:
        check_temperature(battery, np.array(degc))
    fault = caught.value.faults[0]
    assert said in fault.problem
    assert fault.allowed == "-80 to 80 °C"
