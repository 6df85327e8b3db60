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
    """Dc/dc converter between the dc bus and some loads."""

    name: Name = Field(
        description="Name of the converter; loads name it in `supply`.",
        examples=["24 V loops"],
    )
    part: Line | None = Field(
        None,
        description="Converter in the parts library; its figures fill the keys below.",
        examples=["converter-12-to-24v-15w"],
    )
    output_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] | None = Field(
        None,
        alias="output",
        description="Output voltage of the converter.",
        examples=["24 V"],
    )
    rated_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=1e6)] | None = Field(
        None,
        alias="rated",
        description="Rated output power of the converter.",
        examples=["15 W"],
    )
    no_load_w: Annotated[float, FieldUnit("W"), Field(ge=0, le=1e6)] | None = Field(
        None, alias="no_load", description="Input power at no load.", examples=["0.6 W"]
    )
    efficiency_frac: Efficiency | None = Field(
        None,
        alias="efficiency",
        description="Efficiency at rated output, no-load power included.",
        examples=["88 %"],
    )
    source: Text = Field(
        "",
        description="Where the figures come from.",
        examples=["data sheet, 2019, page 2"],
    )


PerHour = Annotated[Number, Field(ge=0, le=360_000)]


class Traffic(Strict):
    """Radio traffic, for the time in transmit, receive and sleep."""

    polls_per_hour: PerHour = Field(
        0.0, description="Polls per hour that this station answers.", examples=[60]
    )
    protocol: Literal["modbus-rtu", "dnp3"] | None = Field(
        None,
        description="Protocol of the poll. Without it: Modbus RTU with `registers`, "
        "DNP3 with points.",
        examples=["dnp3"],
    )
    registers: WholeNumber | None = Field(
        None, description="Modbus registers read in one poll.", examples=[20]
    )
    analog_points: WholeNumber | None = Field(
        None, description="DNP3 analog points in one answer.", examples=[12]
    )
    counter_points: WholeNumber | None = Field(
        None, description="DNP3 counter points in one answer.", examples=[4]
    )
    binary_points: WholeNumber | None = Field(
        None, description="DNP3 binary points in one answer.", examples=[20]
    )
    bytes_sent: WholeNumber | None = Field(
        None,
        description="Bytes sent in one message; it replaces points and registers.",
        examples=[200],
    )
    bytes_received: WholeNumber | None = Field(
        None, description="Bytes received in one request.", examples=[20]
    )
    bits_per_character: Annotated[Count, Field(ge=8, le=12)] | None = Field(
        None,
        description="Bits of one character on the line. Without it: that of the "
        "protocol.",
        examples=[10],
    )
    bit_rate_bit_s: (
        Annotated[float, FieldUnit("bit/s"), Field(ge=1, le=1e12)] | None
    ) = Field(
        None,
        alias="bit_rate",
        description="Bit rate on the air.",
        examples=["9600 bit/s"],
    )
    key_up_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=60)] = Field(
        0.0,
        alias="key_up",
        description="Time from keying the transmitter to the first bit.",
        examples=["40 ms"],
    )
    tail_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=60)] = Field(
        0.0,
        alias="tail",
        description="Time the transmitter stays keyed after the last bit.",
        examples=["10 ms"],
    )
    retry_frac: LossShare = Field(
        0.0,
        alias="retries",
        description="Share of messages that are sent again.",
        examples=["5 %"],
    )
    asleep_frac: Fraction = Field(
        0.0,
        alias="asleep",
        description="Share of the time in sleep mode; the rest of the time the radio "
        "receives.",
        examples=["80 %"],
    )
    signal_factor: Annotated[Number, Field(ge=1, le=50)] = Field(
        1.0,
        description="Factor on the transmit time for a weak signal.",
        examples=[1.5],
    )
    role: Literal["station", "repeater", "master"] = Field(
        "station",
        description="Duty of the radio: station, repeater or master.",
        examples=["repeater"],
    )
    stations: WholeNumber | None = Field(
        None,
        description="Number of stations behind a repeater or master.",
        examples=[6],
    )
    reports_per_hour: PerHour = Field(
        0.0, description="Unsolicited reports per hour.", examples=[4]
    )
    storm_reports_per_hour: PerHour = Field(
        0.0, description="Reports per hour during an alarm storm.", examples=[600]
    )
    storm_h_per_day: Annotated[float, FieldUnit("h"), Field(ge=0, le=24)] = Field(
        0.0,
        alias="storm",
        description="Duration of alarm storms per day.",
        examples=["2 h"],
    )
    sessions_per_day: Annotated[Number, Field(gt=0, le=8640)] | None = Field(
        None,
        description="Sessions per day of a modem that is off between sessions.",
        examples=[8],
    )
    session_s: Annotated[float, FieldUnit("s"), Field(gt=0, le=86_400)] | None = Field(
        None, alias="session", description="Duration of one session.", examples=["90 s"]
    )
    registration_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=3600)] = Field(
        0.0,
        alias="registration",
        description="Time for network registration before each session.",
        examples=["60 s"],
    )


