"""The sky as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from powerbudget.quantities import count, in_unit
from powerbudget.report.document.blocks import (
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Picture,
    Row,
    Section,
    Table,
    figure,
    fixed,
    rows_of,
    share,
    whole,
    word,
)
from powerbudget.report.document.words import begins, coordinates, moment
from powerbudget.report.sections.pictures import picture
from powerbudget.site.fields import MONTHS
from powerbudget.weather.extremes import MOST_RECORDS

SHOWN = (-2, -1)
"""Of the return periods that the record allows, the two longest."""

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.report.document.sky import Sky
    from powerbudget.report.sections.sources import Sources
    from powerbudget.weather import WeatherRecord
    from powerbudget.weather.extremes import SpellFit
    from powerbudget.weather.record import DesignTemps


def record_words(record: WeatherRecord) -> str:
    """Return what kind of record it is, in words [text]."""
    if record.typical_year:
        return "one typical year, which contains no extreme winter"
    return count(record.years, "synthetic year" if record.synthetic else "actual year")


def sky_section(package: Package, sources: Sources) -> Section:
    """Return months, dark spells and runs below the load."""
    return weather_section(package.sky, sources, panels=package.run.strings > 0)


def weather_section(sky: Sky, sources: Sources, *, panels: bool = True) -> Section:
    """Return what a weather file says of sun and air.

    Parameters
    ----------
    sky
        The weather and what follows from it.
    sources
        Collected on the way.
    panels
        Whether the site has any: without them only the air matters.
    """
    record = sky.record
    source = sources.cell(record.source, "")
    verdict = {
        "sound": "QC passed (clock, ceiling, closure, night, stuck values, gaps).",
        "doubtful": "QC warning: see the findings.",
        "made": "Synthetic years follow from monthly means; they are not measured.",
    }.get(record.verdict, "")
    lead = (
        f"{record.source} ({source.text}): {record_words(record)}, every "
        f"{60 * record.step_h:g} min. {verdict}"
    )
    if not panels:
        lead += " The site has no array: only the temperature applies."
        return Section(
            "sky",
            "Solar resource and weather",
            "Solar resource",
            lead,
            (_months(sky, sources),),
        )
    blocks: list[Block] = [
        _record_facts(record), _picture(sky), _months(sky, sources), _spells(sky)
    ]  # fmt: skip
    blocks += [_runs(sky)] if sky.dark_runs else []
    blocks += _beside(sky)
    return Section(
        "sky",
        "Solar resource and deficit periods",
        "Solar resource",
        lead,
        tuple(blocks),
    )


def _record_facts(record: WeatherRecord) -> Facts:
    place = coordinates(record.latitude_deg, record.longitude_deg, record.elevation_m)
    rows = [
        Fact("location", f"{place}; UTC{record.utc_offset_h:+g}"),
        Fact("labels", record.label),
        Fact("lowest temperature", f"{in_unit(record.temp_air_degc.min(), '°C', 1)} "
             "in the weather file; "
f"{_design_words(record.design)}"),
    ]  # fmt: skip
    return Facts(tuple(rows))


def _design_words(design: DesignTemps | None) -> str:
    if design is None:
        return "no design temperatures given"
    known = (
        (design.annual_minimum_degc, "extreme annual mean minimum"),
        (design.minimum_50_years_degc, "50-year return period"),
        (design.heating_99_6_degc, "99.6 % heating"),
    )
    words = [f"{value:.1f} {text}" for value, text in known if np.isfinite(value)]
    return f"design: {', '.join(words)}"


def _beside(sky: Sky) -> list[Block]:
    """Return the measured record beside this one, nothing without any."""
    if sky.against is None:
        return []
    found = sky.comparison()
    months = [
        (word(MONTHS[row["month"] - 1]), *[_ratio(row[k]) for k in
         ("lag_one", "measured_lag_one", "spread_kwh_m2_day",
          "measured_spread_kwh_m2_day", "year_to_year_frac",
          "measured_year_to_year_frac")])
        for row in found["persistence"]
    ]  # fmt: skip
    heads = (
        "day-to-day persistence",
        "standard deviation of daily GHI, kWh/m²/day",
        "interannual variability",
    )
    columns = (Column("month"), *[Column(name, "", True) for head in heads
                                  for name in (head, "measured")])  # fmt: skip
    days = [(whole(row["days"]), *[fixed(v, 2) for k, v in row.items() if k != "days"])
            for row in found["spells"]]  # fmt: skip
    spans = (Column("days", "", True), Column("median year", "", True),
             Column("measured", "", True), Column("10-year return period", "", True),
             Column("measured", "", True))  # fmt: skip
    return [
        Table("beside-months", f"Measured weather file for comparison: {found['source']}", columns,
              rows_of(months)),
        Table("beside-spells", "n-day minimum GHI of a year, kWh/m²/day", spans, rows_of(days)),
    ]  # fmt: skip


def _ratio(value: float) -> Cell:
    return fixed(value, 2) if np.isfinite(value) else word("-")


def _picture(sky: Sky) -> Picture:
    from powerbudget.report.charts.sky import sky_figure

    worst = min(sky.months, key=lambda m: m.ghi_kwh_m2_day)
    best = max(sky.months, key=lambda m: m.ghi_kwh_m2_day)
    spell = max(sky.spells, key=lambda s: s.days)
    alt = (
        f"GHI by month, from {in_unit(worst.ghi_kwh_m2_day, 'kWh/m²/day', 2)} in "
        f"{MONTHS[worst.month - 1]} to {best.ghi_kwh_m2_day:.2f} in "
        f"{MONTHS[best.month - 1]}; n-day minimum GHI, {spell.days} d: "
        f"{in_unit(spell.mean_kwh_m2_day, 'kWh/m²/day', 2)}; return periods; and the days "
        "around the 10-day minimum. The tables below have the figures."
    )
    return picture(lambda: sky_figure(sky.record, ""), "p-sky", alt)


def _months(sky: Sky, sources: Sources) -> Table:
    by_month = {row.month: row for row in sky.persistence}
    rows = []
    for m in sky.months:
        p = by_month.get(m.month)
        spread = p.year_to_year_frac if p else float("nan")
        lag = p.lag_one if p else float("nan")
        rows.append(
            Row((word(MONTHS[m.month - 1]), figure(m.ghi_kwh_m2_day),
                 share(spread) if np.isfinite(spread) else word("-"),
                 fixed(lag, 2) if np.isfinite(lag) else word("-"),
                 fixed(m.temp_air_degc, 1), fixed(m.temp_min_degc, 1)),
                anchor=f"sky-{m.month}")
        )  # fmt: skip
    columns = (
        Column("month"),
        Column("GHI", "kWh/m2/day", True),
        Column("interannual variability", "%", True),
        Column("day-to-day persistence", "correlation", True),
        Column("average temperature", "degC", True),
        Column("lowest temperature", "degC", True),
    )
    number = sources.number(sky.record.source)
    return Table("months", "Irradiation and temperature by month", columns, tuple(rows),
                 note=f"Source S{number}.")  # fmt: skip


def _spells(sky: Sky) -> Table:
    by_days = {fit.days: fit for fit in sky.fits}
    columns = [Column("length", "days", True), Column("minimum GHI", "kWh/m2/day", True),
               Column("from")]  # fmt: skip
    if sky.fits:
        columns += [Column(f"{sky.fits[0].return_years[k]}-year return period",
                           "kWh/m2/day", True) for k in SHOWN]  # fmt: skip
        columns += [Column("return period of the minimum", "yr", True)]
    rows = []
    for s in sky.spells:
        cells = [
            whole(s.days),
            figure(s.mean_kwh_m2_day),
            _date(sky, s.start, s.across_end),
        ]
        if by_days:
            cells += _fit_cells(by_days.get(s.days))
        rows.append(cells)
    note = "A typical year or a few years show no interannual variability."
    if sky.fits:
        note = ("In brackets: 80 % confidence interval. Generalized extreme-value fit "
f"(L-moments) to {count(sky.fits[0].years, 'year')}, one shape for all lengths. "
"Return periods beyond twice the record length are not given.")  # fmt: skip
    return Table("spells", "n-day minimum GHI", tuple(columns), rows_of(rows),
                 note=note)  # fmt: skip


def _date(sky: Sky, iso: str, across_end: bool) -> Cell:
    """Return a run's first day; the year of a typical year means nothing."""
    if not iso:
        return word("-")
    words = moment(iso, typical_year=sky.record.typical_year).rpartition(",")[0]
    return Cell(begins(words, across_end), iso)


