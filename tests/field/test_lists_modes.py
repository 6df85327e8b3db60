"""How loads run, shares in percent, averages, coils, and devices on a bus.

Lists as clients write them, with the answer worked out by hand beside each.
"""

from __future__ import annotations

import pytest
from openpyxl import Workbook, load_workbook

from powerbudget.lists.importer import read_lists
from powerbudget.lists.rack_list import rack_list
from tests.reference.sheets import read


def sums(found):
    """Return running watts, maximum watts and Wh a day of all loads."""
    names = ("running_w", "maximum_w", "wh_per_day")
    return [sum(getattr(x, n) or 0.0 for x in found.loads) for n in names]


def asked(found):
    """Return the rows that each cause asks about."""
    return {q.cause: [i.row for i in q.items] for q in found.asked}


LOADS = {
    "a pump stands by": (
        "Equipment | Load Type | W | Duty %\nRTU | Continuous | 12 | 100\n"
        "Pump A | Continuous | 60 | 50\nPump B | Standby | 60 | 0",
        (72, 72, 12 * 24 + 60 * 12),
        {"standby": [4]},
    ),
    "the way to run is no name": (
        "Tag | Load Type | Load (W)\nP-1A | Continuous | 60\nP-1B | Standby | 60\n"
        "L-1 | Intermittent | 20",
        (80, 80, 80 * 24),
        {"standby": [3], "time-unread": [4]},
    ),
    "continuous for no time": (
        "Description | Duty type (C/I/S) | W | Utilisation %\nRTU | C | 12 | 100\n"
        "Pump | S | 60 | 0\nLight | I | 20 | 10\nRadio | C | 10 | 0",
        (42, 42, 24 * (12 + 2 + 10)),
        {"standby": [3], "operation-clash": [5]},
    ),
    "one percent is one percent": (
        "Load | W | Duty (%)\nRTU | 10 | 100\nPump | 60 | 1\nFan | 20 | 0.5",
        (90, 90, 24 * (10 + 0.6 + 0.1)),
        {},
    ),
    "percent without a share above 1": (
        "Load | W | Duty (%)\nRTU | 10 | 1\nPump | 60 | 0.5",
        (70, 70, 24 * (10 + 30)),
        {"percent": [2, 3]},
    ),
    "percentages without a unit": (
        "Load | W | Duty\nRTU | 10 | 100\nPump | 60 | 50\nFan | 20 | 1",
        (90, 90, 24 * (10 + 30 + 0.2)),
        {"percent-rest": [4]},
    ),
    "fractions without a unit": (
        "Load | W | Duty\nRTU | 10 | 1\nPump | 60 | 0.5",
        (70, 70, 24 * 40),
        {},
    ),
    "an average against rated watts and duty": (
        "Load | Qty | Rated Power (W) | Duty (%) | Average Power (W)\n"
        "RTU | 1 | 12 | 100 | 12\nPump | 2 | 60 | 10 | 12\nRadio | 1 | 30 | 5 | 6",
        (162, 162, 24 * (12 + 12 + 6)),
        {"mean": [4]},
    ),
    "an average in place of a time": (
        "Load | Rated Power (W) | Average Power (W)\nRTU | 12 | 12\nRadio | 30 | 1.5",
        (42, 42, 24 * 13.5),
        {},
    ),
    "an average that may hold the duty": (
        "Load | Max W | Average W | Duty %\nRTU | 12 | 12 | 100\nRadio | 30 | 6 | 10\n"
        "Fan | 20 | 5 | 50",
        (23, 62, 24 * 23),
        {"mean-duty": [3, 4]},
    ),
}


@pytest.mark.parametrize("name", LOADS)
def test_loads_and_what_is_asked(tmp_path, name):
    """Watts, energy and questions of short schedules."""
    text, wanted, said = LOADS[name]
    found = read(tmp_path, text)
    assert sums(found) == pytest.approx(wanted)
    assert asked(found) == said


def test_losses_of_one_percent(tmp_path):
    """One under "Loss %" is a hundredth, not the whole."""
    found = read(
        tmp_path, "Load | W | h/d | Loss %\nRTU | 10 | 24 | 1\nFan | 2 | 24 | 3"
    )
    assert [x.drawn_frac for x in found.loads] == pytest.approx([1 / 1.01, 1 / 1.03])


def test_duty_of_outputs_follows_the_same_rule(tmp_path):
    """A list of signals reads 1 under a percent sign as its column does."""
    head = "Tag | Type | W | Duty %\nXV-1 | DO | 10 | "
    found = read(tmp_path, f"{head}50\nXV-2 | DO | 10 | 1")
    assert [x.typical_w for x in found.lines] == [5, 0.1]
    found = read(tmp_path, f"{head}0.5\nXV-2 | DO | 10 | 1")
    assert [x.typical_w for x in found.lines] == [5, 10]
    assert asked(found)["percent"] == [2, 3]


def test_outputs_without_watts_say_what_is_written(tmp_path):
    """A solenoid gets the coil of the library, a relay nothing; both are in one question."""
    found = read(
        tmp_path,
        "Tag | Service | I/O type | Signal\nXY-1 | Valve solenoid | DO | 24 VDC\n"
        "XY-2 | Fan | DO | relay\nSOV-3 | Vent | DO | 24 VDC",
    )
    kinds = [line.split(",")[1] for line in rack_list(found).splitlines()[1:]]
    assert kinds == ["solenoid", "do", "solenoid"]
    question = next(q.text for q in found.asked if q.cause == "output-load")
    assert "XY-1 (solenoid)" in question
    assert "XY-2, " in question or "XY-2 (" in question
    assert "no-watts" not in asked(found)


