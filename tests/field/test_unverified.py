"""Unverified figures of a site: shares, what each moves, and the size at both ends."""

from __future__ import annotations

import json
import re
from pathlib import Path
from types import SimpleNamespace

import pytest
from reference import together

from powerbudget.loads.budget import load_budget
from powerbudget.loads.unverified import at_ends, gaps
from powerbudget.report.sections.unverified import ends_table, lines_table
from powerbudget.site.reader import read_site, read_site_text
from powerbudget.site.starter import starter_design
from powerbudget.sizing import unverified_picks as picks

SITES = sorted((Path(__file__).resolve().parents[2] / "sites").glob("*.toml"))
BENCHMARKS = ("electric-wellpad", "epa-wellpad", "fleet-station", "polar-station")
TWO = """
[[load]]
name = "pump"
typical = "4 W"
maximum = "10 W"
duty = "50 %"
status = "unverified"
[[load]]
name = "box"
typical = "2 W"
status = "fictitious"
[[load]]
name = "radio"
part = "radio-licensed-5w"
[[load]]
name = "controller"
part = "controller-low-power"
[[load]]
name = "sheet"
typical = "1 W"
source = "data sheet, p. 3"
status = "data sheet"
"""


# Asked: at most a quarter in the built-in example, and at most two fifths on nine of
# the thirteen demo sites that are not published benchmarks.
def test_built_in_example_stands_on_documents():
    """At most a quarter of its energy is unverified, fictitious figures counted in."""
    assert load_budget(starter_design()).doubtful_frac <= 0.25


def test_nine_demo_sites_stand_on_documents():
    """At most two fifths of their energy is unverified; the manual names the rest."""
    named = [path for path in SITES if not path.stem.startswith(BENCHMARKS)]
    assert len(named) == 13
    share = {x.stem: load_budget(read_site(x)).doubtful_frac for x in named}
    over = {stem: frac for stem, frac in share.items() if frac > 0.4}
    assert len(over) <= 4
    page = SITES[0].parents[1] / "powerbudget" / "manual" / "parts.md"
    rows = re.findall(
        r"^\| `(.+)` \| (\d+) % \| (.+) \|$", page.read_text("utf-8"), re.MULTILINE
    )
    told = {stem: int(percent) for stem, percent, missing in rows if missing}
    assert told == {stem: round(100 * frac) for stem, frac in over.items()}


@together.parametrize("path", SITES)
def test_every_typed_figure_of_a_demo_counts(path):
    """No line of a demo site passes for a user's own input."""
    lines = load_budget(read_site(path)).lines
    assert "user input" not in {x.status for x in lines if x.kind != "contingency"}


def test_what_each_figure_moves_by_hand(site_text):
    """Half to one and a half of a typed figure, its maximum, the range of a part."""
    design = read_site_text(site_text(TWO, 12))
    whole = load_budget(design).wh_per_day
    found = {(gap.loads, gap.figure): gap for gap in gaps(design)}
    moved = {
        ("radio", "receive"): ((0.07 - 0.125) * 13.8, (0.35 - 0.125) * 13.8),
        ("pump", "typical"): (-0.5 * 2, 0.5 * 6),
        ("box", "typical"): (-1.0, 1.0),
    }
    for key, (low_w, high_w) in moved.items():
        gap = found[key]
        assert gap.low_wh - whole == pytest.approx(24 * low_w)
        assert gap.high_wh - whole == pytest.approx(24 * high_w)
    assert not {"controller", "sheet"} & {loads for loads, _ in found}
    spans = [gap.span_wh for gap in gaps(design)]
    assert spans == sorted(spans, reverse=True)
    both = load_budget(at_ends(design, "high")).wh_per_day
    assert both - whole == pytest.approx(sum(g.high_wh - whole for g in found.values()))


@together.parametrize("path", SITES)
def test_low_end_draws_no_more_and_high_end_no_less(path):
    """Each end lies on its side of the site as written."""
    design = read_site(path)
    low, high = (
        load_budget(at_ends(design, end)).wh_per_day for end in ("low", "high")
    )
    assert low <= load_budget(design).wh_per_day <= high


WORK = """
[[load]]
name = "valve"
strokes = { per_day = 6, draw = "60 W", time = "20 s" }
status = "unverified"
[[load]]
name = "box heater"
typical = "40 W"
heater = { thermostat = "5 degC", loss = "0.5 W/K" }
status = "unverified"
[[load]]
name = "battery box"
typical = "90 W"
heater = { thermostat = "5 degC", area = "1 m2", insulation = "50 mm" }
status = "unverified"
"""


