"""Tables of the site file for prices: what options cost over the years.

A price is text with its currency and its unit, ``"2.50 USD/gal"``; a price of one
piece may be a plain number in the table's currency.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field, WithJsonSchema, model_validator
from pydantic_core import core_schema

from powerbudget.errors import Fault
from powerbudget.quantities import QuantityError, parse_fraction
from powerbudget.site.fields import (
    Count,
    FieldUnit,
    Fraction,
    Line,
    Number,
    Strict,
    Text,
    new_keys,
)

_PRICE = re.compile(
    r"^\s*([A-Za-z]{3}|[$€£¥])?\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)"
    r"\s*([A-Za-z]{3}|[$€£¥])?\s*(?:/\s*([A-Za-z]+\d?))?\s*$"
)
GAS_UNITS = ("m3", "scf", "Mcf", "GJ", "mmBtu")
LIQUID_UNITS = ("L", "gal", "m3", "kg", "GJ", "mmBtu")
LENGTH_M = {"m": 1.0, "km": 1000.0, "ft": 0.3048, "mi": 1609.344}
ENERGY_KWH = {"kWh": 1.0, "MWh": 1000.0}
POWER_W = {"W": 1.0, "kW": 1000.0}
MASS_KG = {"kg": 1.0, "t": 1000.0}
TIME_Y = {"year": 1.0, "month": 1.0 / 12.0}
VOLUME_L = {"L": 1.0, "gal": 3.785411784, "m3": 1000.0}


@dataclass(frozen=True)
class Price:
    """A price as it was written.

    Parameters
    ----------
    amount
        For one unit [currency].
    currency
        Three letters; empty where a plain number was written [text].
    unit
        Of what, empty for one piece or one time [text].
    """

    amount: float
    currency: str
    unit: str

    def per(self, units: dict[str, float]) -> float:
        """Return the price of one base unit of a table such as `LENGTH_M`."""
        return self.amount / units[self.unit]


def _read_price(value: object, units: tuple[str, ...], example: str) -> Price:
    """Return a price in one of some units; no units: one piece, a number will do."""
    if isinstance(value, Price):
        return value
    if not units and isinstance(value, int | float) and not isinstance(value, bool):
        value = f"{value} "
    needs = f"needs a price with currency{' and unit' if units else ''}: {example}"
    if not isinstance(value, str) or len(value) > 60:
        raise QuantityError(needs)
    match = _PRICE.match(value.replace("−", "-"))
    if not match or (match.group(1) and match.group(3)):
        comma = re.match(r"^\s*[+-]?\d+,\d+", value)
        hint = "; use a point as the decimal mark, not a comma" if comma else ""
        raise QuantityError(needs + hint)
    before, number, after, unit = match.groups()
    return _checked(float(number), before or after or "", unit or "", units, needs)


def _checked(
    amount: float, currency: str, unit: str, units: tuple[str, ...], needs: str
) -> Price:
    if currency and not currency.isalpha():
        raise QuantityError(f"{needs}; '{currency}' stands for several currencies")
    if not currency and units:
        raise QuantityError(f"{needs}; the currency is missing")
    if not 0 <= amount <= 1e12:
        raise QuantityError(f"{needs}; from 0 to 1e12")
    # Mcf is a thousand and MCF too; letters are taken as they are meant.
    known = {name.lower(): name for name in units} | ({"": ""} if not units else {})
    if unit.lower() not in known:
        allowed = f"per {', '.join(units)}" if units else "for one, without a unit"
        raise QuantityError(f"{needs}; prices here are {allowed}")
    return Price(amount, currency.upper(), known[unit.lower()])


class PriceOf:
    """Marks a field as a price, for one piece or for one of some units.

    Parameters
    ----------
    example
        How it may be written [text].
    units
        Units that may stand behind the stroke; none for a price of one piece [text].
    """

    def __init__(self, example: str, *units: str) -> None:
        self.example, self.units = example, units

    def read(self, value: object) -> Price:
        """Return the price, or say what is needed."""
        return _read_price(value, self.units, f"'{self.example}'")

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> Any:
        """Read what was written; nothing of it is left for pydantic to check."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> Any:
        """Tell editors how a price is written."""
        return {
            "type": "string" if self.units else ["string", "number"],
            "description": f"a price: '{self.example}'",
            "examples": [self.example],
        }