def test_where_a_valve_fails_reaches_its_coil(tmp_path):
    """With a normal position it decides, wherever it stands; without one it is asked."""
    head = "Tag | Service | I/O type | Load W | Normal Position | "
    rows = "XY-1 | ESD | DO | 5 | Open | FC\nXY-2 | Vent | DO | 5 | Closed | FO\n"
    rows += "XY-3 | Bypass | DO | 5 | Closed | FC"
    for name in ("Fail Position", "Remarks"):
        found = read(tmp_path, f"{head}{name}\n{rows}")
        assert [x.typical_w for x in found.lines] == [5, 5, 0], name
    found = read(
        tmp_path,
        "Tag | Service | I/O type | Fail\nXY-1 | ESD | DO | FC\nXY-2 | Choke | DO | FL",
    )
    assert asked(found)["fail-position"] == [2, 3]
    found = read(
        tmp_path,
        "Tag | Service | I/O type | W | Fail\nXY-1 | ESD | DO | 5 | FC",
    )
    assert "24 h, fails closed" in next(q.text for q in found.asked)


BUS = {
    "by the address of the device": (
        "Device | Slave ID | Register | Description | Data Type\n"
        "FM-1 | 1 | 40001 | Flow | REAL\nFM-1 | 1 | 40003 | Volume | REAL\n"
        "FM-2 | 2 | 40001 | Flow | REAL",
        {"serial": 2},
        {"one-device": [3]},
    ),
    "beside wired signals": (
        "Tag | Description | I/O Type | Protocol | Modbus Address | Register\n"
        "PT-1 | Pressure | AI | 4-20 mA | | \nFI-1 | Flow | AI | Modbus RTU | 5 | 30001\n"
        "FQ-1 | Total | AI | Modbus RTU | 5 | 30003\nEI-1 | Volts | AI | Modbus RTU | 6 | 30001",
        {"ai": 1, "serial": 2},
        {"one-device": [4]},
    ),
    "by the tag": (
        "Tag | Description | Signal | Register\nFIT-1 | Flow | Modbus | 40001\n"
        "FIT-1 | Total | Modbus | 40003\nEM-1 | Volts | Modbus | 40010\n"
        "EM-1 | Amps | Modbus | 40012",
        {"serial": 2},
        {"one-device": [3, 5]},
    ),
    "of nobody knows which device": (
        "Tag | Description | Signal | Modbus Register\nFI-1 | Flow | Modbus | 40001\n"
        "FQ-1 | Total | Modbus | 40003",
        {"serial": 2},
        {"registers-of": [2, 3]},
    ),
}


@pytest.mark.parametrize("name", BUS)
def test_registers_of_one_device_are_one_device(tmp_path, name):
    """Devices are counted, not the registers that are read from them."""
    text, points, said = BUS[name]
    found = read(tmp_path, text)
    assert found.points() == points
    told = asked(found)
    assert {k: told.get(k) for k in ("one-device", "registers-of") if k in told} == said
    assert all(x.kind == "point" for x in found.lines)


def test_what_needs_no_question(tmp_path):
    """Loops, ends of a range, words of drives, kinds under "Source", rows of several wells."""
    found = read(
        tmp_path,
        "Loop | Tag | Well | Description | Source | Low | High | Remarks\n"
        "P-1 | PT-1 | A | Pressure | Hardwired AI | 0 | 100 | VFD\n"
        "P-1 | PT-2 | A | Pressure | Hardwired AI | 0 | 20 | c/w I/O\n"
        "P-1 | PT-2 | B | Pressure | Hardwired AI | 0 | 20 | drive",
    )
    assert found.points() == {"ai": 3}
    assert found.tags() == ["PT-1", "PT-2"]
    assert asked(found) == {}


WRITTEN = {
    "pieces on duty and installed": (
        "Equipment | Installed | Duty | Rated kW | Absorbed kW | h/day\n"
        "Transfer pump | 2 | 1 | 1.5 | 1.1 | 6\nSump pump | 1 | 1 | 0.75 | 0.5 | 24",
        (1600, 2250, 1100 * 6 + 500 * 24),
    ),
    "pieces on duty and standing by": (
        "Load | Qty | Duty | Standby | W | h/day\nPump | 2 | 1 | 1 | 60 | 24\n"
        "RTU | 1 | 1 | 0 | 10 | 24",
        (70, 70, 70 * 24),
    ),
    "heads over three rows": (
        "Item | Equipment | Qty | Load | | Duty\n | | | Typ | Max |\n | | ea | W | W | %\n"
        "1 | RTU | 1 | 4 | 6 | 100\n2 | Actuator | 2 | 120 | 240 | 1",
        (244, 486, 96 + 57.6),
    ),
    "columns by how a row runs": (
        "Tag | Description | Rated kW | Continuous kW | Intermittent kW | Stand-by kW\n"
        "P-1A | Pump A | 1.5 | 1.2 | |\nP-1B | Pump B | 1.5 | | | 1.2\n"
        "H-2 | Heater | 0.5 | | 0.4 |\n | Total | | 1.2 | 0.4 | 1.2",
        (1600, 2000, 1600 * 24),
    ),
    "Italian": (
        "Descrizione | Q.tà | Assorbimento (W) | Ore/giorno\nRTU | 1 | 5 | 24\n"
        "Telecamera | 2 | 6 | 24\nTotale | 3 | 17 |",
        (17, 17, 17 * 24),
    ),
}


