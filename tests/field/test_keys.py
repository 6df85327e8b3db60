"""The key reference: whole, current, and true to what the reader accepts."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Annotated

import pytest
from pydantic import TypeAdapter, ValidationError
from reference import together
from reference.texts import retired_in

from powerbudget.errors import InputError
from powerbudget.manual import reference
from powerbudget.review import claim_tables
from powerbudget.review.kinds import KINDS
from powerbudget.site import generator, tables
from powerbudget.site.circuit import Protection
from powerbudget.site.costs import Costs
from powerbudget.site.keys import default_of, key_of, models_in, toml
from powerbudget.site.parts import PartCommon, load_parts
from powerbudget.site.starter import schema_text
from powerbudget.site.tables import Site

PAGE = Path(reference.__file__).with_name("keys.md")
PART_MODELS = {type(part) for part in load_parts().values()}
MODELS = sorted(
    {
        model
        for root in (Site, PartCommon, *PART_MODELS, *(k.table for k in KINDS.values()))
        for model in models_in(root)
    },
    key=lambda model: model.__name__,
)


def keys_of(model):
    """Yield the fields of a table that are keys of a file."""
    for name, info in model.model_fields.items():
        if model is not Site or name == "parts_file":
            yield name, info


def reader(info):
    """Return what validates one field as its table does."""
    kept = info.annotation
    for mark in info.metadata:
        kept = Annotated[kept, mark]
    return TypeAdapter(kept)


@together.parametrize("model", MODELS)
def test_every_key_is_told_whole_and_its_examples_are_accepted(model):
    """Description, unit, default, range and example; the reader takes each example."""
    for name, info in keys_of(model):
        key = key_of(model, name, name)
        told = (key.description, key.unit, key.default, key.range, key.example)
        assert all(told), name
        assert key.description.endswith("."), name
        assert len(key.description.split()) <= 30, name
        for example in info.examples:
            reader(info).validate_python(example)


@together.parametrize("model", MODELS)
def test_the_default_as_told_is_the_default(model):
    """Written into a file, the default of the reference gives the model's default."""
    for name, info in keys_of(model):
        told = default_of(info)
        if told in {"required", "none"}:
            assert info.is_required() == (told == "required"), name
            continue
        bare = re.fullmatch(r"-?[\d.]+|true|false", told)
        found = reader(info).validate_python(json.loads(told) if bare else told)
        wanted = info.default
        close = wanted if isinstance(wanted, str | bool) else pytest.approx(wanted)
        assert found == close, name


@together.parametrize("model", MODELS)
def test_a_range_of_choices_names_what_is_accepted(model):
    """Each word of a choice is accepted, alone or in a list; another one is refused."""
    for name, info in keys_of(model):
        key, take = key_of(model, name, name), reader(info)
        if key.unit != "word":
            continue
        many = "tuple[" in str(info.annotation)
        for word in key.range.split(", "):
            take.validate_python([word] if many else word)
        with pytest.raises(ValidationError):
            take.validate_python(["no-such-word"] if many else "no-such-word")


def test_the_committed_page_is_current():
    """`powerbudget keys --markdown` gives the page that the manual ships."""
    assert PAGE.read_text(encoding="utf-8") == reference.markdown()


def test_the_schema_tells_an_editor_description_default_and_range():
    """Each property of each table has its hover text; defaults carry units."""
    schema = json.loads(schema_text())
    bare = [
        f"{name}.{key}"
        for name, table in schema["$defs"].items()
        for key, entry in table.get("properties", {}).items()
        if "description" not in entry
    ]
    assert not bare
    leakage = schema["$defs"]["Bus"]["properties"]["standing_leakage"]
    assert leakage["default"] == "0.005 A"
    assert leakage["examples"] == ["5 mA"]
    assert "Range: 0 A to 10 A." in leakage["description"]
    required = schema["$defs"]["Bus"]["properties"]["nominal"]["description"]
    assert required.endswith("Required.")


@together.parametrize(
    ("words", "path"),
    [
        ("cable", "load.wire.length"),
        ("panel tilt", "array.tilt"),
        ("days charge", "criteria.autonomy"),
        ("low voltage", "bus.low_voltage_disconnect"),
        ("breaker", "battery.fuse"),
        ("radio bit rate", "load.traffic.bit_rate"),
        ("sleep", "load.traffic.asleep"),
        ("snowfall", "array.snow.snowfall"),
        ("days of autonomy", "criteria.autonomy"),
        ("fuse size", "load.fuse"),
        ("poll rate", "load.traffic.polls_per_hour"),
        ("solar panel watts", "array.module.power"),
        ("number of batteries", "battery.parallel"),
        ("number of panels", "array.parallel"),
        ("price of panel", "costs.module"),
        ("minimum temperature", "weather.design.annual_minimum"),
    ],
)
def test_a_newcomer_finds_a_key_by_a_word_of_the_trade(words, path):
    """The first half dozen keys that a search gives hold the one that is meant."""
    assert path in [key.path for key in reference.find(words)][:6]