Money = Annotated[Price, PriceOf("600 USD")]
GasPrice = Annotated[Price, PriceOf("3 USD/Mcf", *GAS_UNITS)]
LiquidPrice = Annotated[Price, PriceOf("2.50 USD/gal", *LIQUID_UNITS)]
LengthPrice = Annotated[Price, PriceOf("6.50 USD/ft", *LENGTH_M)]
EnergyPrice = Annotated[Price, PriceOf("0.12 USD/kWh", *ENERGY_KWH)]
PowerPrice = Annotated[Price, PriceOf("1.20 USD/W", *POWER_W)]
StorePrice = Annotated[Price, PriceOf("200 USD/kWh", *ENERGY_KWH)]
CarbonPrice = Annotated[Price, PriceOf("50 USD/t", *MASS_KG)]
YearPrice = Annotated[Price, PriceOf("30 USD/month", *TIME_Y)]
MassPrice = Annotated[Price, PriceOf("5 USD/kg", *MASS_KG)]
VolumePrice = Annotated[Price, PriceOf("1.30 USD/L", *VOLUME_L)]


def _rate(value: object) -> float:
    """Return a yearly rate; a bare 3 could be 3 % or 300 %, so it is refused."""
    words = "needs a yearly rate with the per-cent sign: '3 %'"
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise QuantityError(words)
    if isinstance(value, str):
        match = re.match(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+))\s*(%?)\s*$", value)
        if match is None:
            raise QuantityError(words)
        if not match.group(2):
            raise QuantityError(f"{words}; the sign is missing")
        return float(match.group(1)) / 100
    if abs(value) > 0.25:
        raise QuantityError(
            f"{words}; without the sign {value:g} means {100 * value:g} %: "
            f"write '{value:g} %' or {value / 100:g}"
        )
    return float(value)


_RATE_SCHEMA = WithJsonSchema(
    {
        "anyOf": [
            {"type": "number", "minimum": -0.25, "maximum": 0.25},
            {"type": "string", "pattern": r"^\s*[+-]?[0-9.]+\s*%\s*$"},
        ],
        "description": "a yearly rate: '3 %'",
        "examples": ["3 %"],
    }
)
Rate = Annotated[float, BeforeValidator(_rate), Field(ge=0, le=0.4), "%", _RATE_SCHEMA]
Growth = Annotated[
    float, BeforeValidator(_rate), Field(ge=-0.2, le=0.2), "%", _RATE_SCHEMA
]
Share = Annotated[
    float,
    BeforeValidator(parse_fraction),
    Field(ge=0, le=5),
    "%",
    WithJsonSchema(
        {"type": ["number", "string"], "description": "a share of a price: '50 %'"}
    ),
]
Years = Annotated[Number, Field(gt=0, le=60)]


class FuelPrices(Strict):
    """Fuel prices at the site gate; a fuel with a price is available."""

    propane: LiquidPrice | None = Field(
        None,
        description="Price of propane at the site gate. A price makes the fuel "
        "available to `compare`.",
        examples=["2.50 USD/gal"],
    )
    natural_gas: GasPrice | None = Field(
        None,
        description="Forgone gas sales for site gas, 0 where there is no sale. A price "
        "makes site gas available to `compare`.",
        examples=["3 USD/Mcf"],
    )
    methanol: LiquidPrice | None = Field(
        None,
        description="Price of fuel-cell methanol at the site gate.",
        examples=["1.80 USD/L"],
    )
    diesel: LiquidPrice | None = Field(
        None,
        description="Price of diesel fuel at the site gate.",
        examples=["4.20 USD/gal"],
    )


class Trips(Strict):
    """Cost of visits, fuel deliveries and freight."""

    @model_validator(mode="before")
    @classmethod
    def _old_names(cls, table: Any) -> Any:
        return new_keys(table, {"haul": "freight"})

    visit: Money | None = Field(
        None, description="Cost of one site visit.", examples=["600 USD"]
    )
    visits_per_year: Annotated[Number, Field(ge=0, le=366)] | None = Field(
        None,
        description="Scheduled visits per year that every alternative needs.",
        examples=[1],
    )
    delivery: Money | None = Field(
        None, description="Cost of one fuel delivery.", examples=["350 USD"]
    )
    freight: MassPrice | None = Field(
        None,
        description="Freight of equipment to the site, by mass.",
        examples=["5 USD/kg"],
    )
    carries_l: Annotated[float, FieldUnit("L"), Field(gt=0, le=1e6)] | None = Field(
        None,
        alias="carries",
        description="Largest fuel volume of one delivery.",
        examples=["2000 gal"],
    )


