"""Closed forms and daily books of the method of loss-of-load probability."""

from __future__ import annotations

import numpy as np
import pytest
from reference.bookkeeping import MADRID, daily_unmet_frac, iso_array_ratio
from reference.ideal import ideal_problem, ideal_scalars

from powerbudget.balance.drive import run_kernel
from powerbudget.errors import ModelRangeError
from powerbudget.generators.unit import make_unit
from powerbudget.site.generator import Generator
from powerbudget.sizing.worksheet.backup_generator import backup_year

# Coefficients f1 -0.2169, f2 -0.7865, u1 -1.2138, u2 -15.280 of Madrid and the form
# are printed in Perpiñán, Energía Solar Fotovoltaica, 2020, chapter on stand-alone
# systems (method LLP); the table was worked out from them by hand, apart from this
# code.
TABLE = {
    0.10: (0.5696, 0.5549, 0.5447, 0.5307, 0.5209, 0.5135, 0.4982),
    0.05: (0.8064, 0.7624, 0.7326, 0.6926, 0.6656, 0.6454, 0.6047),
    0.01: (1.3561, 1.2229, 1.1364, 1.0248, 0.9523, 0.8997, 0.7980),
}
DAYS = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 8.0)


@pytest.mark.parametrize("llp", TABLE)
def test_curve_of_madrid_meets_its_table(llp):
    """The curve gives the figures of Madrid to the fourth decimal."""
    found = iso_array_ratio(llp, np.array(DAYS), MADRID)
    assert found == pytest.approx(TABLE[llp], abs=6e-5)


def test_radio_link_of_the_textbook():
    """C_S 5 and LLP 0.01 need C_A' 0.9; 1 kW then lacks 87.6 kWh, 12.5 h of 7 kW."""
    # Perpiñán 2020, exercise 3: C_A' = 0.9, 87.6 kWh a year, about 12.5 h, 26.3 L.
    assert iso_array_ratio(0.01, 5.0) == pytest.approx(0.9, abs=0.05)
    # 10 kVA at a power factor of 0.7; 0.3 L/kWh at 7 kW are 50.4 L a day.
    set_of_7_kw = Generator.model_validate(
        {"name": "set", "kind": "engine", "rated": "7 kW", "fuel": "diesel",
         "fuel_use": "50.4 L/d", "charger_efficiency": "100 %"}
    )  # fmt: skip
    found = backup_year(make_unit(set_of_7_kw, 0.0), 1000.0, 0.01, 20.0)
    assert found.energy_kwh == pytest.approx(87.6)
    assert found.hours == pytest.approx(12.5, abs=0.05)
    assert found.fuel == pytest.approx(26.3, abs=0.05)


def test_chart_readings_lie_near_the_curve():
    """The two readings printed from the chart at 1 % lie within 0.06 of the curve."""
    # Perpiñán 2020: (C_A' 1.0, C_S 4) and (1.2, about 1.5), read off a chart.
    assert iso_array_ratio(0.01, 4.0) == pytest.approx(1.0, abs=0.06)
    assert iso_array_ratio(0.01, 1.5) == pytest.approx(1.2, abs=0.06)


@pytest.mark.parametrize(("llp", "days"), [(0.0, 3.0), (1.0, 3.0), (0.01, 0.0)])
def test_curve_refuses_what_it_cannot_mean(llp, days):
    """A probability of nothing or all, or no storage, is refused."""
    with pytest.raises(ModelRangeError, match="out of range"):
        iso_array_ratio(llp, days)


def _days():
    rng = np.random.default_rng(3)
    sun = rng.gamma(2.0, 0.5, 400)
    return sun / sun.mean()


def _hourly_unmet_frac(problem, sun, ratio, days, step_h):
    """Return LLP of the kernel: sun by day, load by night, a bank without losses."""
    load_wh, half = 120.0, round(12 / step_h)
    day = np.r_[np.ones(half), np.zeros(half)]
    supply = (load_wh * ratio / 12 * sun[:, None] * day).ravel()
    load = np.tile((1 - day) * load_wh / 12, sun.size)
    ideal = ideal_problem(problem, supply, load, step_h)
    s = ideal_scalars(ideal, ideal.bank, days * load_wh / 12, load_wh / 12)
    # The daily model begins after a night of load.
    out = run_kernel(ideal, s, load_wh / 12)
    served = out["served"] > 0.5
    return 1.0 - float(load[served].sum() / load.sum())


# Recursion SOC_j = min(SOC_(j-1) + C_A G_j/(C_S G_mean) - 1/C_S, 1) with deficits
# below a night's load: Perpiñán 2020, chapter on stand-alone systems.
@pytest.mark.parametrize(
    ("ratio", "days"), [(1.2, 1.5), (1.0, 3.0), (0.9, 5.0), (1.5, 2.0)]
)
def test_daily_books_are_the_limit_of_the_hourly_run(prepared, ratio, days):
    """With ever shorter steps the kernel comes to the daily model's LLP."""
    sun = _days()
    books = daily_unmet_frac(sun, ratio, days)
    apart = [
        _hourly_unmet_frac(prepared("starter"), sun, ratio, days, step) - books
        for step in (1.0, 0.5, 0.1, 0.02)
    ]
    assert books > 0.01
    # An interval in which the bank runs empty counts wholly as not served.
    assert all(x > 0 for x in apart)
    assert apart == sorted(apart, reverse=True)
    assert apart[0] < 0.11 * books
    assert apart[-1] < 0.003 * books
