"""The command line as people and scripts use it: answers, remarks, exit codes."""

from __future__ import annotations

import csv
import io
import json
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest

from powerbudget import files
from powerbudget.cli import common
from powerbudget.report.document import words as text
from powerbudget.report.render.terminal import table
from powerbudget.site.reader import read_site
from powerbudget.site.starter import starter_text

HEAVY = ("numpy", "pandas", "pvlib", "numba", "matplotlib", "pint", "scipy")
SITES = Path(__file__).resolve().parents[2] / "sites"
VERBS = ("new", "parts", "loads", "weather", "run", "size")


def process(*arguments, **options):
    """Run the command line in a process of its own."""
    return subprocess.run(
        [sys.executable, "-m", "powerbudget", *map(str, arguments)],
        capture_output=True, encoding="utf-8", errors="replace", check=False, timeout=60, **options,
    )  # fmt: skip


@pytest.fixture
def site(tmp_path):
    """Write the starter with pieces changed and return its path."""

    def make(*changes, name="site.toml"):
        content = starter_text()
        for old, new in changes:
            assert old in content
            content = content.replace(old, new, 1)
        path = tmp_path / name
        path.write_text(content, encoding="utf-8")
        return path

    return make


def only_json(out):
    """Return the one strict JSON object that stands on standard output."""

    def refuse(word):
        raise AssertionError(word)

    found = json.loads(out, parse_constant=refuse)
    assert isinstance(found, dict)
    return found


# --- cost of starting ---


@pytest.mark.parametrize("statement", ["import powerbudget", "import powerbudget.cli"])
def test_importing_costs_no_heavy_library(statement):
    """A clock depends on the machine; the list of loaded modules does not."""
    code = f"{statement}, sys; print(*sorted(sys.modules))"
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    loaded = set(found.stdout.split())
    assert "powerbudget" in loaded
    assert loaded.isdisjoint(HEAVY)


