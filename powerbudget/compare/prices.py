"""Every price that a comparison rests on, with where it came from."""

from __future__ import annotations

import math

from powerbudget.compare.fuel_price import fuel_si
from powerbudget.compare.lifecycle import Terms
from powerbudget.compare.money import real_rate_frac
from powerbudget.errors import Fault, InputError
from powerbudget.generators.unit import make_unit
from powerbudget.site.costs import (
    ENERGY_KWH,
    LENGTH_M,
    MASS_KG,
    TIME_Y,
    VOLUME_L,
    Price,
    prices_in,
)
from powerbudget.site.generator import Generator
from powerbudget.site.prices import ENDS, PieceBook, price_row
from powerbudget.site.tables import Site

FUEL_KEYS = {
    "propane": "propane",
    "natural-gas": "natural_gas",
    "methanol": "methanol",
    "diesel": "diesel",
}
SOURCE_FIGURES = (
    ("efficiency", "efficiency_frac", "electricity over fuel heat", "share"),
    ("service_every", "service_every_h", "hours between services", "h"),
    ("life", "life_h", "hours to replacement", "h"),
    ("stack_life", "stack_life_h", "hours to stack replacement", "h"),
    (
        "stack_price",
        "stack_price_frac",
        "stack price over unit price",
        "share",
    ),
)
"""Key and field of a generator, words, unit: what its years cost rests on these."""


def price_at(watts_w: list[float], prices: list[float], rated_w: float) -> float:
    """Return a price by size, straight between points on logarithms [currency].

    Parameters
    ----------
    watts_w
        Sizes, rising [W].
    prices
        One for each [currency].
    rated_w
        Size asked for [W].

    Returns
    -------
    float
        Beyond the points along the nearest piece [currency].

    Examples
    --------
    >>> price_at([20.0, 200.0], [7000.0, 20000.0], 200.0)
    20000.0
    """
    last = len(watts_w) - 2
    k = next((i for i in range(last) if rated_w <= watts_w[i + 1]), last)
    slope = math.log(prices[k + 1] / prices[k]) / math.log(watts_w[k + 1] / watts_w[k])
    return float(round(prices[k] * (rated_w / watts_w[k]) ** slope, 6))


