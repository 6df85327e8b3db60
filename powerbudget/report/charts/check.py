"""Picture of `check`: the voltage budget of the worst branch, from battery to terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import in_unit, show
from powerbudget.report.charts import style

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from powerbudget.checks.registry import CheckReport
    from powerbudget.checks.voltage_profile import Stairs, VoltageStep

WIDE = 0.62


def check_figure(report: CheckReport, name: str) -> Figure:
    """Return the voltage budget of the worst branch as a picture.

    Parameters
    ----------
    report
        From `powerbudget.checks.registry.check`.
    name
        The site's name [text].

    Returns
    -------
    Figure
        Steps from the battery down to the device, its least volts as a line.
    """
    stairs = report.stairs
    figure = style.new_figure(11.0, 4.8)
    axes = figure.add_subplot()
    if stairs.steps:
        _steps(axes, stairs.steps)
        _terminal(axes, stairs)
        _limits(axes, stairs)
    else:
        axes.text(0.5, 0.5, "no device states a minimum operating voltage", ha="center")
        axes.set_xticks([])
        axes.set_yticks([])
    title = f"Voltage from battery to {stairs.name or 'terminal'}"
    if stairs.steps:
        left = "margin" if stairs.margin_v >= 0 else "short"
        amps = show(stairs.amps, "A")
        title += f": {in_unit(abs(stairs.margin_v), 'V', 2)} {left} at {amps}"
    cut = axes.get_ylim()[0] > 0
    style.dress(axes, title, "V", "the axis does not begin at 0 V" if cut else "")
    axes.title.set_parse_math(False)
    axes.grid(visible=False, axis="x")
    if name:
        style.headline(figure, name)
    return figure


def check_chart(report: CheckReport, name: str, path: Path) -> None:
    """Draw the voltage budget of the worst branch into a file.

    Parameters
    ----------
    report
        From `powerbudget.checks.registry.check`.
    name
        The site's name [text].
    path
        PNG, SVG or PDF to write.
    """
    style.save(check_figure(report, name), path)


def _steps(axes: Axes, steps: tuple[VoltageStep, ...]) -> None:
    for k, step in enumerate(steps):
        loss = step.kind == "loss"
        foot = step.level_v if loss else 0.0
        height = -step.change_v if loss else step.level_v
        colour = style.HIDDEN if loss else style.CHARGE
        edge = style.INK if loss else colour
        axes.bar(k, height, WIDE, bottom=foot, color=colour, edgecolor=edge, lw=0.5)
        if k and step.kind != "converter":
            before = step.level_v - step.change_v
            axes.plot(
                [k - 1 + WIDE / 2, k - WIDE / 2],
                [before, before],
                color=style.INK,
                linewidth=0.7,
            )
        _label(axes, k, step)


def _label(axes: Axes, k: int, step: VoltageStep) -> None:
    before = step.level_v - step.change_v
    top = max(step.level_v, before) if step.kind == "loss" else step.level_v
    words = f"{step.change_v:+z.2f}" if step.kind == "loss" else f"{step.level_v:.2f}"
    if step.note == "not stated":
        words = "not stated"
    axes.annotate(
        words,
        (k, top),
        (0, 3),
        textcoords="offset points",
        ha="center",
        fontsize=8.5,
        color=style.INK,
    )


def _terminal(axes: Axes, stairs: Stairs) -> None:
    last = stairs.steps[-1].level_v
    k = len(stairs.steps)
    enough = stairs.margin_v >= 0
    axes.bar(k, last, WIDE, color=style.LOAD if enough else style.OUTAGE)
    axes.plot(
        [k - 1 + WIDE / 2, k - WIDE / 2], [last, last], color=style.INK, linewidth=0.7
    )
    axes.annotate(
        f"{last:.2f}",
        (k, last),
        (0, 3),
        textcoords="offset points",
        ha="center",
        fontsize=8.5,
        color=style.INK,
        fontweight="bold",
    )


def _limits(axes: Axes, stairs: Stairs) -> None:
    k = len(stairs.steps)
    needed = stairs.needed_v
    axes.axhline(needed, color=style.INK, linestyle="--", linewidth=1.2)
    axes.annotate(
        f"minimum\n{needed:g} V",
        (k + 0.45, needed),
        (0, 3),
        textcoords="offset points",
        ha="left",
        fontsize=8.5,
        color=style.INK,
    )
    levels = [step.level_v for step in stairs.steps]
    low, high = min([*levels, needed]), max([*levels, needed])
    # Volts near zero say nothing; the axis is cut, and says so.
    room = 0.25 * max(high - low, 0.4)
    axes.set_ylim(max(0.0, low - 1.6 * room), high + room)
    axes.set_xlim(-0.6, k + 1.2)
    names = [_wrap(step.name) for step in stairs.steps]
    axes.set_xticks(range(k + 1), [*names, "terminals"])
    for label in axes.get_xticklabels():
        label.set_parse_math(False)


def _wrap(text: str) -> str:
    import textwrap

    return "\n".join(textwrap.wrap(text, 14)[:3])
