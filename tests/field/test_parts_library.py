"""The parts library, and sums that people did with such parts."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook
from reference import together

from powerbudget.errors import InputError, ModelRangeError
from powerbudget.loads import converter, loop, radio
from powerbudget.site.parts import (
    PARTS_KINDS,
    CardPart,
    ConverterPart,
    DevicePart,
    ModulePart,
    RadioPart,
    TransmitterPart,
    find_part,
    load_parts,
)

PARTS = load_parts()
NEEDED = """
controller-low-power controller-process controller-logger-sleeping
controller-gas-flow-computer card-analog-input card-analog-output card-digital-input
card-digital-output-relay card-digital-output-solid-state
card-resistance-thermometer-input card-thermocouple-input card-pulse-input card-serial
card-fieldbus card-hart card-wireless-gateway transmitter-pressure-two-wire
transmitter-differential-two-wire transmitter-temperature-two-wire
transmitter-flow-two-wire transmitter-low-power-three-wire transmitter-pressure-fieldbus
radio-spread-spectrum-1w radio-spread-spectrum-100mw radio-licensed-5w
radio-cellular-router radio-cellular-low-power-gateway radio-satellite-short-burst
radio-satellite-packet radio-satellite-broadband switch-unmanaged switch-managed
media-converter operator-panel-small operator-panel-large solenoid-standard
solenoid-low-power solenoid-latching gas-detector-infrared-point
gas-detector-catalytic gas-detector-open-path gas-detector-electrochemical
flame-detector camera-fixed beacon obstruction-light enclosure-light
converter-12-to-24v-15w converter-24-to-24v-15w converter-24-to-12v-30w
converter-12-to-24v-60w module-36-cell-50w module-36-cell-100w module-36-cell-160w
module-60-cell-300w battery-agm-12v-100ah battery-gel-12v-200ah
battery-flooded-6v-220ah battery-flooded-2v-600ah battery-lfp-12v-100ah
""".split()  # noqa: SIM905 - a list of names reads better as words


def write(folder: Path, text: str) -> Path:
    """Write a user's parts file and return its path."""
    path = folder / "own.toml"
    path.write_text(text, encoding="utf-8")
    return path


def lines(path: Path) -> list[str]:
    """Return the complaints about a parts file, one a line."""
    with pytest.raises(InputError) as caught:
        load_parts(path)
    return str(caught.value).splitlines()


OWN = """
[[part]]
kind = "radio"
name = "my-radio"
title = "My radio"
transmit = {low = "4 W", typical = "5 W", high = "6 W"}
receive = {low = "1 W", typical = "1 W", high = "1 W"}
sleep = {low = "0 W", typical = "0 W", high = "0 W"}
source = "measured over a week"
status = "common practice"
"""


# --- what the library holds ---


@together.parametrize("name", NEEDED)
def test_needed_parts_are_there(name: str) -> None:
    """The equipment of an ordinary site can be written down without own parts."""
    assert find_part(PARTS, name).name == name


@together.parametrize("kind", PARTS_KINDS)
def test_every_kind_has_a_part(kind: str) -> None:
    """No kind is without an example."""
    assert any(part.kind == kind for part in PARTS.values())


def test_every_part_says_where_its_figures_come_from() -> None:
    """Source and status agree: memory, practice and documents are told apart."""
    for part in PARTS.values():
        source = part.source.lower()
        if part.status == "unverified":
            assert "unverified" in source, part.name
        if part.status == "common practice":
            assert "no source" in source or "judged" in source, part.name
        if part.reading and part.status in {"published", "data sheet"}:
            # A document, not memory alone, must stand behind every figure.
            assert "unverified" not in source, part.name
            assert not part.asks, part.name
        assert "http" not in source, part.name
        assert "www" not in source, part.name


def test_titles_are_distinct() -> None:
    """No two parts carry the same title."""
    titles = [part.title for part in PARTS.values()]
    assert len(set(titles)) == len(titles)


