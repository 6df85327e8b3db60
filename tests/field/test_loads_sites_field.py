"""Load lists as people meet them: racks, radios, loops, logs, shedding, the verbs."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from powerbudget.balance.packed_site import shed_limits
from powerbudget.errors import InputError
from powerbudget.lists.io_list import read_io_list
from powerbudget.loads.budget import load_budget
from powerbudget.site.parts import load_parts
from powerbudget.site.reader import read_site, read_site_text

SITES = Path(__file__).resolve().parents[2] / "sites"
PARTS = load_parts()
SPREAD = PARTS["radio-spread-spectrum-1w"]
LOOPS = """
[[supply]]
name = "loops"
output = "24 V"
rated = "20 W"
no_load = "0.1 W"
efficiency = "85 %"
"""


def line(budget, name):
    """Return a line of a budget by its name."""
    return next(x for x in budget.lines if x.name == name)


def words(budget, severity):
    """Return all findings of one severity as one text."""
    return " ".join(f.text for f in budget.findings if f.severity == severity)


def refused(text, path=None):
    """Return what is said about a site that cannot be used."""
    with pytest.raises(InputError) as caught:
        load_budget(read_site_text(text, path=path))
    return [str(fault) for fault in caught.value.faults]


# --- three sums -----------------------------------------------------------------


def test_three_sums_differ(budget_of):
    """A radio of 1.2 W mean, 25 W transmit and 40 W start gives three sums."""
    budget = budget_of(
        '[[load]]\nname = "radio"\ntypical = "1.2 W"\nmaximum = "25 W"\npeak = "40 W"\n'
        'wire = { gauge = "16 AWG", length = "50 ft" }\nminimum_input = "10.9 V"\n', 12,
    )  # fmt: skip
    assert budget.wh_per_day == pytest.approx(28.8, rel=0.01)
    # The wire alone, 0.41 ohm at 20 degC, takes 2.08 A squared times that.
    assert budget.maximum_w == pytest.approx(25 + (25 / 12) ** 2 * 0.4102, abs=0.01)
    assert budget.lowest_bus_v == 11.5
    assert budget.maximum_a == pytest.approx(25 / (11.5 - 2.375 * 0.4102), abs=0.002)
    assert budget.peak_a == pytest.approx(40 / (11.5 - 4.069 * 0.4102), abs=0.002)
    assert budget.inrush == "radio"
    # 40 W at 11.5 V through 0.41 ohm: the mean current would hide the brown-out.
    assert line(budget, "radio").end_v == pytest.approx(
        11.5 - 4.069 * 0.4102, abs=0.002
    )
    assert "undervoltage reset" in words(budget, "serious")


def test_behaviour_decides_the_current_at_low_voltage(budget_of):
    """At the lowest bus constant power draws more amperes, a resistance fewer."""
    at = {}
    for how in ("power", "current", "resistance"):
        budget = budget_of(
            f'[[load]]\nname = "x"\ntypical = "24 W"\nbehaviour = "{how}"\n'
        )
        at[how] = budget.maximum_a
    assert at["current"] == pytest.approx(1.0)
    assert at["power"] == pytest.approx(24 / 23)
    assert at["resistance"] == pytest.approx(23 / 24)


def test_converter_browns_out_with_the_bus(site_text):
    """A converter that works from 10 V fails on a bus that goes down to 9.7 V."""
    loads = (
        '[[supply]]\nname = "s"\npart = "converter-12-to-24v-60w"\n'
        '[[load]]\nname = "x"\ntypical = "1 W"\nsupply = "s"\n'
    )
    low = load_budget(read_site_text(site_text(loads, 12, low="9.7")))
    assert "'s' operates from 10.0 V" in words(low, "serious")
    high = load_budget(read_site_text(site_text(loads, 12, low="10.5")))
    assert not words(high, "serious")


def test_same_site_on_12_and_24_v(budget_of):
    """Loops by a booster cost the same watts on both; a contact and a wire do not."""
    loads = LOOPS + (
        '[[load]]\nname = "loops of six"\npart = "transmitter-pressure-two-wire"\n'
        'quantity = 6\nsupply = "loops"\n'
        '[[load]]\nname = "contact"\ntypical = "5 mA"\nquantity = 10\n'
        '[[load]]\nname = "far radio"\ntypical = "6 W"\n'
        'wire = { gauge = "16 AWG", length = "100 ft" }\n'
    )
    low, high = budget_of(loads, 12), budget_of(loads, 24)
    assert line(low, "loops of six").wh_per_day == pytest.approx(
        line(high, "loops of six").wh_per_day
    )
    assert line(high, "contact").wh_per_day == pytest.approx(
        2 * line(low, "contact").wh_per_day
    )
    assert line(low, "wiring").wh_per_day == pytest.approx(
        4 * line(high, "wiring").wh_per_day
    )
    assert low.peak_a > 1.6 * high.peak_a


# --- rack -----------------------------------------------------------------------


def rack_site(site_text, folder, rows, **keys):
    """Return the budget of a rack filled from rows, keys of [rack] beside it."""
    (folder / "io.csv").write_text("tag,type,powered by,contact\n" + "\n".join(rows))
    told = "".join(f"{key} = {value}\n" for key, value in keys.items())
    text = site_text(
        LOOPS + '[rack]\ncontroller = "controller-compact"\nio_list = "io.csv"\n'
        'loop_supply = "loops"\n' + told
    )
    return load_budget(read_site_text(text, path=folder / "site.toml"))


def test_built_in_points_come_first(site_text, tmp_path):
    """Six inputs fit the controller without spare; a seventh buys a card."""
    rows = [f"PT-{k},AI,card," for k in range(6)]
    six = rack_site(site_text, tmp_path, rows, spare='"0 %"')
    assert (six.rack.counts[0].built_in, six.rack.counts[0].cards) == (6, 0)
    seven = rack_site(site_text, tmp_path, [*rows, "PT-9,AI,card,"], spare='"0 %"')
    assert (seven.rack.counts[0].built_in, seven.rack.counts[0].cards) == (6, 1)
    spare = rack_site(site_text, tmp_path, rows, spare='"20 %"')
    assert (spare.rack.counts[0].spares, spare.rack.counts[0].cards) == (2, 1)
    # The card's base draw is all that the seventh input adds beside its loop.
    extra = seven.wh_per_day - six.wh_per_day
    loop = 24 * 0.012 * 24 * (1 / 0.85 - 0.1 / 20)
    card_w = PARTS["card-analog-input"].base.typical
    assert extra == pytest.approx(card_w * 24 + loop)


def test_rack_grows_to_the_next_base_and_then_no_more(site_text, tmp_path):
    """Five cards need a second rack of four; thirteen do not fit into three."""
    inputs = [f"PT-{k},AI,card," for k in range(6 + 5 * 8)]
    grown = rack_site(site_text, tmp_path, inputs, spare='"0 %"')
    assert (grown.rack.cards.pieces, grown.rack.bases) == (5, 2)
    assert line(grown, "rack: further bases").quantity == 1
    full = rack_site(
        site_text,
        tmp_path,
        [f"PT-{k},AI,card," for k in range(6 + 13 * 8)],
        spare='"0 %"',
    )
    assert not full.rack.cards.fits
    assert "do not fit" in words(full, "serious")


def test_nodes_stand_beside_cards(site_text, tmp_path):
    """Both ways are reckoned; choosing nodes changes the lines, not the loops."""
    rows = [f"PT-{k},AI,card," for k in range(20)] + ["TW-1,thermocouple,,"]
    cards = rack_site(site_text, tmp_path, rows)
    nodes = rack_site(site_text, tmp_path, rows, mount='"nodes"')
    assert cards.rack.nodes == nodes.rack.nodes
    # 20 + 4 spare - 6 built in, at 4 a node; the thermocouple keeps its card.
    assert (nodes.rack.nodes.pieces, nodes.rack.nodes.other_cards) == (5, 1)
    node_w = PARTS["node-mixed"].power.typical
    assert line(nodes, "rack: remote nodes").typical_w == pytest.approx(5 * node_w)
    assert line(cards, "rack: ai loops") == line(nodes, "rack: ai loops")
    names = {x.name for x in nodes.lines}
    assert "rack: card-analog-input" not in names
    assert "rack: card-thermocouple-input" in names


def test_second_units_each_have_their_draw(site_text, tmp_path):
    """A second processor, supply and network add their own watts."""
    text = site_text(
        '[rack]\ncontroller = "controller-process"\n'
        'redundant = ["processor", "power", "network"]\n'
    )
    budget = load_budget(read_site_text(text))
    added = [x.typical_w for x in budget.lines if x.name.startswith("rack: second")]
    assert added == [6.0, 1.0, 1.0]
    compact = rack_site(site_text, tmp_path, ["PT-1,AI,card,"], redundant='["power"]')
    assert "no second power" in words(compact, "warning")


def test_channels_are_loaded_by_their_signal(site_text, tmp_path):
    """Loops, closed contacts and energised coils draw; open and external do not."""
    rows = [
        "PT-1,AI,card,", "PT-2,AI,4-wire,", "ZS-1,DI,card,NC", "ZS-2,DI,card,NO",
        "ZS-3,DI,field,NC", "XV-1,solenoid,card,energised", "XV-2,solenoid,card,off",
        "XV-3,solenoid,240 VAC,energised", "PT-3,AI,card,",
    ]  # fmt: skip
    budget = rack_site(site_text, tmp_path, rows)
    assert line(budget, "rack: ai loops").typical_w == pytest.approx(2 * 0.288)
    contacts = line(budget, "rack: contacts wetted")
    assert (contacts.quantity, contacts.duty_frac) == (2, 0.5)
    assert contacts.wh_per_day == pytest.approx(0.005 * 24 * 24)
    coils = line(budget, "rack: solenoid coils")
    assert (coils.quantity, coils.duty_frac) == (2, 0.5)
    assert coils.wh_per_day == pytest.approx(0.55 * 24)
    relays = line(budget, "rack: solenoid channels")
    relay_w = PARTS["card-digital-output-relay"].per_channel.typical
    assert relays.wh_per_day == pytest.approx(2 * relay_w * 24)


def test_many_points_share_a_port(site_text, tmp_path):
    """Forty points on a bus take one port, not forty channels."""
    rows = [f"FQI-{k},Modbus RTU,," for k in range(40)]
    budget = rack_site(site_text, tmp_path, rows)
    (count,) = budget.rack.counts
    assert (count.points, count.built_in, count.cards) == (1, 1, 0)


def test_silence_in_a_list_is_told(site_text, tmp_path):
    """Loops, contacts and outputs that say nothing are counted high and named."""
    budget = rack_site(site_text, tmp_path, ["PT-1,AI,,", "ZS-1,DI,,", "XV-1,DO,,"])
    said = words(budget, "note")
    for text in ("PT-1", "card power assumed", "ZS-1", "closed assumed", "XV-1"):
        assert text in said
    assert line(budget, "rack: contacts wetted").duty_frac == 1.0


def test_loop_current_of_a_wrong_unit_is_told(site_text, tmp_path):
    """12 A under a head in amperes is used and questioned by its row."""
    (tmp_path / "io.csv").write_text(
        "tag,type,current [A]\nPT-1,AI,12\nPT-2,AI,0.012\n"
    )
    text = site_text('[rack]\ncontroller = "controller-compact"\nio_list = "io.csv"\n')
    budget = load_budget(read_site_text(text, path=tmp_path / "site.toml"))
    said = words(budget, "warning")
    assert "row 2, PT-1" in said
    assert "PT-2" not in said


def test_faults_of_the_list_reach_the_site(site_text, tmp_path):
    """A list with faults refuses the site with the list's rows."""
    with pytest.raises(InputError) as caught:
        rack_site(site_text, tmp_path, ["PT-0,AI,,", "PT-1,banana,,", "PT-2,kiwi,,"])
    said = [str(f) for f in caught.value.faults]
    assert len(said) == 2
    assert "io.csv: row 4, column B (type)" in said[1]