@pytest.mark.parametrize("arguments", [["--help"], ["run", "--help"], ["--version"]])
def test_help_and_version_load_no_heavy_library(arguments):
    """Asking for help must not wait for libraries that it does not need."""
    code = (
        f"import sys; sys.argv = ['powerbudget', *{arguments!r}]\n"
        "from powerbudget.cli import main\n"
        "try: main()\n"
        "except SystemExit as exc: code = exc.code\n"
        "print(code or 0, *sorted(sys.modules), file=sys.stderr)"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    code, *loaded = found.stderr.split()
    assert code == "0"
    assert found.stdout
    assert set(loaded).isdisjoint(HEAVY)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_explains_itself(call, verb):
    """Help of each verb has an example's worth of words and explains each option."""
    code, out, _ = call(verb, "--help")
    assert code == 0
    assert f"powerbudget {verb}" in out
    options = [line for line in out.splitlines() if line.startswith("  --")]
    assert options
    assert all(len(line.split(maxsplit=2)) > 2 for line in options)


def test_the_list_of_verbs_is_not_cut_short(call):
    """Each verb's line in the overview is a whole sentence, and exit codes stand by."""
    code, out, _ = call("--help")
    listed = out.split("Commands:\n")[1].splitlines()
    assert code == 0
    for verb in VERBS:
        (line,) = [x for x in listed if x.split()[:1] == [verb]]
        assert line.endswith(".")
        assert not line.endswith("...")
    assert "Exit codes" in out


# --- exit codes ---


FAULTY = ("run", "size", "check", "compare", "loads", "weather", "diff", "review", "fleet",
          "import", "parts", "keys", "new")  # fmt: skip


@pytest.mark.parametrize("verb", FAULTY)
def test_faults_are_one_json_object_where_json_is_asked(call, site, verb):
    """Every verb, exit code 2, each fault with its key; as text on standard error too."""
    bad = site(('nominal = "12 V"', 'nominal = "13 parsnips"'))
    files = [bad] * (2 if verb in {"diff", "review"} else 1)
    code, out, err = call(verb, *files, "--json")
    said = only_json(out)
    assert code == said["exit_code"] == 2
    assert all(fault["where"] and fault["problem"] for fault in said["faults"])
    assert err.count("\n- ") == len(said["faults"])
    if verb == "run":
        assert [f["where"] for f in said["faults"]] == ["bus.nominal"]
        assert call(verb, bad)[1] == ""


def test_a_site_that_meets_its_criteria_ends_with_0(call):
    """The example meets its criteria, and says it is the example."""
    code, out, err = call("run")
    assert code == 0
    assert "Autonomy" in out or "autonomy" in out
    assert "built-in example" in err


def test_a_site_that_fails_its_criteria_ends_with_1_and_still_answers(call, site):
    """Fifty days of autonomy are out of reach: the answer comes, and code 1."""
    path = site(('autonomy = "5 d"', 'autonomy = "50 d"'))
    code, out, _ = call("run", path, "--json")
    assert code == 1
    assert any(not verdict["met"] for verdict in only_json(out)["criteria"])


def test_a_search_that_finds_nothing_ends_with_1(call, site):
    """Where no battery in reach lasts 300 days, there is no pick."""
    path = site(('autonomy = "5 d"', 'autonomy = "300 d"'))
    code, out, _ = call("size", path, "--json")
    assert code == 1
    assert only_json(out)["pick"] is None


@pytest.mark.parametrize("verb", ["loads", "weather", "run", "size"])
def test_a_bad_file_ends_with_2_and_no_answer(call, site, verb):
    """Every fault is a line on standard error, and nothing else on standard output."""
    path = site(("55.3 N", "91 N"), ('azimuth = "south"', 'azimuth = "sowth"'))
    keys = ["site.latitude", "array.azimuth"]
    assert call(verb, path)[:2] == (2, "")
    code, out, err = call(verb, path, "--json")
    assert (code, set(only_json(out))) == (2, {"result", "exit_code", "faults"})
    assert [fault["where"] for fault in only_json(out)["faults"]] == keys
    assert err.splitlines()[0] == "The input cannot be used: 2 input errors."
    assert [line.split(": ")[1] for line in err.splitlines()[1:]] == keys


@pytest.mark.parametrize(
    ("verb", "old", "new", "fragment"),
    [
        ("loads", "polls_per_hour = 60", "polls_per_hour = 300000", "poll less often"),
        ("run", '"module-36-cell-50w"', '"zzzz"', "array.module"),
    ],
)
def test_what_is_found_while_computing_names_the_file_too(
    call, site, verb, old, new, fragment
):
    """Too many polls, or a module in no table: code 2, with the file's name."""
    path = site((old, new))
    code, out, err = call(verb, path)
    assert (code, out) == (2, "")
    assert str(path) in err
    assert fragment in err


def test_an_unknown_part_ends_with_2(call):
    """A part that is not there gets the nearest names."""
    code, out, err = call("parts", "radio-licenced-5w")
    assert (code, out) == (2, "")
    assert "radio-licensed-5w" in err


@pytest.mark.parametrize(
    "arguments",
    [
        ["run", "--bogus"], ["bogus"], ["run", "a", "b"], ["run", "--plot"],
        # Field case H1: a negative longitude looks like an option.
        ["run", "58.5", "-119.4"],
        ["loads", "--json", "--csv"], ["parts", "--json", "--csv"],
    ],
)  # fmt: skip
def test_a_command_line_that_cannot_be_used_ends_with_2(call, arguments):
    """Unknown options and verbs, coordinates by place, two forms at once."""
    code, out, err = call(*arguments)
    assert code == 2
    assert err
    if "--json" in arguments:
        assert [fault["where"] for fault in only_json(out)["faults"]] == ["--csv"]
    else:
        assert out == ""


def test_a_foreign_weather_file_ends_with_2(call, site, tmp_path):
    """A picture, and text that is no weather, are refused in words."""
    change = ('record = "sand-point"', 'file = "sky.epw"')
    for content in (b"\x89PNG\r\n\x1a\n\0\0", b"hello,world\n1,2\n", b""):
        (tmp_path / "sky.epw").write_bytes(content)
        code, out, err = call("weather", site(change))
        assert (code, out) == (2, "")
        assert "sky.epw" in err


def test_a_fault_of_ours_ends_with_3_without_a_traceback(call, monkeypatch):
    """Whatever goes wrong inside, a user sees two plain lines."""

    def broken(*_):
        raise KeyError("inside")

    monkeypatch.setattr("powerbudget.loads.budget.load_budget", broken)
    code, out, err = call("loads")
    assert (code, out) == (3, "")
    assert "not caused by your input" in err


def test_no_arguments_print_the_help():
    """Someone who types the bare name learns where to start."""
    found = process()
    assert "powerbudget new my-site.toml" in found.stdout + found.stderr
    assert "Traceback" not in found.stderr


# --- JSON and CSV ---

KEYS = {
    "parts": {"parts"},
    "loads": {
        "lines", "typical_w", "maximum_w", "peak_w", "wh_per_day", "ah_per_day",
        "hidden_w", "contingency_frac",
    },
    "weather": {"years", "typical_year", "monthly", "worst_spells", "findings"},
    "run": {
        "availability_frac", "energy_not_served_wh", "outages", "lowest_soc_frac",
        "lowest_soc_at", "autonomy_design_days", "autonomy_record_days",
        "autonomy_record_start", "ledger", "ledger_error_frac", "monthly", "findings",
    },
    "size": {"pick", "frontier", "binding", "worksheet", "findings"},
}  # fmt: skip
ROWS = {
    ("loads", "lines"): {
        "name", "kind", "quantity", "typical_w", "maximum_w", "duty_frac",
        "wh_per_day", "supply", "status",
    },
    ("weather", "monthly"): {"ghi_kwh_m2_day", "temp_air_degc"},
    ("weather", "worst_spells"): {"days", "mean_kwh_m2_day", "start"},
    ("run", "monthly"): {"array_to_load_ratio", "spill_wh"},
    ("size", "worksheet"): {"line", "symbol", "value", "unit", "formula", "source"},
    ("size", "frontier"): {
        "modules", "array_w", "battery_units", "battery_ah", "cost",
    },
}  # fmt: skip


@pytest.mark.parametrize("verb", KEYS)
def test_json_is_one_object_with_the_agreed_keys(call, verb):
    """The keys are a contract with scripts; NaN is not JSON and never printed."""
    code, out, _ = call(verb, "--json")
    answer = only_json(out)
    assert code == 0
    assert KEYS[verb] <= set(answer)
    for (owner, key), names in ROWS.items():
        if owner == verb:
            assert answer[key]
            assert all(names <= set(row) for row in answer[key])
    if verb == "size":
        assert ROWS["size", "frontier"] <= set(answer["pick"])


def test_outages_in_json_have_start_hours_and_cause(call, site):
    """A site with one panel goes dark; each outage is told in full."""
    code, out, _ = call("run", site(("parallel = 10", "parallel = 1")), "--json")
    answer = only_json(out)
    assert code == 1
    assert answer["outages"]
    assert all({"start", "hours", "cause"} <= set(row) for row in answer["outages"])
    assert answer["energy_not_served_wh"] > 0


@pytest.mark.parametrize("verb", KEYS)
def test_csv_is_rows_under_one_head(call, verb):
    """Every row has the columns of the head."""
    code, out, _ = call(verb, "--csv")
    rows = list(csv.reader(io.StringIO(out)))
    assert code == 0
    assert len(rows) > 2
    assert {len(row) for row in rows} == {len(rows[0])}


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "＝"])
def test_a_name_cannot_become_a_spreadsheet_formula(call, site, sign):
    """A load called like a formula is written as text; numbers stay numbers."""
    path = site(('name = "radio"', f'name = "{sign}1+1"'))
    _, out, _ = call("loads", path, "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert f"'{sign}1+1" in [row["name"] for row in rows]
    assert all(row[key][:1] != sign for row in rows for key in row if row[key])
    assert all(math.isfinite(float(row["typical_w"])) for row in rows)


def test_plain_turns_arrays_dates_and_nan_into_json():
    """Whatever a result holds, its plain form is JSON."""
    import numpy as np

    value = {
        1: np.array([[1.0, np.nan], [np.inf, 2.0]]), "flag": np.bool_(True),
        "when": np.datetime64("2014-01-05T16"), "path": Path("a"), "none": None,
        "pair": (np.int64(3), np.float64("nan")),
    }  # fmt: skip
    found = json.loads(json.dumps(common.plain(value), allow_nan=False))
    assert found["1"] == [[1.0, None], [None, 2.0]]
    assert found["flag"] is True
    assert found["when"].startswith("2014-01-05")
    assert (found["path"], found["none"], found["pair"]) == ("a", None, [3, None])


# --- files ---


@pytest.mark.parametrize("verb", ["run", "size"])
@pytest.mark.parametrize("name", ["plot.bmp", "plot", "absent/plot.png", "taken.png"])
def test_a_plot_that_cannot_be_written_stops_before_the_work(
    call, monkeypatch, tmp_path, verb, name
):
    """Wrong ending, missing folder, a folder in the way: code 2, nothing else."""
    (tmp_path / "taken.png").mkdir()
    before = sorted(tmp_path.rglob("*"))

    def started(*_):
        raise AssertionError("the computation started")

    monkeypatch.setattr(f"powerbudget.cli.{verb}.load_design", started)
    code, out, err = call(verb, "--plot", tmp_path / name)
    assert (code, out) == (2, "")
    assert str(tmp_path / name) in err
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_read_only_folder_is_refused(tmp_path):
    """A folder that may not be written to is found before the work."""
    tmp_path.chmod(0o500)
    with pytest.raises(files.InputError, match="read-only"):
        files.check_target(tmp_path / "a.png", files.PICTURES)


def test_a_plot_that_fails_half_way_leaves_no_file(call, monkeypatch, tmp_path):
    """A full disk while drawing: the old file stays, no part of a new one."""
    target = tmp_path / "plot.png"
    target.write_bytes(b"old")

    def full(self, path, **_):
        Path(path).write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("matplotlib.figure.Figure.savefig", full)
    code, out, err = call("run", "--plot", target)
    assert (code, out) == (2, "")
    assert "no space left" in err
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


@pytest.mark.parametrize("ending", sorted(files.PICTURES))
def test_each_ending_that_is_promised_is_drawn(monkeypatch, tmp_path, ending):
    """The list that is checked beforehand is the list that can be drawn."""
    from powerbudget.report.charts import style

    target = tmp_path / f"plot{ending}"
    style.save(style.new_figure(2.0, 1.0), target)
    assert target.stat().st_size > 100


def test_new_writes_a_site_that_is_read_and_never_overwrites(call, tmp_path):
    """The written file is whole and usable; a second call leaves it alone."""
    path = tmp_path / "my.toml"
    assert call("new", path)[0] == 0
    assert read_site(path).tables.bus.nominal_v == 12.0
    path.write_text("mine", encoding="utf-8")
    code, out, err = call("new", path)
    assert (code, out) == (2, "")
    assert "--force" in err
    assert path.read_text(encoding="utf-8") == "mine"
    assert call("new", path, "--force")[0] == 0
    assert path.read_text(encoding="utf-8") == starter_text()
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("name", ["absent/my.toml", "."])
def test_new_into_nowhere_is_refused(call, tmp_path, name):
    """A missing folder, and a folder in place of a file, end with 2."""
    for options in ([], ["--force"]):
        code, out, _ = call("new", tmp_path / name, *options)
        assert (code, out) == (2, "")
    assert list(tmp_path.iterdir()) == []


def test_new_schema_writes_the_schema(call, tmp_path, monkeypatch):
    """Without a name it lands where the starter's first line looks for it."""
    monkeypatch.chdir(tmp_path)
    assert call("new", "--schema")[0] == 0
    (path,) = tmp_path.iterdir()
    assert starter_text().splitlines()[0] == f"#:schema ./{path.name}"
    assert json.loads(path.read_text(encoding="utf-8"))["type"] == "object"


def test_a_written_file_is_as_readable_as_any_other(tmp_path):
    """The temporary file's private mode does not stay."""
    (tmp_path / "plain").write_text("x", encoding="utf-8")
    files.write_text(tmp_path / "ours", "x")
    modes = [(tmp_path / name).stat().st_mode for name in ("plain", "ours")]
    assert modes[0] == modes[1]


# --- processes ---


def test_a_terminal_without_the_letters_still_gets_its_answer(site):
    """Under an ASCII locale letters may be lost, in JSON they are not."""
    path = site(('name = "radio"', 'name = "Übertragung µ"'))
    env = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    page = process("loads", path, env=env)
    assert page.returncode == 0, page.stderr
    assert "bertragung" in page.stdout
    answer = process("loads", path, "--json", env=env)
    names = [line["name"] for line in only_json(answer.stdout)["lines"]]
    assert "Übertragung µ" in names


@pytest.mark.skipif(os.name == "nt", reason="pipes close differently")
def test_a_reader_that_goes_away_is_no_error():
    """`powerbudget parts --json | head -1` ends quietly."""
    running = subprocess.Popen(
        [sys.executable, "-m", "powerbudget", "parts", "--json"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert running.stdout is not None
    assert running.stderr is not None
    running.stdout.close()
    said = running.stderr.read().decode()
    running.stderr.close()
    running.wait(timeout=30)
    assert said == ""
    assert running.returncode in {0, 1}


@pytest.mark.skipif(os.name == "nt", reason="signals differ")
def test_an_interrupted_run_is_not_a_failed_site(site):
    """Ctrl-C ends with 130: code 1 would say that the criteria are not met."""
    code = (
        "import os, signal, sys; sys.argv = ['powerbudget', 'loads']\n"
        "from powerbudget import cli\n"
        "import powerbudget.loads.budget as budget\n"
        "budget.load_budget = lambda *_: os.kill(os.getpid(), signal.SIGINT)\n"
        "cli.main()"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert found.returncode == 130
    assert "Traceback" not in found.stderr


def test_remarks_and_faults_stay_off_standard_output(call):
    """A script that reads standard output gets the answer, or its faults as JSON."""
    code, out, said = call("loads", "--json")
    assert code == 0
    assert only_json(out)
    assert "built-in example" in said
    code, out, said = call("loads", "absent.toml", "--json")
    assert code == 2
    assert [fault["file"] for fault in only_json(out)["faults"]] == ["absent.toml"]
    assert "absent.toml" in said
    assert call("loads", "absent.toml")[1] == ""


# --- text ---


def test_a_table_of_nothing_still_has_its_head():
    """No rows is no failure."""
    assert table("None", ["load", "W"], []).splitlines()[1] == "load  W"


def test_no_share_below_one_is_printed_as_all():
    """99.9999 % available is not 100 %."""
    for share in (0.9999, 0.999999, 1 - 1e-9, math.nextafter(1.0, 0.0)):
        assert not text.percent(share).startswith("100")
    assert text.percent(1.0) == "100.0 %"


@pytest.mark.slow
def test_every_page_with_margins_says_once_what_they_are_of(call, page_of, tmp_path):
    """Run, checks, claims, what no size meets, and the package."""
    demo = SITES / "coastal-meter-run.toml"
    hard = tmp_path / "hard.toml"
    few = starter_text().replace("max_array_strings = 24", "max_array_strings = 2")
    hard.write_text(few, encoding="utf-8")
    verbs = (
        ("run", demo),
        ("check", demo),
        ("review", demo, SITES / "claims" / demo.name),
        ("size", hard),
    )
    pages = [call(*words)[1] for words in verbs] + [page_of("starter")]
    for page in pages:
        assert page.count("margin: % of the limit") == 1
