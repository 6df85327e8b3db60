"""Words of a claim held against its figure, and promises that nobody has to come."""

from __future__ import annotations

import pytest

from powerbudget.review.claimsfile import claims_of
from powerbudget.review.reviewer import review
from powerbudget.site.reader import read_site_text

LOAD = '[[load]]\nname = "station"\ntypical = "10 W"\nmaximum = "14 W"\n'


def _judge(site_text, claim: str, regulator: str = ""):
    text = site_text(LOAD, 12)
    text = text.replace('kind = "mppt"', f'kind = "mppt"\n{regulator}')
    file = claims_of(f"[[claim]]\n{claim}\n", "claims.toml")
    return review(read_site_text(text), file).claims[0]


@pytest.mark.parametrize(
    ("says", "claimed"),
    [
        ("14 days without sun", "7 d"),
        ("five days of autonomy at -30 degC", "7 d"),
        ("autonomy: 3 to 4 days", "7 d"),
    ],
)
def test_words_with_another_figure_come_back_with_both(site_text, says, claimed):
    """A claim of 7 d whose words say another number of days is not judged."""
    claim = f'kind = "autonomy"\nsays = "{says}"\nclaimed = "{claimed}"'
    try:
        done = _judge(site_text, claim)
    except Exception as exc:  # noqa: BLE001  # the only claim of its file: refused whole
        said = str(exc)
    else:
        assert not done.usable
        said = done.condition
    assert "7 d" in said
    assert any(word in said for word in ("14 days", "five days", "3 to 4 days"))


@pytest.mark.parametrize(
    "says",
    [
        "7 days without sun",
        "one week of autonomy",
        "a battery of 12 V 200 Ah carries 10 W, see data sheet DS-1400 of 2024-11-03",
        "6 to 8 days",
        "runs through a dark week",
    ],
)
def test_words_that_agree_or_mean_something_else_are_judged(site_text, says):
    """Part numbers, dates, volts, watts and a range around the figure trip nothing."""
    done = _judge(site_text, f'kind = "autonomy"\nsays = "{says}"\nclaimed = "7 d"')
    assert done.usable


RECOVERY = (
    'kind = "recovery"\nsays = "back within 60 days after any outage"\nclaimed = "60 d"'
)


def test_any_outage_is_not_supported_where_a_flat_battery_needs_a_visit(site_text):
    """A controller that is dark below 10 V never wakes on a fully discharged battery."""
    dark = _judge(site_text, RECOVERY, 'minimum_battery = "10 V"')
    assert dark.verdict == "not supported"
    assert any("visit" in text for text in dark.remarks)
    plain = RECOVERY.replace(" after any outage", "")
    assert _judge(site_text, plain, 'minimum_battery = "10 V"').verdict == "supported"


def test_any_outage_cannot_be_told_without_the_controllers_lowest_voltage(site_text):
    """Whether it wakes on a fully discharged battery is asked for, not assumed."""
    done = _judge(site_text, RECOVERY)
    assert done.verdict == "cannot tell"
    assert any("minimum_battery" in text for text in done.missing)
