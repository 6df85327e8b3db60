"""What a list leaves open is said: fail positions, contacts, statuses, lone words, numbers.

Every case is invented.  Each was once read one way without a word.
"""

from __future__ import annotations

import pytest
from openpyxl import Workbook
from reference.sheets import read

from powerbudget.lists.importer import read_lists
from powerbudget.lists.site_text import site_text


def asked(found):
    """Return cause -> the rows asked about."""
    return {q.cause: sorted(i.row for i in q.items) for q in found.asked}


POSITIONS = {
    "fail position": ("Fail position", ("FC", "FO", "FL", "Fail closed")),
    "safe position": ("Safe position", ("Closed", "Open", "Last", "Open")),
    "action": ("Action", ("FC", "FO", "F/C", "fails closed")),
    "on air failure": ("On air failure", ("closes", "opens", "locked", "Open")),
    "French": ("Position de repli", ("fermée (NF)", "ouverte", "fermée", "ouverte")),
    "Spanish": ("Posición de falla", ("cerrada", "abierta", "cerrada", "abierta")),
    "in the signal": ("Signal", ("24 V, FC", "24 V fail open", "FO", "closed on air failure")),
    "in the remark": ("Remarks", ("FC", "fail open", "fails last", "closed when de-energized")),
}  # fmt: skip


@pytest.mark.parametrize("name", POSITIONS)
def test_where_a_valve_fails_to_is_no_state(tmp_path, name):
    """Every coil counts all day, and its hours are asked."""
    head, said = POSITIONS[name]
    rows = [f"XV-{k} | Valve {k} | DO | {text} | 4" for k, text in enumerate(said)]
    found = read(tmp_path, "\n".join([f"Tag | Service | I/O | {head} | Watts", *rows]))
    assert [(x.state, x.typical_w) for x in found.lines] == [("", 4)] * 4
    assert asked(found)["hours"] == [2, 3, 4, 5]


def test_where_a_contact_goes_when_it_fails_is_no_state(tmp_path):
    """The contact's own kind counts; without one its state is not stated."""
    heads = "Tag | Service | I/O | Contact | Fail state"
    found = read(
        tmp_path, f"{heads}\nZS-1 | a | DI | | Closed\nZS-2 | b | DI | NO | Closed"
    )
    assert [x.state for x in found.lines] == ["", "open"]
    heads = "Tag | Service | I/O | Normal state"
    found = read(
        tmp_path, f"{heads}\nZS-1 | a | DI | fail closed\nZS-2 | b | DI | closed"
    )
    assert [x.state for x in found.lines] == ["", "closed"]


def test_a_coil_that_a_position_lets_rest_is_asked_at_any_watts(tmp_path):
    """Held against its spring it counts; at rest it counts nothing and is asked."""
    heads = "Tag | Service | I/O | Normal position | Fail position | Watts"
    rows = (
        "XV-1 | a | DO | Open | FC | 2\nXV-2 | b | DO | Open | FO | 2\n"
        "XV-3 | c | DO | Open | FO |"
    )
    found = read(tmp_path, f"{heads}\n{rows}")
    assert [x.typical_w for x in found.lines] == [2, 0, None]
    assert asked(found)["hours"] == [3]
    assert asked(found)["by-position"] == [4]


CONTACTS = {
    "a dry contact": ("dry contact", "5", None, True),
    "a contact of a pushbutton": ("24 VDC", "30", None, True),
    "more than an input draws": ("24 VDC", "31", 0.744, False),
    "a proximity switch": ("PNP proximity switch", "15", 0.36, False),
}


@pytest.mark.parametrize("name", CONTACTS)
def test_the_current_of_a_contact_counts_once(tmp_path, name):
    """It is that of the card, and is told; a sensor draws its own."""
    signal, milliamps, watts, told = CONTACTS[name]
    heads = "Tag | Service | I/O | Signal | Current (mA) | Voltage (V)"
    found = read(tmp_path, f"{heads}\nZS-1 | Gate | DI | {signal} | {milliamps} | 24")
    assert found.lines[0].maximum_w == (watts and pytest.approx(watts))
    assert asked(found).get("wetting", []) == ([2] if told else [])
    written = site_text(found, "io.csv").text
    assert (f'wetting_current = "{milliamps} mA"' in written) is told
    assert ("[[load]]" in written) is not told


