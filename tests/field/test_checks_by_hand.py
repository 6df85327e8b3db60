"""Circuit checks on either side of each limit, their figures and words worked by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from reference import together
from reference.figures import tells

from powerbudget.charging import cold_string
from powerbudget.checks import battery, branches, charging, environment, loops
from powerbudget.checks import photovoltaic as pv
from powerbudget.checks import protection as prot
from powerbudget.checks.inputs import CheckInputs, Extremes
from powerbudget.checks.result import Check, NotChecked
from powerbudget.checks.voltage_profile import Stairs, _to_bus, worst_stairs
from powerbudget.errors import Hindrance


def space(**values):
    """Return a bag of figures; a nested bag for each dotted name."""
    found = SimpleNamespace()
    for name, value in values.items():
        *path, last = name.split("__")
        here = found
        for step in path:
            if not hasattr(here, step):
                setattr(here, step, SimpleNamespace())
            here = getattr(here, step)
        setattr(here, last, value)
    return found


def one(rows):
    """Return the only row of a check."""
    (found,) = rows
    return found


def held(row):
    """Return what a row holds against what, and its verdict."""
    return row.value, row.limit, row.unit, row.verdict


def stated(**figures):
    """Return a regulator whose stated figures are for all controllers together."""
    return space(of_all=figures.get, **figures)


# ---------------------------------------------------------------- battery


def bank(name="agm", cells=6, parallel=2, ah=200.0, label="AGM", **more):
    """Return a bank of two strings of 100 Ah."""
    chemistry = {
        "name": name, "charge_limit_per_h": 0.25, "charge_min_degc": -20.0,
        "charge_max_degc": 45.0, "absorption_v": 2.4, "title": "glass mat",
        "freezing": None, **more,
    }  # fmt: skip
    return space(
        chemistry=SimpleNamespace(**chemistry), cells=cells, parallel=parallel, label=label,
        nameplate_ah=ah, compensation_v_per_k=-0.004, regulation_v=14.4, highest_v=15.0,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("cell_a", "passes_a", "given_a", "value", "limit", "verdict", "words"),
    [(None, None, 0.0, 50.0, 50.0, "pass", "usual limit 25 % of 200 Ah"),
     (None, None, 0.1, 50.1, 50.0, "fail", "generators: up to 0.100 A"),
     (None, 49.0, 0.0, 49.0, 50.0, "pass", "charge controller limit: 49 A"),
     (None, 51.0, 0.0, 50.0, 50.0, "pass", "array: up to 50.0 A"),
     (24.0, None, 0.0, 50.0, 48.0, "fail", "2 x 24 A stated"),
     (26.0, None, 0.0, 50.0, 52.0, "pass", "2 x 26 A stated")],
)  # fmt: skip
def test_the_highest_charge_current_is_of_array_controller_and_generators(
    cell_a, passes_a, given_a, value, limit, verdict, words
):
    """The controller cuts the array alone; a stated limit is that of each string."""
    facts = space(
        bank=bank(), array_charge_a=50.0, generator_charge_a=given_a, panels=True,
        tables__battery__maximum_charge_a=cell_a,
        tables__regulator=stated(maximum_charge_a=passes_a),
    )  # fmt: skip
    row = one(battery.charge_high(facts))
    assert held(row) == (pytest.approx(value), limit, "A", verdict)
    assert words in row.detail
    assert ("generators" in row.detail) == bool(given_a)
    facts.panels = False
    assert "the array" not in one(battery.charge_high(facts)).detail


@pytest.mark.parametrize(
    ("name", "amps", "verdict", "percent"),
    [("flooded", 4.0, "pass", 2.0), ("flooded", 3.9, "warn", 2.0),
     ("tubular", 4.0, "pass", 2.0), ("tubular", 3.9, "warn", 2.0),
     ("agm", 2.0, "pass", 1.0), ("agm", 1.9, "warn", 1.0), ("nicd", 1.9, "warn", 1.0)],
)  # fmt: skip
def test_a_bank_is_filled_by_one_or_two_percent_of_its_ampere_hours(
    name, amps, verdict, percent
):
    """Of 200 Ah; cells with liquid acid want the more, lithium is not asked."""
    facts = space(
        bank=bank(name), array_charge_a=amps, generator_charge_a=0.0, panels=True,
        tables__regulator=stated(),
    )  # fmt: skip
    row = one(battery.charge_low(facts))
    assert held(row) == (pytest.approx(amps / 2), percent, "% of Ah", verdict)
    facts.bank = bank("lfp")
    assert list(battery.charge_low(facts)) == []


@together.parametrize("name", ["lfp", "agm"])
@together.parametrize("hours", [0.0, 12.0])
@together.parametrize("own", [None, -21.0, -20.0, 5.0])
def test_cold_charging_fails_lithium_that_nothing_guards(name, hours, own):
    """A controller that stops at the limit or above it guards; no sun, no harm."""
    facts = space(
        bank=bank(name), battery_low_degc=-25.0,
        problem__conditions__battery_degc=np.array([-24.0, 3.0]),
        run__blocked_sun_h=hours, run__blocked_sun_wh=1.0,
        tables__regulator__charge_min_degc=own,
    )  # fmt: skip
    row = one(battery.charge_cold(facts))
    guarded = own is not None and own >= -20.0
    fails = name == "lfp" and hours > 0 and not guarded
    assert held(row) == (-25.0, -20.0, "degC", "fail" if fails else "warn")
    assert tells(row.detail, f"{hours:,.0f} h with irradiance")
    facts.battery_low_degc = -20.0
    facts.problem.conditions.battery_degc = np.array([-20.0, 3.0])
    assert one(battery.charge_cold(facts)).verdict == "pass"


@pytest.mark.parametrize(
    ("design", "low", "record", "value"),
    [(-10.0, -15.0, -12.0, -15.0), (-18.0, -15.0, -12.0, -18.0), (0.0, 5.0, -12.0, -12.0)],
)  # fmt: skip
def test_the_coldest_of_three_is_held_against_where_a_pack_still_delivers(
    design, low, record, value
):
    """Design temperature, record, and design minimum of the place."""
    pack = bank("lfp")
    pack.discharge_min_degc = -16.0
    pack.no_current = lambda degc: (
        Hindrance("none", "heat it") if degc < -16.0 else None
    )
    facts = space(
        bank=pack, battery_low_degc=low, problem__design_degc=design,
        problem__conditions__battery_degc=np.array([record, 20.0]),
    )  # fmt: skip
    row = one(battery.discharge_cold(facts))
    assert held(row) == (value, -16.0, "degC", "fail" if value < -16.0 else "pass")
    coldest = min(low, record)
    if value >= -16.0:
        assert tells(row.detail, f"design {design:g}, coldest {coldest:.1f} degC")
    pack.discharge_min_degc = None
    assert list(battery.discharge_cold(facts)) == []


@pytest.mark.parametrize(
    ("top", "sun", "verdict"),
    [(45.0, 9.0, "pass"), (45.1, 2.0, "warn"), (45.1, 2.1, "fail")],
)
def test_the_hottest_battery_warns_above_its_window(top, sun, verdict):
    """The limit itself is allowed; above it, up to half of the sun is a warning."""
    degc = np.array([10.0, top, 20.0])
    facts = space(
        bank=bank(), problem__conditions__battery_degc=degc, panels=True,
        problem__array__p_mp_w=np.array([1.0, sun, 1.0]),
    )  # fmt: skip
    assert held(one(battery.charge_hot(facts))) == (top, 45.0, "degC", verdict)


@pytest.mark.parametrize(
    ("name", "given", "value", "limit", "verdict"),
    [("agm", -0.0019, 1.9, 2.0, "warn"), ("agm", -0.002, 2.0, 2.0, "pass"),
     ("agm", -0.006, 6.0, 2.0, "pass"), ("agm", -0.0061, 6.1, 6.0, "warn"),
     ("lfp", 0.0, 0.0, 0.0, "pass"), ("lfp", -0.001, 1.0, 0.0, "warn")],
)  # fmt: skip
def test_compensation_is_told_in_millivolts_a_cell(name, given, value, limit, verdict):
    """2 to 6 mV/degC of lead and nickel, none of lithium."""
    facts = space(bank=bank(name), tables__regulator__compensation_v_per_k_cell=given)
    row = one(battery.compensation(facts))
    assert held(row) == (pytest.approx(value), limit, "mV/K per cell", verdict)
    facts.tables.regulator.compensation_v_per_k_cell = None
    rows = list(battery.compensation(facts))
    assert [r.detail for r in rows] == (
        ["assumed: 4 mV/K per cell"] if name == "agm" else []
    )


@pytest.mark.parametrize(("parallel", "strings"), [(1, "1 string"), (3, "3 strings")])
@pytest.mark.parametrize(
    ("fuse", "breaks", "kind"),
    [(None, None, NotChecked), (30.0, None, NotChecked), (30.0, 4000.0, "pass"),
     (30.0, 3999.0, "fail"), (0.0, None, None)],
)  # fmt: skip
def test_a_fuse_must_break_what_the_bank_delivers(
    monkeypatch, parallel, strings, fuse, breaks, kind
):
    """4,000 A; where no fuse is fitted another check says so."""
    monkeypatch.setattr(battery.resistance, "short_circuit_a", lambda *_: 4000.0)
    facts = space(
        bank=bank(parallel=parallel), tables__battery__short_circuit_a=None,
        tables__battery__fuse_a=fuse, tables__battery__fuse_interrupting_a=breaks,
    )  # fmt: skip
    rows = list(battery.interrupting(facts))
    if kind is None:
        assert rows == []
    elif kind is NotChecked:
        assert tells(one(rows).detail, "available short-circuit current about 4.0 kA")
    else:
        assert held(one(rows)) == (4000.0, breaks, "A", kind)
        assert one(rows).detail.startswith(f"{strings}; ")
        facts.tables.battery.short_circuit_a = 2000.0
        assert one(battery.interrupting(facts)).detail.endswith(
            "; manufacturer's figure"
        )


@pytest.mark.parametrize(
    ("vent", "verdict"),
    [(84e-4, "pass"), (83.9e-4, "fail"), (0.0, "fail"), (None, None)],
)
def test_openings_are_told_in_square_centimeters(monkeypatch, vent, verdict):
    """3 m3/h ask for two of 84 cm2."""
    air = space(flow_m3_h=3.0, mode="boost", cells=6, opening_cm2=84.0)
    monkeypatch.setitem(battery.vents.__globals__, "ventilation", lambda *_: air)
    facts = space(
        bank=bank(), tables__battery__charge_mode="boost", tables__battery__vent_m2=vent
    )
    row = one(battery.vents(facts))
    words = "3.00 m³/h at boost charge, 6 cells"
    if vent is None:
        assert tells(row.detail, f"{words}: needs two openings of 84 cm²")
        return
    assert held(row) == (pytest.approx(vent * 1e4), 84.0, "cm2", verdict)
    assert row.detail == words
    air.flow_m3_h = 0.0
    assert list(battery.vents(facts)) == []


@pytest.mark.parametrize(
    ("low", "frozen", "near", "left", "shown", "said"),
    [(-20.0, 0.0, 0.0, 0.3, (-20.0, -20.0, "degC", "pass"), "frozen for 0 h"),
     (-20.1, 0.0, 0.0, 0.3, (-20.1, -20.0, "degC", "warn"), "frozen for 0 h"),
     (-20.0, 0.5, 9.0, -0.02, (-2.0, 0.0, "points", "fail"), "frozen for"),
     (-10.0, 3.0, 0.0, -0.25, (-25.0, 0.0, "points", "fail"), "frozen for 3 h"),
     (-10.0, 0.0, 5.0, 0.03, (3.0, 5.0, "points", "warn"), ", 5 h below the freezing margin")],
)  # fmt: skip
def test_frost_is_held_against_what_decides_it(
    monkeypatch, low, frozen, near, left, shown, said
):
    """-20 degC at the 40 % that 60 % of discharge leave, or the least margin of the run.

    A row that does not pass has a negative margin.
    """
    asked = []

    def point(state, _):
        asked.append(state)
        return -20.0

    names = battery.freezing.__globals__
    monkeypatch.setitem(names, "freezing_degc", point)
    monkeypatch.setitem(names, "lowest_state_frac", lambda *_: 0.345)
    facts = space(
        bank=bank(freezing="curve"), battery_low_degc=low,
        run__frost=space(
            hours_frozen=frozen, hours_below_margin=near, least_margin_frac=left
        ),
        tables__criteria__deepest_discharge_frac=0.6,
        tables__battery__freeze_margin_frac=0.05,
    )  # fmt: skip
    row = one(battery.freezing(facts))
    assert asked == [pytest.approx(0.4)]
    assert held(row) == shown
    assert (row.margin < 0) is (row.verdict != "pass")
    assert tells(
        row.detail,
        f"at {low:.1f} degC 34 % freezes, 40 % is allowed",
    )
    assert said in row.detail
    monkeypatch.setitem(names, "lowest_state_frac", lambda *_: battery.NEVER)
    assert "the battery freezes at any SOC" in one(battery.freezing(facts)).detail
    facts.bank = bank(freezing=None)
    assert list(battery.freezing(facts)) == []


# ---------------------------------------------------------------- charging


@pytest.mark.parametrize(
    ("ohm", "percent", "verdict"),
    [(0.09, 3.0, "pass"), (0.091, 3.0333, "warn"), (0.3, 10.0, "warn"), (0.301, 10.0333, "fail")],
)  # fmt: skip
def test_the_arrays_wire_may_drop_three_percent_and_never_ten(ohm, percent, verdict):
    """Four strings of 3 A in 0.09 ohm take 1.08 of 36 V."""
    facts = space(
        tables__array=space(
            wire=space(gauge="8 AWG"), series=2, wiring_frac=0.02
        ),
        problem=space(array__module=space(max_power_a=3.0, max_power_v=18.0), strings=4),
        wire_ohm=lambda _, degc: ohm * (degc == 40.0), wire_hot_degc=40.0,
    )  # fmt: skip
    row = one(charging.array_drop(facts))
    assert held(row) == (pytest.approx(percent, abs=1e-3), 3.0, "%", verdict)
    assert tells(row.detail, "12.0 A in")
    assert tells(row.detail, "of 36.0 V; the simulation counts 2 % (wiring_loss)")
    facts.tables.array.wire = None
    assert list(charging.array_drop(facts)) == []


@together.parametrize("name", ["agm", "lfp"])
@together.parametrize(
    ("at_25", "limit", "verdicts"),
    [(14.83, 14.112, ("pass", "pass")), (14.84, 14.832, ("warn", "fail")),
     (14.112, 14.112, ("pass", "pass")), (14.1, 14.112, ("warn", "warn")),
     (13.536, 14.112, ("warn", "warn")), (13.53, 14.112, ("fail", "fail"))],
)  # fmt: skip
@together.parametrize("clamped", [True, False])
def test_a_set_point_lies_within_three_percent_of_the_chemistrys(
    name, at_25, limit, verdicts, clamped
):
    """14.4 V: 98 to 103 % of it; below 94 % it only floats.  The clamp counts."""
    own = bank(name)
    own.regulation_v, own.highest_v = (15.5, at_25) if clamped else (at_25, 15.5)
    regulator = space(absorption_v=None, highest_v=15.0)
    facts = space(bank=own, tables__regulator=regulator)
    row = one(charging.set_point(facts))
    wanted = verdicts[name == "lfp"]
    assert held(row) == (at_25, pytest.approx(limit), "V", wanted)
    assert tells(row.detail, "glass mat: 14.4 V at 25 °C")
    regulator.highest_v = None
    assert list(charging.set_point(facts)) == []
    regulator.absorption_v = 14.0
    assert one(charging.set_point(facts)).verdict == wanted


@pytest.mark.parametrize(
    ("need", "verdict"),
    [(13.8, "pass"), (13.81, "warn"), (14.9, "warn"), (14.91, "fail"), (None, None)],
)
def test_charging_reaches_the_reconnect_in_summer_too(need, verdict):
    """Set points of 13.8 to 14.9 V through the year."""
    volts = np.array([14.1, 13.8, 14.9])
    facts = space(
        tables__bus__reconnect_v=need, problem__hourly={"regulation_v": volts}
    )
    rows = list(charging.reach(facts))
    assert [held(row) for row in rows] == (
        [(13.8, need, "V", verdict)] if verdict else []
    )
    for row in rows:
        assert tells(
            row.detail, "regulation voltage 13.80 to 14.90 V in the simulation"
        )


@pytest.mark.parametrize(
    ("least", "trip", "verdict"), [(11.6, 11.6, "pass"), (11.7, 11.6, "fail"),
                                   (None, 11.6, None), (8.0, None, None)],
)  # fmt: skip
def test_a_controller_works_where_the_loads_are_cut_off(least, trip, verdict):
    """Not below the disconnect."""
    facts = space(
        tables__regulator__minimum_battery_v=least, tables__bus__disconnect_v=trip
    )
    rows = [held(row) for row in charging.restart(facts)]
    assert rows == ([(trip, least, "V", verdict)] if verdict else [])


@pytest.mark.parametrize(
    ("trip", "limit", "verdict"),
    [(12.7, 10.8, "pass"), (10.79, 10.8, "warn"), (10.49, 10.8, "fail"),
     (12.71, 12.705, "fail"), (12.705, 12.705, "fail")],
)  # fmt: skip
def test_the_disconnect_lies_between_the_cell_s_limit_and_a_full_battery(
    trip, limit, verdict
):
    """1.80 V and 1.75 V a cell of six; a full battery of 12.705 V is not reached."""
    full = 12.705
    facts = space(
        bank=bank(), tables__bus__disconnect_v=trip,
        problem__full_rest_v=full,
    )  # fmt: skip
    row = one(charging.deep(facts))
    assert row.verdict == verdict
    assert row.limit == pytest.approx(limit)
    assert (row.margin <= 0) is (verdict != "pass")
    facts.tables.bus.disconnect_v = None
    assert list(charging.deep(facts)) == []


# ---------------------------------------------------------------- place


@pytest.mark.parametrize(
    ("height", "verdict", "share"),
    [(0.0, "pass", "100 %"), (2000.0, "pass", "89 %"), (2001.0, "warn", "89 %"),
     (3500.0, "warn", "80 %")],
)  # fmt: skip
def test_height_takes_its_share_of_the_cooling(height, verdict, share):
    """1 - h / 17,500; a device's own highest fails, its sheet's where it states none."""
    thing = space(name="radio", highest_m=None, quantity=1)
    part = space(maximum_elevation=3000.0)
    facts = space(
        tables__site__elevation_m=height, items=(space(load=thing),),
        design=_bare_design({"p": part}),
    )  # fmt: skip
    thing.part = "p"
    first, own = environment.altitude(facts)
    assert held(first) == (height, 2000.0, "m", verdict)
    assert tells(first.detail, f"cooling {share} of that at sea level")
    assert held(own) == (height, 3000.0, "m", "fail" if height > 3000 else "pass")
    thing.highest_m = 1000.0
    assert list(environment.altitude(facts))[1].limit == 1000.0
    thing.highest_m, thing.part = None, None
    assert len(list(environment.altitude(facts))) == 1


def _bare_design(parts):
    """Return a design without supplies, array or controller."""
    return space(
        tables__supply=(), tables__array__parallel=0, tables__model_fields_set=set(),
        parts=parts,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("least", "design", "yearly", "verdict"),
    [(-30.0, math.nan, math.nan, "pass"), (-20.0, -30.0, -15.0, "warn"),
     (-14.0, -30.0, -15.0, "fail"), (-24.0, -30.0, math.nan, "fail"),
     (-25.0, -30.0, math.nan, "warn"), (-25.0, math.nan, math.nan, "pass"),
     (-24.9, math.nan, math.nan, "fail")],
)  # fmt: skip
def test_cold_that_comes_once_in_fifty_years_warns(least, design, yearly, verdict):
    """The record reaches -25 degC; what comes every year decides where it is known."""
    air = Extremes(-25.0, 30.0, design, math.nan, yearly)
    span = space(min=least, max=35.0)
    thing = space(name="radio", temperature=span, part=None, quantity=1)
    facts = space(
        air=air, protection=space(enclosure_coldest_degc=None, enclosure_hottest_degc=None),
        items=(space(load=thing),), design=_bare_design({}),
    )  # fmt: skip
    row = one(environment.cold(facts))
    low = -25.0 if math.isnan(design) else design
    assert held(row) == (low, least, "degC", verdict)
    more = "" if math.isnan(design) else f", design minimum {design:.1f} °C"
    assert tells(row.detail, f"lowest in the weather file -25.0 °C{more}")
    assert held(one(environment.hot(facts))) == (30.0, 35.0, "degC", "pass")
    facts.protection = space(enclosure_coldest_degc=-10.0, enclosure_hottest_degc=36.0)
    assert held(one(environment.cold(facts))) == (
        -10.0, least, "degC", "pass" if least <= -10.0 else "fail"
    )  # fmt: skip
    assert held(one(environment.hot(facts))) == (36.0, 35.0, "degC", "fail")
    thing.temperature = None
    assert isinstance(one(environment.cold(facts)), NotChecked)
    assert list(environment.hot(facts)) == []


@pytest.mark.parametrize(
    ("wh", "limit", "verdict"),
    [(119.0, 5.0, "warn"), (120.0, 5.0, "pass"), (299.0, 5.0, "pass"),
     (301.0, 20.0, "pass"), (480.0, 20.0, "pass"), (481.0, 20.0, "warn")],
)  # fmt: skip
def test_a_terminal_unit_draws_five_to_twenty_watts(monkeypatch, wh, limit, verdict):
    """Held against the nearer end; a logger below half a watt is no terminal unit."""
    monkeypatch.setitem(environment.band.__globals__, "kinds_wh", lambda *_: wh)
    item = space(kind="controller", draw__typical_w=0.5)
    facts = space(problem__budget__lines=(), tables__rack=None, items=(item,))
    row = one(environment.band(facts))
    assert held(row) == (pytest.approx(wh / 24), limit, "W", verdict)
    assert row.detail.startswith(f"{wh:.0f} Wh/day")
    item.draw.typical_w = 0.49
    assert list(environment.band(facts)) == []
    facts.tables.rack = "rack"
    assert len(list(environment.band(facts))) == 1


@pytest.mark.parametrize(
    ("record", "design", "heater", "box", "colder"),
    [(-10.0, -15.0, None, None, 5.0), (-10.0, -5.0, None, None, 0.0),
     (-10.0, math.nan, None, None, 0.0), (-10.0, -15.0, "h", None, 0.0),
     (-10.0, -15.0, None, "buried", 0.0), (-10.0, -15.0, None, "insulated", 5.0)],
)  # fmt: skip
def test_a_battery_follows_the_design_minimum_unless_it_is_heated_or_buried(
    record, design, heater, box, colder
):
    """By how much the design is below the record, and never warmer."""
    problem = space(
        design__tables__battery=space(
            heater=heater, box=None if box is None else space(kind=box)
        ),
        conditions__battery_degc=np.array([-8.0, 5.0]),
    )  # fmt: skip
    facts = CheckInputs(problem, Extremes(record, 30.0, design))
    assert facts.colder_k == colder
    assert facts.battery_low_degc == -8.0 - colder
    assert facts.air.low_degc == (record if math.isnan(design) else min(record, design))


@pytest.mark.parametrize(("hot", "wire"), [(35.0, 35.0), (15.0, 20.0)])
def test_a_wire_is_as_hot_as_the_air_and_at_least_twenty_degrees(hot, wire):
    """And its array gives all its watts at 95 % of the nominal volts."""
    module = space(short_circuit_a=6.0)
    problem = space(
        strings=3, currents=np.zeros((2, 0)), array__module=module,
        hourly={"array_w": np.array([10.0, 76.0])}, design__tables__bus__nominal_v=24.0,
    )  # fmt: skip
    facts = CheckInputs(problem, Extremes(-5.0, hot))
    assert facts.wire_hot_degc == wire
    assert facts.array_charge_a == pytest.approx(3 * 76.0 / (0.95 * 24.0))
    problem.currents = np.zeros((2, 13))
    direct = CheckInputs(problem, Extremes(-5.0, hot))
    assert direct.array_charge_a == 18.0
    assert facts.wire_ohm(None, 20.0) == 0.0


# ---------------------------------------------------------------- branches


def wired(volts, ends):
    """Return one item on a wire whose ends are given by the power that it draws."""
    item = space(
        load=space(
            name="x", wire=space(gauge="12 AWG", length_m=10.0),
            supply=None, maximum_v=None, quantity=3,
        ),
        rail=space(volts=volts),
        draw=space(typical_w=2.0, maximum_w=5.0, peak_w=9.0, behaviour="power"),
        shared=True, part=None, minimum_v=0.0,
    )  # fmt: skip
    facts = space(
        items=(item,), wire_hot_degc=40.0, low_v=volts, item_ohm=lambda *_: 0.1
    )

    def end(source_v, power_w, rail_v, behaviour, ohm):
        assert (rail_v, behaviour, ohm) == (volts, "power", 0.1)
        return space(volts=source_v - ends[power_w], amps=2.0)

    return item, facts, end


@pytest.mark.parametrize(
    ("drop", "verdict"), [(3.0, "pass"), (3.01, "warn"), (5.0, "warn"), (5.01, "fail")]
)
def test_a_mean_drop_is_that_of_all_pieces_on_the_wire(monkeypatch, drop, verdict):
    """Three of 2 W; 3 % of 20 V is 0.6 V, and never over 5 %."""
    item, facts, end = wired(20.0, {6.0: 0.2 * drop, 2.0: 0.2})
    monkeypatch.setitem(branches.mean_drop.__globals__, "end_of_wire", end)
    row = one(branches.mean_drop(facts))
    assert held(row) == (pytest.approx(drop), 3.0, "%", verdict)
    assert row.detail.startswith("2.00 A in 10 m of 12 AWG, ")
    assert row.detail.endswith(" at 40 °C")
    item.shared = False
    assert one(branches.mean_drop(facts)).value == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("peak", "lasting", "verdict"),
    [(5.0, 4.0, "pass"), (5.1, 4.0, "warn"), (20.0, 10.0, "warn"), (20.1, 4.0, "fail"),
     (12.0, 10.1, "fail")],
)  # fmt: skip
def test_a_peak_drop_is_judged_for_long_and_for_an_inrush(
    monkeypatch, peak, lasting, verdict
):
    """One of three at its peak of 9 W, two at 5 W; all three at 5 W for long."""
    item, facts, end = wired(
        20.0, {19.0: 0.2 * peak, 15.0: 0.2 * lasting, 9.0: 0.02, 5.0: 0.01}
    )
    monkeypatch.setitem(branches.peak_drop.__globals__, "end_of_wire", end)
    row = one(branches.peak_drop(facts))
    assert held(row) == (pytest.approx(peak), 5.0, "%", verdict)
    item.shared = False
    assert one(branches.peak_drop(facts)).value == pytest.approx(0.1)


def test_the_worst_moment_is_a_peak_of_its_own_or_the_burst_of_another(monkeypatch):
    """12 V less 0.1 ohm times what is more than the mean; its own inrush is in both."""
    names = branches.worst_peak.__globals__
    monkeypatch.setitem(names, "peak_end", lambda _, item, v: space(volts=v - item.own))
    monkeypatch.setitem(
        names, "lasting_end", lambda _, item, v: space(volts=v - item.long)
    )
    budget = space(maximum_a=7.0, peak_a=12.0, inrush="pump")
    facts = space(low_v=12.0, burst_ohm=0.1, mean_a=2.0, problem__budget=budget)
    item = space(load=space(name="radio", supply=None), own=1.0, long=0.4)
    assert branches.worst_peak(facts, item)[0] == pytest.approx(11.5)
    assert branches.worst_peak(facts, item)[1].volts == pytest.approx(10.5)
    item.own = 0.8
    bus_v, end = branches.worst_peak(facts, item)
    assert (bus_v, end.volts) == (pytest.approx(11.0), pytest.approx(10.6))
    item.load.name = "pump"
    bus_v, end = branches.worst_peak(facts, item)
    assert (bus_v, end.volts) == (pytest.approx(11.0), pytest.approx(10.2))
    assert branches.bus_in_burst_v(facts, -3.0) == 12.0


# ---------------------------------------------------------------- panels


@pytest.mark.parametrize(
    ("strings", "most", "fuse", "wanted"),
    [(2, 15.0, None, None), (3, 15.0, None, (15.0, 15.0, "pass")),
     (3, 14.9, 0.0, (15.0, 14.9, "fail")),
     (3, 14.9, None, "3 strings in parallel, no string fuse stated; the other strings feed "
"15.0 A into a fault, module limit 14.9 A"),
     (3, None, 0.0, "3 strings in parallel, no string fuse; the other strings feed 15.0 A "
"into a fault")],
)  # fmt: skip
def test_strings_without_fuses_feed_a_fault_in_one_of_them(
    monkeypatch, strings, most, fuse, wanted
):
    """1.25 x two others of 6 A are 15 A; two strings need none."""
    monkeypatch.setitem(pv.string_fuse.__globals__, "ModuleData", SimpleNamespace)
    facts = space(
        problem=space(array__module=space(short_circuit_a=6.0), strings=strings),
        design__module_data=space(series_fuse_a=most), tables__array__string_fuse_a=fuse,
    )  # fmt: skip
    rows = list(pv.string_fuse(facts))
    if wanted is None:
        assert rows == []
    elif isinstance(wanted, str):
        assert one(rows).detail == wanted
        key = (
            "maximum_series_fuse of the module"
            if fuse == 0.0
            else "[array] string_fuse"
        )
        assert one(rows).missing == key
    else:
        row = one(rows)
        assert (row.value, row.limit, row.verdict) == wanted


@pytest.mark.parametrize(
    ("fuse", "most", "verdicts"),
    [(9.375, 15.0, ["pass", "pass"]), (9.37, 15.0, ["fail", "pass"]),
     (15.1, 15.0, ["pass", "fail"]), (10.0, None, ["pass"])],
)  # fmt: skip
def test_string_fuses_lie_between_bright_sun_and_the_modules_highest(
    monkeypatch, fuse, most, verdicts
):
    """1.5625 x 6 A are 9.375 A, of one string."""
    monkeypatch.setitem(pv.string_fuse.__globals__, "ModuleData", SimpleNamespace)
    facts = space(
        problem=space(array__module=space(short_circuit_a=6.0), strings=4),
        design__module_data=space(series_fuse_a=most), tables__array__string_fuse_a=fuse,
    )  # fmt: skip
    rows = list(pv.string_fuse(facts))
    assert [row.verdict for row in rows] == verdicts
    assert rows[0].limit == 9.375


@pytest.mark.parametrize(
    ("hot", "carried"), [(40.0, 40.0), (25.0, 31.25), (32.0, 40.0), (31.9, 39.875)]
)
def test_a_wire_carries_by_the_codes_two_rules(monkeypatch, hot, carried):
    """At 30 degC 1.5625 times, in hot air 1.25 times: the less of 40 A and 1.25 hot ones."""
    table = {30.0: 40.0, 50.0: hot}
    monkeypatch.setitem(
        pv.array_wire.__globals__, "ampacity_a", lambda _, __, degc: table[degc]
    )
    facts = space(
        problem=space(array__module=space(short_circuit_a=6.0), strings=2),
        wire_hot_degc=50.0,
        tables__array__wire=space(gauge="8 AWG", insulation_degc=90.0),
    )  # fmt: skip
    row = one(pv.array_wire(facts))
    assert held(row) == (pytest.approx(carried), 18.75, "A", "pass")
    assert tells(row.detail, "; 1.5625 x 2 x 6 A")
    assert tells(row.detail, "8 AWG: 40.0 A at 30 °C")
    facts.tables.array.wire = None
    assert tells(one(pv.array_wire(facts)).detail, "minimum 18.8 A")


@pytest.mark.parametrize(
    ("fuse", "verdict"), [(18.75, "pass"), (18.7, "fail"), (None, None)]
)
def test_the_arrays_fuse_is_told_with_the_next_size(fuse, verdict):
    """Two strings of 6 A ask for 18.75 A, so 20 A."""
    facts = space(
        problem=space(array__module=space(short_circuit_a=6.0), strings=2),
        tables__array__fuse_a=fuse,
    )
    row = one(pv.array_fuse(facts))
    if verdict:
        assert held(row) == (fuse, 18.75, "A", verdict)
    else:
        assert tells(row.detail, "minimum 18.8 A: use 20 A")


@pytest.mark.parametrize(
    ("series", "low", "high"),
    [(1, "fail", "pass"), (2, "pass", "fail"), (3, "pass", "fail")],
)
def test_voltage_classes_are_told_in_volts_and_percent(series, low, high):
    """14 V x series on 12 V: hot cells lose 18 V x 0.3 % x 35 K = 1.89 V each."""
    module = space(max_power_v=14.0, open_circuit_v=18.0, open_circuit_per_k=-0.003)
    facts = space(
        problem__array__module=module, nominal_v=12.0,
        tables=space(array__series=series, regulator__kind="pwm"),
    )  # fmt: skip
    row = one(pv.class_low(facts))
    hot = series * (14.0 - 1.89)
    assert held(row) == (pytest.approx(hot), pytest.approx(14.4), "V", low)
    assert tells(row.detail, f"{series} x 14 V = {14 * series:.1f} V at 25 °C")
    row = one(pv.class_high(facts))
    assert held(row) == (14.0 * series, pytest.approx(19.8), "V", high)
    used = 100 * 13.2 / (14 * series)
    assert tells(
        row.detail,
        f"about 13.2 V of {14 * series:.1f} V used, {used:.0f} % of the power",
    )
    module.max_power_v = 24.0 / series
    assert one(pv.class_high(facts)).verdict == "warn"
    module.max_power_v = 14.4 / series
    assert one(pv.class_low(facts)).verdict == "warn"
    facts.tables.regulator.kind = "mppt"
    assert list(pv.class_high(facts)) == []


@pytest.mark.parametrize("known", [True, False])
@pytest.mark.parametrize(
    ("record", "design", "own", "table"),
    [(-10.0, -10.0, 24.31, 25.08), (-10.0, -30.0, 25.63, 26.62), (-45.0, -45.0, 26.62, None)],
)  # fmt: skip
def test_a_cold_string_is_judged_by_its_own_coefficient_where_stated(
    monkeypatch, known, record, design, own, table
):
    """22 V and 0.3 %/K; else the larger of that and of the code's table, as far as it goes."""
    for module in (pv, cold_string):
        monkeypatch.setattr(module, "coefficient_known", lambda _: known)
    module = space(open_circuit_v=22.0, open_circuit_per_k=-0.003)
    facts = space(
        problem__array__module=module, tables__array__series=2,
        air=Extremes(record, 30.0, design),
        design__module_data="name",
        design__tables__regulator__maximum_input_v=60.0,
    )  # fmt: skip
    volts, words, cases = pv.cold_string(facts)
    judged = own if known or table is None else max(own, table)
    assert volts == pytest.approx(2 * judged)
    assert [case["volts"] for case in cases] == pytest.approx(
        [2 * 22.0 * (1 + 0.003 * (25.0 - record)), 2 * own,
         None if table is None else pytest.approx(2 * table)]
    )  # fmt: skip
    assert tells(words, "2 x 22 V; -0.3 %/K")
    assert ("not stated" in words) != known
    assert ("(design minimum)" in words) == (design < record)
    assert tells(words, f"{2 * own:.1f} V at")
    end = (
        "below the range of the code table"
        if table is None
        else f"code table {2 * table:.1f} V"
    )
    assert words.endswith(end)
    rows = [
        row
        for row in pv.string_voltage(facts)
        if row.subject == "charge controller input"
    ]
    assert isinstance(rows[0], Check)
    assert len(rows) == (2 if table is None and not known else 1)


