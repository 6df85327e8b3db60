"""The figures of a sentence, whatever its words: words change, figures are answers."""

from __future__ import annotations

import re
from collections import Counter

FIGURE = re.compile(r"(?<![\w.])[+-]?\d+(?:,\d{3})*(?:\.\d+)?")


def figures(text: str) -> list[str]:
    """Return the figures of a text as they are printed, in order."""
    return FIGURE.findall(text.replace("\N{MINUS SIGN}", "-").replace("\xa0", " "))


def tells(text: str, example: str) -> bool:
    """Return whether a text has every figure of an example, each as often."""
    wanted = Counter(figures(example))
    assert wanted, f"no figure in {example!r}"
    return not wanted - Counter(figures(text))