def test_strokes_and_heat_loss_have_their_ends(site_text):
    """Half and one and a half of a stroke's watts, and of what a box loses."""
    found = {gap.loads: gap for gap in gaps(read_site_text(site_text(WORK, 12)))}
    strokes_wh = 6 * 60 * 20 / 3600
    valve = found["valve"]
    assert valve.high_wh - valve.low_wh == pytest.approx(strokes_wh)
    # As deep a cold at both ends: what flows out is the loss times the same difference.
    for name, loss_w_per_k in (("box heater", 0.5), ("battery box", 0.03 / 0.05)):
        gap = found[name]
        kelvin = (gap.high_wh - gap.low_wh) / 24 / loss_w_per_k
        assert 5 < kelvin < 60, name
    assert found["battery box"].field == "load battery box: typical, heater"


QUIET = """
[[supply]]
name = "loops"
output = "24 V"
rated = "20 W"
no_load = "0.4 W"
efficiency = "80 %"
[[load]]
name = "measured"
typical = "3 W"
measured = { spot = "2 W" }
[[load]]
name = "never on"
typical = "3 W"
duty = "0 %"
[[load]]
name = "polled radio"
part = "radio-licensed-5w"
traffic = { polls_per_hour = 30, registers = 30, bit_rate = "9600 bit/s" }
"""


def test_only_what_is_unverified_moves(site_text):
    """A measured load, one that never runs and a figure with documents stay."""
    text = site_text(QUIET, 12).replace("[site]", "[site]\nfictitious = true")
    design = read_site_text(text)
    found = {gap.loads: gap for gap in gaps(design)}
    assert not {"measured", "never on"} & set(found)
    radio = "radio-licensed-5w"
    moved, own = found["polled radio"].high.parts[radio], design.parts[radio]
    assert moved.receive.typical == own.receive.high > own.receive.typical
    assert moved.transmit == own.transmit


def test_converter_and_standing_draws_have_their_ends(site_text):
    """Half and one and a half of no-load power, of losses, and of standing amperes."""
    text = site_text(QUIET, 12, leakage="5 mA", own="20 mA")
    text = text.replace("[site]", "[site]\nfictitious = true")
    tables = read_site_text(text).tables
    for end, by in (("low", 0.5), ("high", 1.5)):
        moved = at_ends(read_site_text(text), end).tables
        (supply,) = moved.supply
        assert supply.no_load_w == pytest.approx(by * 0.4)
        assert 1 - supply.efficiency_frac == pytest.approx(by * 0.2)
        assert moved.bus.leakage_a == pytest.approx(by * tables.bus.leakage_a)
        own_a = tables.regulator.own_current_a
        assert moved.regulator.own_current_a == pytest.approx(by * own_a)
    assert tables.regulator.own_current_a > 0


def test_shares_of_the_lines_make_the_unverified_share(site_text):
    """Line by line they add up to what the first screen says."""
    text = site_text(TWO, 12, contingency="25 %")
    budget = load_budget(read_site_text(text))
    rows = lines_table(budget).rows
    assert {row.cells[1].text for row in rows} <= {"unverified", "fictitious"}
    shares = [float(row.cells[3].text) for row in rows]
    assert sum(shares) == pytest.approx(100 * budget.doubtful_frac, abs=0.1)
    assert shares == sorted(shares, reverse=True)


def test_both_ends_tell_size_and_cost():
    """Array, battery, pieces and price; an end without a size says so."""
    pick = SimpleNamespace(
        array_w=1300.0, battery_ah=200.0, modules=13, battery_units=1, cost=1234.0
    )
    ends = (picks.EndPick("low", 303.0, pick), picks.EndPick("high", 722.0, None))
    low, high = (
        [cell.text for cell in row.cells] for row in ends_table(ends, "USD").rows
    )
    assert low == [
        "low", "303", "1,300 W + 200 Ah", "13 modules, 1 battery unit", "1,230",
    ]  # fmt: skip
    assert high[:3] == ["high", "722", "NOT FEASIBLE"]
    assert len(ends_table(ends, "").columns) == 4


@pytest.fixture
def priced(monkeypatch):
    """Let a formula of the typed watts price the size, None where nothing passes."""

    def by(cost):
        def picked(design):
            price = cost(
                {x.name: x.typical[1] for x in design.tables.load if x.typical}
            )
            searched.append(design)
            return price and SimpleNamespace(
                cost=price, parts=0.0, array_w=100.0, battery_ah=50.0,
                modules=price, battery_units=1, tilt_deg=60.0, series=1,
            )  # fmt: skip

        searched = []
        monkeypatch.setattr(picks, "prepare", lambda design, *_: _Prepared(design))
        monkeypatch.setattr(picks, "picked", lambda problem: picked(problem.design))
        return searched

    return by


