"""What columns do not say: figures and words of live rows that nothing was made of.

Every case is invented.  Each text is asked about, or counted, and never passed by.
"""

from __future__ import annotations

import pytest
from openpyxl import Workbook
from reference.sheets import read

from powerbudget.lists.figures import draws_in
from powerbudget.lists.importer import read_lists
from powerbudget.lists.rack_list import rack_list


def asked(found):
    """Return cause -> the rows asked about."""
    return {q.cause: [i.row for i in q.items] for q in found.asked}


def watts(found):
    """Return running watts and Wh/day of all loads."""
    return (
        sum(x.running_w or 0 for x in found.loads),
        sum(x.wh_per_day or 0 for x in found.loads),
    )


HEADS = "Equipment | Qty | Watts | Hours/day | Remarks\n"
ROWS = {
    "a peak in a remark": ("RTU | 1 | 10 | 24 | peak 30 W", "passed-over"),
    "other pieces in a remark": ("RTU | 1 | 10 | 24 | 2 required per pad", "passed-over"),
    "another time in a remark": ("RTU | 1 | 10 | 2 | 4 h in winter", "passed-over"),
    "watts in the name": ("RTU 25 W | 1 | 10 | 24 |", "passed-over"),
    "the same watts in the name": ("RTU 10 W | 1 | 10 | 24 |", ""),
    "the watts of one piece in the name": ("RTU 10 W | 3 | 10 | 24 |", ""),
    "the watts of one piece, counted by column": ("RTU, 5 W | 3 | 5.02 | 24 |", ""),
    "the same pieces in a remark": ("RTU | 2 | 10 | 24 | 2 off", ""),
    "the same time in a remark": ("RTU | 1 | 10 | 1 | 60 min/day", ""),
    "letters of a tag are no unit": ("XY-701A | 1 | 10 | 24 | TK-5H", ""),
    "a fuse": ("RTU | 1 | 10 | 24 | fuse 2 A", ""),
    "an option": ("RTU | 1 | 10 | 24 | OPTION", "scope"),
    "a future device": ("RTU (FUTURE) | 1 | 10 | 24 |", "scope"),
    "not in the contract": ("RTU | 1 | 10 | 24 | NIC", "scope"),
    "whose it is": ("RTU | 1 | 10 | 24 | Client", "scope"),
    "a spare way": ("Spare breaker | 1 | 10 | 24 |", "scope"),
    "a client's device": ("Client radio | 1 | 10 | 24 |", ""),
    "a rating of a converter": ("DC/DC converter | 1 | 120 | 24 |", "rating"),
    "the loss of a converter": ("DC/DC converter, no-load | 1 | 2 | 24 |", ""),
    "a pump without a time": ("Pump | 1 | 10 | |", "untimed"),
    "a controller without a time": ("RTU | 1 | 10 | |", ""),
}  # fmt: skip


@pytest.mark.parametrize("name", ROWS)
def test_a_row_says_more_than_its_columns(tmp_path, name):
    """What is stated otherwise is asked about its row; what is said again is not."""
    row, cause = ROWS[name]
    found = read(tmp_path, f"{HEADS}Modem | 1 | 3.7 | 24 |\n{row}")
    told = {c: rows for c, rows in asked(found).items() if c != "part-day"}
    assert told == ({cause: [3]} if cause else {})
    assert len(found.loads) == 2


def test_time_not_stated_is_told(tmp_path):
    """A load without a time counts 24 h, and a note names it."""
    found = read(tmp_path, f"{HEADS}RTU | 1 | 10 | |\nModem | 1 | 3 | 24 |")
    assert watts(found) == (13, 312)
    (note,) = [n for n in found.notes if "24 h a day" in n]
    assert "RTU (row 2)" in note
    assert "Modem" not in note


