"""The workbook of an odd site: awkward names, seasons, shared wires, two-rate units."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest
from openpyxl import load_workbook

from powerbudget.balance.problem import prepare
from powerbudget.report.book.input_sheet import rate_points
from powerbudget.report.book.sheets import FILLS, INPUT, lines_of
from powerbudget.report.document.package import assemble
from powerbudget.report.render.workbook import write_workbook
from powerbudget.report.sections.assumptions import assumptions_section
from powerbudget.report.sections.sources import Sources
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.worksheet.site_figures import make_worksheet

pytestmark = pytest.mark.slow

SITE = """
[site]
name = "=cmd() odd site"
latitude = "55.32 N"
longitude = "160.52 W"
elevation = "10 m"
time_zone = "UTC-9"

[weather]
record = "sand-point"

[bus]
nominal = "24 V"
disconnect_state = "20 %"
reconnect_state = "40 %"
contingency = "15 %"
standing_leakage = "5 mA"

[[supply]]
name = "bus"
output = "12 V"
rated = "60 W"
no_load = "0.36 W"
efficiency = "88 %"
source = "invented"

[[supply]]
name = ">5"
output = "24 V"
rated = "30 W"
no_load = "0.2 W"
efficiency = "80 %"
source = "=1+1"

[[supply]]
name = "LOOP*"
output = "24 V"
rated = "30 W"
no_load = "0.5 W"
efficiency = "70 %"
source = "invented"

[[supply]]
name = "loop*"
output = "24 V"
rated = "30 W"
no_load = "0.7 W"
efficiency = "75 %"
source = "invented"

[[load]]
name = "+1"
typical = "0.2 A"
maximum = "0.5 A"
peak = "2 A"
supply = "bus"
wire = { gauge = "18 AWG", length = "20 m" }
source = "@SUM(1)"
status = "fictitious"

[[load]]
name = "-2+3"
typical = "3 W"
maximum = "5 W"
quantity = 3
wire = { gauge = "18 AWG", length = "40 m", shared = true }
source = "invented"
status = "fictitious"

[[load]]
name = "summer fan"
typical = "20 W"
behaviour = "resistance"
quantity = 2
duty = "10 %"
seasons = [{ dates = "1 Jun to 31 Jul", duty = "70 %" }]
wire = { gauge = "18 AWG", length = "30 m" }
source = "invented"
status = "fictitious"

[[load]]
name = "multidrop"
part = "transmitter-pressure-two-wire"
quantity = 5
supply = "LOOP*"
loop = { kind = "multidrop" }
wire = { gauge = "18 AWG", length = "30 m" }

[[load]]
name = "levels"
part = "transmitter-level-two-wire"
quantity = 2
supply = "loop*"

[[load]]
name = "radio"
typical = "1 W"
maximum = "6 W"
peak = "9 W"
supply = ">5"
wire = { gauge = "18 AWG", length = "50 m" }
source = "invented"
status = "fictitious"

[[load]]
name = "valve"
typical = "0.1 W"
strokes = { per_day = 6, draw = "5 A", time = "20 s", inrush = "12 A" }
source = "invented"
status = "fictitious"

[array]
module = "module-36-cell-100w"
series = 2
parallel = 4
tilt = "70 deg"
azimuth = "south"
soiling = "8 %"

[charge_controller]
kind = "pwm"
own_current = "15 mA"
voltage_drop = "0.4 V"

[battery]
chemistry = "agm"
unit.nominal = "12 V"
unit.capacity = "60 Ah"
unit.hour_rate = "20 h"
unit.slow_capacity = "72 Ah"
unit.slow_hour_rate = "100 h"
series = 2
parallel = 8
box = { kind = "insulated", time_constant = "30 h", conductance = "1.5 W/degC" }

[criteria]
availability = "95 %"
autonomy = "2 d"
autonomy_temperature = "-10 degC"
deepest_discharge = "80 %"
daily_discharge = "60 %"
recovery = "25 d"
array_to_load_ratio = 1.1

[worksheet]
margin = "5 %"

