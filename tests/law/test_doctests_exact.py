"""A printed example holds to the last digit printed, and prints digits that look."""

from __future__ import annotations

import doctest
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MODULES = sorted((ROOT / "powerbudget").rglob("*.py"))
LAX = {"NUMBER", "ELLIPSIS"}
"""Options that take a digit more or less, or anything at all, for the one printed."""


def test_no_option_lets_a_wrong_last_digit_pass():
    """Rounded to the digits printed, a value is compared text by text."""
    options = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    pytest_options = options["tool"]["pytest"]["ini_options"]
    assert not LAX & set(pytest_options.get("doctest_optionflags", []))


def _examples(path: Path) -> list[doctest.Example]:
    return doctest.DocTestParser().get_examples(path.read_text("utf-8"))


@pytest.mark.parametrize("word", sorted(LAX))
def test_no_example_asks_for_leave_of_its_own(word):
    """No example turns such an option on beside itself."""
    asking = [p.name for p in MODULES if f"doctest: +{word}" in p.read_text("utf-8")]
    assert asking == []


def test_no_example_rounds_to_one_digit_or_none():
    """0.0 or 6.0 of a rounded formula would hide an error of some percent."""

    def coarse(example: doctest.Example) -> bool:
        digits = [c for c in example.want.strip("()\n ") if c.isdigit()]
        number = example.want.replace(".", "").replace("-", "").strip().isdigit()
        return "round(" in example.source and number and len(set(digits) - {"0"}) < 1

    found = [
        f"{path.name}: {example.source.strip()}"
        for path in MODULES
        for example in _examples(path)
        if coarse(example)
    ]
    assert found == []