def test_rack_keys_are_checked(site_text):
    """Unknown parts, supplies and files in [rack] come out at once."""
    said = refused(
        site_text(
            '[rack]\ncontroller = "controller-lowpower"\nio_list = "none.csv"\n'
            'loop_supply = "x"\nnode = "card-serial"\ncards = { ai = "card-analog" }\n'
        )
    )
    for where in ("controller", "io_list", "loop_supply", "node", "cards.ai"):
        assert any(f"rack.{where}:" in text for text in said), where
    assert any("did you mean controller-low-power?" in text for text in said)


# --- radios ---------------------------------------------------------------------

RADIO = """
[[load]]
name = "radio"
part = "radio-spread-spectrum-1w"
traffic.polls_per_hour = 60
traffic.registers = 20
traffic.bit_rate = "9600 bit/s"
traffic.key_up = "40 ms"
traffic.tail = "10 ms"
{more}
"""


def test_polled_site_turned_into_a_repeater(budget_of):
    """Repeating twelve stations adds their polls both ways; receive stays."""
    polled = line(budget_of(RADIO.format(more='traffic.retries = "5 %"')), "radio")
    repeater = line(
        budget_of(
            RADIO.format(
                more='traffic.retries = "5 %"\ntraffic.role = "repeater"\n'
                "traffic.stations = 12"
            )
        ),
        "radio",
    )
    answer, request = 45 * 11 / 9600 + 0.05, 8 * 11 / 9600 + 0.05
    duty = 60 * 1.05 * (13 * answer + 12 * request) / 3600
    send_w, hear_w = SPREAD.transmit.typical, SPREAD.receive.typical
    assert repeater.typical_w == pytest.approx(send_w * duty + hear_w * (1 - duty))
    alone = 60 * 1.05 * answer / 3600
    assert polled.typical_w == pytest.approx(send_w * alone + hear_w * (1 - alone))
    assert repeater.typical_w > polled.typical_w
    assert repeater.maximum_w == polled.maximum_w == SPREAD.transmit.high