def test_module_points_fit_together() -> None:
    """Power is volts times amperes at the maximum, which lies inside the ends."""
    modules = [part.data for part in PARTS.values() if isinstance(part, ModulePart)]
    assert len(modules) == 4
    for data in modules:
        product_w = data.max_power_v * data.max_power_a
        assert product_w == pytest.approx(data.power_w, rel=0.005)
        fill = data.power_w / (data.open_circuit_v * data.short_circuit_a)
        # Crystalline silicon: fill factor 0.70 to 0.82, 0.60 to 0.68 V a cell, from
        # memory.
        assert 0.70 < fill < 0.82
        assert 0.60 < data.open_circuit_v / data.cells < 0.68


def test_100_w_module_points() -> None:
    """The 100 W module is the one that worked examples name."""
    part = PARTS["module-36-cell-100w"]
    assert isinstance(part, ModulePart)
    points = (part.data.max_power_v, part.data.max_power_a)
    ends = (part.data.open_circuit_v, part.data.short_circuit_a)
    assert points == (17.8, 5.62)
    assert ends == (22.0, 6.0)
    assert part.data.open_circuit_per_k == pytest.approx(-0.0033)


def test_every_converter_gives_a_slope() -> None:
    """Both points of each converter are possible together."""
    for part in PARTS.values():
        if isinstance(part, ConverterPart):
            slope = converter.slope_from_point(
                part.rated, part.efficiency, part.no_load
            )
            assert 1 <= slope < 1.3


def test_radios_draw_more_awake_than_asleep() -> None:
    """Transmit exceeds receive and receive exceeds sleep, low, typical and high."""
    for part in PARTS.values():
        if isinstance(part, RadioPart):
            for level in ("low", "typical", "high"):
                sleep, receive, transmit = (
                    getattr(draw, level)
                    for draw in (part.sleep, part.receive, part.transmit)
                )
                assert sleep < receive < transmit, part.name


# --- reading ---


def test_own_part_is_added_and_the_library_kept(tmp_path: Path) -> None:
    """A user's part stands beside the library's, which stays as it was."""
    parts = load_parts(write(tmp_path, OWN))
    assert set(parts) - set(PARTS) == {"my-radio"}
    parts.clear()
    assert load_parts() == PARTS


def test_own_file_may_start_with_a_byte_order_mark(tmp_path: Path) -> None:
    """A byte-order mark and carriage returns, as some editors write, are accepted."""
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xef\xbb\xbf" + OWN.replace("\n", "\r\n").encode())
    assert "my-radio" in load_parts(path)


def test_own_part_cannot_replace_one_of_the_library(tmp_path: Path) -> None:
    """A name of the library is refused: a report must mean one thing by it."""
    path = write(tmp_path, OWN.replace("my-radio", "radio-licensed-5w"))
    (line,) = lines(path)
    assert "own.toml: part[1] (radio-licensed-5w).name" in line
    assert "already used in the parts library" in line


