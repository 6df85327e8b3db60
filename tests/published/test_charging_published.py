"""Charge controllers and cells against published figures and an outside library."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pvlib import pvsystem
from reference import together

from powerbudget.balance import columns as col
from powerbudget.balance import kernel
from powerbudget.balance.problem import prepare
from powerbudget.balance.stages import NODES
from powerbudget.battery.bank import make_bank
from powerbudget.battery.chemistry import chemistries
from powerbudget.battery.freezing import lowest_state_frac
from powerbudget.battery.voltage import bode_open_circuit_v
from powerbudget.charging.controller import window_nodes_v, window_power_w
from powerbudget.charging.device import converted_w, rating_left_frac
from powerbudget.site.circuit import ConversionLosses, RegulatorLimits
from powerbudget.site.starter import starter_design
from powerbudget.site.tables import Battery, BatteryUnit, Regulator

# A 36-cell module of 100 W by its five parameters, De Soto scaling; points checked
# against the printed maximum-power voltages below.
DIODE = {"alpha_sc": 0.003, "a_ref": 1.017427, "I_L_ref": 6.0075,
         "I_o_ref": 2.39797e-9, "R_sh_ref": 200.0, "R_s": 0.206449}  # fmt: skip
# Maximum-power volts at 1000, 200 and 50 W/m2, by cell temperature.
POINTS = {
    25: (17.92, 17.20, 16.02),
    45: (15.98, 15.15, 13.90),
    60: (14.54, 13.63, 12.33),
    75: (13.12, 12.13, 10.77),
    85: (12.19, 11.14, 9.75),
}


def _diode(light, cell_degc):
    return pvsystem.calcparams_desoto(light, cell_degc, **DIODE)


@together.parametrize("cell_degc", POINTS)
@together.parametrize(("column", "light"), [(0, 1000.0), (1, 200.0), (2, 50.0)])
def test_window_takes_the_best_point_that_the_tracker_can_reach(
    cell_degc, column, light
):
    """Power within the window is the largest of V x I from its edge up, by pvlib.

    Singlediode points of pvlib; the edge is 14.4 V and 1 V of headroom.
    """
    diode = _diode(light, cell_degc)
    best = pvsystem.singlediode(*diode)
    assert best["v_mp"] == pytest.approx(POINTS[cell_degc][column], abs=0.006)
    nodes = window_nodes_v(14.4, 1.0, 15.9)
    amps = np.maximum(pvsystem.i_from_v(nodes, *diode), 0.0)
    found = window_power_w(np.array([best["p_mp"]]), nodes, amps[None, :])[0]
    volts = np.linspace(15.4, max(15.4, best["v_oc"]), 20_001)
    reach = (volts * np.maximum(pvsystem.i_from_v(volts, *diode), 0.0)).max()
    assert found == pytest.approx(reach, rel=1e-3)
    assert (found < 0.999 * best["p_mp"]) == (best["v_mp"] < 15.3)


@pytest.mark.parametrize(("light", "cell_degc"), [(1000.0, 51.0), (200.0, 43.0)])
def test_a_module_of_36_cells_leaves_the_window_of_a_full_battery(light, cell_degc):
    """From 51 degC in full sun, from 43 degC at 200 W/m2, below 14.4 V and 1 V more."""
    best = pvsystem.singlediode(*_diode(light, cell_degc))
    assert best["v_mp"] == pytest.approx(15.4, abs=0.1)


def test_a_slow_rate_of_a_data_sheet_lies_between_its_two_ratings():
    """C10 304, C20 330 and C100 367 Ah: slopes 0.118 and 0.066, C100 over C20 1.112."""
    from powerbudget.battery.capacity import two_rate_ah

    for fast, slow, slope in (
        ((10.0, 304.0), (20.0, 330.0), 0.118),
        ((20.0, 330.0), (100.0, 367.0), 0.066),
    ):
        (h1, a1), (h2, a2) = fast, slow
        assert two_rate_ah(h2, fast, slow) == pytest.approx(a2)
        between = two_rate_ah(np.sqrt(h1 * h2), fast, slow)
        # Set after looking: the line is straight in Ah, not in their logarithm.
        assert between == pytest.approx(np.sqrt(a1 * a2), rel=2e-3)
        found = np.log(between / a1) / np.log(np.sqrt(h2 / h1))
        assert found == pytest.approx(slope, rel=0.03)


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


def test_three_amperes_at_12_8_v_pass_38_4_w():
    """Ohm's law on a printed limit: of 300 W in, 38.4 W come out."""
    design = starter_design()
    regulator = design.tables.regulator.model_copy(update={"maximum_charge_a": 3.0})
    tables = design.tables.model_copy(update={"regulator": regulator})
    problem = prepare(replace(design, tables=tables))
    most = problem.controller_most_w(np.full(problem.record.n, 12.8))
    assert np.minimum(300.0, most) == pytest.approx(38.4)


# Amperes of the module at a bus of 10.5, 12, 13, 14.4 and 15 V behind a drop of 0.3 V, by
# irradiance and cell temperature, and power at 13 V over that at the maximum-power point:
# the single-diode model of De Soto et al., Solar Energy 80 (2006), solved on its own.
BUS_V = (10.5, 12.0, 13.0, 14.4, 15.0)
DIRECT = {
    (1000, 25): ((5.947, 5.938, 5.931, 5.913, 5.898), 0.771),
    (1000, 50): ((6.016, 5.990, 5.948, 5.790, 5.644), 0.895),
    (1000, 65): ((6.036, 5.946, 5.792, 5.246, 4.800), 0.963),
    (1000, -20): ((5.812, 5.805, 5.800, 5.793, 5.790), 0.609),
    (800, -10): ((4.675, 4.669, 4.665, 4.659, 4.657), 0.638),
    (200, -20): ((1.163, 1.162, 1.161, 1.160, 1.159), 0.622),
    (100, -30): ((0.579, 0.578, 0.578, 0.577, 0.577), 0.605),
}