@pytest.mark.parametrize(
    ("height", "limit", "words"),
    [(0.0, 10.0, ""), (4000.0, 9.0, "; 90 % of 10 A at 4,000 m")],
)
def test_a_trackers_output_is_held_against_what_the_height_leaves(
    monkeypatch, height, limit, words
):
    """Three strings of 36.1 W in the best hour, 9.5 A at 95 % of 12 V."""
    left = 0.9 if height else 1.0
    monkeypatch.setitem(
        pv._clipped.__globals__, "rating_left_frac", lambda *_: np.array([left])
    )
    monkeypatch.setitem(
        pv._clipped.__globals__, "behind_controller_w", lambda _design, w: 0.8 * w
    )
    facts = space(
        tables=space(
            regulator=stated(maximum_charge_a=10.0), site__elevation_m=height
        ),
        nominal_v=12.0,
        problem=space(strings=3, design=None, array__p_mp_w=np.array([0.0, 45.125])),
    )  # fmt: skip
    row = pv._clipped(facts)
    assert held(row) == (
        pytest.approx(9.5),
        limit,
        "A",
        "warn" if limit < 9.5 else "pass",
    )
    assert tells(row.detail, f"108 W in the best hour{words}")
    facts.tables.regulator = stated()
    assert tells(
        pv._clipped(facts).detail, "108 W in the best hour, 9.50 A into the battery"
    )


