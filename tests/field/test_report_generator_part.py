"""Sites with generators have a page that tells of them, and of no panels they lack."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from openpyxl import load_workbook

from powerbudget.balance.simulation import simulate_size
from powerbudget.report.document.blocks import Banner, Facts, Headlines, Table
from powerbudget.report.document.package import assemble
from powerbudget.report.render.html import html_page
from powerbudget.report.render.workbook import write_workbook
from powerbudget.report.sections.generators import generator_facts
from powerbudget.report.sections.ledger import OF_IT, ledger_table
from powerbudget.report.sections.registry import sections
from powerbudget.site.reader import read_site_text
from powerbudget.site.starter import starter_text

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parents[2]
BOTH = ("hybrid", "relay")


@pytest.fixture(scope="module")
def parts(package_of):
    """Return the sections of a site by key, each site's drawn once."""
    return cache(lambda name: {s.key: s for s in sections(package_of(name), "now")})


def table(section, key) -> Table:
    """Return one table of a section."""
    return next(b for b in section.blocks if isinstance(b, Table) and b.key == key)


def facts(section) -> dict[str, str]:
    """Return every fact of a section by label."""
    blocks = [b for b in section.blocks if isinstance(b, Facts)]
    return {fact.label: fact.text for block in blocks for fact in block.rows}


def column(found: Table, head: str) -> list:
    """Return what a column is sorted by."""
    at = next(k for k, c in enumerate(found.columns) if c.head == head)
    return [row.cells[at].sort for row in found.rows]


def test_a_site_without_generators_has_no_section_of_them(parts):
    """The section is left out where it would be empty."""
    assert "generators" not in parts("starter")


@pytest.mark.parametrize("name", BOTH)
def test_the_page_tells_what_the_run_tells_of_generators(name, parts, package_of):
    """Fuel, hours, starts, energy, deliveries, visits and stock are the run's own."""
    run, part = package_of(name).run, parts(name)["generators"]
    output, care = table(part, "generators-output"), table(part, "generators-care")
    for head, figures in (
        ("runs", [y.run_h_per_year for y in run.generation]),
        ("starts", [y.starts_per_year for y in run.generation]),
        ("failed starts", [y.failed_starts_per_year for y in run.generation]),
        ("fuel", [y.fuel_per_year for y in run.generation]),
        ("used", [y.accepted_wh_per_year / 1000 for y in run.generation]),
    ):
        assert column(output, head) == figures
    for head, figures in (
        ("service", [y.service_visits_per_year for y in run.generation]),
        ("deliveries", [y.deliveries_per_year for y in run.generation]),
        ("minimum fuel inventory", [y.lowest_stock_frac for y in run.generation]),
        ("longest period without access", [y.wait_days for y in run.generation]),
    ):
        assert column(care, head) == figures
    said = facts(part)
    for y in run.generation:
        for label, text in generator_facts(run, y):
            assert said[label] == text


@pytest.mark.parametrize("name", BOTH)
def test_months_of_the_supply_are_those_of_the_run(name, parts, package_of):
    """Each month's energy of generators stands beside the load that it carries."""
    run = package_of(name).run
    found = table(parts(name)["generators"], "generator-months")
    assert column(found, "generator energy") == [
        m.generator_wh_per_day for m in run.monthly
    ]
    heads = {c.head for c in found.columns}
    assert ("PV energy delivered" in heads) == bool(run.strings)


def test_the_relay_says_why_it_fails(parts, package_of):
    """Cold propane stopped the burner before each of the outages."""
    run, part = package_of("relay").run, parts("relay")["generators"]
    silence = table(part, "generator-silence")
    assert column(silence, "h in total") == [run.generation[0].pressure_h]
    blamed = table(part, "generator-outages")
    assert [row.cells[0].text for row in blamed.rows] == [
        "thermoelectric: insufficient fuel pressure"
    ]
    assert column(blamed, "outages") == [len(run.outages)]
    assert sum(column(blamed, "outage")) == sum(o.hours for o in run.outages)


