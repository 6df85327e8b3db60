"""Site files that people get wrong: what the reader says about each."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pydantic import BaseModel, Field, ValidationError
from reference import together

from powerbudget.errors import InputError
from powerbudget.loads.wiring import AWG_OHM_PER_KFT, MM2_OHM_PER_KM
from powerbudget.site import fields, reader
from powerbudget.site.faults import model_of
from powerbudget.site.load import Load
from powerbudget.site.reader import read_site, read_site_text
from powerbudget.site.tables import Site

TEXT = """
[site]
name = "Pad"
latitude = 55.3
longitude = -160.5
elevation = "7 m"
time_zone = "UTC-9"
[weather]
record = "sand-point"
[bus]
nominal = "12 V"
low_voltage_disconnect = "11.6 V"
low_voltage_reconnect = "12.8 V"
contingency = "15 %"
[[supply]]
name = "loops"
part = "converter-12-to-24v-15w"
[[load]]
name = "controller"
part = "controller-low-power"
[[load]]
name = "inputs"
part = "card-digital-input"
live_channels = 3
[[load]]
name = "gauges"
part = "transmitter-pressure-two-wire"
supply = "loops"
quantity = 3
wire = { gauge = "18 AWG", length = "60 ft" }
[[load]]
name = "radio"
part = "radio-spread-spectrum-1w"
traffic = { polls_per_hour = 60, registers = 20, bit_rate = "9600 bit/s" }
[[load]]
name = "light"
typical = "6 W"
maximum = "8 W"
duty = "50 %"
hours = "08:00-09:00"
status = "fictitious"
[array]
module = "module-36-cell-50w"
parallel = 5
tilt = "70 deg"
azimuth = "south"
[charge_controller]
kind = "mppt"
efficiency = "96 %"
[battery]
chemistry = "agm"
unit = "battery-agm-12v-100ah"
series = 1
parallel = 4
health = "90 %"
[criteria]
autonomy = "5 d"
autonomy_temperature = "-10 degC"
[costs]
module = 70
battery_unit = 260
"""
LOADS = re.compile(r"\[\[load\]\]\n(?:(?!\[).*\n)*")
NO_LOADS = LOADS.sub("", TEXT)
UNIT = 'unit = "battery-agm-12v-100ah"'
MODULE = 'module = "module-36-cell-50w"'
RULE = 'low_voltage_disconnect = "11.6 V"\nlow_voltage_reconnect = "12.8 V"'
# Words of the validation library, which no user should have to decode.
FOREIGN = re.compile(
    r"Input should|String should|List should|Tuple should|Field required|valid dict"
    r"|instance of|Extra inputs|Value error|pydantic|Traceback|unable to parse"
    r"|fractional part|discriminator|datetime\.|as table|as text",
    re.IGNORECASE,
)


def change(old: str, new: str) -> str:
    """Return the good site with one piece changed; the piece must be there."""
    assert old in TEXT
    return TEXT.replace(old, new, 1)


def faults(text: str, path: Path | None = None):
    """Return the faults of a site, checked to be in the words of the site file."""
    with pytest.raises(InputError) as caught:
        read_site_text(text, path)
    assert not FOREIGN.search(str(caught.value)), str(caught.value)
    assert all(fault.file for fault in caught.value.faults)
    assert all(fault.where for fault in caught.value.faults)
    return caught.value.faults


@pytest.mark.parametrize(
    ("low", "high", "wrong"),
    [
        ("9.6", "15.6", ""),
        ("9.59", "15.6", "disconnect"),
        ("9.6", "15.61", "reconnect"),
    ],
)
def test_volts_at_the_very_bounds_of_the_bus_suit_it(low, high, wrong):
    """0.8 and 1.3 times 12 V are 9.6 and 15.6 V, whatever the last bit says."""
    text = change('"11.6 V"', f'"{low} V"').replace('"12.8 V"', f'"{high} V"', 1)
    try:
        told = []
        read_site_text(text)
    except InputError as caught:
        told = [f.where for f in caught.faults if "does not fit the bus" in f.problem]
    assert told == ([f"bus.low_voltage_{wrong}"] if wrong else [])


def test_the_good_site_is_read():
    """The site that every test below spoils is itself accepted."""
    tables = read_site_text(TEXT).tables
    assert tables.bus.contingency_frac == 0.15
    assert tables.load[2].wire is not None
    assert tables.load[2].wire.length_m == pytest.approx(18.288)


# label: (site, key path, what the message must hold)
ONE_FAULT = {
    "Wh where Ah is meant": (
        change(UNIT, 'unit = {nominal="12 V", capacity="1200 Wh", hour_rate="20 h"}'),
        "battery.unit.capacity",
        ["a charge", "'Wh' is an energy", "'1200 Wh'"],
    ),
    "no hour rate": (
        change(UNIT, 'unit = {nominal = "12 V", capacity = "100 Ah"}'),
        "battery.unit.hour_rate",
        ["is missing", "'20 h'"],
    ),
    "unit as a number": (change(UNIT, "unit = 12"), "battery.unit", ["name", "table"]),
    "unit as a list": (change(UNIT, "unit = ['a']"), "battery.unit", ["name", "table"]),
    "module as a flag": (change(MODULE, "module = true"), "array.module", ["true"]),
    "unit unknown": (
        change(UNIT, 'unit = "battery-agm-12v-100hh"'),
        "battery.unit",
        ["did you mean battery-agm-12v-100ah?"],
    ),
    "module that is a battery": (
        change(MODULE, 'module = "battery-agm-12v-100ah"'),
        "array.module",
        ["module-36-cell-50w"],
    ),
    "module of zero cells": (
        change(
            MODULE,
            'module = {power="50 W", max_power_voltage="17 V", cells=0,'
            'max_power_current="2.9 A", open_circuit_voltage="21 V",'
            'short_circuit_current="3.1 A"}',
        ),
        "array.module.cells",
        ["1 to 200", "given: 0"],
    ),
    "latitude 91": (change("55.3", "91"), "site.latitude", ["-90 deg to 90 deg"]),
    "latitude nan": (change("55.3", "nan"), "site.latitude", ["finite"]),
    "latitude inf": (change("55.3", "inf"), "site.latitude", ["finite"]),
    "latitude true": (change("55.3", "true"), "site.latitude", ["number", "true"]),
    "latitude east": (change("55.3", '"55.3 E"'), "site.latitude", ["N or S"]),
    "longitude north": (change("-160.5", '"9 N"'), "site.longitude", ["E or W"]),
    "sign and letter": (change("-160.5", '"-9 W"'), "site.longitude", ["one of them"]),
    "latitude comma": (change("55.3", '"55,3"'), "site.latitude", ["use a point"]),
    "unit that never ends": (
        change("7 m", "7 m*9**9**9"),
        "site.elevation",
        ["a plain unit"],
    ),
    "unit that never ends, raised": (
        change("7 m", "7 m 9^9^9"),
        "site.elevation",
        ["a plain unit"],
    ),
    "draw that never ends": (
        change('"6 W"', '"6 W*9**9**9"'),
        "load[5] (light).typical",
        ["a draw in W or A", "a plain unit"],
    ),
    "elevation bare": (change('"7 m"', "7"), "site.elevation", ["'300 ft'"]),
    "elevation huge": (change("7 m", "1e400 m"), "site.elevation", ["not finite"]),
    "elevation nan": (change("7 m", "nan m"), "site.elevation", ["finite"]),
    "elevation comma": (change("7 m", "7,5 m"), "site.elevation", ["use a point"]),
    # Field case F8: the sign of Etc/GMT+7 is reversed.
    "Etc zone": (change("UTC-9", "Etc/GMT+7"), "site.time_zone", ["reversed", "UTC-7"]),
    "zone as number": (change('"UTC-9"', "-9"), "site.time_zone", ["'UTC-7'"]),
    "zone too far": (change("UTC-9", "UTC+99"), "site.time_zone", ["-12 h to 14 h"]),
    "zone as date": (change('"UTC-9"', "2024-01-01"), "site.time_zone", ["2024-01-01"]),
    "name empty": (change('"Pad"', '" "'), "site.name", ["empty"]),
    "name endless": (change("Pad", 300 * "x"), "site.name", ["300 letters"]),
    "name steers": (change("Pad", "a\\u001b[2J"), "site.name", ["invisible"]),
    "name in two lines": (change("Pad", "a\\nb"), "site.name", ["line break"]),
    "tilt 100": (change("70 deg", "100 deg"), "array.tilt", ["0 deg to 90 deg"]),
    "compass slip": (change("south", "souht"), "array.azimuth", ["did you mean south"]),
    "azimuth 360": (change("south", "360 deg"), "array.azimuth", ["less than 360 deg"]),
    "unknown key": (
        change('azimuth = "south"', 'azimuth = "south"\nalbdo = 0.2'),
        "array.albdo",
        ["did you mean albedo?"],
    ),
    "key of another table": (
        change('azimuth = "south"', 'azimuth = "south"\nlow_voltage_reconnect = "1 V"'),
        "array.low_voltage_reconnect",
        ["belongs in [bus]"],
    ),
    "unknown key deep down": (
        change("polls_per_hour = 60,", "polls_per_hour = 60, key_upp = 1,"),
        "load[4] (radio).traffic.key_upp",
        ["did you mean key_up?"],
    ),
    "unknown table": (TEXT + "[sizng]\n", "sizng", ["did you mean sizing?"]),
    "efficiency 0": (
        change('"96 %"', "0"),
        "charge_controller.efficiency",
        ["more than 0 %"],
    ),
    "health 0": (change('"90 %"', "0"), "battery.health", ["more than 0 %"]),
    "health 90": (change('"90 %"', "90"), "battery.health", ["write '90 %', or 0.9"]),
    "share over 100 %": (change("15 %", "115 %"), "bus.contingency", ["0 % to 100 %"]),
    "share below 0": (change("15 %", "−5 %"), "bus.contingency", ["0 % to 100 %"]),
    "share comma": (change("15 %", "12,5 %"), "bus.contingency", ["use a point"]),
    "share nan": (change('"15 %"', "nan"), "bus.contingency", ["finite"]),
    "share true": (change('"15 %"', "true"), "bus.contingency", ["true"]),
    "all is lost": (
        change('azimuth = "south"', 'azimuth = "south"\nsoiling = 1'),
        "array.soiling",
        ["less than 100 %"],
    ),
    "no rule": (change(RULE, ""), "bus", ["no safe default", "given: none"]),
    "half a rule": (
        change('low_voltage_disconnect = "11.6 V"', ""),
        "bus",
        ["half of a rule"],
    ),
    "both rules": (
        change(RULE, RULE + '\ndisconnect_state = "30 %"\nreconnect_state = "50 %"'),
        "bus",
        ["both rules"],
    ),
    "one and a half rules": (
        change(RULE, RULE + '\ndisconnect_state = "30 %"'),
        "bus",
        ["both rules"],
    ),
    "reconnect below": (
        change("12.8 V", "11.0 V"),
        "bus.low_voltage_reconnect",
        ["above disconnect", "more than 11.6 V"],
    ),
    "reconnect by state below": (
        change(RULE, 'disconnect_state = "40 %"\nreconnect_state = "40 %"'),
        "bus.reconnect_state",
        ["above disconnect"],
    ),
    "reconnect out of reach": (
        change("12.8 V", "25.6 V"),
        "bus.low_voltage_reconnect",
        ["does not fit the bus", "15.6 V on a 12 V bus"],
    ),
    "absorption of a 24 V site": (
        change('kind = "mppt"', 'kind = "mppt"\nabsorption = "28.8 V"'),
        "charge_controller.absorption",
        ["does not fit the bus"],
    ),
    "coefficient for a block": (
        change(
            'kind = "mppt"',
            'kind = "mppt"\ntemperature_compensation_per_cell = "-18 mV/degC"',
        ),
        "charge_controller.temperature_compensation_per_cell",
        ["-10 to 0 mV/K"],
    ),
    "bank of 24 V": (change("series = 1", "series = 2"), "battery.series", ["24 V"]),
    "other chemistry": (change('"agm"', '"lfp"'), "battery.chemistry", ["agm"]),
    "chemistry misspelt": (
        change('"agm"', '"floded"'),
        "battery.chemistry",
        ["did you mean flooded?"],
    ),
    "no batteries": (
        change("parallel = 4", "parallel = 0"),
        "battery.parallel",
        ["1 to 100,000", "given: 0"],
    ),
    "no panels": (change("parallel = 5", "parallel = 0"), "array.parallel", ["1 to"]),
    "half a panel": (
        change("parallel = 5", "parallel = 1.5"),
        "array.parallel",
        ["1.5"],
    ),
    "panels in quotes": (
        change("parallel = 5", 'parallel = "5"'),
        "array.parallel",
        ["whole number without quotes"],
    ),
    "weather both": (
        change('record = "sand-point"', 'record = "miami"\nfile = "a.epw"'),
        "weather",
        ["exactly one", "record and file"],
    ),
    "weather neither": (
        change('record = "sand-point"', ""),
        "weather",
        ["exactly one", "neither"],
    ),
    "weather misspelt": (
        change("sand-point", "sandpoint"),
        "weather.record",
        ["did you mean sand-point?"],
    ),
    "weather missing": (
        change('record = "sand-point"', 'file = "absent.epw"'),
        "weather.file",
        ["no such file", "absent.epw"],
    ),
    "weather folder": (
        change('record = "sand-point"', 'file = "."'),
        "weather.file",
        ["folder"],
    ),
    "weather empty": (
        change('record = "sand-point"', 'file = ""'),
        "weather.file",
        ["empty"],
    ),
    "weather zero byte": (
        change('record = "sand-point"', 'file = "a\\u0000b"'),
        "weather.file",
        ["invisible"],
    ),
    "part misspelt": (
        change('"controller-low-power"', '"controler-low-power"'),
        "load[1] (controller).part",
        ["did you mean controller-low-power?"],
    ),
    "converter as a load": (
        change('"controller-low-power"', '"converter-12-to-24v-15w"'),
        "load[1] (controller).part",
        ["is not a load"],
    ),
    "supply misspelt": (
        change('supply = "loops"', 'supply = "loop"'),
        "load[3] (gauges).supply",
        ["did you mean loops?"],
    ),
    "converter unknown": (
        change("converter-12-to-24v-15w", "converter-12-to-24v-16w"),
        "supply[1] (loops).part",
        ["is not a converter"],
    ),
    "converter for 24 V": (
        change("converter-12-to-24v-15w", "converter-24-to-24v-15w"),
        "supply[1] (loops).part",
        ["does not take the 12 V bus", "18 V to 36 V"],
    ),
    "converter half written": (
        change('part = "converter-12-to-24v-15w"', 'output = "24 V"'),
        "supply[1] (loops)",
        ["output, rated, no_load and efficiency"],
    ),
    "converter that loses all": (
        change(
            'part = "converter-12-to-24v-15w"',
            'output="24 V"\nrated="15 W"\nno_load="0.1 W"\nefficiency="0 %"',
        ),
        "supply[1] (loops).efficiency",
        ["more than 0 %"],
    ),
    "same name twice": (
        change('name = "radio"', 'name = "controller"'),
        "load[4].name",
        ["also the name of load[1]"],
    ),
    "channels too many": (
        change("live_channels = 3", "live_channels = 9"),
        "load[2] (inputs).live_channels",
        ["0 to 8"],
    ),
    "channels of a light": (
        change('typical = "6 W"', 'typical = "6 W"\nlive_channels = 1'),
        "load[5] (light).live_channels",
        ["cards only"],
    ),
    "traffic of a card": (
        change(
            "live_channels = 3",
            'traffic = {polls_per_hour=1, registers=1, bit_rate="9600 bit/s"}',
        ),
        "load[2] (inputs).traffic",
        ["radio parts only", "a card"],
    ),
    "polls nan": (
        change("polls_per_hour = 60", "polls_per_hour = nan"),
        "load[4] (radio).traffic.polls_per_hour",
        ["finite"],
    ),
    "polls in words": (
        change("polls_per_hour = 60", 'polls_per_hour = "sixty"'),
        "load[4] (radio).traffic.polls_per_hour",
        ["plain number"],
    ),
    "polls comma": (
        change("polls_per_hour = 60", 'polls_per_hour = "12,5"'),
        "load[4] (radio).traffic.polls_per_hour",
        ["use a point"],
    ),
    "registers and bytes": (
        change("registers = 20", "registers = 20, bytes_sent = 9"),
        "load[4] (radio).traffic",
        ["exactly one", "registers and bytes_sent"],
    ),
    "wire unknown": (
        change("18 AWG", "19 AWG"),
        "load[3] (gauges).wire.gauge",
        ["'16 AWG'", "'19 AWG'"],
    ),
    "wire as text": (
        change('{ gauge = "18 AWG", length = "60 ft" }', '"18 AWG"'),
        "load[3] (gauges).wire",
        ["a table with gauge, length"],
    ),
    "wire without unit": (
        change('"60 ft"', '"60"'),
        "load[3] (gauges).wire.length",
        ["unit is missing"],
    ),
    "maximum below typical": (
        change('maximum = "8 W"', 'maximum = "5 W"'),
        "load[5] (light).maximum",
        ["below typical", "at least 6 W"],
    ),
    "maximum in A below typical in W": (
        change('maximum = "8 W"', 'maximum = "0.1 A"'),
        "load[5] (light).maximum",
        ["1.2 W at 12 V", "at least 6 W"],
    ),
    "typical in Wh": (
        change('"6 W"', '"6 Wh"'),
        "load[5] (light).typical",
        ["a draw in W or A", "'Wh' is an energy"],
    ),
    "typical negative": (
        change('"6 W"', '"-6 W"'),
        "load[5] (light).typical",
        ["negative", "'-6 W'"],
    ),
    "typical of a city": (
        change('"6 W"', '"1e300 W"'),
        "load[5] (light).typical",
        ["over a million"],
    ),
    "typical bare": (change('"6 W"', "6"), "load[5] (light).typical", ["'15 mA'"]),
    "typical comma": (change('"6 W"', '"6,5 W"'), "load[5] (light).typical", ["point"]),
    "hours as numbers": (
        change('"08:00-09:00"', "[8, 9]"),
        "load[5] (light).hours",
        ["'06:00-18:00'"],
    ),
    "hours past midnight": (
        change("08:00-09:00", "08:00-25:00"),
        "load[5] (light).hours",
        ["within 00:00-24:00"],
    ),
    # Only the first three letters were read once, and March was lost.
    "months in words": (
        change('hours = "08:00-09:00"', 'months = "November to March"'),
        "load[5] (light).months",
        ["'Nov-Mar'"],
    ),
    "status misspelt": (
        change('"fictitious"', '"ficttious"'),
        "load[5] (light).status",
        ["did you mean fictitious?"],
    ),
    "window upside down": (
        change('"6 W"', '"6 W"\nminimum_input = "20 V"\nmaximum_input = "10 V"'),
        "load[5] (light).minimum_input",
        ["20 V and 10 V"],
    ),
    "device not for 24 V": (
        change(
            'part = "transmitter-pressure-two-wire"',
            'part = "controller-logger-sleeping"',
        ),
        "load[3] (gauges).supply",
        ["does not take 24 V from supply 'loops'", "10 V to 17 V"],
    ),
    "price with currency": (change("= 70", '= "70 USD"'), "costs.module", ["unit"]),
    "price true": (change("= 70", "= true"), "costs.module", ["plain number"]),
    "price negative": (change("= 70", "= -70"), "costs.module", ["0 to 1,000,000,000"]),
    "currency endless": (
        change("module = 70", 'module = 70\ncurrency = "pieces of silver"'),
        "costs.currency",
        ["too long", "at most 12 letters"],
    ),
    "colder than any site": (
        change('"-10 degC"', '"-500 degF"'),
        "criteria.autonomy_temperature",
        ["-70 degC to 70 degC"],
    ),
    "days as a number": (change('"5 d"', "5"), "criteria.autonomy", ["'7 d'"]),
    "one load in single brackets": (
        NO_LOADS + '[load]\nname = "x"\ntypical = "1 W"\n',
        "load",
        ["[[load]]"],
    ),
    "table twice": (change("[site]", "[[site]]"), "site", ["[site]", "a list"]),
    "load list empty": ("load = []\n" + NO_LOADS, "load", ["cannot be sized"]),
    "load list missing": (NO_LOADS, "load", ["missing", "[[load]]"]),
    "loads that never run": (
        NO_LOADS + '[[load]]\nname = "x"\ntypical = "3 W"\nduty = 0\n',
        "load",
        ["has no power"],
    ),
    "loads of no pieces": (
        NO_LOADS + '[[load]]\nname = "x"\nquantity = 0\ntypical = "3 W"\n',
        "load",
        ["has no power"],
    ),
    "parts file missing": (
        'parts_file = "absent.toml"\n' + TEXT,
        "parts_file",
        ["no such file", "absent.toml"],
    ),
    "parts file a number": ("parts_file = 3\n" + TEXT, "parts_file", ["text"]),
    "parts file zero byte": (
        'parts_file = "a\\u0000"\n' + TEXT,
        "parts_file",
        ["invisible"],
    ),
    "internal key name": (
        change(RULE, RULE + "\ncontingency_frac = 0.1"),
        "bus.contingency_frac",
        ["did you mean contingency?"],
    ),
}


@together.parametrize("label", ONE_FAULT)
def test_one_mistake_gives_one_plain_message(label):
    """Each mistake gives one fault with its key path, what is allowed and a hint."""
    text, where, fragments = ONE_FAULT[label]
    found = faults(text)
    assert [fault.where for fault in found] == [where], [str(f) for f in found]
    for fragment in fragments:
        assert fragment in str(found[0])


def test_all_faults_of_a_file_come_at_once():
    """Faults of keys, of tables and between tables are listed together."""
    text = change("55.3", "91").replace('"south"', '"souht"')
    text = text.replace('supply = "loops"', 'supply = "nowhere"') + "[sizng]\n"
    text = text.replace('name = "radio"', 'name = "controller"')
    text = text.replace("series = 1", "series = 2") + "[extra]\n"
    assert {fault.where for fault in faults(text)} == {
        "site.latitude", "array.azimuth", "load[3] (gauges).supply", "sizng", "extra",
        "load[4].name", "battery.series",
    }  # fmt: skip


def test_a_24_v_bus_with_12_v_numbers_names_every_misfit():
    """Disconnect, reconnect, converter, controller and bank are each pointed at."""
    text = change('nominal = "12 V"', 'nominal = "24 V"')
    text = text.replace("controller-low-power", "controller-logger-sleeping")
    assert [fault.where for fault in faults(text)] == [
        "bus.low_voltage_disconnect",
        "bus.low_voltage_reconnect",
        "supply[1] (loops).part",
        "load[1] (controller)",
        "battery.series",
    ]


def test_a_12_v_device_behind_a_converter_is_accepted_on_24_v():
    """The same controller is taken when a supply brings it down to 12 V."""
    text = change('nominal = "12 V"', 'nominal = "24 V"').replace(RULE, RULE24)
    text = text.replace("converter-12-to-24v-15w", "converter-24-to-24v-15w")
    text = text.replace("series = 1", "series = 2")
    text = text.replace("[array]", '[[supply]]\nname = "low"\n' + DOWN + "[array]", 1)
    text = text.replace(
        '"controller-low-power"', '"controller-logger-sleeping"\nsupply = "low"'
    )
    assert read_site_text(text).tables.load[0].supply == "low"


RULE24 = 'low_voltage_disconnect = "23.2 V"\nlow_voltage_reconnect = "25.6 V"'
DOWN = 'part = "converter-24-to-12v-30w"\n'


def test_an_empty_file_lists_every_missing_table():
    """A file of nothing is answered with each table that it needs."""
    needed = {name for name, f in Site.model_fields.items() if f.is_required()}
    # Loads come as tables or in a rack, power from panels or from a generator: none
    # of them alone is required.
    needed |= {"load", "array", "charge_controller"}
    for text in ("", "# only a remark\n"):
        assert {fault.where for fault in faults(text)} == needed


@pytest.mark.parametrize(
    ("text", "where", "fragment"),
    [
        (
            "[site]\nelevation = 7 m\n",
            "line 2",
            "quantities stand in quotes",
        ),
        ("[site]\nname = “x”\n", "line 2", "straight quotes"),
        ("[site]\na = 1\na = 2\n", "line 3", "stands twice"),
        ("[load]\n[load]\n", "line 2", "double brackets: [[load]]"),
        ("x = [\n", "end", "check the quotes"),
        ("a = " + 5000 * "[" + 5000 * "]", "file", "nested too deeply"),
    ],
)
def test_text_that_is_not_toml_is_told_with_its_line(text, where, fragment):
    """Line and column and the likely cause are named, what stands there is not."""
    (fault,) = faults(text)
    # The column differs between versions of the TOML reader.
    assert fault.where.split(",")[0] == where
    assert fragment in str(fault)
    assert not fault.given


# --- files ---


def test_the_file_is_named_in_every_fault(tmp_path):
    """A fault says in which file it stands."""
    path = tmp_path / "pad.toml"
    path.write_text(change("55.3", "91"), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_site(path)
    assert str(caught.value).startswith(f"{path}: site.latitude: ")


def test_a_byte_order_mark_is_no_fault(tmp_path):
    """Text saved as UTF-8 with a mark in front is read (field case G1)."""
    path = tmp_path / "pad.toml"
    path.write_text(TEXT, encoding="utf-8-sig")
    assert read_site(path).tables.site.name == "Pad"


@pytest.mark.parametrize(
    ("content", "fragments"),
    [
        (
            TEXT.replace("Pad", "Zürich").encode("latin-1"),
            ["line 3", "save it as UTF-8"],
        ),
        (TEXT.encode("utf-16"), ["line 1", "save it as UTF-8"]),
        (b"#" * (reader.PAGE_BYTES + 1), ["larger than 2 MB"]),
    ],
    ids=["latin-1", "utf-16", "huge"],
)
def test_a_file_that_is_not_a_page_of_utf8_text_is_refused(
    tmp_path, content, fragments
):
    """The encoding to save in, or the size, is named."""
    path = tmp_path / "pad.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_site(path)
    for fragment in [str(path), *fragments]:
        assert fragment in str(caught.value)


@pytest.mark.parametrize("name", ["absent.toml", ".", 300 * "x", "a\0b"])
def test_a_path_that_is_no_file_is_refused(tmp_path, name):
    """A missing file, a folder, an endless name and a zero byte are input faults."""
    with pytest.raises(InputError) as caught:
        read_site(tmp_path / name)
    (fault,) = caught.value.faults
    assert fault.file == str(tmp_path / name)


def test_a_broken_parts_file_does_not_hide_faults_of_the_site(tmp_path):
    """Both files' faults come, and no name is called unknown that may stand there."""
    (tmp_path / "own.toml").write_text("[[part]]\nkind = 'radioo'\n", encoding="utf-8")
    text = 'parts_file = "own.toml"\n' + change("55.3", "91")
    text = text.replace("radio-spread-spectrum-1w", "my-radio")
    found = faults(text, tmp_path / "pad.toml")
    assert [Path(fault.file).name for fault in found] == ["pad.toml", "own.toml"]
    assert found[0].where == "site.latitude"


