"""Lists of inputs and outputs as engineers save them."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from reference import together

from powerbudget.errors import InputError
from powerbudget.lists.io_list import Options, read_io_list, read_signal
from powerbudget.lists.signals import read_supply

HEAD = ["Tag", "I/O type", "Signal", "Powered by", "Contact", "Service", "Current [mA]"]


def sixty() -> list[list[object]]:
    """Return an engineer's list of 60 tags."""
    rows: list[list[object]] = []
    rows += [[f"PIT-{k}", "AI", "4-20mA", "2-wire", "", f"Pressure {k}", 11.5]
             for k in range(14)]  # fmt: skip
    rows += [[f"LIT-{k}", "AI", "4-20mA HART", "4-wire", "", "Stand, hoch", None]
             for k in range(6)]  # fmt: skip
    rows += [
        [f"TE-{k}", "RTD", "PT100 3W", "", "", "Temperatur µ", None] for k in range(4)
    ]
    rows += [[f"ZSC-{k}", "DI", "dry contact", "card", "NC", "Ventil zu", None]
             for k in range(16)]  # fmt: skip
    rows += [
        [f"ZSO-{k}", "DI", "24VDC", "card", "NO", "Ventil auf", None] for k in range(8)
    ]
    rows += [
        [f"XY-{k}", "DO", "solenoid", "card", "energised", "Öl", None] for k in range(4)
    ]
    rows += [
        [f"FQ-{k}", "MB", "Modbus RTU", "", "", 'Menge "Gas"', None] for k in range(8)
    ]
    assert len(rows) == 60
    return rows


def text(rows: list[list[object]], delimiter: str, mark: str) -> str:
    """Return rows as a spreadsheet program of some locale saves them."""

    def cell(value: object) -> str:
        if value is None:
            return ""
        shown = (
            str(value).replace(".", mark) if isinstance(value, float) else str(value)
        )
        if any(sign in shown for sign in (delimiter, '"', "\n")):
            return '"' + shown.replace('"', '""') + '"'
        return shown

    return "".join(delimiter.join(map(cell, row)) + "\r\n" for row in rows)


def book(path: Path, *sheets: tuple[str, list[list[object]]]) -> Path:
    """Write a workbook and return its path."""
    made = Workbook()
    made.remove(made.active)
    for name, rows in sheets:
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    made.save(path)
    return path


def put(path: Path, data: str | bytes, encoding: str = "utf-8") -> Path:
    """Write a file and return its path."""
    path.write_bytes(data if isinstance(data, bytes) else data.encode(encoding))
    return path


def refused(path: Path, options: Options | None = None) -> list[str]:
    """Return what is said about a list that cannot be used, one fault a line."""
    with pytest.raises(InputError) as caught:
        read_io_list(path, options)
    return [str(fault) for fault in caught.value.faults]


def attempt(path: Path) -> tuple[object, ...] | None:
    """Return the faults of a list, or None where it was read."""
    try:
        read_io_list(path)
    except InputError as exc:
        return exc.faults
    return None


def bare(path: Path, options: Options | None = None) -> list[tuple[object, ...]]:
    """Return a list's tags without their rows."""
    return [
        (
            t.tag,
            t.signal,
            t.powered,
            t.normal,
            t.service,
            t.quantity,
            t.current_a,
            t.spare,
        )
        for t in read_io_list(path, options).tags
    ]


# --- the same list, saved in many ways ---


def test_two_locales_read_the_same(tmp_path):
    """Sixty tags saved with commas and points, or semicolons and commas, are equal."""
    rows = [HEAD, *sixty()]
    one = put(tmp_path / "us.csv", text(rows, ",", "."))
    two = put(tmp_path / "de.csv", text(rows, ";", ","), "cp1252")
    assert len(bare(one)) == 60
    assert bare(one) == bare(two)
    assert read_io_list(one).tags[0].current_a == pytest.approx(0.0115)
    said = " ".join(f.text for f in read_io_list(two).findings)
    assert "Windows-1252" in said
    assert "decimal marks" in said


