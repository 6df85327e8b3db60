"""Single-line diagram of a site: sources above the dc bus, battery and loads below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import count, in_unit, show
from powerbudget.report.charts import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from powerbudget.balance.simulation import Simulation

BUS, TOP, MIDDLE, LOW = 0.42, 0.90, 0.64, 0.14
WIDE = 0.2


def single_line_figure(run: Simulation) -> Figure:
    """Return the site as a single-line diagram."""
    figure = style.new_figure(11.0, 3.4)
    axes = figure.add_subplot()
    axes.set_axis_off()
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    sources, loads = _sources(run), _loads(run)
    for at, chain in zip(_places(len(sources)), sources, strict=True):
        _branch(axes, at, chain, (TOP, MIDDLE))
    for at, text in zip(_places(len(loads)), loads, strict=True):
        _branch(axes, at, [text], (LOW,))
    axes.plot([0.02, 0.98], [BUS, BUS], color=style.INK, linewidth=3.2)
    volts = f"dc bus, {run.problem.budget.nominal_v:g} V"
    axes.text(0.02, BUS + 0.03, volts, fontsize=9, color=style.INK, fontweight="bold")
    return figure


def _places(count: int) -> list[float]:
    return [(k + 0.5) / count for k in range(count)]


def _sources(run: Simulation) -> list[list[str]]:
    """Return each source from its terminals to the bus, a text a box."""
    tables = run.problem.design.tables
    found = []
    if run.strings:
        module = run.problem.array.module
        modules = run.strings * tables.array.series
        found.append([
            f"PV array\n{modules} x {module.power_w:g} W = "
            f"{in_unit(modules * module.power_w, 'W')}\n"
            f"{run.strings} in parallel, {tables.array.series} in series",
            f"charge controller\n{tables.regulator.kind.upper()}, "
            f"{in_unit(run.bank.regulation_v, 'V', 1)}",
        ])  # fmt: skip
    found += [
        [f"{unit.name}\n{in_unit(unit.rated_w, 'W')} {unit.kind.title}"]
        for unit in run.problem.sources.units
    ]
    return found


def _loads(run: Simulation) -> list[str]:
    """Return battery, loads at the bus, and each converter with its loads."""
    tables, bank, budget = run.problem.design.tables, run.bank, run.problem.budget
    bus = tables.bus
    opens = (
        f"LVD {bus.disconnect_v:g} V, LVR {bus.reconnect_v:g} V"
        if bus.disconnect_v is not None
        else f"SOC disconnect {in_unit(100 * (bus.disconnect_soc_frac or 0), '%')}"
    )
    battery = (
        f"battery, {in_unit(bank.nameplate_ah, 'Ah')}\n{bank.units} x {bank.unit.nominal_v:g} V "
        f"{bank.unit.capacity_ah:g} Ah\n{opens}"
    )
    listed = [line for line in budget.lines if not line.hidden and line.supply]
    found = [battery]
    for supply in dict.fromkeys(line.supply for line in listed):
        fed = [line for line in listed if line.supply == supply]
        name = "loads on the dc bus" if supply == "bus" else f"converter {supply}"
        energy = sum(line.wh_per_day for line in fed)
        found.append(f"{name}\n{count(len(fed), 'load')}\n{show(energy, 'Wh/day')}")
    return found


def _branch(
    axes: Axes, at: float, chain: list[str], heights: tuple[float, ...]
) -> None:
    """Draw boxes from the outside in, and a line through them to the bus."""
    axes.plot([at, at], [heights[0], BUS], color=style.INK, linewidth=1.4, zorder=1)
    for text, height in zip(chain, heights, strict=False):
        said = "\n".join(map(style.drawable, text.splitlines()))
        axes.text(
            at, height, said, ha="center", va="center", fontsize=8.5,
            color=style.INK, zorder=2, parse_math=False,
            bbox={"boxstyle": "square,pad=0.5", "facecolor": style.PAPER,
                  "edgecolor": style.INK, "linewidth": 1.2},
        )  # fmt: skip
    axes.plot([at], [BUS], marker="o", markersize=5, color=style.INK, zorder=3)