@pytest.mark.parametrize("name", WRITTEN)
def test_ways_to_write_pieces_and_heads(tmp_path, name):
    """Watts and energy, whatever is asked beside."""
    text, wanted = WRITTEN[name]
    assert sums(read(tmp_path, text)) == pytest.approx(wanted)


def test_letters_of_a_revision_column_by_the_legend(tmp_path):
    """What the legend calls deleted is out, also under "Rev"."""
    found = read(
        tmp_path,
        "Rev | Tag | Description | I/O\n | PT-1 | Pressure | AI\nN | PT-2 | Pressure | AI\n"
        "X | PT-3 | Pressure | AI\nLegend: N = new; X = deleted",
    )
    assert found.points() == {"ai": 2}


def test_subtotals_of_a_list_are_those_of_their_block(tmp_path):
    """A subtotal that sums its own block needs no question; a wrong one is asked."""
    text = (
        "Tag | AI | DI\nPT-1 | 1 |\nPT-2 | 1 |\nSubtotal | 2 | 0\nZS-1 | | 1\n"
        "Subtotal | 0 | {}\nTotal | 2 | 1"
    )
    assert "list-total" not in asked(read(tmp_path, text.format(1)))
    assert "list-total" in asked(read(tmp_path, text.format(3)))


OFTEN = {
    "pieces of a package": (
        "Equipment | Qty/Pkg | Pkgs | Total Qty | W | h/d\nRTU | 1 | 3 | 3 | 10 | 24\n"
        "Pump | 2 | 3 | 6 | 60 | 24",
        390,
        set(),
    ),
    "units per package": (
        "Equipment | Units per package | Number of packages | Unit W | Total W | h/d\n"
        "RTU | 1 | 3 | 10 | 30 | 24\nPump | 2 | 3 | 60 | 360 | 24",
        390,
        set(),
    ),
    "a heading over rows": (
        "Equipment | Qty | W | h/d\nWellhead package (4 off) | | |\nRTU | 1 | 10 | 24\n"
        "Modem | 2 | 8 | 24",
        26,
        {"times-of"},
    ),
    "a title": (
        "Loads per wellhead - 4 wellheads\nEquipment | Qty | W | h/d\nRTU | 1 | 10 | 24\n"
        "Modem | 2 | 8 | 24",
        26,
        {"times-of"},
    ),
    "units of time in a column": (
        "Load | Power | Unit | On-time | Unit\nModem | 3.5 | W | 24 | h/d\n"
        "Radio | 0.5 | kW | 30 | s/h\nSensor | 250 | mW | 100 | %",
        503.75,
        set(),
    ),
}


@pytest.mark.parametrize("name", OFTEN)
def test_how_often_rows_come(tmp_path, name):
    """Pieces times packages count; a heading that multiplies is asked."""
    text, watts, said = OFTEN[name]
    found = read(tmp_path, text)
    assert sum(x.running_w for x in found.loads) == pytest.approx(watts)
    assert set(asked(found)) == said
    if name.startswith("units of time"):
        energy = [x.wh_per_day for x in found.loads]
        assert energy == pytest.approx([84, 100, 6])


def test_wires_and_channels_are_no_watts_and_no_single_point(tmp_path):
    """Under a supply "4W" is four wires; channels 3-8 are six spares."""
    found = read(
        tmp_path,
        "Ch | Tag | Type | Supply\n1 | FT-1 | AI | 4W\n2 | PT-2 | AI | 2W\n3-8 | Spare | AI |",
    )
    assert [x.maximum_w for x in found.lines[:2]] == [None, None]
    assert found.points("spare") == {"ai": 6}


def test_a_summary_before_its_tables_is_counted_once(tmp_path):
    """Groups whose watts sum all other tables are totals, wherever they stand."""
    found = read(
        tmp_path,
        "System | W\nControl | 25\nComms | 14\nTotal | 39",
        "Device | Qty | W\nRTU | 1 | 10\nCards | 5 | 1.4\nPanel | 1 | 8",
        "Device | Qty | W\nRadio | 1 | 6\nRouter | 1 | 8",
    )
    assert sum(x.running_w for x in found.loads) == pytest.approx(39)
    assert "sum-row" in asked(found)


def test_a_duty_at_the_peak_leaves_the_rest_to_idle(tmp_path):
    """The time of the maximum is no time of the idle watts."""
    for head in ("Duty at peak", "Duty"):
        found = read(
            tmp_path,
            f"Equipment | W (idle) | W (peak) | {head}\nCamera | 8 | 30 | 10%\n"
            "Radio | 3 | 20 | 5%",
        )
        wanted = 24 * (8 * 0.9 + 3 + 3 * 0.95 + 1)
        assert sums(found) == pytest.approx([50, 50, wanted]), head


def test_from_and_to_tell_the_direction(tmp_path):
    """What comes from the controller is an output."""
    found = read(
        tmp_path,
        "Tag | Service | From | To | Signal\nPT-5 | Pressure | Field | RTU | Analog\n"
        "HV-6 | Open | RTU | Field | Digital\nZL-6 | Opened | Field | RTU | Digital\n"
        "SC-7 | Speed | RTU | Drive | Analog",
    )
    assert found.points() == {"ai": 1, "do": 1, "di": 1, "ao": 1}


def test_a_superseded_schedule_is_left_out(tmp_path):
    """Its sheet says so; its loads count once, and it is asked."""
    made = Workbook()
    for sheet, watts in (
        (made.active, 8),
        (made.create_sheet("rev 0 (superseded)"), 5),
    ):
        for row in (
            ["Equipment", "Qty", "W"],
            ["Radio", 1, watts],
            ["Controller", 1, 12],
        ):
            sheet.append(row)
    made.save(tmp_path / "s.xlsx")
    found = read_lists([tmp_path / "s.xlsx"])
    assert sums(found)[0] == 20
    assert set(asked(found)) == {"old-sheet"}


