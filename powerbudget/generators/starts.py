"""Whether an engine starts when it is needed, with and without exercise."""

from __future__ import annotations

import math

HOURS_PER_YEAR = 8766.0


def start_frac(
    start_probability_frac: float, standing_faults_per_y: float, standing_h: float
) -> float:
    """Return the probability that a set starts after standing [fraction].

    ``p exp(-rate t)``: each demand may fail, and faults grow while it stands.

    Parameters
    ----------
    start_probability_frac
        Probability on demand right after a run [fraction].
    standing_faults_per_y
        Faults that would stop a start, for a year of standing [1/year].
    standing_h
        Hours since it last ran [h].

    Returns
    -------
    float
        Probability [fraction].

    References
    ----------
    Constant rate of hidden faults, general reliability text; unverified.

    Examples
    --------
    >>> round(start_frac(0.99, 1.0, 8766 / 2), 3)
    0.6
    """
    rate = standing_faults_per_y / HOURS_PER_YEAR
    return start_probability_frac * math.exp(-rate * standing_h)


def failure_risk_frac(
    start_probability_frac: float,
    standing_faults_per_y: float,
    idle_h: float,
    exercise_h: float | None = None,
) -> float:
    """Return the probability that a set fails when it is needed [fraction].

    Parameters
    ----------
    start_probability_frac, standing_faults_per_y
        As in `start_frac` [fraction, 1/year].
    idle_h
        How long nobody needed it before [h].
    exercise_h
        Time between exercises, None without [h].

    Returns
    -------
    float
        Probability that the start fails [fraction].

    Notes
    -----
    An exercise under load shows a hidden fault, and somebody repairs it: what can
    still be hidden grew since the last one, half an exercise interval ago in the mean.
    Repair takes no time here; the hourly run lets it wait for access.

    References
    ----------
    Mean of an unrevealed fault over the proof interval, general reliability text; from
    memory.

    Examples
    --------
    >>> round(failure_risk_frac(0.99, 0.5, 4383.0), 3)
    0.229
    >>> round(failure_risk_frac(0.99, 0.5, 4383.0, 168.0), 3)
    0.015
    """
    since = idle_h if exercise_h is None else min(idle_h, exercise_h / 2.0)
    return 1.0 - start_frac(start_probability_frac, standing_faults_per_y, since)


def at_least_one_frac(risk_frac: float, starts: float) -> float:
    """Return the probability of at least one failed start [fraction].

    Parameters
    ----------
    risk_frac
        Probability that one start fails [fraction].
    starts
        Starts asked for [count].

    Returns
    -------
    float
        Probability [fraction].

    References
    ----------
    Independent trials.

    Examples
    --------
    >>> round(at_least_one_frac(0.01, 40), 2)
    0.33
    """
    return float(1.0 - (1.0 - risk_frac) ** starts)