# ---------------------------------------------------------------- protection


@pytest.mark.parametrize(
    ("low", "high", "nominal", "rebound", "verdict"),
    [(11.6, 12.6, 12.0, 0.2, "pass"), (11.6, 12.59, 12.0, 0.2, "warn"),
     (11.6, 12.8, 12.0, 1.1, "pass"), (11.6, 12.8, 12.0, 1.3, "fail"),
     (23.2, 25.2, 24.0, 0.2, "pass"), (23.2, 25.1, 24.0, 0.2, "warn"),
     (11.6, 12.1, 12.0, 0.6, "fail")],
)  # fmt: skip
def test_the_gap_is_one_volt_on_twelve_and_more_than_the_rebound(
    monkeypatch, low, high, nominal, rebound, verdict
):
    """The bank rebounds by the largest lasting current times its resistance."""
    monkeypatch.setitem(
        prot.gap.__globals__, "ohmic_ohm", lambda *_, **__: rebound / 4.0
    )
    bus = space(
        disconnect_v=low,
        reconnect_v=high,
        disconnect_soc_frac=None,
        reconnect_soc_frac=None,
    )
    facts = space(
        tables__bus=bus, nominal_v=nominal, problem__budget__maximum_a=4.0, bank=None,
        battery_low_degc=-5.0,
    )  # fmt: skip
    row = one(prot.gap(facts))
    need = max(nominal / 12.0, rebound)
    assert held(row) == (pytest.approx(high - low), pytest.approx(need), "V", verdict)
    assert tells(
        row.detail,
        f"{(high - low) * 12 / nominal:.2f} V on a 12 V base; the battery "
        f"rebounds by {rebound:.2f} V when 4.00 A switch off",
    )