def test_name_used_twice_in_a_file(tmp_path: Path) -> None:
    """The second use of a name is the one at fault."""
    (line,) = lines(write(tmp_path, OWN + OWN))
    assert "part[2] (my-radio).name" in line
    assert "already used in this file" in line


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    """Every fault of a file is listed with its key, in one go."""
    text = OWN.replace('typical = "5 W"', 'typical = "5 Wh"')
    text = text.replace("status", "stauts")
    text += OWN.replace('name = "my-radio"', 'name = "My Radio"')
    text += '[[part]]\nname = "x"\n[[part]]\nkind = "raido"\n[other]\n'
    found = lines(write(tmp_path, text))
    expected = [
        ("other", "[[part]] tables only"),
        ("part[1] (my-radio).transmit.typical", "'Wh' is an energy"),
        ("part[1] (my-radio).status", "is missing"),
        ("part[1] (my-radio).stauts", "did you mean status?"),
        ("part[2] (My Radio).name", "small letters, digits"),
        ("part[3] (x).kind", "controller, card"),
        ("part[4].kind", "did you mean radio?"),
    ]
    assert len(found) == len(expected)
    for where, words in expected:
        assert any(f"own.toml: {where}: " in line and words in line for line in found)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[part]]\nname = \n", "line 2, column 8: not valid TOML: Invalid value"),
        ('a = "b', "not valid TOML: Unterminated string"),
        ("[part]\n", "part: needs double brackets; given: [part]"),
        ("part = [3]\n", "part[1]: must be a table of keys; given: 3"),
        (
            OWN.replace('{low = "4 W", typical = "5 W", high = "6 W"}', "5"),
            "must be a table",
        ),
        ("a = " + "[" * 5000, "nested too deeply"),
        (
            OWN.replace('low = "4 W"', 'low = "9 W"'),
            "(my-radio).transmit: needs low <= typical <= high",
        ),
        (OWN.replace('low = "4 W"', "low = 4"), "needs a power in quotes"),
        (
            OWN + 'input = {min = "30 V", max = "10 V"}\n',
            "(my-radio).input: needs min < max",
        ),
        (
            OWN + 'temperature = {min = "70 degC", max = "-40 degC"}\n',
            "(my-radio).temperature: needs min < max",
        ),
        (OWN.replace('"common practice"', '"sure"'), "published, data sheet"),
    ],
)
def test_what_a_bad_file_is_told(tmp_path: Path, text: str, words: str) -> None:
    """Broken TOML names its line; a bad figure names its key and what is needed."""
    assert words in "\n".join(lines(write(tmp_path, text)))


def test_file_that_cannot_be_read(tmp_path: Path) -> None:
    """A missing file, a folder and text in another encoding are said so."""
    assert "no such file" in lines(tmp_path / "none.toml")[0]
    assert "is a folder" in lines(tmp_path)[0]
    path = tmp_path / "own.toml"
    path.write_bytes("# °".encode("latin-1"))
    assert "not UTF-8 text" in lines(path)[0]


def test_empty_file_adds_nothing(tmp_path: Path) -> None:
    """A file without parts is no fault."""
    assert load_parts(write(tmp_path, "# none yet\n")) == PARTS


@pytest.mark.parametrize(
    ("given", "hint"),
    [
        ("radio-licenced-5w", "did you mean 'radio-licensed-5w'"),
        ("Controller-Low-Power", "did you mean 'controller-low-power'"),
        ("zzzz", "list the library"),
    ],
)
def test_unknown_part_gets_the_nearest_name(given: str, hint: str) -> None:
    """A misspelt part is answered with the names that look like it."""
    with pytest.raises(InputError) as caught:
        find_part(PARTS, given, where="load[2].part")
    assert str(caught.value).startswith("load[2].part: ")
    assert hint in str(caught.value)


# --- sums of the trade ---


def rack_w(level: str, loop_a: float) -> float:
    """Return a controller and eight cards, every channel live, loops at 24 V."""
    controller = PARTS["controller-low-power"]
    assert isinstance(controller, DevicePart)
    total_w: float = getattr(controller.power, level)
    mix = {
        "card-analog-input": 3,
        "card-digital-input": 2,
        "card-analog-output": 1,
        "card-digital-output-relay": 1,
        "card-serial": 1,
    }
    loops = 0
    for name, count in mix.items():
        card: Any = PARTS[name]
        assert isinstance(card, CardPart)
        one_w = getattr(card.base, level)
        one_w += card.channels * getattr(card.per_channel, level)
        total_w += count * one_w
        loops += count * card.channels if name == "card-analog-input" else 0
    assert sum(mix.values()) == 8
    assert loops == 24
    return total_w + loops * loop.loop_supply_w(24.0, loop_a)