def test_weak_signal_and_storms_cost_air_time(budget_of):
    """A signal factor stretches transmission; a storm hour counts as its share."""
    plain = line(budget_of(RADIO.format(more="")), "radio")
    weak = line(budget_of(RADIO.format(more="traffic.signal_factor = 7.5")), "radio")
    hear_w = SPREAD.receive.typical
    assert weak.typical_w - hear_w == pytest.approx(7.5 * (plain.typical_w - hear_w))
    storm = line(
        budget_of(
            RADIO.format(
                more='traffic.storm = "2 h"\ntraffic.storm_reports_per_hour = 3000'
            )
        ),
        "radio",
    )
    answer = 45 * 11 / 9600 + 0.05
    duty = (60 + 3000 * 2 / 24) * answer / 3600
    more_w = SPREAD.transmit.typical - hear_w
    assert storm.typical_w == pytest.approx(hear_w + more_w * duty)
    assert "storm" in storm.basis


def test_switched_modem_pays_for_registration(budget_of):
    """Registration counts at the connected draw; between sessions it is off."""
    budget = budget_of(
        '[[load]]\nname = "modem"\npart = "radio-cellular-logger-modem"\n'
        'traffic = { sessions_per_day = 24, session = "30 s", registration = "45 s" }\n'
    )
    assert line(budget, "modem").typical_w == pytest.approx(0.9 * 24 * 75 / 86_400)


