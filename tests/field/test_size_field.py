"""Sizing as people meet it: bad input, criteria out of reach, worksheet against winters."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.cli import app
from powerbudget.errors import InputError
from powerbudget.quantities import in_print
from powerbudget.report.document.package import Package
from powerbudget.report.render.terminal import block_text, section_text
from powerbudget.report.sections.sizing import sizing_section, worksheet_section
from powerbudget.report.sections.sources import Sources
from powerbudget.site.reader import read_site, read_site_text
from powerbudget.site.starter import starter_text
from powerbudget.sizing.criteria import judge
from powerbudget.sizing.search import size
from powerbudget.sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    SheetLoad,
    loads_from,
)
from powerbudget.sizing.worksheet.lines import worksheet_from

ROOT = Path(__file__).resolve().parents[2]
BASIN = ROOT / "sites" / "foggy-basin-station.toml"
SHARED = ROOT.parent / "shared" / "weather"


def _starter(**changes: str):
    """Return the starter with lines of its file replaced."""
    text = starter_text()
    for key, line in changes.items():
        text, times = re.subn(rf"(?m)^{key} = .*$", line, text)
        assert times == 1, key
    return text


def _faults(text: str) -> str:
    with pytest.raises(InputError) as caught:
        size(read_site_text(text))
    return str(caught.value)


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ('[worksheet]\nmargin = "-10 %"', "worksheet.margin"),
        ("[worksheet]\nmargin = -0.1", "worksheet.margin"),
        ('[worksheet]\nsystem_losses = "100 %"', "worksheet.system_losses"),
    ],
)
def test_negative_margin_is_refused(table, said):
    """A margin below nothing, or losses of everything, are named with their key."""
    assert said in _faults(f"{starter_text()}\n{table}\n")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("max_array_strings = 0", "sizing.max_array_strings"),
        ("max_array_strings = 4\narray_step = 5", "no step that could be bought"),
        ("max_battery_strings = 2\nbattery_step = 3", "no step that could be bought"),
        ('series = "auto"', "maximum input voltage of the charge controller"),
        ("series = []", "sizing.series"),
        ('series = [12]\narray_voltage_limit = "100 V"', "no number of modules"),
        ('tilts = "50 95 deg"', "sizing.tilts"),
        ('tilts = "50 65"', "sizing.tilts"),
        ("tilts = []", "sizing.tilts"),
    ],
)
def test_steps_that_cannot_be_bought_are_refused(line, said):
    """No step, no string that fits, no tilt there is: each is told with its key."""
    text = re.sub(r"(?m)^max_(array|battery)_strings = .*$", "", starter_text())
    text = re.sub(r"(?m)^\[sizing\].*$", f"[sizing]\n{line}", text)
    assert said in _faults(text)


def test_autonomy_longer_than_the_record_is_refused():
    """380 days of autonomy cannot be confirmed by one year: said with its days."""
    said = _faults(_starter(autonomy='autonomy = "380 d"'))
    assert "criteria.autonomy" in said
    assert "up to 365 d" in said


def test_bare_figures_that_cannot_be_meant_are_refused_in_one_go():
    """Negative margin, share over one, empty list: every fault at once."""
    loads = loads_from(12.0, SheetLoad("load", 24.0, draw_a=1.0))
    with pytest.raises(InputError) as caught:
        worksheet_from(
            loads,
            BatteryFigures(days=5, unit_ah=100, margin_frac=-0.1, deepest_frac=1.2),
            ArrayFigures({30.0: (4.0,)}, 5.0, 0.0, 12.0, 12.0, ratio=-1.0),
        )
    said = str(caught.value)
    for name in ("margin_frac", "deepest_frac", "module_w", "ratio"):
        assert name in said
    with pytest.raises(InputError, match="empty"):
        loads_from(12.0)
    with pytest.raises(InputError) as caught:
        loads_from(0.0, SheetLoad("x", 25.0, draw_a=1.0, draw_w=12.0))
    assert len(caught.value.faults) == 3


# By hand, 48 V in the tropics: 2 x 30 W x 24 h = 1440 Wh / 48 V = 30 Ah; 3 days, 0.5:
# 180 Ah; 30 degC takes no credit; 2 strings of 100 Ah, each four of 12 V.  Array: 30 /
# (0.85 x 0.9 x 5) x 1.2 = 9.412 A; modules of 8 A in strings of two at 24 V: 2 strings.
def test_hand_example_at_48_v_in_the_tropics():
    """A made-up pencil example: every count as on paper."""
    loads = loads_from(48.0, SheetLoad("repeater", 24.0, draw_w=30.0, quantity=2))
    battery = BatteryFigures(
        days=3, unit_ah=100, unit_v=12, deepest_frac=0.5, degc=30.0
    )
    array = ArrayFigures(
        {10.0: (5.0,)}, module_a=8.0, module_w=250.0, module_v=24.0, charge_v=48.0,
        ratio=1.2, charge_efficiency_frac=0.85, system_loss_frac=0.1, recovery_d=10.0,
    )  # fmt: skip
    value = {w.symbol: w.value for w in worksheet_from(loads, battery, array)}
    assert value["Q"] == pytest.approx(30.0)
    assert (value["kT"], value["C6"]) == (1.0, pytest.approx(180.0))
    assert (value["Np"], value["Nu"]) == (2, 8)
    assert value["I"] == pytest.approx(9.412, abs=0.0005)
    # 90 Ah in ten days beside 30 Ah a day: 39 / 3.825 = 10.196 A.
    assert value["Irec"] == pytest.approx(10.196, abs=0.0005)
    assert (value["Ms"], value["Na"], value["Nm"], value["W"]) == (2, 2, 4, 1000)
    assert value["AL"] == pytest.approx(2 * 8 * 5 / 30)
    assert value["R"] == pytest.approx(90 / (2 * 8 * 5 * 0.765 - 30))


# By hand, a logger: 5 mA x 24 h = 0.12 Ah; 30 days: 3.6 Ah / 0.8 = 4.5 Ah: one of 7 Ah.
def test_hand_example_of_a_very_small_site():
    """A logger of 5 mA takes one small battery, not none."""
    loads = loads_from(12.0, SheetLoad("logger", 24.0, draw_a=0.005))
    value = {
        w.symbol: w.value
        for w in worksheet_from(loads, BatteryFigures(days=30, unit_ah=7))
    }
    assert value["C6"] == pytest.approx(4.5)
    assert (value["Np"], value["Ci"]) == (1, 7)


def test_out_of_reach_says_which_by_how_much_and_what_would():
    """Each missed criterion comes with its figures, and the size that would meet it."""
    text = re.sub(
        r"(?m)^max_array_strings = .*$", "max_array_strings = 6", starter_text()
    )
    text = re.sub(r"(?m)^max_battery_strings = .*$", "max_battery_strings = 2", text)
    design = read_site_text(text)
    result = size(design)
    assert result.pick is None
    assert result.one_more == ()
    rows = {row.criterion: row for row in result.unmet}
    cold = rows["autonomy"]
    assert cold.found < cold.needed == 5.0
    assert cold.margin_frac == pytest.approx(cold.found / cold.needed - 1)
    strings = int(cold.cure.split(" battery")[0])
    found = [
        {v.name: v.met for v in judge(simulate_size(result.problem, 6, n))}
        for n in (strings - 1, strings)
    ]
    assert [row["autonomy"] for row in found] == [False, True]
    package = Package(design).but(sizing=result)
    page = section_text(sizing_section(package, Sources("site file")))
    assert "cure" in page
    assert cold.cure in page


def test_no_size_meets_it_is_said():
    """A recovery within hours is met by no size: the figure found is the way out."""
    design = read_site_text(starter_text())
    criteria = design.tables.criteria.model_copy(update={"recovery_d": 0.01})
    steps = design.tables.sizing.model_copy(
        update={"max_array_strings": 4, "max_battery_strings": 4}
    )
    tables = design.tables.model_copy(update={"criteria": criteria, "sizing": steps})
    result = size(dataclasses.replace(design, tables=tables))
    assert result.pick is None
    (row,) = [r for r in result.unmet if r.criterion.startswith("recovery")]
    assert "no size up to" in row.cure or "smaller battery" in row.cure


@pytest.fixture(scope="module")
def basin():
    """Return the answer for the foggy basin."""
    return size(read_site(BASIN))


@pytest.mark.slow
def test_basin_is_built_as_its_worksheet_asks(basin):
    """The demo site's own panel and battery are the worksheet's."""
    tables = read_site(BASIN).tables
    found = basin.disagreement
    assert tables.array.parallel == found.array_strings
    assert tables.battery.parallel == found.battery_strings
    value = {line.symbol: line.value for line in basin.worksheet}
    assert value["AL"] >= tables.criteria.array_to_load_ratio


@pytest.mark.slow
def test_basin_fails_its_winters_and_says_why(basin):
    """The loads are lost on a day that is named; the mean month's sun is the reason."""
    found = basin.disagreement
    assert "availability" in found.design.failed
    assert found.design.lost_at in found.words[0]
    assert found.array_strings_in_record > found.array_strings
    assert found.reasons[0].assumption == "POA irradiation of an average month"
    assert found.reasons[0].in_record < 0.5 * found.reasons[0].by_hand
    assert abs(found.array_strings_replaced / found.array_strings_in_record - 1) < 0.3