class PowerLine(Strict):
    """Utility line extension by the utility's tariff."""

    distance_m: Annotated[float, FieldUnit("m"), Field(ge=0, le=1e6)] | None = Field(
        None,
        alias="distance",
        description="Length of the utility line extension. Without it no line is "
        "compared.",
        examples=["3 km"],
    )
    tariff: LengthPrice | None = Field(
        None,
        description="Cost of the line extension by length.",
        examples=["6.50 USD/ft"],
    )
    free_m: Annotated[float, FieldUnit("m"), Field(ge=0, le=1e5)] = Field(
        0.0,
        alias="free",
        description="Length of the line extension that the utility builds free of "
        "charge.",
        examples=["300 ft"],
    )
    paid_frac: Annotated[Fraction, Field(gt=0)] = Field(
        1.0,
        alias="paid_share",
        description="Share of the line cost that the customer pays.",
        examples=["100 %"],
    )
    connection: Money | None = Field(
        None,
        description="Cost of transformer, meter and service connection.",
        examples=["2500 USD"],
    )
    energy: EnergyPrice | None = Field(
        None, description="Price of utility energy.", examples=["0.12 USD/kWh"]
    )
    standing: YearPrice | None = Field(
        None, description="Fixed charge of the utility.", examples=["30 USD/month"]
    )
    availability_frac: Annotated[Fraction, Field(gt=0)] | None = Field(
        None,
        alias="availability",
        description="Availability of utility power at the site.",
        examples=["99.9 %"],
    )
    emission_kg_kwh: Annotated[Number, Field(ge=0, le=3)] | None = Field(
        None, description="CO2e of utility energy, in kg/kWh.", examples=[0.4]
    )


class Equipment(Strict):
    """Prices and lives of equipment."""

    @model_validator(mode="before")
    @classmethod
    def _old_names(cls, table: Any) -> Any:
        return new_keys(
            table,
            {
                "fuel_gear": "fuel_train",
                "regulator": "charge_controller",
                "regulator_life_years": "charge_controller_life_years",
            },
        )

    structure: PowerPrice | None = Field(
        None,
        description="Price of masts and module frames, by array power.",
        examples=["0.80 USD/W"],
    )
    mast_carries_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=1e6)] | None = (
        Field(
            None,
            alias="mast_carries",
            description="Array power that one mast and its foundation carry.",
            examples=["600 W"],
        )
    )
    foundation: Money | None = Field(
        None, description="Price of one mast foundation.", examples=["400 USD"]
    )
    box: StorePrice | None = Field(
        None,
        description="Price of battery boxes, by battery energy.",
        examples=["120 USD/kWh"],
    )
    module_power: PowerPrice | None = Field(
        None,
        description="Price of PV modules by power, where `module` is not stated.",
        examples=["1.20 USD/W"],
    )
    battery_energy: StorePrice | None = Field(
        None,
        description="Price of battery units by energy, where `battery_unit` is not "
        "stated.",
        examples=["200 USD/kWh"],
    )
    charge_controller: PowerPrice | None = Field(
        None,
        description="Price of charge controllers, by array power.",
        examples=["1.00 USD/W"],
    )
    charger: Money | None = Field(
        None,
        description="Price of the battery charger of an engine-generator.",
        examples=["600 USD"],
    )
    tank: VolumePrice | None = Field(
        None, description="Price of fuel tanks, by volume.", examples=["1.30 USD/L"]
    )
    fuel_train: Money | None = Field(
        None,
        description="Price of the fuel train: piping, pressure regulator, filter.",
        examples=["1500 USD"],
    )
    thermoelectric: Money | None = Field(
        None,
        description="Price of one thermoelectric generator.",
        examples=["14000 USD"],
    )
    methanol_cell: Money | None = Field(
        None,
        description="Price of one direct-methanol fuel cell.",
        examples=["8000 USD"],
    )
    solid_oxide_cell: Money | None = Field(
        None, description="Price of one solid-oxide fuel cell.", examples=["30000 USD"]
    )
    engine: Money | None = Field(
        None,
        description="Price of one engine-generator set with enclosure.",
        examples=["9000 USD"],
    )
    service: Money | None = Field(
        None,
        description="Price of the parts of one scheduled maintenance.",
        examples=["250 USD"],
    )
    module_life_years: Years | None = Field(
        None, description="Life of PV modules, in years.", examples=[25]
    )
    charge_controller_life_years: Years | None = Field(
        None,
        description="Life of charge controllers and battery chargers, in years.",
        examples=[12],
    )
    generator_life_years: Years | None = Field(
        None,
        description="Life of generators, in years; it replaces the life of each kind.",
        examples=[15],
    )


