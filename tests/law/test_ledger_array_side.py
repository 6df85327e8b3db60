"""The array's side of the ledger, worked out a second way: from the light and the diode.

Nothing here reads the column that the kernel reads, nor what the stages made: the light
is transposed again and the diode's curve is walked along, watt by watt.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pvlib import iam, irradiance, solarposition

from powerbudget.balance.simulation import simulate_size
from powerbudget.site.scenario import Scenario
from powerbudget.weather.record import day_of_year

BOLTZMANN_EV_K = 8.617333262e-5
"""CODATA 2018 [eV/K]."""
CASES = {
    "as written": {},
    "half the sun": {"sun_factor": 0.5},
    "a third more sun, flat": {"sun_factor": 1.3, "tilt_deg": 20.0},
    "three strings": {"array_strings": 3},
    "longer strings, dirty": {"modules_in_series": 2, "soiling_frac": 0.1},
    "cold and dark": {"sun_factor": 0.77, "temperature_shift_k": -15.0},
    "held at battery voltage": {"charge_controller": "pwm"},
    "held at battery voltage, half the sun": {
        "charge_controller": "pwm",
        "sun_factor": 0.5,
    },
}


def light_w_m2(record, array):
    """Return light on the plane and behind the glass, from the record as written."""
    when = pd.DatetimeIndex(record.start_utc.astype("datetime64[ns]")).tz_localize(
        "UTC"
    )
    when = when + pd.Timedelta(hours=record.sun_offset_h)
    sun = solarposition.get_solarposition(
        when, record.latitude_deg, record.longitude_deg, altitude=record.elevation_m
    )
    way = (array.tilt_deg, array.azimuth_deg)
    own = record.albedo_frac
    light = irradiance.get_total_irradiance(
        *way,
        sun["apparent_zenith"].to_numpy(),
        sun["azimuth"].to_numpy(),
        record.dni_w_m2,
        record.ghi_w_m2,
        record.dhi_w_m2,
        dni_extra=irradiance.get_extra_radiation(day_of_year(record.sun_utc)),
        albedo=np.where(np.isfinite(own), own, array.albedo_frac),
        model="perez",
    )
    light = {name: np.nan_to_num(values) for name, values in light.items()}
    aoi = irradiance.aoi(*way, sun["apparent_zenith"], sun["azimuth"]).to_numpy()
    shares = iam.marion_diffuse("physical", array.tilt_deg)
    behind = (
        light["poa_direct"] * iam.physical(aoi)
        + light["poa_sky_diffuse"] * shares["sky"]
        + light["poa_ground_diffuse"] * np.nan_to_num(shares["ground"])
    )
    return light["poa_global"], np.nan_to_num(behind)


def curve(module, light, cell_degc):
    """Return volts and amperes of a module along its curve, one row an hour.

    De Soto, Klein & Beckman, Solar Energy 80 (2006), 78-88; the voltage across the
    diode is walked along, so that nothing has to be solved.
    """
    kelvin, at_25 = cell_degc[:, None] + 273.15, 298.15
    gap = module.band_gap_ev * (1 + module.band_gap_per_k * (kelvin - at_25))
    photo = (
        light[:, None]
        / 1000
        * (module.photocurrent_a + module.photocurrent_a_per_k * (kelvin - at_25))
    )
    grow = module.band_gap_ev / at_25 - gap / kelvin
    dark = module.saturation_a * (kelvin / at_25) ** 3 * np.exp(grow / BOLTZMANN_EV_K)
    ideality = module.modified_ideality_v * kelvin / at_25
    shunt = module.shunt_ohm * 1000 / light[:, None]
    most = ideality * np.log1p(photo / dark)
    diode_v = most * np.linspace(0.3, 1.0, 700)
    amps = photo - dark * np.expm1(diode_v / ideality) - diode_v / shunt
    return diode_v - amps * module.series_ohm, amps


@pytest.mark.parametrize("name", sorted(CASES))
def test_the_array_side_of_the_ledger_is_that_of_light_and_diode(prepared, name):
    """What comes in, what is lost on the way and what is offered agree with the light."""
    changes = CASES[name]
    written = prepared("starter")
    run = simulate_size(written.under(Scenario(**changes)))
    problem, terms = run.problem, run.ledger.terms_wh
    array, step = problem.design.tables.array, problem.record.step_h
    assert array.snow is None
    assert array.horizon is None
    factor, shift_k = (
        changes.get("sun_factor", 1.0),
        changes.get("temperature_shift_k", 0),
    )
    record = written.under(Scenario(sun_factor=factor)).record
    on_plane, behind = light_w_m2(record, array)
    assert record.ghi_w_m2 == pytest.approx(factor * written.record.ghi_w_m2)
    module = problem.array.module
    pieces = array.series * array.parallel
    rated_wh = pieces * module.power_w / 1000 * on_plane.sum() * step
    assert run.ledger.array_wh == pytest.approx(rated_wh, rel=1e-6)

    clean = behind * (1 - array.soiling_frac)
    lit = clean > 0.01
    air = written.record.temp_air_degc + shift_k
    # Faiman, Progress in Photovoltaics 16 (2008), 307-315: 25 W/m2K and 6.84 Ws/m3K.
    cell = air + on_plane / (25.0 + 6.84 * written.record.wind_speed_m_s)
    volts, amps = curve(module, clean[lit], cell[lit])
    kept = (1 - array.mismatch_frac) * (1 - array.wiring_frac) * (1 - array.ageing_frac)
    best_wh = kept * pieces * (volts * amps).max(axis=1).sum() * step
    lost_wh = sum(wh for term, wh in terms.items() if term.startswith("array: "))
    # 700 steps along the curve miss its top by less than a hundred-thousandth.
    assert run.ledger.array_wh - lost_wh == pytest.approx(best_wh, rel=2e-5)

    used_wh = (run.out["array_a"] * run.out["bus_v"]).sum() * step
    regulator = problem.design.tables.regulator
    if regulator.kind == "mppt":
        assert terms["regulator conversion"] == pytest.approx(
            (1 - regulator.efficiency_frac) * best_wh, rel=1e-4
        )
        offered_wh = regulator.efficiency_frac * best_wh
    else:
        at_v = (run.out["bus_v"][lit] + regulator.drop_v) / array.series
        held_a = np.array(
            [
                np.interp(v, row_v, row_a)
                for v, row_v, row_a in zip(at_v, volts, amps, strict=True)
            ]
        )
        offered_wh = kept * array.parallel * array.series * (held_a * at_v).sum() * step
        used_wh += terms["regulator drop"]
    # The kernel reads a direct connection's current between 13 voltages: 1 %.
    tolerance = 1e-4 if regulator.kind == "mppt" else 1e-2
    assert used_wh + terms["spilled"] == pytest.approx(offered_wh, rel=tolerance)