PARTS = {
    "by number": ("1 | Cabinet | 1 | 20 | 24\n1.1 | CPU | 1 | 8 | 24\n1.2 | Card | 2 | 6 | 24\n"
                  "2 | Modem | 1 | 5 | 24", "part-out", 25),
    "by dash": (" | Cabinet | 1 | 20 | 24\n | - CPU | 1 | 8 | 24\n | - Card | 2 | 6 | 24\n"
                " | Modem | 1 | 5 | 24", "part-out", 25),
    "by number, other watts": ("1 | Cabinet | 1 | 20 | 24\n1.1 | CPU | 1 | 8 | 24\n"
                               "1.2 | Card | 2 | 7 | 24", "part-twice", 42),
    "by sum below": (" | Cabinet | 1 | 20 | 24\n | CPU | 1 | 8 | 24\n | Card | 2 | 6 | 24\n"
                     " | Modem | 1 | 5.5 | 24", "part-twice", 45.5),
    "by sum above": (" | CPU | 1 | 8 | 24\n | Card | 2 | 6 | 24\n"
                     " | Rack complete | 1 | 20 | 24\n | Modem | 1 | 5.5 | 24", "part-twice", 45.5),
    "a sum without a name": (" | CPU | 1 | 8 | 24\n | Card | 2 | 6 | 24\n | | | 20 |",
                             "sum-row", 20),
    "a sum by another name": (" | CPU | 1 | 8 | 24\n | Card | 2 | 6 | 24\n"
                              " | Required supply | | 20 | 24", "sum-row", 20),
    "a name like a sum": (" | CPU | 1 | 8 | 24\n | Card | 2 | 6 | 24\n"
                          " | Connected 30 loads | 1 | 21 | 24", "sum-like", 41),
    "no sum": (" | CPU | 1 | 8 | 24\n | Card | 2 | 6 | 24\n | Modem | 1 | 19.9 | 24", "", 39.9),
}  # fmt: skip


@pytest.mark.parametrize("name", PARTS)
def test_what_restates_other_rows_counts_once_or_is_asked(tmp_path, name):
    """Marked parts that add up count once; a sum without a name is a total."""
    rows, cause, running = PARTS[name]
    found = read(tmp_path, f"Item | Equipment | Qty | Watts | Hours\n{rows}")
    assert set(asked(found)) == ({cause} if cause else set())
    assert watts(found)[0] == pytest.approx(running)
    (tally,) = found.tallies
    classes = tally.by_class()
    # Every row stays accounted for.
    assert sum(map(len, classes.values())) == 1 + rows.count("\n") + 1
    assert len(classes["load"]) == len(found.loads)


OUTSIDE = {
    "a share below": (HEADS + "RTU | 1 | 10 | 24 |\nNotes:\nAllow 20 % spare", [4]),
    "a draw below": (HEADS + "RTU | 1 | 10 | 24 |\nNotes:\nHeater of 50 W not shown", [4]),
    "a factor above": ("All loads x 1.2 below\n" + HEADS + "RTU | 1 | 10 | 24 |", [1]),
    "a sum above that holds": ("Loads: 10 W\n" + HEADS + "RTU | 1 | 10 | 24 |", []),
    "a sum above that does not": ("Loads: 12 W\n" + HEADS + "RTU | 1 | 10 | 24 |", [1]),
    "nothing that bears": ("Rev 3 of 12 May\n" + HEADS + "RTU | 1 | 10 | 24 |", []),
    "a signal list": ("Tag | Service | Type\nPT-1 | Line | AI\nNotes:\nRadio 5 W not here", [4]),
}  # fmt: skip


@pytest.mark.parametrize("name", OUTSIDE)
def test_lines_outside_of_tables_are_asked(tmp_path, name):
    """Titles and notes that state a draw, a share or a factor; sums that hold are quiet."""
    text, rows = OUTSIDE[name]
    assert asked(read(tmp_path, text)).get("outside", []) == rows


def test_loads_below_notes_are_read(tmp_path):
    """A row with a name and watts ends the notes."""
    text = "RTU | 1 | 10 | 24 |\nNotes: see below\nModem | 1 | 5 | 24 |"
    assert watts(read(tmp_path, HEADS + text)) == (15, 360)


def test_a_total_right_under_the_heads_is_compared(tmp_path):
    """25 W over rows of 15 W are told; 15 W are not."""
    rows = "RTU | 1 | 10 | 24 |\nModem | 1 | 5 | 24 |"
    for total, said in ((25, {"total"}), (15, set())):
        found = read(tmp_path, f"{HEADS}TOTAL | | {total} | |\n{rows}")
        assert set(asked(found)) == said
        assert watts(found) == (15, 360)


