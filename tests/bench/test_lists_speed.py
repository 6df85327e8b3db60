"""A list of 100,000 rows: CPU seconds and memory."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.bench
ROOT = Path(__file__).resolve().parents[2]
PROGRAM = """
import gc, sys, time
gc.disable()  # as the command line does
from pathlib import Path
from powerbudget.lists.importer import read_lists
before = time.process_time()
found = read_lists([Path(sys.argv[1])])
# Of this program alone: what getrusage tells begins with the size of the caller.
told = Path("/proc/self/status").read_text().split("VmHWM:")[1].split()
most = int(told[0]) / 1024
print(sum(found.points().values()) + len(found.loads), time.process_time() - before, most)
"""


@pytest.mark.parametrize("ending", ["xlsx", "csv"])
def test_hundred_thousand_rows(tmp_path, ending):
    """Under 5 s of CPU and 600 MB."""
    import xlsxwriter

    path = tmp_path / f"big.{ending}"
    rows = [
        [
            "Tag",
            "Service",
            "Area",
            "I/O type",
            "Signal",
            "Supply",
            "Load (W)",
            "Remarks",
        ]
    ]
    kinds = [
        ("AI", "4-20 mA HART", "2-wire"),
        ("DI", "dry contact NC", ""),
        ("DO", "solenoid 24 VDC", ""),
        ("AO", "4-20 mA", ""),
    ]
    for k in range(100_000):
        kind, signal, supply = kinds[k % 4]
        rows.append(
            [
                f"{kind}T-{k:06d}",
                f"Service of point {k}",
                f"area {k % 40}",
                kind,
                signal,
                supply,
                4.5 if kind == "DO" else "",
                f"note {k}" if k % 5 == 0 else "",
            ]
        )
    if ending == "xlsx":
        book = xlsxwriter.Workbook(
            str(path), {"constant_memory": True, "strings_to_numbers": False}
        )
        sheet = book.add_worksheet("List")
        for k, row in enumerate(rows):
            sheet.write_row(k, 0, row)
        book.close()
    else:
        path.write_text(
            "\n".join(",".join(map(str, row)) for row in rows), encoding="utf-8"
        )
    points, seconds, megabytes = spent(path)
    print(f"{ending}: {seconds} s, {megabytes} MB")
    assert points == 100_000
    assert seconds < 5.0
    assert megabytes < 600


def spent(path):
    """Return points and loads that a list holds, CPU seconds and megabytes."""
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(path)],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"},
    )
    points, seconds, megabytes = done.stdout.split()
    return int(points), float(seconds), float(megabytes)


def test_hundred_thousand_loads(tmp_path):
    """A schedule of as many rows, each with a name and figures of its own."""
    path = tmp_path / "loads.csv"
    rows = (
        f"Device {k},{k % 3 + 1},{k % 50 + 0.5},{k % 24 + 1},24" for k in range(100_000)
    )
    heads = "Equipment,Qty,Typical W,Hours per day,Volts"
    path.write_text("\n".join((heads, *rows)), encoding="utf-8")
    loads, seconds, megabytes = spent(path)
    print(f"schedule: {seconds} s, {megabytes} MB")
    assert loads == 100_000
    assert seconds < 5.0
    assert megabytes < 600
