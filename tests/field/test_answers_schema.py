"""The JSON of every verb is what its published schema says, key for key."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from powerbudget.cli.schema import published as schemas
from powerbudget.report.answers import ANSWERS, schema

SITES = Path(__file__).resolve().parents[2] / "sites"
GALLERY = SITES.parent / "tests" / "pinned" / "gallery"
COAST = SITES / "coastal-meter-run.toml"
CALLS = {
    "loads": [["loads"], ["loads", SITES / "tag-list-station.toml"]],
    "weather": [["weather"], ["weather", SITES / "foggy-basin-station.toml"]],
    "run": [["run"], ["run", SITES / "propane-relay.toml"],
            ["run", SITES / "foggy-basin-station.toml"]],
    "size": [["size"], ["size", COAST, "--tilt", "search"]],
    "check": [["check"], ["check", SITES / "balances-on-paper.toml"]],
    "review": [["review", GALLERY / "mast-fuel.toml", GALLERY / "mast-fuel-claims.toml"],
               ["review", COAST, SITES / "claims" / COAST.name],
               ["review", SITES / "claims" / COAST.name]],
    "compare": [["compare"]],
    "diff": [["diff", COAST, SITES / "two-well-pad.toml"]],
    "parts": [["parts"]],
    "doctor": [["doctor"]],
    "keys": [["keys"], ["keys", "battery.unit"]],
    "import": [["import", SITES / "tag-list-station.csv"]],
    "fleet": [["fleet", SITES]],
}  # fmt: skip
SLOW = {"compare", "size", "fleet"}
LONG = [CALLS["weather"][1], *CALLS["run"][1:], CALLS["review"][1]]
CASES = [
    pytest.param(verb, words, id="-".join(Path(str(word)).stem for word in words),
                 marks=[pytest.mark.slow] if verb in SLOW or words in LONG else [])
    for verb, calls in CALLS.items() for words in calls
]  # fmt: skip


@pytest.mark.parametrize(("verb", "words"), CASES)
def test_the_answer_is_what_its_schema_says(call, verb, words):
    """Every key is there, none is there that is not published, types agree."""
    code, text, said = call(*words, "--json")
    assert code in {0, 1} or verb == "fleet", said
    published = schemas()[verb]
    Draft202012Validator.check_schema(published)
    faults = [
        f"{'/'.join(map(str, fault.absolute_path))}: {fault.message[:200]}"
        for fault in Draft202012Validator(published).iter_errors(json.loads(text))
    ]
    assert not faults


def test_a_site_that_cannot_be_read_has_a_row_of_the_schema(call, tmp_path):
    """A fault in place of figures is published too."""
    (tmp_path / "broken.toml").write_text('[site]\nname = "x"\n', encoding="utf-8")
    answer = json.loads(call("fleet", tmp_path, "--json", "--workers", 1)[1])
    assert answer["sites"][0]["fault"]
    assert Draft202012Validator(schemas()["fleet"]).is_valid(answer)


def test_faults_of_files_and_of_the_command_line_are_what_their_schema_says(
    call, tmp_path
):
    """A file that is not there, an option, a verb and an argument that are not known."""
    check = Draft202012Validator(schemas()["faults"])
    for words, where, problem in (
        (["run", tmp_path / "absent.toml"], "file", "no such file"),
        (["run", "--nope"], "powerbudget run", "No such option: --nope"),
        (["review"], "powerbudget review", "Missing argument"),
        (["nope"], "powerbudget", "No such command 'nope'."),
    ):
        code, out, said = call(*words, "--json")
        answer = json.loads(out)
        assert code == answer["exit_code"] == 2
        assert check.is_valid(answer)
        [fault] = answer["faults"]
        assert fault["where"] == where
        assert problem in fault["problem"]
        assert problem in said
        assert call(*words)[1] == ""
    assert not check.is_valid({**answer, "faults": [{"where": "site"}]})


def test_every_verb_with_an_answer_has_a_case():
    """A verb with a schema is held against it here."""
    assert set(CALLS) == set(schemas()) - {"faults"} == {*ANSWERS, "fleet"}


def test_a_schema_refuses_a_wrong_answer(call):
    """A key too many, one too few and a word for a number are each found."""
    answer = json.loads(call("run", "--json")[1])
    check = Draft202012Validator(schema("run"))
    assert check.is_valid(answer)
    lacking = {key: answer[key] for key in answer if key != "monthly"}
    for wrong in (
        {**answer, "more": 1},
        lacking,
        {**answer, "lowest_soc_frac": "61 %"},
    ):
        assert not check.is_valid(wrong)


def test_the_verb_prints_the_schema(call):
    """`schema run` is the published text, `schema` holds all of them."""
    assert json.loads(call("schema", "run")[1]) == json.loads(json.dumps(schema("run")))
    assert set(json.loads(call("schema")[1])) == set(schemas())
    code, out, said = call("schema", "rnu")
    assert (code, out) == (2, "")
    assert "did you mean run?" in said