[sizing]
max_array_strings = 10
max_battery_strings = 12
"""  # fmt: skip
CHANGES = {
    "watts": (
        [('typical = "3 W"', 'typical = "9 W"'), ('maximum = "5 W"', 'maximum = "9 W"')],
        [("Loads", "-2+3", 4, 9), ("Loads", "-2+3", 5, 9), ("Peak", "-2+3", 1, 9)],
    ),
    "pieces, and with them the design month": (
        [("quantity = 3", "quantity = 6")], [("Loads", "-2+3", 3, 6)],
    ),
    "volts of a converter with a load in amperes": (
        [('output = "12 V"', 'output = "15 V"')], [("Loads", "bus", 2, 15)],
    ),
    "autonomy, and with it the hour rate": (
        [('autonomy = "2 d"', 'autonomy = "0.5 d"')], [("Inputs", "autonomy", 1, 0.5)],
    ),
    "bus": (
        [('nominal = "24 V"', 'nominal = "12 V"'), ("series = 2\nparallel = 4",
          "series = 1\nparallel = 4"), ("series = 2\nparallel = 8", "series = 1\nparallel = 8")],
        [("Inputs", "bus, nominal", 1, 12), ("Inputs", "modules in series", 1, 1),
         ("Inputs", "battery units in series", 1, 1)],
    ),
    "soiling, drop and recovery": (
        [('"8 %"', '"20 %"'), ('"0.4 V"', '"1.4 V"'), ('"25 d"', '"8 d"')],
        [("Inputs", "soiling loss, average of the year", 1, 0.2),
         ("Inputs", "charge controller drop", 1, 1.4),
         ("Inputs", "recharge time", 1, 8)],
    ),
    "peak": (
        [('peak = "9 W"', 'peak = "90 W"')], [("Peak", "radio", 1, 90)],
    ),
}  # fmt: skip
"""The same change in the site file and, as sheet, row, column and value, in the book."""


@pytest.fixture(scope="module")
def package():
    """Return the odd site's calculation package."""
    return assemble(read_site_text(SITE))


@pytest.fixture(scope="module")
def book(package, tmp_path_factory):
    """Return the path of its workbook."""
    path = tmp_path_factory.mktemp("odd") / "odd.xlsx"
    write_workbook(package, path, "2026-01-02", paper="letter")
    return path


def _formulas(book):
    return [
        (sheet.title, cell)
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]


def test_every_input_is_used_by_a_formula(book):
    """No yellow cell with a name is one that nothing follows from."""
    found = load_workbook(book)
    formulas = " ".join(str(cell.value) for _, cell in _formulas(found))
    used = set(re.findall(r"[A-Za-z_]\w*", formulas))
    fill = "FF" + FILLS[INPUT].lstrip("#").upper()
    names = [
        row[3].value
        for row in found["Inputs"].iter_rows(min_row=4)
        if row[1].fill.fgColor.rgb == fill and row[3].value
    ]
    assert len(names) > 20
    assert set(names) <= used


def test_a_site_without_panels_has_no_idle_input(tmp_path):
    """Without a worksheet only inputs of the load list stand in the workbook."""
    text = SITE.replace(
        "[sizing]\nmax_array_strings = 10\nmax_battery_strings = 12\n", ""
    )
    text = re.sub(r"\[array\].*?\[battery\]", "[battery]", text, flags=re.DOTALL)
    text = re.sub(r"\[worksheet\].*", "", text, flags=re.DOTALL)
    text = re.sub(r"(recovery|array_to_load_ratio) = .*\n", "", text)
    text += (
        '[[generator]]\nname = "burner"\nkind = "thermoelectric"\nrated = "120 W"\n'
        'fuel = "propane"\n[generator.tank]\nvolume = "1000 gal"\n'
    )
    write_workbook(assemble(read_site_text(text)), tmp_path / "no.xlsx", "2026-01-02")
    found = load_workbook(tmp_path / "no.xlsx")
    names = {row[3].value for row in found["Inputs"].iter_rows(min_row=4)} - {None}
    formulas = " ".join(str(cell.value) for _, cell in _formulas(found))
    assert names == {"bus_V", "contingency", "regulator_A", "leakage_A", "lowest_bus_V"}
    assert all(name in formulas for name in names)