def test_a_load_on_two_sheets_is_asked(tmp_path):
    """One tag, or one name and watts where nothing has a tag."""
    heads = "Tag | Equipment | Watts\n"
    found = read(
        tmp_path,
        f"{heads}R-1 | RTU | 10\nM-1 | Modem | 5",
        f"{heads}R-1 | Controller | 9\nM-2 | Modem | 5\nM-3 | Modem | 6",
    )
    assert asked(found) == {"load-twice": [2]}
    found = read(
        tmp_path, "Device | W\nRTU | 10\nModem | 5", "Device | W\nGauge | 9\nModem | 5"
    )
    assert asked(found) == {"load-twice": [3]}


BESIDE = """
DC loads | | | | AC loads 230 V | |
Name | W | h/day | | Name | W | h/day
RTU | 10 | 24 | | Camera | 12 | 24
Modem | 5 | 24 | | Recorder | 6 | 24
"""


def test_tables_beside_each_other_are_two(tmp_path):
    """Each half has its own names, watts and title; rows are accounted for once."""
    found = read(tmp_path, BESIDE)
    assert [(x.name, x.running_w, x.ac) for x in found.loads] == [
        ("RTU", 10, False), ("Modem", 5, False), ("Camera", 12, True), ("Recorder", 6, True),
    ]  # fmt: skip
    assert found.tallies[0].by_class() == {"head": [1, 2], "load": [3, 4]}
    signals = "Tag | Service | Type | Tag | Service | Type\nPT-1 | Line | AI | ZS-1 | Gate | DI"
    found = read(tmp_path, signals)
    assert [(x.tag, x.points) for x in found.lines] == [
        ("PT-1", {"ai": 1}),
        ("ZS-1", {"di": 1}),
    ]


DOWN = """
STATION DATA
System voltage | 24 | V
RTU consumption | 6.5 | W
Radio receive current | 180 | mA
Radio transmit current | 1.9 | A
Transmit duty | 3 | %
Number of flow meters | 2 |
Flow meter consumption, each | 4 | W
Actuator current | 5 | A
Actuator strokes per day | 4 |
Stroke time | 35 | s
Panel heater | 50 | W
Heater on below | 5 | degC
Design margin | 20 | %
Battery capacity | 400 | Ah
"""


def test_a_sheet_of_several_devices_under_one_title(tmp_path):
    """Each label names its device; what is not understood is asked, a margin is taken once."""
    found = read(tmp_path, DOWN)
    radio = 24 * (0.97 * 0.18 + 0.03 * 1.9) * 24
    assert {x.name: (x.quantity, x.wh_per_day) for x in found.loads} == {
        "RTU": (1, pytest.approx(6.5 * 24)),
        "Radio": (1, pytest.approx(radio)),
        "flow meters": (2, pytest.approx(8 * 24)),
        "Actuator": (1, pytest.approx(120 * 4 * 35 / 3600)),
        "heater": (1, pytest.approx(1200)),
    }
    assert found.contingency_frac == 0.2
    assert {"contingency", "line-unread", "untimed"} == set(asked(found))


def test_a_device_that_states_a_figure_twice_is_asked(tmp_path):
    """Two powers of one device in one section: the higher counts."""
    text = "Radio\nPower | 5 | W\nPower | 7 | W\nVoltage | 12 | V"
    found = read(tmp_path, text)
    assert watts(found) == (7, 168)
    assert asked(found) == {"line-unread": [3]}


def test_signals_out_of_scope_and_draws_in_words(tmp_path):
    """A draw in a description is not dropped; a range of what is measured is none."""
    text = (
        "Tag | Description | Type | Signal | Remarks\n"
        "PT-1 | Line | AI | 4-20 mA | NIC\n"
        "PT-2 | Line 4-wire 8 W | AI | 4-20 mA |\n"
        "IT-3 | Motor current 30 A | AI | 4-20 mA |\n"
        "TE-4 | Oil, Pt100 3W | RTD | Pt100 |\n"
        "HS-5 | Spare pump start | DI | contact |"
    )
    told = asked(read(tmp_path, text))
    assert told["scope"] == [2]
    assert told["passed-over"] == [3]


