"""Parts tried for a site that leaves array or battery open, as a page of text."""

from __future__ import annotations

from powerbudget.report.terminal.text import table
from powerbudget.sizing.from_nothing import RULE, Alternative, FromNothing

HEADS = (
    "", "module", "battery unit", "chemistry", "modules", "array W", "units",
    "battery Ah", "mass kg", "tilt deg", "result",
)  # fmt: skip


def from_nothing_page(found: FromNothing) -> str:
    """Return every pair of parts with its lightest size, and what was left out."""
    rows = [_row(a, taken=a is found.pick) for a in found.tried]
    lines = [
        table(
            "Parts tried: lightest size of each that meets every criterion",
            [*HEADS],
            rows,
        )
    ]
    lines += [f"  left out  {name}: {why}" for name, why in found.left_out]
    lines.append(f"  ranked by  {RULE}")
    return "\n".join(lines) + "\n"


def _row(found: Alternative, *, taken: bool) -> list[str]:
    row = ["pick" if taken else "", found.module, found.battery, found.chemistry]
    pick = found.pick
    if pick is None:
        return [*row, *[""] * 6, f"NOT FEASIBLE: {found.why}"]
    return [
        *row,
        str(pick.modules),
        f"{pick.array_w:,.0f}",
        str(pick.battery_units),
        f"{pick.battery_ah:,.0f}",
        "" if pick.mass_kg is None else f"{pick.mass_kg:,.0f}",
        f"{pick.tilt_deg:g}",
        "FEASIBLE",
    ]
