"""What happened in an hourly run."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.drive import HOURS_PER_YEAR
from powerbudget.balance.events import (
    Event,
    Frost,
    Outage,
    blocked_sun,
    find_frost,
    find_outages,
    highest_charge_v,
    list_events,
    local_iso,
)
from powerbudget.balance.ledger import served_tiers, tier_w
from powerbudget.balance.problem import Problem
from powerbudget.battery.bank import Bank

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Run:
    """What happened in an hourly run, interval by interval.

    Parameters
    ----------
    problem, bank, strings, scalars
        What was simulated.
    out
        Kernel results by interval [see `powerbudget.balance.columns`].
    removed_ah
        Charge removed at interval bounds, one more than intervals [Ah].
    """

    problem: Problem
    bank: Bank
    strings: int
    scalars: col.Record
    out: col.Records
    removed_ah: Floats

    @cached_property
    def soc_frac(self) -> Floats:
        """State at each interval's end, of the Ah held at 25 degC and this load."""
        return np.asarray(1.0 - self.removed_ah[1:] / self.scalars["charge_ah"])

    @property
    def start_soc_frac(self) -> float:
        """State of charge at the first interval [fraction]."""
        return float(1.0 - self.removed_ah[0] / self.scalars["charge_ah"])

    @property
    def rated_soc_frac(self) -> Floats:
        """State at the end of each interval on rated Ah, for frost and wear."""
        return np.asarray(1.0 - self.removed_ah[1:] / self.bank.rated_ah)

    @cached_property
    def served(self) -> NDArray[np.bool_]:
        """Whether the loads were on, by interval."""
        return np.asarray(self.out["served"] > 0.5)

    @property
    def years(self) -> float:
        """Length of the record [year]."""
        return self.problem.record.n * self.problem.record.step_h / HOURS_PER_YEAR

    @property
    def availability_frac(self) -> float:
        """Intervals with the loads of tier 0 served over all [fraction]."""
        return float(self.served.mean())

    @cached_property
    def hours_off_by_tier(self) -> tuple[float, float, float]:
        """Hours without the loads, those shed first, those shed second [h]."""
        hours = (~served_tiers(self.out)).sum(axis=1) * self.problem.record.step_h
        last, first, second = (float(h) for h in hours)
        return last, first, second

    @cached_property
    def energy_not_served_wh(self) -> float:
        """What loads of every tier would have drawn while off [Wh]."""
        missed = tier_w(self.problem, self.out) * ~served_tiers(self.out)
        return float(missed.sum() * self.problem.record.step_h)

    @cached_property
    def outages(self) -> tuple[Outage, ...]:
        """Every stretch without the loads, in order."""
        return find_outages(self.problem, self.scalars, self.removed_ah, self.out)

    @cached_property
    def _lowest(self) -> int:
        return int(np.argmin(self.soc_frac))

    @property
    def lowest_soc_frac(self) -> float:
        """Lowest state of charge [fraction]."""
        return float(self.soc_frac[self._lowest])

    @property
    def lowest_soc_at(self) -> str:
        """When that was, local standard time [ISO text]."""
        return local_iso(self.problem, self._lowest)

    @cached_property
    def frost(self) -> Frost:
        """How near the bank came to freezing."""
        return find_frost(self.problem, self.scalars, self.removed_ah)

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """What happened to the bank."""
        problem = replace(self.problem, bank=self.bank)
        return list_events(problem, self.removed_ah, self.out, self.frost)

    @property
    def availability_to_loss_frac(self) -> float:
        """Share of the record served before the bank freezes [fraction].

        No availability: that is `availability_frac`, as if the bank had lived, and the
        loss is told beside it by date and cause.
        """
        lost = self.frost.lost_index
        kept = self.served if lost < 0 else self.served[:lost]
        return float(kept.sum() / self.served.size)

    @cached_property
    def _blocked(self) -> tuple[float, float]:
        return blocked_sun(self.problem, self.strings)

    @property
    def blocked_sun_h(self) -> float:
        """Sun in which temperature blocked charging [h]."""
        return self._blocked[0]

    @property
    def blocked_sun_wh(self) -> float:
        """Array energy in those hours [Wh]."""
        return self._blocked[1]

    @cached_property
    def _highest(self) -> tuple[float, int]:
        return highest_charge_v(self.problem)

    @property
    def highest_charge_v(self) -> float:
        """Voltage to which charging may lift the bus in the coldest sun [V]."""
        return self._highest[0]

    @property
    def highest_charge_at(self) -> str:
        """When that is, local standard time [ISO text]."""
        return local_iso(self.problem, self._highest[1])