@pytest.mark.parametrize(
    ("traffic", "words_"),
    [
        ("polls_per_hour = 60, bit_rate = '9600 bit/s'", "exactly one of"),
        ("registers = 2, bytes_sent = 9, bit_rate = '9600 bit/s'", "exactly one of"),
        ("polls_per_hour = 60, registers = 20", "bit_rate: is missing"),
        ("sessions_per_day = 4", "needs session"),
        (
            "sessions_per_day = 4, session = '60 s', polls_per_hour = 9",
            "sessions and polls",
        ),
        (
            "registers = 2, bit_rate = '9600 bit/s', role = 'repeater'",
            "serves how many",
        ),
        (
            "registers = 2, bit_rate = '9600 bit/s', stations = 4",
            "belongs to a repeater",
        ),
        ("registers = 2, bit_rate = '9600 bit/s', storm = '2 h'", "both its hours"),
        ("registers = 2, protocol = 'dnp3', bit_rate = '9600 bit/s'", "registers"),
        (
            "polls_per_hour = 3600, registers = 125, bit_rate = '1200 bit/s'",
            "of the time",
        ),
        ("sessions_per_day = 2000, session = '60 s'", "of the day"),
    ],
)
def test_traffic_that_cannot_be(site_text, traffic, words_):
    """Traffic that contradicts itself or does not fit is refused with the reason."""
    from powerbudget.errors import PowerBudgetError

    text = site_text(
        f'[[load]]\nname = "r"\npart = "radio-licensed-5w"\ntraffic = {{ {traffic} }}\n'
    )
    with pytest.raises(PowerBudgetError) as caught:
        load_budget(read_site_text(text))
    assert words_ in str(caught.value)
    assert caught.value.exit_code == 2


# --- loops ----------------------------------------------------------------------


def test_loop_straight_from_a_12_v_battery_clips(budget_of):
    """At 11.5 V a transmitter of 10.5 V leaves 43 ohm at 23 mA, not 250."""
    loop = (
        '[[load]]\nname = "pressure"\npart = "transmitter-pressure-two-wire"\n'
        'loop = { kind = "hart", resistance = "250 ohm" }\n'
    )
    budget = budget_of(loop, 12)
    (check,) = budget.loops
    assert check.clips_a == pytest.approx((11.5 - 10.5) / 250)
    assert "saturates at 4.0 mA" in words(budget, "serious")
    fed = budget_of(LOOPS + loop + 'supply = "loops"\n', 12)
    assert fed.loops[0].clips_a is None


def test_both_ends_of_a_lift_off_curve_are_looked_at(budget_of):
    """An instrument that needs most volts at 4 mA fails at the low end alone."""
    text = (
        '[[supply]]\nname = "s"\noutput = "16 V"\nrated = "5 W"\nno_load = "0.1 W"\n'
        'efficiency = "85 %"\n[[load]]\nname = "radar"\nsupply = "s"\n'
        'part = "transmitter-radar-two-wire"\n'
        'loop = {{ kind = "plain", resistance = "{ohm} ohm" }}\n'
    )
    (check,) = budget_of(text.format(ohm=100), 12).loops
    assert check.low_v < check.low_needed_v
    assert check.high_v > check.high_needed_v
    assert check.clips_a == pytest.approx(0.0036)