@pytest.mark.parametrize("name", [*BOTH, "starter"])
def test_uses_and_losses_add_up_to_what_came_in(name, package_of):
    """Lines between the two sums add up to both; parts of a group add up to it."""
    run = package_of(name).run
    rows = ledger_table(run).rows
    text, kwh = [r.cells[0].text for r in rows], [r.cells[1].sort for r in rows]
    came = text.index("energy in")
    assert sum(kwh[:came]) == pytest.approx(kwh[came], rel=1e-12)
    inside = [
        k for k in range(came + 1, len(rows) - 1) if not text[k].startswith(OF_IT)
    ]
    assert sum(kwh[k] for k in inside) == pytest.approx(kwh[came], rel=1e-9)
    assert kwh[-1] == pytest.approx(kwh[came], rel=1e-9)
    pieces = [v for t, v in zip(text, kwh, strict=True) if t.startswith(OF_IT)]
    if pieces:
        assert sum(pieces) == pytest.approx(kwh[inside[-1]], rel=1e-9)
    shares = [rows[k].cells[2].sort for k in inside]
    assert sum(shares) == pytest.approx(1.0, rel=1e-9)
    assert kwh[came] == pytest.approx(
        (run.ledger.array_wh + run.ledger.generator_wh) / 1000, rel=1e-12
    )


@pytest.mark.parametrize("name", BOTH)
def test_the_ledger_begins_with_what_the_loads_got(name, package_of):
    """Loads first, then the battery, and its words about closing hold no exponent."""
    found = ledger_table(package_of(name).run)
    text = [row.cells[0].text for row in found.rows]
    came = text.index("energy in")
    assert text[came + 1] == "loads served"
    assert text[came + 2].startswith("stored in the battery")
    assert "to rounding" in found.note
    assert not re.search(r"\de-\d", found.note)


def test_a_ledger_that_does_not_close_says_so(package_of):
    """The words about closing come from the error, not from hope."""
    from dataclasses import replace

    run = package_of("relay").run
    off = simulate_size(run.problem)
    off.__dict__["ledger"] = replace(run.ledger, error_frac=0.02)
    assert "to 2 %" in ledger_table(off).note
    assert "rounding" not in ledger_table(off).note


def test_a_site_without_panels_speaks_of_none(parts, package_of, page_of):
    """No string of nothing, no ratio, no row of an array that nobody wrote."""
    found = parts("relay")
    plant = facts(found["basis"])
    assert plant["array"] == "none"
    assert "charge controller" not in plant
    inputs = [row.cells[0].text for row in table(found["assumptions"], "inputs").rows]
    assert not [
        x for x in inputs if x.startswith(("array", "charge_controller", "sizing"))
    ]
    headlines = next(
        b for b in found["figures"].blocks if isinstance(b, Headlines)
    ).items
    assert {"array", "ratio"}.isdisjoint(h.key for h in headlines)
    page = page_of("relay")
    for words in ("0 strings", "MPPT", "array-to-load ratio", "reference array energy",
                  "available array energy", "incidence", "1,154", "n-day minimum"):  # fmt: skip
        assert words not in page.replace("\u00a0", " "), words
    ledger = table(found["battery"], "ledger")
    assert all(cell.text for row in ledger.rows for cell in row.cells)


def test_criteria_that_nobody_asked_for_are_not_listed(parts, package_of):
    """An array-to-load ratio of at least 0 cannot be missed, so it is no criterion."""
    for name in BOTH:
        rows = table(parts(name)["summary"], "verdicts").rows
        assert not [r for r in rows if "array-to-load" in r.cells[0].text.lower()]
    asked = [v for v in package_of("relay").verdicts if v.needed]
    assert len(table(parts("relay")["summary"], "verdicts").rows) == len(asked)


def test_a_missed_criterion_shows_by_how_much(parts):
    """99.78 % of 100 %: 0.22 % of the 8,766 h of a mean year are missing, never 0."""
    row = table(parts("relay")["summary"], "verdicts").rows[0]
    assert [c.text for c in row.cells] == [
        "Availability", "FAIL", "99.78 %", "100.00 %", "-19 h/yr"
    ]  # fmt: skip


def test_the_title_block_names_what_feeds_the_site(page_of):
    """Not '0 W' where a burner of 54 W stands."""
    text = page_of("relay").replace("\u00a0", " ")
    assert "54.0 W thermoelectric generator on propane" in text
    assert "200 Ah at 5 h (20 x 1.2 V NiCd)" in text
    hybrid = page_of("hybrid").replace("\u00a0", " ")
    assert "400 W (4 x 100 W)" in hybrid
    assert "100 W direct-methanol fuel cell" in hybrid
    assert "300 Ah at 20 h" in hybrid


