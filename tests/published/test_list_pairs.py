"""Every pair of an I/O list and a schedule of the set, from files to a power budget.

Source: ``shared/lists`` beside the repository, see `test_list_set`.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest
from typer.testing import CliRunner

from powerbudget.cli import app
from powerbudget.lists.importer import read_lists
from powerbudget.lists.site_text import INVERTER_FRAC, list_path, site_text
from powerbudget.loads.budget import load_budget
from powerbudget.loads.listing import export_tables
from powerbudget.report.render.io_list import write_lists
from powerbudget.site.reader import read_site, read_site_text
from powerbudget.site.tables import Place
from powerbudget.sizing.from_nothing import size_from_nothing
from powerbudget.sizing.new_site import WeatherRequest, find_weather, whole_site

HERE = Path(__file__).resolve()
LISTS = next(
    (p / "shared" / "lists" for p in HERE.parents if (p / "shared" / "lists").is_dir()),
    Path("shared/lists"),
)
SIGNALS = sorted(LISTS.glob("io*"))
SCHEDULES = sorted(LISTS.glob("sch*"))
PLACE = {"latitude": "36.1 N", "longitude": "79.95 W", "elevation": "270 m"}

pytestmark = pytest.mark.skipif(
    not SIGNALS, reason="the set of lists is not beside the repository"
)


@pytest.fixture(scope="module")
def sky(tmp_path_factory):
    """Return the weather of the place."""
    return find_weather(
        Place(name="x", **PLACE), tmp_path_factory.mktemp("sky"), WeatherRequest()
    )


def made(books, sky, folder):
    """Return the import of some lists and the site made of it."""
    site = folder / "site.toml"
    found = read_lists(books)
    text = site_text(found, list_path(site).name)
    list_path(site).write_text(text.list_text, encoding="utf-8")
    whole = whole_site(
        "pair", PLACE, sky, text.text, text.bus_v, found.contingency_frac
    )
    return found, read_site_text(whole, site, may_be_open=True)


def stated_wh(found):
    """Return the Wh/day that schedules state, at the dc side of an inverter."""
    inverter = found.inverter_frac or INVERTER_FRAC
    return sum(
        (x.wh_per_day or 0.0) / (inverter if x.ac and not x.dc_side else 1.0)
        for x in found.loads
        if x.running_w is not None
    )


EVERY = list(product(SIGNALS, SCHEDULES))
TURNS = range(max(len(SIGNALS), len(SCHEDULES)))
ONCE = [(SIGNALS[k % len(SIGNALS)], SCHEDULES[k % len(SCHEDULES)]) for k in TURNS]
"""Each list and each schedule at least once."""


@pytest.mark.parametrize(
    "pairs",
    [ONCE, pytest.param(EVERY, marks=pytest.mark.slow)],
    ids=["each once", "every pair"],
)
def test_every_pair_becomes_a_site_that_holds_its_energy(sky, tmp_path, pairs):
    """The loads of a schedule reach the budget whole, whatever list stands beside."""
    for signals, schedule in pairs:
        found, design = made([signals, schedule], sky, tmp_path)
        budget = load_budget(design)
        names = {x.name for x in found.loads if x.running_w}
        sources = [
            line.wh_per_day
            for line in budget.lines
            if line.source.startswith(schedule.name)
            and line.status not in {"assumed", "fictitious"}
        ]
        assert names
        assert sum(sources) == pytest.approx(stated_wh(found), rel=2e-4), (
            signals.name,
            schedule.name,
        )


def test_accounts_add_up_to_the_rows_of_every_sheet():
    """Read, spare, deleted, no signal, asked and ignored rows are all rows, once."""
    for book in [*SIGNALS, *SCHEDULES]:
        found = read_lists([book])
        rows = {s.name: len(s.rows) for b in found.books for s in b.sheets}
        for tally in found.tallies:
            accounts = tally.accounts()
            # A sheet without a filled cell has no rows to account for.
            assert sum(accounts.values()) == len(tally.rows) == rows[tally.sheet]
        if not found.loads:
            read = sum(t.accounts()["read"] for t in found.tallies)
            assert read == sum(x.kind == "point" for x in found.lines)


def test_loads_exported_read_back_with_the_same_energy(sky, tmp_path):
    """A schedule written back as a workbook holds the watt-hours that it came with."""
    for schedule in SCHEDULES:
        _, design = made([schedule], sky, tmp_path)
        budget = load_budget(design)
        tables = export_tables(budget, design)
        write_lists(tmp_path / "out.xlsx", tables)
        again = read_lists([tmp_path / "out.xlsx"])
        energy = sum(row[5] for row in tables["Loads"][1:])
        read = sum(x.wh_per_day or 0.0 for x in again.loads)
        assert read == pytest.approx(energy, rel=1e-3), schedule.name


@pytest.mark.slow
@pytest.mark.parametrize("number", range(0, len(SIGNALS) * len(SCHEDULES), 61))
def test_pairs_become_designs(sky, tmp_path, number):
    """Every sixty-first pair is sized from nothing: parts that meet all criteria."""
    signals, schedule = list(product(SIGNALS, SCHEDULES))[number]
    _, design = made([signals, schedule], sky, tmp_path)
    found = size_from_nothing(design)
    assert found.pick is not None, [a.why for a in found.tried]
    assert found.pick.pick.met


def done(*args, codes=(0,)):
    """Return the exit code and the page of a command line that has to end so."""
    found = CliRunner().invoke(app, [str(a) for a in args])
    assert found.exit_code in codes, (args, found.output, found.exception)
    return found.exit_code, found.stdout


@pytest.mark.slow
@pytest.mark.parametrize("signals", SIGNALS, ids=lambda p: p.name)
def test_every_pair_in_two_commands(tmp_path, signals):
    """Array, battery and autonomy for a list with each schedule.

    One chemistry is tried, all where it does not do, and on every sixty-first pair above:
    all of them each time would take four times as long.
    """
    for schedule in SCHEDULES:
        site = tmp_path / "site.toml"
        where = [word for key, text in PLACE.items() for word in (f"--{key}", text)]
        lists = ("--list", signals, "--list", schedule)
        done("new", *lists, *where, "-o", site, "--yes", "--force")
        before = site.read_text("utf-8")
        code, page = done("size", site, "--write", "--chemistry", "agm", codes=(0, 1))
        if code:
            _, page = done("size", site, "--write")
        assert "FEASIBLE" in page, schedule.name
        design = read_site(site)
        assert design.left_open == ()
        assert design.tables.array.parallel >= 1
        assert code or design.tables.battery.chemistry == "agm"
        # What was read and asked stays as it was written.
        kept = site.read_text("utf-8")
        assert all(line in kept for line in before.split("\n") if line[:1] == "#")
        # The bank holds the autonomy's energy at least once over, by hand.
        bank, unit = design.tables.battery, design.parts[design.tables.battery.unit]
        held_wh = bank.parallel * bank.series * unit.nominal * unit.capacity
        load_wh = sum(line.wh_per_day for line in load_budget(design).lines)
        assert held_wh > design.tables.criteria.autonomy_d * load_wh, schedule.name
        for path in tmp_path.iterdir():
            path.unlink()
