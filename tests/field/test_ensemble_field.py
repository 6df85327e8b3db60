"""What people ask of an ensemble, and what they get wrong."""

from __future__ import annotations

import json
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from powerbudget.cli import app
from powerbudget.errors import InputError
from powerbudget.loads.budget import load_budget
from powerbudget.report.charts.monte_carlo import ensemble_chart
from powerbudget.report.render.terminal import section_text
from powerbudget.report.sections.uncertainty import ensemble_section
from powerbudget.site.ensemble import Spread
from powerbudget.site.starter import starter_text
from powerbudget.sizing.uncertainty import years as drawn
from powerbudget.sizing.uncertainty.monte_carlo import ensemble
from powerbudget.sizing.uncertainty.years import (
    check_years,
    source_of_years,
    year_findings,
)

SMALL = "\n[sizing]\nmax_array_strings = 14\nmax_battery_strings = 6\n"


@pytest.fixture(scope="module")
def answer(prepared):
    """Run a small ensemble of the example, sizes left to the pilot."""
    return ensemble(prepared("starter"), 17, 7, also=[(8, 4)])


@pytest.mark.slow
def test_command_adds_the_ensemble_to_the_answer(tmp_path):
    """`size --ensemble` keeps every key and adds probability, sizes and ranking."""
    site = tmp_path / "site.toml"
    text = starter_text()
    start = text.index("[sizing]")
    site.write_text(text[:start] + SMALL + text[text.index("[costs]") :], "utf-8")
    picture = tmp_path / "odds.png"
    args = ["size", str(site), "--ensemble", "12", "--seed", "7", "--json"]
    found = CliRunner().invoke(app, [*args, "--plot-ensemble", str(picture)])
    assert found.exit_code == 0
    answer = json.loads(found.stdout)
    assert {"pick", "frontier", "binding", "worksheet", "ensemble"} <= set(answer)
    got = answer["ensemble"]
    assert got["years"] == 12
    assert got["seed"] == 7
    assert got["spread"]["cold_curves"] == "between"
    assert [size["level"] for size in got["sizes"]] == [0.5, 0.9, 0.99]
    pick = answer["pick"]
    sizes = {(c["array_strings"], c["battery_strings"]) for c in got["candidates"]}
    assert (pick["array_strings"], pick["battery_strings"]) in sizes
    assert len(sizes) <= 50
    assert picture.stat().st_size > 10_000


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--ensemble", "0"], "at least one year"),
        (["--ensemble", "-5"], "at least one year"),
        (["--ensemble", "1000000"], "more than memory holds"),
        (["--ensemble", "10", "--seed", "-1"], "below zero"),
        (["--plot-ensemble", "x.png"], "needs --ensemble N"),
        (["--plot-reliability", "x.png"], "needs --reliability"),
        (["--ensemble", "5", "--plot-ensemble", "x.bmp"], "cannot be written"),
    ],
)
def test_what_cannot_be_used_is_said_at_once(options, words):
    """Exit comes before any computation, with the option and what is allowed."""
    result = CliRunner().invoke(app, ["size", *options])
    assert isinstance(result.exception, InputError)
    assert words in str(result.exception)


@pytest.mark.parametrize(
    "options", [["--seed", "seven"], ["--ensemble", "many"], ["--ensemble", "2.5"]]
)
def test_words_in_place_of_whole_numbers_are_refused(options):
    """A seed or a count that is no whole number ends with code 2."""
    result = CliRunner().invoke(app, ["size", *options])
    assert result.exit_code == 2
    assert options[0] in result.output


def test_one_typical_year_cannot_be_drawn_from(prepared):
    """Asked for years of the record, a single year is refused with what to do."""
    spread = Spread().model_copy(update={"years_from": "record"})
    with pytest.raises(InputError, match="too few winters") as caught:
        ensemble(prepared("starter"), 10, 1, spread=spread)
    assert "1 whole winter" in str(caught.value)
    assert 'years_from = "made"' in str(caught.value)


@pytest.mark.slow
def test_typical_years_and_made_ones_are_made_anew(prepared):
    """Left to itself, a typical year or a table of months gives made years."""
    assert source_of_years(prepared("starter"), Spread()) == "made"
    no_record = prepared("northern-wellpad-no-record")
    assert source_of_years(no_record, Spread()) == "made"


