"""The charge controller and the cells as people meet them: limits that act, or say so."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from powerbudget.balance.ledger import LIMITED, tier_w
from powerbudget.balance.simulation import simulate
from powerbudget.errors import InputError
from powerbudget.site.reader import read_site_text

STARTER = Path(__file__).parents[2] / "powerbudget" / "site" / "starter.toml"


def _starter(*changes: tuple[str, str]) -> str:
    """Return the built-in example with lines replaced, each found once."""
    text = STARTER.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    return text


def _controller(*keys: str) -> tuple[str, str]:
    own = 'own_current = "15 mA"\n'
    return own, own + "".join(f"{key}\n" for key in keys)


def _hand_availability(run, most_a: float) -> float:
    """Return availability by ampere-hours alone: no resistance, one bus voltage.

    The array's power over the bus voltage, cut at the limit, less the loads, into a
    bucket that the disconnect and reconnect states bound.
    """
    problem, bus = run.problem, run.problem.design.tables.bus
    volts = float(run.out["bus_v"].mean())
    sun_a = np.minimum(problem.hourly["array_w"] * run.strings / volts, most_a)
    load_a = tier_w(problem, run.out).sum(axis=0) / volts
    held = float(run.scalars["charge_ah"])
    left, on, served = float(run.soc_frac[-1]) * held, True, 0
    for sun, load in zip(sun_a - problem.budget.base_a, load_a, strict=True):
        after = left + sun - load
        on = after > bus.disconnect_soc_frac * held if on else on
        served += on
        net = sun - load * on
        left = min(held, left + net * (0.95 if net > 0 else 1.0))
        on = on or left > bus.reconnect_soc_frac * held
    return served / sun_a.size


@pytest.mark.parametrize("most_a", [2.0, 3.0, 4.0])
def test_a_current_limit_costs_availability_as_an_hourly_sum_has_it(most_a):
    """A limit of a few amperes loses the hours that a sum of ampere-hours loses.

    One hour in fifty apart at most, set before looking: the sum knows no resistance.
    """
    by_state = (
        ('low_voltage_disconnect = "11.6 V"', 'disconnect_state = "20 %"'),
        ('low_voltage_reconnect = "12.8 V"', 'reconnect_state = "50 %"'),
    )
    limit = _controller(f'maximum_charge_current = "{most_a:g} A"')
    run = simulate(read_site_text(_starter(*by_state, limit)))
    by_hand = _hand_availability(run, most_a)
    assert by_hand < 0.95
    assert run.availability_frac == pytest.approx(by_hand, abs=0.02)
    assert run.out["array_a"].max() <= most_a * (1 + 1e-12)


def test_what_the_limit_keeps_back_is_in_the_ledger_and_told():
    """The ledger closes with the curtailed energy as its own term, and a remark has it."""
    from powerbudget.balance.run_findings import run_findings

    bare = simulate(read_site_text(_starter()))
    for key, shown in (
        ('maximum_charge_current = "3 A"', "maximum_charge_current of 3 A curtails"),
        ('maximum_charge_power = "40 W"', "maximum_charge_power of 40 W curtails"),
    ):
        run = simulate(read_site_text(_starter(_controller(key))))
        assert run.ledger.error_frac < 1e-9
        volts = run.out["bus_v"]
        most = 3.0 * volts if "current" in key else np.full(volts.size, 40.0)
        over = np.maximum(run.problem.hourly["array_w"] * run.strings - most, 0.0)
        assert run.ledger.terms_wh[LIMITED] == pytest.approx(over.sum(), rel=1e-9)
        assert any(shown in f.text for f in run_findings(run))
    assert LIMITED not in bare.ledger.terms_wh
    assert not any("curtails" in f.text for f in run_findings(bare))


def test_run_size_and_check_all_know_the_limit(call, tmp_path):
    """A controller of 3 A fails in `run`, leaves `size` without a pick, shows in `check`."""
    site = tmp_path / "site.toml"
    limit = _controller('maximum_charge_current = "3 A"')
    site.write_text(_starter(limit), encoding="utf-8")
    code, out, _ = call("run", site, "--json")
    answer = json.loads(out)
    assert code == 1
    assert answer["availability_frac"] < 0.95
    assert answer["ledger"][LIMITED] > 100_000
    code, out, _ = call("size", site, "--json")
    assert code == 1
    assert json.loads(out)["pick"] is None
    _, out, _ = call("check", site)
    assert "regulator output" in out
    assert "3.00 A" in out


def test_a_power_limit_belongs_to_a_tracker():
    """Watts of a PWM controller are refused with the key: its limit is a current."""
    text = _starter(_controller('maximum_charge_power = "40 W"'))
    with pytest.raises(InputError) as caught:
        read_site_text(text.replace('kind = "mppt"  ', 'kind = "pwm"  '))
    assert [f.where for f in caught.value.faults] == ["regulator.maximum_charge_power"]
