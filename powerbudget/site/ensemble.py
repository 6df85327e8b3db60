"""The table `[ensemble]`: what differs from year to year, and what nobody knows."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from powerbudget.site.fields import Fraction, Strict
from powerbudget.site.load import LossShare


class Spread(Strict):
    """Input ranges of the Monte Carlo simulation.

    The load runs from that of `run` to every load at its high value while it is on;
    soiling and derating are added to those of the site file.
    """

    years_from: Literal["auto", "made", "record"] = Field(
        "auto",
        description="Weather of the trials: synthetic years, the years of the weather file, "
        "or automatic choice.",
        examples=["auto"],
    )
    load_to_maximum_frac: Fraction = Field(
        1.0,
        alias="load_to_maximum",
        description="Upper end of the load range: 0 % is the load of `run`, 100 % every "
        "load at its high value.",
        examples=["100 %"],
    )
    cold_curves: Literal["between", "own"] = Field(
        "between",
        description="Temperature derating of the trials: between the two built-in "
        "curves, or the site's own.",
        examples=["between"],
    )
    more_soiling_frac: LossShare = Field(
        0.05,
        alias="more_soiling",
        description="Largest soiling loss added to that of the site file.",
        examples=["5 %"],
    )
    snow: Literal["between", "own"] = Field(
        "between",
        description="Snow loss of the trials: between none and [array.snow], or the "
        "site's own.",
        examples=["between"],
    )
    module_derate_frac: LossShare = Field(
        0.0,
        alias="module_derate",
        description="Largest module derating added to the losses of the site file.",
        examples=["3 %"],
    )


def no_spread() -> Spread:
    """Return ranges of no width: years differ by their weather alone [table]."""
    return Spread(
        load_to_maximum=0.0,
        cold_curves="own",
        more_soiling=0.0,
        snow="own",
        module_derate=0.0,
    )
