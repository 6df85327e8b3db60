"""Machines as people meet them: two set-ups at altitude, stacks, a table with a slip."""

from __future__ import annotations

from pathlib import Path

import pytest

from powerbudget.balance.generation import GeneratorYear
from powerbudget.balance.problem import prepare
from powerbudget.balance.run_findings import run_findings
from powerbudget.balance.simulation import simulate_size
from powerbudget.checks.registry import check
from powerbudget.compare.comparison import compare
from powerbudget.data import figures
from powerbudget.data.figures import STATUS, entries
from powerbudget.generators.altitude import setups_w
from powerbudget.generators.unit import make_unit
from powerbudget.review.claims_file import claims_of
from powerbudget.review.reviewer import review
from powerbudget.site.generator import Generator
from powerbudget.site.reader import read_site_text

SITES = Path(__file__).resolve().parents[2] / "sites"
KEY = "fuel_adjusted_for_altitude"


def high(more: str = ""):
    """Return the demo gas well at 2,500 m, with more in its generator's table."""
    text = (SITES / "gas-well-free-gas.toml").read_text(encoding="utf-8")
    assert 'elevation = "40 m"' in text
    text = text.replace('elevation = "40 m"', 'elevation = "2500 m"')
    return read_site_text(text.replace('rated = "108 W"', f'rated = "108 W"\n{more}'))


def burner(height_m: float, **keys):
    """Return a burner of 54 W at a height."""
    plain = {"name": "x", "kind": "thermoelectric", "fuel": "propane", "rated": "54 W"}
    return make_unit(Generator.model_validate(plain | keys), height_m)


def test_every_verb_names_both_outputs_where_the_set_up_is_not_stated():
    """108 W at 2,500 m: 98.0 W re-set, 75.6 W not; run, check and review say both."""
    design = high()
    said = {
        "run": [f.text for f in run_findings(simulate_size(prepare(design)))],
        "check": [f"{n.missing} {n.detail}" for n in check(design).not_checked],
        "review": review(
            design,
            claims_of({"claim": [{"kind": "generator", "claimed": "108 W",
                                  "generator": "thermoelectric"}]}),
        ).claims[0].remarks,
    }  # fmt: skip
    for verb, texts in said.items():
        (text,) = [t for t in texts if "adjusted for the site" in t]
        assert "98.0 W" in text, verb
        assert "75.6 W" in text, verb
        assert KEY in text, verb


@pytest.mark.parametrize("flag", ["true", "false"])
def test_nothing_is_said_of_it_where_it_is_stated(flag):
    """The site file decides, and no verb asks again."""
    design = high(f"{KEY} = {flag}")
    assert not [n for n in check(design).not_checked if n.missing == KEY]
    assert not [
        f for f in run_findings(simulate_size(prepare(design))) if KEY in f.text
    ]


def test_both_outputs_are_told_from_where_they_differ():
    """At 40 m they lie within 1 % of the rating; at 640 m 52.7 and 49.9 W are told."""
    assert setups_w(burner(40.0)) is None
    assert setups_w(burner(640.0)) == pytest.approx((52.72, 49.85), abs=0.01)
    assert setups_w(burner(640.0, altitude_per_km=0.05)) is None


def test_a_claim_about_watts_without_a_site_says_what_it_lacks():
    """Load, air and elevation are asked for; with them it is judged."""
    keys = {"kind": "generator", "claimed": "108 W", "generator": "engine"}
    (bare,) = review(None, claims_of({"claim": [keys]})).claims
    assert bare.verdict == "undetermined"
    assert len(bare.missing) == 3
    keys |= {"load": "80 W", "temperature": "25 degC", "elevation": "0 m"}
    (told,) = review(None, claims_of({"claim": [keys]})).claims
    # 108 W through a charger of 85 % are 91.8 W at the bus.
    assert told.verdict == "supported"
    assert told.solved[0].value == pytest.approx(91.8)
    keys["temperature"] = "60 degC"
    (hot,) = review(None, claims_of({"claim": [keys]})).claims
    assert hot.verdict == "not supported"
    assert "no output at 60 °C" in hot.cases[0].name


