"""`powerbudget new`: a site file to start from, an example or a client's lists."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.common import JsonOption

if TYPE_CHECKING:
    from powerbudget.lists.site_text import SiteText
    from powerbudget.site.tables import Place


def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    files: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="FILE.toml",
            help="File to write. Default: my-site.toml.",
            show_default=False,
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "-o", "--output", metavar="FILE.toml", help="The same.", show_default=False
        ),
    ] = None,
    example: Annotated[
        str,
        typer.Option(
            "--example",
            metavar="NAME",
            help="A demo site with its lists and claims; `list` names them, `all` "
            "writes every one. FILE is then their folder. Default: sites.",
            show_default=False,
        ),
    ] = "",
    lists: Annotated[
        list[Path] | None,
        typer.Option(
            "--list",
            metavar="BOOK",
            help="A client's I/O list or equipment schedule; once for each.",
            show_default=False,
        ),
    ] = None,
    latitude: Annotated[
        str, typer.Option(help="Latitude, '55.3 N' or 55.3.", show_default=False)
    ] = "",
    longitude: Annotated[
        str, typer.Option(help="Longitude, '160.5 W' or -160.5.", show_default=False)
    ] = "",
    elevation: Annotated[
        str, typer.Option(help="Elevation, '7 m' or '23 ft'.", show_default=False)
    ] = "",
    weather: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Weather file. Without it a near one is used.",
            show_default=False,
        ),
    ] = None,
    fetch: Annotated[
        bool, typer.Option("--fetch", help="Use an online service for the weather.")
    ] = False,
    ghi: Annotated[
        str,
        typer.Option(
            help="Twelve monthly means of global horizontal irradiation, "
            "'1.2 2.3 ... kWh/m**2/d'.",
            show_default=False,
        ),
    ] = "",
    temperature: Annotated[
        str,
        typer.Option(
            help="Twelve monthly means of ambient temperature, '-8 -5 ... degC'.",
            show_default=False,
        ),
    ] = "",
    mapping: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE.toml",
            help="Meanings of the columns of the lists. Default: FILE-lists.toml.",
            show_default=False,
        ),
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Take the proposed meanings without asking.")
    ] = False,
    encoding: Annotated[
        str | None,
        typer.Option(
            help="Encoding of text tables, such as cp1252.", show_default=False
        ),
    ] = None,
    schema: Annotated[
        bool,
        typer.Option(
            "--schema",
            help="Write the JSON Schema from which editors complete keys, in place of a "
            "site file; powerbudget.schema.json when FILE is left out.",
        ),
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a file that exists already.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Write a commented site file to start from.

    It contains a fictitious example that runs unchanged, or, with --list, the loads of
    a client's lists at a location: nearest weather file, bus voltage of the devices,
    usual criteria. Array and battery stay open for `powerbudget size --write`. An
    existing file is kept.
    """
    from powerbudget.errors import Fault, InputError
    from powerbudget.files import check_target

    targets = [*(files or ()), *([out] if out else ())]
    _one_target(targets, lists or [])
    if example:
        _demo(example, targets[0] if targets else Path("sites"), force=force)
        return
    file = Path("powerbudget.schema.json" if schema else "my-site.toml")
    file = targets[0] if targets else file
    check_target(file)
    if file.exists() and not force:
        raise InputError(
            Fault(
                str(file),
                "exists already",
                advice="--force replaces it, or name another",
            )
        )
    place = {"latitude": latitude, "longitude": longitude, "elevation": elevation}
    if not lists:
        _without_lists(place, schema=schema)
        _example(file, schema=schema)
        return
    from powerbudget.lists.mapping import mapping_path
    from powerbudget.sizing.new_site import WeatherRequest

    asked = WeatherRequest(weather, ghi, temperature, fetch)
    usual = mapping_path(file)
    how = ((mapping or usual, usual), encoding)
    _from_lists(file, lists, place, asked, how, yes=yes, as_json=as_json)