def test_draws_of_a_text():
    """Volts and ratings are none; a range counts at its high end."""
    assert draws_in("5-8 W at 24 V") == (("W", 8.0),)
    assert draws_in("2 x 1.5 W, 0.4 A") == (("W", 3.0), ("A", 0.4))
    assert draws_in("breaker 6 A") == ()
    assert draws_in("TK-5A") == ()


CELLS = {
    "range that is a signal": (
        "Tag | Service | Type | Range\nB1 | Line | AI | 4-20 mA\nB3 | Gas | AI | Pt100",
        {"ai": 1, "rtd": 1}, {"refined"},
    ),
    "a tag times a signal": (
        "Tag | Service | Signals\nTE-4A/B | Gas | 2 x RTD\nPT-1 | Line | AI",
        {"ai": 1, "rtd": 2}, {"several-in-cell"},
    ),
    "pieces behind a tag": (
        "Tag | Service | Type\nZS-1 (x2) | Gate | DI\nPT-1 | Line | AI",
        {"ai": 1, "di": 2}, {"several-in-tag"},
    ),
    "watts of mains in the head": (
        "Tag | Service | Type | Motor kW (400 VAC)\nMOV-1 | Line | DO | 1.1\nPT-1 | Line | AI |",
        {"ai": 1, "do": 1}, {"ac-device"},
    ),
    "a future row": (
        "Tag | Service | Type | Status\nPT-1 | Line | AI |\nPT-2 | Line | AI | FUTURE",
        {"ai": 1}, {"future"},
    ),
    "a row of dashes": (
        "Tag | Service | Type | Signal\nPT-1 | Line | AI | 4-20 mA\nPI-2 | Gauge | - | -",
        {"ai": 1}, set(),
    ),
    "a kind that nobody knows beside one that is implied": (
        "Tag | Service | Type | Range\nPT-1 | Line | AI | 4-20 mA\nZ-2 | Gas | ZX | NAMUR",
        {"ai": 1, "di": 1}, {"implied"},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CELLS)
def test_signals_by_all_their_cells(tmp_path, name):
    """Points, and the causes that are asked."""
    text, points, causes = CELLS[name]
    found = read(tmp_path, text)
    assert found.points() == points
    assert set(asked(found)) == causes
    assert not sum(x.maximum_w or 0 for x in found.lines)


def test_volts_of_a_signal_feed_nothing(tmp_path):
    """1-5 V is what a transmitter says, 24 VDC what it is fed with."""
    text = "Tag | Type | Signal | Power | W\nA-1 | AI | 1-5 V | 24 VDC | 4\nA-2 | AI | 0-10 V | | 4"
    assert [x.volts for x in read(tmp_path, text).lines] == [24, 0]


def test_kinds_of_a_rack_reach_its_list(tmp_path):
    """A fieldbus or a radio is no serial port in the list that the rack reads."""
    text = "Tag | Service | Signal\nP-1 | a | FF H1\nP-2 | b | WirelessHART\nP-3 | c | Modbus RTU"
    listed = rack_list(read(tmp_path, text)).split("\n")
    assert [line.split(",")[1] for line in listed[1:4]] == [
        "fieldbus",
        "wireless",
        "serial",
    ]


def test_a_status_merged_over_rows_holds_for_each(tmp_path):
    """Names, spare tags and statuses go down; the rows stay accounted for."""
    made = Workbook()
    sheet = made.active
    for row in (
        ["Asset", "Signal", "I/O", "Status"], ["P1", "Run", "DI"], [None, "Fault", "DI"],
        ["P3", "Run", "DI", "Removed"], [None, "Start", "DO"], ["Spare", None, "DI"],
        [None, None, "DO"],
    ):  # fmt: skip
        sheet.append(row)
    for area in ("A2:A3", "A4:A5", "D4:D5", "A6:A7"):
        sheet.merge_cells(area)
    made.save(tmp_path / "m.xlsx")
    found = read_lists([tmp_path / "m.xlsx"])
    assert found.points() == {"di": 2}
    assert found.points("spare") == {"di": 1, "do": 1}
    assert found.tags() == ["P1"]
    assert found.tallies[0].by_class()["deleted"] == [4, 5]


def test_a_legend_sheet_tells_codes_and_joined_tags_are_made(tmp_path):
    """D is demolish and F future by the legend; "PT" & "-" & 701 is PT-701."""
    made = Workbook()
    sheet = made.active
    for row in (
        ["Func", "No", "Tag", "Type", "Status"],
        ["PT", 701, '=A2&"-"&B2', "AI", "N"], ["PT", 702, '=A3&"-"&B3', "AI", "D"],
        ["PT", 703, '=A4&"-"&B4', "AI", "F"],
    ):  # fmt: skip
        sheet.append(row)
    legend = made.create_sheet("Legend")
    for row in (["Code", "Meaning"], ["N", "New"], ["D", "Demolish"], ["F", "Future"]):
        legend.append(row)
    made.save(tmp_path / "l.xlsx")
    found = read_lists([tmp_path / "l.xlsx"])
    assert found.tags() == ["PT-701"]
    assert [x.kind for x in found.lines] == ["point", "deleted", "future"]
    assert {"formula", "future"} <= set(asked(found))
    assert "letter" not in asked(found)


READ = {
    "letters of a legend": ("I = intermittent (30 %), S = standby (10 %)\nDevice | W | Duty\n"
                            "RTU | 10 | I\nModem | 5 | S\nGauge | 2 | X",
                            24 * (3 + 0.5 + 2), {"duty-letter", "time-unread", "outside"}),
    "absorbed beside rated": ("Device | Rated W | Absorbed W\nRTU | 12 | 10\nModem | 6 | 5",
                              360, set()),
    "apparent power with its factor": ("Device | VA | PF | h/day\nRTU | 20 | 0.5 | 24\n"
                                       "Modem | 10 | 0.8 | 24", 432, set()),
    "cells of modes with units": ("Device | Supply | Sleep | Active | Active time\n"
                                  "Logger | 12 V | 0 | 50 mA | 36 s every hour\n"
                                  "Modem | 12 V | 1 mA | 350 mA | 30 min per month",
                                  24 * 0.6 * 0.01 + 0.288 + 24 * (4.2 - 0.012) * 0.5 / 730,
                                  set()),
    "two voltages": ("Device | A | Voltage\nRTU | 0.5 | 12/24 V\nModem | 0.5 | 24", 576, set()),
    "several named, one counted": ("Device | Qty | W\nXV-1 to XV-4 | 1 | 5\nRTU | 1 | 2",
                                   168, {"several-named"}),
    "several named, none counted": ("Device | Qty | W\nXV-1 to XV-4 | | 5\nRTU | 1 | 2",
                                    528, {"several-named"}),
    "the day's energy of a power that cannot be read": (
        "Device | W | Wh/day\nRadio | 10 Rx / 40 Tx | 276\nRTU | 5 | 120", 396,
        {"power-unreadable", "energy-only"}),
    "out of scope by a tick": ("Device | Included | W\nRTU | Yes | 10\nModem | No | 5", 240,
                               {"out"}),
    "a row of an odd month": ("Device | W | On\nRTU | 10 | 73 h per month\nModem | 5 | 24 h/d",
                              24 + 120, set()),
}  # fmt: skip


@pytest.mark.parametrize("name", READ)
def test_schedules_by_all_their_cells(tmp_path, name):
    """Wh/day, and the causes that are asked."""
    text, wh_per_day, causes = READ[name]
    found = read(tmp_path, text)
    assert watts(found)[1] == pytest.approx(wh_per_day)
    assert set(asked(found)) - {"converters", "part-day"} == causes


def test_two_devices_under_one_title_are_two(tmp_path):
    """Two names that draw are two loads; modes of one name are one."""
    text = "STATION\nRTU power | 5 | W\nRadio power | 7 | W\nVoltage | 12 | V"
    found = read(tmp_path, text)
    assert [(x.name, x.running_w) for x in found.loads] == [("RTU", 5), ("Radio", 7)]


def test_rows_alike_are_read_once_and_asked_each(tmp_path):
    """A row copied from one like it has its own row, name and question; another has none."""
    rows = [f"Lamp A{k} | 2 | 5 | {6 if k < 3 else 24} |" for k in range(5)]
    found = read(tmp_path, HEADS + "\n".join([*rows, "Lamp A (12 V) | 2 | 5 | 6 |"]))
    assert [(x.row, x.name, x.wh_per_day) for x in found.loads] == [
        *((k + 2, f"Lamp A{k}", 60 if k < 3 else 240) for k in range(5)),
        (7, "Lamp A (12 V)", 60),
    ]
    (question,) = found.asked
    assert [(i.row, i.name) for i in question.items] == [
        *((k + 2, f"Lamp A{k} (6 h)") for k in range(3)),
        (7, "Lamp A (12 V) (6 h)"),
    ]


@pytest.mark.parametrize(
    ("watts_said", "told"), [("6 W", set()), ("7 W", {"passed-over"})]
)
def test_watts_of_one_piece_stated_as_a_current(tmp_path, watts_said, told):
    """3 x 250 mA at 24 V: a name of 6 W says it again, one of 7 W does not."""
    heads = "Device | Qty | mA | Volts | h/day\nModem | 1 | 90 | 24 | 24"
    text = f"{heads}\nRTU {watts_said} | 3 | 250 | 24 | 24"
    assert set(asked(read(tmp_path, text))) == told


def test_signals_alike_are_read_once_and_asked_each(tmp_path):
    """Watts without hours are asked of each output, by its own tag and row."""
    rows = [f"XY-{k} | Valve {k} | DO | 24 VDC | 6" for k in range(4)]
    found = read(tmp_path, "\n".join(["Tag | Service | Type | Signal | W", *rows]))
    (question,) = found.asked
    assert [(i.row, i.name) for i in question.items] == [
        (k + 2, f"XY-{k} (6 W, 24 h)") for k in range(4)
    ]
    assert [(x.row, x.tag, x.text) for x in found.lines] == [
        (k + 2, f"XY-{k}", f"Valve {k}") for k in range(4)
    ]


SUMMED = {
    "called and adding up": ("Subtotal skid A | 3 | 5", {"ai": 3, "di": 5}, "sum-row"),
    "called a sum only": ("Subtotal skid A | 3 | 6", {"ai": 6, "di": 11}, "sum-like"),
    "adding up only": ("P-3 | 3 | 5", {"ai": 6, "di": 10}, "sum-like"),
    "neither": ("P-3 | 3 | 4", {"ai": 6, "di": 9}, ""),
}


@pytest.mark.parametrize("name", SUMMED)
def test_sums_among_counts(tmp_path, name):
    """A row that is called a sum and is one counts once."""
    row, points, cause = SUMMED[name]
    found = read(tmp_path, f"Equipment | AI | DI\nP-1 | 1 | 2\nP-2 | 2 | 3\n{row}")
    assert found.points() == points
    assert set(asked(found)) == ({cause} if cause else set())


@pytest.mark.parametrize(
    "remark", ["Deleted in rev. B", "Supprimé ind. B", "Tag deleted rev. 2"]
)
def test_a_status_with_its_revision_takes_a_row_out(tmp_path, remark):
    """The abbreviation's dot changes nothing."""
    text = f"Tag | Service | Type | Remarks\nPT-1 | Line | AI |\nPT-2 | Line | AI | {remark}"
    assert read(tmp_path, text).points() == {"ai": 1}


@pytest.mark.parametrize(("title", "told"), [("Deleted tags", True), ("VOID Rev 1", True),
                                             ("Tags", False)])  # fmt: skip
def test_a_sheet_that_is_named_for_what_is_out_is_asked(tmp_path, title, told):
    """Its rows are counted, and its name is told."""
    made = Workbook()
    made.active.title = title
    for row in (
        ["Tag", "Service", "Type"],
        ["PT-1", "Line", "AI"],
        ["PT-2", "Line", "AI"],
    ):
        made.active.append(row)
    made.save(tmp_path / "n.xlsx")
    assert ("section-status" in asked(read_lists([tmp_path / "n.xlsx"]))) is told


def test_results_below_loads_state_their_own_unit(tmp_path):
    """Wh, V and days below a table of watts are no loads of so many watts."""
    rows = "RTU | 10\nCamera (12 V) | 5\nDaily energy [Wh] | 360\nSystem voltage [V] | 24\n"
    found = read(tmp_path, f"Device | W\n{rows}Autonomy [days] | 5")
    assert watts(found) == (15, 360)
    assert asked(found)["results"] == [4, 5, 6]
