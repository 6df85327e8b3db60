"""Tilt and azimuth for the worst weeks, not for the sum of the year."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from powerbudget.array.snow import snow_lost_frac
from powerbudget.array.string_output import albedo_of, soiling_frac
from powerbudget.balance.arrayload import asked_w
from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import simulate_size
from powerbudget.errors import Fault, InputError
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario
from powerbudget.site.sizing import Steps
from powerbudget.site.tables import Array
from powerbudget.weather import sun_position
from powerbudget.weather.horizon import with_horizon
from powerbudget.weather.plane import plane_of_array
from powerbudget.weather.runs import window_sums

Floats = NDArray[np.float64]
WINDOW_DAYS = 21
"""Length of the weeks that decide; three weeks outlast most batteries [days]."""
TILTS_DEG = tuple(float(tilt) for tilt in range(0, 91, 5))
TURNS_DEG = (-45.0, -30.0, -15.0, 15.0, 30.0, 45.0)
TROPIC_DEG = 23.44
"""Between the tropics the sun stands on either side, and both are tried [deg]."""
DARK_KWH, LONGEST_DAYS = 0.01, 200
"""Weeks with less light than this on every plane are a polar night, which says nothing
about planes: longer ones are looked at, up to so many days [kWh/m2/day, days]."""
TIE_FRAC = 0.01
"""Planes this close to the best count as equal, and the steepest is taken: it sheds
snow and dirt [fraction]."""


@dataclass(frozen=True)
class TiltRow:
    """One way for the panel to stand.

    Parameters
    ----------
    tilt_deg, azimuth_deg
        How it stands [deg].
    worst_kwh_m2_day
        Light behind the glass in the worst weeks [kWh/m2].
    worst_start
        Their first day [ISO text].
    year_kwh_m2_day
        Mean of all years [kWh/m2].
    worst_share
        Light over load in the worst weeks, as a share of the best row's [fraction].
    """

    tilt_deg: float
    azimuth_deg: float
    worst_kwh_m2_day: float
    worst_start: str
    year_kwh_m2_day: float
    worst_share: float


@dataclass(frozen=True)
class TiltSearch:
    """What the search for an orientation found.

    Parameters
    ----------
    pick
        The plane to take.
    for_year
        The plane with the most light in a year, for comparison.
    as_written
        The plane in the site file.
    rows
        Every plane tried.
    window_days
        Length of the weeks that decide [days].
    """

    pick: TiltRow
    for_year: TiltRow
    as_written: TiltRow
    rows: tuple[TiltRow, ...]
    window_days: int


def search_tilt(problem: Problem, window_days: int = WINDOW_DAYS) -> TiltSearch:
    """Return the plane whose worst weeks give most for the load.

    Parameters
    ----------
    problem
        A prepared site; horizon, snow, soiling and albedo count.
    window_days
        Length of the weeks that decide [days].

    Returns
    -------
    TiltSearch
        Pick, the year's best for comparison, and every plane tried.

    Notes
    -----
    The load is that of the array-to-load ratio, with the panels as written.  The worst
    weeks are sought anew for every plane, since a steep one has them at another time;
    those of a typical year may go on past its end.  First the tilt facing the equator
    (between the tropics the pole too), then turns of up to 45 deg at the best tilt; a
    turn must gain 1 % to be taken.
    Where no plane has light in the worst weeks, twice as many are taken, so that what
    stands before and after a polar night decides.
    """
    panels = with_horizon(problem.design.tables.array, problem.design.folder)
    need = _by_day(problem, asked_w(simulate_size(problem)))
    stands = _stands(problem.record.latitude_deg)

    def row(tilt: float, azimuth: float) -> tuple[TiltRow, float]:
        return _row(problem, panels, need, (tilt, azimuth), window_days)

    tried = [row(tilt, azimuth) for tilt, azimuth in stands]
    best = _steepest_of_best(tried)
    if best[0].worst_kwh_m2_day < DARK_KWH and 2 * window_days <= LONGEST_DAYS:
        return search_tilt(problem, 2 * window_days)
    turns = [(best[0].azimuth_deg + turn) % 360.0 for turn in TURNS_DEG]
    tried += [row(best[0].tilt_deg, azimuth) for azimuth in turns]
    turned = max(tried, key=lambda item: item[1])
    if turned[1] > (1.0 + TIE_FRAC) * best[1]:
        best = turned
    written = row(panels.tilt_deg, panels.azimuth_deg)
    top = max(score for _, score in [*tried, written])
    rows = [_shared(item, top) for item in tried]
    return TiltSearch(
        pick=_shared(best, top),
        for_year=max(rows, key=lambda item: item.year_kwh_m2_day),
        as_written=_shared(written, top),
        rows=tuple(rows),
        window_days=window_days,
    )


def _stands(latitude_deg: float) -> list[tuple[float, float]]:
    """Return tilts and azimuths to try first [deg]."""
    equator = 180.0 if latitude_deg >= 0 else 0.0
    found = [(tilt, equator) for tilt in TILTS_DEG]
    if abs(latitude_deg) < TROPIC_DEG:
        found += [(tilt, 180.0 - equator) for tilt in TILTS_DEG if tilt > 0]
    return found


def _steepest_of_best(tried: list[tuple[TiltRow, float]]) -> tuple[TiltRow, float]:
    top = max(score for _, score in tried)
    near = [item for item in tried if item[1] >= (1.0 - TIE_FRAC) * top]
    return max(near, key=lambda item: item[0].tilt_deg)


def _shared(item: tuple[TiltRow, float], top: float) -> TiltRow:
    row, score = item
    return replace(row, worst_share=score / top if top > 0 else 0.0)


def _by_day(problem: Problem, values: Floats) -> Floats:
    sums = np.bincount(problem.record.day_number, weights=values)
    return np.asarray(sums * (problem.record.step_h / 1000.0), dtype=np.float64)


def _row(
    problem: Problem,
    panels: Array,
    need: Floats,
    stand: tuple[float, float],
    window_days: int,
) -> tuple[TiltRow, float]:
    record, (tilt, azimuth) = problem.record, stand
    panels = turned_design(problem.design, tilt, azimuth).tables.array
    plane = plane_of_array(
        record,
        sun_position(record),
        tilt_deg=tilt,
        azimuth_deg=azimuth,
        albedo_frac=albedo_of(record, panels),
        horizon=panels.horizon,
    )
    kept = 1.0 - snow_lost_frac(record, plane.global_w_m2, panels)
    kept = kept * (1.0 - soiling_frac(record, panels))
    light = _by_day(problem, plane.effective_w_m2 * kept)
    days = min(window_days, light.size)
    got = window_sums(light, days, ring=record.typical_year)
    asked = window_sums(need, days, ring=record.typical_year)
    ratio = got / np.maximum(asked, 1e-9)
    at = int(np.argmin(ratio))
    first = record.day_local[0] + np.timedelta64(at, "D")
    mean = float(light.sum()) / (record.n * record.step_h / 24.0)
    return TiltRow(tilt, azimuth, float(got[at]) / days, str(first), mean, 0.0), float(
        ratio[at]
    )


def turned_design(design: Design, tilt_deg: float, azimuth_deg: float) -> Design:
    """Return the design with its panels standing another way.

    Parameters
    ----------
    design
        A checked site.
    tilt_deg, azimuth_deg
        How they are to stand [deg].

    Returns
    -------
    Design
        Otherwise the same.
    """
    return Scenario(tilt_deg=tilt_deg, azimuth_deg=azimuth_deg).site(design)


def tilted_design(design: Design, words: str) -> Design:
    """Return the design with one tilt in place of its own, or with tilts to try.

    Parameters
    ----------
    design
        A checked site.
    words
        An angle such as ``"70 deg"``; several, or ``"auto"``, go to ``[sizing]
        tilts`` [text].

    Returns
    -------
    Design
        Otherwise the same.

    Raises
    ------
    InputError
        When the text is neither.
    """
    try:
        tilts = Steps.model_validate({"tilts": words.strip()}).tilts
    except ValidationError as exc:
        problem = "is neither 'search', 'auto' nor angles from 0 to 90 deg"
        fault = Fault("--tilt", problem, words, "'70 deg' or '50 65 80 deg'")
        raise InputError(fault) from exc
    if isinstance(tilts, tuple) and len(tilts) == 1:
        return turned_design(design, tilts[0], design.tables.array.azimuth_deg)
    steps = design.tables.sizing.model_copy(update={"tilts": tilts})
    return Scenario(sizing=steps).site(design)
