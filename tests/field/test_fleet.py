"""A folder of sites: every site answered, one broken file costs nobody else."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest

import powerbudget as pb
from powerbudget.errors import InputError
from powerbudget.fleet.fleet import fleet, fleet_row, site_files

ROOT = Path(__file__).resolve().parents[2]
GOOD = ROOT / "sites" / "hot-valve-site.toml"


@pytest.fixture
def folder(tmp_path):
    """Return a folder with two sites, a broken one, and a file that is no site."""
    (tmp_path / "north").mkdir()
    shutil.copy(GOOD, tmp_path / "north" / "valve.toml")
    text = GOOD.read_text(encoding="utf-8")
    wanting = text.replace("array_to_load_ratio = 1.2", "array_to_load_ratio = 20")
    (tmp_path / "starved.toml").write_text(wanting, encoding="utf-8")
    (tmp_path / "broken.toml").write_text('[site]\nname = "x"\n', encoding="utf-8")
    (tmp_path / "parts.toml").write_text('[[part]]\nname = "y"\n', encoding="utf-8")
    return tmp_path


def test_files_that_are_no_sites_are_passed_over_and_broken_ones_are_not(folder):
    """A parts file is no site; a file with a [site] table or no TOML at all is one."""
    (folder / "garbled.toml").write_text("[site\n", encoding="utf-8")
    names = [path.name for path in site_files(folder)]
    assert names == ["broken.toml", "garbled.toml", "valve.toml", "starved.toml"]


def test_a_broken_site_costs_nobody_else_the_answer(call, folder, tmp_path):
    """Every usable site has its figures, the broken one its fault; exit code 2."""
    table = tmp_path / "all.parquet"
    code, out, err = call("fleet", folder, "--json", "-o", table, "--workers", 1)
    assert code == 2, err
    rows = {row["file"]: row for row in json.loads(out)["sites"]}
    assert rows["north/valve.toml"]["met"] is True
    assert "is missing" in rows["broken.toml"]["fault"]
    assert rows["starved.toml"]["met"] is False
    assert "array-to-load" in rows["starved.toml"]["failed"]
    frame = pd.read_parquet(table)
    assert list(frame["file"]) == sorted(rows)
    assert frame["availability_frac"].notna().sum() == 2


@pytest.mark.slow
def test_a_row_holds_the_same_figures_as_a_run_and_a_search():
    """The fleet computes nothing of its own."""
    row = fleet_row(str(GOOD), "valve", sizes=True)
    design = pb.read_site(GOOD)
    run = pb.simulate(design)
    pick = pb.size(design).pick
    assert row.availability_frac == run.availability_frac
    assert row.lowest_soc_frac == run.lowest_soc_frac
    assert row.wh_per_day == run.problem.budget.wh_per_day
    assert (row.pick_array_w, row.pick_battery_ah) == (pick.array_w, pick.battery_ah)


@pytest.mark.slow
def test_two_processes_give_what_one_gives(folder):
    """Rows do not depend on how the work was shared; progress reaches the end."""
    seen = []
    one = fleet(folder, workers=1)
    two = fleet(
        folder, workers=2, progress=lambda done, total: seen.append((done, total))
    )
    assert one == two
    assert seen == [(1, 3), (2, 3), (3, 3)]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["no-such-folder"], "does not exist"),
        ([GOOD], "is not a folder"),
        ([ROOT / "tests" / "law"], "holds no site file"),
        ([ROOT / "sites", "--workers", "0"], "at least 1"),
        ([ROOT / "sites", "-o", "x.csv"], ".parquet"),
        ([ROOT / "sites", "--json", "--csv"], "cannot be printed together"),
    ],
)
def test_what_cannot_be_used_is_refused(call, words, said):
    """Bad folders, counts and targets end in one plain message and exit code 2."""
    code, _, err = call("fleet", *words)
    assert code == 2
    assert said in err


@pytest.mark.slow
def test_a_dask_scheduler_gives_what_one_process_gives(folder):
    """An address of a running scheduler takes the place of local processes."""
    reason = "pip install 'powerbudget[fleet]'"
    distributed = pytest.importorskip("distributed", reason=reason)
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None
    ) as cluster:
        assert fleet(folder, scheduler=cluster.scheduler_address) == fleet(
            folder, workers=1
        )


@pytest.mark.slow
def test_a_scheduler_that_is_not_there_is_named(folder):
    """An address that nobody answers at is an input fault, said with the address."""
    pytest.importorskip("distributed", reason="pip install 'powerbudget[fleet]'")
    with pytest.raises(InputError, match="cannot be reached"):
        fleet(folder, scheduler="nonsense://nowhere")