def test_a_claim_of_another_rating_is_of_one_machine():
    """A site with two of 108 W: a claim of 54 W gives 54 W at 20 degC, not 108 W."""
    design = high("quantity = 2\naltitude_per_km = 0.0")
    keys = {"kind": "generator", "generator": "thermoelectric", "load": "10 W",
            "elevation": "0 m"}  # fmt: skip
    for claimed, watts in (("54 W", 54.0), ("216 W", 216.0)):
        claims = claims_of({"claim": [keys | {"claimed": claimed}]})
        (done,) = review(design, claims).claims
        hot = float(prepare(design).record.temp_air_degc.max())
        share = 1.0 - 0.0036 * (hot - 20.0)
        assert done.solved[0].value == pytest.approx(watts * share)


@pytest.mark.slow
def test_small_engines_are_rich_burn_unless_stated():
    """Without a word on it a set on gas slips 0.104 kg of methane by the mmBtu."""
    for more in ("", '[compare]\noptions = ["engine"]\n'):
        text = (SITES / "gas-well-free-gas.toml").read_text(encoding="utf-8")
        result = compare(read_site_text(f"{text}\n{more}"), turns=False)
        (gas,) = [
            o for o in result.options
            if o.name == "engine" and o.fuel == "natural-gas"
        ]  # fmt: skip
        heat = gas.fuel_per_year * 38.23e6 / 1055.056e6
        assert gas.emissions[0].ch4_kg / heat == pytest.approx(0.104, rel=1e-3)


def test_a_part_load_claim_is_held_against_the_part_load():
    """An 8 kW set at 2 kW makes 11.1 % of the heat: 2.57 L/h, not 1.36."""
    # 2000 W x 3600 s over 25.363 MJ/L: 0.284 L/h of heat; over 0.111 2.57 L/h.
    keys = {"kind": "fuel", "generator": "engine", "fuel": "propane", "power": "2 kW"}
    part = keys | {"rated": "8 kW", "claimed": "1.36 L/h"}
    (done,) = review(None, claims_of({"claim": [part]})).claims
    assert done.verdict == "not supported"
    assert done.found == pytest.approx(2.57, abs=0.01)
    assert " of 8" in done.remarks[0]
    (wrong,) = review(
        None, claims_of({"claim": [part | {"rated": "1 kW"}, part]})
    ).claims[:1]
    assert "is below the part-load power" in wrong.condition


def years_of(kind: str, fuel: str) -> GeneratorYear:
    """Return what a cell did in a year in the place of the demo's."""
    text = (SITES / "winter-hybrid.toml").read_text(encoding="utf-8")
    text = text.replace('kind = "methanol-cell"', f'kind = "{kind}"')
    text = text.replace('fuel = "methanol"', f'fuel = "{fuel}"')
    return simulate_size(prepare(read_site_text(text))).generation[0]


def test_stack_and_unit_of_a_cell_are_two_lives():
    """A stack lasts 6,000 h, the unit 20,000 h or ten years."""
    year = years_of("methanol-cell", "methanol")
    assert year.stack_life_y == pytest.approx(6000 / year.run_h_per_year)
    assert year.life_y == 10.0
    text = (SITES / "winter-hybrid.toml").read_text(encoding="utf-8")
    own = text.replace('rated = "100 W"', 'rated = "100 W"\nlife = "900 h"')
    year = simulate_size(prepare(read_site_text(own))).generation[0]
    assert year.life_y == pytest.approx(900 / year.run_h_per_year)
    assert year.stack_life_y == float("inf")


def test_a_hot_cell_wears_by_its_starts():
    """100 starts end a solid-oxide stack before its 10,000 h where it rests often."""
    year = years_of("solid-oxide-cell", "propane")
    assert year.starts_per_year > 5
    by_starts, by_hours = 100 / year.starts_per_year, 10_000 / year.run_h_per_year
    assert by_starts < by_hours
    assert year.stack_life_y == pytest.approx(by_starts)


@pytest.mark.slow
def test_a_worn_stack_is_bought_for_its_share_of_the_unit():
    """A cell that runs alone: the stack is 35 % of the price, replaced by hours."""
    text = (SITES / "winter-hybrid.toml").read_text(encoding="utf-8")
    text += '\n[compare]\noptions = ["methanol-cell"]\n'
    result = compare(read_site_text(text), turns=False)
    (cell,) = [o for o in result.options if "methanol" in o.title]
    pieces = {p.title: p for p in cell.bill.pieces}
    (stack,) = [p for name, p in pieces.items() if name.startswith("stack of")]
    unit = pieces[stack.title.removeprefix("stack of ")]
    assert stack.price / (stack.price + unit.price) == pytest.approx(0.35)
    assert stack.life_y < unit.life_y