class PriceBook(PieceBook):
    """Prices of a site, its own first; remembers which were used.

    Parameters
    ----------
    tables
        The site file's tables.
    """

    def __init__(self, tables: Site) -> None:
        super().__init__(tables)
        self.compared = tables.compare
        self.burns_gas = any(g.fuel == "natural-gas" for g in tables.generator)

    def generator(self, kind: str, rated_w: float) -> float:
        """Return the price of one generator of a kind and size [currency]."""
        row = price_row(f"generator.{kind}")
        own = getattr(self.own.equipment, kind.replace("-", "_"), None)
        key = f"costs.equipment.{kind.replace('-', '_')}"
        title = f"{row['title']}, {rated_w:g} W, one"
        shown = f"{key} ({rated_w:g} W)"
        if own is not None:
            return self.keep(shown, title, own.amount, self.currency)
        rate = self.money(key)
        ends = [rate * price_at(row["watts"], row[end], rated_w) for end in ENDS]
        source, status = row["source"] + ", by size", row["status"]
        return self.built_in(shown, title, ends, self.currency, source, status)

    def note_source(self, generator: Generator, *, life_stated: bool = False) -> None:
        """Remember what fuel, service and replacements of a source rest on.

        Parameters
        ----------
        generator
            Its table; what it leaves open is that of its kind.
        life_stated
            Whether ``[costs]`` states the life of generators in years.
        """
        machine = make_unit(generator, 0.0)
        no_stack = life_stated or generator.life_h is not None
        for what, name, words, unit in SOURCE_FIGURES:
            if not machine.kind.has(name, generator.fuel):
                continue
            found, own = machine.data(name), getattr(generator, name, None)
            unfuelled = generator.fuel == "none" or generator.fuel_use_l_d is not None
            if (what, True) in {
                ("efficiency", unfuelled),
                ("life", life_stated),
                ("stack_life", no_stack),
                ("stack_price", no_stack),
            }:
                continue
            key = f"generator.{what} ({generator.kind})"
            title = f"{machine.kind.title}, {words}"
            if own is not None:
                self.keep(key, title, float(own), unit)
            else:
                ends = [found.low, found.value, found.high]
                self.built_in(key, title, ends, unit, found.source, found.status)

    def tank(self, litres: float) -> float:
        """Return the price of tanks, set up [currency]."""
        own, key = self.own.equipment.tank, "costs.equipment.tank"
        return self.each(key, "tank", own, VOLUME_L) * litres

    def life(self, what: str) -> float:
        """Return the life of modules or regulators [year]."""
        own = getattr(self.own.equipment, f"{what}_life_years")
        key = f"costs.equipment.{what}_life_years"
        return self.figure(key, f"life.{what}", own)

    @property
    def has_gas(self) -> bool:
        """Whether the site has gas: a price for it, or a generator that burns it."""
        return self.burns_gas or self.own.fuel.natural_gas is not None

    def fuel(self, fuel: str) -> float:
        """Return the price of a fuel at the site [currency per m3 or L].

        Parameters
        ----------
        fuel
            ``propane``, ``natural-gas``, ``methanol`` or ``diesel`` [text].

        Returns
        -------
        float
            Gas by the m3, anything else by the litre.
        """
        attribute = FUEL_KEYS[fuel]
        own: Price | None = getattr(self.own.fuel, attribute)
        key = f"costs.fuel.{attribute}"
        if fuel == "natural-gas" and own is not None:
            title = "forgone gas sales"
            return self.keep(key, title, fuel_si(own, fuel), f"{self.currency}/m3")
        amount = None if own is None else fuel_si(own, fuel)
        return self.take(key, f"fuel.{fuel}", amount, money=True)

    def visit(self) -> float:
        """Return the cost of a visit by the site's access [currency]."""
        own = self.own.trips.visit
        return self.lump("costs.trips.visit", f"visit.{self.mode}", own)

    def delivery(self) -> float:
        """Return the cost of one trip with fuel [currency]."""
        own = self.own.trips.delivery
        return self.lump("costs.trips.delivery", f"delivery.{self.mode}", own)

    def carries_l(self) -> float:
        """Return how much fuel one trip carries [L]."""
        own = self.own.trips.carries_l
        name = f"carries.{self.mode}"
        return self.figure("costs.trips.carries", name, own)

    def autonomy_with_fuel_d(self, asked_d: float) -> float:
        """Return the autonomy asked of options with fuel or a line [d].

        Parameters
        ----------
        asked_d
            By ``[criteria]`` of every option [d].

        Returns
        -------
        float
            That of every option, unless the site file asks less of these [d].
        """
        own = self.compared.autonomy_d if self.compared else None
        if own is None or own >= asked_d:
            return asked_d
        title = "autonomy of alternatives with fuel or a utility line"
        return self.keep("compare.autonomy_with_fuel", title, own, "d")

    def routine_visits(self) -> float:
        """Return visits that every site gets [1/year]."""
        own = self.own.trips.visits_per_year
        return self.figure("costs.trips.visits_per_year", "visits_per_year", own)

    def rate(self) -> float:
        """Return the real discount rate [fraction]."""
        own = self.own.discount_rate_frac
        if own is not None and self.own.inflation_frac is not None:
            own = real_rate_frac(own, self.own.inflation_frac)
        return self.figure("costs.discount_rate", "discount_rate", own)

    def terms(self, burnt: tuple[str, ...]) -> Terms:
        """Return prices a year and the rules of the sum [Terms].

        Parameters
        ----------
        burnt
            Fuels that any option burns [text].

        Returns
        -------
        Terms
            Of the whole comparison.
        """
        own = self.own
        service = self.lump("costs.equipment.service", "service", own.equipment.service)
        share = self.figure("costs.installation", "installation", own.installation_frac)
        less = self.figure(
            "costs.generator_installation",
            "generator_installation",
            own.generator_installation_frac,
        )
        carbon = own.carbon.per(MASS_KG) if own.carbon else 0.0
        return Terms(
            horizon_y=own.horizon_years,
            rate_frac=self.rate(),
            convention=own.convention,
            fuel_price={fuel: self.fuel(fuel) for fuel in burnt},
            visit=self.visit(),
            delivery=self.delivery(),
            service=service,
            installation_frac=share,
            installation_by_group={"generator": less, "fuel train": less},
            freight_per_kg=self.freight(),
            fuel_escalation_frac=own.fuel_escalation_frac,
            carbon_per_kg=carbon,
            residual_value=own.residual_value == "straight-line",
            factor_digits=own.factor_digits,
        )

    def line(self) -> dict[str, float]:
        """Return the tariff of a power line [by name, currency and SI]."""
        own = self.own.line
        key = "costs.line."
        return {
            "per_m": self.each(key + "tariff", "line.tariff", own.tariff, LENGTH_M),
            "connection": self.lump(
                key + "connection", "line.connection", own.connection
            ),
            "energy": self.each(key + "energy", "line.energy", own.energy, ENERGY_KWH),
            "standing": self.each(
                key + "standing", "line.standing", own.standing, TIME_Y
            ),
            "availability": self.figure(
                key + "availability", "line.availability", own.availability_frac
            ),
            "emission": self.figure(
                key + "emission_kg_kwh", "line.emission", own.emission_kg_kwh
            ),
        }

    def refuse_mixed(self) -> None:
        """Refuse built-in dollars beside another currency.

        Raises
        ------
        InputError
            With one fault for each price that the site file leaves open.
        """
        if self.missing:
            code = self.currency
            mine = [key for key, _ in prices_in(self.own, "costs")]
            names = ("module", "battery_unit")
            mine += [f"costs.{n}" for n in names if getattr(self.own, n) is not None]
            both = (
                f"{code}: {', '.join(sorted(mine)) or 'no price'}; USD (built-in): "
                f"{', '.join(sorted(self.missing))}"
            )
            one_rate = f"costs.per_usd = how many {code} one USD is"
            raise InputError(
                [
                    Fault("costs.currency", "would be mixed with built-in prices in USD",
                          both, "one currency", one_rate),
                    *(
                        Fault(
                            key, f"is not stated, and the built-in price is in USD, not {code}",
                            "nothing", "a price, or costs.per_usd", one_rate,
                        )
                        for key in sorted(self.missing)
                    ),
                ]
            )  # fmt: skip
