"""The workbook: formulas give Python's figures, and a changed input the right ones."""

from __future__ import annotations

import math
import shutil
import subprocess

import pytest
from openpyxl import load_workbook

from powerbudget.balance.problem import prepare
from powerbudget.report.book.work_sheet import FORMULAS
from powerbudget.report.render.workbook import write_workbook
from powerbudget.site.reader import read_site_text
from powerbudget.site.starter import starter_text
from powerbudget.sizing.worksheet.site_figures import make_worksheet

pytestmark = pytest.mark.slow

CHANGES = (
    ("quantity = 3", "quantity = 7"),
    ('duty = "50 %"', 'duty = "80 %"'),
    ('typical = "6 W"', 'typical = "9 W"'),
    ('maximum = "8 W"', 'maximum = "12 W"'),
    ('contingency = "15 %"', 'contingency = "25 %"'),
    ('standing_leakage = "5 mA"', 'standing_leakage = "20 mA"'),
    ('autonomy = "5 d"', 'autonomy = "8 d"'),
    ('autonomy_temperature = "-10 degC"', 'autonomy_temperature = "-23 degC"'),
    ('deepest_discharge = "60 %"', 'deepest_discharge = "50 %"'),
)
"""The same changes in the site file; the workbook gets them cell by cell."""


@pytest.fixture(scope="module")
def books(tmp_path_factory, package_of):
    """Return the workbooks of both sites."""
    folder = tmp_path_factory.mktemp("books")
    for name in ("starter", "nasty"):
        write_workbook(package_of(name), folder / f"{name}.xlsx", "2026-01-02")
    return folder


@pytest.fixture(scope="module")
def reckoned(books):
    """Return the folder of books that LibreOffice has reckoned, one with new inputs."""
    if shutil.which("soffice") is None:
        pytest.skip("needs LibreOffice: apt-get install libreoffice-calc")
    folder = books / "bare"
    folder.mkdir()
    for name in ("starter", "nasty"):
        # Written anew, the formulas carry no values: what is read later was reckoned.
        load_workbook(books / f"{name}.xlsx").save(folder / f"{name}.xlsx")
    book = load_workbook(books / "starter.xlsx")
    _change(book)
    book.save(folder / "changed.xlsx")
    out = books / "reckoned"
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{books}/profile",
         "--convert-to", "xlsx", "--outdir", str(out),
         *(str(path) for path in sorted(folder.glob("*.xlsx")))],
        capture_output=True, check=True, timeout=120,
    )  # fmt: skip
    return out


def _row(sheet, label):
    found = [row for row in sheet.iter_rows() if row[0].value == label]
    assert len(found) == 1, label
    return found[0]


def _change(book):
    """Type the changes into the input cells."""
    loads, inputs = book["Loads"], book["Inputs"]
    heads = {cell.value: cell.column - 1 for row in loads.iter_rows(min_row=3, max_row=3)
             for cell in row}  # fmt: skip
    _row(loads, "pressure and temperature transmitters")[heads["qty"]].value = 7
    light = _row(loads, "enclosure light")
    light[heads["typical power, each, W"]].value = 9
    light[heads["maximum power, each, W"]].value = 12
    light[heads["duty cycle in the highest-load month"]].value = 0.8 / 24
    for label, value in (
        ("contingency on the energy", 0.25), ("standing leakage", 0.02),
        ("autonomy", 8), ("battery temperature for it", -23),
        ("maximum DOD", 0.5),
    ):  # fmt: skip
        _row(inputs, label)[1].value = value


def _formulas(path):
    book = load_workbook(path)
    return [(sheet.title, cell.coordinate) for sheet in book for row in sheet.iter_rows()
            for cell in row if cell.data_type == "f"]  # fmt: skip


@pytest.mark.parametrize("name", ["starter", "nasty"])
def test_every_formula_reckons_to_what_python_found(books, reckoned, name):
    """The spreadsheet's own arithmetic gives the value that we wrote beside it."""
    ours = load_workbook(books / f"{name}.xlsx", data_only=True)
    theirs = load_workbook(reckoned / f"{name}.xlsx", data_only=True)
    cells = _formulas(books / f"{name}.xlsx")
    assert len(cells) > 60
    for sheet, place in cells:
        mine, found = ours[sheet][place].value, theirs[sheet][place].value
        assert found == pytest.approx(mine, rel=1e-9, abs=1e-12), (sheet, place)


