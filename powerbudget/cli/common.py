"""What the verbs share: options, output forms, the embedded example."""

from __future__ import annotations

import contextlib
import csv
import dataclasses
import io
import json
import math
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from powerbudget.site.reader import Design

SiteArgument = Annotated[
    Path | None,
    typer.Argument(
        metavar="SITE.toml", show_default=False,
        help="Site file (`powerbudget new` writes one); without it, the built-in example.",
    ),
]  # fmt: skip
JsonOption = Annotated[
    bool,
    typer.Option(
        "--json",
        help="Print one JSON object in place of the page; key names end in their unit.",
    ),
]
CsvOption = Annotated[
    bool,
    typer.Option("--csv", help="Print the main table as comma-separated rows, safe for "
                 "spreadsheets."),
]  # fmt: skip


def option(names: str, words: str, metavar: str = "", **more: Any) -> Any:
    """Return an option by its names, what the reader gets, and what it takes.

    Parameters
    ----------
    names
        With their hyphens, the first one first.
    words
        Its help.
    metavar
        What stands for its value in the help; none for a switch.
    more
        As typer knows it.
    """
    more = {"metavar": metavar or None, "show_default": False} | more
    return typer.Option(*names.split(), help=words, **more)


def plot_option(words: str, name: str = "--plot") -> Any:
    """Return the option for the file of a picture, with what it draws in its help."""
    return option(name, f"{words} (.png, .svg or .pdf).", "FILE")


def check_form(as_json: bool, as_csv: bool) -> None:
    """Refuse two output forms at once, before anything is computed."""
    if as_json and as_csv:
        from powerbudget.errors import Fault, InputError

        problem = "cannot be printed together with --json"
        raise InputError(Fault("--csv", problem, "both", "one of --json and --csv"))


def load_design(site: Path | None, *, may_be_open: bool = False) -> Design:
    """Return the design in a site file, or the embedded example."""
    if site is not None:
        from powerbudget.site.reader import read_open_site, read_site

        return read_open_site(site) if may_be_open else read_site(site)
    from powerbudget.site.starter import starter_design

    remark(
        "No site file given: built-in example (fictitious). `powerbudget new "
        "my-site.toml` writes it as a file to edit."
    )
    return starter_design()


def remark(text: str) -> None:
    """Write a remark for the user, apart from the answer."""
    sys.stderr.write(text.rstrip() + "\n")


@contextlib.contextmanager
def naming(site: Path | None) -> Iterator[None]:
    """Put the site file's name on faults that are found while computing."""
    from powerbudget.errors import InputError, ModelRangeError

    try:
        yield
    except InputError as exc:
        file = str(site or "")
        faults = [dataclasses.replace(f, file=f.file or file) for f in exc.faults]
        # Whether the input is wrong or its criteria cannot be met stays told apart.
        raise type(exc)(faults) from exc
    except ModelRangeError as exc:
        raise ModelRangeError(f"{site}: {exc}" if site else str(exc)) from exc


def plain(value: Any) -> Any:
    """Return a value as JSON can hold it: no arrays, no NaN."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            field.name: plain(getattr(value, field.name))
            for field in dataclasses.fields(value)
        }
    if hasattr(value, "model_dump"):
        value = value.model_dump()
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if hasattr(value, "tolist"):
        value = value.tolist()
    if isinstance(value, list | tuple):
        return [plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    known = value is None or isinstance(value, str | bool | int | float)
    return value if known else str(value)


def print_json(value: Any) -> None:
    """Write one JSON object to standard output."""
    # Letters outside ASCII are escaped: the object survives any terminal's encoding.
    sys.stdout.write(json.dumps(plain(value), indent=2, allow_nan=False) + "\n")


def print_csv(rows: list[dict[str, Any]]) -> None:
    """Write rows to standard output as CSV, safe to open in a spreadsheet."""
    text = io.StringIO()
    if rows:
        writer = csv.DictWriter(text, fieldnames=list(rows[0]), lineterminator="\n")
        writer.writeheader()
        for row in rows:
            writer.writerow({key: _cell(value) for key, value in row.items()})
    sys.stdout.write(text.getvalue())


def _cell(value: Any) -> Any:
    # A spreadsheet runs text that starts like this as a formula.
    # Wide forms of the signs are read as the signs themselves by some of them.
    if isinstance(value, str) and value[:1] in set("=+-@\t\r\n＝＋－＠"):
        return "'" + value
    return plain(value)