def test_memory_is_refused_by_sizes_as_well():
    """Many years of many sizes are too much where many years alone are not."""
    check_years(20_000, 50)
    with pytest.raises(InputError, match="up to 15,000"):
        check_years(20_000, 200)


@pytest.mark.slow
def test_page_says_what_was_drawn_and_that_made_years_are_kind(answer, prepared):
    """Nobody reads a probability without the assumption that moves it most."""
    page = section_text(ensemble_section(answer, "USD"))
    assert "overestimate" in page
    assert "16 %" in page
    assert "27 %" in page
    assert "seed 7" in page
    mean_w = load_budget(prepared("starter").design).wh_per_day / 24
    assert f"(simulation {mean_w:.1f} W)" in page
    for word in (
        "50 % size",
        "90 % size",
        "99 % size",
        "specified site",
        "standard error",
    ):
        assert word in page


@pytest.mark.slow
def test_picks_of_the_search_are_among_the_sizes(answer, prepared):
    """The site's own size comes first and those asked for are tried."""
    sizes = [(c.array_strings, c.battery_strings) for c in answer.candidates]
    problem = prepared("starter")
    assert sizes[0] == (problem.strings, problem.bank.parallel)
    assert (8, 4) in sizes
    assert len(sizes) == len(set(sizes)) <= 50


@pytest.mark.slow
def test_picture_is_written_for_a_site_without_prices(answer, tmp_path):
    """No currency, no price in the legend, and still a picture."""
    target = tmp_path / "odds.svg"
    ensemble_chart(answer, "a site <b>", target)
    assert target.read_text("utf-8").startswith("<?xml")


def test_table_of_ranges_refuses_unknown_keys_and_shares_over_one(tmp_path):
    """A slip in [ensemble] is named with its key."""
    site = tmp_path / "site.toml"
    wrong = '\n[ensemble]\nload_to_maximum = "140 %"\nsoiling = "5 %"\n'
    site.write_text(starter_text() + wrong, "utf-8")
    result = CliRunner().invoke(app, ["size", str(site)])
    assert isinstance(result.exception, InputError)
    said = str(result.exception)
    assert "ensemble.load_to_maximum" in said
    assert "ensemble.soiling" in said


@pytest.mark.parametrize(
    ("years", "sizes", "most"),
    [(1, 1, ""), (20_000, 1, ""), (20_001, 1, "20,000"), (20_000, 150, ""),
     (20_000, 151, "19,867"), (3_001, 1_000, "3,000"), (3_000, 1_000, ""),
     (0, 1, "1 or more"), (5, 0, "")],
)  # fmt: skip
def test_years_end_where_memory_does(years, sizes, most):
    """20,000 years, or three million results of all sizes together."""
    if not most:
        check_years(years, sizes)
        return
    with pytest.raises(InputError, match=most):
        check_years(years, sizes)


@pytest.mark.parametrize(
    ("seasons", "asked", "how"),
    [(2, "record", None), (3, "record", "record"), (1, "record", None),
     (9, "auto", "made"), (10, "auto", "record"), (40, "made", "made")],
)  # fmt: skip
def test_seasons_are_drawn_from_a_record_that_has_enough(
    monkeypatch, seasons, asked, how
):
    """Three where the site file asks for the record, ten where it asks for nothing."""
    monkeypatch.setattr(drawn, "season_rows", lambda _: [None] * seasons)
    record = SimpleNamespace(synthetic=False, typical_year=False)
    problem, spread = SimpleNamespace(record=record), Spread(years_from=asked)
    if how:
        assert source_of_years(problem, spread) == how
        return
    plural = "s" if seasons > 1 else ""
    with pytest.raises(InputError, match=f"{seasons} whole winter{plural};"):
        source_of_years(problem, spread)


@pytest.mark.parametrize(
    ("own", "spread", "levels"),
    [(9, None, ["warning"]), (10, None, ["note"]), (None, None, ["warning"] * 2),
     (None, (0.1,) * 12, ["warning"])],
)  # fmt: skip
def test_what_years_are_worth_is_said(own, spread, levels):
    """Few seasons warn, many note; made years warn twice where winters are alike."""
    seasons = None if own is None else SimpleNamespace(seasons=[None] * own)
    figures = None if own else SimpleNamespace(year_to_year_frac=spread)
    found = year_findings(SimpleNamespace(own=seasons, figures=figures))
    assert [finding.severity for finding in found] == levels
    if own:
        assert f" {own} " in f" {found[0].text}"
