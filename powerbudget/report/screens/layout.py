"""How a first screen is laid out: result line, body, findings, options, caution."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from powerbudget.limits import MARGIN_NOTE
from powerbudget.quantities import count
from powerbudget.report.document.words import SEVERITY, gravest_first
from powerbudget.report.render.terminal import WIDTH, hanging

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from powerbudget.errors import Finding

CAUTION = "Calculation only; not an approval or code review. Cautions: --cautions"
MOST_LINES = 30
"""A first screen, but for what it cannot leave out [count]."""
MOST = {"WARNING": 3, "NOTE": 2}
"""Findings that a first screen shows of each severity [count]."""
_END = re.compile("(?<=\\.) +(?=[A-Z])|; |: (?=at one place)")


@dataclass(frozen=True)
class Screen:
    """The answer of a verb.

    Parameters
    ----------
    first
        Verb, site and overall result, one line [text].
    body
        Lines between it and the findings [text].
    findings
        In any order; all of them behind an option.
    options
        Options that print more [text].
    """

    first: str
    body: Sequence[str] | Callable[[], Sequence[str]]
    findings: tuple[Finding, ...]
    options: str

    @property
    def text(self) -> str:
        """The whole screen [text]."""
        body = self.body() if callable(self.body) else self.body
        lines = [*self.first.splitlines(), *body]
        margins = f"{MARGIN_NOTE}. " * any("margin" in line for line in body)
        end = ["", *wrap("More: ", self.options), margins + CAUTION]
        said = finding_lines(self.findings, MOST_LINES - len(lines) - len(end) - 1)
        lines += [*([""] if said else []), *said, *end]
        text = "".join(f"{line.rstrip()}\n" for line in lines)
        return text.replace("degC", "°C")


def first_line(verb: str, name: str, result: str) -> str:
    """Return verb and site to the left, the result to the right of the screen [text].

    Parameters
    ----------
    verb, name, result
        Verb in capitals, name of the site, result with its counts [text].

    Examples
    --------
    >>> first_line("RUN", "Well 7", "PASS")[:14], len(first_line("RUN", "Well 7", "PASS"))
    ('RUN    Well 7 ', 100)
    """
    head = f"{verb:6} {name}"
    if len(head) + len(result) + 2 > WIDTH:
        # Neither is cut: the result stays on the first line.
        return f"{verb:6} {result}\n{'':7}{name}"
    return head + "  " + result.rjust(WIDTH - len(head) - 2)


def wrap(label: str, text: str, width: int = 0) -> list[str]:
    """Return a label and its text, further lines under the first word of it [text].

    Parameters
    ----------
    label, text
        Words [text].
    width
        Letters kept for the label, with a blank on both sides [count].
    """
    return hanging(f"{label:{width}}" if width else label, text)


def clip(lines: list[str], most: int) -> list[str]:
    """Return so many lines, the last one with dots where more were left out [text].

    Parameters
    ----------
    lines, most
        Wrapped text, and how many lines of it [count].

    Examples
    --------
    >>> clip(["one two", "three"], 1), clip(["one"], 1)
    (['one two ...'], ['one'])
    """
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    kept = last if len(last) <= WIDTH - 4 else last[: WIDTH - 4].rpartition(" ")[0]
    return [*lines[: most - 1], f"{kept} ..."]


def finding_lines(findings: Iterable[Finding], room: int) -> list[str]:
    """Return the gravest findings by their first sentences, and how many more [text].

    Parameters
    ----------
    findings
        In any order.
    room
        Lines that they may take; the first one is shown however long [count].
    """
    lines: list[str] = []
    shown = dict.fromkeys(MOST, 0)
    ordered = gravest_first(findings)
    for finding in ordered:
        word = SEVERITY[finding.severity]
        said = wrap(f"{word:7}  ", _first_sentence(finding.text))
        if shown[word] < MOST[word] and (not lines or len(lines + said) < room):
            shown[word] += 1
            lines += said
    words = [SEVERITY[finding.severity] for finding in ordered]
    more = [
        count(words.count(word) - shown[word], f"more {word}")
        for word in MOST
        if words.count(word) > shown[word]
    ]
    return [*lines, *([f"and {', '.join(more)}: --findings"] if more else [])]


def _first_sentence(text: str) -> str:
    said = _END.split(text, maxsplit=1)[0].rstrip(".;:")
    return said[0].upper() + said[1:] + "."
