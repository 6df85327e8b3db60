"""Shared fixtures: demo sites, a random kernel problem, the folder beside the checkout."""

from __future__ import annotations

import os
import signal
import sys
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import typer.testing
from hypothesis import settings

from powerbudget import cli
from powerbudget.balance import columns as col

# A green run must mean the same twice: random search is for developers' machines.
settings.register_profile("ci", derandomize=True, deadline=None)
# A deadline judges how busy the machine is: with two at once it failed a sound test.
settings.register_profile("here", deadline=None)
settings.load_profile("ci" if os.environ.get("CI") else "here")

# The tree of commands is built for a process that answers once; here it takes longer
# than most answers.
typer.main.get_command = typer.testing._get_command = cache(typer.main.get_command)

# Compiled files are kept wherever the tests run: without them each process reads the
# package and rewrites every assertion anew, twenty seconds of work.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

ROOT = Path(__file__).resolve().parents[1]
SITES = sorted((ROOT / "sites").glob("*.toml"))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):
    """Return the scheduler of runs with more than one worker.

    Each begins with a stretch of neighbors, so that what the tests of a file share is
    worked out by one of them.
    """
    from xdist.scheduler import WorkStealingScheduling

    asked = config.getvalue("dist")
    return WorkStealingScheduling(config, log) if asked == "load" else None


@pytest.fixture(scope="session")
def sites() -> list[Path]:
    """Paths of the demo sites."""
    return SITES


@pytest.fixture(scope="session")
def prepared():
    """Return prepared problems by site file name, each made once."""
    from powerbudget.balance.problem import prepare
    from powerbudget.site.reader import read_site
    from powerbudget.site.starter import starter_design

    cache: dict[str, object] = {}

    def get(name: str):
        if name not in cache:
            design = (
                starter_design()
                if name == "starter"
                else read_site(ROOT / "sites" / f"{name}.toml")
            )
            cache[name] = prepare(design)
        return cache[name]

    return get


@pytest.fixture(scope="session")
def sized(prepared):
    """Return what `size` answers for prepared problems as they are, asked once each."""
    from powerbudget.sizing.search import size

    cache: dict[str, object] = {}

    def get(name: str):
        if name not in cache:
            cache[name] = size(prepared(name))
        return cache[name]

    return get


class _Undrawn:
    """Stands for what draws a picture, and draws nothing."""

    def __get__(self, owner, kind=None):
        return lambda: ("<svg></svg>", ())

    def __set__(self, owner, value):
        """Pictures are made as ever, and their own way of drawing is dropped."""


@pytest.fixture
def undrawn(monkeypatch):
    """Leave the pictures of pages blank: they are most of the work of a page.

    For tests that read words and tables; what is drawn has tests of its own.
    """
    from powerbudget.report.document.blocks import Picture

    monkeypatch.setattr(Picture, "draw", _Undrawn(), raising=False)


@pytest.fixture
def call(capsys):
    """Return what runs the command line in this process: exit code, answer, remarks.

    A process of its own costs a second of imports and keeps no stage of the
    simulation; the tests that need one (streams, interrupts, cost of starting) say so.
    """

    def answer(*words):
        before = signal.getsignal(signal.SIGINT)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(sys, "argv", ["powerbudget", *map(str, words)])
            patch.setattr(cli.gc, "disable", lambda: None)
            try:
                with pytest.raises(SystemExit) as caught:
                    cli.main()
            finally:
                signal.signal(signal.SIGINT, before)
        said = capsys.readouterr()
        code = caught.value.code
        assert "Traceback" not in said.err
        return (0 if code is None else code), said.out, said.err

    return answer


def _random_switches(rng, s):
    """Write shed steps, a disconnect delay and a dark regulator for half the sites."""
    s["first_state"] = s["first_return_state"] = -1.0
    s["second_state"] = s["second_return_state"] = -1.0
    if rng.random() < 0.5:
        s["first_v"], s["first_return_v"] = 12.2, 12.7
        s["second_state"], s["second_return_state"] = 0.45, 0.55
    if rng.random() < 0.5:
        s["delay_h"] = rng.integers(0, 4)
    if rng.random() < 0.5:
        s["restart_v"] = rng.uniform(8, 12)