@pytest.mark.parametrize(
    ("delimiter", "mark", "encoding", "head"),
    [
        (",", ".", "utf-8-sig", ""),
        (";", ",", "utf-8-sig", ""),
        (";", ".", "utf-8", "sep=;\r\n"),
        ("\t", ",", "utf-16", ""),
        ("|", ".", "utf-8", ""),
        (",", ".", "utf-8", "sep=,\r\n"),
    ],
)  # fmt: skip
def test_every_way_of_saving(tmp_path, delimiter, mark, encoding, head):
    """Byte-order marks, tabs, bars and sep= lines change nothing in what is read."""
    rows = [HEAD, *sixty()]
    plain = put(tmp_path / "plain.csv", text(rows, ",", "."))
    other = put(tmp_path / "other.csv", head + text(rows, delimiter, mark), encoding)
    assert bare(plain) == bare(other)


def test_workbook_reads_like_its_text(tmp_path):
    """The same list in a workbook, beside other sheets, is read the same."""
    rows = [HEAD, *sixty()]
    plain = put(tmp_path / "plain.csv", text(rows, ",", "."))
    made = book(
        tmp_path / "io.xlsx",
        ("Cover", [["Station 12"], ["Revision", "C"]]),
        ("IO", rows),
        ("Empty", []),
    )
    assert bare(plain) == bare(made)
    assert read_io_list(made).sheet == "IO"


def test_title_rows_and_merged_heads(tmp_path):
    """A title, a merged group head and a row of units stand above the tags."""
    made = Workbook()
    sheet = made.active
    for row in (
        ["Station 12, list of signals"], [None], ["Tag", "Signal", None, "Field", None],
        [None, "Type", "Current", "Powered by", "Contact"],
        [None, None, "mA", None, None],
        ["PT-1", "AI 4-20mA", 12.5, "card", None], ["ZS-1", "DI", None, "card", "N.C."],
    ):  # fmt: skip
        sheet.append(row)
    sheet.merge_cells("A3:A4")
    sheet.merge_cells("B3:C3")
    sheet.merge_cells("D3:E3")
    made.save(tmp_path / "io.xlsx")
    tags = read_io_list(tmp_path / "io.xlsx").tags
    assert [tag.tag for tag in tags] == ["PT-1", "ZS-1"]
    assert tags[0].current_a == pytest.approx(0.0125)
    assert (tags[0].row, tags[1].normal) == (6, "closed")


def test_rows_that_are_no_tags(tmp_path):
    """Blank rows, repeated heads, deleted rows, totals and templates are skipped."""
    lines = [
        "Tag,Signal,Description", "PT-1,AI,", ",,", "SECTION TWO,,",
        "Tag,Signal,Description", "PT-2 ,AI,DELETED POINT", "0,0,", "PT-3,AI,spare",
        "PT-4,NONE,", "Total,,", *[",,"] * 400,
    ]  # fmt: skip
    path = put(tmp_path / "io.csv", "\n".join(lines))
    found = read_io_list(path)
    assert [(t.tag, t.spare) for t in found.tags] == [("PT-1", False), ("PT-3", True)]
    said = " ".join(f.text for f in found.findings)
    for words in ("repeated heads", "deleted", "totals", "template", "section"):
        assert words in said


def test_units_may_stand_in_head_column_or_cell(tmp_path):
    """12 mA is 12 mA in a head, a tail, a unit column or the cell itself."""
    for number, lines in enumerate(
        (
            ["Tag,Signal,Current (mA)", "P,AI,12"],
            ["Tag,Signal,current_mA", "P,AI,12"],
            ["Tag,Signal,Current,Unit", "P,AI,12,mA"],
            ["Tag,Signal,Current", "P,AI,12 mA"],
            ["Tag,Signal,Current [A]", "P,AI,0.012"],
            ["Tag,Signal,Current [mA]", "P,AI,12 mA"],
        )
    ):
        path = put(tmp_path / f"{number}.csv", "\n".join(lines))
        assert read_io_list(path).tags[0].current_a == pytest.approx(0.012)