def merged(tmp_path, text, *spans):
    """Return what one sheet with merged cells holds."""
    read(tmp_path, text)
    book = load_workbook(tmp_path / "s.xlsx")
    for span in spans:
        book.active.merge_cells(span)
    book.save(tmp_path / "s.xlsx")
    return read_lists([tmp_path / "s.xlsx"])


def test_ratings_of_contacts_are_no_draws(tmp_path):
    """What a contact may switch is asked, never counted."""
    found = read(
        tmp_path,
        "Tag | Service | I/O | Signal | Load W | Remarks\n"
        "ZSO-1 | Open | DI | dry contact | | rated 3 A at 24 VDC\n"
        "XY-2 | Fan | DO | relay | | contact rated 2 A at 24 VDC",
    )
    assert [x.maximum_w for x in found.lines] == [None, None]
    assert asked(found)["contact-rating"] == [2, 3]


def test_spares_that_state_totals_alone_are_kept(tmp_path):
    """A row of spares under the columns of all pieces counts."""
    found = read(
        tmp_path,
        "Device | Qty | AI | DI | Total AI | Total DI\nPT | 4 | 1 | | 4 |\n"
        "XV | 3 | | 2 | | 6\nSubtotal | | | | 4 | 6\nSpare 20 % | | | | 1 | 2",
    )
    assert found.points() == {"ai": 4, "di": 6}
    assert found.points("spare") == {"ai": 1, "di": 2}


def test_names_of_states_are_no_normal_state(tmp_path):
    """Columns that name state 0 and state 1 leave the normal state open."""
    found = read(
        tmp_path,
        "Tag | Description | I/O | State 0 | State 1\nXY-1 | Valve | DO | Closed | Open\n"
        "XY-2 | Fan | DO | Off | On",
    )
    assert [x.state for x in found.lines] == ["", ""]


def test_cells_merged_over_rows_hold_for_each(tmp_path):
    """The kind of a card tells its spares; a quantity is that of every state of an item."""
    found = merged(
        tmp_path,
        "Module | Channel | Tag | Description | Signal\n"
        "8 ch. analog input | 1 | PT-1 | Pressure | 4-20 mA\n | 2 | SPARE | |\n"
        "8 ch. digital output | 1 | XY-1 | Fan | relay\n | 2 | SPARE | |",
        "A2:A3",
        "A4:A5",
    )
    assert found.points() == {"ai": 1, "do": 1}
    assert found.points("spare") == {"ai": 1, "do": 1}
    found = merged(
        tmp_path,
        "Item | Qty | State | W | Share %\nSender | 2 | sleep | 0.1 | 5\n"
        " | | active | 1.1 | 95\nRTU | 1 | on | 10 | 100",
        "A2:A3",
        "B2:B3",
    )
    assert sums(found)[2] == pytest.approx(24 * (0.2 * 0.05 + 2.2 * 0.95 + 10))


def test_lines_below_the_sum_are_no_loads(tmp_path):
    """Running loads by formula, and sizes that follow from them."""
    found = read(
        tmp_path,
        "Tag | Description | Continuous kW | Intermittent kW\nP-1 | Pump | 1.2 |\n"
        "H-2 | Heater | | 0.5\n | Sum | 1.2 | 0.5\n"
        "Normal running load = C + 30 % I | | 1.35 |",
    )
    assert sums(found)[0] == pytest.approx(1700)
    found = read(
        tmp_path,
        "Load | Qty | W | h/d\nRTU | 1 | 10 | 24\nFan | 1 | 20 | 24\nTotal | | 30 |\n"
        "Amps at 24 V | | 1.25 |\nBattery at 24 V (Ah) | | 150 |",
    )
    assert sums(found)[0] == pytest.approx(30)
    assert asked(found)["results"] == [5, 6]


def test_two_sites_in_a_book_are_asked(tmp_path):
    """Titles that name different sites are not pooled without a word."""
    rows = "\nEquipment | Qty | W | h/d\nRTU | 1 | 15 | 24\nFan | 1 | 2 | 24"
    assert "several-sites" in asked(
        read(tmp_path, f"Site: BV-A{rows}", f"Site: BV-B{rows}")
    )
    assert "several-sites" not in asked(
        read(tmp_path, f"Site: BV-A{rows}", f"Site: BV-A{rows}")
    )


def test_an_input_that_counts_pulses_draws_all_day(tmp_path):
    """A pulse meter is fed all the time, unlike an output that pulses."""
    head = "Tag | Service | Type | Signal | W\n"
    found = read(tmp_path, f"{head}FQ-1 | Meter | DI | pulsed output 0-10 Hz | 12")
    assert [x.typical_w for x in found.lines] == [12]


def test_titles_of_shape_with_in_and_out_and_a_legend_beside(tmp_path):
    """ANALOG over In/Out tells the kind; a legend in the next column tells nothing."""
    found = read(
        tmp_path,
        "ANALOG | | | | LEGEND\nTag | Description | In/Out | | AI = analog input\n"
        "PT-1 | Pressure | In | | DI = discrete input\nFV-1 | Valve | Out | |\n | | | |\n"
        "DISCRETE | | | |\nTag | Description | In/Out | |\nZS-1 | Open | In | |\n"
        "XY-1 | Cmd | Out | |",
    )
    assert found.points() == {"ai": 1, "ao": 1, "di": 1, "do": 1}


