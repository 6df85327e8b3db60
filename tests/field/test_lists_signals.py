"""Signal lists in the layouts that engineers send, each invented here."""

from __future__ import annotations

from pathlib import Path

import pytest
from openpyxl import Workbook
from openpyxl.styles import Font

from powerbudget.errors import InputError
from powerbudget.lists.found import Import
from powerbudget.lists.importer import read_lists
from powerbudget.lists.mapping import mapping_text, read_mapping


def book(path: Path, **sheets: list[list[object]]) -> Path:
    """Write a workbook with one sheet for each keyword and return its path."""
    made = Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name.replace("_", " "))
        for row in rows:
            sheet.append(row)
    made.save(path)
    return path


def rows(text: str) -> list[list[object]]:
    """Return rows from text: cells parted by bars, numbers as numbers."""

    def cell(word: str) -> object:
        word = word.strip()
        if not word:
            return None
        try:
            return float(word)
        except ValueError:
            return word

    return [[cell(c) for c in line.split("|")] for line in text.strip("\n").split("\n")]


def imported(tmp_path: Path, text: str, name: str = "List") -> Import:
    """Return what a one-sheet workbook holds."""
    return read_lists(
        [book(tmp_path / "list.xlsx", **{name.replace(" ", "_"): rows(text)})]
    )


def asked(found: Import) -> str:
    """Return every question, small letters, one a line."""
    return "\n".join(q.text for q in found.asked).lower()


def classes(found: Import) -> dict[str, int]:
    """Return the rows of all sheets by class."""
    out: dict[str, int] = {}
    for tally in found.tallies:
        for name in tally.rows:
            out[name] = out.get(name, 0) + 1
    return out