@pytest.mark.parametrize("file", ["machines", "fuels"])
def test_every_figure_has_unit_source_and_status(file):
    """What the loader gives is complete, and lies in its own range."""
    rows = [
        row
        for entry in entries(file).values()
        for group in entry.figures.values()
        for row in group
    ]
    assert len(rows) >= 20
    for row in rows:
        assert row.low <= row.value <= row.high
        assert row.unit
        assert row.source
        assert row.status in STATUS


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ('value = 3.0, range = [1.0, 2.0], unit = "h", status = "published", source = "x"',
         "is not from 1.0 to 2.0"),
        ('value = 3.0, unit = "h", status = "published"', "needs a source"),
        ('value = 3.0, unit = "h", status = "sure", source = "x"', "a status of"),
    ],
)  # fmt: skip
def test_a_table_with_a_slip_is_refused(tmp_path, monkeypatch, row, words):
    """The loader names file, table and figure."""
    (tmp_path / "slip.toml").write_text(f"[thing]\nlife_h = {{ {row} }}\n")
    monkeypatch.setattr(figures, "FOLDER", tmp_path)
    monkeypatch.setattr(figures, "tables", figures.tables.__wrapped__)
    with pytest.raises(ValueError, match=r"slip\.toml, thing\.life_h") as caught:
        entries.__wrapped__("slip")
    assert words in str(caught.value)


def test_rows_are_chosen_by_fuel_size_and_nearest_class():
    """Efficiency by fuel and rating, burner pressure of the class nearest by ratio."""
    kinds = entries("machines")
    teg, engine = kinds["thermoelectric"], kinds["engine"]
    assert teg.figure("efficiency_frac", "propane", 299.0).value == 0.031
    assert teg.figure("efficiency_frac", "propane", 300.0).value == 0.025
    assert teg.figure("efficiency_frac", "natural-gas", 54.0).value == 0.028
    assert engine.figure("efficiency_frac", "propane", 4999.0).value == 0.19
    assert engine.figure("efficiency_frac", "propane", 5000.0).value == 0.21
    assert engine.figure("efficiency_frac", "diesel", 2000.0).value == 0.235
    # 54 and 108 W meet at 76.4 W, 108 and 220 W at 154.1 W.
    for watts, kpa in ((21, 48), (76, 48), (77, 45), (154, 45), (155, 140), (550, 140)):
        found = teg.figure("burner_pressure_kpa", "propane", watts).value
        assert found == kpa
    assert not kinds["methanol-cell"].has("burner_pressure_kpa", "methanol")
    with pytest.raises(KeyError):
        teg.figure("efficiency_frac", "diesel", 54.0)


def test_two_burners_fade_for_twice_the_load_as_one_for_the_load():
    """What is left of several machines is counted once by their number."""
    from types import SimpleNamespace as Plain

    from powerbudget.compare.search import _fading_words

    def words(load_w, quantity):
        table = {"name": "x", "kind": "thermoelectric", "fuel": "natural-gas",
                 "rated": "54 W", "quantity": quantity}  # fmt: skip
        place = Plain(tables=Plain(site=Plain(elevation_m=0.0)))
        bench = Plain(
            problem=Plain(design=place), hottest_degc=20.0, load_w=load_w,
            book=Plain(own=Plain(horizon_years=20.0)),
        )  # fmt: skip
        return _fading_words(bench, Generator.model_validate(table))

    # 51.3 W of 54 W are 5 % less, which 0.75 % a year take in 6.7 years.
    assert "after 7 yr" in words(51.3, 1)[0]
    assert words(102.6, 2) == words(51.3, 1)


def test_charge_current_counts_the_most_that_a_burner_may_give():
    """Not knowing the set-up, fuses and charge limits stand against the higher output."""
    amps = {
        more: check(high(more)).facts.generator_charge_a
        for more in ("", f"{KEY} = true", f"{KEY} = false")
    }
    assert amps[""] == amps[f"{KEY} = true"]
    assert amps[f"{KEY} = false"] < 0.85 * amps[""]