@pytest.mark.slow
@pytest.mark.skipif(not SHARED.is_dir(), reason="no shared weather beside the checkout")
def test_worksheet_passes_and_eighteen_measured_years_fail():
    """At 39 degrees north the wet February of 1998 empties what the worksheet asks."""
    from powerbudget.weather import read_files

    files = sorted((SHARED / "nsrdb-california-1998-2015").glob("*.csv"))
    text = BASIN.read_text(encoding="utf-8")
    head, tail = text.split("[weather.monthly]")
    text = (
        head + '[weather]\nrecord = "greensboro"\n\n[bus]' + tail.split("[bus]", 1)[1]
    )
    for old, new in (
        ("46.2 N", "38.93 N"), ("119.1 W", "122.30 W"), ('"7 d"', '"5 d"'),
        ("60 deg", "50 deg"),
    ):  # fmt: skip
        text = text.replace(old, new)
    problem = prepare(read_site_text(text), read_files(files))
    tables = problem.design.tables
    steps = tables.sizing.model_copy(update={"battery_age": "beginning-of-life"})
    tables = tables.model_copy(update={"sizing": steps})
    # With the battery as built; at end of life the loads are lost in January already.
    result = size(replace(problem, design=replace(problem.design, tables=tables)))
    found = result.disagreement
    assert "availability" in found.design.failed
    assert found.design.lost_at.endswith("Feb 1998")
    assert result.pick.array_strings > found.array_strings


