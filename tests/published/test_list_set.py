"""The importer against a set of invented lists with an answer key, where it is present.

Source: ``shared/lists`` beside the repository (25 invented I/O lists and equipment
schedules with ``key.json`` and ``score.py``, CC0).  Limits are those of the task that
asked for the importer, set before the first run.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from powerbudget.errors import InputError
from powerbudget.lists.found import Import
from powerbudget.lists.importer import read_lists

HERE = Path(__file__).resolve()
FOUND = [
    p / "shared" / "lists" for p in HERE.parents if (p / "shared" / "lists").is_dir()
]
LISTS = FOUND[0] if FOUND else Path("shared/lists")
present = pytest.mark.skipif(
    not FOUND, reason="the set of lists is not beside the repository"
)


def answer(found: Import, kind: str) -> dict[str, object]:
    """Return what the importer says, in the words of the answer key."""
    out: dict[str, object] = {
        "messages": [q.text for q in found.asked],
        "rows_accounted": sum(len(t.rows) for t in found.tallies),
    }
    if kind == "io-list":
        live = [x for x in found.lines if x.kind == "point"]
        return out | {
            "points": found.points(),
            "spare": found.points("spare"),
            "deleted": sum(x.kind == "deleted" for x in found.lines),
            "tags": found.tags(),
            "typical_w": sum(x.typical_w or 0 for x in live),
            "maximum_w": sum(x.maximum_w or 0 for x in live),
        }
    return out | {
        "loads": len(found.loads),
        "running_w": sum(x.running_w or 0 for x in found.loads),
        "maximum_w": sum(x.maximum_w or 0 for x in found.loads),
        "wh_per_day": sum(x.wh_per_day or 0 for x in found.loads),
    }


@pytest.fixture(scope="module")
def key():
    """Return the answer key."""
    return json.loads((LISTS / "key.json").read_text(encoding="utf-8"))["lists"]


@pytest.fixture(scope="module")
def results(key):
    """Return the answers of the importer by list."""
    out = {}
    for name, entry in key.items():
        try:
            out[name] = answer(read_lists([LISTS / entry["files"][0]]), entry["kind"])
        except InputError as exc:
            out[name] = {"refused": True, "messages": [str(f) for f in exc.faults]}
    return out


@present
def test_marks_of_the_set(key, results, tmp_path, capsys):
    """At least 165 of 178 marks, at most 3 refused, none silently wrong."""
    path = tmp_path / "RESULT.json"
    path.write_text(json.dumps(results), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(LISTS / "score.py"), str(path)],
        capture_output=True,
        text=True,
        check=True,
    )
    with capsys.disabled():
        print("\n" + done.stdout)  # noqa: T201 - the marks are the point of this test
    last = done.stdout.strip().split("\n")[-1]
    won = int(last.split()[1])
    assert won >= 165
    assert "no question of the key asked: 0" in last
    assert sum(bool(r.get("refused")) for r in results.values()) <= 3


@present
def test_questions_stay_few(key, results):
    """At most 1.5 times the questions of the key, all lists together."""
    said = sum(len(r["messages"]) for r in results.values())
    assert said <= 1.5 * sum(len(k["questions"]) for k in key.values())


@present
def test_every_row_has_the_class_of_the_key_or_a_near_one(key):
    """Rows of points, spares, deletions and loads stand where the key says."""
    near = {
        "point",
        "spare",
        "deleted",
        "load",
        "hidden",
        "future",
        "hold",
        "excluded",
        "internal",
        "unused",
        "unsigned",
        "loss",
        "no-load",
    }
    for name, entry in key.items():
        found = read_lists([LISTS / entry["files"][0]])
        for tally in found.tallies:
            where = entry["rows"]["where"].get(tally.sheet, {})
            for kind in near & set(where):
                rows = {
                    n
                    for part in where[kind].split(",")
                    for n in range(
                        int(part.split("-")[0]), int(part.split("-")[-1]) + 1
                    )
                }
                assert rows == set(tally.by_class().get(kind, [])), (
                    name,
                    tally.sheet,
                    kind,
                )


@present
def test_twins_in_other_formats_read_the_same(key):
    """A list saved as .xlsx, .xls and .ods gives one answer."""
    for name, entry in key.items():
        answers = []
        for file in entry["files"]:
            found = answer(read_lists([LISTS / file]), entry["kind"])
            found.pop("messages")
            answers.append(found)
        assert all(a == answers[0] for a in answers), name


@present
def test_reissue_is_told_tag_by_tag(key):
    """Added, removed, renamed and changed tags of the re-issued list, as the key says."""
    from powerbudget.lists.difference import difference
    from powerbudget.lists.mapping import snapshot

    name = next(n for n, k in key.items() if k.get("diff"))
    before = name.rpartition("-issue-")[0] + "-" + key[name]["against"]
    old, new = (read_lists([LISTS / key[n]["files"][0]]) for n in (before, name))
    told = difference(snapshot(old), snapshot(new), new.renamed)
    wanted = key[name]["diff"]
    assert sorted(told.added) == sorted(wanted["added"])
    assert sorted(told.deleted) == sorted(wanted["removed"])
    assert told.renamed == {r["now"]: r["was"] for r in wanted["renamed"]}
    assert sorted(told.changed) == sorted(c["tag"] for c in wanted["changed"])
    assert sorted(told.unchanged) == sorted(wanted["unchanged"])
