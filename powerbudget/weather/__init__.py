"""The hourly sky: files, shipped records, audit, sun, monthly means, dark spells."""

from powerbudget.weather.files import (
    RECORDS,
    read_file,
    read_files,
    read_record,
)
from powerbudget.weather.record import WeatherRecord
from powerbudget.weather.site_record import read_weather
from powerbudget.weather.summary import (
    MonthMean,
    Spell,
    daily_ghi_kwh_m2,
    monthly_means,
    worst_spells,
)
from powerbudget.weather.sun import SunPosition, sun_position

__all__ = [
    "RECORDS",
    "MonthMean",
    "Spell",
    "SunPosition",
    "WeatherRecord",
    "daily_ghi_kwh_m2",
    "monthly_means",
    "read_file",
    "read_files",
    "read_record",
    "read_weather",
    "sun_position",
    "worst_spells",
]