def test_rack_of_eight_cards_is_about_25_w() -> None:
    """A full low-power rack: 25 W lies between its typical and its highest sum."""
    # About 25 W with eight cards and all loops: common practice, no source.
    # Typical cards with loops in mid-range; highest cards with loops in fault.
    typical_w = rack_w("typical", loop.MEAN_A)
    highest_w = rack_w("high", loop.FAULT_HIGH_A)
    assert typical_w < 25.0 < highest_w
    # Every transmitter failed upscale on a rack of typical cards is close to it.
    assert rack_w("typical", loop.FAULT_HIGH_A) == pytest.approx(25.0, rel=0.15)


def test_upscale_fault_of_all_loops() -> None:
    """All transmitters in fault cost 1.75 times their mean, from the library."""
    for part in PARTS.values():
        if isinstance(part, TransmitterPart) and part.name.endswith("two-wire"):
            mean_w = loop.loop_supply_w(24.0, part.current.typical)
            fault_w = loop.loop_supply_w(24.0, part.current.high)
            assert fault_w / mean_w == pytest.approx(1.75)


def test_24_v_loop_from_a_12_v_battery() -> None:
    """A boosted loop takes 2.4 to 2.5 times its current from a 12 V battery."""
    # A telemetry manual of 2010: 355 mW for a loop at 12 mA and 576 mW at 20 mA,
    # that is 29.6 and 48 mA at 12 V.  Its idle draw follows from the two points.
    full_w = loop.loop_supply_w(24.0, loop.FULL_SCALE_A)
    mean_w = loop.loop_supply_w(24.0, loop.MEAN_A)
    idle_w = (0.355 * full_w - 0.576 * mean_w) / (full_w - mean_w)
    slope = converter.slope_from_point(full_w, full_w / 0.576, idle_w)
    for loop_a, printed_ma in ((loop.MEAN_A, 29.6), (loop.FULL_SCALE_A, 48.0)):
        loop_w = loop.loop_supply_w(24.0, loop_a)
        battery_a = converter.input_w(loop_w, no_load_w=idle_w, slope=slope) / 12
        assert 1e3 * battery_a == pytest.approx(printed_ma, abs=0.05)
        assert 2.395 < battery_a / loop_a < 2.5


def test_oversized_booster_costs_more_than_the_rule() -> None:
    """One loop on the library's 12 W booster takes near four times its current."""
    part = PARTS["converter-12-to-24v-12w"]
    assert isinstance(part, ConverterPart)
    slope = converter.slope_from_point(part.rated, part.efficiency, part.no_load)
    loop_w = loop.loop_supply_w(24.0, loop.MEAN_A)
    taken_w = converter.input_w(loop_w, no_load_w=part.no_load, slope=slope)
    # Half of the power is lost: 0.288 W out of 0.565 W.
    assert taken_w / 12 / loop.MEAN_A == pytest.approx(3.93, abs=0.01)


def test_switched_sensor() -> None:
    """20 mA for 0.327 s a minute is 0.109 mA: 2000 mAh last 764 days, not 4.1."""
    # Field report, common practice; valid only while the warm-up fits.
    duty = loop.sampled_duty_frac(60.0, 0.300, 0.027)
    mean_ma = 20.0 * duty
    assert mean_ma == pytest.approx(0.109, abs=0.0005)
    assert 2000 / mean_ma / 24 == pytest.approx(764, abs=1)
    always_ma = 20.0 * loop.sampled_duty_frac(60.0, 30.0, 30.0)
    assert 2000 / always_ma / 24 == pytest.approx(4.1, abs=0.1)
    with pytest.raises(ModelRangeError, match="leave the sensor on"):
        loop.sampled_duty_frac(60.0, 59.9, 0.327)


def test_packet_radio_charge() -> None:
    """1.3 A for 2 s a packet is 0.72 mAh; one a minute is 1.04 Ah a day."""
    # Field report: packet radio at 12 V.
    duty = radio.transmit_duty_frac(60.0, 2.0)
    per_day_ah = radio.mean_w(1.3 * 12, 0.0, 0.0, duty) / 12 * 24
    assert per_day_ah == pytest.approx(1.04, abs=0.005)
    assert per_day_ah / 1440 == pytest.approx(0.72e-3, abs=0.005e-3)