@pytest.mark.parametrize(
    ("ohm", "severity", "text"),
    [(200, "serious", "or more"), (240, "warning", "sources differ"),
     (1150, "warning", "up to 1,100")],
)  # fmt: skip
def test_hart_window(budget_of, ohm, severity, text):
    """The digital overlay wants neither too little nor too much resistance."""
    budget = budget_of(
        LOOPS.replace('"24 V"', '"40 V"')
        + '[[load]]\nname = "p"\npart = "transmitter-pressure-two-wire"\n'
        'supply = "loops"\n'
        f'loop = {{ kind = "hart", resistance = "{ohm} ohm" }}\n'
    )
    assert text in words(budget, severity)


def test_multidrop_holds_4_ma_a_device(budget_of):
    """Fifteen devices on a pair draw 60 mA, 1.44 W at 24 V; seventy are too many."""
    text = LOOPS + (
        '[[load]]\nname = "pair"\npart = "transmitter-pressure-two-wire"\n'
        'quantity = {n}\nsupply = "loops"\nloop = {{ kind = "multidrop" }}\n'
    )
    budget = budget_of(text.format(n=15))
    assert line(budget, "pair").typical_w == pytest.approx(1.44)
    assert not words(budget, "warning")
    assert "revision 6" in words(budget_of(text.format(n=20)), "warning")
    assert "limit 63" in words(budget_of(text.format(n=70)), "serious")


def test_fieldbus_segment_falls_along_its_trunk(budget_of):
    """Eight devices take their current at 24 V; 1900 m of thin cable starve the last."""
    text = LOOPS + (
        '[[load]]\nname = "segment"\npart = "transmitter-pressure-fieldbus"\n'
        "quantity = 8\n"
        'supply = "loops"\nloop = { kind = "fieldbus" }\n'
    )
    budget = budget_of(text)
    amps = PARTS["transmitter-pressure-fieldbus"].current.typical
    assert line(budget, "segment").typical_w == pytest.approx(8 * 24 * amps)
    long = text + 'wire = { gauge = "18 AWG", length = "3000 m" }\n'
    assert "farthest device" in words(budget_of(long), "serious")


def test_low_power_instruments_save_ten_to_one(budget_of):
    """3 mA at 12 V is a tenth of a 12 mA loop at 24 V through a converter of 0.8."""
    budget = budget_of(
        '[[load]]\nname = "low"\npart = "transmitter-low-power-three-wire"\n'
        'loop = { kind = "low-power" }\n', 12,
    )  # fmt: skip
    assert line(budget, "low").typical_w == pytest.approx(0.036)
    assert not budget.loops


def test_warm_up_longer_than_the_interval(site_text):
    """A sensor that cannot warm up between samples is refused."""
    said = refused(
        site_text('[[load]]\nname = "s"\ntypical = "20 mA"\n'
                  'sampled = { interval = "5 s", warm_up = "6 s" }\n')
    )  # fmt: skip
    assert "longer than the interval" in said[0]


# --- hours and heat -------------------------------------------------------------


def test_strokes_by_the_day(budget_of):
    """A stroke of 5 A for 20 s at 24 V is 0.67 Wh; its inrush makes the peak."""
    budget = budget_of(
        '[[load]]\nname = "valve"\n'
        'strokes = { per_day = 6, draw = "5 A", time = "20 s", inrush = "12 A" }\n'
    )
    assert budget.wh_per_day == pytest.approx(6 * 24 * 5 * 20 / 3600)
    valve = line(budget, "valve")
    assert valve.load_class == "momentary"
    assert (valve.maximum_w, valve.peak_w) == (120, 288)
    assert budget.inrush == "valve"


def test_night_light_follows_the_season(budget_of):
    """At 50 degrees north a night light burns twice as long in December as in June."""
    budget = budget_of('[[load]]\nname = "lamp"\ntypical = "10 W"\nwhen = "night"\n')
    by_month = budget.bus_w.mean(axis=1) / 10 * 24
    assert by_month[11] == pytest.approx(15.8, abs=0.3)
    assert by_month[5] == pytest.approx(7.7, abs=0.3)
    assert budget.heaviest_month == 12


def test_heater_at_the_design_cold(budget_of):
    """The table takes the heater at the stated cold and says so."""
    text = (
        '[[load]]\nname = "h"\ntypical = "50 W"\nbehaviour = "resistance"\n'
        'heater = { thermostat = "5 degC", loss = "1 W/degC" }\n'
    )
    budget = budget_of(text, cold="-20 degC")
    assert line(budget, "h").wh_per_day == pytest.approx(25 * 24)
    assert "design minimum" in line(budget, "h").basis
    assert budget_of(text, cold="-60 degC").wh_per_day == pytest.approx(50 * 24)
    part = budget_of(
        '[[load]]\nname = "h"\npart = "enclosure-heater"\n'
        'heater = { thermostat = "5 degC", area = "1.5 m2", insulation = "50 mm" }\n'
    )
    assert line(part, "h").wh_per_day == pytest.approx(0.94 * 25 * 24, rel=0.01)


