"""Parts of the library against the collection of published draws that they come from.

Source: ``shared/reference/devices.csv`` beside the repository (118 rows of 88 classes of
device: document, year, page, and how each was read); skipped where it is not there.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

import pytest
from reference import together

from powerbudget.site.parts import load_parts

FOUND = [
    p / "shared" / "reference" / "devices.csv"
    for p in Path(__file__).resolve().parents
    if (p / "shared" / "reference" / "devices.csv").is_file()
]
pytestmark = pytest.mark.skipif(
    not FOUND, reason="shared/reference/devices.csv is not beside the repository"
)
Row = dict[str, str]
ROWS: list[Row] = (
    list(csv.DictReader(FOUND[0].read_text(encoding="utf-8").splitlines()))
    if FOUND
    else []
)
PARTS = load_parts()

# Each class of device, and the parts that hold its readings.
CLASSES = {
    "logger, sleeping": "controller-logger-idle controller-logger-sleeping "
    "controller-logger-awake",
    "logger, option": "logger-serial-port logger-ethernet-port logger-wireless-network "
    "card-serial",
    "logger, large": "controller-logger-large",
    "gas flow computer": "controller-gas-flow-computer card-serial card-dial-up-modem",
    "RTU, low power": "controller-low-power node-mixed",
    "PLC, compact with I/O": "controller-compact",
    "controller, mid-size": "controller-process",
    "burner controller": "controller-burner controller-burner-display-off",
    "card, analogue input": "card-analog-input card-analog-input-loop-supply",
    "loop supply on the card": "card-analog-input-loop-supply",
    "card, analogue output": "card-analog-output",
    "card, digital input": "card-digital-input",
    "card, relay output": "card-digital-output-relay",
    "card, solid-state output": "card-digital-output-solid-state",
    "card, RTD": "card-resistance-thermometer-input",
    "card, thermocouple": "card-thermocouple-input",
    "card, HART": "card-hart",
    "card, application": "card-mixed",
    "card, pulse": "card-pulse-input",
    "card, short-range wireless (IEC 62591)": "card-wireless-gateway",
    "transmitter, two-wire": "transmitter-pressure-two-wire "
    "transmitter-differential-two-wire transmitter-temperature-two-wire "
    "transmitter-level-two-wire transmitter-flow-two-wire transmitter-radar-two-wire",
    "transmitter, fieldbus": "transmitter-pressure-fieldbus transmitter-flow-fieldbus",
    "transmitter, low-power three-wire 1-5 V": "transmitter-low-power-three-wire",
    "pressure switch or transmitter with display": "pressure-switch-display",
    "thermal flow sensor": "flow-sensor-thermal",
    "flowmeter, Coriolis": "flowmeter-coriolis flowmeter-coriolis-large",
    "flowmeter, ultrasonic, multipath gas": "flowmeter-ultrasonic",
    "flowmeter, ultrasonic, domestic gas": "ultrasonic-front-end",
    "flowmeter, magnetic, four-wire": "flowmeter-magnetic",
    "gas chromatograph, field": "gas-chromatograph gas-chromatograph-heater",
    "gas analyser, closed-path infrared": "gas-analyzer-infrared",
    "gas detector, open path": "gas-detector-open-path",
    "gas detector, heated solid state": "gas-detector-solid-state",
    "gas detector, catalytic bead": "gas-detector-catalytic catalytic-bead-pair",
    "gas sensor node, catalytic, pulsed": "gas-node-catalytic-pulsed",
    "gas detector, infrared point": "gas-detector-infrared-point",
    "gas detector, electrochemical": "gas-detector-electrochemical",
    "flame detector, three infrared bands, small": "flame-detector",
    "flame detector with heated optics": "flame-detector-heated",
    "gas panel with one remote sensor": "gas-panel",
    "radio, spread spectrum 1 W": "radio-spread-spectrum-1w",
    "radio, spread spectrum 100 mW": "radio-spread-spectrum-100mw",
    "radio, UHF 500 mW": "radio-licensed-500mw",
    "radio, licensed 2-5 W": "radio-licensed-5w",
    "wireless bridge 2.4/5 GHz": "wireless-bridge",
    "router, small wired": "router-wired-small",
    "cellular terminal, low power": "radio-cellular-low-power-gateway "
    "cellular-terminal-reporting",
    "cellular modem in a logger": "radio-cellular-logger-modem",
    "cellular router, industrial": "radio-cellular-router",
    "cellular modem, field station": "cellular-modem-field-station",
    "satellite, low-orbit voice/data modem": "radio-satellite-low-orbit",
    "satellite, small dish terminal": "satellite-dish-small",
    "long-range spread-spectrum transceiver module": "radio-long-range-module",
    "long-range spread-spectrum gateway": "long-range-gateway",
    "wireless I/O node 2.4 GHz": "wireless-node-short-range",
    "satellite, short burst": "radio-satellite-short-burst",
    "satellite, packet modem": "radio-satellite-packet",
    "satellite, data collection 10 W": "radio-satellite-data-collection",
    "satellite, Ku dish": "radio-satellite-dish",
    "network switch, 8 ports, unmanaged": "switch-unmanaged",
    "network switch, managed with PoE": "switch-managed",
    "media converter": "media-converter",
    "PoE device": "powered-device",
    "camera, fixed, outdoor": "camera-fixed",
    "camera, moving": "camera-moving",
    "operator panel, 12 to 15 in": "operator-panel-large",
    "operator panel, 18 to 19 in": "operator-panel-largest",
    "operator panel, 4 to 7 in": "operator-panel-small",
    "local display": "controller-local-display",
    "solenoid, low power": "solenoid-low-power",
    "solenoid, standard 24 V": "solenoid-standard",
    "solenoid, peak and hold": "solenoid-peak-and-hold",
    "solenoid, latching": "solenoid-latching",
    "electric process controller with actuator": "electric-controller",
    "electric chemical pump": "electric-chemical-pump",
    "control panel of an electric wellpad": "control-panel-electric-pad",
    "dosing pump, peristaltic, low pressure": "dosing-pump-peristaltic",
    "valve actuator, modulating, 24 V DC": "valve-actuator-modulating",
    "valve actuator, quarter-turn": "valve-actuator-electric",
    "enclosure heater": "heater-anti-condensation",
    "obstruction light": "obstruction-light",
    "beacon": "beacon",
    "DC/DC isolated 12 W": "converter-12-to-24v-12w",
    "DC/DC isolated 15 W": "converter-12-to-24v-15w converter-24-to-24v-15w",
    "DC/DC step-down 30 W": "converter-24-to-12v-30w",
    "whole station, GNSS, polar": "station-gnss-polar",
    "whole station, GNSS, permanent": "station-gnss-permanent",
    "whole station, seismic, remote site": "station-seismic",
}
# Figures of rows that no reading holds, with the reason.
NOT_HELD = {
    ("gas chromatograph, field", "53"): "7 W without heater and the 46 W of the heater",
    ("gas chromatograph, field", "64"): "7 W without heater and the 57 W of the heater",
    ("gas detector, heated solid state", "2.5"): "a judged middle, no reading",
    ("gas panel with one remote sensor", "5"): "the sheet's rounding of 0.2 A at 24 V",
    ("valve actuator, modulating, 24 V DC", "0.5"): "moving 12 W: in the note",
    ("valve actuator, modulating, 24 V DC", "4"): "4 A at 24 V is its peak of 96 W",
    ("beacon", "0.5"): "amperes without volts: in the note",
}
UNITS = {"W": 1.0, "mW": 1e-3, "A": 1.0, "mA": 1e-3, "uA": 1e-6, "VA": 1.0}


def names(row: Row) -> list[str]:
    """Return the parts of a row's class."""
    return CLASSES[row["class"]].split()


