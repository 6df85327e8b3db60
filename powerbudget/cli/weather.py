"""`powerbudget weather`: the sky of the site, and whether to trust the record."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.answer import drawn, flat
from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    SiteArgument,
    check_form,
    load_design,
    naming,
    option,
    plot_option,
    print_csv,
    print_json,
)  # fmt: skip

if TYPE_CHECKING:
    from powerbudget.report.document.sky import Sky
    from powerbudget.site.reader import Design
    from powerbudget.weather import WeatherRecord

BIGGEST_ROWS = 1_000_000


def command(
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option("Draw monthly irradiation, minimum GHI, and return periods into this file"),
    ] = None,
    against: Annotated[
        str | None,
        option("--against", "Compare with a measured weather file, or a pattern of files.", "FILE"),
    ] = None,
    fetch: Annotated[
        bool,
        option("--fetch", "Fetch from the online service of [weather] and keep the answer; "
"otherwise the network is never used."),
    ] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:  # fmt: skip
    """Print monthly irradiation, temperature, and data quality.

    GHI in kWh/m²/day, temperature in °C, n-day minimum GHI with return periods, deficit
    periods of the array, and data quality control.
    """
    from powerbudget.files import PICTURES, check_target
    from powerbudget.report.charts.sky import sky_chart
    from powerbudget.report.document.sky import Sky
    from powerbudget.weather import read_weather

    check_form(as_json, as_csv)
    if plot:
        check_target(plot, PICTURES)
    design = load_design(site)
    tables = design.tables
    with naming(site):
        record = read_weather(
            tables.weather, base=design.folder, site=tables.site,
            progress=_progress if sys.stderr.isatty() else None, fetch=fetch,
        )  # fmt: skip
        sky = Sky(record, _dark_runs(design, record), _other(against))
    drawn(plot, lambda file: sky_chart(sky.record, tables.site.name, file, sky.against))
    if as_json:
        from powerbudget.report import answers

        more = {"against": sky.comparison()} if sky.against else {}
        print_json({**answers.answer(answers.WEATHER, sky), **more})
    elif as_csv:
        print_csv([flat(row) for row in sky.months])
    else:
        _print(sky)


def _print(sky: Sky) -> None:
    from powerbudget.report.render.terminal import findings_text, section_text
    from powerbudget.report.sections.sky import weather_section
    from powerbudget.report.sections.sources import Sources

    page = section_text(weather_section(sky, Sources("site file")))
    typer.echo(page + "\n" + findings_text(sky.findings), nl=False)


def _other(pattern: str | None) -> WeatherRecord | None:
    if pattern is None:
        return None
    from powerbudget.weather.files import read_files, record_paths

    return read_files(record_paths(Path(), pattern))


def _dark_runs(design: Design, record: WeatherRecord) -> Any:
    if record.n > BIGGEST_ROWS:
        return ()
    from powerbudget.balance.problem import prepare
    from powerbudget.sizing.deficit_periods import dark_runs

    return dark_runs(prepare(design, record))


def _progress(done: int, total: int) -> None:
    end = "\n" if done == total else ""
    sys.stderr.write(f"\rweather: {done} of {total}{end}")
    sys.stderr.flush()