# --- shedding -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bus", "words_"),
    [
        ('shed_first = "23.5 V"\nshed_second = "24 V"', "must lie below shed_first"),
        ('shed_first = "22 V"\nshed_second = "21 V"', "above the final disconnect"),
        ('shed_first = "45 %"\nshed_second = "30 %"', "same kind as the final"),
        ('shed_second = "24 V"', "bus.shed_first: is missing"),
        ('shed_first = "60 V"\nshed_second = "24 V"', "does not fit the bus"),
        (
            'shed_first = "24.5 V"\nshed_second = "24 V"\nshed_first_return = "24.4 V"',
            "above 24.5 V",
        ),
        (
            'shed_first = "24.5 V"\nshed_second = "24 V"\nshed_first_return = "50 %"',
            "same kind as its step",
        ),
        (
            'shed_first = "24.5 V"\nshed_second_return = "25 V"',
            "belongs to shed_second",
        ),
        ('shed_first = "lots"\nshed_second = "24 V"', "needs a voltage"),
        ('shed_first = 1.5\nshed_second = "24 V"', "volts or a state"),
    ],
)
def test_steps_that_cannot_be(site_text, bus, words_):
    """Shedding steps out of order, of another kind or missing are refused."""
    loads = '[[load]]\nname = "a"\ntypical = "1 W"\npriority = "shed first"\n'
    said = " ".join(refused(site_text(loads, bus=bus)))
    if words_ == "volts or a state":
        assert "shed_first" in said
    else:
        assert words_ in said


def test_steps_by_state_of_charge(site_text):
    """Steps may be states of charge where the disconnect is one."""
    text = site_text(
        '[[load]]\nname = "a"\ntypical = "1 W"\npriority = "shed first"\n',
        bus='shed_first = "45 %"\nshed_second = 0.30',
    )
    text = text.replace('low_voltage_disconnect = "23 V"', 'disconnect_state = "20 %"')
    text = text.replace('low_voltage_reconnect = "25.6 V"', 'reconnect_state = "60 %"')
    bus = read_site_text(text).tables.bus
    assert (bus.shed_first, bus.shed_second) == (("state", 0.45), ("state", 0.30))
    assert shed_limits(bus, bus.shed_first) == {"states": (0.45, pytest.approx(0.85))}
    back = ("state", 0.6)
    assert shed_limits(bus, bus.shed_second, back) == {"states": (0.30, 0.60)}


# --- measured loads -------------------------------------------------------------

MEASURED = '[[load]]\nname = "rtu"\nmeasured = {{ file = "log.csv", {more} }}\n'


def logged(site_text, folder, body, more='method = "shunt, 1 s"', volts=12):
    """Return the budget of one load that was logged."""
    (folder / "log.csv").write_text(body, encoding="utf-8")
    text = site_text(MEASURED.format(more=more), volts)
    return load_budget(read_site_text(text, path=folder / "site.toml"))


def quarter_hours(watts, days=2, unit="power [W]", skip=()):
    """Return a log of quarter-hour samples as CSV."""
    rows = [f"time,{unit}"]
    for k in range(96 * days):
        day, rest = divmod(k, 96)
        if k not in skip:
            clock = f"{rest // 4:02d}:{15 * (rest % 4):02d}"
            rows.append(f"2026-01-{day + 5:02d} {clock},{watts(k)}")
    return "\n".join(rows) + "\n"


def test_samples_are_multiplied_by_their_interval(site_text, tmp_path):
    """4 W in 96 quarter hours is 96 Wh, not 384."""
    budget = logged(site_text, tmp_path, quarter_hours(lambda _: 4, days=1))
    assert budget.wh_per_day == pytest.approx(96)
    assert line(budget, "rtu").status == "measured"
    assert budget.doubtful_frac == 0


def test_a_gap_is_not_filled(site_text, tmp_path):
    """1 W with two hours missing stays 1 W; the gap is listed with its length."""
    gap = range(13 * 4, 15 * 4)
    budget = logged(site_text, tmp_path, quarter_hours(lambda _: 1, skip=gap))
    assert budget.typical_w == pytest.approx(1)
    assert "2026-01-05T13:00:00 for 2 h" in words(budget, "note")
    assert "46.0 h" in line(budget, "rtu").basis


