"""Dark runs pass over a 29 February that the calendar of the record leaves out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from powerbudget.sizing.deficit_periods import calendar_days


def hours(first: str, last: str, offset_h: int = 0, *, drop: tuple[str, ...] = ()):
    """Return local starts of hours; days are dropped by the clock of the file."""
    own = np.arange(np.datetime64(first, "h"), np.datetime64(last, "h"))
    kept = ~np.isin(own.astype("datetime64[D]"), np.array(drop, "datetime64[D]"))
    return own[kept] + np.timedelta64(offset_h, "h")


def laid_out(start):
    """Return days and dates of hours, and how many hours each day has."""
    date = start.astype("datetime64[D]")
    day = (date - date[0]).astype(np.int64)
    place, dates = calendar_days(day, date[0], 24)
    return place, dates, np.bincount(place, minlength=dates.size)


@given(st.integers(-12, 14))
def test_a_left_out_leap_day_leaves_no_gap_whatever_the_clock(offset):
    """From 1 January 2003 to 2006 there are then 1,095 days, the inner ones whole."""
    start = hours("2003-01-01", "2006-01-01", offset, drop=("2004-02-29",))
    _, dates, counts = laid_out(start)
    assert (counts[1:-1] == 24).all()
    assert counts.sum() == 3 * 365 * 24
    days = {str(d) for d in dates}
    assert "2004-02-29" not in days
    assert {"2004-02-28", "2004-03-01"} <= days


def test_a_leap_day_that_is_there_stays():
    """A record of real days keeps its 366."""
    _, dates, counts = laid_out(hours("2004-01-01", "2005-01-01"))
    assert dates.size == 366
    assert (counts == 24).all()


@pytest.mark.parametrize("gap", ["2004-02-27", "2004-07-14", "2003-02-28"])
def test_any_other_day_that_is_missing_ends_a_run(gap):
    """Only the 29 February may be missing without being missed."""
    _, dates, counts = laid_out(hours("2003-01-01", "2006-01-01", drop=(gap,)))
    at = [str(d) for d in dates].index(gap)
    assert counts[at] == 0


def test_a_part_of_a_leap_day_ends_a_run():
    """Some hours lost on a 29 February that the record has are a gap."""
    start = hours("2004-02-01", "2004-04-01")
    start = np.delete(start, slice(28 * 24 + 5, 28 * 24 + 9))
    _, dates, counts = laid_out(start)
    assert counts[28] == 20
    assert str(dates[28]) == "2004-02-29"


def test_a_record_without_sun_is_one_run(prepared):
    """Without panels every day is dark: 1,825 in a row, not 1,154 to the leap day."""
    from powerbudget.sizing.deficit_periods import dark_runs

    problem = prepared("propane-relay")
    for run in dark_runs(problem):
        assert run.days == problem.record.n // 24 == 1825
        assert run.days_per_year == pytest.approx(365.0, rel=1e-3)
        assert run.start == "2001-01-01"