def test_blank_is_no_proof_of_loop_power(tmp_path):
    """An external-supply column says field where filled, card where it says no or none."""
    path = put(
        tmp_path / "io.csv",
        "Tag,IO Type,Signal,External Power Supply\nA,AI,4-20mA,24VDC\nB,AI,4-20mA,\n"
        "C,AI,4-20mA,no\nD,AI,4-20mA,none\n",
    )
    assert [t.powered for t in read_io_list(path).tags] == ["field", "", "card", "card"]


def test_other_heads_for_the_same_columns(tmp_path):
    """Heads of other offices, and a heading that could mean two things, are read."""
    path = put(
        tmp_path / "io.csv",
        "Instrument,Tag No.,I/O-Type,Loop Powered (Y/N),NO / NC,Power (W),Duty Cycle\n"
        "Pressure,PT-1,AI,Y,,,\nPressure,PT-2,AI,N,,,\nSwitch,ZS-1,DI,,NC,,\n"
        "Horn,YA-1,DO,,,12,0.42 %\n",
    )
    a, b, c, d = read_io_list(path).tags
    assert [t.tag for t in (a, b, c, d)] == ["PT-1", "PT-2", "ZS-1", "YA-1"]
    assert (a.powered, b.powered, c.normal) == ("card", "field", "closed")
    assert (d.load_w, d.duty_frac) == (12.0, 0.0042)


def test_percent_cells_of_a_workbook(tmp_path):
    """A cell that shows 40 % is 40 % under a head with a percent sign too."""
    made = Workbook()
    sheet = made.active
    sheet.append(["Tag", "Signal", "Duty [%]"])
    sheet.append(["A", "DO", 0.4])
    sheet.append(["B", "DO", 40])
    sheet["C2"].number_format = "0%"
    made.save(tmp_path / "io.xlsx")
    assert [t.duty_frac for t in read_io_list(tmp_path / "io.xlsx").tags] == [0.4, 0.4]


@together.parametrize(
    ("written", "kind", "powered", "normal"),
    [
        ("AI 4-20mA", "ai", "", ""), ("4_to_20_mA_2DMU", "ai", "card", ""),
        ("4_to_20_mA_4DMU", "ai", "field", ""), ("AI-HART", "ai-hart", "", ""),
        ("24VDC NC", "di", "", "closed"), ("CONTACT_NO", "di", "", "open"),
        ("DI-001", "di", "", ""), ("%I0.0", "di", "", ""), ("Input Bool", "di", "", ""),
        ("24VDC sourcing", "di", "", ""), ("3-wire PNP prox", "di", "", ""),
        ("DIASI", "serial", "", ""), ("DOASI", "serial", "", ""),
        ("MB Modbus TCP", "serial", "", ""), ("AI Modbus RTU", "serial", "", ""),
        ("RS-485 Modbus", "serial", "", ""), ("RTD PT100 3W", "rtd", "", ""),
        ("24VDC Relay", "do", "", ""), ("120VAC coil", "do", "field", ""),
        ("Pulse input", "pulse", "", ""), ("T/C type K", "thermocouple", "", ""),
        ("1-5V", "ai-low-power", "", ""), ("WirelessHART", "wireless", "", ""),
        ("NONE", "unused", "", ""), ("?", "", "", ""), ("banana", "", "", ""),
    ],
)  # fmt: skip
def test_words_that_engineers_write(written, kind, powered, normal):
    """Signals in public lists are read as their authors meant them."""
    found = read_signal(written)
    assert found == (kind, powered, normal)


def test_wires_are_not_watts():
    """2W and 4W count wires."""
    assert (read_supply("2W"), read_supply("4W")) == ("two-wire", "four-wire")


# --- what cannot be used ---


