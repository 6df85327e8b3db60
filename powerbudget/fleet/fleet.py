"""Many sites at once: one row a site, over local cores or an existing scheduler.

A site is independent of the next.  What cannot be read or computed becomes a row with
its fault, so that one bad file does not cost the others their answer.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from powerbudget.errors import Fault, InputError, PowerBudgetError, missing_extra
from powerbudget.files import in_letters
from powerbudget.fleet.kept import keep, kept_rows, mark_of
from powerbudget.fleet.row import FleetRow

if TYPE_CHECKING:
    from powerbudget.balance.problem import Problem
    from powerbudget.site.reader import Design

Progress = Callable[[int, int], None]


def fleet(
    folder: str | Path,
    *,
    sizes: bool = False,
    workers: int | None = None,
    scheduler: str = "",
    progress: Progress | None = None,
    kept: Path | None = None,
) -> tuple[FleetRow, ...]:
    """Simulate every site file of a folder, and size it where asked.

    Parameters
    ----------
    folder
        Folder with site files, searched below as well; TOML files without a ``[site]``
        table are passed over [path].
    sizes
        Also look for the panel and battery that each site needs.
    workers
        Processes on this machine; as many as there are cores when None [count].
    scheduler
        Address of a running Dask scheduler, such as ``tcp://10.0.0.5:8786``; its workers
        must see the folder under the same path [text].
    progress
        Called with sites done and sites in all [count].
    kept
        File that takes each row as it is done; rows in it of the same site file, version
        and ``sizes`` are not computed again [path].

    Returns
    -------
    tuple of FleetRow
        One a site, in the order of file names.

    Raises
    ------
    InputError
        When the folder holds no site file, ``workers`` is below one, or the scheduler
        cannot be reached.
    """
    base = Path(folder)
    paths = site_files(base)
    jobs = [
        (str(path), in_letters(path.relative_to(base).as_posix()), sizes)
        for path in paths
    ]
    if workers is not None and workers < 1:
        given, allowed = str(workers), "a whole number of at least 1"
        raise InputError(Fault("workers", "is out of range", given, allowed))
    marks = {name: mark_of(path, sizes) for path, name, _ in jobs} if kept else {}
    before = kept_rows(kept) if kept else {}
    rows = [before[one] for one in marks.items() if one in before]
    had = {row.file for row in rows}
    left = [job for job in jobs if job[1] not in had]
    done = _on_cluster(left, scheduler) if scheduler else _on_cores(left, workers)
    for row in done:
        rows.append(row)
        if kept:
            keep(kept, marks[row.file], row)
        if progress:
            progress(len(rows), len(jobs))
    return tuple(sorted(rows, key=lambda row: row.file))


def site_files(folder: Path) -> list[Path]:
    """Return the site files below a folder, in the order of their names [path].

    Parameters
    ----------
    folder
        Where to look [path].

    Returns
    -------
    list of Path
        TOML files with a ``[site]`` table, and those that are not TOML at all, so that
        a broken site file is not passed over in silence.

    Raises
    ------
    InputError
        When the folder does not exist or holds none.
    """
    if not folder.is_dir():
        problem = "is not a folder" if folder.exists() else "does not exist"
        raise InputError(Fault(str(folder), problem, advice="name a folder of sites"))
    found = [path for path in sorted(folder.rglob("*.toml")) if _may_be_site(path)]
    if not found:
        problem = "holds no site file"
        allowed = "files ending in .toml with a [site] table"
        raise InputError(Fault(str(folder), problem, allowed=allowed))
    return found


def _may_be_site(path: Path) -> bool:
    from powerbudget.site.reader import read_tables

    try:
        return "site" in read_tables(path)
    except InputError:
        return True


def fleet_row(path: str, name: str, sizes: bool) -> FleetRow:
    """Return one site's row; a fault in it never leaves the function.

    Parameters
    ----------
    path
        Site file [path].
    name
        What the row calls it [text].
    sizes
        Whether panel and battery are looked for as well.

    Returns
    -------
    FleetRow
        Figures, or the fault.
    """
    from powerbudget.site.reader import read_site

    try:
        return _computed(read_site(path), name, sizes=sizes)
    except PowerBudgetError as exc:
        return FleetRow(name, fault=str(exc).replace("\n", " | "))
    except Exception as exc:  # noqa: BLE001 - thousands of sites must not fall with one
        return FleetRow(name, fault=f"program error: {type(exc).__name__}: {exc}")


def _computed(design: Design, name: str, *, sizes: bool) -> FleetRow:
    from powerbudget.balance.simulation import simulate
    from powerbudget.sizing.autonomy import autonomy
    from powerbudget.sizing.criteria import judge

    run = simulate(design)
    days = autonomy(run)
    verdicts = judge(run, days.design_days)
    place = design.tables.site
    return FleetRow(
        file=name,
        name=place.name,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        wh_per_day=run.problem.budget.wh_per_day,
        array_w=_array_w(run),
        battery_ah=run.bank.nameplate_ah,
        availability_frac=run.availability_frac,
        lowest_soc_frac=run.lowest_soc_frac,
        lowest_soc_at=run.lowest_soc_at,
        autonomy_design_days=days.design_days,
        autonomy_record_days=days.record_days,
        met=all(verdict.met for verdict in verdicts),
        failed=", ".join(verdict.name for verdict in verdicts if not verdict.met),
        typical_year=run.problem.record.typical_year,
        **(_picked(run.problem) if sizes else {}),
    )


def _array_w(run: Any) -> float:
    array = run.problem.design.tables.array
    return float(run.problem.array.module.power_w * array.series * run.strings)


def _picked(problem: Problem) -> dict[str, Any]:
    from powerbudget.sizing.search import picked

    pick = picked(problem)
    if pick is None:
        return {}
    return {
        "pick_array_w": pick.array_w,
        "pick_battery_ah": pick.battery_ah,
        "pick_cost": pick.cost,
    }


def _on_cores(
    jobs: Sequence[tuple[str, str, bool]], workers: int | None
) -> Iterator[FleetRow]:
    count = min(len(jobs), workers or os.cpu_count() or 1)
    if count == 1 and workers:
        for job in jobs:
            yield fleet_row(*job)
        return
    from powerbudget.fleet.crew import TRIES, Crew

    for (_, name, _), row in Crew(jobs, count).answers():
        lost = f"ended its process {TRIES} times; the memory may have been too small"
        yield FleetRow(**row) if row else FleetRow(name, fault=lost)


def _on_cluster(
    jobs: Sequence[tuple[str, str, bool]], address: str
) -> Iterator[FleetRow]:
    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise missing_extra(f"scheduler {address}", "distributed", "fleet") from None
    try:
        client = distributed.Client(address, timeout="10s")
    except (OSError, ValueError, TimeoutError) as exc:
        problem = f"cannot be reached: {exc}"
        allowed = "the address of a running Dask scheduler, tcp://HOST:PORT"
        raise InputError(Fault("scheduler", problem, address, allowed)) from None
    with client:
        futures = [client.submit(fleet_row, *job, pure=False) for job in jobs]
        for future in distributed.as_completed(futures):
            yield future.result()