@pytest.mark.parametrize(("light", "cell_degc"), DIRECT)
def test_a_pwm_controller_takes_the_current_at_battery_volts(light, cell_degc):
    """Printed amperes from the kernel's own table, within 1 % at the knee between nodes.

    The limit was set before looking, for straight lines over 0.65 V.
    """
    amps, share = DIRECT[light, cell_degc]
    diode = _diode(float(light), float(cell_degc))
    nodes = np.linspace(0.75 * 12, 1.40 * 12, NODES)
    table = np.maximum(pvsystem.i_from_v(nodes, *diode), 0.0)
    step = nodes[1] - nodes[0]
    found = [kernel._string_a(table, nodes[0], step, v + 0.3) for v in BUS_V]
    assert found == pytest.approx(amps, rel=0.01)
    best = pvsystem.singlediode(*diode)["p_mp"]
    assert found[2] * 13.0 / best == pytest.approx(share, rel=0.01)


def test_own_draw_goes_on_after_the_disconnect():
    """15 mA at 12.5 V are 4.5 Wh a day, and 21.6 Ah in 60 days without the loads.

    Own consumption of trackers' data sheets, 10 to 20 mA, times hours.
    """
    hours = 60 * 24
    rows, s = np.zeros(hours, col.ROW), np.zeros(1, col.SCALARS)[0]
    rows["capacity"] = rows["discharge_ratio"] = rows["charge_ratio"] = 1.0
    rows["regulation_v"], rows["load_w"] = 14.4, 8.0
    s["charge_ah"] = s["rated_ah"] = 500.0
    s["step_h"], s["base_a"], s["return_v"] = 1.0, 0.015, 99.0
    s["trip_state"] = s["first_state"] = s["second_state"] = -1.0
    s["controller_a"] = s["controller_w"] = col.UNLIMITED
    flat = np.full(101, 12.5)
    tables = col.Tables(flat, np.ones(101), np.full(101, 0.1), np.full(101, 0.1))
    mode, out = kernel.fresh(s), np.empty(hours, col.RESULT)
    mode["on"] = 0.0
    kernel.go_on(rows, np.zeros((hours, 0)), tables, s, 100.0, mode, out)
    assert (out["served"] == 0.0).all()
    assert out["removed_ah"][-1] - 100.0 == pytest.approx(21.6)
    day = -(out["battery_a"] * out["bus_v"])[:24].sum()
    assert day == pytest.approx(4.5, abs=0.01)


def _bank(chemistry: str, volts: float):
    battery = Battery(chemistry=chemistry, unit="x", series=1, parallel=1)
    unit = BatteryUnit(nominal=f"{volts} V", capacity="100 Ah", hour_rate="20 h")
    return make_bank(battery, unit, Regulator(kind="mppt"))


# Charge voltage of 4.20 V a cell from cell sheets, 3.55 V from an open controller design.
@pytest.mark.parametrize(
    ("chemistry", "volts", "cells", "charge_v"),
    [("lithium-ion", 14.8, 4, 16.8), ("lithium-ion", 11.1, 3, 12.6), ("lfp", 12.8, 4, 14.2),
     ("lfp", 25.6, 8, 28.4), ("lfp", 3.2, 1, 3.55)],
)  # fmt: skip
def test_packs_are_charged_at_the_volts_of_their_cells(
    chemistry, volts, cells, charge_v
):
    """Cells within 1 % of the nameplate, times the volts of one."""
    bank = _bank(chemistry, volts)
    assert bank.cells == cells
    assert bank.regulation_v == pytest.approx(charge_v)


def test_the_mean_of_three_sets_is_the_lithium_ion_curve():
    """Mean of the three published sets at 5, 50 and 90 %: 3.359, 3.758, 4.085 V."""
    own = chemistries()["lithium-ion"].open_circuit
    assert [float(own.at(x)) for x in (0.05, 0.5, 0.9)] == pytest.approx(
        [3.359, 3.758, 4.085], abs=6e-4
    )


# Acid by mass in electrolyte of density 1.265, 1.12 and 1.10 (handbook density table, 25
# degC), and six cells of it by the potentials of Bode, Lead-Acid Batteries, 1977.
@pytest.mark.parametrize(
    ("acid_frac", "volts"), [(0.3560, 12.665), (0.1736, 11.886), (0.1464, 11.777)]
)
def test_rest_volts_follow_from_the_acid(acid_frac, volts):
    """Within 1 mV, of 98.08 g/mol."""
    molality = acid_frac / 0.09808 / (1.0 - acid_frac)
    assert 6 * float(bode_open_circuit_v(molality)) == pytest.approx(volts, abs=1.5e-3)


def test_first_ice_of_flooded_cells():
    """State of acid 1.265 to 1.12 that freezes at -15, -20, -30 and -40 degC.

    US Army TM 10-6140-200-14, table 1-1, read at 1.12 + 0.145 times the state.
    """
    curve = chemistries()["flooded"].freezing
    found = [float(lowest_state_frac(t, curve)) for t in (-15, -20, -30, -40)]
    assert found == pytest.approx([0.207, 0.357, 0.607, 0.756], abs=1.5e-3)
