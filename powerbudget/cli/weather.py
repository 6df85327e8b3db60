"""`powerbudget weather`: the sky of the site, and whether to trust the record."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import typer

from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    SiteArgument,
    check_form,
    load_design,
    naming,
    plain,
    print_csv,
    print_json,
)

if TYPE_CHECKING:
    from powerbudget.weather import WeatherRecord


def command(
    site: SiteArgument = None, as_json: JsonOption = False, as_csv: CsvOption = False
) -> None:
    """Print monthly sun and air, dark spells and doubts.

    Sun on the horizontal in kWh/m2 a day, air in degC, the darkest runs of days and
    whatever makes the record doubtful.
    """
    from powerbudget.weather import monthly_means, read_weather, worst_spells

    check_form(as_json, as_csv)
    design = load_design(site)
    tables = design.tables
    with naming(site):
        record = read_weather(tables.weather, base=design.folder, site=tables.site)
    months, spells = monthly_means(record), worst_spells(record)
    if as_json:
        print_json(
            {
                "source": record.source,
                "label": record.label,
                "step_h": record.step_h,
                "years": record.years,
                "typical_year": record.typical_year,
                "monthly": [plain(row) for row in months],
                "worst_spells": [plain(spell) for spell in spells],
                "findings": [plain(finding) for finding in record.findings],
            }
        )
    elif as_csv:
        print_csv([dataclasses.asdict(row) for row in months])
    else:
        typer.echo(_page(record, months, spells), nl=False)


def _page(record: WeatherRecord, months: Any, spells: Any) -> str:
    from powerbudget.report.text import facts, table, wrapped
    from powerbudget.site.fields import MONTHS

    kind = "typical year" if record.typical_year else "real years"
    head = facts(
        record.source,
        [
            ("place", f"{record.latitude_deg:g} deg, {record.longitude_deg:g} deg, "
             f"{record.elevation_m:g} m, UTC{record.utc_offset_h:+g}"),
            ("length", f"{record.years:.3g} year(s), {kind}, every {60 * record.step_h:g} min"),
            ("labels", record.label),
        ],
    )  # fmt: skip
    rows = [
        [MONTHS[m.month - 1], f"{m.ghi_kwh_m2_day:.2f}", f"{m.temp_air_degc:.1f}",
         f"{m.temp_min_degc:.1f}"]
        for m in months
    ]  # fmt: skip
    heads = ["month", "sun kWh/m2/day", "mean degC", "lowest degC"]
    dark = [[str(s.days), f"{s.mean_kwh_m2_day:.2f}", str(s.start)] for s in spells]
    return "\n".join(
        [
            head,
            table("Horizontal sun and air temperature", heads, rows),
            table("Darkest spells", ["days", "mean kWh/m2/day", "from"], dark, left=0),
            wrapped(record.findings),
        ]
    )