def test_hours_of_the_day_are_kept(site_text, tmp_path):
    """A load that works from 8 to 16 h in the log works then in the budget."""
    budget = logged(
        site_text, tmp_path, quarter_hours(lambda k: 9 if 32 <= k % 96 < 64 else 0.5)
    )
    table = budget.bus_w[0]
    assert table[7] == pytest.approx(0.5)
    assert table[8] == pytest.approx(9)
    assert line(budget, "rtu").maximum_w == 9
    assert budget.wh_per_day == pytest.approx(8 * 9 + 16 * 0.5)


def test_logged_current_is_a_current(site_text, tmp_path):
    """85 mA on a 12 V bus is 1.02 W and follows no voltage."""
    body = quarter_hours(lambda _: 85, unit="current_mA")
    budget = logged(site_text, tmp_path, body)
    assert line(budget, "rtu").behaviour == "current"
    assert budget.typical_w == pytest.approx(1.02)


def test_label_at_the_end_moves_the_hour(site_text, tmp_path):
    """Samples stamped at their end belong to the hour before."""
    body = quarter_hours(lambda k: 9 if k % 96 == 0 else 1)
    start = logged(site_text, tmp_path, body)
    end = logged(site_text, tmp_path, body, 'label = "end", method = "x"')
    assert start.bus_w[0, 0] > start.bus_w[0, 23]
    assert end.bus_w[0, 23] > end.bus_w[0, 0]


def test_semicolons_units_row_and_declared_comma(site_text, tmp_path):
    """A logger's file with four columns, a row of units and commas is read."""
    body = "Zeit;Spannung;Strom;Temperatur\n;V;mA;degC\n" + "".join(
        f"05.01.2026 {k:02d}:00;12,6;85,5;-4\n" for k in range(24)
    )
    more = (
        'column = "Strom", decimal = "comma", method = "x", '
        'time_format = "%d.%m.%Y %H:%M"'
    )
    budget = logged(site_text, tmp_path, body, more)
    assert budget.typical_w == pytest.approx(0.0855 * 12)


@pytest.mark.parametrize(
    ("body", "words_"),
    [
        ("time,power [W]\n46197,1\n46198,1\n", "row 2, column A: 46197"),
        ("time,power [W]\n11/03/2011 00:00,1\n", "is not a time"),
        ("time;power [W]\n2026-01-01 00:00;5,5\n", "has a comma"),
        ("time,power\n2026-01-01 00:00,5\n", "no column has a unit"),
        ("time,power [V]\n2026-01-01 00:00,5\n", "no column has a unit"),
        ("a,b\n1,2\n", "names a time column"),
        ("time,power [W]\n2026-01-01 00:00,5\n2026-01-01 00:00,5\n", "come after"),
        ("time,power [W]\n2026-01-01 00:00,-5\n", "not a draw"),
        ("time,power [W]\n2026-01-01 00:00,inf\n", "not a draw"),
        ("time,power [W]\n2026-01-01 00:00,abc\n", "row 2, column B: 'abc'"),
        ("time,power [W]\n2026-01-01 00:00,5\n", "fewer than two"),
        ("time,a [W],b [mA]\n2026-01-01 00:00,5,5\n", "several columns"),
    ],
)  # fmt: skip
def test_logs_that_cannot_be_used(site_text, tmp_path, body, words_):
    """Times that are numbers, commas, missing units and odd values are refused."""
    with pytest.raises(InputError) as caught:
        logged(site_text, tmp_path, body)
    assert words_ in str(caught.value)


def test_spot_reading_is_flagged(budget_of):
    """A single reading is used, flagged, and counted as unverified."""
    budget = budget_of(
        '[[load]]\nname = "rtu"\nmeasured = { spot = "85 mA", method = "clamp" }\n', 12
    )
    assert budget.typical_w == pytest.approx(1.02)
    assert line(budget, "rtu").status == "spot measurement"
    assert "spot measurement" in words(budget, "warning")
    assert budget.doubtful_frac == 1


def test_short_log_is_flagged_and_computed_keys_refused(site_text, tmp_path):
    """Six hours are flagged; a duty beside a log is refused."""
    body = "time,power [W]\n" + "".join(f"2026-01-05 {k:02d}:00,2\n" for k in range(6))
    budget = logged(site_text, tmp_path, body)
    assert "6.0 h only" in words(budget, "warning")
    assert "some clock hours" in words(budget, "note")
    with pytest.raises(InputError) as caught:
        logged(
            site_text,
            tmp_path,
            body,
            'method = "x" }\nduty = 0.5\nwire = { gauge = "16 AWG", length = "1 m"',
        )
    assert "already holds what duty would say" in str(caught.value)


# --- trace and verbs ------------------------------------------------------------