def test_a_search_gives_keys_of_the_site_file_first_and_the_most_words():
    """A word that stands nowhere hides nothing; small words count for nothing."""
    assert reference.find("days of autonomy")[0].path == "criteria.autonomy"
    found = [key.path for key in reference.find("temperature")]
    foreign = [path.startswith(("claim", "part.")) for path in found]
    assert foreign == sorted(foreign)
    assert any(foreign)
    assert reference.find("xylophone azimuth")[0].path == "array.azimuth"
    assert reference.find("xylophone") == reference.find("of the") == []


def test_no_retired_word_stands_in_a_description():
    """Words of the trade; names of keys in quotes are theirs."""
    kept = {"panel", "the sun"}  # a panel PC, and the position of the sun at night
    for table in reference.every_table():
        for text in (table.description, *(key.description for key in table.keys)):
            found = {word.lower() for word in retired_in(re.sub("`[^`]*`", "~", text))}
            assert found <= kept, text


def test_lookups_take_a_table_a_key_and_the_other_name_of_the_charge_controller():
    """Brackets are no hindrance; a key comes alone."""
    (table,) = reference.lookup("[battery.box]")
    assert table.keys[0].path == "battery.box.kind"
    assert reference.lookup("battery.box.depth").default == "1.5 m"
    (controller,) = reference.lookup("regulator")
    assert controller.path == "charge_controller"
    assert reference.lookup("battery.wire.gauge").unit == "AWG or mm2"


@pytest.mark.parametrize("name", ["batery", "battery.unti", "tilt", "zzz"])
def test_an_unknown_name_is_told_with_near_ones(name):
    """What was given, what there is, and the nearest."""
    with pytest.raises(InputError) as told:
        reference.lookup(name)
    (fault,) = told.value.faults
    assert fault.given == name
    assert "battery" in fault.allowed
    assert f"--find {name.split('.')[-1]}" in fault.advice
    near = {"batery": "battery", "battery.unti": "battery.unit", "tilt": "array.tilt"}
    assert near.get(name, "") in fault.advice


def test_verb_keys_ends_with_2_on_unknown_names_and_prints_the_rest(call):
    """List, table, key and search on standard output; faults on standard error."""
    code, out, _ = call("keys")
    assert code == 0
    assert "[[load]]" in out
    assert max(map(len, out.splitlines())) <= 100
    assert len(out.splitlines()) <= 30
    assert "60 deg" in call("keys", "array.tilt")[1]
    assert "load.wire.gauge" in call("keys", "--find", "cable")[1]
    some, every = (call("keys", "--find", "fuel", *more)[1] for more in ([], ["--csv"]))
    assert some.count("example: ") == 12
    assert f"KEYS   {len(every.splitlines()) - 1} with fuel" in some
    assert f"and {len(every.splitlines()) - 1 - 12} more: add a word" in some
    for words in (["keys", "batery"], ["keys", "--find", "zzz"], ["help", "batery"]):
        code, out, err = call(*words)
        assert (code, out) == (2, "")
        assert words[-1] in err
    rows = json.loads(call("keys", "battery.unit", "--json")[1])["keys"]
    assert {"path", "description", "unit", "default", "range", "example"} == set(
        rows[0]
    )


def test_no_table_of_every_page_is_wider_than_the_terminal(call):
    """Descriptions wrap; only an example may run on."""
    for table in reference.every_table():
        lines = call("keys", table.path)[1].splitlines() if table.path else []
        assert all(len(x) <= 100 or "example" in x or "{" in x for x in lines)


def test_examples_are_written_as_toml():
    """Quotes, tables and lists as a file has them."""
    import tomllib

    for table in reference.every_table():
        for key in table.keys:
            name = key.path.split(".")[-1]
            assert name in tomllib.loads(f"{name} = {key.example}")
    assert toml({"a": {"b-c": True}}) == "{ a = { b-c = true } }"


def test_older_names_are_read_and_an_old_one_beside_its_new_one_is_refused():
    """Until 0.3.0; two prices for one thing are no choice of the program's."""
    old = {
        "salvage": "none",
        "trips": {"haul": "5 USD/kg"},
        "pieces": {"fuel_gear": "900 USD", "regulator": "1 USD/W",
                   "regulator_life_years": 9},
    }  # fmt: skip
    new = {
        "residual_value": "none",
        "trips": {"freight": "5 USD/kg"},
        "equipment": {"fuel_train": "900 USD", "charge_controller": "1 USD/W",
                      "charge_controller_life_years": 9},
    }  # fmt: skip
    assert Costs.model_validate(old) == Costs.model_validate(new) != Costs()
    with pytest.raises(ValidationError, match="salvage"):
        Costs.model_validate({"salvage": "none", "residual_value": "none"})
    words = {"regulator": "charge-controller", "controller": "process-controller"}
    for was, now in {**words, "relay": "relay"}.items():
        assert Protection.model_validate({"disconnect_by": was}).disconnect_by == now
    assert TypeAdapter(tables.Curve).validate_python("long-rate") == "slow-rate"
    for kind in (generator.Kind, claim_tables.GeneratorWord):
        assert TypeAdapter(kind).validate_python("vapour-turbine") == "vapor-turbine"
