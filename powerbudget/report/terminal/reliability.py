"""Lost load and curves of equal reliability, as text."""

from __future__ import annotations

from powerbudget.quantities import show
from powerbudget.report.terminal.text import (
    facts,
    moment,
    number,
    percent,
    table,
    wrapped,
)
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.uncertainty.reliability import Reliability


def reliability_page(result: Reliability, name: str) -> str:
    """Return loss of load and curves of equal reliability as a page [text].

    Parameters
    ----------
    result
        Of `powerbudget.sizing.uncertainty.reliability.reliability_view`.
    name
        Site name [text].

    Returns
    -------
    str
        Names of the trade, outages by length, points of the curves.
    """
    parts = [
        facts(f"Reliability of {name}", _facts(result)),
        _lengths(result),
        _curves(result),
        wrapped(result.findings),
    ]
    return "\n".join(part for part in parts if part)


def _facts(r: Reliability) -> list[tuple[str, str]]:
    pairs = [
        ("loss-of-load probability", f"{percent(r.lolp_hours_frac, 3)} of the hours "
         f"(LOLP), {percent(r.llp_energy_frac, 3)} of the energy (LLP)"),
        ("loss of load", f"{r.hours_off_per_year:.1f} h a year, "
         f"{show(r.unmet_wh_per_year, 'Wh')} a year not served"),
        ("outages", f"{r.outages_per_year:.2f} a year, {r.mean_outage_h:.1f} h in the "
         "mean"),
    ]  # fmt: skip
    if r.longest_start:
        when = moment(r.longest_start, typical_year=r.typical_year)
        pairs.append(("longest", f"{r.longest_outage_h:.1f} h from {when}"))
        worst = max(range(12), key=lambda k: r.hours_off_by_month[k])
        pairs.append(
            (
                "worst month",
                f"{MONTHS[worst]}, {r.hours_off_by_month[worst]:.1f} h a year",
            )
        )
    pairs.append(
        (
            "this site",
            f"array {r.array_ratio:.2f} times the load in the worst month (C_A), "
            f"storage {r.storage_days:.1f} days at 25 degC to the disconnect (C_S)",
        )
    )
    return pairs


def _lengths(r: Reliability) -> str:
    rows = [
        [c.label, str(c.outages), f"{c.per_year:.2f}", f"{c.hours:,.0f}"]
        for c in r.lengths
    ]
    title = f"Outages by length, in {r.years:.3g} years"
    return table(title, ["length", "outages", "a year", "hours off in all"], rows)


def _curves(r: Reliability) -> str:
    if not r.curves:
        return ""
    levels = sorted({p.llp_frac for p in r.curves}, reverse=True)
    stores = sorted({p.storage_days for p in r.curves})
    at = {(p.llp_frac, p.storage_days): p for p in r.curves}
    rows = []
    for days in stores:
        points = [at.get((level, days)) for level in levels]
        strings = next(p.battery_strings for p in points if p)
        rows.append(
            [f"{days:.1f}", f"{strings:.2f}",
             *[f"{p.array_ratio:.2f} ({number(p.array_strings)})" if p else "-"
               for p in points]]
        )  # fmt: skip
    heads = ["storage d (C_S)", "battery strings",
             *[f"LLP {100 * level:g} %" for level in levels]]  # fmt: skip
    fits = [
        f"  LLP {100 * f.llp_frac:g} %: C_A = {f.f:.3g} C_S^-{f.u:.3g}, "
        f"{f.points} points"
        for f in r.fits
    ]
    body = table(
        "Array over load in the worst month (C_A; array strings in brackets) that loses "
        "no more than", heads, rows,
    )  # fmt: skip
    return (
        body + "\nThe same in the form of Egido and Lorenzo\n" + "\n".join(fits) + "\n"
    )
