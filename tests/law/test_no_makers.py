"""No maker, brand or program of the trade is named in package, sites, documents, tests.

The names themselves stand nowhere: ``makers.txt`` holds the beginning of a salted hash
of each, one a line, and every word and pair of words of the checkout is hashed and
compared.  ``python tests/law/test_no_makers.py "a name" "another"`` adds names.  Names
that are ordinary words or common family names are in it only as a pair with another.
"""

from __future__ import annotations

import hashlib
import re
import sys
from itertools import pairwise
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIST = Path(__file__).with_name("makers.txt")
SALT = b"what a site consists of, not who sells it: "
PLACES = (
    "powerbudget", "sites", "tests", "notebooks", ".ci",
    "README.md", "DEVELOPERS.md", "pyproject.toml",
)  # fmt: skip
PICTURES = {".png", ".pyc"}
MADE_UP = "Quillfarad-Ohmsby"
"""A maker that does not exist; its hash stands in the list, so that the list is tried."""


def hashed(words: tuple[str, ...]) -> str:
    """Return the beginning of the salted hash of one word or two [text]."""
    return hashlib.sha256(SALT + " ".join(words).encode()).hexdigest()[:12]


def words_of(text: str) -> list[str]:
    """Return the words of a text, without case; a number is none [texts]."""
    return [
        word for word in re.findall(r"[^\W_]+", text.casefold()) if not word.isdigit()
    ]


def named_in(paths: list[Path]) -> list[str]:
    """Return where a name of the list stands: file and words [texts]."""
    listed = set(LIST.read_text(encoding="ascii").split())
    where: dict[tuple[str, ...], Path] = {}
    for path in paths:
        text = path.read_text(encoding="utf-8", errors="replace")
        words = words_of(f"{path.stem}\n{text}")
        for one in {*zip(words), *pairwise(words)}:
            where.setdefault(one, path)
    return [
        f"{path}: {' '.join(one)}"
        for one, path in where.items()
        if hashed(one) in listed
    ]


def texts() -> list[Path]:
    """Return every file of the checkout that is text."""
    found = [ROOT / place for place in PLACES]
    inside = [path for place in found if place.is_dir() for path in place.rglob("*")]
    return [
        path
        for path in (*found, *inside)
        if path.is_file() and path.suffix not in PICTURES and path != LIST
    ]


def test_nobody_is_named():
    """Neither alone nor as a pair of words does a name of the list stand anywhere."""
    own = [path for path in texts() if path != Path(__file__).resolve()]
    assert len(own) > 500
    assert not named_in(own)


def test_a_name_is_found_wherever_it_is_planted(tmp_path):
    """In prose, as a key, in a file name, with any mark between its words."""
    for number, planted in enumerate(
        (
            f"The radio of {MADE_UP} sleeps.",
            "model = quillfarad_ohmsby_5w",
            "QUILLFARAD\nOhmsby",
        )
    ):
        path = tmp_path / f"{number}.md"
        path.write_text(planted, encoding="utf-8")
        assert named_in([path]) == [f"{path}: quillfarad ohmsby"]
    path = tmp_path / "quillfarad-ohmsby.toml"
    path.write_text("", encoding="utf-8")
    assert named_in([path])
    path = tmp_path / "none.md"
    path.write_text("Quillfarad and Ohmsby, a farad quill", encoding="utf-8")
    assert not named_in([path])


def test_enough_names_are_known():
    """As many as were asked for, each once."""
    listed = LIST.read_text(encoding="ascii").split()
    assert len(set(listed)) == len(listed) >= 150
    assert hashed(tuple(words_of(MADE_UP))) in listed


def add(names: list[str]) -> None:
    """Write names into the list, each of one word or two."""
    held = set(LIST.read_text(encoding="ascii").split()) if LIST.exists() else set()
    for name in names:
        words = tuple(words_of(name))
        if not 1 <= len(words) <= 2:
            sys.exit(f"{name}: {len(words)} words; one or two are compared")
        held.add(hashed(words))
    LIST.write_text("\n".join(sorted(held)) + "\n", encoding="ascii")


if __name__ == "__main__":
    add([MADE_UP, *sys.argv[1:]])