def test_the_sums_are_those_of_the_budget(books, package_of):
    """Energy and maximum stand in the workbook as the budget has them."""
    for name in ("starter", "nasty"):
        loads = load_workbook(books / f"{name}.xlsx", data_only=True)["Loads"]
        budget = package_of(name).budget
        energy = _row(loads, "energy, Wh/day")[3].value
        maximum = _row(loads, "maximum running load, W")[3].value
        assert energy == pytest.approx(budget.wh_per_day, rel=1e-12)
        assert maximum == pytest.approx(budget.maximum_w, rel=1e-12)


def test_changed_inputs_give_what_the_program_gives_for_the_changed_site(reckoned):
    """Nine inputs changed: load, maximum and battery Ah follow as Python reckons them."""
    text = starter_text()
    for old, new in CHANGES:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    problem = prepare(read_site_text(text))
    wanted = {line.symbol: line.value for line in make_worksheet(problem)}
    book = load_workbook(reckoned / "changed.xlsx", data_only=True)
    loads = book["Loads"]
    energy = _row(loads, "energy, Wh/day")[3].value
    assert energy == pytest.approx(problem.budget.wh_per_day, rel=1e-9)
    maximum = _row(loads, "maximum running load, W")[3].value
    assert maximum == pytest.approx(problem.budget.maximum_w, rel=1e-9)
    found = {
        row[1].value: row[3].value for row in book["Worksheet"].iter_rows(min_row=4)
    }
    assert len(wanted) > 30
    for symbol, value in wanted.items():
        assert found[symbol] == pytest.approx(value, rel=1e-9), symbol
    before = load_workbook(reckoned / "starter.xlsx", data_only=True)["Worksheet"]
    old = {row[1].value: row[3].value for row in before.iter_rows(min_row=4)}
    assert found["C6"] > 2 * old["C6"]


def test_every_line_of_the_worksheet_is_live(package_of):
    """No line of the worksheet is a mere number."""
    for name in ("starter", "nasty"):
        symbols = {line.symbol for line in package_of(name).sizing.worksheet}
        assert symbols <= set(FORMULAS)


def test_nothing_that_a_user_wrote_is_a_formula(books):
    """Names and sources that begin as formulas do are text, marked as such."""
    book = load_workbook(books / "nasty.xlsx")
    allowed = {"Inputs", "Loads", "By month", "Peak", "Worksheet"}
    seen = set()
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert sheet.title in allowed
                    for word in ("cmd(", "HYPERLINK", "=1+1", "-2+3"):
                        assert word not in str(cell.value)
                elif isinstance(cell.value, str) and cell.value[:1] in set("=+-@"):
                    assert cell.data_type == "s"
                    assert cell.quotePrefix
                    seen.add(cell.value)
    assert {"=1+1", "+cmd()", "-2+3", "@SUM(1)"} <= seen


def test_heads_carry_units_and_inputs_their_colour(books):
    """Every column of figures says its unit; inputs, findings and formulas differ."""
    book = load_workbook(books / "starter.xlsx")
    heads = [cell.value for cell in book["Loads"][3]]
    for wanted in (
        "typical power, each, W",
        "energy, Wh/day",
        "pair, ohm",
        "supply, V",
    ):
        assert wanted in heads
    units = [row[2].value for row in book["Inputs"].iter_rows(min_row=4, max_row=20)]
    assert all(units)
    row = _row(book["Inputs"], "autonomy")
    formula = book["Worksheet"]["D4"]
    assert row[1].fill.fgColor.rgb != formula.fill.fgColor.rgb
    legend = {r[0].value for r in book["Summary"].iter_rows()}
    assert {"input", "formula", "found"} <= legend
    assert all(r[8].value for r in book["Worksheet"].iter_rows(min_row=4, max_row=20))


def test_no_cell_holds_what_is_no_number(books):
    """Infinite and undefined figures never reach a cell as an error."""
    for name in ("starter", "nasty"):
        book = load_workbook(books / f"{name}.xlsx", data_only=True)
        for sheet in book:
            for row in sheet.iter_rows():
                for cell in row:
                    assert cell.data_type != "e", (sheet.title, cell.coordinate)
                    if isinstance(cell.value, float):
                        assert math.isfinite(cell.value)


def test_a_sheet_with_margins_says_what_they_are_of(books):
    """One note under the table, as on the page."""
    book = load_workbook(books / "starter.xlsx", data_only=True)
    cells = [[c.value for row in sheet for c in row] for sheet in book]
    with_margins = [texts for texts in cells if "margin" in texts]
    assert with_margins
    for texts in with_margins:
        assert texts.count("margin: % of the limit.") == 1
