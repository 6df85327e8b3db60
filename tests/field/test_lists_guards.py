"""Files that are no list, or not one that can be read: said, nothing allocated."""

from __future__ import annotations

import datetime as dt
import io
import resource
import signal
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from openpyxl import Workbook
from reference.plain_book import HEAD, packed, parts

from powerbudget.errors import InputError
from powerbudget.lists.cells import read_book
from powerbudget.lists.columns import look_at
from powerbudget.lists.importer import read_lists
from powerbudget.lists.io_list import REFUSED, read_io_list


def refused(path):
    """Return what is said about a file that cannot be used."""
    with pytest.raises(InputError) as caught:
        read_lists([path])
    return " ".join(str(f) for f in caught.value.faults)


def put(path, data):
    """Write bytes and return the path."""
    path.write_bytes(data)
    return path


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("a.csv", b"T\0a\0g\0", "nul bytes"),
        ("a.csv", b"", "empty"),
        ("a.csv", b"%PDF-1.7", "PDF"),
        ("a.xlsx", b"\x89PNG\r\n", "picture"),
        ("a.xlsx", b"Tag,Signal\nP,AI\n", "not a .xlsx workbook"),
        ("a.xlsx", b"PK\x03\x04 broken", "damaged"),
        ("a.csv", b"<!DOCTYPE html><table></table>", "web page"),
        ("a.csv", b'Tag,Signal\n"P,AI\n', "cannot be parted"),
        ("a.pdf", b"Tag,Signal\nP,AI\n", "ending"),
        ("a.csv", b"time,watt seconds\n1,2\n", "holds no signal list"),
    ],
)
def test_files_that_are_no_list(tmp_path, name, data, words):
    """What is no list is refused in one plain sentence."""
    assert words in refused(put(tmp_path / name, data))


def test_missing_file_and_folder(tmp_path):
    """A file that is not there and a folder are told apart."""
    assert "no such file" in refused(tmp_path / "none.csv")
    assert "folder" in refused(tmp_path)


@pytest.mark.parametrize("cell", ["9" * 30_000, "1,1." * 8_000, "1 x " * 8_000])
def test_rows_of_digits_do_not_hold_a_list_up(cell):
    """Patterns of figures took the square of their length: seconds a cell for these."""

    def stop(*_):
        raise AssertionError("hangs")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, 5)
    look_at([f"{cell}{number} of " for number in range(3)])
    signal.setitimer(signal.ITIMER_PROF, 0)
    signal.signal(signal.SIGPROF, before)


def test_a_bomb_is_not_unpacked(tmp_path):
    """A workbook that unpacks to gigabytes is refused by its directory."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as book:
        for k in range(5):
            with book.open(f"xl/worksheets/sheet{k}.xml", "w") as sheet:
                for _ in range(9):
                    sheet.write(b" " * 10_000_000)
    assert "unpacks" in refused(put(tmp_path / "bomb.xlsx", packed.getvalue()))


def test_a_stray_cell_far_away_costs_no_memory(tmp_path):
    """A cell in the last row and column is refused before its sheet is laid out."""
    made = Workbook()
    sheet = made.active
    sheet.append(["Tag", "Service", "I/O"])
    sheet.append(["PT-1", "x", "AI"])
    sheet["XFD1048576"] = "stray"
    made.save(tmp_path / "far.xlsx")
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    said = refused(tmp_path / "far.xlsx")
    assert "reaches too far" in said
    assert "1,048,576 rows" in said
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000  # kB


def _cell(place):
    return f'<row r="3"><c r="{place}" t="inlineStr"><is><t>x</t></is></c></row>'


FAR = {
    "five letters": _cell("XFDXF2"),
    "small letters": _cell("xfdxf2"),
    "other quotes": _cell("XFDXF2").replace('"', "'"),
    "over lines": _cell("XFDXF2").replace("c r=", "c\nr\n= "),
    "rows beyond all": _cell("A4294967295"),
    "many digits": _cell("A" + "9" * 6000),
    "wide and deep": _cell("A99999") + _cell("AAZ3"),
    "rows not in order": '<row r="90000000"></row><row r="3"></row>',
}


@pytest.mark.parametrize("rows", FAR.values(), ids=FAR)
def test_a_place_beyond_every_sheet_is_refused_before_it_is_laid_out(tmp_path, rows):
    """A workbook of a kilobyte asked for gigabytes, or ended the process."""
    book = put(tmp_path / "far.xlsx", packed(parts(HEAD + rows)))
    assert "reaches too far" in refused(book)


STYLES = (
    "<styleSheet><fonts><font><strike/></font></fonts><cellXfs>"
    '<xf fontId="0" numFmtId="{}"/></cellXfs></styleSheet>'
)
TORN = {
    "style no number": parts(HEAD, styles=STYLES.format("abc")),
    "style too long": parts(HEAD, styles=STYLES.format("9" * 5000)),
    "row too long": parts(HEAD + f'<row r="{"9" * 5000}" hidden="1"></row>'),
    "string not there": parts(HEAD + '<row><c t="s"><v>99999999</v></c></row>'),
    "no end": {**parts(HEAD), "xl/workbook.xml": "<workbook"},
}


@pytest.mark.parametrize("found", TORN.values(), ids=TORN)
def test_marks_that_are_none_are_faults_of_the_file(tmp_path, found):
    """Styles, indices and rows that are no numbers never end in an internal fault."""
    assert refused(put(tmp_path / "torn.xlsx", packed(found)))


def test_a_merged_range_beyond_the_cells_costs_nothing(tmp_path):
    """A range over the whole sheet and further is read as far as there are cells."""
    tail = '<mergeCells><mergeCell ref="A1:ZZZZZZ99999999999"/></mergeCells>'
    path = put(tmp_path / "merged.xlsx", packed(parts(HEAD, tail)))
    sheet = read_book(path).sheets[0]
    assert sheet.merged == [(0, 0, len(sheet.rows) - 1, 1)]


def test_what_the_reader_does_not_foresee_is_a_fault_of_the_file(tmp_path, monkeypatch):
    """The reader's own panic is no ordinary error, and would have ended in exit code 1."""
    panic = type("PanicException", (BaseException,), {})

    def end(*_):
        raise panic("index out of range")

    monkeypatch.setattr("python_calamine.load_workbook", end)
    path = put(tmp_path / "panic.xlsx", packed(parts(HEAD)))
    assert "cannot be read" in refused(path)