def test_share_of_unverified_figures(budget_of):
    """Three watts unverified or fictitious of four are three quarters."""
    budget = budget_of(
        '[[load]]\nname = "a"\ntypical = "1 W"\nstatus = "unverified"\n'
        '[[load]]\nname = "b"\ntypical = "2 W"\nstatus = "fictitious"\n'
        '[[load]]\nname = "c"\ntypical = "1 W"\nstatus = "published"\n',
        contingency="15 %",
    )
    assert budget.doubtful_frac == pytest.approx(0.75)
    assert budget.status_frac == pytest.approx(
        {"fictitious": 0.5, "unverified": 0.25, "published": 0.25}
    )


def test_every_line_can_be_traced():
    """Every line of every demo site has a source and a status word."""
    for path in sorted(SITES.glob("*.toml")):
        for row in load_budget(read_site(path)).lines:
            assert row.status, (path.name, row.name)
            assert row.basis, (path.name, row.name)
            assert row.source or row.kind == "contingency", (path.name, row.name)


def test_loads_verb_in_every_form(call, tmp_path):
    """The verb prints, draws, exports, and its export reads back the same."""
    site, out = SITES / "tag-list-station.toml", tmp_path / "out.xlsx"
    code, page, said = call(
        "loads", site, "--plot", tmp_path / "a.png", "--export", out, "--full"
    )
    assert code == 0, said
    for text in ("Rack for", "data quality", "basis", "saturation"):
        assert text in page
    assert (tmp_path / "a.png").read_bytes()[:4] == b"\x89PNG"
    code, text, _ = call("loads", site, "--json", "--io-list", out)
    found = json.loads(text)
    assert code == 0
    keys = {"lines", "typical_w", "maximum_w", "peak_w", "wh_per_day", "ah_per_day",
            "hidden_w", "contingency_frac", "rack", "doubtful_frac",
            "peak_a"}  # fmt: skip
    assert keys <= set(found)
    first = load_budget(read_site(site))
    assert found["wh_per_day"] == pytest.approx(first.wh_per_day, rel=1e-12)
    assert len(found["lines"]) == len(first.lines)


def test_export_round_trip_and_no_formula(call, tmp_path, site_text):
    """An exported list reads back equal, and nothing in it runs as a formula."""
    rows = [
        "=1+1,AI,card,",
        "+PT,AI,4-wire,",
        "@x,DI,card,NC",
        "-y,solenoid,card,energised",
    ]
    (tmp_path / "io.csv").write_text("tag,type,powered by,contact\n" + "\n".join(rows))
    site = tmp_path / "site.toml"
    site.write_text(
        site_text('[rack]\ncontroller = "controller-compact"\nio_list = "io.csv"\n'),
        encoding="utf-8",
    )
    before = read_io_list(tmp_path / "io.csv").tags
    for name in ("out.csv", "out.xlsx"):
        code, _, said = call("loads", site, "--export", tmp_path / name)
        assert code == 0, said
        after = read_io_list(tmp_path / name).tags
        assert after == before
    cells = list(csv.reader(io.StringIO((tmp_path / "out.csv").read_text("utf-8-sig"))))
    assert not [c for row in cells for c in row if c[:1] in {"=", "+", "@"}]
    from openpyxl import load_workbook

    sheet = load_workbook(tmp_path / "out.xlsx").active
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s", "n"}


def test_diff_verb(call, tmp_path):
    """Two more transmitters cost watt-hours and days of autonomy."""
    a, b = SITES / "two-well-pad.toml", tmp_path / "b.toml"
    b.write_text(a.read_text("utf-8").replace("quantity = 4", "quantity = 6"), "utf-8")
    code, text, said = call("diff", a, b, "--json")
    assert code == 0, said
    found = json.loads(text)
    assert found["delta_wh_per_day"] > 0 > found["delta_autonomy_days"]
    total = sum(row["delta_wh_per_day"] for row in found["lines"])
    assert total == pytest.approx(found["delta_wh_per_day"])
    changed = [row["name"] for row in found["lines"] if row["change"] == "changed"]
    assert "separator and tank level" in changed
    code, page, _ = call("diff", a, b)
    assert code == 0
    assert "qty 4 to 6" in page
    code, page, said = call("diff", a, tmp_path / "none.toml")
    assert (code, page) == (2, "")


def test_wrong_options_are_told(call, tmp_path):
    """A wrong ending and a wrong mark exit with 2."""
    site = SITES / "two-well-pad.toml"
    for args, text in (
        (["--export", tmp_path / "x.ods"], "ending"),
        (["--plot", tmp_path / "x.bmp"], "ending"),
        (
            ["--io-list", SITES / "tag-list-station.csv", "--decimal", "dot"],
            "point, comma",
        ),
    ):
        code, _, said = call("loads", site, *args)
        assert code == 2, args
        assert text in said
    assert not list(tmp_path.iterdir())
