"""The table of moved answers names every difference and hides none."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("frozen_answers.py")


@pytest.fixture
def stores(tmp_path):
    """Two stores of one answer: a row came in before another, figures moved."""
    before = {"worst_spells": [{"days": 5, "mean": 2.0}], "odd": [1, 2, 4]}
    after = {
        "worst_spells": [{"days": 3, "mean": 9.0}, {"days": 5, "mean": 1.0}],
        "odd": [1, 3, 5],
    }
    for name, answer in (("before", before), ("after", after)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "weather.a.json").write_text(json.dumps({"answer": answer}))
    return tmp_path / "before", tmp_path / "after"


def printed(verb, stores):
    """Return the rows of a table as lists of cells, and the count told after it."""
    line = [sys.executable, str(SCRIPT), verb, *map(str, stores)]
    done = subprocess.run(line, capture_output=True, text=True, check=True)
    rows = [row.strip("| ").split(" | ") for row in done.stdout.splitlines()]
    return rows, int(done.stderr.split()[0])


def test_a_row_put_before_another_does_not_move_it(stores):
    rows, count = printed("compare", stores)
    assert ["weather a", ".answer.worst_spells[5].mean", "2", "1"] in rows
    assert ["weather a", ".answer.worst_spells[3].mean", "(absent)", "9"] in rows
    assert count == 5


def test_what_no_rule_fits_is_unexplained(stores):
    rows, count = printed("table", stores)
    groups = [row for row in rows if row[0] == "weather"]
    causes = {row[2]: row[-1].split(" ", 1) for row in groups}
    assert causes[".odd[]"][1] == "UNEXPLAINED"
    assert causes[".worst_spells[].mean"][0] == "5"
    assert sum(int(row[3]) for row in groups) == count


def test_a_group_shows_what_moved_most(stores):
    rows, _ = printed("table", stores)
    [group] = [row for row in rows if ".odd[]" in row]
    assert group[3:8] == ["2", "0.33", ".answer.odd[1]", "2", "3"]


def test_an_answer_that_one_store_lacks_differs_in_all_of_it(stores):
    (stores[1] / "weather.a.json").unlink()
    rows, count = printed("compare", stores)
    assert [row[3] for row in rows[2:]] == ["(absent)"] * 5
    assert count == 5