def test_password(tmp_path):
    """An encrypted workbook says that it has a password."""
    body = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 504
    body += "EncryptedPackage".encode("utf-16-le") + b"\0" * 2000
    assert "password" in refused(put(tmp_path / "locked.xlsx", body))


def test_sheets_of_pictures(tmp_path):
    """A workbook without a filled cell says so."""
    made = Workbook()
    made.create_sheet("Photo")
    made.save(tmp_path / "p.xlsx")
    assert "no filled cell" in refused(tmp_path / "p.xlsx")


def book_of(path, rows):
    """Write rows into a workbook and return its path."""
    made = Workbook()
    for row in rows:
        made.active.append(row)
    made.save(path)
    return path


CIRCLE = [
    ["Tag", "Service", "I/O", "Qty"],
    ["A-1", "x", "DI", "=D3+1"],
    ["A-2", "x", "DI", "=D2+1"],
    ["A-3", "x", "DI", 1],
]
DATES = [
    ["Equipment", "Qty", "Typical W"],
    ["Radio", 1, dt.datetime(2024, 5, 3)],  # noqa: DTZ001 - no zone in a sheet
    ["Camera", 2, 4],
    ["Switch", 1, 3],
]
MIXED = "Tag;Service;I/O\nPT-1;Öl;AI\n".encode("cp1252") + "PT-2;Öl;AI\n".encode()


def test_circular_formulas_are_refused(tmp_path):
    """Two formulas that need each other are refused with both cells."""
    said = refused(book_of(tmp_path / "c.xlsx", CIRCLE))
    assert "circle" in said
    assert "D2 =D3+1" in said
    assert "D3 =D2+1" in said


def test_what_is_broken_stands_under_the_name_of_its_file(tmp_path):
    """Of several books, each fault names the one that has it, and no other."""
    good = [CIRCLE[0], ["B-1", "y", "AI", 1], ["B-2", "y", "AI", 2]]
    paths = [
        book_of(tmp_path / "good.xlsx", good),
        book_of(tmp_path / "round.xlsx", CIRCLE),
        book_of(tmp_path / "dates.xlsx", DATES),
    ]
    with pytest.raises(InputError) as told:
        read_lists(paths)
    files = [(Path(f.file).name, f.where) for f in told.value.faults]
    assert files == [("round.xlsx", "file"), ("dates.xlsx", "file")]


def test_dates_in_a_column_of_numbers_are_refused(tmp_path):
    """Watts that became a date are refused with their cell; a date of issue is not."""
    said = refused(book_of(tmp_path / "d.xlsx", DATES))
    assert "C2 2024-05-03" in said
    issued = [[*row, "Date"[: 4 * (k == 0)]] for k, row in enumerate(DATES)]
    issued[1][2], issued[1][3] = 5, DATES[1][2]
    found = read_lists([book_of(tmp_path / "e.xlsx", issued)])
    assert [x.running_w for x in found.loads] == [5, 8, 3]