def test_the_banner_counts_what_was_asked_for(parts):
    """Four criteria were asked for, and one is missed."""
    banner = parts("relay")["summary"].blocks[0]
    assert isinstance(banner, Banner)
    assert "FAIL: 1 of 4 criteria" in banner.text


def test_the_box_is_told_as_it_is_computed(parts):
    """A time constant of 10 h, and 12 W of heat into a box, are not 'at ambient temperature'."""
    plain = facts(parts("hybrid")["basis"])["battery box"]
    assert "time constant of 10 h" in plain
    heated = facts(parts("relay")["basis"])["battery box"]
    assert "time constant of 30 h" in heated
    assert "12 W of heat through 1.5 W/K" in heated


def test_designs_of_the_search_tell_the_fuel_that_they_burn(parts, package_of):
    """Fewer panels burn more: the frontier says how much."""
    found = table(parts("hybrid")["sizing"], "frontier")
    runs = [d.run.generation[0].fuel_per_year for d in package_of("hybrid").designs]
    assert column(found, "methanol cell") == runs
    assert min(runs) > package_of("hybrid").run.generation[0].fuel_per_year
    assert "ranking does not count" in found.note
    assert "At this size, methanol cell uses " in parts("hybrid")["sizing"].lead


def test_the_workbook_holds_the_tables_of_the_generators(package_of, tmp_path):
    """Three sheets, with figures as numbers."""
    path = tmp_path / "hybrid.xlsx"
    write_workbook(package_of("hybrid"), path)
    book = load_workbook(path)
    assert {"Generators", "Fuel and visits", "Share of supply"} <= set(book.sheetnames)
    cells = [c.value for row in book["Generators"].iter_rows() for c in row]
    fuel = package_of("hybrid").run.generation[0].fuel_per_year
    assert any(isinstance(c, float) and c == pytest.approx(fuel) for c in cells)


TWO = """
[[generator]]
name = "<b>burner"
kind = "thermoelectric"
rated = "8 W"
fuel = "natural-gas"
supply_pressure = "25 psi"
[[generator]]
name = "engine"
kind = "engine"
rated = "300 W"
fuel = "propane"
start = "50 %"
stop = "90 %"
exercise_every = "14 d"
exercise_for = "1 h"
start_probability = "90 %"
[generator.tank]
volume = "500 gal"
[access]
closed = "1 Dec to 1 Apr"
"""


@pytest.fixture(scope="module")
def two():
    """Return a package of a small burner on site gas and an engine that may not start."""
    tables = r"^\[(array|regulator)\].*?(?=^\[|\Z)"
    plain = re.sub(tables, "", starter_text(), flags=re.MULTILINE | re.DOTALL)
    return assemble(read_site_text(plain + TWO))


def test_two_generators_stand_side_by_side(two):
    """Each has its row, its fuel among the figures that matter, and its exercise."""
    found = {s.key: s for s in sections(two, "now")}
    part = found["generators"]
    rows = table(part, "generators-output").rows
    assert [row.cells[0].text for row in rows] == ["<b>burner", "engine"]
    care = table(part, "generators-care")
    assert care.rows[0].cells[3].text == "pipeline"
    assert care.rows[1].cells[3].text != "pipeline"
    assert column(table(part, "generators-output"), "exercise")[1] > 0
    headlines = next(
        b for b in found["figures"].blocks if isinstance(b, Headlines)
    ).items
    assert [h.label for h in headlines].count("Fuel") == 2
    engine = two.run.generation[1]
    assert engine.failed_starts_per_year > 0
    silence = table(part, "generator-silence")
    assert [row.cells[0].text for row in silence.rows] == ["engine"]
    assert column(silence, "h in total") == [engine.failed_h]
    assert (
        facts(part)["corrective maintenance"]
        == "by road, closed 1 Dec to 1 Apr, 7 d from call to visit"
    )


def test_names_of_generators_are_text_on_the_page(two):
    """A tag in a name is shown as it was written."""
    text = html_page(two, made="2026-01-02 03:04 UTC")
    assert "<b>burner" not in text
    assert "&lt;b&gt;burner" in text