def test_logger_that_uploads_every_half_hour() -> None:
    """48 uploads of 70 s at 1,950 mW on a base of 120 mW give 195.8 mW."""
    # Field report: base 120 mW, 1,600 mW and 350 mW more while awake.
    duty = radio.transmit_duty_frac(2.0, 70.0)
    awake_w, base_w = 0.120 + 1.600 + 0.350, 0.120
    mean_w = radio.mean_w(awake_w, base_w, base_w, duty, asleep_frac=1 - duty)
    assert duty * 86_400 == pytest.approx(3360)
    assert mean_w == pytest.approx(0.1958, abs=0.00005)
    # Against 136 mW with one upload a day: 43 % more (printed 195 over 136).
    assert mean_w / 0.136 == pytest.approx(1.43, abs=0.011)


def test_a_part_is_found_by_the_words_of_its_trade_in_any_order():
    """Somebody who asks for a pressure transmitter is not offered a heater."""
    from powerbudget.errors import nearest_names
    from powerbudget.site.parts import load_parts

    for asked, wanted in (
        ("pressure transmitter", "transmitter-pressure-two-wire"),
        ("Flow computer", "controller-gas-flow-computer"),
        ("radio-licenced-5w", "radio-licensed-5w"),
    ):
        assert nearest_names(asked, load_parts())[0] == wanted


# --- readings ---

READ = [p for p in PARTS.values() if p.reading]
PREFIX = {"": 1.0, "m": 1e-3, "u": 1e-6}


def printed(text: str) -> tuple[float, str]:
    """Return a draw as a document prints it in W or A, without the program's reader."""
    number, unit = text.split()
    return float(number) * PREFIX[unit[:-1]], unit[-1]


def test_every_reading_is_its_volts_times_its_amperes() -> None:
    """Watts are printed, or follow from printed amperes at the volts beside them."""
    files = Path(load_parts.__code__.co_filename).with_name("parts").glob("*.toml")
    raw = {p["name"]: p for f in files for p in tomllib.loads(f.read_text())["part"]}
    seen = 0
    for part in READ:
        for row, reading in zip(raw[part.name]["reading"], part.reading, strict=True):
            values = row["value"] if isinstance(row["value"], list) else [row["value"]]
            for text, amount in zip(values, reading.amounts, strict=True):
                number, unit = printed(text)
                if unit == "A" and reading.figure != "current":
                    number *= printed(row["at"].replace("V", "W"))[0]
                    seen += 1
                assert amount == pytest.approx(number), (part.name, text)
    assert seen > 60