def test_mixed_encodings_are_refused(tmp_path):
    """A file with rows in two encodings is refused until one of them is stated."""
    path = put(tmp_path / "m.csv", MIXED)
    assert "two encodings" in refused(path)
    assert read_lists([path], None, "cp1252").points() == {"ai": 2}


LOADS = "Equipment,Qty,Typical W\nRadio,1,5\nRelay,1,10\n"
MORE = "Camera,1,4\nSwitch,1,6\n"
TOTALS = {
    "twice": (LOADS + "Total,,15\nTotal,,17\n", "C4 15 and C5 17"),
    "beside subtotals": (
        LOADS + "Subtotal,,15\n" + MORE + "Subtotal,,10\nTotal,,31\n",
        "C8 31, subtotals before it 25",
    ),
    "of points": (
        "Tag,Service,AI,DI\nP1,x,1,2\nP2,y,2,0\nSubtotal,,3,2\n"
        "P3,z,1,1\nSubtotal,,1,1\nTotal,,9,3\n",
        "C7 9, subtotals before it 4",
    ),
}


@pytest.mark.parametrize(("text", "words"), TOTALS.values(), ids=TOTALS)
def test_totals_that_contradict_each_other_are_refused(tmp_path, text, words):
    """A total stated twice, or a grand total against its own subtotals and the rows."""
    said = refused(put(tmp_path / "t.csv", text.encode()))
    assert "totals of the list disagree" in said
    assert words in said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (LOADS + "Total,,15\n", ""),
        (LOADS + "Total,,18\n", "Total 18 (rows 15)"),
        (LOADS + "Subtotal,,12\n" + MORE + "Subtotal,,10\nTotal,,25\n",
         "Subtotal 12 (rows 15)"),
        (LOADS + "Total,,15\nContingency 20 %,,3\nTotal,,18\n", ""),
        (LOADS + "Total connected load,,15\nTotal average load,,9\n",
         "Total average load 9 (rows 15)"),
    ],
)  # fmt: skip
def test_a_total_that_differs_from_its_rows_is_asked(tmp_path, text, said):
    """The rows count: one total that differs is told, and nothing is refused."""
    found = read_lists([put(tmp_path / "t.csv", text.encode())])
    told = [q.text for q in found.asked if "otals" in q.text]
    assert len(told) == bool(said)
    assert said in "".join(told)
    assert sum(x.running_w for x in found.loads) in {15, 25}


@pytest.mark.parametrize("summary", [("25", ""), ("40", "Power W 40 (loads 25)")])
def test_a_summary_that_differs_from_the_loads_is_asked(tmp_path, summary):
    """A table by group that says the same again is compared, and never counted."""
    watts, said = summary
    table = f"\nGroup,Power W,Wh/day\nAll of it,{watts},600\n"
    book = put(tmp_path / "s.csv", (LOADS + MORE + table).encode())
    found = read_lists([book])
    assert said in " ".join(q.text for q in found.asked)
    assert any(q.cause == "summary" for q in found.asked) == bool(said)


@pytest.mark.parametrize("count", [3, 5])
def test_a_summary_that_differs_from_the_signals_is_asked(tmp_path, count):
    """A table of kinds and counts that says another number than the rows is asked."""
    made = Workbook()
    for row in (["Tag", "Service", "I/O"], *([f"PT-{k}", "x", "AI"] for k in range(3))):
        made.active.append(row)
    sheet = made.create_sheet("Summary")
    for row in (["Type", "Qty"], ["AI", count], ["Total", count]):
        sheet.append(row)
    made.save(tmp_path / "s.xlsx")
    found = read_lists([tmp_path / "s.xlsx"])
    assert found.points() == {"ai": 3}
    assert any(q.cause == "summary" for q in found.asked) == (count == 5)


LOCKED = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 504
OLD_LOCKED = LOCKED + b"\x09\x08\x10\0" + b"\0" * 16 + b"\x2f\0\x06\0" + b"\0" * 900
BAD = {
    "nul.csv": (b"Tag,I/O\nP\0,AI\n", "nul bytes"),
    "mixed.csv": (MIXED, "two encodings"),
    "totals.csv": (TOTALS["twice"][0].encode(), "totals of the list disagree"),
    "locked.xlsx": (LOCKED + "EncryptedPackage".encode("utf-16-le"), "password"),
    "locked.xls": (OLD_LOCKED, "password"),
    "torn.xls": (LOCKED + b"W\0o\0r\0k" * 90, "cannot be read"),
    "web.xls": (b"<html><table><tr><td>Tag</td></tr></table>", "a web page"),
    "xml.xls": (b"<?xml version='1.0'?><Workbook/>", "an XML document"),
    "text.xls": (b"Tag\tService\tI/O\nPT-1\tx\tAI\n", "a text table"),
    "old.xls": (b"\x09\x08\x08\0\0\x05\x10\0\0\0", "from before 1997"),
    "dates.xlsx": (DATES, "dates stand"),
    "circle.xlsx": (CIRCLE, "circle"),
    "pictures.xlsx": ([], "no filled cell"),
    "bomb.xlsx": (None, "unpacks"),
}
EVERY = """
import sys
from powerbudget.cli import main
for name in sys.argv[1:]:
    print("::" + name, file=sys.stderr, flush=True)
    sys.argv = ["powerbudget", "import", name, "-o", "site.toml", "--yes"]
    try:
        main()
    except SystemExit as end:
        print("code", end.code, file=sys.stderr, flush=True)
"""


