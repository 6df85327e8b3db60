"""Whether an installation is sound: versions, caches, optional tools, a known site."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from importlib import import_module
from importlib.metadata import PackageNotFoundError, requires, version
from pathlib import Path
from typing import Literal

from powerbudget.errors import InputError
from powerbudget.files import CACHE_VARIABLE, cache_folder
from powerbudget.quantities import count
from powerbudget.version import __version__

Result = Literal["pass", "warning", "fail"]
CLOSES_FRAC = 1e-9
"""Energy balance residual of a sound simulation [fraction]."""
OPTIONAL = {
    "weasyprint": "report -o FILE.pdf: pip install 'powerbudget[pdf]' (and the Pango "
    "library of the system)",
    "requests": "weather from a service: pip install 'powerbudget[live]'",
    "docx": "report -o FILE.docx: pip install 'powerbudget[docx]'",
    "pyarrow": "fleet --out FILE.parquet: pip install 'powerbudget[fleet]'",
    "distributed": "fleet --scheduler ADDRESS: pip install 'powerbudget[fleet]'",
}
"""What an answer is refused without, and which."""


@dataclass(frozen=True)
class Examined:
    """One thing of an installation.

    Parameters
    ----------
    name, value
        What was looked at, and what was found [text].
    result
        ``pass``, ``warning`` or ``fail`` [text].
    remedy
        What to do, empty where it passes [text].
    """

    name: str
    value: str
    result: Result = "pass"
    remedy: str = ""


def examine() -> tuple[Examined, ...]:
    """Return what was found: versions, caches, optional tools, a site computed.

    Returns
    -------
    tuple of Examined
        One a check.
    """
    python = ".".join(map(str, sys.version_info[:3]))
    return (
        Examined("powerbudget", __version__), Examined("Python", python),
        *_libraries(), *map(_folder, ("kernel", "weather")), *map(_tool, OPTIONAL), _site(),
    )  # fmt: skip


def _libraries() -> Iterator[Examined]:
    """Yield each library that the package requires, with its version."""
    needed: list[str] = []  # run from its sources, the package does not know
    with suppress(PackageNotFoundError):
        needed = requires("powerbudget") or []
    for line in needed:
        if "extra ==" in line:
            continue
        name = line.partition(">")[0].partition("=")[0].strip()
        try:
            yield Examined(name, version(name))
        except PackageNotFoundError:
            yield Examined(name, "missing", "fail", f"pip install '{line}'")


def _folder(kind: str) -> Examined:
    """Return whether something can be kept between two runs."""
    name = f"cache of the {kind}"
    try:
        folder = cache_folder(kind)
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except (InputError, OSError) as exc:
        remedy = f"set {CACHE_VARIABLE} to a writable folder"
        return Examined(name, str(exc).splitlines()[0], "warning", remedy)
    kept = sum(1 for path in Path(folder).rglob("*") if path.is_file())
    return Examined(name, f"{folder}, {count(kept, 'file')}")


def _tool(name: str) -> Examined:
    try:
        import_module(name)
        return Examined(name, version({"docx": "python-docx"}.get(name, name)))
    except (ImportError, OSError):
        return Examined(name, "missing", "warning", f"needed by {OPTIONAL[name]}")


def _site() -> Examined:
    """Return whether the built-in example comes out, its energy balance closed."""
    from powerbudget.balance.simulation import simulate
    from powerbudget.site.starter import starter_design

    run = simulate(starter_design())
    residual = run.ledger.error_frac
    found = (
        f"built-in example: availability {run.availability_frac:.4f}, minimum SOC "
        f"{run.lowest_soc_frac:.3f}, balance residual {residual:.1e}"
    )
    sound = residual < CLOSES_FRAC and run.availability_frac == 1.0
    remedy = "" if sound else "install again; do not use the simulation"
    return Examined("self-test", found, "pass" if sound else "fail", remedy)