def test_figures_are_lowest_median_and_highest() -> None:
    """Of what documents say; memory counts where none says anything."""
    for part in READ:
        for name in dict.fromkeys(one.figure for one in part.reading):
            own = [one for one in part.reading if one.figure == name]
            own = [
                one for one in own if one.grade in {"read in full", "excerpt"}
            ] or own
            every = sorted(x for one in own for x in one.amounts)
            means = sorted(x for one in own if not one.maximum for x in one.amounts)
            middle = means or every
            median = (middle[(len(middle) - 1) // 2] + middle[len(middle) // 2]) / 2
            held = getattr(part, name)
            ends = (held.low, held.typical, held.high)
            assert ends == pytest.approx((every[0], median, every[-1])), part.name


def test_a_stated_maximum_is_an_end_and_no_typical(tmp_path: Path) -> None:
    """It may be the lowest as well as the highest of the readings, by hand."""
    text = METER + "".join(
        READING.format(figure="power", value=f'"{watts} W"', grade="excerpt")
        + f"maximum = {str(most).lower()}\n"
        for watts, most in ((2, False), (1, True), (5, True), (3, False))
    )
    part = load_parts(write(tmp_path, text))["my-meter"]
    assert isinstance(part, DevicePart)
    assert (part.power.low, part.power.typical, part.power.high) == (1, 2.5, 5)


@pytest.mark.parametrize(
    ("grades", "status"),
    [
        (["read in full, public"], "published"),
        (["excerpt"], "data sheet"),
        (["excerpt, public", "excerpt"], "data sheet"),
        (["unverified"], "unverified"),
        (["assumed"], "assumed"),
        (["unverified", "assumed"], "assumed"),
    ],
)
def test_status_is_the_weakest_of_what_counts(
    tmp_path: Path, grades: list[str], status: str
) -> None:
    """A public document is published, a maker's a data sheet; without one it is told."""
    text = METER + "".join(
        READING.format(figure="power", value='"2 W"', grade=one.split(",")[0])
        + f"public = {str('public' in one).lower()}\n"
        for one in grades
    )
    part = load_parts(write(tmp_path, text))["my-meter"]
    assert part.status == part.status_of("power") == status


@pytest.mark.parametrize(
    ("second", "n"),
    [
        ('page = "p. 9"', 1),
        ("year = 1999", 2),
        ('document = "another sheet"', 2),
        ('grade = "memory"', 1),
    ],
)
def test_documents_are_counted_and_not_readings(
    tmp_path: Path, second: str, n: int
) -> None:
    """Two pages of a document are one; another year or another sheet is a second."""
    first = 'value = "2 W"\ndocument = "a sheet"\npage = "p. 3"\ngrade = "excerpt"\n'
    key = second.split(" = ", maxsplit=1)[0]
    other = "".join(x + "\n" for x in first.splitlines() if not x.startswith(key))
    text = f"{METER}[[part.reading]]\n{first}[[part.reading]]\n{other}{second}\n"
    assert load_parts(write(tmp_path, text))["my-meter"].documents("power") == n


READING = """
[[part.reading]]
figure = "{figure}"
value = {value}
document = "a sheet"
grade = "{grade}"
"""
METER = '[[part]]\nkind = "device"\nname = "my-meter"\ntitle = "My meter"\n'


@pytest.mark.parametrize(
    ("grades", "typical", "status", "n"),
    [
        (["excerpt", "unverified"], 2.0, "data sheet", 1),
        (["unverified", "unverified"], 3.0, "unverified", 0),
        (["judged", "read in full"], 4.0, "data sheet", 1),
    ],
)
def test_status_follows_from_grades(
    tmp_path: Path, grades: list[str], typical: float, status: str, n: int
) -> None:
    """A document outweighs memory; without one the figure is to be asked for."""
    text = METER + "".join(
        READING.format(figure="power", value=f'"{watts} W"', grade=grade)
        for watts, grade in zip((2, 4), grades, strict=True)
    )
    part = load_parts(write(tmp_path, text))["my-meter"]
    assert isinstance(part, DevicePart)
    assert (part.power.typical, part.status) == (typical, status)
    assert part.documents("power") == n
    assert bool(part.asks) == (status == "unverified")


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (
            READING.format(figure="power", value='"40 mA"', grade="excerpt"),
            "supply volts",
        ),
        (READING.format(figure="base", value='"4 W"', grade="excerpt"), "it has power"),
        (
            READING.format(figure="power", value='"4 W"', grade="hearsay"),
            "read in full",
        ),
        (
            READING.format(figure="power", value='"4 Wh"', grade="excerpt"),
            "draw in W or A",
        ),
    ],
)
def test_a_reading_that_cannot_be_used(
    tmp_path: Path, reading: str, words: str
) -> None:
    """Amperes need their volts, and a part only has the figures of its kind."""
    assert words in "\n".join(lines(write(tmp_path, METER + reading)))


def test_a_reading_is_shown_as_its_document_prints_it(call: Any) -> None:
    """No digit is lost, and the picture runs from nothing to the highest reading."""
    _, page, _ = call("parts", "powered-device")
    assert "3.84 W, 6.49 W, 12.95 W" in page
    (line,) = [x for x in page.splitlines() if x.startswith("power  0 |")]
    picture = line.split("|")[1]
    # 3.84 and 6.49 of 12.95 W on forty steps; the middle one is the typical.
    assert [picture.index("o"), picture.index("O"), len(picture) - 1] == [12, 20, 40]
    assert picture.count("o") == 2
    assert line.endswith("12.95 W  typical 6.49 W, n = 1")