def test_every_fault_comes_at_once_with_row_and_column(tmp_path):
    """Faults of many rows are named together, one line a cause, with rows and column.

    A cell's own unit counts before that of its head (row 6), as in a schedule.
    """
    path = put(
        tmp_path / "io.csv",
        "Tag,Signal,Qty,Current [mA],Contact,Duty\n"
        "A,banana,1,12,,\n"
        "B,AI,-3,12,,\n"
        "C,AI,1.5,12,,\n"
        "A2,AI,1,twelve,,\n"
        "D,AI,1,0.02 A,,\n"
        "E,AI,1,5 V,,\n"
        "a2,AI,1,12,,\n"
        ",AI,1,12,,\n"
        "F,,1,12,,\n"
        "G,DI,1,,sideways,\n"
        "H,AI,1,-4,,\n"
        "I,AI,1,nan,,\n"
        "J,DO,1,,,140 %\n"
        "K,AI,1,12,,,,extra\n"
        "b2,AI,1,12,,\nB2,AI,1,12,,\n",
    )
    said = refused(path)
    expected = [
        ("row 2, column B (Signal): is not a known signal", "banana"),
        ("rows 3-4, column C (Qty): is not a whole number", "'-3'"),
        (
            "rows 5, 7, 12-13, column D (Current [mA]): holds no draw",
            "A2 'twelve', E '5 V', H '-4'",
        ),
        ("rows 8, 17, column A (Tag): stands twice", "(first in row 5)"),
        ("row 9, column A (Tag): the tag is missing", ""),
        ("row 10, column B (Signal): the signal is missing", "NONE"),
        ("row 11, column E (Contact): is not a normal state", "sideways"),
        ("row 14, column F (Duty): is no share of time", "40 %"),
        ("row 15: has more cells than the header", "8 cells"),
    ]
    for place, words in expected:
        assert any(place in line and words in line for line in said), (place, said)
    assert len(said) == len(expected)


def test_duplicate_tags_name_both_rows(tmp_path):
    """A tag that stands twice is told with both rows, whatever its case."""
    path = put(tmp_path / "io.csv", "Tag,Signal\nPT-1,AI\npt-1,AI\n")
    (line,) = refused(path)
    assert "row 3, column A (Tag)" in line
    assert "first in row 2" in line


def test_comma_of_thousands_or_decimals(tmp_path):
    """A comma before three digits is never guessed; stating the mark reads it."""
    path = put(tmp_path / "io.csv", 'Tag,Signal,Current [mA]\nP,AI,"1,250"\n')
    (line,) = refused(path)
    assert "row 2" in line
    assert "C2 '1,250'" in line
    assert "decimal = 'comma'" in line
    tags = read_io_list(path, Options(decimal="comma")).tags
    assert tags[0].current_a == pytest.approx(0.00125)


@pytest.mark.parametrize(
    "lines",
    ['Tag,Signal,Current [mA]\nP,AI,"12,5"\n',
     "Tag;Signal;Current [mA]\nP;AI;12,5\nQ;AI;12.5\n"],
)  # fmt: skip
def test_comma_that_reads_one_way_only(tmp_path, lines):
    """12,5 parts no thousands, whatever parts the cells and whatever stands beside it."""
    found = read_io_list(put(tmp_path / "io.csv", lines))
    assert all(t.current_a == pytest.approx(0.0125) for t in found.tags)
    assert "decimal" in " ".join(f.text for f in found.findings)


def test_missing_unit(tmp_path):
    """A current without a unit is refused, never guessed from its size."""
    path = put(tmp_path / "io.csv", "Tag,Signal,Current\nP,AI,12\n")
    (line,) = refused(path)
    assert "has no unit" in line
    assert "'Current [mA]'" in line


def test_a_comma_without_quotes(tmp_path):
    """A comma inside a text without quotes shows as too many cells."""
    path = put(tmp_path / "io.csv", "Tag,Signal,Service\nP,AI,high, very\n")
    (line,) = refused(path)
    assert "row 2" in line
    assert "more cells" in line


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.xlsx", b"Tag,Signal\nP,AI\n", "not a .xlsx workbook"),
        ("a.xlsx", b"%PDF-1.7 ...", "PDF"),
        ("a.xlsx", b"PK\x03\x04 broken", "damaged"),
        ("a.xlsx", b"\xd0\xcf\x11\xe0" + b"\0" * 90, "cannot be read"),
        ("a.csv", b"PK\x03\x04 a workbook", "is a workbook, not a text file"),
        ("a.csv", b"\x89PNG\r\n", "picture"),
        ("a.csv", b"<!DOCTYPE html><table></table>", "web page"),
        ("a.csv", b"T\0a\0g\0", "nul bytes"),
        ("a.csv", b"", "empty"),
        ("a.csv", b"  \r\n \n", "empty"),
        ("a.csv", b"time,watts\n1,2\n", "no signal list"),
        ("a.csv", b"Tag,Signal\n", "no signal list"),
        ("a.csv", b"Tag,Signal,Signal\nP,AI,AI\n", "say the same on every row"),
        ("a.csv", b'Tag,Signal\n"P,AI\n', "cannot be parted"),
        ("a.pdf", b"Tag,Signal\nP,AI\n", "ending"),
    ],
)
def test_files_that_are_no_list(tmp_path, name, data, words):
    """What is no spreadsheet is refused in one plain sentence."""
    assert words in refused(put(tmp_path / name, data))[0]