def test_the_highest_current_of_contacts_is_that_of_the_cards(tmp_path):
    """The site is written with it, a later or an earlier row alike."""
    for milliamps in ("3, 8", "8, 3"):
        one, two = milliamps.split(", ")
        text = f"Tag | Service | I/O | mA\nZS-1 | a | DI | {one}\nZS-2 | b | DI | {two}"
        written = site_text(read(tmp_path, text), "io.csv").text
        assert 'wetting_current = "8 mA"' in written


def test_watts_of_a_contact_are_those_of_the_card(tmp_path):
    """0.12 W at 24 V are 5 mA; 3 W behind a contact are a device."""
    text = (
        "Tag | Service | I/O | Signal | Watts\nZS-1 | Gate | DI | dry contact | 0.12\n"
        "LS-2 | Tank | DI | dry contact | 3"
    )
    found = read(tmp_path, text)
    assert [x.maximum_w for x in found.lines] == [None, 3]
    assert asked(found)["wetting"] == [2]


def test_watts_of_a_loop_are_asked(tmp_path):
    """The rack counts the loop of a two-wire device too."""
    text = (
        "Tag | Service | I/O | Signal | Watts\nPT-1 | Line | AI | 4-20 mA 2-wire | 0.5"
    )
    assert asked(read(tmp_path, text))["loop-watts"] == [2]


STATUSES = {
    "none among live": (("Active", "N/A", "-", "none"), "status-none", [3, 4, 5]),
    "none among deleted": (("Deleted", "N/A", "-", ""), "status-none", [3]),
    "none alone": (("N/A", "-", "", ""), "status-none", []),
    "not used": (("", "not used", "", ""), "status-none", [3]),
    "words": (("Active", "parked", "XX", "Relocated"), "status-word", [3, 4, 5]),
    "words of the paper": (("Rev B", "Issued", "New", "AFC"), "status-word", []),
}


@pytest.mark.parametrize("kind", ["AI", "load"])
@pytest.mark.parametrize("name", STATUSES)
def test_a_status_that_decides_nothing_is_said(tmp_path, name, kind):
    """In lists of signals and of loads, once for all rows."""
    said, cause, rows = STATUSES[name]
    heads = (
        "Tag | Service | I/O | Status" if kind == "AI" else "Tag | Device | W | Status"
    )
    what = kind if kind == "AI" else 5
    cells = [f"P-{k} | Thing {k} | {what} | {text}" for k, text in enumerate(said)]
    assert asked(read(tmp_path, "\n".join([heads, *cells]))).get(cause, []) == rows


def test_codes_of_a_legend_hold_in_a_schedule(tmp_path):
    """D is demolished by the legend, and the row is left out."""
    text = "A = active, D = demolish\nDevice | W | Status\nRTU | 10 | A\nRadio | 5 | D"
    found = read(tmp_path, text)
    assert [x.name for x in found.loads] == ["RTU"]
    assert asked(found)["out"] == [4]


SCOPED = {
    "skid": "by skid vendor", "phase": "future ph.2", "roman": "Phase II",
    "gone": "replaced by PT-9",
    "moved": "relocated", "stored": "mothballed", "package": "package scope", "cut": "disconnected",
}  # fmt: skip


@pytest.mark.parametrize("name", SCOPED)
def test_words_of_absence_are_asked(tmp_path, name):
    """In a remark on a signal, and on a load."""
    text = f"Tag | Service | I/O | Remarks\nPT-1 | Line | AI | {SCOPED[name]}\nPT-2 | Line | AI |"
    assert asked(read(tmp_path, text)) == {"scope": [2]}
    text = (
        f"Device | W | h/day | Remarks\nRTU | 9 | 24 | {SCOPED[name]}\nModem | 4 | 24 |"
    )
    told = asked(read(tmp_path, text))
    assert [2] in (told.get("scope"), told.get("remark-others"))


LONE = {
    "a word nobody knows": (("parked", "", "", ""), [2]),
    "on two rows": (("parked", "parked", "", ""), [2, 3]),
    "on three rows": (("parked", "parked", "parked", ""), []),
    "what explains": (("parked here until the new line is laid", "", "", ""), []),
    "talk of the trade": (("see note", "flame proof", "HART", "Rev B"), []),
    "numbered": (("grilk 1", "grilk 2", "grilk 3", ""), []),
    "who feeds a loop": (("Zweileiter", "", "", ""), []),
    "figures of a device": (("400 MHz band", "dome, IP66", "custody transfer", ""), []),
    "what a device has": (("with tall mast", "", "", ""), []),
}