def figures(part: Any) -> list[float]:
    """Return every figure that a part holds [W or A]."""
    drawn = [x for one in part.reading for _, x in one.draws]
    worked = [x for one in part.reading for x in one.amounts]
    held = [getattr(part, key, None) for key in ("peak", "no_load")]
    spread = [
        getattr(getattr(part, name), end)
        for name in part.figures()
        for end in ("low", "typical", "high")
    ]
    return [x for x in (*drawn, *worked, *held, *spread) if x is not None]


def test_every_class_is_a_part() -> None:
    """No class of the collection is without a part, and none is made up."""
    assert set(CLASSES) == {row["class"] for row in ROWS}
    for named in CLASSES.values():
        assert set(named.split()) <= set(PARTS), named


@together.parametrize("row", ROWS)
def test_every_figure_of_a_row_is_in_its_part(row: Row) -> None:
    """Lowest, typical and highest of each row, to the digits of the collection."""
    if row["unit"] not in UNITS or row["grade"] == "memory":
        return
    held = [x for name in names(row) for x in figures(PARTS[name])]
    for end in ("value_low", "value_typ", "value_high"):
        if row[end] and (row["class"], row[end]) not in NOT_HELD:
            wanted = float(row[end]) * UNITS[row["unit"]]
            near = min(held, key=lambda x: abs(x - wanted))
            assert near == pytest.approx(wanted, rel=0.02), (end, row[end])