class Costs(Strict):
    """Prices for designs and alternatives; built-in values fill the rest."""

    @model_validator(mode="before")
    @classmethod
    def _old_names(cls, table: Any) -> Any:
        return new_keys(table, {"salvage": "residual_value", "pieces": "equipment"})

    currency: Annotated[Line, Field(max_length=12)] = Field(
        "USD",
        description="Currency of every price in the table, as three letters.",
        examples=["USD"],
    )
    module: Annotated[Number, Field(ge=0, le=1e9)] | None = Field(
        None,
        description="Price of one PV module, without mast and frame, in the currency of "
        "the table.",
        examples=[120],
    )
    battery_unit: Annotated[Number, Field(ge=0, le=1e9)] | None = Field(
        None,
        description="Price of one battery unit, in the currency of the table.",
        examples=[260],
    )
    source: Text = Field(
        "",
        description="Where the prices come from.",
        examples=["quotations of March 2025"],
    )
    per_usd: Annotated[Number, Field(gt=0, le=1e6)] | None = Field(
        None,
        description="Amount of this currency for one US dollar. It converts the "
        "built-in prices.",
        examples=[1.35],
    )
    horizon_years: Annotated[Count, Field(le=60)] = Field(
        20, description="Study period of `compare`, in years.", examples=[20]
    )
    discount_rate_frac: Rate | None = Field(
        None,
        alias="discount_rate",
        description="Real discount rate per year; nominal where `inflation` is stated.",
        examples=["3 %"],
    )
    inflation_frac: Growth | None = Field(
        None,
        alias="inflation",
        description="General inflation per year. With it `discount_rate` is a nominal "
        "rate.",
        examples=["2 %"],
    )
    convention: Literal["end-of-year", "mid-year", "continuous", "annuity-due"] = Field(
        "end-of-year",
        description="Time within the year at which annual costs are discounted.",
        examples=["end-of-year"],
    )
    residual_value: Literal["straight-line", "none"] = Field(
        "straight-line",
        description="Residual value at the end of the study period: straight-line by "
        "remaining life, or none.",
        examples=["straight-line"],
    )
    factor_digits: Annotated[Count, Field(le=9)] | None = Field(
        None,
        description="Decimals to which discount factors are rounded, for comparison "
        "with printed tables.",
        examples=[3],
    )
    installation_frac: Share | None = Field(
        None,
        alias="installation",
        description="Cost of installation as a share of the purchase price.",
        examples=["30 %"],
    )
    generator_installation_frac: Share | None = Field(
        None,
        alias="generator_installation",
        description="Cost of generator installation as a share of the purchase price.",
        examples=["50 %"],
    )
    fuel_escalation_frac: Growth = Field(
        0.0,
        alias="fuel_escalation",
        description="Real escalation of fuel prices per year.",
        examples=["1 %"],
    )
    carbon: CarbonPrice | None = Field(
        None, description="Price of CO2e emissions.", examples=["50 USD/t"]
    )
    fuel: FuelPrices = Field(
        FuelPrices(),
        description="Fuel prices at the site gate.",
        examples=[{"propane": "2.50 USD/gal"}],
    )
    trips: Trips = Field(
        Trips(),
        description="Cost of visits, fuel deliveries and freight.",
        examples=[{"visit": "600 USD", "visits_per_year": 1}],
    )
    line: PowerLine = Field(
        PowerLine(),
        description="Utility line extension as an alternative.",
        examples=[{"distance": "3 km", "tariff": "6.50 USD/ft"}],
    )
    equipment: Equipment = Field(
        Equipment(),
        description="Prices and lives of equipment.",
        examples=[{"structure": "0.80 USD/W", "module_life_years": 25}],
    )

    @property
    def each(self) -> tuple[float, float] | None:
        """Price of one module and of one battery unit, None unless both are stated."""
        if self.module is None or self.battery_unit is None:
            return None
        return self.module, self.battery_unit