def test_json_of_size_has_picks_one_more_and_disagreement():
    """The keys that were there stay, and the new ones carry figures and words."""
    done = CliRunner().invoke(app, ["size", "--json"])
    assert done.exit_code == 0
    answer = json.loads(done.stdout)
    for key in ("pick", "frontier", "binding", "worksheet", "findings", "ranked_by"):
        assert answer[key]
    assert set(answer["picks"]) == {"cheapest", "lightest", "fewest_parts"}
    assert [row["piece"] for row in answer["one_more"]] == [
        "array string", "battery string",
    ]  # fmt: skip
    assert answer["one_fewer"]["array"]["failed"] == ["maximum DOD"]
    for row in answer["disagreement"]:
        assert row["words"]
        assert row["side"] in {"array", "battery"}
    keys = {
        "line",
        "symbol",
        "value",
        "unit",
        "formula",
        "source",
        "inputs",
        "quantity",
    }
    assert all(set(line) == keys for line in answer["worksheet"])


def test_several_tilts_on_the_command_line(tmp_path):
    """--tilt takes several angles, searches them all and prints where the pick stands."""
    site = tmp_path / "site.toml"
    site.write_text(starter_text(), encoding="utf-8")
    done = CliRunner().invoke(app, ["size", str(site), "--tilt", "30 70 deg"])
    assert done.exit_code == 0
    heads = done.stdout.split("Smallest passing array")[1]
    assert "tilt" in heads
    assert "in series" in heads.replace("\n", " ") or "series" in heads
    wrong = CliRunner().invoke(app, ["size", str(site), "--tilt", "30 120 deg"])
    assert isinstance(wrong.exception, InputError)
    assert "--tilt" in str(wrong.exception)


@pytest.mark.slow
def test_pictures_are_drawn_also_where_nothing_meets(tmp_path):
    """Frontier and worksheet pictures are files, with a pick and without one."""
    from powerbudget.report.charts.size import frontier_chart, worksheet_chart

    design = read_site_text(
        re.sub(r"(?m)^max_array_strings = .*$", "max_array_strings = 3", starter_text())
    )
    for number, result in enumerate(
        (size(read_site_text(starter_text())), size(design))
    ):
        for chart in (frontier_chart, worksheet_chart):
            path = tmp_path / f"{chart.__name__}{number}.png"
            chart(result, "x", path)
            assert path.stat().st_size > 20_000


def test_every_worksheet_line_is_printed_with_its_source(prepared):
    """Each line stands on the page with value, unit and formula, and its source below."""
    result = size(prepared("starter"))
    lines = result.worksheet
    package = Package(prepared("starter").design).but(sizing=result)
    sources = Sources("site file")
    table = worksheet_section(package, sources).blocks[0]
    page = " ".join(block_text(table).split())
    named = {row.cells[0].text: row.cells[1].text for row in sources.table().rows}
    for line, row in zip(lines, table.rows, strict=True):
        assert f"{line.line} {line.symbol}" in page
        assert in_print(line.unit) in page
        assert line.formula in [cell.text for cell in row.cells]
        mark = row.cells[-1].text
        assert mark == "power budget" or named[mark] == " ".join(line.source.split())
        assert not math.isnan(line.value)