class Loop(Strict):
    """Loop type, and resistances in the loop."""

    kind: Literal["plain", "hart", "multidrop", "low-power", "fieldbus"] = Field(
        "plain",
        description="Type of loop. Multidrop carries 4 mA per device; fieldbus carries "
        "all current in one trunk.",
        examples=["hart"],
    )
    resistance_ohm: Annotated[float, FieldUnit("ohm"), Field(ge=0, le=5000)] = Field(
        250.0,
        alias="resistance",
        description="Input resistor of the card in the loop.",
        examples=["250 ohm"],
    )
    barrier_ohm: Annotated[float, FieldUnit("ohm"), Field(ge=0, le=2000)] = Field(
        0.0,
        alias="barrier",
        description="Resistance of the intrinsic-safety barrier in the loop.",
        examples=["150 ohm"],
    )


class Sampled(Strict):
    """A load that is on for each sample only."""

    interval_s: Annotated[float, FieldUnit("s"), Field(gt=0, le=604_800)] = Field(
        alias="interval",
        description="Time from one sample to the next.",
        examples=["1 min"],
    )
    warm_up_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=86_400)] = Field(
        alias="warm_up", description="Time on before each sample.", examples=["5 s"]
    )
    sample_s: Annotated[float, FieldUnit("s"), Field(ge=0, le=86_400)] = Field(
        0.0, alias="sample", description="Time on during each sample.", examples=["1 s"]
    )


class HeatedBox(Strict):
    """Heated enclosure: heat loss, or area and insulation."""

    thermostat_degc: Annotated[float, FieldUnit("degC"), Field(ge=-60, le=60)] = Field(
        alias="thermostat",
        description="Temperature that the heater holds.",
        examples=["5 degC"],
    )
    loss_w_per_k: Annotated[float, FieldUnit("W/K"), Field(gt=0, le=500)] | None = (
        Field(
            None,
            alias="loss",
            description="Heat loss of the enclosure. It replaces `area` and `insulation`.",
            examples=["1.5 W/degC"],
        )
    )
    area_m2: Annotated[float, FieldUnit("m**2"), Field(gt=0, le=200)] | None = Field(
        None,
        alias="area",
        description="Outside surface of the enclosure.",
        examples=["1.5 m2"],
    )
    insulation_m: Annotated[float, FieldUnit("m"), Field(gt=0, le=1)] | None = Field(
        None,
        alias="insulation",
        description="Thickness of the insulation.",
        examples=["50 mm"],
    )
    inside_w: Annotated[float, FieldUnit("W"), Field(ge=0, le=5000)] = Field(
        0.0,
        alias="warmed_by",
        description="Heat from other equipment inside the enclosure.",
        examples=["3 W"],
    )


class Strokes(Strict):
    """Short operations counted per day, such as valve strokes."""

    per_day: Annotated[Number, Field(ge=0, le=86_400)] = Field(
        description="Strokes per day.", examples=[6]
    )
    draw: Draw = Field(
        description="Power or current during the stroke.", examples=["5 A", "60 W"]
    )
    time_s: Annotated[float, FieldUnit("s"), Field(gt=0, le=86_400)] = Field(
        alias="time", description="Duration of one stroke.", examples=["20 s"]
    )
    inrush: Draw | None = Field(
        None,
        description="Inrush power or current at the start of the stroke.",
        examples=["12 A"],
    )


class Season(Strict):
    """Dates with a duty cycle of their own; they may cross New Year."""

    dates: Dates = Field(
        description="First and last day of the period, both included; it may cross New "
        "Year.",
        examples=["15 Nov to 1 Mar"],
    )
    duty_frac: Fraction = Field(
        alias="duty", description="Duty cycle in this period.", examples=["6 %"]
    )
    hours: Hours | None = Field(
        None,
        description="Clock hours in this period. Without it: those of the load.",
        examples=["06:00-18:00"],
    )


