"""The table `[ensemble]`: what differs from year to year, and what nobody knows."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from powerbudget.site.fields import Fraction, Strict
from powerbudget.site.load import LossShare


class Spread(Strict):
    """Ranges from which every year of an ensemble draws.

    The load runs from what `run` uses to every line at its highest figure while it
    is on; dirt and derating come on top of the site file's.
    """

    years_from: Literal["auto", "made", "record"] = "auto"
    load_to_maximum_frac: Fraction = Field(1.0, alias="load_to_maximum")
    cold_curves: Literal["between", "own"] = "between"
    more_soiling_frac: LossShare = Field(0.05, alias="more_soiling")
    snow: Literal["between", "own"] = "between"
    module_derate_frac: LossShare = Field(0.0, alias="module_derate")


def no_spread() -> Spread:
    """Return ranges of no width: years differ by their weather alone [table]."""
    return Spread(
        load_to_maximum=0.0,
        cold_curves="own",
        more_soiling=0.0,
        snow="own",
        module_derate=0.0,
    )
