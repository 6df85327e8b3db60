"""What sources beside the array failed to do, told as causes and events."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.ring import stretch, wraps
from powerbudget.generators.cold import fuel_pressure_check
from powerbudget.generators.series import RELIGHT, RUNS, WHY
from powerbudget.generators.unit import Machine
from powerbudget.quantities import count, in_unit
from powerbudget.weather.runs import runs_of

if TYPE_CHECKING:
    from powerbudget.balance.problem import Problem

Floats = NDArray[np.float64]
LOOK_BACK_H = 168.0
"""How far before an outage a source's silence still counts as its cause."""
LEAST_H = 24.0
"""Silence in that time from which it does, where the source is back by then."""


def silent_codes(
    problem: Problem, out: col.Records
) -> list[tuple[Machine, NDArray[np.int64]]]:
    """Return why each source gave nothing though it should have, by interval.

    Returns
    -------
    list
        Unit and codes of `powerbudget.generators.series`, `RUNS` where all was well.
    """
    found = [(walk.unit, walk.code) for walk in problem.sources.walks]
    unit = problem.sources.follower
    if unit is not None:
        raw = out["source_code"]
        code = np.full(raw.size, RUNS)
        code[raw == col.G_NO_FUEL] = _code("no fuel")
        code[(raw == col.G_DOWN) | (raw == col.G_FAILED)] = RELIGHT
        blocked = raw == col.G_BLOCKED
        code[blocked] = problem.sources.follower_code[blocked]
        found.append((unit, code))
    return found


def _code(words: str) -> int:
    return next(code for code, text in WHY.items() if text == words)


def why_silent(unit: Machine, code: int) -> str:
    """Return in words why a source gave nothing [text].

    Parameters
    ----------
    unit
        The source.
    code
        A key of `powerbudget.generators.series.WHY` [code].
    """
    if code == RELIGHT and unit.follows:
        return "failed start"
    return WHY[code]


def source_cause(problem: Problem, out: col.Records, index: int) -> str:
    """Return what a source had to do with an outage, empty when nothing [text].

    Parameters
    ----------
    problem
        Prepared site.
    out
        Kernel results.
    index
        First interval without the loads [count].

    Returns
    -------
    str
        Its cause and the hours of it in the week before, of the first source that was
        silent then, or for a day and more of that week.
    """
    step = problem.record.step_h
    look_back = round(LOOK_BACK_H / step)
    before = stretch(problem, index - look_back, look_back + 1)
    for unit, code in silent_codes(problem, out):
        window = code[before]
        hours = np.bincount(window, minlength=len(WHY) + 1) * step
        hours[RUNS] = 0.0
        now = int(code[index])
        worst = now if now != RUNS else int(np.argmax(hours))
        if now != RUNS or hours[worst] >= LEAST_H:
            return (
                f"{unit.name}: {why_silent(unit, worst)}, {in_unit(hours[worst], 'h')} in the "
                "week before"
            )
    return ""


def source_events(problem: Problem, out: col.Records) -> list[tuple[int, str, str]]:
    """Return each way in which a source fell silent: first interval, kind, text.

    Returns
    -------
    list
        One for each source and reason; hours, stretches and the longest in its text.
    """
    step = problem.record.step_h
    found = []
    for unit, code in silent_codes(problem, out):
        for reason in WHY:
            silent = code == reason
            if not silent.any():
                continue
            begins, counts = runs_of(silent, ring=wraps(problem))
            lengths = counts * step
            words = (
                f"{unit.name}: {why_silent(unit, reason)}, {in_unit(lengths.sum(), 'h')} in "
                f"{count(lengths.size, 'period')}, longest {in_unit(lengths.max(), 'h')}"
            )
            if why_silent(unit, reason) == "insufficient fuel pressure":
                words += _limit(problem, unit)
            kind = f"generator: {why_silent(unit, reason)}"
            found.append((int(begins[0]), kind, words))
    return found


def _limit(problem: Problem, unit: Machine) -> str:
    cold = fuel_pressure_check(unit, problem.record)
    if cold is None:
        return ""
    return (
        f"; tank {in_unit(cold.value_degc, '°C', 1)}, minimum tank temperature "
        f"{in_unit(cold.limit_degc, '°C', 1)} ({cold.burner_kpa:g} kPa at the burner plus "
        f"{cold.drop_kpa:g} kPa across the pressure regulator)"
    )