@pytest.mark.parametrize(
    ("low", "high", "value", "verdict"),
    [(0.2, 0.3, 10.0, "pass"), (0.2, 0.29, 9.0, "warn"), (None, 0.5, 50.0, "pass")],
)
def test_a_gap_by_state_is_ten_percent_of_charge(low, high, value, verdict):
    """Nothing stated counts as empty."""
    bus = space(
        disconnect_v=None,
        reconnect_v=None,
        disconnect_soc_frac=low,
        reconnect_soc_frac=high,
    )
    row = one(prot.gap(space(tables__bus=bus)))
    assert held(row) == (
        pytest.approx(value), pytest.approx(10.0), "% SOC", verdict
    )  # fmt: skip


@pytest.mark.parametrize(("height", "share"), [(0.0, 1.0), (3500.0, 0.8)])
def test_a_converter_is_held_against_its_load_and_its_inrush(
    monkeypatch, height, share
):
    """30 W rated, 24 W in the thin air of 3,500 m; the largest start counts once."""
    monkeypatch.setitem(prot.converter.__globals__, "rail_maximum_w", lambda *_: 20.0)

    def item(name, more, supply="s"):
        draw = space(peak_w=5.0 + more, maximum_w=5.0)
        return space(load=space(name=name, supply=supply), draw=draw)

    facts = space(
        items=(item("a", 3.0), item("b", 6.0), item("c", 50.0, None)),
        tables=space(supply=(space(name="s"),), site__elevation_m=height),
        rails={"s": space(rated_w=30.0)},
    )  # fmt: skip
    lasting, start = prot.converter(facts)
    assert held(lasting) == (20.0, pytest.approx(30.0 * share), "W", "pass")
    assert held(start) == (
        26.0, pytest.approx(30.0 * share), "W", "pass" if share == 1 else "warn"
    )  # fmt: skip
    assert tells(start.detail, "b adds an inrush of 6.00 W")
    words = "" if share == 1 else ", 80 % of it at this altitude"
    assert tells(lasting.detail, f"rated 30 W{words}")
    facts.items = (item("a", 0.0),)
    assert len(list(prot.converter(facts))) == 1
    facts.rails["s"].rated_w = 20.0 if share < 1 else 19.0
    assert [row.verdict for row in prot.converter(facts)] == ["fail"]