class Measured(Strict):
    """Measured load: logged file or spot measurement."""

    file: str | None = Field(
        None,
        description="Logged data: CSV or workbook, path relative to the site file.",
        examples=["log.csv"],
    )
    column: str | None = Field(
        None,
        description="Column of the power or current. Without it: the one column with a "
        "unit of power or current.",
        examples=["current (A)"],
    )
    time_column: str | None = Field(
        None,
        description="Column of the time stamps. Without it: the first column with "
        "times.",
        examples=["time"],
    )
    interval_s: Annotated[float, FieldUnit("s"), Field(gt=0, le=86_400)] | None = Field(
        None,
        alias="interval",
        description="Sampling interval. Without it: that of the time stamps.",
        examples=["1 min"],
    )
    label: Literal["start", "end"] = Field(
        "start",
        description="Whether a time stamp marks the start or the end of its interval.",
        examples=["end"],
    )
    decimal: Literal["point", "comma"] | None = Field(
        None,
        description="Decimal mark of the file. Without it: detected.",
        examples=["comma"],
    )
    encoding: str | None = Field(
        None,
        description="Text encoding of the file. Without it: detected.",
        examples=["cp1252"],
    )
    sheet: str | None = Field(
        None,
        description="Sheet of the workbook. Without it: the first one.",
        examples=["day 1"],
    )
    time_format: str | None = Field(
        None,
        description="Format of the time stamps where they are not ISO 8601.",
        examples=["%d.%m.%Y %H:%M"],
    )
    spot: Draw | None = Field(
        None,
        description="Spot measurement in place of a file. It is used and reported as a "
        "spot measurement.",
        examples=["85 mA"],
    )
    method: str = Field(
        "",
        description="Instrument and method of the measurement.",
        examples=["shunt, 1 s"],
    )


Priority = Literal["shed first", "shed second", "last"]


class Load(LoadCircuit):
    """One load of the load list."""

    name: Name = Field(
        description="Name of the load in every result.", examples=["radio"]
    )
    part: Line | None = Field(
        None,
        description="Device in the parts library. Figures written beside it replace "
        "those of the part.",
        examples=["radio-spread-spectrum-1w"],
    )
    quantity: WholeNumber = Field(
        1, description="Number of equal devices.", examples=[3]
    )
    supply: Line | None = Field(
        None,
        description="Converter that feeds the load. Without it: the dc bus.",
        examples=["24 V loops"],
    )
    priority: Priority = Field(
        "last",
        description="Load shedding stage; `last` marks a critical load.",
        examples=["shed first"],
    )
    typical: Draw | None = Field(
        None,
        description="Typical power or current of one device while on.",
        examples=["1.5 W", "12 mA"],
    )
    maximum: Draw | None = Field(
        None,
        description="Maximum continuous power or current of one device. Without it: the "
        "typical value.",
        examples=["3 W"],
    )
    peak: Draw | None = Field(
        None, description="Inrush power or current of one device.", examples=["12 A"]
    )
    behaviour: Behaviour | None = Field(
        None,
        description="Constant-power, constant-current or constant-resistance load. "
        "Without it: that of the part, else by the unit.",
        examples=["power"],
    )
    duty_frac: Fraction = Field(
        1.0,
        alias="duty",
        description="Duty cycle during the hours and months stated.",
        examples=["50 %"],
    )
    hours: Hours | None = Field(
        None,
        description="Clock hours in which the load is on, local standard time.",
        examples=["06:00-18:00"],
    )
    months: Months | None = Field(
        None, description="Months in which the load is on.", examples=["Nov-Mar"]
    )
    seasons: tuple[Season, ...] = Field(
        (),
        description="Periods of the year with a duty cycle of their own.",
        examples=[[{"dates": "15 Nov to 1 Mar", "duty": "6 %"}]],
    )
    when: Literal["always", "night", "day"] = Field(
        "always",
        description="Restricts the load to night or day by the position of the sun.",
        examples=["night"],
    )
    heater: HeatedBox | None = Field(
        None,
        description="Thermostat and heat loss; the duty cycle then follows the ambient "
        "temperature.",
        examples=[{"thermostat": "5 degC", "loss": "1.5 W/degC"}],
    )
    strokes: Strokes | None = Field(
        None,
        description="Short operations counted per day, such as valve strokes.",
        examples=[{"per_day": 6, "draw": "5 A", "time": "20 s"}],
    )
    sampled: Sampled | None = Field(
        None,
        description="Switches the load on for each sample only.",
        examples=[{"interval": "1 min", "warm_up": "5 s", "sample": "1 s"}],
    )
    measured: Measured | None = Field(
        None,
        description="Measured load; it replaces the calculated one.",
        examples=[{"spot": "85 mA", "method": "clamp meter"}],
    )
    live_channels: WholeNumber | None = Field(
        None,
        description="Channels in use on an I/O card. Without it: all.",
        examples=[3],
    )
    traffic: Traffic | None = Field(
        None,
        description="Radio traffic; it sets the time in transmit, receive and sleep.",
        examples=[{"polls_per_hour": 60, "registers": 20, "bit_rate": "9600 bit/s"}],
    )
    loop: Loop | None = Field(
        None,
        description="Loop type and resistances of two-wire transmitters.",
        examples=[{"kind": "hart", "resistance": "250 ohm"}],
    )
    wire: Wire | None = Field(
        None,
        description="Conductors from the dc bus or converter to the device.",
        examples=[{"gauge": "16 AWG", "length": "120 ft"}],
    )
    minimum_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="minimum_input",
        description="Minimum operating voltage at the terminals. Without it: that of "
        "the part.",
        examples=["10.5 V"],
    )
    maximum_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="maximum_input",
        description="Maximum input voltage at the terminals. Without it: that of the "
        "part.",
        examples=["30 V"],
    )
    source: Text = Field(
        "",
        description="Where the figures come from.",
        examples=["data sheet, 2021, page 4"],
    )
    status: StatusWord | None = Field(
        None,
        description="Status word of the figures. Without it: that of the part, else "
        "user input.",
        examples=["measured"],
    )


