"""Monthly means on a tilted plane by hand; the formulas live with the sky."""

from powerbudget.weather.geometry import (
    MEAN_DAYS,
    SOLAR_CONSTANT_W_M2,
    beam_ratio_monthly,
    day_length_h,
    declination_deg,
    distance_factor,
    erbs_monthly_diffuse_frac,
    extraterrestrial_daily_mj_m2,
    monthly_tilted_mj_m2,
    sunset_angle_deg,
)

__all__ = [
    "MEAN_DAYS",
    "SOLAR_CONSTANT_W_M2",
    "beam_ratio_monthly",
    "day_length_h",
    "declination_deg",
    "distance_factor",
    "erbs_monthly_diffuse_frac",
    "extraterrestrial_daily_mj_m2",
    "monthly_tilted_mj_m2",
    "sunset_angle_deg",
]
