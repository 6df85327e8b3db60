"""A claim's words against its figure, and what "any outage" has to cover."""

from __future__ import annotations

import pytest
from reference import together

from powerbudget.review.claims_file import claims_of
from powerbudget.review.reviewer import review
from powerbudget.review.wording import wording_faults
from powerbudget.site.reader import read_site_text

LOAD = '[[load]]\nname = "station"\ntypical = "10 W"\nmaximum = "14 W"\n'
COLD = {"temperature": "-20 degC"}
FUEL = {"generator": "methanol-cell", "fuel": "methanol"}
SAME = [
    ("autonomy", "14 d", "14 days without sun", {}),
    ("autonomy", "12 d", "10-14 days without sun", {}),
    ("autonomy", "14 d", "two weeks", {}),
    ("autonomy", "7 d", "10 year warranty, rev 2024-05-01, BAT-300D, 20 h rate",
     {"hour_rate": "20 h"}),
    ("autonomy", "7 d", "at 4.5 sun hours", {}),
    ("recovery", "7 d", "back within a week", {}),
    ("draw", "5 W", "RTU-24W draws next to nothing", {}),
    ("draw", "5 W", "model 3.5W2 uses 500 Wh a day at 24 V", {}),
    ("draw", "5 W", "six 5 W cards", {}),
    ("energy", "300 Wh/day", "9.13 kWh per month", {}),
    ("battery", "200 Ah", "two 100 Ah blocks in parallel", {}),
    ("battery", "1000 Ah", "a 1,000 Ah bank", {}),
    ("battery", "1000 Ah", "1 000 Ah in two strings", {}),
    ("battery", "1200 Ah", "a bank of 1 200 Ah", {}),
    ("battery", "200 Ah", "2 100 Ah blocks", {}),
    ("battery", "200 Ah", "two batteries in parallel of 100 Ah", {}),
    ("battery", "200 Ah", "two 12 V 100 Ah blocks", {}),
    ("array", "600 W", "six panels of 100 W are enough", {}),
    ("autonomy", "10 d", "10 +/- 1 days", {}),
    ("draw", "60 W", "5 A at 12 V", {}),
    ("array", "600 W", "2 x 300 W panels for a 20 W load", {"load": "20 W"}),
    ("array", "600 W", "carries 20 W", {"load": "20 W"}),
    ("temperature", "-40 degC", "works from -40 to 60 °C", {}),
    ("temperature", "-40 degC", "works at -40F", {}),
    ("availability", "99.9 %", "99.9 % uptime", {}),
    ("fuel", "0.9 L/kWh", "0.9 L per kWh", FUEL),
    ("sun", "4.5 h", "4.5 peak sun hours", {}),
    ("life", "1.5 years", "lasts 18 months", {}),
    ("life", "3 years", "lasts 3 years, 36 months", {}),
    ("charge-voltage", "15.2 V", "set for a 12 V battery", COLD),
]  # fmt: skip
OTHER = [
    ("autonomy", "7 d", "14 days without sun", "14 days", {}),
    ("autonomy", "7 d", "10 to 14 days", "10 to 14 days", {}),
    ("autonomy", "7 d", "two weeks", "two weeks", {}),
    ("draw", "5 W", "the controller takes 4 W, 300 mA at 24 V", "4 W and 300 mA", {}),
    ("draw", "60 W", "4 A at 12 V", "4 A", {}),
    ("energy", "300 Wh/day", "15 Ah a day at 24 V", "15 Ah a day", {}),
    ("array", "600 W", "four panels of 100 W", "100 W", {}),
    ("battery", "1000 Ah", "1 500 Ah", "1500 Ah", {}),
    ("energy", "300 Wh/day", "9.13 kWh a year", "9.13 kWh a year", {}),
    ("battery", "200 Ah", "a 100 Ah block", "100 Ah", {}),
    ("temperature", "-40 degC", "works from -30 to 60 °C", "-30 to 60 °C", {}),
    ("availability", "99.9 %", "99.99 % uptime", "99.99 %", {}),
    ("fuel", "0.9 L/kWh", "1.2 L per kWh", "1.2 L per kWh", FUEL),
    ("sun", "4.5 h", "5 sun hours in winter", "5 sun hours", {}),
    ("life", "10 years", "a 12-year battery", "12-year", {}),
    ("life", "10 years", "lasts 18 months", "18 months", {}),
    ("charge-voltage", "15.2 V", "set to 14.4 V", "14.4 V", COLD),
]


def claim_of(kind, claimed, says, more):
    """Return a claim that can be used."""
    entry = claims_of(
        {"claim": [{"kind": kind, "claimed": claimed, "says": says, **more}]}
    )
    assert entry.entries[0].claim is not None
    return entry.entries[0].claim


@together.parametrize(("kind", "claimed", "says", "more"), SAME)
def test_words_that_do_not_contradict_pass(kind, claimed, says, more):
    """The figure itself, a condition, a part number, a date, another kind of figure."""
    assert wording_faults(claim_of(kind, claimed, says, more)) == ()


@together.parametrize(("kind", "claimed", "says", "said", "more"), OTHER)
def test_words_that_name_another_figure_are_told(kind, claimed, says, said, more):
    """Both figures are given."""
    (fault,) = wording_faults(claim_of(kind, claimed, says, more))
    assert fault.given == said
    assert said in fault.problem
    assert fault.allowed in fault.problem


def site(site_text, minimum):
    """Return a site whose controller needs so many volts of the battery, or says nothing."""
    text = site_text(LOAD, 12)
    if minimum:
        text = text.replace(
            "[charge_controller]\n",
            f'[charge_controller]\nminimum_battery = "{minimum}"\n',
        )
        assert "minimum_battery" in text
    return read_site_text(text)


def test_a_contradictory_claim_is_returned_and_the_next_is_judged(site_text):
    """Words of 14 days and a figure of 2: unusable, with both."""
    both = [
        {"kind": "autonomy", "claimed": "2 d", "says": "14 days without sun"},
        {"kind": "autonomy", "claimed": "2 d", "says": "2 days without sun"},
    ]
    one, two = review(site(site_text, None), claims_of({"claim": both})).claims
    assert not one.usable
    assert one.verdict == "undetermined"
    assert "14 days" in one.condition
    assert "2 d" in one.condition
    assert two.usable


@pytest.mark.parametrize("kind", ["recovery", "availability"])
def test_any_outage_is_not_supported_where_a_flat_battery_needs_a_visit(
    site_text, kind
):
    """The same figure without the promise stands; with it, it rests on the controller."""
    claimed = {"recovery": "30 d", "availability": "1 %"}[kind]
    plain = {"kind": kind, "claimed": claimed}
    # Judging a recovery is dear: there one wording stands for both.
    words = ["comes back after any outage", "comes back by itself"][
        kind == "recovery" :
    ]
    both = [{**plain, "says": w} for w in words]
    bare, *visited = review(
        site(site_text, "11 V"), claims_of({"claim": [plain, *both]})
    ).claims
    unknown = review(site(site_text, None), claims_of({"claim": both})).claims
    for promised, unsaid in zip(visited, unknown, strict=True):
        assert bare.verdict == "supported"
        assert promised.verdict == "not supported"
        assert promised.margin is None
        assert any("fully discharged" in case.name for case in promised.cases)
        # No array makes true what somebody has to come for.
        arrays = [item.what == "array" for item in (*bare.solved, *promised.solved)]
        assert arrays.count(True) == (kind == "recovery")
        assert unsaid.verdict == "undetermined"
        assert any("minimum_battery" in text for text in unsaid.missing)