@pytest.mark.parametrize(
    ("kind", "limit", "loads", "amps", "which"),
    [("mppt", None, 8.0, 12.0, "charging"), ("mppt", 5.0, 8.0, 8.0, "loads"),
     ("mppt", 7.5, 8.0, 9.5, "charging"), ("pwm", None, 8.0, 17.0, "charging"),
     ("mppt", None, 13.0, 13.0, "loads")],
)  # fmt: skip
def test_the_main_wire_carries_the_larger_of_loads_and_charging(
    kind, limit, loads, amps, which
):
    """10 A of a tracker, 1.25 x 2 x 6 A of a direct connection, 2 A of generators."""
    regulator = stated(maximum_charge_a=limit)
    regulator.kind = kind
    facts = space(
        problem=space(
            budget__maximum_a=loads, array__module__short_circuit_a=6.0, strings=2
        ),
        array_charge_a=10.0, generator_charge_a=2.0, tables__regulator=regulator,
        heater_a=0.0,
    )  # fmt: skip
    assert prot._battery_a(facts) == (pytest.approx(amps), which)
    # A heater that the battery feeds runs beside the loads.
    facts.heater_a = 5.0
    heated = (loads + 5.0, "loads and battery heater")
    assert prot._battery_a(facts) == pytest.approx(max(heated, (amps, which)))