def test_own_parts_are_found_beside_the_site_file(tmp_path):
    """A path in parts_file is read from the folder of the site file."""
    part = (
        '[[part]]\nkind = "device"\nname = "my-lamp"\ntitle = "Lamp"\n'
        'power = {low = "1 W", typical = "2 W", high = "3 W"}\n'
        'source = "measured"\nstatus = "common practice"\n'
    )
    (tmp_path / "own.toml").write_text(part, encoding="utf-8")
    text = 'parts_file = "own.toml"\n' + change("controller-low-power", "my-lamp")
    (tmp_path / "pad.toml").write_text(text, encoding="utf-8")
    assert "my-lamp" in read_site(tmp_path / "pad.toml").parts


# --- what is accepted ---


@together.parametrize(
    ("old", "new", "table", "key", "value"),
    [
        ("55.3", '"55.3 N"', "site", "latitude_deg", 55.3),
        ("55.3", '"33.9 S"', "site", "latitude_deg", -33.9),
        ("55.3", '"−33.9"', "site", "latitude_deg", -33.9),
        ("-160.5", '"160.5° W"', "site", "longitude_deg", -160.5),
        ('"7 m"', '"−7 m"', "site", "elevation_m", -7.0),
        ('"7 m"', '"300 ft"', "site", "elevation_m", 91.44),
        ("UTC-9", "UTC−9", "site", "utc_offset_h", -9.0),
        ("UTC-9", "America/Anchorage", "site", "utc_offset_h", -9.0),
        ("UTC-9", "UTC+5:45", "site", "utc_offset_h", 5.75),
        ('"15 %"', "0.15", "bus", "contingency_frac", 0.15),
        ('"south"', '"South West"', "array", "azimuth_deg", 225.0),
        ('"5 d"', '"120 h"', "criteria", "autonomy_d", 5.0),
        ('"-10 degC"', '"14 degF"', "criteria", "autonomy_degc", -10.0),
        ("module = 70", 'module = "12.5"', "costs", "module", 12.5),
    ],
)
def test_the_same_thing_may_be_written_in_several_ways(old, new, table, key, value):
    """Letters, signs, US units and text for plain numbers reach the same figure."""
    tables = read_site_text(change(old, new)).tables
    assert getattr(getattr(tables, table), key) == pytest.approx(value)