class Devices(Strict):
    """Gas-driven devices whose vented methane is printed, never credited."""

    low_bleed: Annotated[Count, Field(le=10_000)] | None = Field(
        None, description="Number of low-bleed pneumatic controllers.", examples=[4]
    )
    intermittent: Annotated[Count, Field(le=10_000)] | None = Field(
        None,
        description="Number of intermittent-bleed pneumatic controllers.",
        examples=[2],
    )
    high_bleed: Annotated[Count, Field(le=10_000)] | None = Field(
        None, description="Number of high-bleed pneumatic controllers.", examples=[1]
    )
    pump: Annotated[Count, Field(le=10_000)] | None = Field(
        None, description="Number of gas-driven pumps.", examples=[1]
    )


OptionName = Literal[
    "solar", "thermoelectric", "hybrid", "methanol-cell", "solid-oxide-cell", "engine",
    "power-line", "as-written",
]  # fmt: skip


class Compared(Strict):
    """Alternatives to compare, and how emissions are counted."""

    options: Annotated[tuple[OptionName, ...], Field(min_length=1)] | None = Field(
        None,
        description="Alternatives to compare. Without it every alternative that the "
        "site allows is compared.",
        examples=[["solar", "thermoelectric", "hybrid"]],
    )
    gwp: Literal["AR4", "AR5", "AR6"] = Field(
        "AR5",
        description="Assessment report that the global warming potentials come from.",
        examples=["AR5"],
    )
    engine_burn: Literal["rich-burn", "lean-burn", "two-stroke"] = Field(
        "rich-burn",
        description="Combustion type of engines, for their methane slip.",
        examples=["rich-burn"],
    )
    gas_driven: Devices | None = Field(
        None,
        description="Gas-driven pneumatic devices on site. Their vented methane is "
        "printed, never credited.",
        examples=[{"low_bleed": 4}],
    )
    autonomy_d: Annotated[float, FieldUnit("d"), Field(ge=0, le=400)] | None = Field(
        None,
        alias="autonomy_with_fuel",
        description="Autonomy required of alternatives with a generator or utility "
        "line. Without it: `criteria.autonomy`.",
        examples=["2 d"],
    )


def prices_in(table: BaseModel, where: str) -> Iterator[tuple[str, Price]]:
    """Yield every price of a table and of those inside it, with its key.

    Parameters
    ----------
    table
        A table of prices.
    where
        Its key [text].

    Yields
    ------
    tuple
        Key path [text] and Price.
    """
    for name, info in type(table).model_fields.items():
        value = getattr(table, name)
        key = f"{where}.{info.alias or name}"
        if isinstance(value, Price):
            yield key, value
        elif isinstance(value, BaseModel):
            yield from prices_in(value, key)


def cost_faults(costs: Costs | None) -> Iterator[Fault]:
    """Yield a fault for each price that is not in the table's currency.

    Parameters
    ----------
    costs
        The ``[costs]`` table, None where it could not be read.

    Yields
    ------
    Fault
        Nothing is converted in silence.
    """
    if costs is None:
        return
    stated = [pair for pair in prices_in(costs, "costs") if pair[1].currency]
    if stated and not re.fullmatch("[A-Za-z]{3}", costs.currency):
        yield Fault(
            "costs.currency",
            "is not the three letters that prices carry",
            costs.currency,
            "such as USD, EUR or CAD",
        )
        return
    for key, price in stated:
        if price.currency != costs.currency.upper():
            yield Fault(
                key,
                "is in another currency than the table",
                price.currency,
                costs.currency,
                "convert it yourself at a rate that you can stand by; none is assumed",
            )