def test_two_figures_of_a_cell_count_at_the_higher(tmp_path):
    """Peak over hold in one cell: the higher counts and is asked."""
    found = read(
        tmp_path, "Tag | Signal | Power (W)\nXY-4 | DO | 8.5/2.1\nXY-5 | DO | 3"
    )
    assert found.lines[0].maximum_w == 8.5
    assert "several-powers" in asked(found)


def test_amperes_below_the_sum_of_a_panel_are_no_load(tmp_path):
    """A line in another column than the names that works on with the sum."""
    found = read(
        tmp_path,
        "Circuit | Breaker (A) | Load | W\n1 | 6 | RTU | 15\n2 | 10 | Fan | 120\n"
        "Total | | | 135\nAmps at 24 V | | | 5.6",
    )
    assert sums(found)[0] == pytest.approx(135)
    assert asked(found)["results"] == [5]


def test_rows_of_one_network_address_are_one_device(tmp_path):
    """A flow computer with a row for each of its figures; duty of pumps asks nothing here."""
    found = read(
        tmp_path,
        "Tag | Service | Type | IP address | Duty/Standby\nFC-1 | Flow | Ethernet | 10.0.0.5 |\n"
        "FC-1P | Pressure | Ethernet | 10.0.0.5 |\nCAM-1 | Camera | Ethernet | 10.0.0.6 |\n"
        "P-1 RUN | Run | DI | | Duty\nP-2 RUN | Run | DI | | Standby",
    )
    assert found.points() == {"serial": 2, "di": 2}
    assert asked(found)["one-device"] == [3]
    assert "duty" not in asked(found)


def test_pieces_on_duty_of_two_rows_and_sums_by_letter(tmp_path):
    """One and two on duty are pieces, no percent; totals of parts A and B are no loads."""
    found = read(
        tmp_path,
        "Equipment | Duty | Standby | kW each | h/d\nPump | 1 | 1 | 0.5 | 24\n"
        "Fan | 2 | 1 | 0.1 | 24",
    )
    assert sums(found) == pytest.approx([700, 700, 700 * 24])
    found = read(
        tmp_path,
        "Item | W | hr | Wh\nRTU | 10 | 24 | 240\nRadio | 5 | 24 | 120\n"
        "Sub total A | | | 360\nPump | 60 | 2 | 120\nSub total B | | | 120\n"
        "Total A+B | | | 480",
    )
    assert sums(found)[2] == pytest.approx(480)
    found = read(tmp_path, "Equipment | BkW | h/d\nPump | 1.1 | 24\nFan | 0.3 | 24")
    assert sums(found)[0] == pytest.approx(1400)


APPARENT = {
    "volt-amperes of a row": ("Load | Total load (VA) | Power factor\nLamps | 150 | 0.9", 135, []),
    "watts on other rows": (
        "Load | Qty | Total (W) | Total (VA) | PF\nRTU | 2 | 20 | |\nLamps | 6 | | 100 | 80 %",
        100, [],
    ),
    "of each, by the cosine": ("Load | Qty | kVA | cos phi\nPump | 2 | 0.5 | 0.8 lag", 800, []),
    "no factor": ("Load | Total (VA) | PF\nLamps | 150 |", 150, ["va"]),
    "watts beside them": ("Load | W | VA\nLamps | 120 | 150", 120, []),
    "a factor in percent": ("Load | VA | Qty | Power factor (%)\nPC | 100 | 2 | 85", 170, []),
    "a cell of its own": ("Load | Power | PF\nLamps | 100 VA | 0.7", 70, []),
}  # fmt: skip


@pytest.mark.parametrize("name", APPARENT)
def test_volt_amperes_times_the_power_factor(tmp_path, name):
    """Watts are VA times the factor of the row; without one VA count, and are asked."""
    text, wanted_w, causes = APPARENT[name]
    found = read(tmp_path, text)
    assert sums(found)[0] == pytest.approx(wanted_w)
    assert [c for c in asked(found) if c in {"va", "two-powers", "row-total"}] == causes


FRACTIONS = {
    "Pump | 1/4 HP": 0.25,
    "Pump | 1-1/2 HP": 1.5,
    "Pump | 1 1/2 hp": 1.5,
    "Pump | \u00be HP": 0.75,
    "Pump | 2\u00bd HP": 2.5,
}


def test_common_fractions_of_horsepower(tmp_path):
    """A quarter is no 4 HP; the shaft's power is divided by the motor's assumed 70 %."""
    found = read(
        tmp_path, "\n".join(["Load | Power | Qty", *(f"{x} | 1" for x in FRACTIONS)])
    )
    wanted = [hp * 745.7 / 0.7 for hp in FRACTIONS.values()]
    assert [x.running_w for x in found.loads] == pytest.approx(wanted)
    assert asked(found)["shaft"] == [2, 3, 4, 5, 6]
    found = read(tmp_path, "Load | HP | h/d\nPump | 1/4 | \u00bd\nFan | 1 | 24")
    assert sums(found)[2] == pytest.approx(745.7 / 0.7 * (0.25 * 0.5 + 24))
    assert read(tmp_path, "Load | W\nRadio | 1/4\nRTU | 5").loads[0].running_w == 4


