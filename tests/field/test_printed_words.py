"""The words of everything printed: retired words, length of sentences, spelling.

The net of `tests/law/test_report_words.py` holds the source's texts; this one holds what
comes out, where a label of one word or a sentence joined from two is seen as well.
"""

from __future__ import annotations

import os
import re
import statistics
from functools import cache

import pytest
from reference.printed import printed, prose, sentences
from reference.texts import WORDS, retired_in

LONGEST_WORDS, MEDIAN_WORDS = 30, 14

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(
        not os.environ.get("POWERBUDGET_PRINTED"),
        reason="prints every answer of every demo site, most of an hour; set "
        "POWERBUDGET_PRINTED=1",
    ),
]


@pytest.fixture(scope="module")
def texts(tmp_path_factory) -> list[tuple[str, str]]:
    """Return place and text of every output on the demo sites and the example."""
    found = list(printed(tmp_path_factory.mktemp("printed")))
    # An output that was refused or empty is no passed one.
    assert not [place for place, text in found if len(text) < 40]
    return found


def test_nothing_printed_holds_a_retired_word(texts):
    """Labels, rows, sentences, in every form of output."""
    found = {
        (word, line.strip()[:120], place)
        for place, text in texts
        for line in text.splitlines()
        for word in retired_in(line)
    }
    assert not found, sorted(found)[:40]


def test_sentences_are_short(texts):
    """None over 30 words, half of them at most 14; an item of a list is its own."""
    pytest.importorskip("pysbd", reason="pip install pysbd to split sentences")
    told = {s: place for place, text in texts for s in sentences(prose(text))}
    lengths = {s: len(re.findall(r"[A-Za-z][\w'-]*|\d\S*", s)) for s in told}
    long = [(n, told[s], s) for s, n in lengths.items() if n > LONGEST_WORDS]
    assert not long, sorted(long, reverse=True)[:20]
    assert len(lengths) > 500
    assert statistics.median(lengths.values()) <= MEDIAN_WORDS


@cache
def _unknown_to(words: frozenset[str]) -> frozenset[str]:
    spell = pytest.importorskip(
        "spellchecker", reason="pip install pyspellchecker to check spelling"
    ).SpellChecker(language="en")
    return frozenset(spell.unknown(words))


def test_every_word_is_in_the_dictionary_or_one_of_the_trade(texts):
    """Words in small letters; names, keys, paths and code are none."""
    coded = (r"`[^`]*`|https?://\S+|\S*[_/=@]\S*|--[a-z-]+|\S+\.(?:toml|csv|py|md|png|xlsx)|"
             r"[a-z]+(?:-[a-z0-9]+){2,}|\S*[a-z]\.[a-z]\S*")  # fmt: skip
    where: dict[str, str] = {}
    for place, text in texts:
        for word in re.findall(
            r"(?<![\w'-])[A-Za-z][a-z]{3,}(?![\w'-])", re.sub(coded, " ", text)
        ):
            where.setdefault(word.lower(), place)
    odd = _unknown_to(frozenset(where)) - set(WORDS["spelling"]["trade"])
    assert not odd, sorted((word, where[word]) for word in odd)[:40]


GUARDS = re.compile(r"\d[eE][+-]\d\d|\b(?:nan|inf)\b|(?<![\w.])-0(?:\.0+)?(?![\d.,:-])")
"""Exponents, guards, and a zero with a sign."""


def test_no_figure_is_a_guard_an_exponent_or_a_negative_zero(texts):
    """What a person reads has plain digits."""
    found = {
        (place, line.strip()[:120])
        for place, text in texts
        for line in text.splitlines()
        if GUARDS.search(line)
    }
    assert not found, sorted(found)[:40]


def test_the_nets_see_what_they_are_for():
    """A retired word, a long sentence and a misspelt word are caught."""
    assert all(GUARDS.search(x) for x in ("1e+09 Wh", "main wire -0.00 V", "nan h"))
    assert not any(
        GUARDS.search(x) for x in ("-0.04 kWh", "2026-01-05", "10-0.5", "pango-1.0-0`")
    )
    assert retired_in("frost   above the freezing point")
    assert not retired_in("[[supply]] of the operator panel, regulator.voltage_drop")
    long = "The " + "very " * 30 + "long sentence ends."
    assert [len(s.split()) for s in sentences(prose(long))] == [34]
    assert sentences(prose("| a table. | has no sentence |\n    code has none.")) == []
    assert _unknown_to(frozenset({"availabilty", "battery"})) == {"availabilty"}