CASES = {
    "rack and slot": (
        """
        Rack | Slot | Channel | Tag | Description | I/O Type | Range | Units
        1 | 1 | 0 | PT-1001 | Discharge pressure | AI | 0-100 | bar
        1 | 1 | 1 | FT-1002 | Line flow | AI | 0-500 | m3/h
        1 | 1 | 2 | SPARE |  | AI |  |
        1 | 2 | 0 | HS-1003 | Stop button | DI |  |
        1 | 2 | 1 | ZS-1004 | Door | DI |  |
        1 | 3 | 0 | UY-1005 | Shutdown relay | DO |  |
        """,
        {"ai": 2, "di": 2, "do": 1},
        {"ai": 1},
    ),
    "long words": (
        """
        Point Name | Point Description | Signal Type
        LIT-210 | Tank level | Analog Input 4-20mA
        TCV-211 | Valve position command | Analog Output
        YS-212 | Pump run status | Digital Input
        YC-213 | Pump start | Digital Output
        TE-214 | Bearing | RTD Input
        """,
        {"ai": 1, "ao": 1, "di": 1, "do": 1, "rtd": 1},
        {},
    ),
    "contacts only": (
        """
        Tag No | Service | Signal
        PSL-1 | Low suction | Dry contact NC
        LSH-2 | High level | 24VDC, NO
        PIT-3 | Pressure | 4-20 mA
        SV-4 | Valve | Solenoid 24VDC
        TE-5 | Temp | Pt100
        FE-6 | Flow | Pulse
        GC-7 | Analyzer | Modbus RTU
        """,
        {"di": 2, "ai": 1, "do": 1, "rtd": 1, "pulse": 1, "serial": 1},
        {},
    ),
    "ticks": (
        """
        Item | Equipment | Description | AI | AO | DI | DO
        1 | P-1 | Running |  |  | x |
        2 | P-1 | Start |  |  |  | X
        3 | P-1 | Speed |  | x |  |
        4 | T-1 | Level | x |  |  |
        5 | Total | | 1 | 1 | 1 | 1
        """,
        {"ai": 1, "ao": 1, "di": 1, "do": 1},
        {},
    ),
    "quantity heads": (
        """
        Equipment | Qty AI | Qty AO | Qty DI | Qty DO
        Wellhead | 3 | 0 | 4 | 2
        Separator | 2 | 1 | 6 | 1
        Spare | 1 | 0 | 2 | 1
        TOTAL | 6 | 1 | 12 | 4
        """,
        {"ai": 5, "ao": 1, "di": 10, "do": 3},
        {"ai": 1, "di": 2, "do": 1},
    ),
    "sections say the type": (
        """
        Tag | Description | Terminal
        ANALOG INPUTS
        PT-1 | Pressure | 1
        PT-2 | Pressure | 2
        DIGITAL OUTPUTS
        XV-3 | Valve | 3
        SPARE | | 4
        """,
        {"ai": 2, "do": 1},
        {"do": 1},
    ),
    "german abbreviations": (
        """
        Lfd. Nr. | Kennzeichnung | Bezeichnung | Signalart | Bemerkung
        1 | 10LBA10CP001 | Druck | AE |
        2 | 10LBA10CT001 | Temperatur | AE |
        3 | 10LBA10CG001 | Endlage | DE |
        4 | 10LBA10AA001 | Magnetventil | DA |
        5 | Reserve | | DE |
        6 | 10LBA10CP002 | Druck | AE | entfällt
        """,
        {"ai": 2, "di": 1, "do": 1},
        {"di": 1},
    ),
    "spanish abbreviations": (
        """
        N° | TAG | Descripción | Tipo | Observaciones
        1 | PIT-100 | Presión | EA |
        2 | ZS-101 | Posición | ED |
        3 | XV-102 | Válvula | SD |
        4 | LIBRE | | ED |
        5 | FCV-103 | Control | SA |
        """,
        {"ai": 1, "di": 1, "do": 1, "ao": 1},
        {"di": 1},
    ),
    "french": (
        """
        Repère | Désignation | Type de signal
        PT-1 | Pression | Entrée analogique
        ZS-2 | Fin de course | Entrée TOR
        XV-3 | Vanne | Sortie TOR
        """,
        {"ai": 1, "di": 1, "do": 1},
        {},
    ),
    "numbered signals": (
        """
        Tag | Description | Signal 1 | Signal 2 | Signal 3
        MOV-1 | Motor valve | DI open | DI closed | DO command
        PT-2 | Pressure | AI | |
        P-3 | Pump | DI running | DO start |
        """,
        {"di": 3, "do": 2, "ai": 1},
        {},
    ),
    "status column words": (
        """
        Tag | Service | Type | Status
        PT-1 | Reserve tank | AI | Existing
        PT-2 | Removed section | AI | Deleted
        ZS-3 | Spare pump | DI | New
        ZS-4 | Gate | DI | Spare
        AT-5 | Dew point | AI | Future
        """,
        {"ai": 1, "di": 1},
        {"di": 1},
    ),
    "siemens addresses": (
        """
        Address | Symbol | Comment
        E 0.0 | Taster_1 | push button
        E 0.1 | Taster_2 | push button
        A 4.0 | Ventil_1 | valve
        EW 64 | Druck_1 | pressure
        AW 80 | Regler_1 | positioner
        M 10.0 | Merker_1 | flag
        """,
        {"di": 2, "do": 1, "ai": 1, "ao": 1},
        {},
    ),
    "counts in a cell": (
        """
        Tag | Description | I/O
        MOV-10 | Motor operated valve | 2DI + 1DO
        FCV-11 | Control valve | 1 AO, 1 AI
        PT-12 | Pressure | AI
        """,
        {"di": 2, "do": 1, "ao": 1, "ai": 2},
        {},
    ),
    "hash is the quantity": (
        """
        Tag | Service | Signal | #
        GD | Gas detectors | AI | 4
        ZS | Hatch switches | DI | 2
        BZ | Beacons | DO | 2
        PT | Pressure | AI | 4
        """,
        {"ai": 8, "di": 2, "do": 2},
        {},
    ),
    "title rows and no item": (
        """
        PROJECT: RIVER CROSSING |
        INSTRUMENT INDEX & I/O LIST |
        Rev. C |
         |
        TAG | SERVICE | TYPE OF I/O | SUPPLY
        PIT-9 | Upstream | AI | 2W
        AIT-9 | Detector | AI | 4W
         |
        Notes: |
        1. Signals at 24 V |
        """,
        {"ai": 2},
        {},
    ),
    "direction apart from the level": (
        """
        Tag | Description | Input/Output | Signal
        PT-1 | Pressure | Input | 4-20mA
        FV-2 | Valve | Output | 4-20mA
        ZS-3 | Door | Input | 24VDC
        XV-4 | Valve | Output | 24VDC
        """,
        {"ai": 1, "ao": 1, "di": 1, "do": 1},
        {},
    ),
    "letters A and D, I and O": (
        """
        Tag | Description | Type | I/O
        PT-1 | Pressure | A | I
        FV-2 | Valve | A | O
        ZS-3 | Door | D | I
        XV-4 | Valve | D | O
        """,
        {"ai": 1, "ao": 1, "di": 1, "do": 1},
        {},
    ),
    "a column of deletions": (
        """
        Tag | Service | Type | Deleted
        PT-1 | P | AI |
        PT-2 | P | AI | X
        ZS-5 | Z | DI |
        """,
        {"ai": 1, "di": 1},
        {},
    ),
    "a spare flag": (
        """
        Tag | Service | Type | Spare (Y/N)
        PT-1 | P | AI | N
        PT-2 | P | AI | Y
        ZS-5 | Z | DI | N
        """,
        {"ai": 1, "di": 1},
        {"ai": 1},
    ),
    "channel names only": (
        """
        Channel | Description | Wire
        DI-01 | Door contact | 101
        DI-02 | Spare | 102
        AI-01 | Pressure | 201
        """,
        {"di": 1, "ai": 1},
        {"di": 1},
    ),
    "remarks that speak of deletion": (
        """
        Tag | Service | Type | Comments
        PT-1 | P | AI | Deleted in previous project, reinstated
        PT-2 | P | AI | Deleted, see note 4
        PT-3 | P | AI | VOID
        """,
        {"ai": 1},
        {},
    ),
    "totals by kind": (
        """
        Tag | Service | Type | Qty
        PT-1 | P | AI | 1
        PT-2 | P | AI | 1
        ZS-5 | Z | DI | 2 off
         | Total AI | | 2
         | Total DI | | 2
        """,
        {"ai": 2, "di": 2},
        {},
    ),
    "a form above the heads": (
        """
        Client | A company |
        Project | A station |
        Date | Rev | By
        2020 | A | NN
         | |
        Instrument | Description | Signal
        PT-1 | P | AI
        XV-1 | V | DO
        """,
        {"ai": 1, "do": 1},
        {},
    ),
    "words full of heads in the data": (
        """
        Tag | Service | Area | I/O type | Signal
        AOT-001 | Service of point 1 | area 1 | AO | 4-20 mA
        AOT-002 | Service of point 2 | area 2 | AO | 4-20 mA
        AIT-003 | Description of tag 3 | area 3 | AI | 4-20 mA
        """,
        {"ao": 2, "ai": 1},
        {},
    ),
    "ticks under heads with the kind in a row of its own": (
        """
        VALVE MATRIX |
        Valve | Service | OPEN CMD | OPENED | CLOSED | POSITION | SETPOINT | Qty
         | | DO | DI | DI | AI | AO |
        XV-1 | Inlet | X | X | X | - | - | 1
        FCV-2 | Flow control | - | - | - | X | X | 1
        XV-3 | Twin outlets | X | X | X | - | - | 2
        SPARE | | - | X | - | - | - | 2
        """,
        {"ai": 1, "ao": 1, "di": 6, "do": 3},
        {"di": 2},
    ),
    "German abbreviations before the signal": (
        """
        Messstelle | Benennung | Signalart
        PT 1 | Druck | AE 4-20 mA 2-Leiter
        SC 2 | Regelventil | AA 4-20 mA
        TT 3 | Temperatur | AE Pt100
        GS 4 | Kugelhahn auf | BE 24 V
        YS 5 | Magnetventil | BA 24 V DC
        """,
        {"ai": 1, "ao": 1, "rtd": 1, "di": 1, "do": 1},
        {},
    ),
    "reasons in a column of remarks": (
        """
        Tag | Service | I/O | Remarks
        PT-1 | Inlet | AI | Existing - stays
        PT-2 | Outlet | AI | Existing - to be removed
        PT-3 | Filter | AI | Removed per HAZOP action 7
        PT-4 | Second train | AI | Future, not in the present scope
        LT-5 | Deleted batch sump | AI | replaces PT-90, deleted
        LSH-6 | Puisard | DI | Supprimé indice C
        ZS-7 | Door | DI | New, see note 3
        """,
        {"ai": 2, "di": 1},
        {},
    ),
    "counts with an allowance of spares": (
        """
        Equipment | Qty | AI | DI | DO | Remarks
        Wellhead | 4 | 2 | 3 | 1 |
        Flare | 1 | 1 | 2 | 1 | FUTURE - not in scope
        SPARE (20 %) | | 2 | 3 | 1 |
        """,
        {"ai": 8, "di": 12, "do": 4},
        {"ai": 2, "di": 3, "do": 1},
    ),
    "kinds at the end of tags alone": (
        """
        Tag No. | Loop description | Range | Location | Remarks
        PIT-101_AI | Suction | - | Field |
        PIT-102_AI | Discharge | - | Field |
        ZSO-105_DI | Valve opened | - | Field |
        ZSC-105_DI | Valve closed | - | Field |
        FIT-104_PI | Meter pulse | - | Field |
        XV-105_DO | Valve command | - | Field | 24 VDC solenoid, 11 W
        SPARE_DI | Spare | | |
        """,
        {"ai": 2, "di": 2, "do": 1, "pulse": 1},
        {"di": 1},
    ),
    "a source that is a way in, with points of the program": (
        """
        Point Name | Description | Class | Direction | Source | EU
        PT_1 | Inlet | Analog | Input | Hardwired | psig
        XS_2 | Door | Digital | Input | Hardwired |
        FQ_3 | Turbine volume | Accumulator | Input | Hardwired | bbl
        FT_4 | Rate | Analog | Input | Modbus | mscfd
        DP_5 | Difference | Analog | Input | Calculated | psid
        CF_6 | Link lost | Digital | Input | Internal |
        XS_7 | Valve | Digital | Output | Hardwired |
        """,
        {"ai": 1, "di": 1, "do": 1, "pulse": 1, "serial": 1},
        {},
    ),
    "in and out under one head": (
        """
        Tag | Service | Device type | In/Out | Signal level
        PT-1 | Pressure | Transmitter | I | 4-20 mA
        UA-2 | Position | Switch | I | 24 VDC
        UA-3 | Valve | Solenoid | O | 24 VDC
        """,
        {"ai": 1, "di": 1, "do": 1},
        {},
    ),
    "channels to which nothing is connected": (
        """
        Slot | Card | Channel | Tag | Service
        1 | AI-8 | 1 | PT-1 | Inlet
        1 | AI-8 | 2 | |
        2 | DI-16 | 1 | ZS-1 | Door
        2 | DI-16 | 2 | SPARE |
        """,
        {"ai": 1, "di": 1},
        {"ai": 1, "di": 1},
    ),
    "hardware and software points by letters": (
        """
        Tag | Description | Type | H/W or S/W
        PT-1 | Inlet | AI | H/W
        PT-1-AL | Inlet high | DI | S/W
        XV-1 | Valve | DO | H/W
        """,
        {"ai": 1, "do": 1},
        {},
    ),
    "signals named in one cell under a plural": (
        """
        Device | Signal(s)
        Pump P-1 | Run status (DI), Fault (DI), Start (DO), Speed (AO)
        Tank T-1 | Level (AI)
        """,
        {"ai": 1, "ao": 1, "di": 2, "do": 1},
        {},
    ),
    "signals that come from or go to the controller": (
        """
        Tag | Service | Signal from/to
        UA-1 | Inlet | 4-20mA to PLC
        UA-2 | Control valve | 4-20mA from the PLC
        UA-3 | Open | Dry contact to PLC
        UA-4 | Valve | 24VDC from RTU
        """,
        {"ai": 1, "ao": 1, "di": 1, "do": 1},
        {},
    ),
    "a number of signals": (
        """
        Tag | Service | I/O Type | No. of wires | No. of signals
        TE-1 | Bearing | RTD | 3 | 2
        PT-2 | Inlet | AI | 2 | 1
        """,
        {"ai": 1, "rtd": 2},
        {},
    ),
    "counts of one and in total": (
        """
        Equipment | Qty | AI (4-20mA) | DI (24 VDC) | Total AI | Total DI
        Well | 4 | 2 | 3 | 8 | 12
        Tank | 2 | 1 | 2 | 2 | 4
        """,
        {"ai": 10, "di": 16},
        {},
    ),
    "counts in total alone": (
        """
        Equipment | Qty | Total AI | Total DI
        Well | 4 | 8 | 12
        Tank | 2 | 2 | 4
        """,
        {"ai": 10, "di": 16},
        {},
    ),
    "tags from one to another": (
        """
        Tag | Service | I/O
        PT-101 to PT-104 | Wellheads | AI
        ZS-201..206 | Doors | DI
        XV-1 | Valve | DO
        """,
        {"ai": 4, "di": 6, "do": 1},
        {},
    ),
    "pulses in brackets behind the type": (
        """
        Tag | Description | Point type
        ZS-3 | Door | Digital Input (Volt free)
        FQ-5 | Meter | Digital Input (Pulse)
        """,
        {"di": 1, "pulse": 1},
        {},
    ),
    "a share of spares under the description": (
        """
        No. | Tag | Description | AI | DI | DO
        1 | XV-1 | Block valve | | 3 | 2
        2 | PT-1 | Pressure | 1 | |
        3 | SH-1 | Shelter | | 3 |
        | | TOTAL | 1 | 6 | 2
        | | 20% SPARE | 1 | 2 | 1
        """,
        {"ai": 1, "di": 6, "do": 2},
        {"ai": 1, "di": 2, "do": 1},
    ),
    "sensors by data type, on channels of a card": (
        """
        Point | Direction | Kind | Electrical | Module | Channel
        T1 | Input | Analog | 4-20 mA | 1 | 0
        T2 | Input | RTD | Pt100 3-wire | 2 | 0
        T3 | Input | Thermocouple | type K | 2 | 1
        F4 | Input | Pulse | open collector | 3 | 0
        P5 | Output | Discrete | relay | 5 | 0
        """,
        {"ai": 1, "rtd": 1, "tc": 1, "pulse": 1, "do": 1},
        {},
    ),
    "what is electrical on a channel": (
        """
        Tag | Signal | Electrical | Channel
        PT-1 | AI | 4-20 mA | 0
        LT-2 | AI | 4-20 mA | 1
        ZS-3 | | dry contact | 0
        TE-4 | | Pt100 3-wire | 0
        """,
        {"ai": 2, "di": 1, "rtd": 1},
        {},
    ),
    "names of signals beside types of points": (
        """
        No. | Signal name | Point type | Wire no.
        1 | Wet well level | AI | 1001
        2 | Pump 1 run | DI | 2001
        3 | Pump 1 seal leak | DI | 2003
        4 | Alarm horn | DO | 3001
        """,
        {"ai": 1, "di": 2, "do": 1},
        {},
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_points_of_a_layout(tmp_path, name):
    """Each layout gives the points that its author meant, live and spare."""
    text, live, spare = CASES[name]
    found = imported(tmp_path, text)
    assert found.points() == live, asked(found)
    assert found.points("spare") == spare
    rows_in_file = text.strip("\n").count("\n") + 1
    assert sum(len(t.rows) for t in found.tallies) <= rows_in_file
    assert all(name for t in found.tallies for name in t.rows)


def test_the_same_list_counts_alike_wide_and_long(tmp_path):
    """A list of counts and a list of one point a row give the same points."""
    wide = imported(
        tmp_path,
        """
        Tag | Service | AI | AO | DI | DO
        V-1 | Separator | 2 | 1 | 3 | 1
        P-2 | Pump | 1 | | 2 | 1
        """,
    )
    long_rows = [["Tag", "Service", "I/O type"]]
    for tag, kinds in (("V-1", "AI AI AO DI DI DI DO"), ("P-2", "AI DI DI DO")):
        long_rows += [
            [tag, f"signal {k}", kind] for k, kind in enumerate(kinds.split())
        ]
    long = read_lists([book(tmp_path / "long.xlsx", List=long_rows)])
    assert wide.points() == long.points() == {"ai": 3, "ao": 1, "di": 5, "do": 2}
    assert wide.tags() == long.tags()


def test_stated_type_is_not_overruled_by_text(tmp_path):
    """'DI' stays DI beside 'relay contact', and a service never deletes or spares."""
    found = imported(
        tmp_path,
        """
        Tag | Service | I/O | Details
        YI-1 | Relay contact, void volume | DI | relay
        LT-2 | Reserve tank deleted batch level | AI | 4-20 mA
        XS-3 | Cancelled order lamp test | DI |
        """,
    )
    assert found.points() == {"di": 2, "ai": 1}
    assert found.points("spare") == {}


def test_marks_take_rows_out_and_say_so(tmp_path):
    """Struck and hidden rows are left out, each named."""
    path = book(
        tmp_path / "m.xlsx",
        List=rows("""
        Tag | Service | I/O
        PT-1 | a | AI
        PT-2 | b | AI
        PT-3 | c | AI
        """),
    )
    from openpyxl import load_workbook

    made = load_workbook(path)
    sheet = made["List"]
    for cell in sheet[3]:
        cell.font = Font(strike=True)
    sheet.row_dimensions[4].hidden = True
    made.save(path)
    found = read_lists([path])
    assert found.points() == {"ai": 1}
    assert "pt-2" in asked(found)
    assert "pt-3" in asked(found)
    assert classes(found) == {"head": 1, "point": 1, "deleted": 1, "hidden": 1}


def test_formula_without_value_is_calculated_and_named(tmp_path):
    """=2*4 counts as 8 and says so; a formula beyond arithmetic is asked."""
    found = imported(
        tmp_path,
        """
        Tag | Service | I/O | Qty
        A-1 | x | DI | =2*4
        A-2 | x | DI | =VLOOKUP(A1,B1:C9,2)
        A-3 | x | DI | 1
        """,
    )
    assert found.points() == {"di": 10}
    said = asked(found)
    assert "d2 =2*4 -> 8" in said
    assert "d3 =vlookup" in said


def test_merged_tag_belongs_to_each_of_its_rows(tmp_path):
    """A tag merged over three rows carries the points of all three."""
    path = book(
        tmp_path / "m.xlsx",
        List=rows("""
        Tag | Service | I/O
        XV-1 | open | DI
         | closed | DI
         | command | DO
        """),
    )
    from openpyxl import load_workbook

    made = load_workbook(path)
    made["List"].merge_cells("A2:A4")
    made.save(path)
    found = read_lists([path])
    assert found.tags() == ["XV-1"]
    assert found.points() == {"di": 2, "do": 1}
    assert not asked(found).count("no tag")


def test_one_cause_is_one_line(tmp_path):
    """Three hundred vague rows give one line with five names."""
    lines = "\n".join(f"X-{k} | thing | Hard wired" for k in range(300))
    found = imported(tmp_path, f"Tag | Service | Signal\nPT-1 | p | AI\n{lines}")
    said = asked(found)
    assert "'hard wired' on 300 rows" in said
    assert len(said.split("\n")) <= 2
    assert len(said) < 500


def test_watts_of_outputs_follow_their_normal_state(tmp_path):
    """An energized coil draws all day, a de-energized one nothing but its maximum."""
    found = imported(
        tmp_path,
        """
        Tag | Service | I/O | Load (W) | Normal state
        XY-1 | Main valve | DO | 6 | energized
        XY-2 | Vent valve | DO | 7 | de-energized
        XY-3 | Bypass | DO | 8 |
        YA-4 | Horn | DO | 9 |
        """,
    )
    typical = {x.tag: x.typical_w for x in found.lines}
    assert typical == {"XY-1": 6, "XY-2": 0, "XY-3": 8, "YA-4": 0}
    assert sum(x.maximum_w for x in found.lines) == 30
    assert "xy-3" in asked(found)
    assert "ya-4" in asked(found)


def test_wires_are_not_watts(tmp_path):
    """'3W' of a Pt100 and '4W' of a detector count wires."""
    found = imported(
        tmp_path,
        """
        Tag | Service | I/O | Signal | Remarks
        TE-1 | Temp | RTD | Pt100 3W |
        AT-2 | Gas | AI | 4-20 mA 4W |
        AT-3 | Fire | AI | 4-20 mA | 4-wire, 12 W
        """,
    )
    watts = {x.tag: x.maximum_w for x in found.lines}
    assert watts == {"TE-1": None, "AT-2": None, "AT-3": 12}
    assert "at-2" in asked(found)


def test_dates_in_number_columns_are_not_numbers(tmp_path):
    """A date under Qty is refused with its cell: what number it was nobody can tell."""
    import datetime as dt

    data = [
        ["Tag", "Service", "I/O", "Qty"],
        ["A-1", "x", "DI", dt.datetime.fromisoformat("2024-03-02")],
        ["A-2", "y", "DI", 2],
    ]
    with pytest.raises(InputError, match="D2 2024-03-02"):
        read_lists([book(tmp_path / "d.xlsx", List=data)])


@pytest.mark.parametrize("ending", ["csv", "tsv"])
def test_text_tables_read_like_the_workbook(tmp_path, ending):
    """CSV with semicolons and decimal commas, or tabs, gives the same list."""
    table = rows("""
        Tag | Service | I/O | Load (W) | Normal state
        XY-1 | Ventil, groß | DO | 2.5 | energized
        PT-2 | Druck | AI | |
        """)
    mark = ";" if ending == "csv" else "\t"
    text = "\n".join(
        mark.join("" if c is None else str(c).replace(".", ",") for c in row)
        for row in table
    )
    path = tmp_path / f"l.{ending}"
    path.write_bytes(text.encode("cp1252"))
    found = read_lists([path])
    assert found.points() == {"do": 1, "ai": 1}
    assert found.lines[0].typical_w == 2.5
    assert any("Windows-1252" in note for note in found.notes)


def test_groups_of_hardware_and_software_points(tmp_path):
    """Ticks under merged groups count; software points of unknown kind do not."""
    from openpyxl import load_workbook

    path = book(
        tmp_path / "b.xlsx",
        List=rows("""
        Point Description | Hardware Points | | | | Software Points | | Remarks
         | AI | AO | BI | BO | AV | BV |
        Supply temp | x | | | | | |
        Valve | | x | | | | |
        Fan status | | | x | | | x |
        Fan cmd | | | | x | | |
        """),
    )
    made = load_workbook(path)
    made["List"].merge_cells("B1:E1")
    made["List"].merge_cells("F1:G1")
    made.save(path)
    assert read_lists([path]).points() == {"ai": 1, "ao": 1, "di": 1, "do": 1}


def test_analog_and_digital_under_inputs_and_outputs(tmp_path):
    """Merged groups over "Analog" and "Digital" are columns of counts."""
    from openpyxl import load_workbook

    path = book(
        tmp_path / "b.xlsx",
        List=rows("""
        Tag | Service | Inputs | | Outputs |
         | | Analog | Digital | Analog | Digital
        PT-1 | Pressure | 1 | | |
        XV-2 | Valve | | 2 | | 1
        FCV-3 | Control valve | 1 | | 1 |
        """),
    )
    made = load_workbook(path)
    for place in ("C1:D1", "E1:F1"):
        made["List"].merge_cells(place)
    made.save(path)
    assert read_lists([path]).points() == {"ai": 2, "di": 2, "do": 1, "ao": 1}
    path = book(
        tmp_path / "b.xlsx",
        List=rows("""
         | | Inputs | | Outputs |
        Tag | Service | A | D | A | D
        PT-1 | Pressure | 1 | | |
        XV-2 | Valve | | 2 | | 1
        FCV-3 | Control valve | 1 | | 1 |
        """),
    )
    made = load_workbook(path)
    for place in ("C1:D1", "E1:F1"):
        made["List"].merge_cells(place)
    made.save(path)
    assert read_lists([path]).points() == {"ai": 2, "di": 2, "do": 1, "ao": 1}
    path = book(
        tmp_path / "b.xlsx",
        List=rows("""
         | | Analog | | Digital |
        Item | Equipment | In | Out | In | Out
        1 | Compressor | 6 | 2 | 12 | 3
        2 | Flare | 2 | | 3 | 4
        """),
    )
    made = load_workbook(path)
    for place in ("C1:D1", "E1:F1"):
        made["List"].merge_cells(place)
    made.save(path)
    assert read_lists([path]).points() == {"ai": 8, "ao": 2, "di": 15, "do": 7}


def test_counts_of_a_piece_beside_those_of_all(tmp_path):
    """Of "AI/each" and "AI" one is counted, with the quantity."""
    found = imported(
        tmp_path,
        """
        Equipment | Qty | AI/each | DI/each | AI | DI
        Pump | 3 | 1 | 4 | 3 | 12
        Tank | 2 | 2 | 2 | 4 | 4
        """,
    )
    assert found.points() == {"ai": 7, "di": 16}


SUMMARIES = {
    "kinds and counts": "Type | Description | Qty\nAI | Analog inputs | 2\n"
    "DI | Digital inputs | 1\nTotal | | 3",
    "counts by panel": "Panel | AI | DI\nRTU-1 | 2 | 1",
    "an older revision": "Tag | Service | I/O Type\nPT-1 | P | AI\nZS-3 | D | DI",
}


@pytest.mark.parametrize("name", SUMMARIES)
def test_a_second_sheet_that_says_the_same_counts_once(tmp_path, name):
    """Summaries and older revisions beside the list add no points."""
    listed = rows(
        "Tag | Service | I/O Type\nPT-1 | P | AI\nPT-2 | P | AI\nZS-3 | D | DI"
    )
    found = read_lists(
        [book(tmp_path / "l.xlsx", One=rows(SUMMARIES[name]), List=listed)]
    )
    assert found.points() == {"ai": 2, "di": 1}


def test_who_feeds_a_device_by_yes_and_no(tmp_path):
    """'Loop powered: N' is a device with a supply of its own, and its watts are asked."""
    found = imported(
        tmp_path,
        """
        Tag | Service | Type | Loop Powered
        AT-1 | P | AI | N
        PT-1 | P | AI | Y
        """,
    )
    assert [x.supply for x in found.lines] == ["four-wire", "two-wire"]
    assert "at-1" in asked(found)


def test_names_that_begin_like_totals_stay_points(tmp_path):
    """'Total flow' in the first column of a count list is equipment, 'TOTAL' is not."""
    found = imported(
        tmp_path,
        """
        Equipment | AI | DI
        Total flow meter | 2 | 1
        Summation relay | | 2
        TOTAL | 2 | 3
        """,
    )
    assert found.points() == {"ai": 2, "di": 3}


def test_watts_beside_a_quantity_are_of_one_piece(tmp_path):
    """Two coils of 6 W are 12 W, in the normal state and at the maximum; asked."""
    found = imported(
        tmp_path,
        """
        Tag | Service | I/O | Qty | Load (W) | Normal state
        XY-1 | Valves | DO | 2 | 6 | energized
        """,
    )
    assert (found.lines[0].typical_w, found.lines[0].maximum_w) == (12, 12)
    assert "2 x 6 w" in asked(found)


def test_points_on_a_bus_are_devices_and_asked(tmp_path):
    """'AI' beside 'Modbus TCP' is a device on a bus, and its port is asked."""
    found = imported(
        tmp_path,
        """
        Tag | Service | I/O | Signal
        FC-1 | Flow | AI | Modbus TCP
        FC-2 | Meter | Modbus | RS-485
        PT-3 | Pressure | AI | 4-20 mA HART
        """,
    )
    assert found.points() == {"serial": 2, "ai": 1}
    causes = {q.cause: q.text for q in found.asked}
    assert "FC-1" in causes["bus-point"]
    assert "FC-2" not in causes["bus-point"]
    assert "FC-1, FC-2" in causes["ports"]


def test_registers_are_one_device(tmp_path):
    """A count of 24 under 'Modbus' is one device of 24 registers, and asked."""
    found = imported(
        tmp_path,
        """
        Tag | Service | AI | Modbus
        FC-1 | Flow computer | | 24
        PT-2 | Pressure | 1 |
        """,
    )
    assert found.points() == {"serial": 1, "ai": 1}
    assert "fc-1 (24)" in asked(found)


def test_rows_alike_are_read_as_if_each_stood_alone(tmp_path):
    """Rows that differ by tag and service only keep their own words: off, spare, horn."""
    found = imported(
        tmp_path,
        """
        Tag | Service | I/O | Signal | Load (W)
        XY-101 | Valve one, energised | DO | 24 VDC | 4
        XY-102 | Valve two, energised | DO | 24 VDC | 4
        XY-103 | Valve three, de-energised | DO | 24 VDC | 4
        ZS-104 | Door | DI | dry |
        ZS-105 | Gate | DI | dry |
        ZS-106 | Spare | DI | dry |
        SPARE-1 | | DI | dry |
        ZS-107 | Future gate | DI | dry |
        ZS-108 | Deleted | DI | dry |
        """,
    )
    assert found.points() == {"do": 3, "di": 3}
    assert found.points("spare") == {"di": 2}
    assert [x.typical_w for x in found.lines[:3]] == [4, 4, 0]
    assert [x.tag for x in found.lines if x.kind == "point"][3:] == [
        "ZS-104",
        "ZS-105",
        "ZS-107",
    ]
    assert "zs-107" in asked(found)
    assert "zs-108" in asked(found)


FOREIGN = {
    "French": (
        """
        Repère | Désignation | Type E/S | Qté | Consommation (W) | Observations
        PT101 | Pression amont | EANA | 1 | |
        XV103 | Electrovanne | STOR | 1 | 7.5 | normalement désexcitée
        ZS104 | Fin de course | ETOR | 2 | | NF
        Réserve | | ETOR | 4 | |
        PT109 | Pression aval | EANA | 1 | | supprimé
        """,
        {"ai": 1, "do": 1, "di": 2},
        {"di": 4},
        "",
    ),
    "a card for each channel": (
        """
        Slot | Module | Channel | Tag | Service
        1 | 8-ch AI | 0 | PT-1 | Pressure
        1 | 8-ch AI | 1 | Spare |
        2 | 16-ch DI 24VDC | 0 | ZS-1 | Open
        3 | 8-ch relay output | 0 | XY-1 | Valve
        """,
        {"ai": 1, "di": 1, "do": 1},
        {"ai": 1},
        "",
    ),
    "alarms high and low": (
        """
        Tag | Service | I/O | HH | H | L | LL
        PT-1 | Pressure | AI | 90 | 80 | 10 | 5
        LT-2 | Level | AI | 95 | 90 | 10 | 5
        """,
        {"ai": 2},
        {},
        "",
    ),
    "soft points over a bus": (
        """
        Tag | Service | I/O Type | Signal | Load (W)
        FT-1 | Gas flow | SOFT | Modbus RS-485 | 6
        HS-2 | Reset | SOFT | HMI |
        """,
        {"serial": 1},
        {},
        "ft-1 (soft modbus rs-485)",
    ),
    "names in a column of counts": (
        """
        Equipment | Description | AI | DI | DO
        XV-1 | Valve | | ZSO, ZSC | XY
        P-2 | Pump | 1 | Run, Fault, Local | Start
        """,
        {"ai": 1, "di": 5, "do": 2},
        {},
        "counted as many points as they name",
    ),
    "watts beside volts under power": (
        """
        Tag | Service | I/O | Qty | Power
        FIT-1 | Flow | AI | 1 | 120 VAC
        LIT-2 | Level | AI | 1 | 24 VDC
        AIT-3 | Analyzer | AI | 1 | 24VDC 15W
        """,
        {"ai": 3},
        {},
        "fed with ac: fit-1",
    ),
    "a total right of its remark": (
        """
        Remarks | AI | Tag | DI | Service
        | 2 | PT-1 | 1 | Pressure
        24 VDC, 45 w | 1 | AT-2 | | Analyzer
        with spares | 3 | TOTAL | 1 |
        """,
        {"ai": 3, "di": 1},
        {},
        "",
    ),
    "status words of others": (
        """
        Tag | Service | I/O | Action
        PT-1 | Pressure | AI | No change
        PT-2 | Pressure | AI | Add
        PT-3 | Pressure | AI | Demo
        PT-4 | Pressure | AI | Delete
        PT-5 | Pressure | AI | Rev C
        """,
        {"ai": 4},
        {},
        "words that nobody knows: pt-3 'demo'",
    ),
    "ticks that say neither": (
        """
        Tag | Service | Signal | Spare
        PT-1 | Pressure | AI |
        PT-2 | Pressure | AI | Spare
        XS-3 | Switch | DI | S
        """,
        {"ai": 1, "di": 1},
        {"ai": 1},
        "neither yes nor no: xs-3",
    ),
    "where a valve fails to": (
        """
        Tag | Service | I/O | Fail state | Normal | Watts
        SDV-1 | Shutdown valve | DO | Fail closed | Open | 12
        BDV-2 | Blowdown valve | DO | FO | Closed | 12
        XV-3 | Drain valve | DO | FC | Closed | 12
        XV-4 | Vent valve | DO | FO | | 12
        """,
        {"do": 4},
        {},
        "xv-3 (12 w, 0 h)",
    ),
    "watts of what has no signal": (
        """
        Tag | Service | I/O | Load (W)
        PT-1 | Pressure | AI |
        HTR-2 | Heater | NONE | 40
        """,
        {"ai": 1},
        {},
        "without a signal state watts: htr-2 (40)",
    ),
    "marks in tags, kinds and descriptions": (
        "Tag | Type | Description\nPT-1 (deleted) | AI | Pressure\nPT-2 | AI - void | Level\n"
        "PT-3 | AI | Pressure (bar)\nPT-4 | AI | DELETED - Pressure\n"
        "PT-5 | AI | Pressure [removed rev 2]\nPT-6 | AI | Void pressure",
        {"ai": 4},
        {},
        "pt-4 'deleted - pressure', pt-5 'pressure [removed rev 2]'",
    ),
    "marked tags": (
        "Tag | Type | Description\nPT-1 (deleted) | AI | Pressure\nPT-2 | AI - void | Level\n"
        "PT-3 | AI | Pressure",
        {"ai": 1},
        {},
        "marked, or says a status word only: pt-1 (deleted), pt-2",
    ),
    "a channel whose tag is a dash": (
        "Ch | Tag | Type | Description\n1 | XA-1 | DI | Fault\n2 | - | DI | -\n3 | XA-3 | DI | Run",
        {"di": 2},
        {"di": 1},
        "without a tag and a description (list, row 3)",
    ),
    "a part of the count above": (
        "Signal | Ref | Class | Count\nAnalog inputs | 4-20 mA | AI | 14\n"
        "of which HART | | AI | 6\nDigital inputs | 24 V | DI | 30\nOutputs | relay | DO | 5",
        {"ai": 20, "di": 30, "do": 5},
        {},
        "rows state parts of another row, or its sum",
    ),
    "tags under the Spanish word for signals": (
        "Señal | Descripción | Tipo\nPT-01 | Presión | EA\nLSH-01 | Nivel | ED\nXV-01 | Bomba | SD",
        {"ai": 1, "di": 1, "do": 1},
        {},
        "what they drive: xv-01 (",
    ),
    "a further signal in a remark": (
        "Tag | Type | Remark\nPMP-4 | DI | and AI current\nXS-1 | DI | DO NOT USE\nPT-2 | AI | AI",
        {"di": 2, "ai": 1},
        {},
        "a kind of signal that their row does not have: pmp-4 'and ai current' (list, row 2)",
    ),
    "a tag that a list of revisions deletes": (
        "Rev | Date | Description | By\nB | 02/24 | Deleted PT-9 and PT-8 | x\n\n"
        "Tag | Description | I/O\nPT-1 | Pressure | AI\nPT-9 | Pressure | AI",
        {"ai": 2},
        {},
        "or not on this bus: pt-9 'b ",
    ),
    "counts by description alone": (
        "Pos. | Bezeichnung | AE | DE\n1 | Druck | 2 |\n2 | Pumpe | 1 | 6",
        {"ai": 3, "di": 6},
        {},
        "",
    ),
    "two kinds in one cell": (
        "Tag | Signal | Supply\nFT-1 | 4-20 mA + pulse | 4-wire\nPT-3 | 4-20 mA and HART |",
        {"pulse": 1, "ai": 2},
        {},
        "cells that name several points: ft-1 (4-20 ma + pulse)",
    ),
    "signals under their output": (
        "Tag | Type | Output | Supply | Cons.\nLT-1 | Radar | 4-20 mA | 24 VDC | 22 mA\n"
        "FT-2 | Mag | 4-20 mA | 24 VDC | 10 W\nAT-3 | pH | 4-20 mA | 24 VDC, 4-wire | 5 W",
        {"ai": 3},
        {},
        "signals without a direction",
    ),
    "mains in a remark": (
        "Tag | Signal | Feed | Power | Comments\nFT-1 | AI | 4-wire | 20 W | 230 V\n"
        "FT-2 | AI | 4-wire | 12 W | 24 V",
        {"ai": 2},
        {},
        "devices are fed with ac: ft-1 (",
    ),
    "a state by yes and no": (
        "Tag | Type | NO/NC | Energised in normal operation | Watts energized\n"
        "XV-1 | DO | NC | yes | 9\nXV-2 | DO | NO | no | 9\nXV-3 | DO | NC | No | 9",
        {"do": 3},
        {},
        "xv-2 (9 w, 0 h), xv-3 (9 w, 0 h)",
    ),
    "a source of its own": (
        "Tag | Type | Supply | W\nXT-1 | AI | ext 24V | 6\nXT-3 | AI | own solar panel | 6",
        {"ai": 2},
        {},
        "not on this bus: xt-3 'own solar panel' (",
    ),
    "how many after the kind and without a sign": (
        "Tag | Signal\nPT-1 | AI (2 off)\nXV-1 | 1 DO, 2 DI\nXS-1 | DI 12",
        {"ai": 2, "do": 1, "di": 3},
        {},
        "cells that name several points: pt-1 (ai (2 off)), xv-1 (1 do, 2 di)",
    ),
    "a sum without a name": (
        "Device | AI | DI\nP-1 | 6 | 12\nP-2 | 8 | 10\nP-3 | 2 | 3\n | 16 | 25",
        {"ai": 16, "di": 25},
        {},
        "equal the sum of the rows above",
    ),
}


@pytest.mark.parametrize("name", FOREIGN)
def test_layouts_that_lost_something_without_a_word(tmp_path, name):
    """Each was wrong and silent on a list of others; now it is read, or said."""
    text, points, spare, said = FOREIGN[name]
    found = imported(tmp_path, text)
    assert found.points() == points
    assert found.points("spare") == spare
    assert said in asked(found)
    if name == "counts by description alone":
        assert not asked(found)
    if name == "a state by yes and no":
        assert [x.typical_w for x in found.lines] == [9, 0, 0]
    if name == "a total right of its remark":
        assert found.lines[1].maximum_w == 45
    if name == "status words of others":
        (words,) = [q for q in found.asked if q.cause == "status-word"]
        assert len(words.items) == 1
    if name == "where a valve fails to":
        assert [x.typical_w for x in found.lines] == [12, 12, 0, 12]
    if name == "watts beside volts under power":
        assert found.lines[2].typical_w == 15
    if name == "French":
        states = {x.tag: x.state for x in found.lines}
        assert states["XV103"] == "off"
        assert [x.tag for x in found.lines if x.kind == "deleted"] == ["PT109"]


def test_draws_in_a_column_of_supplies_are_read(tmp_path):
    text = """
    Tag | Service | I/O | Signal | Supply
    FT-1 | Meter | AI | 4-20 mA | 24 VDC / 350 mA
    AT-2 | Moisture | AI | 4-20 mA | 5 W @ 24 VDC
    PT-3 | Pressure | AI | 4-20 mA | Loop
    PT-4 | Pressure | AI | 4-20 mA | 24 VDC
    AT-5 | Chromatograph | AI | 4-20 mA | 120 VAC 60 W
    """
    found = imported(tmp_path, text)
    assert {x.tag: x.typical_w for x in found.lines if x.typical_w} == {
        "FT-1": pytest.approx(8.4),
        "AT-2": 5.0,
    }
    assert "fed with ac: at-5" in asked(found)


def test_devices_of_an_ac_voltage_are_asked(tmp_path):
    text = """
    Tag | Service | I/O Type | Voltage | Load (W)
    XV-1 | Valve | DO | 120 VAC | 8
    XV-2 | Valve | DO | 24 VDC | 9
    """
    found = imported(tmp_path, text)
    assert [x.maximum_w for x in found.lines] == [None, 9]
    assert "fed with ac: xv-1" in asked(found)


def test_a_column_of_revisions_holds_no_amperes(tmp_path):
    text = """
    Tag | Service | I/O | Load | Rev
    XV-1 | Valve | DO | 5 | A
    XV-2 | Valve | DO | 6 | A
    """
    found = imported(tmp_path, text)
    assert [x.maximum_w for x in found.lines] == [5, 6]


def test_headings_of_spares_and_the_future_are_told(tmp_path):
    text = """
    Tag | Service | I/O
    PT-1 | Inlet | AI
    FUTURE TRAIN
    PT-2 | Inlet | AI
    """
    found = imported(tmp_path, text)
    assert found.points() == {"ai": 2}
    assert "spare, future or out: future train" in asked(found)


LEFT = {
    "ends of a range": (
        "Tag | Type | Supply | Power (W) | Min | Max\nLT-1 | AI | 4-wire | 20 | 0 | 10\n"
        "FT-2 | AI | 4-wire | 12 | 10 | 500",
        (2, 32),
        "",
    ),
    "seconds of a delay": (
        "Tag | Type | Power (W) | Delay (s)\nXY-1 | DO | 10 | 5\nXY-2 | DO | 10 | 3",
        (2, 20),
        "not understood: d 'delay (s)'",
    ),
    "hours of what is no draw": (
        "Tag | Type | Supply | Power (W) | Autonomy (h)\nLT-1 | AI | 4-wire | 20 | 8\n"
        "LT-2 | AI | 4-wire | 12 | 8",
        (2, 32),
        "not understood: e 'autonomy (h)'",
    ),
    "pieces of what": (
        "Tag | Type | Qty of cores\nPT-1 | AI | 2\nPT-2 | AI | 2\nZS-3 | DI | 4",
        (8, 0),
        "quantities of what?: c 'qty of cores'",
    ),
    "direction and kind in two heads of two words": (
        "Tag | Input/Output | Analog/Digital\nPT-1 | Input | Analog\nXS-2 | Input | Digital\n"
        "XC-3 | Output | Digital",
        (3, 0),
        "",
    ),
    "kinds under a head of texts": (
        "Tag | Service | Function\nPT-1 | line | Analog Input\nZS-2 | valve | Discrete Input",
        (2, 0),
        "",
    ),
    "points are pieces": (
        "Tag | Type | No. of points\nZS-1 | DI | 3\nPT-2 | AI | 1",
        (4, 0),
        "",
    ),
    "ticks below heads and kinds": (
        "Valve | Opened | Shut | Opening | Travel\n | DI | DI | DO | AI\nMOV-1 | X | X | X | X\n"
        "MOV-2 | X | X | |",
        (6, 0),
        "",
    ),
    "a highest power beside the typical": (
        "Tag | Type | Power (W) typ | Power (W) max\nAT-1 | AI 4-wire | 8 | 12\n"
        "AT-2 | AI 4-wire | 6 | 6",
        (2, 14),
        "not understood: d 'power (w) max'",
    ),
    "numbers that do not rise": (
        "Tag | Type | Number\nPT | AI | 3\nMOV | DI | 2",
        (2, 0),
        "not understood: c 'number'",
    ),
    "a remark that may mean something else": (
        "Tag | Type | Remark\nXA-1 | DI | removed from ESD loop\nXA-2 | DI | see note 1",
        (1, 0),
        "begin with a status and say more: xa-1",
    ),
    "states when off and on, and what signals are made of": (
        "Tag | Signal Class | Volt free / 4-20mA | Off State | On State\n"
        "P1 | Digital In | Volt free | Stopped | Running\n"
        "P2 | Digital In | Volt free | Healthy | Failed\nF3 | Analogue In | 4-20mA | |",
        (3, 0),
        "",
    ),
    "a share of spares below the total": (
        "Equipment | DI | DO | AI\nPump | 4 | 1 | 2\nValve | 6 | 2 | 1\nTotal | 10 | 3 | 3\n"
        "20% spare | 2 | 1 | 1",
        (16, 0),
        "",
    ),
}


@pytest.mark.parametrize("name", LEFT)
def test_no_figure_is_dropped_without_a_word(tmp_path, name):
    """Columns of figures are used, of a kind that never counts, or asked about."""
    text, (points, watts), said = LEFT[name]
    found = imported(tmp_path, text)
    assert sum(found.points().values()) == points
    assert sum(x.typical_w or 0 for x in found.lines) == watts
    told = asked(found)
    assert said in told
    assert said or "not understood" not in told
    if name.startswith("states when off"):
        assert not told


def test_a_column_that_the_mapping_names_is_asked_no_more(tmp_path):
    """What is not understood is kept open in the mapping until somebody names it."""
    path = book(
        tmp_path / "list.xlsx", List=rows("Load | W | Sets\nRTU | 5 | 2\nFan | 9 | 3")
    )
    kept = tmp_path / "kept.toml"
    kept.write_text(mapping_text(read_lists([path])), encoding="utf-8")
    assert "'Sets'" in "".join(
        q.text for q in read_lists([path], read_mapping(kept)).asked
    )
    kept.write_text(kept.read_text().replace('"Sets" = ""', '"Sets" = "quantity"'))
    found = read_lists([path], read_mapping(kept))
    assert sum(x.running_w for x in found.loads) == 37
    assert "Sets" not in "".join(q.text for q in found.asked)