def test_missing_file_and_folder(tmp_path):
    """A file that is not there and a folder are told apart."""
    assert "no such file" in refused(tmp_path / "none.csv")[0]
    assert "folder" in refused(tmp_path)[0]


def test_empty_sheets_and_twin_sheets(tmp_path):
    """Empty sheets are refused; two sheets that look alike are asked about."""
    nothing = book(tmp_path / "nothing.xlsx", ("One", []), ("Two", [[None]]))
    assert "empty sheets" in refused(nothing)[0]
    rows = [HEAD, *sixty()]
    twins = book(tmp_path / "twins.xlsx", ("Rev A", rows), ("Rev B", rows[:31]))
    assert "Rev A, Rev B" in refused(twins)[0]
    assert len(read_io_list(twins, Options(sheet="Rev B")).tags) == 30
    assert "did you mean Rev B?" in refused(twins, Options(sheet="Rev b"))[0]


def test_wrong_encoding_is_told(tmp_path):
    """An encoding that is not known or does not fit says what to try."""
    path = put(tmp_path / "io.csv", "Tag,Signal\nÖl,AI\n", "cp1252")
    assert "cp1252" in refused(path, Options(encoding="utf-8"))[0]
    assert "not known" in refused(path, Options(encoding="klingon"))[0]


def test_a_thousand_faults_stay_readable(tmp_path):
    """A thousand rows with one cause are one line that counts them."""
    rows = "".join(f"T{k},banana\n" for k in range(1000))
    (line,) = refused(put(tmp_path / "io.csv", "Tag,Signal\n" + rows))
    assert "'banana' on 1,000 rows" in line
    more = put(tmp_path / "more.csv", "Tag,Signal\nP,AI\n" + rows)
    (line,) = refused(more)
    assert "(1,000 rows)" in line
    assert len(line) < 700


@given(data=st.binary(max_size=400), name=st.sampled_from(["a.csv", "a.xlsx", "a.txt"]))
@settings(
    max_examples=150, deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
def test_any_bytes_end_in_a_list_or_a_fault(tmp_path, data, name):
    """Whatever a file holds, it is read or refused; nothing else comes out."""
    path = put(tmp_path / name, data)
    faults = attempt(path)
    assert faults is None or faults


@given(
    cells=st.lists(
        st.lists(st.text(alphabet="aT12,;.-=\"'\n %mANC", max_size=6), max_size=5),
        max_size=8,
    )
)
@settings(
    max_examples=150, deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
def test_any_cells_end_in_a_list_or_a_fault(tmp_path, cells):
    """Odd cells below a good header are read or refused."""
    body = "\n".join(",".join(row) for row in cells)
    path = put(tmp_path / "io.csv", "Tag,Signal,Qty,Current [mA],Duty\n" + body)
    faults = attempt(path)
    assert faults is None or faults


@pytest.mark.slow
@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_a_hundred_thousand_rows(tmp_path, ending):
    """A list of 100,000 rows is read within seconds."""
    rows = [
        [f"PT-{k}", "AI", "4-20mA", "card", "", "Pressure", 12.5]
        for k in range(100_000)
    ]
    path = tmp_path / f"io.{ending}"
    if ending == "csv":
        put(path, text([HEAD, *rows], ",", "."))
    else:
        made = Workbook(write_only=True)
        sheet = made.create_sheet("IO")
        for row in [HEAD, *rows]:
            sheet.append(row)
        made.save(path)
    assert len(read_io_list(path).tags) == 100_000