@pytest.mark.parametrize("name", LONE)
def test_a_lone_word_in_a_remark_is_asked(tmp_path, name):
    """Short remarks on one or two rows; in a list of loads too."""
    said, rows = LONE[name]
    lines = [f"PT-{k} | Line {k} | AI | {text}" for k, text in enumerate(said)]
    found = read(tmp_path, "\n".join(["Tag | Service | I/O | Remarks", *lines]))
    assert asked(found).get("remark-word", []) == rows
    lines = [f"Device {k} | {k + 2} | 24 | {text}" for k, text in enumerate(said)]
    found = read(tmp_path, "\n".join(["Device | W | h/day | Remarks", *lines]))
    assert asked(found).get("remark-word", []) == rows


def test_a_column_of_revisions_takes_rows_out(tmp_path):
    """What is deleted in it is out, under whatever head of the paper."""
    for head in ("Revision status", "Rev", "Revisão", "Rev. note"):
        text = f"Tag | Service | I/O | {head}\nP-1 | a | AI | 0\nP-2 | b | AI | Deleted rev C"
        assert [x.kind for x in read(tmp_path, text).lines] == ["point", "deleted"]
    text = "Device | W | h/day | Rev\nRTU | 9 | 24 | 0\nRadio | 8 | 24 | Deleted rev C"
    assert [x.name for x in read(tmp_path, text).loads] == ["RTU"]


def test_a_column_that_nothing_is_read_from_calls_rows_gone(tmp_path):
    """The rows are counted, and asked."""
    text = "Tag | Service | I/O | Cable\nP-1 | a | AI | C-1\nP-2 | b | AI | Deleted"
    found = read(tmp_path, text)
    assert found.points() == {"ai": 2}
    assert asked(found)["scope"] == [3]


NUMBERS = ("Sig No", "Signal No.", "Load No", "S.No", "Sl. No.", "Sr No", "No.")


@pytest.mark.parametrize("head", NUMBERS)
def test_numbers_of_rows_are_no_figures(tmp_path, head):
    """Neither pieces, nor watts, nor seconds."""
    rows = "1 | RTU | 5 | 24\n2 | Radio | 8 | 24\n3 | Pump | 60 | 2"
    text = f"{head} | Device | W | Hours/day\n{rows}"
    found = read(tmp_path, text)
    assert sum(x.wh_per_day for x in found.loads) == 24 * 13 + 120
    assert sum(x.running_w for x in found.loads) == 73
    assert set(asked(found)) <= {"part-day"}


@pytest.mark.parametrize(("head", "points"), [("No. of signals", 9), ("Signal qty", 9)])
def test_numbers_of_signals_are_pieces(tmp_path, head, points):
    """A number names a signal, these count them."""
    rows = "\n".join(f"ZS-{k} | a | DI | {n}" for k, n in enumerate((4, 2, 3)))
    assert read(tmp_path, f"Tag | Service | I/O | {head}\n{rows}").points() == {
        "di": points
    }


@pytest.mark.parametrize(("count", "points"), [(3, 6), (6, 6)])
def test_a_count_of_signals_that_rises_by_one(tmp_path, count, points):
    """Three rows may hold 1, 2 and 3 signals; six rows are numbered."""
    rows = "\n".join(f"ZS-{k} | a | DI | {k}" for k in range(1, count + 1))
    found = read(tmp_path, f"Tag | Service | I/O | No. of signals\n{rows}")
    assert found.points() == {"di": points}


def test_tags_of_signals_are_tags(tmp_path):
    """The tag of the signal names the point, the other column its device."""
    text = "Equipment | Signal Tag | Type\nV-1 | PIT-1 | AI\nV-1 | LIT-2 | AI"
    assert read(tmp_path, text).tags() == ["PIT-1", "LIT-2"]


