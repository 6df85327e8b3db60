"""What the tool says when something cannot be used, or should be looked at.

Every message answers five questions: what was wrong, where (file and key), what
was given, what is allowed and what to do next.  Faults are collected and raised
once, so that a user corrects a file in one go.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "warning", "serious"]


@dataclass(frozen=True)
class Fault:
    """One thing in the input that cannot be used.

    Parameters
    ----------
    where
        Path of the key, such as ``load[2].typical`` [text].
    problem
        What is wrong, in words [text].
    given
        What the user wrote [text].
    allowed
        What would be accepted [text].
    advice
        What to do next, such as the nearest spelling [text].
    file
        The file that holds it, empty when it came from Python [text].
    """

    where: str
    problem: str
    given: str = ""
    allowed: str = ""
    advice: str = ""
    file: str = ""

    def __str__(self) -> str:
        """Return the fault on one line, parts left out where they are empty."""
        place = f"{self.file}: {self.where}" if self.file else self.where
        parts = [f"{place}: {self.problem}"]
        if self.given:
            parts.append(f"given: {self.given}")
        if self.allowed:
            parts.append(f"allowed: {self.allowed}")
        if self.advice:
            parts.append(self.advice)
        return "; ".join(parts)


@dataclass(frozen=True)
class Finding:
    """Something that works but that a careful colleague would point out.

    Parameters
    ----------
    severity
        ``note``, ``warning`` or ``serious`` [text].
    text
        One or two sentences, with the figures that matter [text].
    """

    severity: Severity
    text: str


@dataclass(frozen=True)
class Hindrance:
    """What no size of array or battery cures.

    Parameters
    ----------
    why
        What stands in the way, with its figures [text].
    remedy
        What would help [text].
    """

    why: str
    remedy: str

    def __str__(self) -> str:
        """Return both, the cause first [text]."""
        return f"{self.why}: {self.remedy}"


class PowerBudgetError(Exception):
    """Base of every error that this package raises on purpose."""

    exit_code = 3


class InputError(PowerBudgetError, ValueError):
    """The site file, parts file or command line cannot be used as written."""

    exit_code = 2
    title, counted = "The input cannot be used", "input error"

    def __init__(self, faults: list[Fault] | Fault | str) -> None:
        if isinstance(faults, str):
            faults = [Fault(where="input", problem=faults)]
        self.faults: tuple[Fault, ...] = (
            (faults,) if isinstance(faults, Fault) else tuple(faults)
        )
        super().__init__("\n".join(str(fault) for fault in self.faults))


class NotFeasible(InputError):  # noqa: N818 - reads as a sentence
    """The input is sound, and no size of its parts can meet its criteria."""

    exit_code = 1
    title, counted = "NOT FEASIBLE", "reason"


class DataError(PowerBudgetError, ValueError):
    """A weather record or table cannot be read or is physically impossible."""

    exit_code = 2


class ModelRangeError(PowerBudgetError, ValueError):
    """A formula was asked for a value outside its range of validity."""

    exit_code = 2


class DidNotConverge(PowerBudgetError, RuntimeError):  # noqa: N818 - reads as a sentence
    """A numerical search ended without an answer."""

    exit_code = 3


class PowerBudgetWarning(UserWarning):
    """Plausible but suspicious input."""


def missing_extra(where: str, library: str, extra: str) -> InputError:
    """Return what to raise where an answer needs a library that is not installed.

    Parameters
    ----------
    where
        What asked for it: an option, a key, a file [text].
    library, extra
        Its name, and the extra of this package that brings it [text].
    """
    problem = f"needs the library {library}, which is not installed"
    return InputError(
        Fault(where, problem, advice=f"pip install 'powerbudget[{extra}]'")
    )


def nearest(given: str, names: Iterable[str]) -> str:
    """Return a hint with the nearest spelling, or nothing [text].

    Examples
    --------
    >>> nearest("latitide", ["latitude", "name"])
    'did you mean latitude?'
    """
    close = nearest_names(given, names, 1)
    return f"did you mean {close[0]}?" if close else ""


def nearest_names(given: str, names: Iterable[str], most: int = 3) -> list[str]:
    """Return the names nearest to what was given: by shared words, then by spelling.

    Parameters
    ----------
    given
        What somebody wrote [text].
    names
        What is known [text].
    most
        How many to return [count].

    Examples
    --------
    >>> nearest_names("pressure transmitter", ["heater", "transmitter-pressure-two-wire"])
    ['transmitter-pressure-two-wire']
    """
    known = {name.lower(): name for name in names}
    asked = _words(given)
    whole = [known[name] for name in known if len(asked) > 1 and asked <= _words(name)]
    if whole:
        return whole[:most]
    alike = difflib.get_close_matches(given.lower(), list(known), n=most, cutoff=0.5)
    return [known[name] for name in alike]


def _words(text: str) -> set[str]:
    return {word for word in re.split(r"[^a-z0-9]+", text.lower()) if word}