SignalWord = Literal[
    "ai", "ai-hart", "ai-low-power", "ai-volt", "ao", "di", "do", "solenoid", "pulse",
    "rtd", "thermocouple", "serial", "fieldbus", "wireless",
]  # fmt: skip


class Rack(Strict):
    """Controller with I/O cards that follow from an I/O list."""

    controller: str = Field(
        description="Controller in the parts library; its built-in points are used "
        "first.",
        examples=["controller-compact"],
    )
    io_list: str | None = Field(
        None,
        description="I/O list: CSV, text or workbook, path relative to the site file.",
        examples=["tag-list-station.csv"],
    )
    sheet: str | None = Field(
        None,
        description="Sheet of the workbook. Without it: the first one.",
        examples=["I/O"],
    )
    decimal: Literal["point", "comma"] | None = Field(
        None,
        description="Decimal mark of the list. Without it: detected.",
        examples=["point"],
    )
    encoding: str | None = Field(
        None,
        description="Text encoding of the list. Without it: detected.",
        examples=["cp1252"],
    )
    spare_frac: Fraction = Field(
        0.2,
        alias="spare",
        description="Installed spare on top of the points in use.",
        examples=["20 %"],
    )
    mount: Literal["cards", "nodes"] = Field(
        "cards",
        description="I/O cards in the rack, or small remote nodes.",
        examples=["cards"],
    )
    node: str = Field(
        "node-mixed",
        description='Remote node in the parts library, for `mount = "nodes"`.',
        examples=["node-mixed"],
    )
    cards: dict[SignalWord, str] = Field(
        default_factory=dict,
        description="Card for each kind of signal; the others take the usual card.",
        examples=[{"ai-hart": "card-hart"}],
    )
    redundant: tuple[Literal["processor", "power", "network"], ...] = Field(
        (), description="Redundant modules of the rack.", examples=[["power"]]
    )
    supply: str | None = Field(
        None,
        description="Converter that feeds controller and cards. Without it: the dc bus.",
        examples=["24 V loops"],
    )
    loop_supply: str | None = Field(
        None,
        description="Converter that feeds the two-wire loops. Without it: the dc bus.",
        examples=["24 V loops"],
    )
    low_power_supply: str | None = Field(
        None,
        description="Converter that feeds 1-5 V low-power transmitters. Without it: the "
        "dc bus.",
        examples=["24 V loops"],
    )
    wetting_supply: str | None = Field(
        None,
        description="Converter that feeds the wetting current of contacts. Without it: "
        "the dc bus.",
        examples=["24 V loops"],
    )
    wetting_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=0.05)] = Field(
        0.005,
        alias="wetting_current",
        description="Wetting current of one closed contact.",
        examples=["5 mA"],
    )
    solenoid: str = Field(
        "solenoid-low-power",
        description="Solenoid in the parts library, for signals of kind `solenoid`.",
        examples=["solenoid-low-power"],
    )
    solenoid_supply: str | None = Field(
        None,
        description="Converter that feeds the solenoids. Without it: the dc bus.",
        examples=["24 V loops"],
    )
    loop_wire: Wire | None = Field(
        None,
        description="Conductors from the rack to each two-wire transmitter.",
        examples=[{"gauge": "18 AWG", "length": "150 ft"}],
    )
    priority: Priority = Field(
        "last", description="Load shedding stage of the rack.", examples=["last"]
    )
