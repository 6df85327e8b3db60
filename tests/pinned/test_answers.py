"""`--json` of the verbs on demo sites, leaf by leaf as it was last kept.

Stability, not truth: a change of structure must leave every leaf alone, and a change
of physics shows all that it moves.  After one on purpose make the answers anew and say
in `powerbudget/manual/changes.md` what moved and why:

    python tests/pinned/frozen_answers.py pin
"""

from __future__ import annotations

import json
import math

import pytest
from pinned.frozen_answers import ANSWERS, QUICK, SLOW, commands, leaves

LOOSE = 1e-6
"""Relative; other processors and library releases round otherwise."""
CASES = [*QUICK, *(pytest.param(name, marks=pytest.mark.slow) for name in SLOW)]


def moved(kept, found):
    """Return the leaves that differ, as one line each."""
    before, after = leaves(kept), leaves(found)
    return [
        f"{path}: {before.get(path, 'absent')} -> {after.get(path, 'absent')}"
        for path in dict.fromkeys([*before, *after])
        if not _near(before.get(path, "absent"), after.get(path, "absent"))
    ]


def _near(a, b):
    if isinstance(a, float) or isinstance(b, float):
        numbers = isinstance(a, int | float) and isinstance(b, int | float)
        return numbers and (math.isclose(a, b, rel_tol=LOOSE, abs_tol=1e-9) or a == b)
    return a == b


@pytest.mark.parametrize("name", CASES)
def test_an_answer_is_where_it_was(call, name):
    """Exit code and every leaf are those kept; the first that moved are named."""
    kept = json.loads((ANSWERS / f"{name}.json").read_text("utf-8"))
    code, said, _ = call(*commands()[name], "--json")
    found = moved(kept, {"exit": code, "answer": json.loads(said)})
    assert not found, f"{len(found)} moved:\n" + "\n".join(found[:20])


def test_a_moved_leaf_is_seen():
    """A digit, a word, a missing leaf and a new one; not the last bits of a float."""
    kept = {"a": 1.0, "b": ["x", 2], "c": True}
    assert not moved(kept, {"a": 1.0 + 1e-9, "b": ["x", 2], "c": True})
    for other in (
        {"a": 1.0 + 1e-5, "b": ["x", 2], "c": True},
        {"a": 1.0, "b": ["y", 2], "c": True},
        {"a": 1.0, "b": ["x", 3], "c": True},
        {"a": 1.0, "b": ["x"], "c": True},
        {"a": 1.0, "b": ["x", 2], "c": True, "d": 0.0},
    ):
        assert moved(kept, other)


def test_every_name_is_a_call_whose_answer_is_kept():
    """Also those that only the slow run tries: one broken name would hide there."""
    assert {*QUICK, *SLOW} <= set(commands())
    assert {path.stem for path in ANSWERS.glob("*.json")} == {*QUICK, *SLOW}


def test_no_text_of_an_answer_has_a_gap():
    """Words of an answer stand one space apart."""
    found = {}
    for path in ANSWERS.glob("*.json"):
        words = leaves(json.loads(path.read_text("utf-8"))).items()
        found |= {f"{path.stem} {at}": text for at, text in words
                  if isinstance(text, str) and "  " in text}  # fmt: skip
    assert found == {}