def test_a_current_stays_a_current_at_any_supply(tmp_path: Path) -> None:
    """The volts beside a transmitter's amperes say how it was read, and no more."""
    text = (
        '[[part]]\nkind = "transmitter"\nname = "my-loop"\ntitle = "My loop"\n'
        'wiring = "three-wire"\n'
        + READING.format(figure="current", value='"6 mA"', grade="excerpt")
        + 'at = "24 V"\n'
    )
    part = load_parts(write(tmp_path, text))["my-loop"]
    assert isinstance(part, TransmitterPart)
    assert part.current.typical == pytest.approx(0.006)


def test_a_figure_is_not_given_twice(tmp_path: Path) -> None:
    """A draw written out beside its readings is refused."""
    three = 'power = {low = "1 W", typical = "2 W", high = "3 W"}\n'
    reading = READING.format(figure="power", value='"4 W"', grade="excerpt")
    assert "twice" in "\n".join(lines(write(tmp_path, METER + three + reading)))


def draw(name: str, level: str = "typical") -> float:
    """Return the draw of a part at rest: its power, or its radio listening [W]."""
    part: Any = PARTS[name]
    held = part.receive if isinstance(part, RadioPart) else part.power
    return float(getattr(held, level))


# EPA, supplemental proposal analysis of 2022, five pads: controllers, pumps, watts.
@pytest.mark.parametrize(
    ("controllers", "pumps", "pad_w"),
    [(2, 0, 10.8), (4, 0, 14.64), (4, 1, 24.24), (8, 1, 31.92), (20, 2, 64.56)],
)
def test_pads_of_the_regulator_are_sums_of_parts(
    controllers: int, pumps: int, pad_w: float
) -> None:
    """Controllers, pumps and panel of the library come to the published watts."""
    sum_w = controllers * draw("electric-controller") + pumps * draw(
        "electric-chemical-pump"
    )
    assert sum_w + draw("control-panel-electric-pad") == pytest.approx(pad_w, abs=0.005)


# Published whole stations: the least and the most that their documents give [W].  The
# seismic one is "below 3 W" with its sensor; the polar one 4.5 W as it runs, designed
# for 5 W, with its receiver; permanent ones 4 to 24 W.
@pytest.mark.parametrize("level", ["low", "typical", "high"])
@pytest.mark.parametrize(
    ("station", "parts", "least_w", "most_w"),
    [
        (
            "station-seismic",
            ["controller-logger-awake", "radio-spread-spectrum-1w"],
            0,
            3,
        ),
        (
            "station-gnss-permanent",
            ["controller-logger-large", "wireless-bridge"],
            4,
            24,
        ),
        (
            "station-gnss-polar",
            ["controller-logger-awake", "radio-satellite-low-orbit"],
            0,
            4.5,
        ),
    ],
)
def test_whole_stations_hold_the_sum_of_their_parts(
    station: str, parts: list[str], least_w: float, most_w: float, level: str
) -> None:
    """Recorder and link lie inside what whole stations were published at, at each end."""
    whole: Any = PARTS[station]
    assert whole.power.high == most_w
    assert least_w in {whole.power.low, 0}
    # Sensor and receiver are no parts of the library: the sum leaves them something.
    assert least_w < sum(draw(name, level) for name in parts) < most_w


# --- parts of one's own as a table ---

ROWS = [
    ["name", "kind", "title", "figure", "value", "at", "maximum", "document", "year",
     "page", "grade"],
    ["my-radio", "radio", "My radio", "transmit", "2 A", "12 V", "", "radio manual",
     "undated", "p. 9", "excerpt"],
    ["my-radio", "", "", "receive", "70 mA; 80 mA", "12 V", "", "radio manual", "",
     "p. 9", "excerpt"],
    ["my-radio", "", "", "sleep", "1,5 mA", "12 V", "", "radio manual", "", "", "excerpt"],
    ["my-meter", "device", "My meter", "", "12 W", "", "", "meter sheet", "2021", "p. 3",
     "read in full"],
    ["my-meter", "", "", "", "15 W", "", "yes", "meter sheet", "2021", "p. 3",
     "read in full"],
]  # fmt: skip


