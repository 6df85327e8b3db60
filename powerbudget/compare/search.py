"""The size that each option needs to meet the same criteria, found by itself."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from powerbudget.bisection import least_count
from powerbudget.compare.lifecycle import Bill, Terms, life_cycle
from powerbudget.compare.machines import (
    MOST_UNITS,
    STEADY,
    fuels_for,
    full_burn_l_d,
    templates,
)
from powerbudget.compare.priced_site import PricedSite, rungs
from powerbudget.compare.trial import LINE, Trial, generation
from powerbudget.errors import InputError
from powerbudget.generators.library import fuels
from powerbudget.generators.unit import make_unit
from powerbudget.quantities import in_unit, plain
from powerbudget.site.generator import Generator
from powerbudget.site.tables import Site

BANK_RATIO = 1.25
"""One bank beside a source that stops to the next."""
ARRAY_RATIO = 1.5
"""One array of a hybrid to the next."""
HYBRID_W_PER_W = 40.0
"""Largest array of a hybrid, watts of panels over those of the load [ratio]."""
NEVER = 10_000
"""Units of a source that gives nothing where it stands [count]."""
NO_BANK_CURES = "array-to-load ratio"
"""How the criterion begins that a larger bank cannot meet."""
HYBRID_BANKS = (2.0, 3.5)
"""Larger banks beside a helper that can stop."""
MOST_OTHERS = 6
"""Further sizes kept for what-if questions."""


@dataclass(frozen=True)
class OptionSize:
    """The best size of an option.

    Parameters
    ----------
    trial
        The size, or the nearest miss; None where nothing could be simulated.
    binding
        What stops a smaller one [text].
    refused
        Why nothing could be simulated [text].
    others
        Bills of further sizes that meet every criterion and are dearer today.
    """

    trial: Trial | None
    binding: str = ""
    refused: str = ""
    others: tuple[Bill, ...] = ()

    @property
    def met(self) -> bool:
        """Whether every criterion is met."""
        return self.trial is not None and self.trial.met


class Pool:
    """Trials as they come: the best, the nearest miss, bills of the others.

    A trial holds every hour of its run, so only one of them is kept.

    Parameters
    ----------
    site, terms
        The site and the prices that rank.
    """

    def __init__(self, site: PricedSite, terms: Terms) -> None:
        self.site, self.terms = site, terms
        self.best: Trial | None = None
        self.miss: Trial | None = None
        self.refused = ""
        self._bills: list[tuple[float, Bill]] = []

    def add(self, trial: Trial) -> None:
        """Take a trial in."""
        if not trial.met:
            if self.best is None and (
                self.miss is None or _nearness(trial) > _nearness(self.miss)
            ):
                self.miss = self.site.shed(trial)
            return
        self.miss = None
        bill = self.site.bill(trial)
        cost = life_cycle(bill, self.terms).total
        if self.best is None or cost < self._bills[0][0]:
            self.best = self.site.shed(trial)
        self._bills.append((cost, bill))
        self._bills.sort(key=lambda item: item[0])

    @property
    def least_cost(self) -> float:
        """Life-cycle cost of the best; infinite before one meets all [currency]."""
        return self._bills[0][0] if self._bills else math.inf

    def take(self, trials: Iterator[Trial]) -> None:
        """Take trials in, and keep why a source cannot be simulated at all."""
        try:
            for trial in trials:
                self.add(trial)
        except InputError as exc:
            self.refused = refused_words(exc)

    def found(self) -> OptionSize:
        """Return the best, or the nearest miss."""
        if self.best is not None:
            others = tuple(bill for _, bill in self._bills[1 : 1 + MOST_OTHERS])
            return OptionSize(self.best, binding(self.site, self.best), others=others)
        if self.miss is not None:
            return OptionSize(self.miss, "", self.refused)
        return OptionSize(
            None, "", self.refused or "no source of this kind fits the load"
        )


def refused_words(error: InputError) -> str:
    """Return why a source cannot be simulated, with figures [text].

    Parameters
    ----------
    error
        What the generators said of the site.

    Returns
    -------
    str
        One clause a fault.

    Examples
    --------
    >>> from powerbudget.errors import Fault
    >>> refused_words(InputError([Fault("generator[1] (a).burner_pressure",
    ...     "exceeds the tank pressure at all times", "45 kPa", "at most 9 kPa")]))
    'burner pressure exceeds the tank pressure at all times: 45 kPa; at most 9 kPa'
    """
    words = []
    for fault in error.faults:
        key = fault.where.rsplit(".", 1)[-1].replace("_", " ")
        figures = "; ".join(filter(None, [fault.given, fault.allowed, fault.advice]))
        words.append(f"{key} {fault.problem}" + (f": {figures}" if figures else ""))
    return "; ".join(words)


def _nearness(trial: Trial) -> tuple[int, float]:
    """Return how near a trial is: fewest failures, then the smallest shortfall."""
    return -len(trial.failed), min((v.held.order for v in trial.failed), default=0.0)


def binding(site: PricedSite, trial: Trial) -> str:
    """Return which criterion stops each smaller size [text].

    Parameters
    ----------
    site
        The site.
    trial
        A size that meets the criteria.

    Returns
    -------
    str
        One array string and one battery string fewer, and what a source would lack.
    """
    words = []
    sizes = (("array", trial.strings - 1, trial.battery),
             ("battery", trial.strings, trial.battery - 1))  # fmt: skip
    more = "with more fuel" if trial.generators else "at a higher price"
    for name, strings, battery in sizes:
        if battery < 1 or strings < 0:
            continue
        if name == "array" and strings == 0:
            words.append("array: at minimum size (1 string)")
            continue
        less = site.attempt(strings, battery, trial.generators)
        names = ", ".join(verdict.name for verdict in less.failed)
        words.append(f"one {name} string fewer: fails {names}" if names else
                     f"one {name} string fewer also passes, {more}")  # fmt: skip
    words += _source_words(site, trial) + _idle_words(trial)
    return "; ".join(words)


def _idle_words(trial: Trial) -> list[str]:
    """Return whether a helper beside panels never has to run in the record."""
    years = generation(trial) if trial.strings else ()
    if not years or any(year.run_h_per_year > 0 for year in years):
        return []
    return [
        (
            "the array carries the load alone; the backup generator never runs in "
            "this simulation"
        )
    ]


def _source_words(site: PricedSite, trial: Trial) -> list[str]:
    """Return what the sources of an option without panels give against the load."""
    if trial.strings or not trial.generators or trial.generators[0].name == LINE:
        return []
    source = trial.generators[0]
    need = _units(site, source.model_copy(update={"quantity": 1}))
    words = (
        f"{source.quantity - 1} x {source.rated_w:g} W cannot carry "
        f"{plain(site.load_w, 3, 'W')} in the hottest month"
        if need > 1 and source.quantity <= need
        else f"{source.quantity} x {source.rated_w:g} W for an average load of "
        f"{plain(site.load_w, 3, 'W')}"
    )
    return [words, *_fading_words(site, source)]


def _fading_words(site: PricedSite, source: Generator) -> list[str]:
    """Return when a source that always runs has aged below the load, if it does."""
    settled = make_unit(source, site.problem.design.tables.site.elevation_m)
    per_y, age_y = settled.figure("ageing_per_y"), source.age_y
    if source.kind not in STEADY or per_y <= 0:
        return []
    now_w = float(settled.bus_w(site.hottest_degc).mean())
    # Straight down from new: what is left of that when the load is reached.
    left = site.load_w / now_w * (1.0 - per_y * age_y)
    years = (1.0 - left) / per_y - age_y
    if years >= min(site.book.own.horizon_years, settled.figure("life_h") / 8766.0):
        return []
    return [f"sized for today: with an output degradation of {100 * per_y:g} %/yr it "
"supplies less than the load in the hottest month after "
f"{in_unit(max(0.0, years), 'yr')}, before its end of life"]  # fmt: skip


def size_steady(site: PricedSite, kind: str, fuel: str, terms: Terms) -> OptionSize:
    """Return how many units of which class carry the load with no panel.

    Parameters
    ----------
    site
        The site.
    kind, fuel
        Names of the site file [text].
    terms
        Prices, which choose between classes.

    Returns
    -------
    OptionSize
        Cheapest over the years of what meets the criteria; else the nearest miss.
    """
    battery = site.least_battery(site.fuelled_d)
    pool = Pool(site, terms)
    for unit in _worth_trying(site, kind, fuel, terms):
        pool.take(_enough(site, unit, battery, pool))
    return pool.found()


def _worth_trying(
    site: PricedSite, kind: str, fuel: str, terms: Terms
) -> list[Generator]:
    """Return the two classes that look cheapest over the years, few units each."""
    sizes = templates(kind, fuel, site.own, site.start_stop_frac)
    fits = [unit for unit in sizes if _units(site, unit) <= MOST_UNITS]
    if not fits:
        return sizes[-1:]
    fits.sort(key=lambda unit: _guess(site, unit, terms))
    return fits[:2]


def _guess(site: PricedSite, unit: Generator, terms: Terms) -> float:
    """Return about what a class costs over the years, battery left out [currency]."""
    count = _units(site, unit)
    price = count * site.book.generator(unit.kind, unit.rated_w)
    burnt_l = count * _share(site, unit, count) * full_burn_l_d(unit) * 365.25
    per_l = terms.fuel_price.get(unit.fuel, 0.0) / fuels()[unit.fuel].litres_per_unit
    if unit.fuel != "natural-gas":
        per_l += terms.delivery / site.book.carries_l()
    return 1.25 * price + burnt_l * per_l * terms.uniform(terms.fuel_escalation_frac)


def _units(site: PricedSite, unit: Generator) -> int:
    """Return units that give the mean load through the hottest month [count]."""
    settled = make_unit(unit, site.problem.design.tables.site.elevation_m)
    mean_w = float(settled.bus_w(site.hottest_degc).mean())
    return math.ceil(1.03 * site.load_w / mean_w) if mean_w > 0 else NEVER


def _enough(
    site: PricedSite, unit: Generator, battery: int, pool: Pool
) -> Iterator[Trial]:
    """Yield trials of a class until one meets the criteria, and larger banks.

    A source that stops runs seldomer and better beside a larger bank, which lives
    longer too: it may be the cheaper one over the years.
    """
    need = _units(site, unit)
    # What gives nothing in the hottest month gives nothing in greater number.
    first = 1 if need >= NEVER else min(need, 4 * MOST_UNITS)
    for count in (first, first + 1) if need < NEVER else (first,):
        many = site.tanked(
            unit.model_copy(update={"quantity": count}), _share(site, unit, count)
        )
        trial = _settled(site, 0, battery, (many,))
        yield trial
        if not trial.met:
            continue
        for more in rungs(trial.battery, BANK_RATIO) if unit.kind not in STEADY else ():
            if site.least_cost((0, more), (many,), pool.terms) > pool.least_cost:
                return
            if more > trial.battery:
                yield site.attempt(0, more, (many,))
        return


def _share(site: PricedSite, unit: Generator, count: int) -> float:
    """Return the share of the time for which a source runs at full fire [fraction].

    A thermoelectric burner does so always; the others about as the load asks.
    """
    if unit.kind in {"thermoelectric", "vapor-turbine"}:
        return 1.0
    return min(1.0, 1.3 * site.load_w / (unit.rated_w * count))


def _settled(
    site: PricedSite, strings: int, battery: int, sources: tuple[Generator, ...]
) -> Trial:
    """Return a trial with the smallest bank from one on that meets the criteria.

    Banks are doubled as far as any can be bought: who is asked less autonomy begins
    lower, and must find all the same what the night, the cold and the winter ask.
    """
    low, trials = battery, []
    for more in rungs(battery, 2.0):
        trials.append(site.attempt(strings, more, sources))
        if trials[-1].met:
            return _smallest_bank(site, low, trials[-1])
        if any(v.name.startswith(NO_BANK_CURES) for v in trials[-1].failed):
            break
        low = more
    return trials[0]


def _smallest_bank(site: PricedSite, low: int, trial: Trial) -> Trial:
    """Return the smallest bank that meets the criteria above one that does not."""
    best = trial

    def met(battery: int) -> bool:
        nonlocal best
        smaller = site.attempt(best.strings, battery, best.generators)
        best = smaller if smaller.met else best
        return smaller.met

    least_count(met, low, trial.battery)
    return best


def size_hybrid(site: PricedSite, terms: Terms, kinds: Iterable[str]) -> OptionSize:
    """Return panels with the helper that costs least over the years.

    Parameters
    ----------
    site
        The site.
    terms
        Prices.
    kinds
        Helpers to try [text].

    Returns
    -------
    OptionSize
        Each helper of one unit, with arrays from one string on; the sizes between the
        best and its neighbours are then tried as well.
    """
    battery = site.least_battery(site.fuelled_d)
    pool = Pool(site, terms)
    for helper in _helpers(site, kinds):
        pool.take(_arrays(site, helper, battery, pool))
    first = pool.best
    if first is not None:
        near = first.strings
        for strings in sorted({round(0.8 * near), round(1.2 * near)} - {near, 0}):
            pool.add(_settled(site, strings, battery, first.generators))
    return pool.found()


def _helpers(site: PricedSite, kinds: Iterable[str]) -> Iterator[Generator]:
    """Yield one unit of a fitting size of each kind and fuel."""
    for kind in kinds:
        for fuel in fuels_for(kind, site.book, site.own):
            sizes = templates(kind, fuel, site.own, site.start_stop_frac)
            for unit in _fitting(site, sizes):
                share = 1.0 if kind == "thermoelectric" else 0.3 * _share(
                    site, unit, 1
                )  # fmt: skip
                yield site.tanked(unit, share)


def _fitting(site: PricedSite, sizes: list[Generator]) -> list[Generator]:
    """Return the sizes just below and just above the load."""
    above = [unit for unit in sizes if unit.rated_w >= 1.2 * site.load_w]
    below = [unit for unit in sizes if unit.rated_w < 1.2 * site.load_w]
    return below[-1:] + above[:1]


def _arrays(
    site: PricedSite, helper: Generator, battery: int, pool: Pool
) -> Iterator[Trial]:
    """Yield arrays with the least bank, and larger banks that may save fuel."""
    series = site.problem.design.tables.array.series
    string_w = site.problem.array.module.power_w * series
    most = max(1.0, HYBRID_W_PER_W * site.load_w / string_w)

    def too_dear(strings: int, bank: int) -> bool:
        """Return whether another size costs less than the pieces of this one."""
        floor = site.least_cost((strings, bank), (helper,), pool.terms)
        return floor > pool.least_cost

    for strings in rungs(1, ARRAY_RATIO):
        if strings > most or too_dear(strings, battery):
            return
        trial = _settled(site, strings, battery, (helper,))
        yield trial
        if helper.kind == "thermoelectric":
            if trial.met:
                # It burns the same whatever the panels give: more of them only cost.
                return
            continue
        for step in HYBRID_BANKS:
            more = math.ceil(step * trial.battery)
            if not too_dear(strings, more):
                yield site.attempt(strings, more, (helper,))


def size_line(site: PricedSite) -> OptionSize:
    """Return the battery beside a power line, which bridges its outages.

    Returns
    -------
    OptionSize
        With a steady source that is large enough for the maximum load.
    """
    source = Generator.model_validate(
        {"name": LINE, "kind": "other", "fuel": "none", "dispatch": "always",
         "rated": f"{max(100.0, 3.0 * site.problem.budget.maximum_w)} W",
         "charger_efficiency": "90 %"}
    )  # fmt: skip
    battery = site.least_battery(site.fuelled_d)
    trial = _settled(site, 0, battery, (source,))
    return OptionSize(trial, binding(site, trial))


def as_written(site: PricedSite, tables: Site) -> OptionSize:
    """Return the site as the file has it, its generators included.

    Parameters
    ----------
    site
        The site.
    tables
        The site file's tables as they were written.

    Returns
    -------
    OptionSize
        Met or not.
    """
    strings, battery = tables.array.parallel, tables.battery.parallel
    try:
        trial = site.attempt(strings, battery, tables.generator)
    except InputError as exc:
        return OptionSize(None, "", refused_words(exc))
    return OptionSize(trial, binding(site, trial))