@pytest.mark.parametrize(
    ("fuse", "value", "verdict"),
    [(12.5, 12.5, "pass"), (12.4, 12.4, "fail"), (None, 0, "")],
)
def test_fuses_of_bus_battery_and_branch_carry_125_percent(
    monkeypatch, fuse, value, verdict
):
    """10 A ask for 12.5 A, so 15 A."""
    names = prot.battery_main.__globals__
    monkeypatch.setitem(names, "_battery_a", lambda _: (10.0, "loads"))
    monkeypatch.setitem(
        names, "branches", lambda _: [prot.Branch("x", 10.0, None, fuse, ("w", "f"))]
    )
    facts = space(
        problem__budget__maximum_a=10.0, protection__bus_fuse_a=fuse, low_v=11.6,
        tables__battery=space(fuse_a=fuse, wire=None),
    )  # fmt: skip
    bus = one(prot.bus_fuse(facts))
    main = next(iter(prot.battery_main(facts)))
    branch = one(prot.branch_fuses(facts))
    if fuse is None:
        assert bus.detail == main.detail == "minimum 12.5 A: use 15 A"
        assert branch.missing == "f"
        return
    for row in (bus, main, branch):
        assert held(row) == (value, 12.5, "A", verdict)
    assert tells(bus.detail, "1.25 x 10.0 A at 11.6 V")
    assert tells(main.detail, "1.25 x 10.0 A, loads")
    assert tells(branch.detail, "1.25 x 10.0 A")