def _fit_cells(fit: SpellFit | None) -> list[Cell]:
    if fit is None:
        return [word("-")] * 3
    rare = fit.worst_return_years
    beyond = word(f"over {MOST_RECORDS * fit.years}")
    return [
        _band(fit.mean_kwh_m2_day[k], fit.low_kwh_m2_day[k], fit.high_kwh_m2_day[k])
        for k in SHOWN
    ] + [figure(rare, 2) if np.isfinite(rare) else beyond]


def _band(value: float, low: float, high: float) -> Cell:
    return Cell(f"{value:.2f} ({low:.2f} to {high:.2f})", value)


def _runs(sky: Sky) -> Table:
    rows = [
        (share(r.share_frac), whole(r.days), _date(sky, r.start, r.across_end),
         share(r.mean_frac) if r.days else word("-"), whole(r.days_per_year))
        for r in sky.dark_runs
    ]  # fmt: skip
    columns = (
        Column("array output below", "% of the load", True),
        Column("longest period", "days", True), Column("from"),
        Column("average output during it", "% of the load", True), Column("days", "per yr", True),
    )  # fmt: skip
    worst = sky.dark_runs[0]
    return Table("dark-runs", "Deficit periods of the specified array",
                 columns, rows_of(rows),
                 note=f"Longest: {count(worst.days, 'day')}.")  # fmt: skip
