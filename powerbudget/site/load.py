"""Load tables of the site file: supplies, loads, their traffic and schedules, racks."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from powerbudget.site.calendar import Dates, Hours, Months
from powerbudget.site.circuit import LoadCircuit, SupplyCircuit, Wire
from powerbudget.site.fields import (
    Count,
    Draw,
    FieldUnit,
    Fraction,
    Line,
    Number,
    StatusWord,
    Strict,
    Text,
    WholeNumber,
)

Name = Line
Efficiency = Annotated[Fraction, Field(gt=0)]
LossShare = Annotated[Fraction, Field(lt=1)]
Behaviour = Literal["power", "current", "resistance"]


class Supply(SupplyCircuit):
    """A DC/DC converter between the bus and some loads, two-term."""

    name: Name
    part: Line | None = None
    output_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] | None = Field(
        None, alias="output"
    )
    rated_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=1e6)] | None = Field(
        None, alias="rated"
    )
    no_load_w: Annotated[float, FieldUnit("W"), Field(ge=0, le=1e6)] | None = Field(
        None, alias="no_load"
    )
    efficiency_frac: Efficiency | None = Field(None, alias="efficiency")
    source: Text = ""


PerHour = Annotated[Number, Field(ge=0, le=360_000)]


class Traffic(Strict):
    """What a radio sends: enough to compute the time it spends in each state."""

    polls_per_hour: PerHour = 0.0
    protocol: Literal["modbus-rtu", "dnp3"] | None = None
    registers: WholeNumber | None = None
    analog_points: WholeNumber | None = None
    counter_points: WholeNumber | None = None
    binary_points: WholeNumber | None = None
    bytes_sent: WholeNumber | None = None
    bytes_received: WholeNumber | None = None
    bits_per_character: Annotated[Count, Field(ge=8, le=12)] | None = None
    bit_rate_bit_s: (
        Annotated[float, FieldUnit("bit/s"), Field(ge=1, le=1e12)] | None
    ) = Field(None, alias="bit_rate")
    key_up_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=60)] = Field(
        0.0, alias="key_up"
    )
    tail_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=60)] = Field(
        0.0, alias="tail"
    )
    retry_frac: LossShare = Field(0.0, alias="retries")
    asleep_frac: Fraction = Field(0.0, alias="asleep")
    signal_factor: Annotated[Number, Field(ge=1, le=50)] = 1.0
    role: Literal["station", "repeater", "master"] = "station"
    stations: WholeNumber | None = None
    reports_per_hour: PerHour = 0.0
    storm_reports_per_hour: PerHour = 0.0
    storm_h_per_day: Annotated[float, FieldUnit("h"), Field(ge=0, le=24)] = Field(
        0.0, alias="storm"
    )
    sessions_per_day: Annotated[Number, Field(gt=0, le=8640)] | None = None
    session_s: Annotated[float, FieldUnit("s"), Field(gt=0, le=86_400)] | None = Field(
        None, alias="session"
    )
    registration_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=3600)] = Field(
        0.0, alias="registration"
    )


class Loop(Strict):
    """How the instruments of a line share their pair, and what lies in the way."""

    kind: Literal["plain", "hart", "multidrop", "low-power", "fieldbus"] = "plain"
    resistance_ohm: Annotated[float, FieldUnit("ohm"), Field(ge=0, le=5000)] = Field(
        250.0, alias="resistance"
    )
    barrier_ohm: Annotated[float, FieldUnit("ohm"), Field(ge=0, le=2000)] = Field(
        0.0, alias="barrier"
    )


class Sampled(Strict):
    """A load that is switched on for each sample only."""

    interval_s: Annotated[float, FieldUnit("s"), Field(gt=0, le=604_800)] = Field(
        alias="interval"
    )
    warm_up_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=86_400)] = Field(
        alias="warm_up"
    )
    sample_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=86_400)] = Field(
        0.0, alias="sample"
    )


class HeatedBox(Strict):
    """A heated enclosure: what it loses, or its area and insulation."""

    thermostat_degc: Annotated[float, FieldUnit("degC"), Field(ge=-60, le=60)] = Field(
        alias="thermostat"
    )
    loss_w_per_k: Annotated[float, FieldUnit("W/K"), Field(gt=0, le=500)] | None = (
        Field(None, alias="loss")
    )
    area_m2: Annotated[float, FieldUnit("m**2"), Field(gt=0, le=200)] | None = Field(
        None, alias="area"
    )
    insulation_m: Annotated[float, FieldUnit("m"), Field(gt=0, le=1)] | None = Field(
        None, alias="insulation"
    )
    inside_w: Annotated[float, FieldUnit("W"), Field(ge=0, le=5000)] = Field(
        0.0, alias="warmed_by"
    )


class Strokes(Strict):
    """Movements of a valve or other short work, counted by the day."""

    per_day: Annotated[Number, Field(ge=0, le=86_400)]
    draw: Draw
    time_s: Annotated[float, FieldUnit("s"), Field(gt=0, le=86_400)] = Field(
        alias="time"
    )
    inrush: Draw | None = None


class Season(Strict):
    """A range of dates with a duty of its own; it may run over New Year."""

    dates: Dates
    duty_frac: Fraction = Field(alias="duty")
    hours: Hours | None = None


class Measured(Strict):
    """A load as it was measured: a logged file, or a single reading."""

    file: str | None = None
    column: str | None = None
    time_column: str | None = None
    interval_s: Annotated[float, FieldUnit("s"), Field(gt=0, le=86_400)] | None = Field(
        None, alias="interval"
    )
    label: Literal["start", "end"] = "start"
    decimal: Literal["point", "comma"] | None = None
    encoding: str | None = None
    sheet: str | None = None
    time_format: str | None = None
    spot: Draw | None = None
    method: str = ""


Priority = Literal["shed first", "shed second", "last"]


class Load(LoadCircuit):
    """One line of the equipment list."""

    name: Name
    part: Line | None = None
    quantity: WholeNumber = 1
    supply: Line | None = None
    priority: Priority = "last"
    typical: Draw | None = None
    maximum: Draw | None = None
    peak: Draw | None = None
    behaviour: Behaviour | None = None
    duty_frac: Fraction = Field(1.0, alias="duty")
    hours: Hours | None = None
    months: Months | None = None
    seasons: tuple[Season, ...] = ()
    when: Literal["always", "night", "day"] = "always"
    heater: HeatedBox | None = None
    strokes: Strokes | None = None
    sampled: Sampled | None = None
    measured: Measured | None = None
    live_channels: WholeNumber | None = None
    traffic: Traffic | None = None
    loop: Loop | None = None
    wire: Wire | None = None
    minimum_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="minimum_input"
    )
    maximum_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="maximum_input"
    )
    source: Text = ""
    status: StatusWord | None = None


SignalWord = Literal[
    "ai", "ai-hart", "ai-low-power", "ai-volt", "ao", "di", "do", "solenoid", "pulse",
    "rtd", "thermocouple", "serial", "fieldbus", "wireless",
]  # fmt: skip


class Rack(Strict):
    """A controller with cards that follow from a list of inputs and outputs."""

    controller: str
    io_list: str | None = None
    sheet: str | None = None
    decimal: Literal["point", "comma"] | None = None
    encoding: str | None = None
    spare_frac: Fraction = Field(0.2, alias="spare")
    mount: Literal["cards", "nodes"] = "cards"
    node: str = "node-mixed"
    cards: dict[SignalWord, str] = Field(default_factory=dict)
    redundant: tuple[Literal["processor", "power", "network"], ...] = ()
    supply: str | None = None
    loop_supply: str | None = None
    low_power_supply: str | None = None
    wetting_supply: str | None = None
    wetting_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=0.05)] = Field(
        0.005, alias="wetting_current"
    )
    solenoid: str = "solenoid-low-power"
    solenoid_supply: str | None = None
    loop_wire: Wire | None = None
    priority: Priority = "last"