@pytest.mark.parametrize(
    ("by", "value", "verdict"),
    [
        ("process-controller", 0.0, "fail"),
        ("charge-controller", 1.0, "pass"),
        ("relay", 1.0, "pass"),
    ],
)
def test_a_disconnect_is_independent_or_not(by, value, verdict):
    """Yes or no, one of one."""
    row = one(prot.independent(space(protection__disconnect_by=by)))
    assert held(row) == (value, 1.0, "yes/no", verdict)
    missing = one(prot.independent(space(protection__disconnect_by=None)))
    assert missing.missing == "[protection] disconnect_by"


def test_several_pieces_on_wires_of_their_own_each_carry_their_share(monkeypatch):
    """Three of 9 A in all are 3 A each, or 9 A on one wire."""
    monkeypatch.setitem(prot._pair_a.__globals__, "most_a", lambda *_: 9.0)
    item = space(shared=False, load=space(quantity=3))
    assert prot._pair_a(space(low_v=11.0), item) == 3.0
    item.shared = True
    assert prot._pair_a(space(low_v=11.0), item) == 9.0


# ---------------------------------------------------------------- loops


@pytest.mark.parametrize(
    ("cold", "hot", "limit", "verdict"),
    [(250.0, 260.0, 250.0, "pass"), (249.9, 260.0, 250.0, "warn"),
     (230.0, 260.0, 250.0, "warn"), (229.9, 260.0, 250.0, "fail"),
     (300.0, 1100.0, 250.0, "pass"), (300.0, 1100.1, 1100.0, "warn")],
)  # fmt: skip
def test_a_digital_signal_needs_250_to_1100_ohm(monkeypatch, cold, hot, limit, verdict):
    """The cable cold for the least and hot for the most, resistor and barrier in it."""
    loop = space(kind="hart", resistance_ohm=150.0, barrier_ohm=50.0)
    item = space(load=space(name="x", loop=loop))
    monkeypatch.setitem(loops.hart.__globals__, "is_two_wire", lambda _: True)
    facts = space(
        items=(item,), air__low_degc=-20.0, wire_hot_degc=40.0,
        item_ohm=lambda _, degc: (cold if degc == -20.0 else hot) - 200.0,
    )  # fmt: skip
    row = one(loops.hart(facts))
    assert (row.limit, row.verdict) == (limit, verdict)
    assert row.value == pytest.approx(hot if limit == 1100.0 else cold)
    assert tells(
        row.detail, f"{cold:,.0f} Ω with cold cable, {hot:,.0f} Ω with hot cable"
    )
    loop.kind = "plain"
    assert list(loops.hart(facts)) == []