@pytest.mark.parametrize("mark", ["Rev C", "Sheet 1 of 2", "Date: 3 May"])
def test_a_title_right_above_the_heads_is_no_group(tmp_path, mark):
    """Names, pieces and watts keep their columns."""
    text = (
        f"Equipment Power Schedule | | | | | | {mark}\n"
        "No | Description | Qty | Watts (each) | Hours per day | Status | Supplied by\n"
        "1 | PLC | 1 | 7.5 | 24 | Issued | Builder\n2 | Gateway | 2 | 5 | 24 | Issued | Builder\n"
        "9 | Weather station | 1 | TBA | 24 | Issued | Builder"
    )
    found = read(tmp_path, text)
    assert [(x.name, x.running_w) for x in found.loads] == [
        ("PLC", 7.5),
        ("Gateway", 10),
        ("Weather station", None),
    ]
    assert asked(found)["power-tbc"] == [5]


def test_a_demand_that_is_load_times_factor_is_worked_out(tmp_path):
    """The connected watts run; a factor that makes the demand or the mean is a duty."""
    rows = (
        "RTU | 2 | 20 | 0.5 | 10",
        "Pump | 1 | 60 | 0.2 | 12",
        "Radio | 1 | 8 | 0.7 | 5.6",
    )
    heads = "Device | Qty | Connected load (W) | Demand factor | Demand (W)"
    found = read(tmp_path, "\n".join((heads, *rows)))
    assert sum(x.running_w for x in found.loads) == 108
    wanted_wh = 24 * (2 * 20 * 0.5 + 60 * 0.2 + 8 * 0.7)
    assert sum(x.wh_per_day for x in found.loads) == pytest.approx(wanted_wh)
    assert asked(found)["diversity-used"] == [2, 3, 4]
    heads = "Device | Qty | Total load (W) | Load factor | Average (W)"
    found = read(tmp_path, "\n".join((heads, *rows)))
    assert sum(x.running_w for x in found.loads) == 88
    assert sum(x.wh_per_day for x in found.loads) == pytest.approx(24 * 27.6)


def test_a_coil_draws_its_hold_for_the_rest_of_the_day(tmp_path):
    """Pull-in for a second a day, 0.2 A at 24 V for the rest; "cont." is all day."""
    text = (
        "Device | Volts | Pull-in A | Stroke time (s) | Strokes per day | Hold A\n"
        "Motor valve | 24 | 6 | 40 | 12 |\nSolenoid | 24 | 0.9 | 1 | 1 | 0.2\n"
        "RTU | 24 | 0.25 | cont. | cont. |"
    )
    found = read(tmp_path, text)
    solenoid = (21.6 + 4.8 * (86400 - 1)) / 3600
    assert [x.wh_per_day for x in found.loads] == pytest.approx([19.2, solenoid, 144])
    assert "time-unread" not in asked(found)


PORTUGUESE = """
TAG | Descrição | Tipo de sinal | Sinal | Alimentação | Revisão
PIT-1 | Pressão | Entrada analógica | 4 a 20 mA | 2 fios | 0
YC-2 | Liga bomba | Saída digital | relé 24 Vcc | | 0
YS-3 | Bomba ligada | Entrada digital | contato seco | | 1
YS-4 | Chave | Entrada digital | contato seco | | CANCELADO na rev. 1
RESERVA | | Entrada digital | | | 0
"""
ITALIAN = """
Sigla | Descrizione | Tipo segnale | Segnale | Note
PT-1 | Pressione | Ingresso analogico | 4-20 mA |
XV-2 | Valvola | Uscita digitale | 24 Vcc |
ZS-3 | Fine corsa | Ingresso digitale | contatto pulito |
RISERVA | | Ingresso digitale | |
"""


@pytest.mark.parametrize("text", [PORTUGUESE, ITALIAN])
def test_lists_in_further_languages(tmp_path, text):
    """Kinds, spares and deletions by their own words."""
    found = read(tmp_path, text)
    assert found.points() == {"ai": 1, "do": 1, "di": 1}
    assert found.points("spare") == {"di": 1}
    assert not found.loads


def test_a_wide_sheet_is_none_of_label_and_value(tmp_path):
    """Rows of five and more cells are a table, also where no head is known."""
    rows = "\n".join(f"Q-{k} | foo | 4 | mA | bar | baz | 0" for k in range(6))
    found = read(tmp_path, f"Zig | Zag | Zog | Zug | Zeg | Zyg | Zag\n{rows}",
                 "Tag | Service | I/O\nPT-1 | Line | AI")  # fmt: skip
    assert not found.loads
    # Nor are rows of two numbers, of which the second is no watts.
    rows = "\n".join(f"Q-{k} | 4 W | 3 | 12" for k in range(4))
    found = read(tmp_path, f"Zig | | Zog | Wh\n{rows}",
                 "Tag | Service | I/O\nPT-1 | Line | AI")  # fmt: skip
    assert not found.loads
    rows = "RTU: | 8 W | 24 h\nRadio (Rx): | 3 W | 23 h\nRadio (Tx): | 25 W | 1 h"
    found = read(tmp_path, rows, "Tag | Service | I/O\nPT-1 | Line | AI")
    assert not found.loads


