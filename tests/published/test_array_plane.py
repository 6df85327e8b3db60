"""Plane-of-array irradiance against monthly means worked out independently."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pvlib
import pytest

from powerbudget.weather.plane import diffuse_passed_frac, plane_of_array
from powerbudget.weather.record import WeatherRecord
from powerbudget.weather.sun import sun_position

DATA = Path(pvlib.__file__).parent / "data"
DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
NAMES = {
    "greensboro": "723170TYA.CSV",
    "miami": "12839.tm2",
    "sandpoint": "703165TY.csv",
}

# Typical-year files shipped with pvlib; Perez 1990 and isotropic sky, albedo 0.2, sun
# at mid-hour by the Solar Position Algorithm.  kWh/m2 a day, January to December and
# year; figures computed for this project apart from its code.
ROWS = {
    ("greensboro", 36.1, "isotropic"): (
        3.43, 4.09, 4.85, 5.48, 5.25, 5.60, 5.53, 5.45, 4.80, 4.41, 3.40, 3.45, 4.65),
    ("greensboro", 36.1, "perez"): (
        3.69, 4.35, 5.10, 5.67, 5.33, 5.66, 5.61, 5.65, 5.06, 4.70, 3.70, 3.75, 4.86),
    ("greensboro", 90.0, "perez"): (
        3.43, 3.66, 3.53, 3.07, 2.41, 2.25, 2.36, 2.85, 3.27, 3.68, 3.37, 3.68, 3.13),
    ("miami", 10.8, "perez"): (
        4.03, 4.93, 5.47, 6.29, 5.96, 5.64, 5.88, 5.71, 5.09, 4.72, 4.02, 3.91, 5.14),
    ("miami", 25.8, "isotropic"): (
        4.33, 5.15, 5.49, 6.07, 5.61, 5.29, 5.52, 5.45, 4.99, 4.81, 4.27, 4.23, 5.10),
    ("miami", 90.0, "perez"): (
        4.05, 4.08, 3.31, 2.56, 1.80, 1.65, 1.76, 2.20, 2.72, 3.49, 3.83, 4.16, 2.96),
    ("sandpoint", 55.3, "isotropic"): (
        1.14, 1.64, 2.17, 3.25, 2.96, 3.29, 4.55, 2.62, 3.99, 2.73, 1.62, 1.34, 2.61),
    ("sandpoint", 70.3, "isotropic"): (
        1.17, 1.62, 2.03, 2.96, 2.60, 2.87, 3.94, 2.35, 3.77, 2.72, 1.67, 1.42, 2.43),
    ("sandpoint", 70.3, "perez"): (
        1.42, 1.87, 2.24, 3.14, 2.66, 2.91, 4.10, 2.44, 4.13, 3.03, 1.92, 1.62, 2.63),
    ("sandpoint", 90.0, "perez"): (
        1.37, 1.72, 1.92, 2.54, 2.03, 2.19, 3.04, 1.94, 3.53, 2.79, 1.85, 1.61, 2.21),
}  # fmt: skip


@pytest.fixture(scope="module")
def records():
    """Return the three shipped typical years, all labelled 1990."""
    return {name: _record(DATA / file) for name, file in NAMES.items()}


def _record(path):
    if path.suffix == ".tm2":
        frame, meta = pvlib.iotools.read_tmy2(path)
        columns = (frame["GHI"], frame["DNI"], frame["DHI"])
        air, wind = frame["DryBulb"] / 10.0, frame["Wspd"] / 10.0
    else:
        frame, meta = pvlib.iotools.read_tmy3(path, map_variables=True)
        columns = (frame["ghi"], frame["dni"], frame["dhi"])
        air, wind = frame["temp_air"], frame["wind_speed"]
    first = np.datetime64("1990-01-01T00:00:00") - np.timedelta64(int(meta["TZ"]), "h")
    return WeatherRecord(
        start_utc=first + np.arange(8760) * np.timedelta64(3600, "s"),
        step_h=1.0,
        latitude_deg=meta["latitude"],
        longitude_deg=meta["longitude"],
        elevation_m=meta["altitude"],
        utc_offset_h=meta["TZ"],
        **dict(
            zip(
                ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "temp_air_degc", "wind_speed_m_s"),
                (np.asarray(x, dtype=float) for x in (*columns, air, wind)),
                strict=True,
            )
        ),
        albedo_frac=None,
        typical_year=True,
        source=path.name,
        label="start",
    )


@pytest.mark.parametrize(("name", "tilt_deg", "sky"), ROWS)
def test_monthly_plane_sums(records, name, tilt_deg, sky):
    """Monthly and yearly means on the plane agree to the printed two decimals."""
    record = records[name]
    plane = plane_of_array(
        record,
        sun_position(record),
        tilt_deg=tilt_deg,
        azimuth_deg=180.0,
        albedo_frac=0.2,
        sky=sky,
    )
    kwh = np.bincount(record.month, plane.global_w_m2, minlength=13)[1:] / 1000.0
    found = [*(kwh / DAYS), kwh.sum() / 365.0]
    # Half of the last printed digit, and 0.0005 for the last digits of the sun.
    np.testing.assert_allclose(found, ROWS[name, tilt_deg, sky], atol=0.0055)


def test_components_add_up(records):
    """Beam, sky and ground make the whole, none negative or missing, dark at night."""
    record = records["sandpoint"]
    sun = sun_position(record)
    plane = plane_of_array(
        record, sun, tilt_deg=60.0, azimuth_deg=180.0, albedo_frac=0.2
    )
    parts = (plane.beam_w_m2, plane.sky_diffuse_w_m2, plane.ground_diffuse_w_m2)
    np.testing.assert_allclose(sum(parts), plane.global_w_m2, atol=1e-9)
    for part in (*parts, plane.effective_w_m2):
        assert (part >= 0).all()
    assert (plane.effective_w_m2 <= plane.global_w_m2 + 1e-9).all()
    night = record.ghi_w_m2 + record.dni_w_m2 + record.dhi_w_m2 == 0
    assert plane.global_w_m2[night].max() == 0.0


@pytest.mark.parametrize("tilt_deg", [20.0, 45.0, 60.0, 90.0])
def test_diffuse_incidence(tilt_deg):
    """The share of diffuse light behind the glass equals a brute-force dome sum."""
    # Twin of the library's numerical method: random directions over each dome,
    # weighted by the cosine to the plane; compared to 0.004.
    found = diffuse_passed_frac(tilt_deg)
    assert found == pytest.approx(_dome_means(tilt_deg), abs=0.004)


def _dome_means(tilt_deg):
    rng = np.random.default_rng(7)
    rays = rng.normal(size=(200_000, 3))
    rays /= np.linalg.norm(rays, axis=1)[:, None]
    tilt = np.radians(tilt_deg)
    cosine = rays @ np.array([np.sin(tilt), 0.0, np.cos(tilt)])
    passed = pvlib.iam.physical(np.degrees(np.arccos(np.clip(cosine, -1, 1))))
    seen = np.maximum(cosine, 0.0)
    return tuple(
        (passed * seen)[side].sum() / seen[side].sum()
        for side in (rays[:, 2] > 0, rays[:, 2] < 0)
    )
