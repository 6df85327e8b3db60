"""Constants of the data files against one outside set of values with their ranges.

Each row: what the set calls it, its value and range, and the home of the same figure
here.  The set itself is read where it lies beside the checkout; the copies below stand
without it.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from powerbudget.battery.ageing import heat_of_cycles, make_life
from powerbudget.battery.chemistry import chemistries
from powerbudget.compare import emissions
from powerbudget.data.figures import entries
from powerbudget.site.circuit import TRACKING_FRAC
from powerbudget.site.parts import load_parts
from powerbudget.site.tables import Regulator

SET = Path(__file__).parents[3] / "shared" / "reference" / "physics-values.toml"


def figure(machine, key, fuel="", below_w=float("inf"), class_w=None, table="machines"):
    """Return a figure of a machine or fuel, of one fuel and size where it has several."""
    rows = entries(table)[machine].figures[key]
    (row,) = [
        r for r in rows
        if (r.fuel, r.below_w, r.class_w) == (fuel, below_w, class_w)
    ]  # fmt: skip
    return row.value


def slip(name):
    """Return the methane of a burner or engine from the table of emissions."""
    path = Path(emissions.__file__).with_suffix(".toml")
    table = tomllib.loads(path.read_text("utf-8"))
    kind, _, which = name.partition(".")
    return table[kind][which]["ch4_kg_per_mmbtu"]


def cell(name, key, *at):
    """Return a figure or a point of a curve of a chemistry."""
    found = getattr(chemistries()[name], key)
    return float(found.at(*at)) if at else found


def cold(name, degc):
    """Return the conservative share of capacity that a chemistry has in the cold."""
    return float(chemistries()[name].cold["conservative"].at(degc))


@cache
def tracker():
    """Return a generic tracking controller of the library."""
    return load_parts()["charge-controller-mppt-75v-15a"]


MPPT = Regulator(kind="mppt")
HELD = {
    # Thermoelectric generators: makers' manual of the 220 W class, pp. 35 and 39; ISA.
    ("teg", "efficiency_gas"): (0.028, figure("thermoelectric", "efficiency_frac", "natural-gas")),
    ("teg", "efficiency_propane"): (
        0.031, figure("thermoelectric", "efficiency_frac", "propane", 300)),
    ("teg", "ambient"): (-0.0036, figure("thermoelectric", "ambient_per_k")),
    ("teg", "altitude_reset"): (0.037, figure("thermoelectric", "altitude_per_km")),
    ("teg", "altitude_not_reset"): (
        0.12, figure("thermoelectric", "altitude_not_adjusted_per_km")),
    ("teg", "altitude_reference"): (0.0, figure("thermoelectric", "altitude_reference_m")),
    ("teg", "start_hours"): (1.25, figure("thermoelectric", "warm_up_h")),
    ("teg", "ageing"): (0.0075, figure("thermoelectric", "ageing_per_y")),
    ("teg", "no_load_fuel"): (1.0, figure("thermoelectric", "no_load_fuel_frac")),
    # Engines: fuel tables of six standby sets; derating in their manuals; AP-42 3.2.
    ("engine", "efficiency_5_30_kw"): (0.21, figure("engine", "efficiency_frac")),
    ("engine", "efficiency_1_4_kw"): (0.19, figure("engine", "efficiency_frac", "", 5000)),
    ("engine", "no_load_fuel"): (0.30, figure("engine", "no_load_fuel_frac")),
    ("engine", "altitude"): (0.117, figure("engine", "altitude_per_km")),
    ("engine", "altitude_reference"): (0.0, figure("engine", "altitude_reference_m")),
    ("engine", "heat"): (0.0018, -figure("engine", "ambient_per_k")),
    ("engine", "heat_reference"): (25.0, figure("engine", "ambient_from_degc")),
    ("engine", "slip_rich"): (0.104, slip("slip.rich-burn-engine")),
    ("engine", "slip_lean"): (0.567, slip("slip.lean-burn-engine")),
    ("engine", "slip_propane"): (0.003, slip("fuel.propane")),
    # Fuel cells: Energy Environ. Sci. 7 (2014); ASME J. Electrochem. 18(4) 041002 (2021).
    ("methanol_cell", "stack_life"): (6000.0, figure("methanol-cell", "stack_life_h")),
    ("methanol_cell", "unit_life"): (20000.0, figure("methanol-cell", "life_h")),
    ("methanol_cell", "stack_price_share"): (0.35, figure("methanol-cell", "stack_price_frac")),
    ("methanol_cell", "altitude_above_1500"): (0.10, figure("methanol-cell", "altitude_per_km")),
    ("solid_oxide_cell", "stack_life"): (10000.0, figure("solid-oxide-cell", "stack_life_h")),
    ("solid_oxide_cell", "stack_starts"): (100.0, figure("solid-oxide-cell", "stack_starts")),
    ("solid_oxide_cell", "start_hours"): (3.0, figure("solid-oxide-cell", "warm_up_h")),
    ("solid_oxide_cell", "stack_price_share"): (
        0.45, figure("solid-oxide-cell", "stack_price_frac")),
    ("solid_oxide_cell", "altitude_above_1500"): (
        0.10, figure("solid-oxide-cell", "altitude_per_km")),
    # Propane: regulated pressures in manuals of three classes; 29 CFR 1910.110.
    **{("propane", f"burner_pressure_{w}w"): (
        kpa, figure("thermoelectric", "burner_pressure_kpa", "propane", class_w=w))
       for w, kpa in ((54, 48.0), (108, 45.0), (220, 140.0))},
    ("propane", "regulator_drop"): (25.0, figure("propane", "regulator_drop_kpa", table="fuels")),
    ("propane", "fill"): (0.80, figure("propane", "fill_frac", table="fuels")),
    # Charge controllers: makers' manuals of 20 to 60 A; an open-hardware design.
    ("regulator", "start_headroom"): (5.0, MPPT.start_headroom_v),
    ("regulator", "run_headroom"): (1.0, MPPT.run_headroom_v),
    ("regulator", "tracking"): (0.99, TRACKING_FRAC),
    ("regulator", "pwm_drop"): (0.3, MPPT.drop_v),
    ("regulator", "full_output_to"): (40.0, MPPT.full_output_degc),
    ("regulator", "output_at_60"): (0.5, MPPT.output_at_60_frac),
    ("regulator", "own_draw"): (15.0, 1000 * tracker().own_current),
    ("regulator", "loss_constant"): (0.004, tracker().losses.constant_frac),
    ("regulator", "loss_linear"): (0.012, tracker().losses.linear_frac),
    ("regulator", "loss_square"): (0.012, tracker().losses.square_frac),
    ("regulator", "compensation_lead"): (-0.004, cell("flooded", "compensation_v_per_k")),
    ("regulator", "compensation_nicd"): (-0.003, cell("nicd", "compensation_v_per_k")),
    ("regulator", "compensation_lithium"): (0.0, cell("lfp", "compensation_v_per_k")),
    # Cells: G. W. Vinal, Storage Batteries, 1955; data sheets of a flooded 300 Ah class,
    # of 18650 cells, of a 304 Ah cell and of 12.8 V packs.
    ("lead", "c100_over_c20"): (1.112, cell("flooded", "rate", 100) / cell("flooded", "rate", 20)),
    ("lithium_ion", "capacity_m20"): (0.70, cold("lithium-ion", -20.0)),
    ("lithium_ion", "self_discharge"): (0.03, cell("lithium-ion", "self_discharge_per_month")),
    ("lfp", "capacity_m20"): (0.70, cold("lfp", -20.0)),
    ("lfp", "capacity_m30"): (0.45, cell("lfp", "cold_if_stated", -30.0)),
    ("lfp", "capacity_m40"): (0.20, cell("lfp", "cold_if_stated", -40.0)),
    ("lfp", "self_discharge"): (0.03, cell("lfp", "self_discharge_per_month")),
    ("lfp", "cycles"): (3500.0, cell("lfp", "cycles", 1.0)),
    ("lfp", "cycle_halving"): (20.0, cell("lfp", "cycle_halving_k")),
    # Cycles at half depth: a dealer's table and memory.
    ("life", "flooded_n50"): (750.0, cell("flooded", "cycles", 0.5)),
    ("life", "gel_n50"): (750.0, cell("gel", "cycles", 0.5)),
}  # fmt: skip
WITHIN = {
    # Inside the range of the set, each with a source of its own in the data file.
    ("life", "agm_n50"): (500.0, 1000.0, cell("agm", "cycles", 0.5)),
    ("life", "tubular_n50"): (2000.0, 3000.0, cell("tubular", "cycles", 0.5)),
    # The upper end, read in a maker's table (12.650 to 12.516 V over 44.5 K of six cells);
    # 0.3 mV/K is from memory, and predicts the nights of test_station_logs.py less well.
    ("lead", "open_circuit_per_k"): (
        0.0002,
        0.0005,
        cell("flooded", "open_circuit_v_per_k"),
    ),
    ("life", "life_halving"): (8.0, 10.0, cell("flooded", "calendar_halving_k")),
}


def test_every_constant_is_that_of_the_outside_set():
    """To the last digit; the copies of the set's values stand beside their homes."""
    apart = {k: row for k, row in HELD.items() if row[1] != pytest.approx(row[0], 1e-9)}
    assert not apart
    outside = {k: row for k, row in WITHIN.items() if not row[0] <= row[2] <= row[1]}
    assert not outside
    lead = {
        cell(n, "open_circuit_v_per_k") for n in ("flooded", "tubular", "agm", "gel")
    }
    assert lead == {0.0005}