def test_months_and_hours_wrap_and_take_long_names():
    """November to March is five months; 22:00-06:00 runs through midnight."""
    for months in ("Nov-Mar", "november – march"):
        text = change('hours = "08:00-09:00"', f'months = "{months}"')
        assert read_site_text(text).tables.load[4].months == (1, 2, 3, 11, 12)
    hours = read_site_text(change("08:00-09:00", "22:00–06:30")).tables.load[4].hours
    assert hours is not None
    assert sum(hours) == pytest.approx(8.5)
    assert (hours[6], hours[12]) == (0.5, 0.0)


def test_wire_sizes_of_the_site_file_are_those_of_the_wire_tables():
    """A size that the reader takes has a resistance, and the other way round."""
    assert set(fields.AWG) == set(AWG_OHM_PER_KFT)
    assert set(fields.MM2) == set(MM2_OHM_PER_KM)


# --- wording ---


def _models(model: type[BaseModel]) -> list[type[BaseModel]]:
    found = [model]
    for info in model.model_fields.values():
        inner = model_of(info)
        if inner is not None:
            found += _models(inner)
    return found


NONSENSE = [
    None, True, 0, -1, 10**30, 1.5, float("nan"), float("inf"), "", "x", "1 furlong",
    "1,5 V", "nan V", "\0", "é" * 3000, [], [1], [None], ["x", {}], {}, {"x": 1},
    {"name": {}}, object(),
]  # fmt: skip


