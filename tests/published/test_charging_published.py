"""Charge controllers and cells against published figures and an outside library."""

from __future__ import annotations

import numpy as np
import pytest
from pvlib import pvsystem

from powerbudget.battery.chemistry import chemistries
from powerbudget.charging.controller import window_nodes_v, window_power_w
from powerbudget.charging.device import converted_w, rating_left_frac
from powerbudget.site.circuit import ConversionLosses, RegulatorLimits

# A 36-cell module of 100 W by its five parameters, De Soto scaling; points checked
# against the printed maximum-power voltages below.
DIODE = {"alpha_sc": 0.003, "a_ref": 1.017427, "I_L_ref": 6.0075,
         "I_o_ref": 2.39797e-9, "R_sh_ref": 200.0, "R_s": 0.206449}  # fmt: skip
# Maximum-power volts at 1000 and 200 W/m2, by cell temperature.
POINTS = {
    25: (17.92, 17.20),
    45: (15.98, 15.15),
    60: (14.54, 13.63),
    75: (13.12, 12.13),
}


def _diode(light, cell_degc):
    return pvsystem.calcparams_desoto(light, cell_degc, **DIODE)


@pytest.mark.parametrize("cell_degc", POINTS)
@pytest.mark.parametrize(("column", "light"), [(0, 1000.0), (1, 200.0)])
def test_window_takes_the_best_point_that_the_tracker_can_reach(
    cell_degc, column, light
):
    """Power within the window is the largest of V x I from its edge up, by pvlib.

    Singlediode points of pvlib; the edge is 14.4 V and 1 V of headroom.
    """
    diode = _diode(light, cell_degc)
    best = pvsystem.singlediode(*diode)
    assert best["v_mp"] == pytest.approx(POINTS[cell_degc][column], abs=0.006)
    nodes = window_nodes_v(14.4, 1.0, 1.5)
    amps = np.maximum(pvsystem.i_from_v(nodes, *diode), 0.0)
    found = window_power_w(np.array([best["p_mp"]]), nodes, amps[None, :])[0]
    volts = np.linspace(15.4, max(15.4, best["v_oc"]), 20_001)
    reach = (volts * np.maximum(pvsystem.i_from_v(volts, *diode), 0.0)).max()
    assert found == pytest.approx(reach, rel=1e-3)
    assert (found < 0.999 * best["p_mp"]) == (best["v_mp"] < 15.3)


def test_a_tracker_wakes_at_its_start_voltage_and_sleeps_below_its_window():
    """It runs on between the two voltages, and an hour below the window sends it to sleep.

    Open-circuit volts of hours: rises to between the two, over the start, back, under.
    """
    nodes, open_v = np.array([14.4, 14.45, 18.4]), np.array([16, 19, 16, 14, 16, 19.0])
    amps = np.maximum(open_v[:, None] - nodes, 0.0)
    power = window_power_w(np.full(6, 1e3), nodes, amps)
    assert (power > 0).tolist() == [False, True, True, False, False, True]


# Volts of a cell at 0, 5, 10, 50, 90 and 100 % of charge, 25 degC: NMC 811 of Chen et
# al., J. Electrochem. Soc. 167 (2020) 080534; NMC 532 of Mohtat et al., J. Electrochem.
# Soc. 167 (2020) 110561; NCO of Ecker et al., J. Electrochem. Soc. 162 (2015) A1836.
STATES = (0.0, 0.05, 0.10, 0.50, 0.90, 1.0)
SETS = {
    "Chen": (3.000, 3.233, 3.392, 3.767, 4.097, 4.200),
    "Mohtat": (3.000, 3.473, 3.513, 3.717, 4.077, 4.200),
    "Ecker": (3.000, 3.370, 3.485, 3.789, 4.081, 4.200),
}


@pytest.mark.parametrize("name", SETS)
def test_lithium_ion_rest_volts_lie_among_three_published_sets(name):
    """Each set lies within the spread of the three: 0.24 V below 10 %, 0.11 V above."""
    own = chemistries()["lithium-ion"].open_circuit
    for state, volts in zip(STATES, SETS[name], strict=True):
        assert own.at(state) == pytest.approx(volts, abs=0.24 if state < 0.1 else 0.11)


def test_lithium_ion_keeps_its_set_points_and_windows():
    """Cell sheets: 4.20 V, charge 0 to 45 degC, discharge to -20 degC, 60 % left there."""
    ion = chemistries()["lithium-ion"]
    cold = ion.cold["conservative"]
    assert ion.absorption_v == 4.20
    assert (ion.charge_min_degc, ion.charge_max_degc) == (0, 45)
    assert cold.at(-20.0) >= 0.60
    assert cold.at(-20.5) == 0
    assert cold.at(-10.0) >= 0.85


# Trackers' data sheets print 97 to 98 % at best and 92 to 95 % of poor ones; the share
# of output at which each efficiency stands was worked out from the three loss sets by
# root finding on paper, not by this code.
LOSSES = {
    "usual": ((0.004, 0.012, 0.012), {0.01: 0.7082, 0.02: 0.8249, 0.05: 0.9152,
              0.1: 0.9495, 0.2: 0.9667, 0.3: 0.9719, 0.5: 0.9747, 0.8: 0.9741, 1: 0.9728}),
    "good": ((0.002, 0.010, 0.008), {0.1: 0.9701, 0.5: 0.9823, 1: 0.9804}),
    "poor": ((0.012, 0.030, 0.020), {0.01: 0.4484, 0.1: 0.8681, 0.5: 0.9398, 1: 0.9416}),
}  # fmt: skip


@pytest.mark.parametrize("name", LOSSES)
def test_efficiency_follows_the_load_of_a_tracker(name):
    """Of what goes in at each share of output, the printed efficiency comes out."""
    (constant, linear, square), points = LOSSES[name]
    losses = ConversionLosses(constant=constant, linear=linear, square=square)
    share = np.array(list(points))
    into = 440.0 * (share + constant + linear * share + square * share**2)
    out = converted_w(into, losses, 440.0)
    assert out == pytest.approx(440.0 * share, rel=1e-12)
    assert out / into == pytest.approx(np.array(list(points.values())), abs=6e-5)


def test_a_tracker_of_the_440_w_class_passes_the_printed_watts():
    """1 to 600 W in, 30 A at 13.2 V as the limit: the constant loss takes the first."""
    into = np.array([1.0, 2.0, 5.0, 20.0, 100.0, 300.0, 440.0, 600.0])
    found = np.minimum(converted_w(into, ConversionLosses(), 440.0), 30.0 * 13.2)
    printed = [0.0, 0.24, 3.20, 18.01, 96.8, 292.4, 396.0, 396.0]
    assert found == pytest.approx(printed, abs=0.05)


def test_heat_and_height_take_from_the_rating_as_sheets_print_it():
    """Full to 40 degC and 2000 m, half at 60 degC, nothing above 70; 5 % each 1000 m."""
    air = np.array([-30.0, 40.0, 50.0, 60.0, 70.0, 70.5])
    usual = RegulatorLimits()
    assert rating_left_frac(usual, air, 2000.0) == pytest.approx(
        [1.0, 1.0, 0.75, 0.5, 0.25, 0.0]
    )
    assert rating_left_frac(usual, air[:1], 4000.0) == pytest.approx([0.9])