def test_lithium_is_charged_between_the_temperatures_of_its_sheets():
    """Cells 0 to 45 degC; iron phosphate packs 0 to 50 degC, as their protection acts."""
    for name, most in (("lithium-ion", 45.0), ("lfp", 50.0)):
        c = chemistries()[name]
        assert (c.charge_min_degc, c.charge_max_degc) == (0.0, most)
        assert c.charge_share_by_degc.at(most) > 0
        assert c.charge_share_by_degc.at(most + 0.01) == 0
        # Discharge from -20 degC, unless a sheet states another.
        for curve in c.cold.values():
            assert curve.at(-20.0) > 0 == curve.at(-20.1)


def test_slow_and_fast_capacity_of_a_flooded_cell_is_that_of_its_sheet():
    """C5 271, C10 304, C20 330, C100 367 Ah in the sheet of a 300 Ah class, 25 degC."""
    for hours, ah in ((5, 271.0), (10, 304.0), (20, 330.0), (100, 367.0)):
        assert cell("flooded", "rate", hours) == pytest.approx(ah / 330.0, abs=5e-4)


# Data sheets: packs 4000 cycles at 25 degC and 2000 at 45 degC; a cell 3500 and 1800.
def test_heat_halves_the_cycles_of_iron_phosphate_and_of_no_other():
    """2^((25 - 45) / 20) = 0.5: within 3 % of both sheets; lead-acid as it was."""
    daily = 0.75 + 0.25 * np.cos(2 * np.pi * np.arange(8760) / 24)
    for name, share in (("lfp", 0.5), ("agm", 1.0), ("lithium-ion", 1.0)):
        cool, warm = (
            make_life(chemistries()[name], daily, np.full(8760, degc), 1.0).cycle_life_y
            for degc in (25.0, 45.0)
        )
        assert warm / cool == pytest.approx(share)
    half = 1 / heat_of_cycles(45.0, cell("lfp", "cycle_halving_k"))
    assert half == pytest.approx(2000 / 4000, rel=0.03)
    assert half == pytest.approx(1800 / 3500, rel=0.03)
    # Nothing is gained in the cold.
    assert heat_of_cycles(0.0, 20.0) == 1.0


@pytest.mark.skipif(
    not SET.exists(), reason="the set of values is not beside the checkout"
)
def test_the_copies_are_those_of_the_set():
    """Every value and range that is copied above, as the set has it today."""
    table = tomllib.loads(SET.read_text("utf-8"))
    assert {k: row[0] for k, row in HELD.items()} == pytest.approx(
        {(a, b): float(table[a][b]["value"]) for a, b in HELD}
    )
    for (a, b), (low, high, _) in WITHIN.items():
        assert table[a][b]["range"] == [low, high]
