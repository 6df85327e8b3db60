"""A folder of sites as a page for the terminal and as one table on disk."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

from powerbudget.errors import missing_extra
from powerbudget.files import atomic_path
from powerbudget.quantities import count
from powerbudget.report.document.words import percent
from powerbudget.report.render.terminal import table

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from powerbudget.fleet.row import FleetRow

TABLES = frozenset({".parquet"})


def fleet_page(rows: Sequence[FleetRow], *, sizes: bool) -> str:
    """Return the sites as text, those that fail first [text].

    Parameters
    ----------
    rows
        Sites of a folder.
    sizes
        Whether the picks were asked for.

    Returns
    -------
    str
        A summary line, a table, and what could not be used.
    """
    usable = [row for row in rows if not row.fault]
    broken = [row for row in rows if row.fault]
    met = sum(bool(row.met) for row in usable)
    heads = [
        "site file", "result", "Wh/day", "array W", "battery Ah", "availability",
        "minimum SOC", "autonomy d", "remaining autonomy d",
    ]  # fmt: skip
    if sizes:
        heads += ["size W", "size Ah"]
    order = sorted(usable, key=lambda row: (bool(row.met), row.availability_frac or 0))
    title = f"{count(len(rows), 'site')}: {met} PASS, {len(usable) - met} FAIL"
    if broken:
        title += f", {len(broken)} with input errors"
    page = table(title, heads, [_cells(row, sizes=sizes) for row in order])
    failing = [f"  {row.file}: {row.failed}" for row in order if not row.met]
    if failing:
        page += "\n" + "\n".join(["Criteria that fail", *failing]) + "\n"
    if broken:
        faults = [f"  {row.file}: {row.fault}" for row in broken]
        page += "\n" + "\n".join(["Input errors", *faults]) + "\n"
    return page


def _cells(row: FleetRow, *, sizes: bool) -> list[str]:
    cells = [
        row.file,
        "PASS" if row.met else "FAIL",
        f"{row.wh_per_day:,.0f}",
        f"{row.array_w:,.0f}",
        f"{row.battery_ah:,.0f}",
        percent(row.availability_frac or 0.0, 2),
        percent(row.lowest_soc_frac or 0.0, 0),
        f"{row.autonomy_design_days:.1f}",
        f"{row.autonomy_record_days:.1f}",
    ]
    if sizes:
        cells += [_number(row.pick_array_w), _number(row.pick_battery_ah)]
    return cells


def _number(value: float | None) -> str:
    return "none" if value is None else f"{value:,.0f}"


def write_fleet(rows: Sequence[FleetRow], path: Path) -> None:
    """Write the rows as one Parquet table, whole or not at all.

    Parameters
    ----------
    rows
        Sites of a folder.
    path
        Target, ending in ``.parquet`` [path].

    Raises
    ------
    InputError
        When the target cannot be written, or the library for it is not installed.
    """
    import pandas as pd

    frame = pd.DataFrame([dataclasses.asdict(row) for row in rows])
    for column in ("met", "typical_year"):
        frame[column] = frame[column].astype("boolean")
    try:
        with atomic_path(path, TABLES) as temporary:
            frame.to_parquet(temporary, index=False)
    except ImportError:
        raise missing_extra(str(path), "pyarrow", "fleet") from None