def _random_sources(rng, rows, s):
    """Give half the sites a steady source and half one that follows the battery."""
    n = len(rows)
    if rng.random() < 0.5:
        rows["steady_w"] = rng.uniform(2, 25) * (rng.random(n) < 0.9)
    if rng.random() < 0.5:
        return
    rated = rng.uniform(20, 150)
    rows["source_w"] = rated * (rng.random(n) < 0.9)
    rows["source_open"] = np.repeat(rng.random(n // 40 + 1) < 0.6, 40)[:n]
    rows["source_draw"] = rng.random(n)
    s["source"] = 1.0
    s["source_start_state"], s["source_stop_state"] = rng.uniform(0.3, 0.6), 0.8
    if rng.random() < 0.4:
        s["source_start_v"], s["source_stop_v"] = 12.3, 13.4
        s["source_start_state"] = s["source_stop_state"] = -1.0
    elif rng.random() < 0.2:
        s["source_start_state"], s["source_stop_state"] = 2.0, 9.0
    s["source_minimum_h"] = rng.integers(0, 6)
    s["source_warm_h"] = rng.choice([0.0, 0.3, 1.0, 1.7])
    s["source_exercise_every_h"] = rng.choice([np.inf, 48.0, 168.0])
    s["source_exercise_h"] = rng.choice([0.25, 1.0, 2.5])
    s["source_start_frac"] = rng.choice([1.0, 0.7])
    s["source_faults_per_h"] = rng.choice([0.0, 0.002])
    s["source_idle_w"] = rng.uniform(0, 3) * rated
    s["source_slope"] = rng.uniform(0, 5)
    s["source_tank_wh"] = rng.choice([np.inf, 200 * rated, 20 * rated])
    s["source_order_wh"] = rng.choice([-1.0, 15 * rated])
    s["source_delay_h"] = rng.integers(0, 60)


def _random_controller(rng, s, *, direct):
    """Limit half the charge controllers; drawn last, so that a seed keeps its site."""
    s["controller_a"] = s["controller_w"] = col.UNLIMITED
    if rng.random() < 0.5:
        s["controller_a"] = rng.uniform(0.5, 12)
    if rng.random() < 0.3 and not direct:
        s["controller_w"] = rng.uniform(5, 150)
    if rng.random() < 0.3:
        s["load_limit_a"] = rng.uniform(0.5, 6)
    if rng.random() < 0.5:
        s["float_drop_v"], s["recharge_v"] = (
            rng.uniform(0.3, 1),
            rng.uniform(12.4, 13.4),
        )
        s["absorb_h"], s["tail_a"] = rng.uniform(0.5, 6), rng.uniform(0, 4)


def random_rows(seed: int, intervals: int, *, direct: bool):
    """Return hourly rows, currents, tables and scalars of an invented site."""
    rng = np.random.default_rng(seed)
    t = np.arange(intervals)
    sun = np.clip(np.sin((t % 24 - 6) / 12 * np.pi), 0, None)
    sun = sun * rng.uniform(0, 1, intervals)
    degc = rng.uniform(-30, 30) + 8 * rng.normal(size=intervals)
    rows = np.zeros(intervals, col.ROW)
    rows["array_w"] = sun * rng.uniform(5, 150)
    rows["load_w"] = rng.uniform(0, 15, intervals)
    rows["load_a"] = rng.uniform(0, 0.5)
    rows["load_s"] = rng.uniform(0, 0.02)
    for watts, amps, siemens in col.TIERS[1:]:
        rows[watts] = rng.uniform(0, 8) * (rng.random(intervals) < 0.7)
        rows[amps] = rng.uniform(0, 0.2)
        rows[siemens] = rng.uniform(0, 0.01)
    rows["base_w"] = rng.uniform(0, 3) * (degc < 0)
    rows["capacity"] = np.clip(1 + 0.01 * (degc - 25), 0.2, 1)
    rows["open_shift_v"] = 0.003 * (degc - 25)
    rows["discharge_ratio"] = np.clip(1 + 0.03 * (25 - degc), 0.6, None)
    rows["charge_ratio"] = np.clip(1 + 0.025 * (25 - degc), 0.5, 2.6)
    rows["regulation_v"] = np.clip(14.4 - 0.024 * (degc - 25), 13.2, 15.6)
    rows["self_per_h"] = 0.03 / 720 * 2 ** ((degc - 20) / 10)
    rows["charge_share"] = np.clip((degc + 25) / 20, 0, 1)
    rows["controller_share"] = np.clip((45 - degc) / 20, 0, 1)
    state = np.linspace(0, 1, 101)
    low, gap = np.maximum(state, 0.01), np.maximum(1 - state, 0.01)
    tables = col.Tables(
        open_v=11.7 + 1.2 * state,
        efficiency=np.interp(state, [0, 0.8, 1], [0.97, 0.97, 0.5]),
        discharge=6 * (0.6 + 0.27 * (low**-1.5 - 1)),
        charge=6 * (1.236 + 0.48 * gap**-1.2),
    )
    s = np.zeros(1, col.SCALARS)[0]
    held = rng.uniform(60, 500)
    s["step_h"], s["strings"] = 1.0, rng.integers(1, 4)
    s["rated_ah"], s["charge_ah"] = held, held * rng.uniform(0.8, 1)
    s["charge_limit_a"], s["base_a"] = 0.3 * held, rng.uniform(0, 0.1)
    s["trip_v"], s["return_v"] = 11.6, 12.6
    s["trip_state"] = s["return_state"] = -1.0
    if rng.random() < 0.4:
        s["trip_v"] = 0.0
        s["trip_state"] = rng.uniform(0.1, 0.6)
        s["return_state"] = s["trip_state"] + 0.2
    _random_switches(rng, s)
    currents = np.zeros((intervals, 0))
    if direct:
        nodes = np.linspace(9, 17, 9)
        s["node_first_v"], s["node_step_v"] = 9.0, 1.0
        s["drop_v"] = 0.3
        knee = 1 - np.exp((nodes - 22) / 1.5)
        currents = np.ascontiguousarray(sun[:, None] * 5.6 * knee[None, :])
    _random_sources(rng, rows, s)
    _random_controller(rng, s, direct=direct)
    rows["base_less_a"] = np.where(sun > 0, -0.4, 0.4) * s["base_a"]
    return rows, currents, tables, s


@pytest.fixture(scope="session")
def make_rows():
    """Return a factory of invented kernel inputs from a seed."""
    return random_rows


PLAIN_SITE = """
[site]
name = "test site"
latitude = 50.0
longitude = -110.0
time_zone = "UTC-7"
[weather]
record = "greensboro"
[bus]
nominal = "{volts} V"
low_voltage_disconnect = "{low} V"
low_voltage_reconnect = "{high} V"
contingency = "{contingency}"
standing_leakage = "{leakage}"
{bus}
{loads}
[array]
module = "module-36-cell-100w"
series = {series}
parallel = 4
tilt = "50 deg"
azimuth = "south"
[charge_controller]
kind = "mppt"
own_current = "{own}"
[battery]
chemistry = "agm"
unit = {{ nominal = "{volts} V", capacity = "200 Ah", hour_rate = "20 h" }}
[criteria]
autonomy = "3 d"
autonomy_temperature = "{cold}"
"""


@pytest.fixture(scope="session")
def site_text():
    """Return a maker of site files: load tables in, a whole file out."""

    def make(loads: str, volts: int = 24, **other: str) -> str:
        keys = {
            "contingency": "0 %", "leakage": "0 mA", "own": "0 mA", "bus": "",
            "cold": "-20 degC", "low": f"{volts * 23 / 24:g}",
            "high": f"{volts * 25.6 / 24:g}", "series": max(1, volts // 12),
        }  # fmt: skip
        return PLAIN_SITE.format(loads=loads, volts=volts, **{**keys, **other})

    return make


@pytest.fixture(scope="session")
def budget_of(site_text):
    """Return the budget of load tables on a plain bus."""
    from powerbudget.loads.budget import load_budget
    from powerbudget.site.reader import read_site_text

    def make(loads: str, volts: int = 24, path=None, **other: str):
        text = site_text(loads, volts, **other)
        return load_budget(read_site_text(text, path=path))

    return make


NASTY_NAME = "<script>alert('x')</script> \"=cmd|' /C calc'!A0\" & $a_b$ שלום 🛢 €"
NASTY_LOADS = ["=1+1", "+cmd()", "-2+3", "@SUM(1)", "<img src=x onerror=alert(1)>",
               "محطة القياس", "pump 🔋 100 %", "*", "x" * 200]  # fmt: skip


def nasty_text() -> str:
    """Return a site that fails its criteria, with names meant to break the page."""
    quote = "'" * 3
    loads = ""
    for k, name in enumerate(NASTY_LOADS):
        loads += f'[[load]]\nname = {quote}{name}{quote}\ntypical = "{1 + k} W"\n'
        loads += 'source = "=HYPERLINK(1)"\n' + ("supply = '*'\n" if k % 2 else "")
    supply = ("[[supply]]\nname = '*'\noutput = \"24 V\"\nrated = \"60 W\"\n"
              'no_load = "0.4 W"\nefficiency = "88 %"\n')  # fmt: skip
    text = PLAIN_SITE.format(
        volts=12, low=11.5, high=12.8, contingency="10 %", leakage="5 mA", bus="",
        loads=supply + loads, series=1, own="10 mA", cold="-20 degC",
    )  # fmt: skip
    return text.replace('name = "test site"', f"name = {quote}{NASTY_NAME}{quote}")


@pytest.fixture(scope="session")
def package_of():
    """Return calculation packages by name, each computed once.

    ``starter`` meets its criteria, ``nasty`` fails them and has names that are meant
    to break the page, ``coast`` is a demo site and ``full`` the same with every extra,
    ``hybrid`` has panels and a methanol cell, ``relay`` lives on a burner alone and
    fails.
    """
    from powerbudget.report.document.package import assemble
    from powerbudget.report.extras import Extras
    from powerbudget.site.reader import read_site, read_site_text
    from powerbudget.site.starter import starter_design

    sites = Path(__file__).resolve().parents[1] / "sites"
    demo = "coastal-meter-run.toml"
    everything = Extras(sites / "claims" / demo, True, True, seasons=60, seed=7)
    designs = {
        "starter": starter_design,
        "nasty": lambda: read_site_text(nasty_text()),
        "coast": lambda: read_site(sites / demo),
        "full": lambda: read_site(sites / demo),
        "hybrid": lambda: read_site(sites / "winter-hybrid.toml"),
        "relay": lambda: read_site(sites / "propane-relay.toml"),
    }
    cache: dict[str, object] = {}

    def get(name: str):
        if name not in cache:
            extras = everything if name == "full" else None
            cache[name] = assemble(designs[name](), extras=extras)
        return cache[name]

    return get


@pytest.fixture(scope="session")
def page_of(package_of):
    """Return pages of `package_of` by name, each drawn once."""
    from powerbudget.report.render.html import html_page

    cache: dict[str, str] = {}

    def get(name: str) -> str:
        if name not in cache:
            cache[name] = html_page(package_of(name), made="2026-01-02 03:04 UTC")
        return cache[name]

    return get


@pytest.fixture(scope="session")
def printed_run():
    """Return first screen and sections of `run` as text, for a simulation at hand."""
    from powerbudget.report.document.package import Package
    from powerbudget.report.render.terminal import findings_text, section_text
    from powerbudget.report.screens.run import run_screen
    from powerbudget.report.sections.registry import RUN, built
    from powerbudget.report.sections.sources import Sources

    def text(run):
        package = Package(run.problem.design).but(problem=run.problem, run=run)
        sections = filter(None, built(RUN, package, Sources("site file")))
        pages = [run_screen(package).text, *map(section_text, sections)]
        return "\n".join([*pages, findings_text(package.run_findings)])

    return text