class _Prepared(SimpleNamespace):
    """A prepared site as far as a search by formula asks for one."""

    def __init__(self, design):
        super().__init__(design=design, record=None, budget=load_budget(design))

    def under(self, scenario):
        return _Prepared(scenario.site(self.design))


def worth(design):
    """Return the missing figures of a site, by the search that stands in for `size`."""
    return picks.worth_getting(design, picks.unverified_picks(_Prepared(design)))


def test_a_figure_that_moves_the_size_comes_before_one_that_moves_the_load(
    site_text, priced
):
    """Cost of the size at both ends ranks; the load only where that is the same."""
    design = read_site_text(site_text(TWO, 12))
    spans = {gap.loads: gap.span_wh for gap in gaps(design)}
    assert spans["pump"] > spans["box"]
    priced(lambda watts: 100 + 7 * watts["box"])
    found = worth(design)
    assert found[0].gap.loads == "box"
    assert found[0].moves == pytest.approx(7 * (3 - 1))
    assert {one.moves for one in found[1:]} == {0}
    rest = [one.gap.span_wh for one in found[1:]]
    assert rest == sorted(rest, reverse=True)
    assert found[1].gap.loads in {"pump", "radio"}


def test_a_figure_that_decides_whether_any_size_passes_comes_first(site_text, priced):
    """Beside a figure that moves the cost; one without a size at both ends is last."""
    design = read_site_text(site_text(TWO, 12))
    priced(lambda w: None if w["box"] > 2.5 else 100 + 900 * w["pump"])
    first, second, *_ = worth(design)
    assert (first.gap.loads, first.moves) == ("box", float("inf"))
    assert (second.gap.loads, second.moves) == ("pump", pytest.approx(900 * (10 - 2)))
    priced(lambda _: None)
    assert {one.moves for one in worth(design)} == {None}


def test_no_figure_is_searched_where_all_of_them_move_nothing(site_text, priced):
    """Three searches tell that; else two more for each figure."""
    design = read_site_text(site_text(TWO, 12))
    searched = priced(lambda _: 100.0)
    found = worth(design)
    assert len(searched) == 3
    assert {one.moves for one in found} == {0}
    spans = [one.gap.span_wh for one in found]
    assert spans == sorted(spans, reverse=True)
    searched = priced(lambda watts: 100 + watts["box"])
    assert len(worth(design)) == (len(searched) - 3) / 2


def test_an_end_without_a_size_is_no_number(site_text, priced, call, tmp_path):
    """No guard value on the page nor in JSON: null, and the words for it."""
    site = tmp_path / "site.toml"
    site.write_text(site_text(TWO, 12), encoding="utf-8")
    priced(lambda w: None if w["box"] > 2.5 else 100.0)
    _, out, _ = call("parts", "--missing", site, "--json")
    first = json.loads(out)["missing"][0]
    assert (first["loads"], first["moves"], first["high_array_w"]) == (
        "box",
        None,
        None,
    )
    assert first["low_array_w"] == 100
    _, rows, _ = call("parts", "--missing", site, "--csv")
    assert "inf" not in rows
    _, page, _ = call("parts", "--missing", site)
    (line,) = [x for x in page.splitlines() if x.startswith("box:")]
    assert "NOT FEASIBLE" in line
    assert "inf" not in line


def test_missing_figures_of_a_site_are_listed(call):
    """The meter of the coast comes first, with the size at both ends and the field."""
    coast = next(path for path in SITES if path.stem == "coastal-meter-run")
    code, out, _ = call("parts", "--missing", coast, "--json")
    first, second, *rest = json.loads(out)["missing"]
    assert code == 0
    assert first["loads"] == "ultrasonic meter"
    assert "flowmeter-ultrasonic" in first["field"]
    assert second["loads"] == "licensed radio"
    assert first["moves"] > second["moves"] > max(one["moves"] for one in rest)
    assert first["moves_unit"] == "USD"
    assert first["low_array_w"] < first["high_array_w"]


@pytest.mark.slow
def test_missing_figures_of_a_site_are_printed(call):
    """The same figures on the terminal."""
    coast = next(path for path in SITES if path.stem == "coastal-meter-run")
    first = json.loads(call("parts", "--missing", coast, "--json")[1])["missing"][0]
    _, page, _ = call("parts", "--missing", coast)
    assert "figures to request, by their effect on the recommended size" in page
    assert (
        f"{first['high_array_w']:,.0f} W + {first['high_battery_ah']:,.0f} Ah" in page
    )