@together.parametrize("model", _models(Site))
def test_no_value_brings_out_words_of_the_validation_library(model):
    """Whatever stands for whatever key, the message is in the site file's words."""
    keys = [info.alias or name for name, info in model.model_fields.items()]
    refused = 0
    for key in keys:
        for value in NONSENSE:
            try:
                model.model_validate({key: value})
            except ValidationError as exc:
                found = [str(f) for f in reader.model_faults(exc, "table", model)]
                refused += 1
                assert found
                assert not FOREIGN.search("\n".join(found)), found
                assert all(len(line) < 700 for line in found)
    assert refused > len(keys)


def test_a_complaint_of_a_new_kind_is_still_put_in_plain_words():
    """A validator that nobody has met yet does not reach the user raw."""

    class Odd(fields.Strict):
        step: int = Field(0, multiple_of=5)

    with pytest.raises(ValidationError) as caught:
        Odd.model_validate({"step": 3})
    (fault,) = reader.model_faults(caught.value, "odd", Odd)
    assert str(fault) == "odd.step: cannot be used as it is written; given: 3"


def test_a_load_is_frozen():
    """A checked line cannot be changed behind the checks."""
    load = Load.model_validate({"name": "x", "typical": "1 W"})
    with pytest.raises(ValidationError):
        load.quantity = 2
