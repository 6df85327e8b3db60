"""Sun position against a second library from the registries."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from powerbudget.weather import read_record, sun_position


@pytest.mark.parametrize("name", ["sand-point", "greensboro", "miami"])
def test_sun_of_a_year_agrees_with_astral(name):
    """Elevation and azimuth at the middle of 300 hours lie within 0.1 and 0.2 deg."""
    # astral (NOAA solar equations, stated good to about 0.01 deg in position between
    # 1950 and 2050 below 72 deg latitude; both take refraction near the horizon).
    astral = pytest.importorskip("astral")
    from astral.sun import azimuth, elevation

    record = read_record(name)
    sun = sun_position(record)
    place = astral.Observer(record.latitude_deg, record.longitude_deg)
    checked = 0
    for k in np.linspace(0, record.n - 1, 300).astype(int):
        moment = record.sun_utc[k].astype("datetime64[s]").item()
        at = moment.replace(tzinfo=dt.UTC)
        high = elevation(place, at, with_refraction=True)
        # Refraction models part company close to the horizon, azimuths at the zenith.
        if not 5.0 < high < 85.0:
            continue
        checked += 1
        assert 90.0 - sun.zenith_deg[k] == pytest.approx(high, abs=0.1)
        turn = (sun.azimuth_deg[k] - azimuth(place, at) + 180.0) % 360.0 - 180.0
        assert abs(turn) < 0.2 / np.cos(np.radians(high))
    assert checked > 100