@pytest.mark.parametrize(("stated", "rows"), [(12, [0]), (1, [])])
def test_totals_on_a_sheet_of_their_own_are_held_against_the_list(
    tmp_path, stated, rows
):
    """A total that the list meets needs no question."""
    text = "Tag | I/O\nPT-1 | AI\nXS-1 | DI\nXS-2 | DI"
    found = read(tmp_path, text, f"Total AI | {stated}\nTotal DI | 2")
    assert asked(found).get("summary", []) == rows


def test_a_sheet_of_packages_is_asked(tmp_path):
    """How many skids there are may multiply the rows of every other sheet."""
    found = read(
        tmp_path,
        "Tag | I/O | Qty\nPT | AI | 2\nXV | DO | 1",
        "Package | Nos\nInjection skid | 3\nOffice | 2",
    )
    (often,) = [q for q in found.asked if q.cause == "times-of"]
    assert [item.name for item in often.items] == ["'Injection skid 3'"]


def test_rows_of_the_program_are_told(tmp_path):
    """A software point is none of a card, and a note says which rows; one on a bus is asked."""
    text = (
        "Tag | Service | I/O | Signal\nPT-1 | Line | AI | 4-20 mA\nXI-2 | Total | Soft |\n"
        "EM-3 | Meter | Soft | RS-485 Modbus"
    )
    found = read(tmp_path, text)
    assert found.points() == {"ai": 1, "serial": 1}
    assert asked(found)["bus-point"] == [4]
    assert any("rows of the program" in n and n.endswith(": 3.") for n in found.notes)


def test_an_inverter_below_the_loads_is_read(tmp_path):
    """An efficiency is no heading; a power factor in dots lowers VA."""
    rows = "Fan 230 V | 100 | 0.8 | 24\nHub 230 V | 50 | 1 | 24\n"
    text = f"Consumer | VA | p.f. | h/day\n{rows}\nInverter efficiency 92 %"
    found = read(tmp_path, text)
    assert found.inverter_frac == 0.92
    assert [x.running_w for x in found.loads] == [80, 50]


def test_times_of_a_remark_in_french(tmp_path):
    """5 minutes an hour of 8.4 W are 0.7 W."""
    heads = "Repère | Libellé | Type | Conso. (W) | Observations"
    text = f"{heads}\nEV-1 | Vanne | STOR | 8,4 | alimentée 5 min par heure"
    found = read(tmp_path, text)
    assert found.lines[0].typical_w == pytest.approx(0.7)
    assert asked(found)["remark-hours"] == [2]


LOADS = "Equipment | Qty | W | h/day\nRTU | 1 | 10 | 24\nRadio | 1 | 5 | 24"
SIGNALS = "Tag | Service | Type\nPT-1 | Line | AI\nZS-2 | Gate | DI"
PAPERS = {
    "revisions": "Rev | Date | Description | By | Load W\nA | May | First | NN | 45\n"
    "B | June | Radio added | NN | 55",
    "signs of kinds": "Symbol | Meaning | Signal\nAI | Analog input | 4-20 mA\n"
    "DI | Digital input | dry contact\nDO | Digital output | 24 VDC",
    "signs of kinds with currents": "Type | Meaning | Typical current\n"
    "AI | Analog input | 20 mA\nDI | Digital input | 5 mA\nDO | Relay output | 30 mA",
}


@pytest.mark.parametrize("name", PAPERS)
def test_a_sheet_about_the_paper_holds_no_list(tmp_path, name):
    """Neither loads nor points come from it."""
    found = read(tmp_path, PAPERS[name], LOADS)
    assert [x.name for x in found.loads] == ["RTU", "Radio"]
    found = read(tmp_path, PAPERS[name], SIGNALS)
    assert found.points() == {"ai": 1, "di": 1}
    assert not found.loads


