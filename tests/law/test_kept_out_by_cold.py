"""Energy that the cold keeps out of a battery has its own term, beside a full battery's."""

from __future__ import annotations

import numpy as np
import pytest

from powerbudget.balance.ledger import INHIBITED
from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.site.reader import read_site_text

SITE = """
[site]
name = "station"
latitude = 36.1
longitude = -79.95
time_zone = "UTC-5"
[weather]
record = "greensboro"
[bus]
nominal = "12 V"
disconnect_state = "10 %"
reconnect_state = "20 %"
[[load]]
name = "station"
typical = "20 W"
[array]
module = { power = "100 W", max_power_voltage = "17.9 V", max_power_current = "5.587 A", open_circuit_voltage = "22 V", short_circuit_current = "6 A", cells = 36 }
series = 1
parallel = 4
tilt = "45 deg"
azimuth = "south"
[charge_controller]
kind = "mppt"
[battery]
chemistry = "lfp"
unit = { nominal = "12.8 V", capacity = "100 Ah", hour_rate = "5 h" }
series = 1
parallel = 3
[criteria]
availability = "99 %"
autonomy = "3 d"
autonomy_temperature = "0 degC"
deepest_discharge = "80 %"
"""  # noqa: E501


@pytest.mark.parametrize("kind", ["mppt", "pwm"])
def test_what_cold_keeps_out_is_not_a_full_battery(kind):
    """Both terms are what was offered and not used; the cold has it while there is room."""
    problem = prepare(read_site_text(SITE.replace('"mppt"', f'"{kind}"')))
    run = simulate_size(problem)
    terms, out = run.ledger.terms_wh, run.out
    blocked = problem.conditions.charge_share <= 0
    drop_v = problem.scalars(4, problem.bank)["drop_v"] if kind == "pwm" else 0.0
    left_w = (out["offered_a"] - out["array_a"]) * (out["bus_v"] + drop_v)
    assert run.ledger.error_frac < 1e-9
    assert terms[INHIBITED] + terms["spilled"] == pytest.approx(left_w.sum(), rel=1e-9)
    # A battery that lacks 10 % has room for an hour of this array.
    deep = blocked & (run.removed_ah[:-1] > 0.1 * problem.bank.rated_ah)
    assert np.flatnonzero(deep & (left_w > 1)).size
    assert left_w[deep].sum() * 0.999 <= terms[INHIBITED] <= left_w[blocked].sum()