def test_a_title_makes_no_signals_of_loads(tmp_path):
    """A skid's name over rows with watts; over rows of tags alone a title holds."""
    found = read(
        tmp_path,
        "Chemical skid CI-5 - power needs\nTag | Description | Power\nP-1 | Pump | 120 W\n"
        "CTL-1 | Controller | 3.5 W",
    )
    assert (len(found.loads), found.points()) == (2, {})
    rows = "Tag | Description\nXS-1 | Run\nXS-2 | Fault"
    assert read(tmp_path, f"Digital inputs\n{rows}").points() == {"di": 2}


VOLTS = {
    "0-50 mV": "ai-volt",
    "0 to -5 V DC": "ai-volt",
    "0-10 V": "ai-volt",
    "-10 to +10 V": "ai-volt",
    "4-20 mA": "ai",
}


def test_inputs_of_volts_are_no_loops(tmp_path):
    """Shunts and reference electrodes are analog inputs without a loop; 24 V stays discrete."""
    rows = "\n".join(f"X-{k} | {text} | Input" for k, text in enumerate(VOLTS))
    found = read(
        tmp_path,
        f"Tag | Signal | Direction\n{rows}\nZS-1 | 24 V DC | Input\nHA-1 | 24 VDC output |",
    )
    assert found.points() == {"ai": 5, "di": 1, "do": 1}
    kinds = [line.split(",")[1] for line in rack_list(found).splitlines()[1:]]
    assert kinds == [*VOLTS.values(), "di", "do"]


def test_classes_and_interfaces_are_signals(tmp_path):
    """Alarm, Measurement and Control beside Contact, 0-10 V and Relay."""
    found = read(
        tmp_path,
        "Point | Description | Class | Normal | Interface\nP-1 | Door | Alarm | NC | Contact\n"
        "P-2 | Radio | Status | NO | Contact\nP-3 | Battery | Measurement | - | 0-10 V\n"
        "P-4 | Reset | Control | NO | Relay\nP-5 | Valve | Control | - | 4-20 mA\n"
        "P-6 | Charger | Data | - | RS-485 Modbus",
    )
    assert found.points() == {"di": 2, "ai": 1, "do": 1, "ao": 1, "serial": 1}
    found = read(
        tmp_path,
        "Point | Category | Interface\nDoor | Alarm | Dry contact\nVolts | Measurement | 0-5 V\n"
        "Valve | Control | 4-20 mA",
    )
    assert found.points() == {"di": 1, "ai": 1, "ao": 1}
    assert "direction" not in asked(found)


def test_channels_without_a_device_are_spares(tmp_path):
    """A grid of a card's channels, of which two are connected."""
    found = read(
        tmp_path,
        "Slot | Ch. | Card type | Tag | Description\n1 | 1 | 4-ch AI | PT-1 | Pressure\n"
        "1 | 2 | 4-ch AI | |\n2 | 1 | 4-ch DI | ZS-1 | Open\n2 | 2 | 4-ch DI | |",
    )
    assert found.points() == {"ai": 1, "di": 1}
    assert asked(found)["blank-channel"] == [3, 5]