def test_without_panels_the_load_ranks(call):
    """A site that lives on fuel has no size to move."""
    relay = next(path for path in SITES if path.stem == "propane-relay")
    code, page, _ = call("parts", "--missing", relay)
    assert code == 0
    assert "by their effect on the daily load" in page
    assert "size, low" not in page
    _, out, _ = call("parts", "--missing", relay, "--json")
    rows = json.loads(out)["missing"]
    assert {row["moves"] for row in rows} == {None}
    spans = [row["high_wh"] - row["low_wh"] for row in rows]
    assert spans == sorted(spans, reverse=True)


def test_a_card_of_the_rack_that_no_document_tells_is_listed(site_text, tmp_path):
    """Only where the list asks for it: another one of the library moves nothing."""
    rack = '[rack]\ncontroller = "controller-low-power"\nio_list = "tags.csv"\n'
    site = tmp_path / "site.toml"
    site.write_text(site_text(rack, 24), encoding="utf-8")
    for signal, listed in (("fieldbus", True), ("DI", False)):
        tags = f"tag,signal\nA-1,{signal}\nA-2,{signal}\n"
        (tmp_path / "tags.csv").write_text(tags, encoding="utf-8")
        found = {gap.field.split(":")[0] for gap in gaps(read_site(site))}
        assert ("part card-fieldbus" in found) == listed, found


def test_a_heat_loss_without_a_source_counts(site_text):
    """A rated power from a sheet makes no sheet of what an enclosure loses."""
    heater = """
[[load]]
name = "box heater"
part = "gas-chromatograph-heater"
heater = { thermostat = "55 degC", loss = "0.6 W/K" }
"""
    text = site_text(heater, 24)
    for given, word in (
        (text, "user input"),
        (text.replace("[site]", "[site]\nfictitious = true"), "fictitious"),
        (text.replace('"0.6 W/K" }', '"0.6 W/K" }\nstatus = "measured"'), "measured"),
    ):
        lines = load_budget(read_site_text(given)).lines
        (line,) = [x for x in lines if x.name == "box heater"]
        assert line.status == word
    well = next(path for path in SITES if path.stem == "dark-gas-wellpad")
    first = gaps(read_site(well))[0]
    assert (first.loads, first.figure) == ("gas analyzer, heater", "heater")


@pytest.mark.slow
def test_the_heat_loss_of_a_box_moves_the_load_most(call):
    """The heater's watts move nothing; what its box loses does (seen, then written).

    No size moves any more: gas detectors, once first, stand on documents.
    """
    station = next(path for path in SITES if path.stem == "tag-list-station")
    _, out, _ = call("parts", "--missing", station, "--json")
    rows = {row["loads"]: row for row in json.loads(out)["missing"]}
    assert next(iter(rows)) == "battery heater"
    span_wh = {name: row["high_wh"] - row["low_wh"] for name, row in rows.items()}
    assert span_wh["battery heater"] == max(span_wh.values())
    assert span_wh["battery heater"] > span_wh["pad light"] > 0


def test_a_part_without_documents_asks_for_the_makers_sheet(call):
    """The page of a part names the figure to ask for, and draws the readings."""
    _, page, _ = call("parts", "radio-licensed-5w")
    assert "the manufacturer's data sheet: receive" in page
    assert "n = 2" in page
    _, known, _ = call("parts", "card-digital-input")
    assert "request" not in known


@pytest.mark.slow
def test_the_page_tells_lines_figures_and_both_ends(call, tmp_path):
    """The calculation package holds what `loads --unverified` prints."""
    page = tmp_path / "site.md"
    code, _, _ = call("report", "-o", page)
    text = page.read_text(encoding="utf-8")
    assert code == 0
    for title in (
        "Unverified share by load",
        "figures to request, by their effect on the recommended size",
        "Recommended size at both ends",
    ):
        assert title in text


@pytest.mark.slow
def test_the_size_at_both_ends_is_told(call):
    """More load never asks for a cheaper design."""
    code, page, _ = call("loads", "--unverified")
    assert code == 0
    assert "Recommended size at both ends" in page
    assert "size, low" in page
    from powerbudget.balance.problem import prepare
    from powerbudget.sizing.unverified_picks import unverified_picks

    ends = unverified_picks(prepare(starter_design()))
    assert [end.level for end in ends] == ["low", "typical", "high"]
    costs = [end.pick.cost for end in ends if end.pick]
    assert costs == sorted(costs)