def _one_target(targets: list[Path], lists: list[Path]) -> None:
    """Refuse several files to write, and lists in their place."""
    from powerbudget.errors import Fault, InputError
    from powerbudget.lists.cells import WORKBOOKS
    from powerbudget.lists.textfile import TEXTS

    books = [p for p in targets if p.suffix.lower() in {*WORKBOOKS, *TEXTS}]
    if books:
        named = " ".join(f"--list {path}" for path in (*lists, *books))
        advice = f"--list once for each book: {named} -o site.toml"
        raise InputError(Fault(str(books[0]), "is a list, no site file", advice=advice))
    if len(targets) > 1:
        names = ", ".join(map(str, targets))
        raise InputError(Fault("FILE", "one file is written", names, advice="give one"))


def _demo(name: str, folder: Path, *, force: bool) -> None:
    """Write the files of a demo site into a folder, or none of them."""
    from powerbudget.cli.common import remark
    from powerbudget.errors import Fault, InputError
    from powerbudget.files import write_text
    from powerbudget.site.demos import demo_files, demo_names

    if name == "list":
        typer.echo("\n".join(demo_names()))
        return
    found = {folder / place: text for place, text in demo_files(name).items()}
    there = [path for path in found if path.exists() and not force]
    if there:
        advice = "--force replaces it, or name another folder"
        raise InputError(
            [Fault(str(p), "exists already", advice=advice) for p in there]
        )
    for path, text in found.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        write_text(path, text)
        remark(f"Wrote {path}.")


def _without_lists(place: dict[str, str], *, schema: bool) -> None:
    from powerbudget.errors import Fault, InputError

    given = [f"--{name}" for name, text in place.items() if text]
    if given:
        advice = "--list BOOK gives the loads" if not schema else ""
        raise InputError(Fault(", ".join(given), "needs --list", advice=advice))


def _example(file: Path, *, schema: bool) -> None:
    from powerbudget.cli.common import remark
    from powerbudget.files import write_text
    from powerbudget.site import starter

    write_text(file, starter.schema_text() if schema else starter.starter_text())
    remark(f"Wrote {file}.")
    if not schema:
        remark(f"Next: edit it, then `powerbudget loads {file}`.")


def _from_lists(
    file: Path,
    lists: list[Path],
    place: dict[str, str],
    asked: Any,
    how: tuple[tuple[Path, Path], str | None],
    *,
    yes: bool,
    as_json: bool,
) -> None:
    """Write a whole site from lists and a location, array and battery left open."""
    from powerbudget.cli.common import print_json, remark
    from powerbudget.cli.import_lists import read, result, show, write_tables
    from powerbudget.site.reader import read_site_text
    from powerbudget.sizing.new_site import find_weather, whole_site

    there = _place(place)
    sky = find_weather(there, file.parent, asked)
    found, before, changed = read(lists, how[0], how[1])
    if not as_json:
        show(found, changed, ask=not yes)
        typer.echo(f"Weather: {sky.words}")
    written = {key: text for key, text in place.items() if text}

    def whole(text: SiteText) -> str:
        name = f"Site of {', '.join(path.stem for path in lists)}"[:80]
        made = whole_site(
            name, written, sky, text.text, text.bus_v, found.contingency_frac
        )
        read_site_text(made, file, may_be_open=True)
        return made

    text = write_tables(found, file, how[0][0], before, whole)
    if as_json:
        print_json({**result(found, changed, text), "weather": sky.words})
    remark(f"Next: `powerbudget size {file} --write`.")


def _place(place: dict[str, str]) -> Place:
    """Return the location, or refuse it with every fault."""
    from pydantic import ValidationError

    from powerbudget.errors import InputError
    from powerbudget.site.faults import model_faults
    from powerbudget.site.tables import Place

    keys = {key: text for key, text in place.items() if text}
    try:
        return Place.model_validate({"name": "new site", **keys})
    except ValidationError as exc:
        raise InputError(list(model_faults(exc, "site", Place))) from None
