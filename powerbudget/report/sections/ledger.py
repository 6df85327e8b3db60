"""Where the energy went, as a table that adds up."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from powerbudget.balance.ledger import BELOW, INHIBITED, LIMITED
from powerbudget.quantities import show
from powerbudget.report.document.blocks import Column, Row, Table, fixed, share, word
from powerbudget.report.document.words import closure

if TYPE_CHECKING:
    from powerbudget.balance.ledger import Ledger
    from powerbudget.balance.simulation import Simulation

ARRAY = "array: "
REGULATOR = (
    BELOW,
    "regulator conversion",
    "regulator drop",
    "off the maximum-power point",
)
NAMED = {
    "array: incidence": "incidence-angle loss",
    "array: temperature and low light": "temperature and low-irradiance effect",
    "array: soiling": "soiling loss",
    "array: snow": "snow loss",
    "array: mismatch": "mismatch loss",
    "array: wiring": "dc wiring loss",
    "array: ageing": "module degradation",
    "array: horizon": "horizon shading",
    "regulator conversion": "charge controller conversion loss",
    "regulator drop": "charge controller voltage drop",
    "off the maximum-power point": "off-maximum-power loss",
}
"""Terms of the array's losses in print; the others are printed as they are named."""
KEPT = "left in the battery"
USES = {"loads served": "loads served", "battery heater": "battery heater",
        KEPT: "stored in the battery, end minus start"}  # fmt: skip
LOSSES = {
    "regulator and leakage": "charge controller self-consumption and leakage",
    "battery resistance": "battery resistive (I²R) loss",
    "battery gassing": "battery gassing loss",
    "self-discharge": "battery self-discharge",
    LIMITED: "curtailed at the charge controller limit",
    INHIBITED: "charging inhibited by battery temperature",
    "spilled": "curtailed energy (battery full)",
    "spilled by steady source": "curtailed energy (continuous source)",
    "generator charger": "generator charger loss",
}
OF_IT = "of which: "


def ledger_table(run: Simulation) -> Table:
    """Return what came in, what loads and battery got of it, and each loss."""
    ledger, came_wh = run.ledger, run.ledger.array_wh + run.ledger.generator_wh
    rows = [*_sources(run, came_wh), *_uses(run, came_wh)]
    group = _array_terms(ledger) if run.strings else {}
    if group:
        rows.append(_row("array losses: modules, wiring, charge controller",
                         sum(group.values()), came_wh))  # fmt: skip
        rows += [_row(OF_IT + name, wh, came_wh) for name, wh in group.items() if wh]
    rows.append(_row("total of uses and losses", sum(ledger.terms_wh.values()), came_wh,
                     "ledger-out", "total"))  # fmt: skip
    columns = (
        Column("term"), Column("energy", "kWh", True),
        Column("share of energy in", "%", True),
    )  # fmt: skip
    return Table("ledger", "Energy balance", columns,
                 tuple(rows), note=_note(ledger, came_wh, group))  # fmt: skip


def _row(name: str, wh: float, came_wh: float, anchor: str = "", mark: str = "") -> Row:
    # The sum of many terms misses the whole in the last figure of a float.
    part = share(round(wh / came_wh, 12), 1) if came_wh else word("-")
    return Row((word(name), fixed(wh / 1000, decimals(came_wh)), part), anchor, mark)


def decimals(came_wh: float) -> int:
    """Return the decimals of a kWh that leave the whole some five figures [count].

    Parameters
    ----------
    came_wh
        The whole [Wh].

    Examples
    --------
    >>> decimals(405_600.0), decimals(2_411_000.0), decimals(900.0)
    (2, 1, 3)
    """
    return min(3, max(0, 4 - math.floor(math.log10(max(came_wh, 1.0) / 1000.0))))


def _sources(run: Simulation, came_wh: float) -> list[Row]:
    ledger, rows = run.ledger, []
    if run.strings:
        name = "reference array energy (POA x rated power)"
        rows.append(_row(name, ledger.array_wh, came_wh, "ledger-sun"))
    if run.generation:
        name = "generator energy at the terminals"
        rows.append(_row(name, ledger.generator_wh, came_wh, "ledger-generators"))
    return [*rows, _row("energy in", came_wh, came_wh, "ledger-in", "total")]


def _uses(run: Simulation, came_wh: float) -> list[Row]:
    """Return uses, then losses; a term of nothing is left out, unless it is the load."""
    ledger, named = run.ledger, USES | LOSSES
    if not run.strings:
        named["regulator and leakage"] = "leakage"
    rest = {
        name: name
        for name in ledger.terms_wh
        if name not in named and name not in REGULATOR and not name.startswith(ARRAY)
    }
    return [
        _row(title, ledger.terms_wh[name], came_wh)
        for name, title in (named | rest).items()
        if ledger.terms_wh.get(name) or name == "loads served"
    ]


def _array_terms(ledger: Ledger) -> dict[str, float]:
    return {
        NAMED.get(name, name.removeprefix(ARRAY)): wh
        for name, wh in ledger.terms_wh.items()
        if name.startswith(ARRAY) or name in REGULATOR
    }


def _note(ledger: Ledger, came_wh: float, group: dict[str, float]) -> str:
    words = (
        f"Uses and losses total {show(came_wh / 1000, 'kWh', 4)}; balance "
        f"residual: {closure(ledger.error_frac)}."
    )
    if group:
        words += f" Rows with '{OF_IT.strip()}' are parts of the row above."
    if any(wh < 0 for wh in group.values()):
        words += " A negative loss is a gain: cold modules exceed their rated power."
    if round(ledger.terms_wh[KEPT] / 1000, decimals(came_wh)) < 0:
        words += " A negative battery row is stored energy that the period used."
    return words
