"""One site, one sky, one set of criteria: where every option is tried and priced."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import Simulation, bank_life, simulate_size
from powerbudget.bisection import least_count
from powerbudget.compare.emissions import J_PER_MMBTU, emission
from powerbudget.compare.lifecycle import Bill, LifeCycle, Piece, Terms, life_cycle
from powerbudget.compare.machines import start_stop_frac, with_tank
from powerbudget.compare.prices import PriceBook
from powerbudget.compare.trial import LINE, Trial, generation
from powerbudget.generators.library import fuels, source_kinds
from powerbudget.generators.unit import make_unit
from powerbudget.quantities import plain
from powerbudget.site.generator import Generator
from powerbudget.site.scenario import Scenario
from powerbudget.site.tables import Criteria
from powerbudget.sizing.battery_ages import beginning_problem
from powerbudget.sizing.installed import controller_piece
from powerbudget.sizing.sized_site import SizedSite

MOST_BATTERY = 400
MOST_KEPT = 1
MOST_ARRAY_W_PER_W = 250.0
LONGEST_LIFE_Y = 60.0
BURNT_IN = {
    "thermoelectric": "burner",
    "vapor-turbine": "burner",
    "stirling": "burner",
    "other": "burner",
    "methanol-cell": "fuel-cell",
    "solid-oxide-cell": "fuel-cell",
}


def rungs(least: int, ratio: float) -> Iterator[int]:
    """Yield a count and, above it, steps that are the same for every count.

    Parameters
    ----------
    least
        Where they begin [count].
    ratio
        One step to the next [ratio].

    Yields
    ------
    int
        Up to `MOST_BATTERY`.  As the steps do not hang on the first one, whoever may
        begin lower tries all that another tries but its first [count].

    Examples
    --------
    >>> list(rungs(90, 2.0))
    [90, 128, 256, 400]
    """
    yield least
    step = 1.0
    while step < MOST_BATTERY:
        if math.ceil(step) > least:
            yield math.ceil(step)
        step *= ratio
    if least < MOST_BATTERY:
        yield MOST_BATTERY


class PricedSite(SizedSite):
    """A prepared site on which sizes of any option are tried and billed.

    Parameters
    ----------
    problem
        The site with panels and without generators, its battery as old as the site
        file says.
    book
        Prices.
    own
        The site file's ``[[generator]]`` tables.

    Notes
    -----
    Every size is judged as `powerbudget.sizing.search.size` does it: with the battery
    at end of life and, where it passes, with a new one.
    """

    def __init__(
        self, problem: Problem, book: PriceBook, own: tuple[Generator, ...] = ()
    ) -> None:
        super().__init__(problem)
        self.book = book
        self.own = own
        self.tried = 0
        self._stated_frac = problem.bank.health_frac
        self._with: dict[tuple[Generator, ...], tuple[Problem, Problem | None]] = {}
        self._life_y: dict[tuple[int, int, tuple[Generator, ...]], float] = {}

    @property
    def load_w(self) -> float:
        """Mean load of the heaviest month at the bus [W]."""
        return float(self.problem.budget.typical_w)

    @cached_property
    def hottest_degc(self) -> NDArray[np.float64]:
        """Air temperature through the calendar month that is hottest [degC]."""
        record = self.problem.record
        months = record.month
        means = {m: record.temp_air_degc[months == m].mean() for m in set(months)}
        hottest = max(means, key=lambda m: means[m])
        return np.asarray(record.temp_air_degc[months == hottest])

    @property
    def criteria(self) -> Criteria:
        """What the site must reach."""
        return self.problem.design.tables.criteria

    def _fuelled(self, generators: tuple[Generator, ...]) -> Problem:
        """Return the site with generators and the criteria asked of an option with fuel.

        The array-to-load ratio asks something of panels alone.  Days of autonomy are
        those of every option, unless the site file asks fewer beside fuel.
        """
        changes = {"array_to_load_ratio": 0.0, "autonomy_d": self.fuelled_d}
        asked = self.criteria.model_copy(update=changes)
        return self.problem.under(Scenario(criteria=asked, machines=generators))

    @cached_property
    def fuelled_d(self) -> float:
        """Autonomy asked of options with fuel or a line [d]."""
        return self.book.autonomy_with_fuel_d(self.criteria.autonomy_d)

    @cached_property
    def start_stop_frac(self) -> tuple[float, float]:
        """States of charge at which a helper starts and stops [fraction]."""
        # Cold hides capacity: what is hidden in the coldest hour cannot be waited for.
        hidden = 1.0 - float(self.problem.conditions.capacity_frac.min())
        floor = 1.0 - self.criteria.deepest_discharge_frac
        return start_stop_frac(max(floor, hidden))

    def with_generators(
        self, generators: tuple[Generator, ...]
    ) -> tuple[Problem, Problem | None]:
        """Return the site with generators, its battery as judged and new.

        Parameters
        ----------
        generators
            Tables, tanks included; none leaves the panels alone.

        Returns
        -------
        tuple of Problem
            Kept, so that the fuel of each set is walked through once; None in place of
            the second where sizes are not asked to last.

        Raises
        ------
        InputError
            When a burner can never burn here.
        """
        if generators not in self._with:
            # Each holds copies of every hour; few are asked for again.
            while len(self._with) >= MOST_KEPT:
                self._with.pop(next(iter(self._with)))
            judged = self.problem
            if generators:
                judged = self._fuelled(generators)
            self._with[generators] = (judged, beginning_problem(judged))
        return self._with[generators]

    def forget(self) -> None:
        """Let go of the hours of every set of generators: another option has others."""
        self._with.clear()

    def battery_life_y(self, trial: Trial) -> float:
        """Return how long the bank lasts by cycles and by heat, as `run` says [year]."""
        key = (trial.strings, trial.battery, trial.generators)
        if key not in self._life_y:
            self._life_y[key] = bank_life(self._as_stated(trial)).life_y
        return self._life_y[key]

    def shed(self, trial: Trial) -> Trial:
        """Return a trial without its hours on a new battery, once their life is known."""
        if trial.new is None:
            return trial
        self.battery_life_y(trial)
        return replace(trial, new=None)

    def _as_stated(self, trial: Trial) -> Simulation:
        """Return a trial with the battery as old as the site file says."""
        for run in (trial.new, trial.run):
            if run is not None and run.bank.health_frac == self._stated_frac:
                return run
        judged = self.with_generators(trial.generators)[0]
        stated = judged.under(Scenario(state_of_health_frac=self._stated_frac))
        return simulate_size(stated, trial.strings, trial.battery)

    def least_cost(
        self, size: tuple[int, int], generators: tuple[Generator, ...], terms: Terms
    ) -> float:
        """Return what no size of so many pieces can cost less than [currency].

        Parameters
        ----------
        size
            Array and battery strings [count].
        generators
            Tables.
        terms
            Prices.

        Returns
        -------
        float
            Modules, units and machines that live as long as any do; no fuel, no trips
            [currency].
        """
        pieces = [
            Piece(
                "", "PV modules", self.panel_price(size[0]), self.book.life("module")
            ),
            Piece("", "battery", self.battery_price(size[1]), LONGEST_LIFE_Y),
        ]
        for g in generators:
            price = g.quantity * self.book.generator(g.kind, g.rated_w)
            pieces.append(Piece("", "generator", price, LONGEST_LIFE_Y))
        return life_cycle(Bill(tuple(pieces)), terms).total

    def least_battery(self, days: float) -> int:
        """Return the fewest battery strings that last so long in the cold [count].

        Parameters
        ----------
        days
            Wanted [d].

        Returns
        -------
        int
            `MOST_BATTERY` where none does.
        """
        high = 1
        while self.design_days(high) < days and high < MOST_BATTERY:
            high = min(2 * high, MOST_BATTERY)
        if high == 1 or self.design_days(high) < days:
            return high
        return least_count(lambda n: self.design_days(n) >= days, high // 2, high)

    def attempt(
        self, strings: int, battery: int, generators: tuple[Generator, ...] = ()
    ) -> Trial:
        """Simulate a size through the whole record and judge it.

        Parameters
        ----------
        strings, battery
            Array and battery strings [count].
        generators
            Generator tables, tanks included.

        Returns
        -------
        Trial
            With every verdict.
        """
        self.tried += 1
        judged, fresh = self.with_generators(generators)
        run = simulate_size(judged, strings, battery)
        verdicts, new = self.judged(run, fresh)
        return Trial(run, strings, battery, generators, verdicts, new)

    def tanked(self, generator: Generator, share: float = 1.0) -> Generator:
        """Return a generator with a tank where its fuel comes in one [Generator].

        A tank of the site file is kept, and more of them stand beside more units.
        """
        own = next((g for g in self.own if g.name == generator.name), None)
        if own is not None and own.tank is not None:
            count = math.ceil(own.tank.count * generator.quantity / own.quantity)
            tank = own.tank.model_copy(update={"count": count})
            return generator.model_copy(update={"tank": tank})
        return with_tank(generator, self.problem.design.tables, self.book, share)

    def battery_price(self, strings: int) -> float:
        """Return the price of the units of so many battery strings [currency]."""
        unit = self.problem.design.battery_unit
        units = strings * self.problem.design.tables.battery.series
        return units * self.book.battery(unit.nominal_v * unit.capacity_ah)

    def panel_price(self, strings: int) -> float:
        """Return the price of the modules of so many strings [currency]."""
        series = self.problem.design.tables.array.series
        return strings * series * self.book.module(self.problem.array.module.power_w)

    def bill(self, trial: Trial) -> Bill:
        """Return what a trial needs in pieces and a year [Bill].

        Returns
        -------
        Bill
            Lives and quantities as simulated.
        """
        pieces = [*self._panels(trial), *self._battery(trial)]
        pieces += [p for g in trial.generators for p in self._source(g, trial)]
        years = generation(trial)
        burners = [y for y in years if y.fuel not in {"", "none"}]
        visits = max(
            [self.book.routine_visits(), *(y.service_visits_per_year for y in years)]
        ) + sum(y.repairs_per_year for y in years)
        first = burners[0].fuel if burners else ""
        # A second fuel of a site as it is written is a cost a year of its own.
        further = {
            y.fuel: y.fuel_per_year * self.book.fuel(y.fuel)
            for y in burners
            if y.fuel != first
        }
        return Bill(
            pieces=tuple(pieces),
            fuel=first,
            fuel_per_year=sum(y.fuel_per_year for y in burners if y.fuel == first),
            visits_per_year=visits + self._snow_visits(trial),
            deliveries_per_year=sum(self._trips(y, trial) for y in burners),
            services_per_year=sum(y.service_visits_per_year for y in burners),
            yearly=further,
            co2e_kg_per_year=sum(self.co2e_kg(y) for y in burners),
        )

    def _trips(self, year: Any, trial: Trial) -> float:
        """Return trips with fuel a year, each with all that it can carry or leave.

        A tank that outlasts a short record has none in it; what was burnt must be
        brought all the same.  Nobody flies twice for the last litres of a refill, so
        trips are counted by what is burnt and not by refills to the brim.
        """
        generator = next(g for g in trial.generators if g.name == year.name)
        tank, row = generator.tank, fuels()[generator.fuel]
        if tank is None:
            return float(year.loads_per_year)
        fill = row.fill_frac if tank.fill_frac is None else tank.fill_frac
        room_l = tank.volume_l * tank.count * max(0.05, fill - tank.refill_below_frac)
        most_l = min(room_l, tank.largest_delivery_l or self.book.carries_l())
        return float(year.fuel_per_year) * row.litres_per_unit / most_l

    def co2e_kg(self, year: Any) -> float:
        """Return what a generator's year emits, as CO2 [kg]."""
        return float(self.emitted(year).co2e_kg)

    def emitted(self, year: Any) -> Any:
        """Return what a generator's year emits, by gas [Emission]."""
        compared = self.problem.design.tables.compare
        gwp = compared.gwp if compared else "AR5"
        burn = compared.engine_burn if compared else "rich-burn"
        burnt_in = BURNT_IN.get(year.kind, f"{burn}-engine")
        heat = year.fuel_heat_wh_per_year * 3600.0 / J_PER_MMBTU
        return emission(heat, year.fuel, burnt_in, gwp)

    def cost(self, trial: Trial, terms: Terms) -> LifeCycle:
        """Return a trial's life-cycle cost [currency]."""
        return life_cycle(self.bill(trial), terms)

    def _panels(self, trial: Trial) -> list[Piece]:
        if trial.strings == 0:
            return []
        module_w = self.problem.array.module.power_w
        price = trial.modules * self.book.module(module_w)
        name, count, price_all = controller_piece(
            self.book, trial.run.problem, trial.strings
        )
        return [
            Piece(
                f"{trial.modules} x {module_w:g} W modules", "PV modules", price,
                self.book.life("module"),
                mass_kg=self.book.mass("module") * trial.array_w,
            ),
            Piece(
                f"{count} x {name}", "PV modules", price_all, self.book.life("charge_controller")
            ),
            *self._foundations(trial),
        ]  # fmt: skip

    def _foundations(self, trial: Trial) -> list[Piece]:
        if not self.book.bare_modules:
            return []
        masts = self.book.masts(trial.array_w)
        price = masts * self.book.foundation()
        title = f"{masts} x foundation"
        return [Piece(title, "PV modules", price, math.inf, installed=False)]

    def _battery(self, trial: Trial) -> list[Piece]:
        unit = self.problem.design.battery_unit
        price = self.book.battery(unit.nominal_v * unit.capacity_ah)
        life = min(LONGEST_LIFE_Y, self.battery_life_y(trial))
        title = f"{trial.units} x {unit.nominal_v:g} V {unit.capacity_ah:g} Ah"
        kwh = trial.units * unit.nominal_v * unit.capacity_ah / 1000.0
        mass_kg = self.book.mass(self.book.chemistry) * kwh
        box = self.book.box(1000.0 * kwh)
        return [
            Piece(title, "battery", trial.units * price, life, mass_kg=mass_kg),
            Piece("battery boxes", "battery", box, math.inf),
        ]

    def _source(self, generator: Generator, trial: Trial) -> list[Piece]:
        book, count = self.book, generator.quantity
        if generator.name == LINE:
            return []
        kind = source_kinds()[generator.kind].title
        title = f"{count} x {plain(generator.rated_w, 4, 'W')} {kind}"
        if any(generator.name == mine.name for mine in self.own):
            title += f" ({generator.name})"
        price = count * book.generator(generator.kind, generator.rated_w)
        life = min(LONGEST_LIFE_Y, _year_of(generator, trial, "life_y"))
        own = book.own.equipment
        book.note_source(generator, life_stated=own.generator_life_years is not None)
        if own.generator_life_years is not None:
            key = "costs.equipment.generator_life_years"
            life = book.figure(key, "life.charge_controller", own.generator_life_years)
        each_kg = min(100.0, book.mass("generator") * generator.rated_w)
        pieces = [Piece(title, "generator", price, life, mass_kg=count * each_kg)]
        worn = _year_of(generator, trial, "stack_life_y")
        if own.generator_life_years is None and worn < life:
            # A stack wears out inside the life of its unit, for a share of the price.
            share = make_unit(generator, 0.0).figure("stack_price_frac")
            pieces[0] = replace(pieces[0], price=(1.0 - share) * price)
            pieces.append(Piece(f"stack of {title}", "generator", share * price, worn))
        if generator.fuel == "none":
            return pieces
        gear = book.lump("costs.equipment.fuel_train", "fuel_train", own.fuel_train)
        pieces.append(
            Piece("pressure regulator and piping", "fuel train", gear, math.inf)
        )
        if generator.tank is not None:
            litres = generator.tank.volume_l * generator.tank.count
            tank = f"{generator.tank.count} x {plain(generator.tank.volume_l, 4, 'L')} tank"
            kg = book.mass("tank") * litres
            pieces.append(
                Piece(tank, "fuel train", book.tank(litres), math.inf, mass_kg=kg)
            )
        if generator.kind == "engine":
            charger = book.lump("costs.equipment.charger", "charger", own.charger)
            life = book.life("charge_controller")
            pieces.append(Piece("battery charger", "generator", charger, life))
        return pieces

    def _snow_visits(self, trial: Trial) -> float:
        """Return visits a year that clear snow, where the site file counts on them."""
        snow = self.problem.design.tables.array.snow
        if trial.strings == 0 or snow is None or snow.cover != "cleared":
            return 0.0
        falls = snow.snowfall_m or (1.0,) * 12
        days = 30.4 * sum(fall > 0 for fall in falls)
        return days / (snow.cleared_every_d or 14.0)


def _year_of(generator: Generator, trial: Trial, what: str) -> float:
    """Return years of life that a trial leaves a generator or its stack [year]."""
    for year in trial.run.generation:
        if year.name == generator.name:
            return float(getattr(year, what))
    return LONGEST_LIFE_Y
