"""Two more printed sizing examples through the lines of the worksheet."""

from __future__ import annotations

import pytest

from powerbudget.sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    SheetLoad,
    loads_from,
)
from powerbudget.sizing.worksheet.lines import worksheet_from

# A 160 W array at 42.075 N, 1.821 E: monthly means of a 22-year satellite record on the
# horizontal and at 42 degrees [kWh/m2/day], and the Wh a day behind a controller of
# 80 %.  Public project documentation "MH-Moli", doc/lib/pv_energy.rst, tables of
# irradiation and of array energy.
FLAT = (1.81, 2.77, 3.92, 4.66, 5.44, 6.28, 6.56, 5.67, 4.51, 2.96, 2.00, 1.56)
TILTED = (3.20, 4.07, 4.84, 4.78, 4.99, 5.46, 5.83, 5.59, 5.21, 4.10, 3.35, 2.95)
DELIVERED_WH = (409, 520, 619, 611, 638, 698, 745, 715, 666, 524, 428, 377)
# The energies are printed to 1 Wh in 377 and the light to 0.01 in 2.95.
PRINTED = 0.0035


def _array(sun: dict[float, tuple[float, ...]]) -> ArrayFigures:
    return ArrayFigures(
        sun,
        module_a=160 / 12,
        module_w=160,
        module_v=12,
        charge_v=12,
        ratio=1.0,
        system_loss_frac=0.20,
    )


def _lines(wh_per_day: float, sun: dict[float, tuple[float, ...]]) -> dict[str, float]:
    loads = loads_from(12.0, SheetLoad("all", 24.0, draw_w=wh_per_day / 24))
    battery = BatteryFigures(days=5, unit_ah=100)
    lines = worksheet_from(loads, battery, _array(sun))
    return {line.symbol: line.value for line in lines}


@pytest.mark.parametrize("month", range(12))
def test_what_a_160_w_array_delivers_asks_for_160_w(month):
    """The load that the printed array just carries in a month sizes that array."""
    value = _lines(DELIVERED_WH[month], {42.0: (TILTED[month],)})
    assert value["Wn"] == pytest.approx(160.0, rel=PRINTED)
    assert value["AL"] * DELIVERED_WH[month] * 0.8 == pytest.approx(
        DELIVERED_WH[month] * value["Na"], rel=PRINTED
    )


def test_december_and_the_tilted_plane_decide():
    """A steady load is sized in December, on the tilt that has the more light then."""
    both = {0.0: FLAT, 42.0: TILTED}
    lines = worksheet_from(
        loads_from(12.0, SheetLoad("all", 24.0, draw_w=DELIVERED_WH[-1] / 24)),
        BatteryFigures(days=5, unit_ah=100),
        _array(both),
    )
    sun = next(line for line in lines if line.symbol == "G")
    assert "in Dec, the design month" in sun.quantity
    assert sun.value == TILTED[-1]
    assert sun.inputs.startswith("tilt 42°")


# 1000 Wh a day at 12 V, 2.5 days, half of the charge, battery at 40 degF: 2500 Wh,
# 5000 Wh, times 1.30 = 6500 Wh.  A simplified table of battery sizing factors and its
# example, as printed on a public page; 1.30 at 40 degF is also IEEE 485, table 1.
def test_cold_battery_of_a_simplified_table():
    """2500, 5000 and 6500 Wh, which is 541.7 Ah at 12 V."""
    lines = worksheet_from(
        loads_from(12.0, SheetLoad("all", 24.0, draw_w=1000 / 24)),
        BatteryFigures(
            days=2.5,
            unit_ah=100,
            deepest_frac=0.5,
            daily_frac=None,
            end_of_life_frac=1.0,
            degc=(40 - 32) / 1.8,
        ),
    )
    value = {line.symbol: line.value for line in lines}
    assert value["C1"] * 12 == pytest.approx(2500)
    assert value["C2"] * 12 == pytest.approx(5000)
    assert value["C6"] * 12 == pytest.approx(6500)
    assert value["C6"] == pytest.approx(541.7, abs=0.05)
    assert value["Np"] == 6