def test_bad_lists_end_with_two_and_write_nothing(tmp_path):
    """The verb ends with code 2 on each, says why, and leaves the folder as it was."""
    for name, (data, _) in BAD.items():
        if isinstance(data, bytes):
            put(tmp_path / name, data)
        elif data is not None:
            book_of(tmp_path / name, data)
    bomb = zipfile.ZipFile(
        tmp_path / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED, compresslevel=1
    )
    with bomb, bomb.open("xl/sheet1.xml", "w") as sheet:
        for _ in range(42):
            sheet.write(b" " * 10_000_000)
    done = subprocess.run(
        [sys.executable, "-c", EVERY, *BAD],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    assert done.stdout == ""
    said = dict(part.split("\n", 1) for part in done.stderr.split("::")[1:])
    for name, (_, words) in BAD.items():
        told = said[name]
        assert told.endswith("code 2\n"), told
        assert words in " ".join(told.split()), told
        # One fault in one sentence, nothing of the readers below.
        assert told.startswith("The input cannot be used: 1 input error"), told
        assert len(told.splitlines()) <= 4, told
    assert {path.name for path in tmp_path.iterdir()} == set(BAD)


def test_text_of_cells_never_becomes_a_formula(tmp_path):
    """A tag that begins with '=' is kept as text in what is written."""
    from powerbudget.lists.site_text import site_text

    data = b'Tag,Service,I/O\n"\'=cmd",x,AI\nPT-2,=1+1,AI\n'
    found = read_lists([put(tmp_path / "f.csv", data)])
    listed = site_text(found, "io.csv").list_text
    assert "\n=" not in listed
    assert ",=" not in listed


def test_macro_workbook_reads_like_the_plain_one(tmp_path):
    """.xlsm is read as .xlsx is."""
    made = Workbook()
    for row in (["Tag", "Service", "I/O"], ["PT-1", "x", "AI"]):
        made.active.append(row)
    made.save(tmp_path / "a.xlsx")
    (tmp_path / "a.xlsm").write_bytes((tmp_path / "a.xlsx").read_bytes())
    assert read_lists([tmp_path / "a.xlsm"]).points() == {"ai": 1}


def test_every_cause_has_its_words_and_every_word_is_asked():
    """Causes that the readers name and causes with words are the same ones."""
    import re
    from pathlib import Path

    from powerbudget.lists import causes

    folder = Path(causes.__file__).parent
    readers = [p for p in sorted(folder.glob("*.py")) if p.name != "causes.py"]
    text = "\n".join(p.read_text("utf-8") for p in readers)
    named = set(re.findall(r"\bask\(\s*\"([a-z-]+)\"", text))
    assert named <= set(causes.CAUSES)
    assert set(REFUSED) <= set(causes.CAUSES)
    for cause in causes.CAUSES:
        short = cause.removeprefix("power-").replace("no-unit", "no.unit")
        assert re.search(rf"[\"' ]{short}[\"' ]", text), cause
    # Every paragraph of the text was understood as one cause.
    heads = re.findall(r"^[a-z]\S*: ", causes._TEXT, re.MULTILINE)
    assert len(heads) == len(causes.CAUSES)
    assert all(action for _, action in causes.CAUSES.values())


def test_a_rack_refuses_figures_that_cannot_be_calculated(tmp_path):
    """A quantity that nobody can calculate is a fault of a rack's list; a remark is none."""
    rows = [["Tag", "Service", "I/O", "Qty", "Remarks"]]
    rows += [[f"PT-{k}", "x", "AI", 1, "=LOOKUP(A1,B1)"] for k in range(3)]
    assert len(read_io_list(book_of(tmp_path / "a.xlsx", rows)).tags) == 3
    rows[2][3] = "=LOOKUP(A1,B1)"
    with pytest.raises(InputError) as caught:
        read_io_list(book_of(tmp_path / "b.xlsx", rows))
    assert "formula without a saved value" in str(caught.value)
    assert "D3" in str(caught.value)
