"""Equipment schedules in the layouts that engineers send, each invented here."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook

from powerbudget.lists.found import Import
from powerbudget.lists.importer import read_lists


def schedule(tmp_path: Path, text: str, name: str = "Loads") -> Import:
    """Return what a one-sheet workbook holds; cells parted by bars."""

    def cell(word: str) -> object:
        word = word.strip()
        if not word:
            return None
        try:
            return float(word)
        except ValueError:
            return word

    made = Workbook()
    sheet = made.active
    sheet.title = name
    for line in text.strip("\n").split("\n"):
        sheet.append([cell(c) for c in line.split("|")])
    made.save(tmp_path / "s.xlsx")
    return read_lists([tmp_path / "s.xlsx"])


def asked(found: Import) -> str:
    """Return every question, small letters."""
    return "\n".join(q.text for q in found.asked).lower()


def sums(found: Import) -> tuple[float, float, float]:
    """Return running W, maximum W and Wh/day of all loads."""
    return (
        sum(x.running_w or 0 for x in found.loads),
        sum(x.maximum_w or 0 for x in found.loads),
        sum(x.wh_per_day or 0 for x in found.loads),
    )


CASES = {
    "household form": (
        """
        Appliance | Quantity | Watts | Hours/day | Wh/day
        LED lamp | 4 | 8 | 5 | 160
        Router | 1 | 10 | 24 | 240
        Total | | | | 400
        """,
        (42, 42, 400),
    ),
    "volts and amps": (
        """
        Equipment | Voltage (VDC) | Current (A) | Hours per day
        Radio | 12 | 0.5 | 24
        Siren | 12 | 2 | 0.5
        """,
        (30, 30, 156),
    ),
    "duty as percent": (
        """
        Load | Qty | Power (mW) | Duty Cycle (%)
        Logger | 1 | 250 | 100
        Modem | 1 | 4000 | 5
        """,
        (4.25, 4.25, 10.8),
    ),
    "typical and maximum watts": (
        """
        Description | No. off | Typical (W) | Maximum (W)
        RTU | 1 | 5 | 9
        Detector | 2 | 3 | 4.5
        """,
        (11, 18, 264),
    ),
    "total watts only": (
        """
        Item | Description | Qty | Total Power (W) | Hours
        1 | Cameras | 4 | 20 | 24
        2 | Lights | 2 | 30 | 10
        """,
        (50, 50, 780),
    ),
    "units in a row of their own": (
        """
        Device | Supply | Load | On time
         | V | mA | h/day
        Meter | 24 | 100 | 24
        Valve | 24 | 500 | 1
        """,
        (14.4, 14.4, 69.6),
    ),
    "words in cells": (
        """
        Device | Power
        Radio | 5 W typ / 8 W max
        Sensor | 250 mA @ 24 V
        Lamp | <5 W
        Gate | by others
        """,
        (16, 19, 384),
    ),
    "spanish": (
        """
        Equipo | Cantidad | Potencia (W) | Horas/día
        RTU | 1 | 6 | 24
        Luminaria | 2 | 10 | 12
        """,
        (26, 26, 384),
    ),
    "german": (
        """
        Gerät | Anzahl | Leistung [W] | Betriebsstunden pro Tag
        Steuerung | 1 | 6 | 24
        Leuchte | 2 | 10 | 12
        """,
        (26, 26, 384),
    ),
    "modes with shares": (
        """
        Component | Volts | Sleep mA | Sleep % | Active mA | Active %
        Logger | 12 | 1 | 90 | 50 | 10
        """,
        (0.6, 0.6, 0.012 * 24 * 0.9 + 0.6 * 24 * 0.1),
    ),
    "a unit in a column of its own": (
        """
        Device | Power | Unit | Qty
        Radio | 250 | mW | 2
        RTU | 5 | W | 1
        """,
        (5.5, 5.5, 132),
    ),
    "watts beside volts and amps": (
        """
        Gerät | U [V] | I [A] | P [W]
        Radio | 24 | 0.4 | 9.6
        Pumpe | 24 | 1 | 24
        """,
        (33.6, 33.6, 806.4),
    ),
    "an average that has the duty in it": (
        """
        Component | Peak W | Average W | Duty %
        Modem | 10 | 1 | 10
        """,
        (10, 10, 24),
    ),
    "two rails side by side": (
        """
        Description | Qty | 12V (mA) | 24V (mA)
        RTU | 1 | 200 | 50
        PT | 2 | | 20
        """,
        (2.4 + 1.2 + 0.96, 2.4 + 1.2 + 0.96, 24 * 4.56),
    ),
    "a power factor is no duty": (
        """
        Equipment | Rated Power (W) | Power Factor | Demand Factor
        Pump | 100 | 0.8 | 1
        """,
        (100, 100, 2400),
    ),
    "S/N and categories": (
        """
        S/N | Equipment | Qty | Rating (W) | Total (W) | Remarks
        A | Control | | | |
        1 | RTU | 1 | 6 | 6 |
        B | Field | | | |
        2 | Meters | 2 | 3 | 6 |
         | TOTAL | | | 12 |
        """,
        (12, 12, 288),
    ),
    "hours of day and night": (
        """
        Load | W | Day hours | Night hours
        Lamp | 10 | 2 | 10
        """,
        (10, 10, 120),
    ),
    "hours of summer and winter": (
        """
        Load | W | Summer h/day | Winter h/day
        Lamp | 10 | 9 | 14
        """,
        (10, 10, 140),
    ),
    "hours a week": (
        """
        Load | W | Hours/week
        Fan | 10 | 7
        """,
        (10, 10, 10),
    ),
    "times under a head that says nothing": (
        """
        Load | W | Operation
        RTU | 5 | Continuous
        Fan | 12 | 1 h/day
        """,
        (17, 17, 132),
    ),
    "quiescent and maximum": (
        """
        Instrument | Supply (V) | Quiescent (mA) | Max (mA)
        Detector | 24 | 50 | 150
        """,
        (1.2, 3.6, 28.8),
    ),
    "ranges without a unit": (
        """
        Load | Power (W)
        Radio | 5-8
        """,
        (8, 8, 192),
    ),
    "row of units with pieces, then a section": (
        """
        Item | Description | Qty | Current (each) | Voltage | Duty | Remarks
         | | No. | mA | VDC | % |
         | CONTROL PANEL
        1 | RTU | 1 | 150 | 24 | 100 |
        2 | I/O module | 2 | 50 | 24 | 100 |
        3 | Old modem | 1 | 300 | 24 | 100 | Existing - to be removed
        4 | Spare | 1 |
        """,
        (6, 6, 144),
    ),
    "German abbreviation of pieces": (
        """
        Pos. | Verbraucher | Anz. | Leistung je Stück [W] | Betriebszeit [h/Tag]
        1 | Umformer | 4 | 0.5 | 24
        2 | Magnetventil | 2 | 9 | 6
        """,
        (20, 20, 156),
    ),
    "words in cells of power and of operation": (
        """
        Equipment | No. | Power requirement | Operation
        Radio | 1 | Tx 12 W, Rx 1.5 W | 5 % transmit
        Beacon radio | 1 | 8 W (transmit) / 2 W (receive) | transmit 36 s/h
        Actuator | 1 | 0.5 A @ 24 V (inrush 3 A) | 30 s, 6 strokes/day
        Pump | 2 | 40 W | 2 min per hour
        Lamp pair | 1 | 10 W + 6 W | 3 h/day
        """,
        (12 + 8 + 12 + 80 + 16, 12 + 8 + 12 + 80 + 16, 48.6 + 49.44 + 0.6 + 64 + 48),
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_sums_of_a_layout(tmp_path, name):
    """Each layout gives the watts and Wh/day that its author meant."""
    text, wanted = CASES[name]
    found = schedule(tmp_path, text)
    assert sums(found) == pytest.approx(wanted, rel=1e-9), asked(found)


def test_prices_and_other_columns_are_left_alone(tmp_path):
    """A price in any currency is no power, whatever its size."""
    found = schedule(
        tmp_path,
        """
        Item | Qty | Power (W) | Unit cost ($) | Total (EUR)
        Radio | 2 | 4 | 850 | 1700
        """,
    )
    assert sums(found) == pytest.approx((8, 8, 192))


def test_two_totals_that_disagree_are_told(tmp_path):
    """A total that is not the sum of its rows is asked; the rows count."""
    found = schedule(
        tmp_path,
        """
        Item | Qty | Watts | Hours/day | Wh/day
        Radio | 1 | 4 | 24 | 96
        RTU | 1 | 5 | 24 | 120
        Total | | | | 300
        """,
    )
    assert sums(found)[2] == pytest.approx(216)
    assert "300" in asked(found)
    assert "216" in asked(found)


@pytest.mark.parametrize(
    ("typical", "more", "told"),
    [(7, 10, False), (14, 20, False), (7, 20, False), (9, 10, True), (7, 30, True)],
)
def test_totals_under_a_plain_head_are_held_against_every_meaning(
    tmp_path, typical, more, told
):
    """2 x 4 W and 2 x 3 W: 14 W of all, 7 W of one each; highest 20 and 10 W."""
    found = schedule(
        tmp_path,
        f"""
        Item | Qty | Typical W | Max W
        Radio | 2 | 4 | 6
        Pump | 2 | 3 | 4
        Total | | {typical} | {more}
        """,
    )
    assert ("totals of the sheet differ" in asked(found)) == told


def test_two_totals_under_one_plain_head_that_disagree_are_told(tmp_path):
    """Only one of 'Total' and 'Total load' can be the sum of the rows."""
    found = schedule(
        tmp_path,
        """
        Item | Typical W
        Radio | 4
        Pump | 3
        Total | 7
        Total load | 12
        """,
    )
    assert "total load 12 (rows 7)" in asked(found)


def test_a_row_that_disagrees_with_itself_takes_the_higher(tmp_path):
    """Wh/day beside watts and hours that do not fit are asked, the higher counts."""
    found = schedule(
        tmp_path,
        """
        Item | Qty | Watts | Hours/day | Wh/day
        Radio | 1 | 4 | 24 | 120
        """,
    )
    assert sums(found)[2] == pytest.approx(120)
    assert "radio" in asked(found)


def test_losses_and_contingency_count_once(tmp_path):
    """Rows of losses and contingency are no loads, and both are asked."""
    found = schedule(
        tmp_path,
        """
        Item | Qty | Watts | Hours/day | Wh/day
        Radio | 1 | 4 | 24 | 96
        Converter losses | 1 | 1 | 24 | 24
        Subtotal | | | | 120
        Contingency 20 % | | | | 24
        """,
    )
    assert sums(found)[2] == pytest.approx(96)
    assert found.contingency_frac == pytest.approx(0.2)
    said = asked(found)
    assert "converter losses" in said
    assert "20 %" in said


def test_currents_without_volts_are_asked_not_dropped(tmp_path):
    """MA without any voltage are named; the load stays without a figure."""
    found = schedule(
        tmp_path,
        """
        Device | Current (mA)
        Radio | 200
        """,
    )
    assert len(found.loads) == 1
    assert found.loads[0].running_w is None
    assert "radio" in asked(found)


def test_volts_of_the_title_serve_currents(tmp_path):
    """'24 VDC' in the title is the voltage of currents that state none."""
    found = schedule(
        tmp_path,
        """
        LOAD LIST, BUS 24 VDC |
        Device | Current (mA)
        Radio | 200
        """,
    )
    assert sums(found) == pytest.approx((4.8, 4.8, 115.2))


def test_on_time_and_cycles(tmp_path):
    """12 s a stroke and 6 strokes a day are 72 s a day, not a quarter of it."""
    found = schedule(
        tmp_path,
        """
        Device | W | On-time per operation (s) | Operations per day
        Valve | 60 | 12 | 6
        Radio | 2 | |
        """,
    )
    assert sums(found)[2] == pytest.approx(60 * 72 / 3600 + 48)


def test_vertical_sheet(tmp_path):
    """Label, value and unit down the page give a load a block."""
    found = schedule(
        tmp_path,
        """
        Power budget |
        Radio |
        voltage | 12 | V
        standby current | 20 | mA
        transmit current | 500 | mA
        transmit time per hour | 36 | s
        Battery |
        voltage | 12 | V
        capacity | 100 | Ah
        """,
    )
    assert [x.name for x in found.loads] == ["Radio"]
    assert sums(found) == pytest.approx((6, 6, 24 * (6 * 0.01 + 0.24 * 0.99)))


def test_inrush_is_no_running_power(tmp_path):
    """Starting current enters neither the running watts nor the energy."""
    found = schedule(
        tmp_path,
        """
        Device | V | Running A | Starting A
        Pump | 24 | 2 | 12
        """,
    )
    assert sums(found) == pytest.approx((48, 48, 1152))
    assert found.loads[0].inrush_w == pytest.approx(288)


def test_sources_of_power_are_no_loads(tmp_path):
    """A solar panel in the load list is left out and asked."""
    found = schedule(
        tmp_path,
        """
        Equipment | Qty | Power (W) | Hours
        RTU | 1 | 10 | 24
        Solar panel 100W | 2 | 100 | 5
        """,
    )
    assert sums(found) == pytest.approx((10, 10, 240))
    assert "solar panel" in asked(found)


def test_columns_of_power_that_disagree_are_asked(tmp_path):
    """Two plain columns of watts: the higher counts, and the row is named."""
    found = schedule(
        tmp_path,
        """
        Load | Continuous Load (W) | Intermittent Load (W)
        Motor | 20 | 100
        """,
    )
    assert sums(found)[0] == 100
    assert "motor" in asked(found)


def test_ac_loads_ask_for_the_inverter(tmp_path):
    """Loads at 230 VAC without an inverter in the sheet are named."""
    found = schedule(
        tmp_path,
        """
        Load | Volts | W
        Pump | 230 VAC | 50
        """,
    )
    assert found.loads[0].ac
    assert "pump" in asked(found)


def test_names_that_begin_like_totals_stay_loads(tmp_path):
    """'Total flow meter' and 'Peak detector' are loads; 'Total' and 'Peak load' are not."""
    found = schedule(
        tmp_path,
        """
        Load | W
        Total flow meter | 3
        Peak detector | 2
        High efficiency lamp | 4
        Reserve pump | 5
        Total | 14
        Peak load | 14
        """,
    )
    assert sums(found)[0] == 14
    assert [x.name for x in found.loads][-1] == "Reserve pump"


def test_the_higher_of_row_total_and_pieces_counts(tmp_path):
    """A total of the row above quantity x watts is taken, and the row is named."""
    found = schedule(
        tmp_path,
        """
        Item | Qty | Watts each | Total watts
        Radio | 2 | 4 | 9
        Pump | 2 | 4 | 7
        """,
    )
    assert [x.running_w for x in found.loads] == [9, 8]
    assert "radio (8 w, the sheet says 9 w)" in asked(found)


def test_a_mode_without_a_time_has_the_rest_of_the_hour(tmp_path):
    """Idle fills what transmitting leaves, no more."""
    found = schedule(
        tmp_path,
        """
        Unit | V | Idle mA | Tx mA | Tx min/h
        Radio | 12 | 100 | 1000 | 15
        """,
    )
    assert sums(found)[2] == pytest.approx(24 * (12 * 0.25 + 1.2 * 0.75))


def test_a_range_counts_at_its_high_end(tmp_path):
    """'10-15 W' is 15 W, '0.4...0.5 A' is 0.5 A."""
    found = schedule(
        tmp_path,
        """
        BUS 12 VDC |
        Item | Power
        Radio | 10-15 W
        Fan | 0.4...0.5 A
        """,
    )
    assert [x.running_w for x in found.loads] == [15, 6]


SAID = {
    "volts in the names of loads": (
        "Load | W | h/day\nCamera 12V | 10 | 24\nRTU | 5 | 24",
        (15, 15, 360),
        "",
    ),
    "powers under a head that nobody knows": (
        "Load | Rating | Hours per day\nRTU | 5 W | 24\nHeater | 0.15kW | 1\n"
        "Modem | 350mA@12VDC | 24",
        (159.2, 159.2, 24 * 9.2 + 150),
        "",
    ),
    "pieces per well, times wells": (
        "Area | Load | Qty per well | No. of wells | W each\nPad | Transmitter | 3 | 4 | 0.5\n"
        "Pad | Solenoid | 1 | 4 | 6",
        (30, 30, 720),
        "loads state no time on: solenoid",
    ),
    "names under a head that nobody knows": (
        "Valve | Motor W | Stroke time (s) | Strokes per day\nMOV-1 | 200 | 45 | 4\n"
        "MOV-2 | 150 | 30 | 2",
        (350, 350, 200 / 20 + 150 / 60),
        "",
    ),
    "an efficiency in a remark is no duty": (
        "Load | Amps | Volts | Notes\nRTU | 0.25 | 24 |\n"
        "Radio | 0.55 | 24 | by 24/12 V converter, 85 % efficient",
        (19.2, 19.2, 460.8),
        "",
    ),
    "a duty in a remark": (
        "Load | W | Notes\nRTU | 5 |\nRadio | 10 | transmits/receives, 20 % duty",
        (15, 15, 168),
        "",
    ),
    "continuous beside intermittent": (
        "Equipment | Continuous load (W) | Intermittent load (W) | Intermittent duty (%)\n"
        "RTU | 8 | |\nValve | | 50 | 2\nRadio | 2 | 20 | 5",
        (78, 78, 24 * (8 + 1 + 2 * 0.95 + 20 * 0.05)),
        "",
    ),
    "three phases": (
        "Load | Voltage (V) | FLA (A) | h/day\nPump | 400 | 4 | 1\nFan | 230 | 1 | 1",
        (1600 * 3**0.5 + 230,) * 3,
        "between three phases: pump",
    ),
    "a heading of the future": (
        "Load | W\nRTU | 5\nPhase 2 (future) |\nCamera | 10",
        (15, 15, 360),
        "spare, future or out: phase 2 (future)",
    ),
    "a plain column beside one of a mode": (
        "Device | Normal operation (W) | Alarm condition (W) | Alarm duration (min/day)\n"
        "Panel | 3 | 10 | 6",
        (10, 10, 3 * 23.9 + 1),
        "",
    ),
    "standby beside the duty of operation": (
        "Device | Standby (W) | Operating (W) | Operating time (%)\nModem | 1 | 6 | 10",
        (6, 6, 24 * (0.9 + 0.6)),
        "",
    ),
    "modes without any time": (
        "Device | Standby (W) | Operating (W)\nModem | 1 | 6",
        (6, 6, 144),
        "stated by mode, without the time of each: modem",
    ),
    "watts below nothing": (
        "Load | W\nRTU | -5\nRadio | 6",
        (6, 6, 144),
        "power cannot be read: rtu ('-5')",
    ),
    "the voltage of the battery is no load": (
        "Load | Current (A) | Hours\nRTU | 0.5 | 24\nRadio | 5 | 1\nTotal | 5.5 |\n"
        "Battery voltage | 12 |",
        (66, 66, 204),
        "results of a sizing stand among the loads",
    ),
    "pieces in names": (
        "Load | W each\nValves (x4) | 8\n2 x Radio | 3\nRTU | 5",
        (43, 43, 24 * 43),
        "pieces and the watts are of each: valves (x4), 2 x radio",
    ),
    "pieces in names, watts of all perhaps": (
        "Load | Watts\nValves (4) | 8\nRTU | 5",
        (13, 13, 312),
        "pieces but the list has no quantity: valves (4)",
    ),
    "minutes on and off": (
        "Load | W | ON (min) | OFF (min)\nBlower | 30 | 5 | 25",
        (30, 30, 120),
        "",
    ),
    "days of the week": (
        "Appliance | Qty | Watts | Hours/day | Days/week\nLaptop | 2 | 50 | 1 | 5\n"
        "Router | 1 | 10 | 24 | 7",
        (110, 110, 2 * 50 * 5 / 7 + 240),
        "some days of the week: laptop (5 days)",
    ),
    "pieces that operate": (
        "Equipment | Installed | Operating | Standby | W each\nPump | 2 | 1 | 1 | 100\n"
        "Fan | 3 | 3 | 0 | 10",
        (130, 130, 3120),
        "loads state no time on: pump",
    ),
    "an on-time in an interval": (
        "Device at 12 V | Quiescent (uA) | Active (mA) | Active time (s) | Interval (min)\n"
        "Logger | 500 | 40 | 30 | 15",
        (0.48, 0.48, 12 * 24 * (0.04 / 30 + 0.0005 * 29 / 30)),
        "",
    ),
    "an interval without modes": (
        "Device | W | On time (s) | Interval (min)\nPump | 60 | 6 | 10",
        (60, 60, 60 * 24 / 100),
        "",
    ),
    "seconds of nobody knows what": (
        "Device | W | On time (s)\nPump | 60 | 60\nLamp | 60 | 120",
        (120, 120, 3),
        "without what they are of: pump, lamp",
    ),
    "seconds of a mode of nobody knows what": (
        "Device | Sleep (W) | Active (W) | Active time (s)\nLogger | 0 | 60 | 60",
        (60, 60, 1),
        "without what they are of: logger",
    ),
    "a rating beside its unit": (
        "Tag | Description | Supply | Rating | Unit | Eff. | Hours/day\n"
        "E-1 | Panel | 24 VDC | 45 | W | | 24\nE-2 | Fan | 24 VDC | 0.02 | kW | | 6\n"
        "E-3 | Pump | 24 VDC | 0.5 | HP | 0.8 | 1",
        (45 + 20 + 0.5 * 745.7 / 0.8,) * 2 + (1080 + 120 + 0.5 * 745.7 / 0.8,),
        "horsepower are power at the shaft: pump",
    ),
    "others feed a load with watts": (
        "Equipment | Supply | W | Remarks\nHeat trace | 24 V | 300 | Fed by others\n"
        "RTU | 24 V | 5 |",
        (305, 305, 7320),
        "others feed or bring loads whose watts are stated: heat trace",
    ),
    "a contingency in a cell of its own": (
        "Equipment | Supply | W\nRTU | 24 V | 5\nContingency | 15 % |",
        (5, 5, 120),
        "adds a contingency: 15 %",
    ),
    "a cell of two modes": (
        "Device | Watts\nModem | 1.5 W standby / 25 W TX (5 %)",
        (25, 25, 24 * (0.05 * 25 + 0.95 * 1.5)),
        "",
    ),
    "amp-hours are energy": (
        "Load Description | Voltage (V) | Current (A) | Duty Cycle (%) | Amp-hours/day\n"
        "RTU | 12 | 0.35 | 100 | 8.4\nRadio | 12 | 2.5 | 5 | 3\nTotal | | | | 11.4",
        (34.2, 34.2, 136.8),
        "",
    ),
    "hours under utilization": (
        "Equipment | Rated power (W) | Utilization (h/day)\nLamp | 20 | 12\nRouter | 8 | 24",
        (28, 28, 432),
        "lamp (12 h)",
    ),
    "a duty of letters": (
        "Equipment | W | Duty (C/I/S)\nPump | 20 | I\nFan | 10 | C",
        (30, 30, 720),
        "times cannot be read: pump ('i'), fan ('c')",
    ),
    "a duty as a ratio": (
        "Device | W | Duty\nA | 10 | 1:10\nB | 10 | 1/4\nC | 10 | on demand",
        (30, 30, 24 + 60 + 240),
        "times cannot be read: c ('on demand')",
    ),
    "times in the remark": (
        "Equipment | Voltage | Running current | Starting current | Remarks\n"
        "Actuator | 24 VDC | 2.5 A | 12 A | stroke 30 s, 6 strokes/day",
        (60, 60, 3),
        "",
    ),
    "pieces in words": (
        "Device | Quantity | W each\nRadio | 2+1 spare | 5\nPump | 2 (1 duty, 1 standby) | 40\n"
        "Camera | two | 6",
        (15 + 40 + 12,) * 2 + (24 * 67,),
        "no whole number: radio '2+1 spare'",
    ),
    "pieces that stand by in the cell of the quantity": (
        "Device | Quantity | W each | Total W\nPump | 3 (2 duty, 1 standby) | 40 | 80\n"
        "Fan | 2 (1 en service, 1 en secours) | 6 | 6\nRTU | 1 | 5 | 5",
        (80 + 6 + 5,) * 2 + (24 * 91,),
        "stand by for others: pump (2 on duty, 1 standing by, 40 w)",
    ),
    "totals of a row in French": (
        "Désignation | Qté | Puissance unitaire (W) | Durée (h/j) | Puissance totale (W)\n"
        "Automate | 1 | 8 | 24 | 8\nCaméra | 2 | 7 | 24 | 14\nSous-total | | | | 22",
        (22,) * 2 + (528,),
        "",
    ),
    "hours beside a word of the mode": (
        "Equipment | Operating mode | Power (W) | Hours/day\nCamera | Day | 6 | 1\n"
        "Recorder | Continuous | 15 | 24\nSwitch | Continuous | 8 | 24",
        (29,) * 2 + (6 + 24 * 23,),
        "",
    ),
    "which loads are AC in a column": (
        "Load description | AC/DC | Power W\nLaptop | AC | 65\nRadio | DC | 20\nFridge | AC | 90",
        (175,) * 2 + (24 * 175,),
        "ac loads without an inverter: laptop, fridge",
    ),
    "a load and its consumption": (
        "Load | Typical consumption\nRTU | 5.5W\nModem | 0.9A @ 5V\nCamera | PoE class 3\n"
        "Sensors (x6) | 20mA each @ 24V",
        (5.5 + 4.5 + 2.88,) * 2 + (24 * 12.88,),
        "cells of power cannot be read: camera ('poe class 3')",
    ),
    "a quantity under a head nobody knows": (
        "Load | Watts (ea) | No. | Watts (tot) | On (hrs) | Standby watts\n"
        "Camera | 6 | 4 | 24 | 24 |\nAmplifier | 80 | 1 | 80 | 0.5 | 6\n"
        "Intercom | 5 | 2 | 10 | 1 | 1",
        (24 + 80 + 10,) * 2 + (576 + 40 + 6 * 23.5 + 10 + 46,),
        "",
    ),
    "watts of a row beside its modes": (
        "Load | Watts (ea) | Watts (tot) | On (hrs) | Standby watts\n"
        "Camera | 6 | 24 | 24 |\nIntercom | 5 | 5 | 1 | 1",
        (29,) * 2 + (24 * 24 + 5 + 23,),
        "camera (6 w, the sheet says 24 w)",
    ),
    "signs for hours, current and sum": (
        "Load | P (W) | t (h) | E (Wh)\nRTU | 10 | 24 | 240\nRadio | 20 | 6 | 120\nΣ | 30 | | 360",
        (30,) * 2 + (360,),
        "loads run for part of the day: radio (6 h)",
    ),
    "a nominal current": (
        "Load | Nom. V | I nom (mA) | I peak (mA)\nLogger | 12 | 8 | 40\nModem | 12 | 15 | 1500",
        (0.276, 18.48, 24 * 0.276),
        "",
    ),
    "shares under the German short word": (
        "Verbraucher | Leistung W | ED | Stück\nVentil | 7 | 10 % | 4\nSteuerung | 8 | 100 % | 1",
        (36,) * 2 + (24 * (2.8 + 8),),
        "",
    ),
    "units of a bill beside descriptions": (
        "Description | Unit | Qty | Power (W)\nRTU supply | Each | 1 | 10\n"
        "Cable | m | 150 |\nSolenoid valve | Each | 3 | 9",
        (37,) * 2 + (24 * 37,),
        "loads state no time on: solenoid valve",
    ),
    "minutes a day in German": (
        "Verbraucher | Leistung (W) | Betriebszeit (min/Tag)\nSPS | 6 | 1440\nVentil | 20 | 5",
        (26,) * 2 + (144 + 100 / 60,),
        "",
    ),
    "a name under a head nobody knows": (
        "Nr | Abnehmer | P [W] | t [h/d]\n1 | Steuerung | 12 | 24\n2 | Leuchte | 20 | 1\n"
        "3 | Tor | 30 | 1",
        (62,) * 2 + (288 + 50,),
        "",
    ),
    "mains in a heading": (
        "Load | A | h/d\n24 VDC LOADS\nRTU | 0.5 | 24\n120 VAC LOADS\nHeater | 2 | 1",
        (252,) * 2 + (288 + 240,),
        "ac loads without an inverter: heater (",
    ),
    "AC without volts in a heading": (
        "Load | W\nDC loads\nRTU | 5\nAC loads\nServer | 50\nDC loads\nModem | 5",
        (60,) * 2 + (1440,),
        "ac loads without an inverter: server (",
    ),
    "what a mark below stands for": (
        "Load | W\nRTU* | 10\nRadio | 12\nSwitch | 3\n* by telecom contractor",
        (25,) * 2 + (600,),
        "leave loads open: '* by telecom contractor'",
    ),
    "mains in a remark": (
        "Load | W | Notes\nRTU | 10 | see spec\nServer | 370 | 230 VAC",
        (380,) * 2 + (24 * 380,),
        "ac loads without an inverter: server (",
    ),
    "volts under the bus": (
        "Bus | Load | W\n48 V | Link | 85\n24 V | RTU | 15\n230 V AC | Server | 30",
        (130,) * 2 + (24 * 130,),
        "ac loads without an inverter: server (",
    ),
    "a total of currents": (
        "Load | Voltage (V) | Current (A) | Qty | Total current\nRTU | 24 | 0.5 | 1 | 0.5\n"
        "Amp | 24 | 3 | 2 | 3",
        (12 + 144,) * 2 + (24 * 156,),
        "amp (144 w, the sheet says 72 w)",
    ),
    "a time of a mode in a sentence": (
        "Load | Power | Usage\nRTU | 4.5 W | always on\n"
        "Modem | 6 W transmit / 1 W idle | 10 minutes transmit per hour",
        (10.5,) * 2 + (108 + 24 + 20,),
        "",
    ),
    "totals by voltage": (
        "Load | Current (A)\n24V bus\nRTU | 0.5\n48V bus\nLink | 1\nTotal 24V | 0.5\nTotal 48V | 1",
        (60,) * 2 + (24 * 60,),
        "loads at 48 v, 24 v",
    ),
    "days a week in German": (
        "Verbraucher | Watt | Std/Tag | Tage/Woche\nLicht | 40 | 1 | 7\nServer | 200 | 1 | 3.5",
        (240,) * 2 + (40 + 100,),
        "loads run on some days of the week: server (",
    ),
    "not on the battery": (
        "Load | W | Note\nRTU | 12 |\nServer | 80 | NOT on battery",
        (92,) * 2 + (24 * 92,),
        "not on this bus: server 'not on battery' (",
    ),
    "times and intervals with their units": (
        "Load | W | On duration | Interval\nSampler | 45 | 5 min | 1 h\nCPU | 6 | 30 s | 10 min\n"
        "Camera | 8 | continuous |",
        (59,) * 2 + (90 + 7.2 + 192,),
        "",
    ),
    "a time of one start": (
        "Load | W | Starts per day | Run time per start\nSampler | 200 | 4 | 15 min\n"
        "CPU | 24 | 12 | 20 s",
        (224,) * 2 + (200 + 24 / 15,),
        "",
    ),
    "pieces with their word": (
        "Component | Power | Number | Use\nLink | 7W | 6 pcs | 1h\nRadio | 15W | 1 pc | 1h",
        (57,) * 2 + (57,),
        "",
    ),
    "from one time to another in two columns": (
        "Load | W | From | To\nCPU | 20 | 18:00 | 06:00\nCamera | 8 | 06:00 | 18:00",
        (28,) * 2 + (24 * 28,),
        "not understood: c 'from', d 'to'",
    ),
    "hours by season": (
        "Load | Watts | h/day summer | h/day winter\nFan | 60 | 10 | 1\nLamp | 5 | 1 | 22",
        (65,) * 2 + (600 + 110,),
        "several columns state one time: d 'h/day winter'",
    ),
    "starts a day in a remark": (
        "Load | Watts | Minutes per day | Remarks\nValve | 14 | 1 | 4 operations per day\n"
        "Pump | 60 | 30 | 2 x per day",
        (74,) * 2 + (14 / 60 + 30,),
        "pump '2 x per day', valve '4 operations per day' (",
    ),
    "mains in the cell": (
        "Device | Watts\nHeater | 50W @ 230VAC\nAC/DC supply | 5",
        (55, 55, 1320),
        "ac loads without an inverter: heater (",
    ),
    "results below the loads": (
        "Load | Volts | Amps | Hours | Ah\nRTU | 24 | 0.5 | 24 | 12\nRadio | 24 | 1.2 | 2 | 2.4\n"
        "Total Ah/day | 24 | | | 14.4\nDays of autonomy | | 5 | |\nBattery required | | | | 72",
        (40.8, 40.8, 345.6),
        "results of a sizing stand among the loads: days of autonomy",
    ),
    "a voltage below the table": (
        "Device | Qty | Standby mA | Alarm mA | Alarm min/day\n"
        "Panel | 1 | 100 | 300 | 6\nSystem voltage 24 VDC",
        (7.2, 7.2, 2.4 * (24 - 0.1) + 0.72),
        "",
    ),
    "modes without a voltage": (
        "Device | Standby mA | Transmit mA | Transmit min/day\nPanel | 100 | 300 | 6",
        (0, 0, 0),
        "currents without a voltage: panel",
    ),
    "growth in a column": (
        "Description | W | Total W with 25% growth\nRTU | 10 | 12.5\nRadio | 8 | 10",
        (18, 18, 432),
        "adds a contingency: column c",
    ),
    "loads by name, volts and amps": (
        "Individual loads | Qty | Volts | Amps | Use hrs/day\nLight | 2 | 12 | 1.5 | 24",
        (36, 36, 864),
        "",
    ),
    "heat is no time": (
        "Equipment | Typical current (A) at -48 VDC | Heat (BTU/hr)\nRouter | 1.5 | 246",
        (72, 72, 1728),
        "",
    ),
    "lowest, typical and highest": (
        "Equipment | Power (W) |  |  | Qty\n | Min | Typ | Max |\nRadio | 1 | 3 | 20 | 2",
        (6, 40, 144),
        "",
    ),
    "two quantities": (
        "Equipment | Qty installed | Qty operating | W each\nPump | 2 | 1 | 10",
        (20, 20, 480),
        "two columns have the same meaning: c 'qty operating'",
    ),
    "AC in a column of types": (
        "Load | Type | Watts | Hours\nRadio | DC | 5 | 24\nLaptop | AC | 60 | 1",
        (65, 65, 180),
        "ac loads without an inverter: laptop (",
    ),
    "AC by the column of the power": (
        "Load | DC W | AC W | h/day\nRadio | 5 | | 24\nFan | | 40 | 1",
        (45, 45, 160),
        "ac loads without an inverter: fan (",
    ),
    "hours of a peak alone": (
        "Equipment | V | A cont. | A peak | hrs\nPump | 24 | 0 | 8 | 0.1",
        (192, 192, 19.2),
        "loads state a maximum only: pump",
    ),
    "pieces as a number of units": (
        "Sl. No. | Item | Watts/Unit | No. of units\n1 | Radio | 5 | 2\n2 | RTU | 8 | 1",
        (18, 18, 432),
        "",
    ),
    "pieces as nos": (
        "Device | Nos. | Watt\nRadio | 2 | 5\nLamp | 4 | 10",
        (50, 50, 1200),
        "loads state no time on: lamp",
    ),
    "amp-hours under their volts": (
        "Load | Ah/day @ 12V\nRadio | 10\nRTU | 20",
        (15, 15, 360),
        "no watts: radio, rtu",
    ),
    "two rails in the heads": (
        "Load | Current @12V (A) | Current @24V (A)\nRadio | 0.5 | \nRTU | | 0.25",
        (12, 12, 288),
        "loads at 24 v, 12 v",
    ),
    "rows lettered beside their names": (
        "Item | Description | Power\nA | Radio | 5 W Rx, 25 W Tx\nB | Switch | 4 W",
        (29, 29, 24 * 29),
        "by mode, without the time of each: radio",
    ),
    "a mode after each figure": (
        "Load | Qty | Consumption | Operation\nRadio | 1 | 5 W Rx, 25 W Tx | Tx 10 %\n"
        "Switch | 1 | 4 W | Continuous",
        (29, 29, 24 * (5 * 0.9 + 25 * 0.1 + 4)),
        "",
    ),
    "connected and average watts worked out of the first": (
        "Load | Qty | Unit Load (W) | Connected Load (W) | Duty (%) | Average Load (W)\n"
        "RTU | 1 | 12 | 12 | 100 | 12\nTransmitter | 4 | 0.5 | 2 | 100 | 2\n"
        "Light | 2 | 10 | 20 | 5 | 1\nTotal | | | 34 | | 15",
        (34, 34, 24 * 15),
        "",
    ),
    "connected watts of which one row disagrees": (
        "Load | Qty | Unit Load (W) | Connected Load (W)\n"
        "RTU | 1 | 12 | 12\nTransmitter | 4 | 0.5 | 2\nLight | 2 | 10 | 25",
        (12 + 2 + 20, 12 + 8 + 50, 24 * 34),
        "loads state no time on: light",
    ),
    "a part number is no name": (
        "Part No. | Description | Qty | Power\nAB-12 | Radio modem | 1 | 3.5 W",
        (3.5, 3.5, 84),
        "",
    ),
}


@pytest.mark.parametrize("name", SAID)
def test_what_is_read_high_is_said(tmp_path, name):
    """Forms that lost watts or counted 24 h without a word; found on lists of others."""
    text, wanted, said = SAID[name]
    found = schedule(tmp_path, text)
    assert sums(found) == pytest.approx(wanted)
    told = asked(found)
    assert said in told
    assert said or not told
    if name == "growth in a column":
        assert found.contingency_frac == pytest.approx(0.25)
    if name == "two rails in the heads":
        assert [x.volts for x in found.loads] == [12, 24]
    if name == "heat is no time":
        assert found.loads[0].volts == 48
    if name == "times in the remark":
        assert found.loads[0].inrush_w == pytest.approx(288)
    if name == "a part number is no name":
        assert found.loads[0].name == "Radio modem"
    if name == "rows lettered beside their names":
        assert [x.name for x in found.loads] == ["Radio", "Switch"]


def test_inrush_in_a_cell_of_power_is_the_peak(tmp_path):
    text = """
    Equipment | Power
    Actuator | 0.5 A @ 24 V (inrush 3 A)
    """
    assert schedule(tmp_path, text).loads[0].inrush_w == pytest.approx(72)


@pytest.mark.parametrize(
    ("power", "operation", "words"),
    [
        ("Tx 12 W, Rx 1.5 W", "", "by mode"),
        ("12 W, 9 W", "24 h/d", "several powers"),
        ("12 W", "25 %, 6 h/d", "times cannot be read"),
        ("12 W", "30 s, then 5 min", "times cannot be read"),
        ("loop powered", "24 h/d", "signal list"),
    ],
)
def test_what_a_cell_says_twice_is_asked_and_counted_high(
    tmp_path, power, operation, words
):
    text = f"""
    Equipment | Power | Operation
    Thing | {power} | {operation}
    Lamp | 1 W | 24 h/d
    """
    found = schedule(tmp_path, text)
    assert words in asked(found)
    assert sums(found)[2] == pytest.approx(24 * (1 if "loop" in power else 13))


def test_the_inverter_above_the_heads_is_heard(tmp_path):
    text = """
    Inverter efficiency | 88 %
     |
    Equipment | Supply | W
    Panel | 120 VAC | 44
    """
    assert schedule(tmp_path, text).inverter_frac == pytest.approx(0.88)


DOWN_THE_PAGE = {
    "a duty of one mode": (
        "Power budget\nRadio\nVoltage | 12 | V\nTX current | 1.5 | A\nRX current | 0.2 | A\n"
        "TX duty | 5 | %\nRTU\nVoltage | 12 | V\nCurrent | 250 | mA\nQuantity | 2 | pcs",
        (24, 24, (18 * 0.05 + 2.4 * 0.95 + 6) * 24),
        "",
    ),
    "devices in the labels": (
        "Item | Value | Unit\nRadio supply voltage | 12 | V\nRadio transmit power | 20 | W\n"
        "Radio receive power | 2 | W\nRadio transmit time | 30 | min/day\n"
        "PLC power | 6 | W\nCamera power | 8 | W\nCamera on-time | 12 | h/day",
        (34, 34, 20 * 0.5 + 2 * 23.5 + 144 + 96),
        "camera (12 h)",
    ),
    "words in place of a figure": (
        "Loads\nCamera\nPower consumption | 5 W typ\nOperating hours | 12 | h/day\n"
        "Router\nPower | see data sheet\nVoltage | 12 | V\nHeater\nPower | 50 | W\n"
        "Voltage | 24 | V\nOperating hours | 6 | h/day",
        (55, 55, 60 + 300),
        "cannot be read: router ('see data sheet')",
    ),
    "no title above": (
        "Camera\nPower | 5 | W\nOperating hours | 12 | h/day\nRouter\nPower | 6 | W",
        (11, 11, 60 + 144),
        "camera (12 h)",
    ),
    "mains and inrush": (
        "Loads\nPump\nVoltage | 230 | VAC\nPower | 100 | W\nStarting current | 3 | A\n"
        "Hours | 1 | h/day\nRTU\nVoltage | 24 | V\nPower | 5 | W",
        (105, 105, 100 + 120),
        "",
    ),
}


@pytest.mark.parametrize("name", DOWN_THE_PAGE)
def test_sheets_that_go_down_the_page(tmp_path, name):
    """Label, value and unit a line: modes, devices in labels, words, mains, inrush."""
    text, wanted, said = DOWN_THE_PAGE[name]
    found = schedule(tmp_path, text)
    assert sums(found) == pytest.approx(wanted)
    assert said in asked(found)
    if name == "mains and inrush":
        pump = found.loads[0]
        assert pump.ac
        assert pump.inrush_w == pytest.approx(690)
    if name == "words in place of a figure":
        assert [x.why for x in found.loads if x.running_w is None] == ["unreadable"]


@pytest.mark.parametrize("first", [False, True])
def test_a_summary_sheet_is_not_counted_again(tmp_path, first):
    """Loads on two sheets and their sum on a third: left out, and asked where it leads."""
    made = Workbook()
    sheets = {
        "DC loads": [["Equipment", "W"], ["Radio", 5], ["RTU", 8]],
        "AC loads": [["Equipment", "W"], ["Fan", 40], ["Laptop", 60]],
    }
    summary = {"Summary": [["System", "W"], ["DC", 13], ["AC", 100], ["Total", 113]]}
    made.remove(made.active)
    for name, rows in (summary | sheets if first else sheets | summary).items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    made.save(tmp_path / "s.xlsx")
    found = read_lists([tmp_path / "s.xlsx"])
    assert sums(found)[0] == 113
    assert ("read as totals" in asked(found)) == first


def test_a_range_of_volts_names_no_rail(tmp_path):
    """A device that bears 10 to 30 V asks for no converter; its current counts high."""
    found = schedule(
        tmp_path,
        "Equipment | Supply Voltage | Consumption\nRTU | 10-30 VDC | 100 mA\n"
        "Radio | 12 VDC | 1.2 A",
    )
    assert [x.volts for x in found.loads] == [0, 12]
    assert sums(found)[0] == pytest.approx(3 + 14.4)
    assert "converter" not in asked(found)


DROPPED = {
    "a head that nobody knows": (
        "Load | W | Burn rate\nRTU | 10 | 0.5\nFan | 20 | 1",
        720,
        "not understood: c 'burn rate'",
    ),
    "no head": ("Load | W |\nRTU | 10 | 3\nFan | 20 | 1", 720, "not understood: c"),
    "a bare factor": (
        "Load | W | Factor\nRTU | 10 | 0.5\nFan | 20 | 1",
        720,
        "not understood: c 'factor'",
    ),
    "pieces of a panel": (
        "Load | Qty in panel | W\nRTU | 1 | 10\nFan | 3 | 20",
        720,
        "not understood: b 'qty in panel'",
    ),
    "pieces under units": ("Load | Units | W\nRTU | 1 | 10\nFan | 3 | 20", 1680, ""),
    "pieces under amount": ("Load | Amount | W\nRTU | 1 | 10\nFan | 3 | 20", 1680, ""),
    "an article before its word": (
        "Désignation | W | Taux d'utilisation (%)\nAutomate | 10 | 100\nVanne | 20 | 25",
        240 + 120,
        "",
    ),
    "an efficiency without losses": (
        "Load | W | Efficiency | Wh/day\nFan | 70 | 0.7 | 2400\nRTU | 10 | 1 | 240",
        1920,
        "efficiencies stand beside the watts of loads: fan (0.7)",
    ),
    "a day that follows from no figure of its row": (
        "Load | W | Efficiency | Wh/day\nFan | 70 | 0.7 | 1900\nRTU | 10 | 1 | 240",
        2140,
        "wh/day of a row disagree with its watts and hours: fan (",
    ),
    "a day of loads without a time": (
        "Load | Peak power (W) | Wh/day\nPump | 350 | 240\nRTU | 10 | 240",
        480,
        "state watts and wh/day but no time on: pump (",
    ),
    "hours by the clock": (
        "Load | W | On time\nLight | 20 | 18:00 - 06:00\nRTU | 10 | 24/7",
        480,
        "run for part of the day: light (12 h)",
    ),
    "currents of modes at volts of their heads": (
        "Load | mA at 24 V idle | mA at 24 V max | % max\nRTU | 80 | 200 | 10\nCPU | 40 | 400 | 2",
        24 * 24 * 0.1392,
        "",
    ),
    "days of the year": (
        "Load | W | Days per year\nRTU | 10 | 365\nFan | 20 | 30",
        720,
        "not understood: c 'days per year'",
    ),
    "a fuse is no load": (
        "Load | Volts | W | Fuse A\nRTU | 24 | 10 | 2\nFan | 24 | 20 | 4",
        720,
        "",
    ),
    "pieces in a remark": (
        "Load | W | Remarks\nCamera | 8 | 2 nos.\nRTU | 5 | in kiosk",
        312,
        "remarks state pieces but the list has no quantity: camera",
    ),
    "a power of no mode": (
        "Load | Continuous (W) | Standby (W) | Intermittent (W)\nRTU | 10 | | \nRadio | | 5 |\n"
        "Fan | 20 | 1 | 3",
        240 + 120 + 480,
        "20 w beside modes of 3 w",
    ),
    "one mode with its time in the remark": (
        "Load | Standby (W) | Intermittent (W) | Remarks\nRTU | 10 | |\nFan | | 20 | 6 min/h",
        240 + 48,
        "",
    ),
    "a name or a number": ("Equipo | Nombre | W\nRTU | 1 | 10\nFan | 3 | 20", 1680, ""),
    "hours of summer and winter in words": (
        "Load | W | Summer | Winter\nHeater | 50 | 0 h | 10 h\nRTU | 5 | 24 h | 24 h",
        620,
        "part of the day: heater (10 h)",
    ),
    "a duty in the worst case": (
        "Load | W | Typical duty | Worst case duty\nRadio | 50 | 10% | 40%\nRTU | 5 | 100% | 100%",
        600,
        "several columns state one time: d 'worst case duty'",
    ),
    "starts at most": (
        "Load | W | Starts per day | Max starts per day | Run time (min)\nMOV | 120 | 2 | 10 | 5\n"
        "SDV | 60 | 1 | 4 | 5",
        100 + 20,
        "several columns state one time: d 'max starts per day'",
    ),
    "pieces on duty": (
        "Load | Qty (duty) | Qty (standby) | W\nRadio | 1 | 1 | 5\nPump | 2 | 1 | 8",
        504,
        "two columns have the same meaning: c 'qty (standby)'",
    ),
    "a place is no current": (
        "Load | Volts | Site A | Site B | W each\nRadio | 24 | 1 | 1 | 5\nPump | 24 | 2 | 3 | 8",
        312,
        "not understood: c 'site a', d 'site b'",
    ),
    "hours a day in French": (
        "Désignation | Qté | P (W) | h/j\nCaméra | 2 | 6 | 1",
        12,
        "",
    ),
    "months under a word of scope": (
        "Load | W | Months used\nRTU | 10 | 12\nFan | 20 | 6",
        720,
        "not understood: c 'months used'",
    ),
    "weights, prices, lengths": (
        "Load | W | Weight (kg) | Price | Cable length (m) | Power factor | PF\n"
        "RTU | 10 | 3 | 400 | 12 | 0.8 | 0.8\nFan | 20 | 9 | 80 | 3 | 0.9 | 0.7",
        720,
        "",
    ),
}


@pytest.mark.parametrize("name", DROPPED)
def test_no_figure_of_a_load_is_dropped_without_a_word(tmp_path, name):
    """Columns of figures are used, of a kind that never counts, or asked about."""
    text, wh_per_day, said = DROPPED[name]
    found = schedule(tmp_path, text)
    assert sum(x.wh_per_day for x in found.loads) == pytest.approx(wh_per_day)
    told = asked(found)
    assert said in told
    assert said or not told