def as_csv(path: Path) -> None:
    """Write the rows as a spreadsheet with a decimal comma exports them."""
    text = "\r\n".join(";".join(f'"{c}"' if ";" in c else c for c in r) for r in ROWS)
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())


def as_xlsx(path: Path) -> None:
    """Write the rows as a workbook, years as numbers and blanks as no cell."""
    book = Workbook()
    for row in ROWS:
        cells = [int(c) if c.isdigit() else c or None for c in row]
        book.active.append(cells)
    book.save(path)


@pytest.mark.parametrize(("ending", "make"), [("csv", as_csv), ("xlsx", as_xlsx)])
def test_own_parts_from_a_table(tmp_path: Path, ending: str, make: Any) -> None:
    """A row is a reading; the figures follow as they do for the library's parts."""
    path = tmp_path / f"own.{ending}"
    make(path)
    parts = load_parts(path)
    radio_, meter = parts["my-radio"], parts["my-meter"]
    assert isinstance(radio_, RadioPart)
    assert isinstance(meter, DevicePart)
    watts = (radio_.transmit.typical, radio_.receive.typical, radio_.sleep.typical)
    assert watts == pytest.approx((2 * 12, 0.075 * 12, 0.0015 * 12))
    assert (meter.power.typical, meter.power.high, meter.status) == (
        12,
        15,
        "data sheet",
    )
    assert meter.reading[0].year == 2021
    assert radio_.reading[0].year is None


def test_own_parts_with_ends_in_place_of_readings(tmp_path: Path) -> None:
    """Low, typical and high of a row are of its figure, power where it names none."""
    path = tmp_path / "own.csv"
    path.write_text(
        "name;kind;title;figure;low;typical;high;source;status\n"
        "my-pump;device;My pump;;1,5 W;2 W;3 W;sheet of 2020;data sheet\n"
        "my-radio;radio;My radio;transmit;4 W;5 W;6 W;sheet of 2020;data sheet\n"
        "my-radio;;;receive;700 mW;1 W;1,2 W;;\n"
        "my-radio;;;sleep;0 W;0 W;0 W;;\n",
        encoding="utf-8",
    )
    parts = load_parts(path)
    pump, radio_ = parts["my-pump"], parts["my-radio"]
    assert isinstance(pump, DevicePart)
    assert isinstance(radio_, RadioPart)
    assert (pump.power.low, pump.power.typical, pump.power.high) == (1.5, 2, 3)
    assert (radio_.receive.low, radio_.transmit.high) == pytest.approx((0.7, 6))
    assert radio_.status == "data sheet"


@pytest.mark.parametrize(
    ("head", "words"),
    [("name,kind,secret", "column 3 is not known"), ("kind,title", "no column 'name'")],
)
def test_a_table_of_another_kind_is_refused(
    tmp_path: Path, head: str, words: str
) -> None:
    """The column is told by its number, never by what stands there."""
    path = tmp_path / "own.csv"
    path.write_text(head + "\nmy-x,device,top secret\n", encoding="utf-8")
    said = "\n".join(lines(path))
    assert words in said
    assert "secret" not in said


def test_a_faulty_row_of_a_table_is_told_by_its_part(tmp_path: Path) -> None:
    """A table is checked as a file of [[part]] is."""
    path = tmp_path / "own.csv"
    rows = [[*row] for row in ROWS[:2]]
    rows[1][4] = "2 Ah"
    path.write_text("\n".join(",".join(row) for row in rows), encoding="utf-8")
    said = "\n".join(lines(path))
    assert "part[1] (my-radio).reading.value: needs a draw in W or A" in said
