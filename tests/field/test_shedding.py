"""Loads with a priority: what is given up first, and what that buys."""

from __future__ import annotations

import pytest

from powerbudget.balance.simulation import simulate
from powerbudget.site.reader import read_site_text
from powerbudget.site.starter import starter_text
from powerbudget.sizing.autonomy import autonomy

BY_STATE = (
    ('low_voltage_disconnect = "11.6 V"', 'disconnect_state = "30 %"'),
    ('low_voltage_reconnect = "12.8 V"', 'reconnect_state = "45 %"'),
)


def _design(priority: str, thresholds: str, *, by_state: bool = False):
    text = starter_text().replace(
        'part = "flowmeter-coriolis-large"\nsupply = "24 V loops"',
        f'part = "flowmeter-ultrasonic"\n{priority}',
    )
    text = text.replace('nominal = "12 V"', f'nominal = "12 V"\n{thresholds}', 1)
    text = text.replace("parallel = 10", "parallel = 4", 1)
    text = text.replace("parallel = 5\n", "parallel = 2\n", 1)
    for volts, state in BY_STATE if by_state else ():
        text = text.replace(volts, state)
    return read_site_text(text)


# A mountain weather station lost its whole station to one added sensor; the core
# should outlive the rest (common practice, no source).
@pytest.mark.parametrize("threshold", ["12.1 V", "55 %"])
def test_shedding_the_meter_keeps_the_core_longer(threshold):
    """The core is off for fewer hours and the autonomy grows; hours go by tier."""
    by_state = "%" in threshold
    step = f'shed_first = "{threshold}"'
    plain = simulate(_design("", "", by_state=by_state))
    shed = simulate(_design('priority = "shed first"', step, by_state=by_state))
    assert plain.hours_off_by_tier[0] > 0
    assert shed.hours_off_by_tier[0] < plain.hours_off_by_tier[0]
    assert shed.hours_off_by_tier[1] > shed.hours_off_by_tier[0]
    assert shed.ledger.error_frac < 1e-9
    # Found 1.5 times; the limit was set after looking and only asks for a clear gain.
    assert autonomy(shed).design_days > 1.2 * autonomy(plain).design_days


def test_a_threshold_without_a_priority_sheds_nothing():
    """Steps that no load names change nothing."""
    plain = simulate(_design("", ""))
    idle = simulate(_design("", 'shed_first = "12.1 V"'))
    assert idle.availability_frac == plain.availability_frac
    assert idle.lowest_soc_frac == plain.lowest_soc_frac