def rows_of(name: str) -> list[Row]:
    """Return the rows of the classes that a part holds."""
    return [row for row in ROWS if name in names(row)]


READ = [
    (name, number)
    for name, part in PARTS.items()
    for number, one in enumerate(part.reading)
    if one.grade in {"read in full", "excerpt"}
]
# Readings that do not stand in the rows of their class, with where they do.
ELSEWHERE = {
    ("card-digital-output-relay", 0): "8 channels of 20 mW",
    ("gas-chromatograph-heater", 0): "53 and 64 W less 7 W",
    ("gas-detector-infrared-point", 0): "manual p. 34, read after the collection",
    ("gas-detector-infrared-point", 1): "manual p. 91, read after the collection",
    ("gas-detector-catalytic", 0): "manual p. 91, read after the collection",
    ("radio-cellular-low-power-gateway", 0): "devices.md, section 3, fact 7",
    ("radio-satellite-data-collection", 2): "loads.md, source S27",
    ("radio-satellite-broadband", 2): "loads.md, source S38",
    ("radio-satellite-dish", 1): "loads.md, source S36",
}
# Rows whose documents are counted in another way, with the reason.
COUNTED_APART = {
    "transmitter, two-wire": "one norm, however many pages explain it",
    "PoE device": "one norm on two pages",
    "camera, fixed, outdoor": "its fourth is a note that says `most exceed 7 W`",
    "loop supply on the card": "a ratio: in the note",
    "beacon": "amperes without volts: in the note",
    "gas detector, infrared point": "its two manuals were read after the collection",
}


@together.parametrize(("name", "number"), READ)
def test_every_reading_is_in_the_collection(name: str, number: int) -> None:
    """Value, year and grade of a reading are those of a row of its class."""
    if (name, number) in ELSEWHERE:
        return
    reading, rows = PARTS[name].reading[number], rows_of(name)
    assert rows, name
    text = " ".join(" ".join(row.values()) for row in rows)
    told = [float(x) for x in re.findall(r"\d+(?:\.\d+)?", text)]
    for (_, drawn), worked in zip(reading.draws, reading.amounts, strict=True):
        near = [k * x for x in (drawn, worked) for k in (1, 1e3, 1e6)]
        assert any(x == pytest.approx(y, rel=0.02) for x in near for y in told), drawn
    assert reading.year is None or str(reading.year) in text
    grades = {row["grade"] for row in rows}
    assert grades - {"memory"}
    assert reading.grade == "excerpt" or "read in full" in grades


@together.parametrize("name", sorted(CLASSES))
def test_documents_are_counted_as_the_collection_counts_them(name: str) -> None:
    """Documents of a row are those of a figure; of all rows, of a figure or all parts."""
    parts = [PARTS[part] for part in CLASSES[name].split()]
    if name in COUNTED_APART or not any(part.reading for part in parts):
        return
    counts = [{part.documents(f) for f in part.figures()} for part in parts]
    held = set().union(*counts, {sum(max(one) for one in counts)})
    rows = [int(row["n"]) for row in ROWS if row["class"] == name]
    assert set(rows) <= held or sum(rows) in held