@pytest.mark.parametrize(
    ("count", "verdict"), [(15, "pass"), (16, "warn"), (63, "warn"), (64, "fail")]
)
def test_a_pair_carries_fifteen_devices_or_sixty_three(monkeypatch, count, verdict):
    """The addresses of the two revisions."""
    monkeypatch.setitem(loops.multidrop.__globals__, "is_two_wire", lambda _: True)
    item = space(load=space(name="x", quantity=count, loop=space(kind="multidrop")))
    row = one(loops.multidrop(space(items=(item,))))
    assert held(row) == (float(count), 15.0, "devices", verdict)


@pytest.mark.parametrize(
    ("trunk", "least", "value", "limit", "verdict"),
    [(20.0, 0.0, 9.0, 9.0, "pass"), (20.1, 0.0, 8.95, 9.0, "fail"),
     (10.0, 14.5, 14.0, 14.5, "fail")],
)  # fmt: skip
def test_a_segment_has_nine_volts_at_its_far_end(trunk, least, value, limit, verdict):
    """12 W on 24 V are 0.5 A through trunk and barrier of 10 ohm."""
    item = space(
        load=space(name="x", wire="w", supply="s",
                   loop=space(kind="fieldbus", barrier_ohm=10.0)),
        maximum_w=12.0, rail=space(volts=24.0), minimum_v=least,
    )  # fmt: skip
    facts = space(
        items=(item,), item_ohm=lambda *_: trunk, wire_hot_degc=40.0, low_v=11.0
    )
    row = one(loops.fieldbus(facts))
    assert held(row) == (pytest.approx(value), limit, "V", verdict)
    assert tells(row.detail, f"0.500 A through {trunk + 10:.0f} Ω of hot trunk")
    item.load.wire = None
    assert isinstance(one(loops.fieldbus(facts)), NotChecked)


# ---------------------------------------------------------------- stairs


@pytest.mark.parametrize("main", [0.0, 0.02])
@pytest.mark.parametrize("sag", [0.0, 0.5])
def test_the_stairs_to_the_bus_lose_what_the_mean_and_the_burst_drop(
    monkeypatch, main, sag
):
    """2 A of mean load, and in a burst the sag over 0.1 ohm more, bank first."""
    monkeypatch.setitem(_to_bus.__globals__, "ohmic_ohm", lambda *_, **__: 0.1 - main)
    facts = space(
        tables__battery__wire="w" if main else None, wire_ohm=lambda *_: main,
        wire_hot_degc=40.0, mean_a=2.0, low_v=11.6, burst_ohm=0.1, bank=None,
        battery_low_degc=-5.0,
    )  # fmt: skip
    steps = _to_bus(facts, 11.6 - sag)
    levels = [step.level_v for step in steps]
    assert levels[:3] == pytest.approx([11.6 + 2 * main, 11.6, 11.6])
    assert len(steps) == 3 + (sag > 0) + (sag > 0 and main > 0)
    if sag:
        assert steps[3].change_v == pytest.approx(-sag / 0.1 * (0.1 - main))
        assert levels[-1] == pytest.approx(11.6 - sag)
        assert tells(steps[3].note, "5 A added")


def test_the_worst_branch_is_that_with_the_least_share_to_spare(monkeypatch):
    """Half a volt of five is more than one of twenty; none stated, none shown."""
    names = worst_stairs.__globals__

    def stair(_, item):
        step = SimpleNamespace(level_v=item.minimum_v + item.spare)
        return Stairs(item.name, (step,), item.minimum_v, 0.0)

    monkeypatch.setitem(names, "stairs", stair)
    items = (space(name="five", minimum_v=5.0, spare=0.5),
             space(name="twenty", minimum_v=20.0, spare=1.0),
             space(name="none", minimum_v=0.0, spare=-9.0))  # fmt: skip
    assert worst_stairs(space(items=items)).name == "twenty"
    assert worst_stairs(space(items=items)).margin_v == 1.0
    empty = worst_stairs(space(items=items[2:]))
    assert (empty.name, empty.margin_v, empty.needed_v, empty.amps) == (
        "",
        0.0,
        0.0,
        0.0,
    )
