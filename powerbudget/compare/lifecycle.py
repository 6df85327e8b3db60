"""What an option costs over the years, as a sum of present values with names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from powerbudget.compare.money import (
    left_frac,
    net_rate_frac,
    replacement_years,
    single_factor,
    uniform_factor,
)

GROUPS = (
    "PV modules", "battery", "generator", "fuel train", "utility line extension",
    "installation", "freight",
    "replacement", "fuel", "fuel delivery", "site visits", "scheduled maintenance",
    "utility charges", "price of emissions", "residual value",
)  # fmt: skip
"""Parts of a life-cycle cost (10 CFR 436), in the order in which they are stacked."""


@dataclass(frozen=True)
class Piece:
    """Something that is bought, wears out and is bought again.

    Parameters
    ----------
    title
        What it is, with its count [text].
    group
        One of the first five of `GROUPS` [text].
    price
        All of it, delivered [currency].
    life_y
        Until it is replaced; infinite where it outlasts the study [year].
    installed
        Whether the installation share applies.
    mass_kg
        What must be brought to the site [kg].
    """

    title: str
    group: str
    price: float
    life_y: float
    installed: bool = True
    mass_kg: float = 0.0


@dataclass(frozen=True)
class Bill:
    """What an option needs, in pieces and in quantities a year, without prices of years.

    Parameters
    ----------
    pieces
        What is bought.
    fuel
        Which fuel, empty without one [text].
    fuel_per_year
        Gas in m3, anything else in litres [m3 or L].
    visits_per_year, deliveries_per_year, services_per_year
        Trips of people, trips with fuel, sets of service parts [1/year].
    yearly
        Other costs a year by title [currency/year].
    once
        Costs in one stated year: title, year, sum [text, year, currency].
    co2e_kg_per_year
        Emitted, as CO2 [kg].
    """

    pieces: tuple[Piece, ...]
    fuel: str = ""
    fuel_per_year: float = 0.0
    visits_per_year: float = 0.0
    deliveries_per_year: float = 0.0
    services_per_year: float = 0.0
    yearly: Mapping[str, float] = field(default_factory=dict)
    once: tuple[tuple[str, int, float], ...] = ()
    co2e_kg_per_year: float = 0.0


@dataclass(frozen=True)
class Terms:
    """Prices a year and the rules of the sum.

    Parameters
    ----------
    horizon_y
        Length of the study [year].
    rate_frac
        Real discount rate [fraction].
    convention
        When in its year a cost falls [text].
    fuel_price
        By fuel [currency per m3 or L].
    visit, delivery, service
        One of each [currency].
    installation_frac
        Share of the price of what is installed, first time only [fraction].
    installation_by_group
        The same where a group has its own [fraction].
    freight_per_kg
        Bringing equipment to the site, each time [currency/kg].
    fuel_escalation_frac
        Real growth of fuel prices a year [fraction].
    carbon_per_kg
        Price of CO2 [currency/kg].
    residual_value
        Whether life that is left at the end counts.
    piece_factor
        By group, for what-if questions [ratio].
    life_factor
        By group, for what-if questions [ratio].
    factor_digits
        Decimals to which factors are rounded, as printed tables do; None keeps them
        whole [count].
    """

    horizon_y: int
    rate_frac: float
    convention: str
    fuel_price: Mapping[str, float]
    visit: float
    delivery: float
    service: float
    installation_frac: float
    installation_by_group: Mapping[str, float] = field(default_factory=dict)
    freight_per_kg: float = 0.0
    fuel_escalation_frac: float = 0.0
    carbon_per_kg: float = 0.0
    residual_value: bool = True
    piece_factor: Mapping[str, float] = field(default_factory=dict)
    life_factor: Mapping[str, float] = field(default_factory=dict)
    factor_digits: int | None = None

    def uniform(self, escalation_frac: float = 0.0) -> float:
        """Return the present value of one unit of money a year [year]."""
        rate = net_rate_frac(self.rate_frac, escalation_frac)
        return self._kept(uniform_factor(rate, self.horizon_y, self.convention))

    def single(self, year: int) -> float:
        """Return the present value of one unit of money in a year [ratio]."""
        return self._kept(single_factor(self.rate_frac, year, self.convention))

    def _kept(self, factor: float) -> float:
        digits = self.factor_digits
        return factor if digits is None else round(factor, digits)


@dataclass(frozen=True)
class LifeCycle:
    """Present value of an option by group.

    Parameters
    ----------
    groups
        Present value by name, in the order of `GROUPS` [currency].
    replaced
        Each part that is bought again and its years [text, year].
    """

    groups: dict[str, float]
    replaced: tuple[tuple[str, tuple[int, ...]], ...]

    @property
    def total(self) -> float:
        """Sum of all groups [currency]."""
        return sum(self.groups.values())

    @property
    def capital(self) -> float:
        """What is paid before the first day [currency]."""
        names = GROUPS[: GROUPS.index("replacement")]
        return sum(self.groups[name] for name in names)


def life_cycle(bill: Bill, terms: Terms) -> LifeCycle:
    """Return the present value of an option, group by group [currency].

    Parameters
    ----------
    bill
        Pieces and quantities a year.
    terms
        Prices a year, rate, horizon and convention.

    Returns
    -------
    LifeCycle
        Investment and installation at the start, replacements in the years in which
        lives end, costs a year by the uniform factor, fuel by the modified one,
        less the life that is left at the end [currency].

    Notes
    -----
    After 10 CFR 436.19: investment less residual value, operation and maintenance,
    replacements, energy.  A replacement is made without the installation share, as
    in the well-site model of EPA.  Residual value is straight-line on the price without
    installation, discounted from the end of the study whatever the convention.

    Examples
    --------
    The published example: $986,000 at the start, $3,800 a year and $12,000 in year
    15, over 25 years at 10 % flowing through each year, with factors of three
    decimals, is printed as $1,025,203.

    >>> line = Piece("line", "generator", 986_000.0, float("inf"), installed=False)
    >>> bill = Bill((line,), yearly={"maintenance": 3800.0},
    ...     once=(("rehabilitation", 15, 12_000.0),))
    >>> terms = Terms(25, 0.10, "continuous", {}, 0.0, 0.0, 0.0, 0.0, factor_digits=3)
    >>> f"{life_cycle(bill, terms).total:,.0f}"
    '1,025,203'

    References
    ----------
    10 CFR 436.19, Life cycle costs.  MIL-HDBK-1004/10, Electrical Engineering
    Cathodic Protection, 31 January 1990, section 13.6, Example 3, Alternative 2.
    """
    yearly, growing = terms.uniform(), terms.uniform(terms.fuel_escalation_frac)
    groups = dict.fromkeys(GROUPS, 0.0)
    replaced = []
    for piece in bill.pieces:
        years = _add_piece(groups, piece, terms)
        if years:
            replaced.append((piece.title, years))
    for _, year, amount in bill.once:
        groups["replacement"] += amount * terms.single(year)
    price = terms.fuel_price.get(bill.fuel, 0.0)
    groups["fuel"] = bill.fuel_per_year * price * growing
    groups["fuel delivery"] = bill.deliveries_per_year * terms.delivery * yearly
    groups["site visits"] = bill.visits_per_year * terms.visit * yearly
    groups["scheduled maintenance"] = bill.services_per_year * terms.service * yearly
    groups["utility charges"] = sum(bill.yearly.values()) * yearly
    groups["price of emissions"] = bill.co2e_kg_per_year * terms.carbon_per_kg * yearly
    return LifeCycle(groups, tuple(replaced))


def _add_piece(groups: dict[str, float], piece: Piece, terms: Terms) -> tuple[int, ...]:
    """Add a piece's present values and return its replacement years."""
    price = piece.price * terms.piece_factor.get(piece.group, 1.0)
    life_y = piece.life_y * terms.life_factor.get(piece.group, 1.0)
    groups[piece.group] += price
    if piece.installed:
        share = terms.installation_by_group.get(piece.group, terms.installation_frac)
        groups["installation"] += price * share
    freight = piece.mass_kg * terms.freight_per_kg
    groups["freight"] += freight
    years = replacement_years(life_y, terms.horizon_y)
    for year in years:
        groups["replacement"] += (price + freight) * terms.single(year)
    if terms.residual_value and life_y != float("inf"):
        left = left_frac(life_y, terms.horizon_y)
        groups["residual value"] -= (
            price * left * single_factor(terms.rate_frac, terms.horizon_y)
        )
    return years


def cost_per_kwh(cost: LifeCycle, kwh_per_year: float, terms: Terms) -> float:
    """Return the levelised cost of the energy that loads were served [currency/kWh].

    Parameters
    ----------
    cost
        Present value of the option [currency].
    kwh_per_year
        Served at the bus [kWh].
    terms
        Rate, horizon and convention.

    Returns
    -------
    float
        Cost over energy discounted the same way; infinite when nothing is served
        [currency/kWh].
    """
    if kwh_per_year <= 0:
        return float("inf")
    return cost.total / (kwh_per_year * terms.uniform())