def test_a_sheet_that_is_named_for_its_signs_holds_none_unless_it_states_watts(
    tmp_path,
):
    """Units of a key are no loads; watts on a sheet of that name count."""
    for rows, loads in (
        ("W | Power | watts\nA | Current | amps", 2),
        ("Fan | 5\nLamp | 6", 4),
    ):
        made = Workbook()
        made.active.title = "Legend"
        heads = "Sign | Meaning | Unit" if loads == 2 else "Device | Watts"
        for line in f"{heads}\n{rows}".split("\n"):
            made.active.append(
                [int(c) if c.isdigit() else c for c in line.split(" | ")]
            )
        sheet = made.create_sheet("Loads")
        for row in (["Device", "W"], ["RTU", 10], ["Radio", 5]):
            sheet.append(row)
        made.save(tmp_path / "k.xlsx")
        assert len(read_lists([tmp_path / "k.xlsx"]).loads) == loads


def test_revisions_below_a_table_are_no_rows_of_it(tmp_path):
    """Heads of a block of revisions end the loads, and the points."""
    block = (
        "Rev | Description | By | Date\nA | First | NN | May\nB | Second | NN | June"
    )
    found = read(tmp_path, f"{LOADS}\n{block}")
    assert [x.name for x in found.loads] == ["RTU", "Radio"]
    assert set(asked(found)) == set()
    found = read(tmp_path, f"{SIGNALS}\n{block}")
    assert found.tags() == ["PT-1", "ZS-2"]


def test_labels_and_values_beside_a_list_are_asked(tmp_path):
    """A cover that states the load of the list again is counted, and named."""
    cover = "Bus voltage: | 24 | V\nDesign load: | 15 | W\nPeak current: | 0.6 | A"
    assert "labels-beside" in asked(read(tmp_path, cover, LOADS))
    assert "labels-beside" not in asked(read(tmp_path, cover))


REMARKS = ("5 W", "3-wire", "Pt100", "was PT-9", "normally energized", "2 h/d", "Deleted",
           "dry contact", "self-powered", "pulse of 2 s", "horn")  # fmt: skip


@pytest.mark.parametrize("kind", ["AI", "DI", "DO"])
@pytest.mark.parametrize("remark", REMARKS)
def test_a_remark_tells_in_a_long_list_what_it_tells_alone(tmp_path, remark, kind):
    """Rows alike are read once; one whose remark tells something is read by itself."""
    heads = "Tag | Service | I/O | Watts | Remarks"
    row = f"XY-5 | Line 5 | {kind} | 0.2 | {remark}"
    alike = [f"XY-{k} | Line {k} | {kind} | 0.2 | note {k}" for k in range(3)]
    alone = read(tmp_path, f"{heads}\n{row}")
    among = read(tmp_path, "\n".join((heads, *alike, row)))

    def said(line):
        return (
            line.kind,
            line.points,
            line.typical_w,
            line.maximum_w,
            line.supply,
            line.state,
        )

    def about(found, number):
        return {q.cause for q in found.asked for i in q.items if i.row == number}

    assert said(among.lines[3]) == said(alone.lines[0])
    assert about(among, 5) == about(alone, 2)
    assert len({str(said(x)) for x in among.lines[:3]}) == 1


TIMES = ("5 min/h", "by others", "2 off", "Deleted", "incl. inverter", "only at night")


@pytest.mark.parametrize("remark", TIMES)
def test_a_remark_on_a_load_tells_in_a_long_list_what_it_tells_alone(tmp_path, remark):
    """So does a tag: its own stays with each row."""
    heads = "Tag | Device | W | Remarks"
    row = f"L-5 | Lamp 5 | 6 | {remark}"
    alike = [f"L-{k} | Lamp {k} | 6 | note {k}" for k in range(3)]
    alone = read(tmp_path, f"{heads}\n{row}\nM-1 | Modem | 4 |")
    among = read(tmp_path, "\n".join((heads, *alike, row, "M-1 | Modem | 4 |")))

    def about(found, number):
        return {q.cause for q in found.asked for i in q.items if i.row == number}

    last = [(x.running_w, x.wh_per_day) for x in among.loads if x.row == 5]
    assert last == [(x.running_w, x.wh_per_day) for x in alone.loads if x.row == 2]
    assert about(among, 5) == about(alone, 2)
    assert [x.tag for x in among.loads[:3]] == ["L-0", "L-1", "L-2"]