LEFT = {
    "radiated power": (
        "Load | RF output (W) | Input (W)\nRepeater | 25 | 17\nRadio | 5 | 3", 20 * 24, {},
    ),
    "power on the air": (
        "Radio | Transmit power (W) | Supply current (A) | Volts | Duty\n"
        "VHF | 25 | 6 | 12 | 10%\nUHF | 5 | 1.5 | 12 | 20%", 24 * 10.8, {},
    ),
    "an efficiency with its sign": (
        "Load | HP | Efficiency | h/d\nPump | 1/2 | 80% | 6\nFan | 1 | 75 % | 24",
        745.7 * (0.5 / 0.8 * 6 + 24 / 0.75), {},
    ),
    "a demand that the sheet works out": (
        "Load | Qty | Rating (kW) | Demand factor | Demand (kW)\nRTU | 1 | 0.04 | 1 | 0.04\n"
        "Fan | 2 | 0.1 | 0.5 | 0.1\nPump | 1 | 0.4 | 0.05 | 0.02",
        24 * 160, {"diversity-used": [3, 4]},
    ),
    "an average factor": ("Load | W | Avg. factor\nRTU | 20 | 1\nPump | 60 | 0.25", 24 * 35, {}),
    "a factor of nothing": (
        "Load | W | Demand factor\nRTU | 20 | 1\nPump | 60 | 0.25", 24 * 80, {"diversity": [3]},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", LEFT)
def test_what_makes_the_energy(tmp_path, name):
    """Radiated power is none; a factor lowers the energy where the sheet works it out so."""
    text, wanted_wh, said = LEFT[name]
    found = read(tmp_path, text)
    assert sums(found)[2] == pytest.approx(wanted_wh)
    assert {k: v for k, v in asked(found).items() if k.startswith("div")} == said


def test_a_power_in_a_remark_is_used(tmp_path):
    """The decimals of 2.4 W are no four wires."""
    found = read(
        tmp_path, "Tag | Type | Supply | Remark\nLIT-1 | AI | 4-wire | Power 2.4 W"
    )
    assert found.lines[0].typical_w == pytest.approx(2.4)
    assert not {"no-watts", "passed-over"} & set(asked(found))


def test_a_time_in_a_remark_stands_for_words_under_the_time(tmp_path):
    """What the remark states is counted, and not called unread."""
    found = read(
        tmp_path,
        "Load | W | Operation | Remarks\nRTU | 10 | 24 h/day |\nPump | 60 | 6 h/day |\n"
        "Light | 15 | On visits | abt. 1 h/week",
    )
    assert sums(found)[2] == pytest.approx(240 + 360 + 15 / 7)
    assert asked(found)["remark-hours"] == [4]
    assert "time-unread" not in asked(found)


def test_averages_beside_powers_by_mode(tmp_path):
    """Averages of the modes are no power of their own."""
    found = read(
        tmp_path,
        "Load | Tx (W) | Rx (W) | Tx duty | Rx duty | Average (W)\n"
        "Radio | 20 | 2 | 10% | 90% | 3.8\n"
        "Repeater | 40 | 4 | 50% | 50% | 22\nTotal | | | | | 25.8",
    )
    assert sums(found)[2] == pytest.approx(24 * 25.8)
    assert not {"two-powers", "total"} & set(asked(found))


def test_power_over_ethernet_is_no_bus(tmp_path):
    """A camera on PoE stands at 48 V, whatever the standard's number is."""
    found = read(
        tmp_path,
        "Load | W | Supply\nRTU | 10 | 24 VDC\nCamera | 6 | PoE\nDome | 6 | PoE IEEE 802.3af",
    )
    assert [x.volts for x in found.loads] == [24, 48, 48]


def test_amperes_of_a_remark_that_were_counted_are_not_asked(tmp_path):
    """12 V and 1 A in a remark are the 12 W of the row."""
    found = read(
        tmp_path, "Tag | Type | Remarks\nHA-1 | DO | 12 VDC 1.0 A\nZS-2 | DI |"
    )
    assert found.lines[0].maximum_w == pytest.approx(12)
    assert "passed-over" not in asked(found)


TURNS = {
    "Pump, 1 duty + 1 standby | 2 | 60 | 4 | ": (60, 240),
    "Pump | 2 | 60 | 4 | 2 x 100 % (1 running, 1 standby)": (60, 240),
    "Pump | 3 | 60 | 4 | one standby, two on duty": (120, 480),
    "Pump, 1 duty + 1 standby | 1 | 60 | 4 | ": (60, 240),
    "Pump, 1 duty + 1 standby | 3 | 60 | 4 | ": (180, 720),
    "Pump | 2 | 60 | 4 | standby": (120, 480),
}


def test_pieces_on_duty_run_and_those_that_stand_by_do_not(tmp_path):
    """Words of a row part its quantity; where they do not add up, it counts and is asked."""
    head = "Load | Qty | W each | h/d | Remarks"
    found = read(tmp_path, "\n".join([head, *TURNS]))
    got = [(x.running_w, x.wh_per_day) for x in found.loads]
    assert got == [pytest.approx(wanted) for wanted in TURNS.values()]
    assert asked(found)["standby"] == [2, 3, 4]
    assert asked(found)["standby-pieces"] == [6]


RANGES = {
    "0-1 VDC": "ai-volt",
    "0,5-4,5 V": "ai-volt",
    "0-30 V": "ai-volt",
    "4-20 mV": "ai-volt",
    "2 to 10 VDC": "ai-volt",
    "1-5 V": "ai-low-power",
    "4-20 mA 24 V": "ai",
    "4-20 mA, 10-30 VDC": "ai",
}


def test_every_range_of_volts_is_no_loop(tmp_path):
    """A range of volts carries no loop current; a loop with its supply stays a loop."""
    rows = "\n".join(f"X-{k} | {text} | Input" for k, text in enumerate(RANGES))
    found = read(
        tmp_path, f"Tag | Signal | Direction\n{rows}\nZS-1 | 10-30 VDC PNP | Input"
    )
    assert found.points() == {"ai": 8, "di": 1}
    kinds = [line.split(",")[1] for line in rack_list(found).splitlines()[1:]]
    assert kinds == [*RANGES.values(), "di"]


def test_states_of_contacts_inside_other_cells(tmp_path):
    """NC and NO of signal, remark or failure; "No" is a negation, and NC/NO both."""
    found = read(
        tmp_path,
        "Tag | I/O | Signal | Fail state | Remarks\nZS-1 | DI | Dry contact, NC | |\n"
        "ZS-2 | DI | dry contact NO | |\nZS-3 | DI | Contact | NO |\nZS-4 | DI | | | N.C.\n"
        "ZS-5 | DI | Contact NC/NO | | No alarm",
    )
    assert [x.state for x in found.lines] == ["closed", "open", "open", "closed", ""]
    states = [line.split(",")[2] for line in rack_list(found).splitlines()[1:]]
    assert states == ["closed", "open", "open", "closed", ""]


def test_a_head_of_contact_and_signal_is_that_of_signals(tmp_path):
    """A digital overlay under it is kept, and a dry contact is no unread normal state."""
    found = read(
        tmp_path,
        "Tag | Type | Contact / signal\nPT-1 | AI | 4...20 mA 2-wire HART\n"
        "ZS-2 | DI | dry contact\nZS-3 | DI | dry contact NC",
    )
    assert [line.split(",")[1] for line in rack_list(found).splitlines()[1:]] == [
        "ai-hart", "di", "di",
    ]  # fmt: skip
    assert found.lines[2].state == "closed"
    assert asked(found) == {}


INSIDE = {
    "AI (4-20 mA, 3-wire, 24 VDC, 4 W)": 4,
    "AI 4-20 mA 24 VDC 4 W": 4,
    "AI 4-20 mA 4 W": None,
    "AI 4-20 mA 4W": None,
    "DO (24 VDC, 4 W)": 4,
}


def test_watts_inside_the_cell_of_a_signal(tmp_path):
    """Behind a voltage or the wires in words they are watts, else they count wires."""
    rows = "\n".join(f"X-{k} | {text}" for k, text in enumerate(INSIDE))
    found = read(tmp_path, f"Tag | Signal\n{rows}")
    assert [x.maximum_w for x in found.lines] == list(INSIDE.values())
    assert 2 not in asked(found).get("no-watts", [])


def test_counts_by_device_with_a_serial_port(tmp_path):
    """The name of a port standard in a row of heads is no tag."""
    for port in ("RS-485", "EIA 485", "Modbus"):
        found = read(
            tmp_path,
            f"Tag | Device | AI | AO | DI | DO | PI | {port} | Notes\n"
            "FIT-1 | Meter | 1 | | 1 | | 1 | 1 |\nMOV-2 | Valve | 1 | 1 | 4 | 2 | | |\n"
            "XS-3 | Door | | | 1 | | | |\nTOTAL | | 2 | 1 | 6 | 2 | 1 | 1 |\n"
            "Spare 20 % | | 1 | 1 | 2 | 1 | 1 | |",
        )
        assert found.points() == {
            "ai": 2, "ao": 1, "di": 6, "do": 2, "pulse": 1, "serial": 1,
        }, port  # fmt: skip
        assert found.points("spare") == {"ai": 1, "ao": 1, "di": 2, "do": 1, "pulse": 1}


CYCLES = {
    "Load | W | On-time s | Every s\nA | 10 | 5 | 60\nB | 20 | 60 | 60": 20 + 480,
    "Load | W | On time (s) | Cycle time (s)\nA | 10 | 5 | 60\nB | 20 | 60 | 60": 20
    + 480,
    "Load | Qty | Active W | Sleep W | On-time s | Every s\nA | 2 | 10 | 1 | 6 | 60\n"
    "B | 1 | 20 | 0 | 60 | 60": 48 * 1.9 + 480,
}


@pytest.mark.parametrize("text", CYCLES)
def test_an_on_time_of_a_cycle(tmp_path, text):
    """On over every is the share; beside two draws it is that of the one at work."""
    found = read(tmp_path, text)
    assert sums(found)[2] == pytest.approx(CYCLES[text])
    assert asked(found) == {}


def test_ditto_marks_and_tags_in_parts(tmp_path):
    """Marks repeat the cell above; letters and numbers of a tag are one tag."""
    found = read(
        tmp_path,
        "Area | Func | No. | Service | Signal | I/O\n42 | PT | 101 | Line 1 | 4-20 mA | AI\n"
        '42 | TT | 101 | Line 1 | " | "\n42 | PT | 102 | Line 2 | do. | -do-\n'
        "42 | XI | 103 | Pig | Dry contact | DI\n42 | XI | 104 | Pig | ditto | ditto\n"
        "43 | PT | 101 | Line 3 | 4-20 mA | AI\n43 | XY | 105 | Vent | 24 VDC | DO",
    )
    assert found.points() == {"ai": 4, "di": 2, "do": 1}
    tags = "42-PT-101 42-TT-101 42-PT-102 42-XI-103 42-XI-104 43-PT-101 43-XY-105"
    assert [x.tag for x in found.lines] == tags.split()
    assert any("rows 3-4, 6: ditto marks" in note for note in found.notes)
    found = read(tmp_path, 'Load | Qty | W | h/d\nA | 2 | 5 | 24\nB | " | " | 12')
    assert sums(found)[2] == pytest.approx(240 + 120)
    kinds = "Name | I/O | No.\nPressure | AI | 11\nValve | DO | 12"
    assert not {"AI-11", "DO-12"} & {x.tag for x in read(tmp_path, kinds).lines}
    rows = "Load | Supply | No. | W\nPump | AC | 10 | 5\nFan | DC | 12 | 5"
    found = read(tmp_path, rows)
    assert [(x.tag, x.ac) for x in found.loads] == [("", True), ("", False)]


def test_watts_by_how_a_row_runs_hold_its_pieces(tmp_path):
    """Groups worked out of quantity and watts are not multiplied again; the foot's share holds."""
    rows = (
        "Description | Qty | Absorbed power [W] | C / I / S | Continuous [W] | "
        "Intermittent [W] | Standby [W]\nRTU | 1 | 14 | C | 14 | 0 | 0\n"
        "Probe | 2 | 3 | C | 6 | 0 | 0\nArea light | 2 | 30 | I | 0 | 60 | 0\n"
        "Pump A | 1 | 90 | I | 0 | 90 | 0\nPump B | 1 | 90 | S | 0 | 0 | 90\n"
        "TOTAL | | | | 20 | 150 | 90"
    )
    found = read(tmp_path, rows)
    assert sums(found) == pytest.approx([170, 170, 24 * 170])
    assert asked(found) == {"time-unread": [4, 5], "standby": [6]}
    foot = "Average load = 100 % C + 30 % I + 0 % S | | | | | 65"
    found = read(tmp_path, f"{rows}\n{foot}")
    assert sums(found) == pytest.approx([170, 170, 24 * (20 + 45)])
    assert asked(found) == {"run-share": [4, 5], "standby": [6]}


def test_an_efficiency_that_was_used_is_not_asked_for(tmp_path):
    """Of an inverter with a stated efficiency only the standby draw is open."""
    rows = (
        "Load | Supply | W | h/d\nHeater | 120 VAC | 40 | 24\nRTU | 24 VDC | 10 | 24\n"
    )
    note = "AC loads are fed through an inverter"
    found = read(tmp_path, f"{rows}{note}, efficiency 88 %")
    assert found.inverter_frac == pytest.approx(0.88)
    assert {"inverter", "inverter-stated", "ac"} & set(asked(found)) == {
        "inverter-stated"
    }
    assert "inverter" in asked(read(tmp_path, f"{rows}{note}"))
