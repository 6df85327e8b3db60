"""What is told of one site of a fleet."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class FleetRow:
    """One site of a folder and how it does; empty figures where it could not be used.

    Parameters
    ----------
    file, name
        Site file below the folder, and the site's name [text].
    latitude_deg, longitude_deg
        Where it stands [deg].
    wh_per_day
        Load at the bus in the heaviest month, contingency included [Wh/day].
    array_w, battery_ah
        Rated panel power and name-plate Ah at the bus [W, Ah].
    availability_frac, lowest_soc_frac
        From the simulation [fraction].
    lowest_soc_at
        When the charge was lowest, on the site's clock [text].
    autonomy_design_days, autonomy_record_days
        From full in the cold, and the shortest from any hour of the record [d].
    met
        Whether every criterion is met; None when the site could not be used.
    failed
        Criteria that are not met [text].
    pick_array_w, pick_battery_ah, pick_cost
        What `size` would buy, where it was asked for and found [W, Ah, currency].
    typical_year
        Whether the weather is a typical year, which hides bad winters.
    fault
        Why the site could not be used, empty when it could [text].
    """

    file: str
    name: str = ""
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    wh_per_day: float | None = None
    array_w: float | None = None
    battery_ah: float | None = None
    availability_frac: float | None = None
    lowest_soc_frac: float | None = None
    lowest_soc_at: str = ""
    autonomy_design_days: float | None = None
    autonomy_record_days: float | None = None
    met: bool | None = None
    failed: str = ""
    pick_array_w: float | None = None
    pick_battery_ah: float | None = None
    pick_cost: float | None = None
    typical_year: bool | None = None
    fault: str = ""
