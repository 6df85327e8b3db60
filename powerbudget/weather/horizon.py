"""Hills around the panel: the beam that they cut off, the sky that they hide."""

from __future__ import annotations

import csv
import io
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from powerbudget.errors import DataError, Fault, InputError
from powerbudget.reading import PAGE_BYTES, read_text

if TYPE_CHECKING:
    from powerbudget.site.tables import Array

FloatArray = npt.NDArray[np.float64]
Points = tuple[tuple[float, float], ...]
_STEP_DEG = 2.0


def horizon_deg(points: Points, azimuth_deg: FloatArray) -> FloatArray:
    """Return the height of the horizon in each direction [deg].

    Parameters
    ----------
    points
        Pairs of azimuth, clockwise from north, and height [deg].
    azimuth_deg
        Directions wanted [deg].

    Returns
    -------
    numpy.ndarray
        Straight lines between the points, all the way round [deg].

    Examples
    --------
    >>> horizon_deg(((90.0, 10.0), (270.0, 0.0)), np.array([90.0, 180.0, 0.0])).tolist()
    [10.0, 5.0, 5.0]
    """
    around = np.array(sorted(points), dtype=float)
    height: FloatArray = np.interp(
        azimuth_deg, around[:, 0], around[:, 1], period=360.0
    )
    return height


def beam_open(
    points: Points, zenith_deg: FloatArray, azimuth_deg: FloatArray
) -> npt.NDArray[np.bool_]:
    """Return whether the sun stands over the horizon, by interval [bool].

    Parameters
    ----------
    points
        Horizon [deg].
    zenith_deg, azimuth_deg
        Of the sun [deg].

    Returns
    -------
    numpy.ndarray
        True where its beam arrives [bool].
    """
    clear: npt.NDArray[np.bool_] = 90.0 - zenith_deg >= horizon_deg(points, azimuth_deg)
    return clear


@lru_cache(maxsize=256)
def sky_seen_frac(points: Points, tilt_deg: float, azimuth_deg: float) -> float:
    """Return the share of its sky light that a plane keeps [fraction].

    Parameters
    ----------
    points
        Horizon [deg].
    tilt_deg, azimuth_deg
        How the plane stands [deg].

    Returns
    -------
    float
        1 with a level horizon [fraction].

    Notes
    -----
    The cosine-weighted part of an evenly bright sky that the plane sees and no hill
    hides, over the part that it sees on open ground, on a grid of 2 deg.

    Examples
    --------
    >>> round(sky_seen_frac(((0.0, 30.0),), 0.0, 180.0), 3)
    0.75
    """
    azimuth = np.arange(_STEP_DEG / 2, 360.0, _STEP_DEG)
    height = np.radians(np.arange(0.25, 90.0, 0.5))[:, None]
    turn = np.radians(azimuth - azimuth_deg)[None, :]
    tilt = np.radians(tilt_deg)
    upright = np.cos(height) * np.sin(tilt) * np.cos(turn)
    facing = np.sin(height) * np.cos(tilt) + upright
    light = np.maximum(facing, 0.0) * np.cos(height)
    seen = height >= np.radians(horizon_deg(points, azimuth))[None, :]
    return float((light * seen).sum() / light.sum())


def check_points(points: Points, where: str) -> None:
    """Refuse a horizon that cannot be.

    Parameters
    ----------
    points
        Pairs of azimuth and height [deg].
    where
        Key or file, for messages [text].

    Returns
    -------
    None
        Nothing, when they can be [none].

    Raises
    ------
    InputError
        When a direction or a height is out of range, or a direction comes twice.
    """
    for azimuth, height in points:
        if not (0.0 <= azimuth <= 360.0 and -5.0 <= height < 90.0):
            raise InputError(
                Fault(
                    where, "has an impossible point", f"{azimuth:g}, {height:g}",
                    "azimuth 0 to 360 deg clockwise from north, height 0 to 89 deg",
                )
            )  # fmt: skip
    turned = [azimuth for azimuth, _ in points if azimuth < 360.0]
    if not points or len(set(turned)) != len(turned):
        raise InputError(
            Fault(where, "needs one point or more, and each direction once")
        )


def read_horizon(path: Path) -> Points:
    """Return the horizon in a table of two columns [deg].

    Parameters
    ----------
    path
        CSV: azimuth clockwise from north, height; a line of heads is passed over
        [path].

    Returns
    -------
    tuple
        Pairs [deg].

    Raises
    ------
    InputError
        When there is no such file.
    DataError
        When a row is not two numbers.
    """
    fault = Fault("array.horizon_file", "", str(path), "a CSV file")
    text = read_text(path, PAGE_BYTES, fault)
    points = []
    for number, row in enumerate(csv.reader(io.StringIO(text)), start=1):
        if not "".join(row).strip():
            continue
        try:
            azimuth, height = (float(cell) for cell in row[:2])
        except ValueError as exc:
            if number == 1:
                continue
            raise DataError(
                f"{path.name}: line {number} is not azimuth, height in degrees"
            ) from exc
        points.append((azimuth, height))
    check_points(tuple(points), path.name)
    return tuple(points)


def with_horizon(array: Array, folder: Path) -> Array:
    """Return the array with its horizon read from a file, where it names one [table].

    Parameters
    ----------
    array
        ``[array]`` [table].
    folder
        Folder of the site file [path].

    Returns
    -------
    Array
        With ``horizon`` filled in [table].

    Raises
    ------
    InputError
        When both are given, or a point cannot be.
    """
    if array.horizon_file is None:
        if array.horizon is not None:
            check_points(array.horizon, "array.horizon")
        return array
    if array.horizon is not None:
        raise InputError(
            Fault("array.horizon", "and horizon_file are both given", allowed="one")
        )
    points = read_horizon(folder / array.horizon_file)
    return array.model_copy(update={"horizon": points, "horizon_file": None})