def test_whole_numbers_and_long_texts_are_fit_to_read(book):
    """Counts stand without decimals, rows are as high as their text, paper is as asked."""
    found = load_workbook(book)
    sheet = found["Worksheet"]
    counts = [row for row in sheet.iter_rows(min_row=4) if row[4].value == "count"]
    assert counts
    assert all(row[3].number_format == "#,##0" for row in counts)
    sources = found["Sources"]
    for row in sources.iter_rows(min_row=4):
        width = sources.column_dimensions["B"].width
        lines = lines_of(str(row[1].value), width)
        height = sources.row_dimensions[row[1].row].height or 15
        assert height >= 13 * lines
    assert {int(page.page_setup.paperSize) for page in found} == {1}


def test_capacity_by_rate_joins_the_chemistry_with_both_name_plates(package):
    """Below the fast rating the chemistry's curve, between both a line on log time."""
    bank = package.run.bank
    points = dict(rate_points(bank))
    assert points[20.0] == 1.0
    assert points[100.0] == pytest.approx(72 / 60)
    one = bank.with_strings(1).with_health(1.0)
    for hours, share in points.items():
        ah = one.charge_ah(one.rated_ah / hours)
        assert share == pytest.approx(ah / 60, rel=1e-9)


def test_two_keys_that_come_to_one_anchor_do_not_share_it(package):
    """An insulated box and the plain time constant are two inputs with one anchor."""
    section = assumptions_section(package, Sources("site.toml"))
    anchors = [row.anchor for row in section.blocks[0].rows if row.anchor]
    assert len(anchors) == len(set(anchors))
    assert "input-battery-box-time-constant" in anchors


@pytest.fixture(scope="module")
def reckoned(book, tmp_path_factory):
    """Return a folder with the book as it is and with each change, all reckoned."""
    if shutil.which("soffice") is None:
        pytest.skip("needs LibreOffice: apt-get install libreoffice-calc")
    bare = tmp_path_factory.mktemp("bare")
    load_workbook(book).save(bare / "same.xlsx")
    for number, (_, edits) in enumerate(CHANGES.values()):
        found = load_workbook(book)
        for name, label, column, value in edits:
            rows = [row for row in found[name].iter_rows() if row[0].value == label]
            rows[-1][column].value = value
        found.save(bare / f"{number}.xlsx")
    out = tmp_path_factory.mktemp("reckoned")
    subprocess.run(
        ["soffice", "--headless", f"-env:UserInstallation=file://{out}/profile",
         "--convert-to", "xlsx", "--outdir", str(out),
         *(str(path) for path in sorted(bare.glob("*.xlsx")))],
        capture_output=True, check=True, timeout=120,
    )  # fmt: skip
    return out


def test_odd_names_and_seasons_reckon_to_what_python_found(book, reckoned):
    """A converter called as the bus, or as a comparison, sums its own loads only."""
    ours = load_workbook(book, data_only=True)
    theirs = load_workbook(reckoned / "same.xlsx", data_only=True)
    cells = _formulas(load_workbook(book))
    assert len(cells) > 250
    for sheet, cell in cells:
        mine = ours[sheet][cell.coordinate].value
        found = theirs[sheet][cell.coordinate].value
        if isinstance(mine, str):
            assert found == mine
        else:
            near = pytest.approx(mine, rel=1e-9, abs=1e-12)
            assert found == near, (sheet, cell.coordinate)


@pytest.mark.parametrize("number", range(len(CHANGES)), ids=list(CHANGES))
def test_a_changed_input_gives_what_the_program_gives(reckoned, number):
    """Every line of the worksheet is that of a site file with the same change."""
    text = SITE
    for old, new in list(CHANGES.values())[number][0]:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    problem = prepare(read_site_text(text))
    wanted = {line.symbol: line.value for line in make_worksheet(problem)}
    found = load_workbook(reckoned / f"{number}.xlsx", data_only=True)
    rows = found["Worksheet"].iter_rows(min_row=4)
    lines = {row[1].value: row[3].value for row in rows}
    assert len(wanted) > 30
    for symbol, value in wanted.items():
        assert lines[symbol] == pytest.approx(value, rel=1e-8), symbol
