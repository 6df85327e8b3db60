"""Pictures of the search: frontier, why one smaller fails, worksheet against record."""

from __future__ import annotations

import textwrap
from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np

from powerbudget.balance.ring import stretch
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.quantities import count, in_unit, money
from powerbudget.report.charts import style
from powerbudget.sizing.limiting import failure_words

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from powerbudget.sizing.candidates import Candidate
    from powerbudget.sizing.search import Sizing
    from powerbudget.sizing.worksheet.against_record import Disagreement

HALF_DAYS = 14
PICK_MARKS = {
    "cheapest": ("D", 12, "lowest cost"),
    "lightest": ("^", 18, "lightest"),
    "fewest_parts": ("s", 17, "fewest parts"),
}


def frontier_chart(result: Sizing, name: str, path: Path) -> None:
    """Save `frontier_figure`.

    Parameters
    ----------
    result
        Of a search.
    name
        Site name for the title [text].
    path
        PNG, SVG or PDF to write.
    """
    style.save(frontier_figure(result, name), path)


def frontier_figure(result: Sizing, name: str) -> Figure:
    """Return the frontier with its picks, and the days on which less would fail.

    Parameters
    ----------
    result
        Of a search.
    name
        Site name for the title [text].

    Returns
    -------
    Figure
        Designs that meet the criteria and those that do not; below, charge through
        the worst weeks with the pick and with one step less.
    """
    smaller = {k: c for k, c in result.smaller.items() if c is not None}
    tall = 9.2 if smaller else 6.4
    figure = style.new_figure(9.6, tall)
    grid = figure.add_gridspec(
        2 if smaller else 1, max(1, len(smaller)),
        height_ratios=[1.9, 1.0] if smaller else [1.0],
    )  # fmt: skip
    _frontier(figure.add_subplot(grid[0, :]), result, name)
    if result.pick is not None:
        run = _run(result, result.pick)
        first: Axes | None = None
        for k, (piece, less) in enumerate(smaller.items()):
            axes = figure.add_subplot(grid[1, k], sharey=first)
            _why_axes(axes, (run, _run(result, less)), (piece, less))
            first = first or axes
    if not smaller:
        words = result.binding or "no size passes"
        figure.supxlabel(textwrap.fill(words, 130), fontsize=8.5, color=style.INK,
                         x=0.01, ha="left")  # fmt: skip
    return figure


def _run(result: Sizing, c: Candidate) -> Simulation:
    return simulate_size(result.problem, c.array_strings, c.battery_strings)


def _frontier(axes: Axes, result: Sizing, name: str) -> None:
    good = [c for c in result.tried if c.met]
    bad = [c for c in result.tried if not c.met]
    _dots(axes, bad, "x", style.OUTAGE, "fails a criterion")
    _dots(axes, good, "o", style.HIDDEN, "passes")
    _edge(axes, result)
    _pick_marks(axes, result)
    _hand_mark(axes, result.disagreement)
    _limits(axes, result)
    whose = f": {name}" if name else ""
    age = "end of life" if result.lasts else "as specified"
    share = in_unit(100 * result.health_frac, "%")
    style.dress(axes, f"Array and battery sizes that pass{whose}", "array, W",
                f"battery, Ah (rated; simulated {age}, {share})")  # fmt: skip
    # Below the axes, where it cannot hide a design.
    axes.legend(loc="upper center", bbox_to_anchor=(0.48, -0.13), fontsize=8.5, ncols=3,
                frameon=False, labelspacing=0.9, markerscale=0.75)  # fmt: skip


def _dots(
    axes: Axes, rows: list[Candidate], mark: str, colour: str, label: str
) -> None:
    if rows:
        axes.plot([c.battery_ah for c in rows], [c.array_w for c in rows], mark,
                  color=colour, ms=5, label=label)  # fmt: skip


def _edge(axes: Axes, result: Sizing) -> None:
    if not result.frontier:
        return
    x = [c.battery_ah for c in result.frontier]
    y = [c.array_w for c in result.frontier]
    # Beyond its ends the edge goes straight up and straight on.
    axes.step([x[0], *x, 9 * x[-1]], [9 * y[0], *y, y[-1]], where="post",
              color=style.CHARGE, linewidth=2.2, label="smallest passing sizes")  # fmt: skip
    axes.plot(x, y, "o", color=style.CHARGE, ms=6)
    turned = len({(c.tilt_deg, c.series) for c in result.tried}) > 1
    for c in result.frontier:
        price = "" if c.cost is None else f", {money(c.cost, result.currency)}"
        mass = "" if c.mass_kg is None else f", {in_unit(c.mass_kg, 'kg')}"
        stands = f"\n{c.series} in series, {c.tilt_deg:g}°" if turned else ""
        pieces = f"{count(c.modules, 'module')}, {count(c.battery_units, 'unit')}"
        axes.annotate(
            f"{pieces}{price}{mass}{stands}",
            (c.battery_ah, c.array_w), xytext=(9, 6), textcoords="offset points",
            fontsize=7.5, color=style.INK,
        )  # fmt: skip


def _pick_marks(axes: Axes, result: Sizing) -> None:
    for key, (mark, points, label) in PICK_MARKS.items():
        pick = result.picks.get(key)
        if pick is not None:
            axes.plot(pick.battery_ah, pick.array_w, mark, ms=points, mfc="none",
                      mec=style.PICK, mew=2.0 if key == "cheapest" else 1.3,
                      label=label, linestyle="none")  # fmt: skip


def _hand_mark(axes: Axes, found: Disagreement) -> None:
    c = found.design
    if c is None:
        return
    fares = "PASS" if c.met else "FAIL"
    axes.plot(c.battery_ah, c.array_w, "P", ms=10, color=style.LOAD, mec=style.PAPER,
              label=f"worksheet: {fares}", linestyle="none")  # fmt: skip


def _limits(axes: Axes, result: Sizing) -> None:
    """Show the frontier and one step around it, not the far corners of the search."""
    shown = list(result.frontier) or list(result.tried)
    hand = result.disagreement.design
    shown += [hand] if hand is not None else []
    if not shown:
        return
    # Room for the words of the last design.
    axes.set_xlim(0, 1.55 * max(c.battery_ah for c in shown))
    axes.set_ylim(0, 1.4 * max(c.array_w for c in shown))


def _why_axes(
    axes: Axes,
    runs: tuple[Simulation, Simulation],
    less: tuple[str, Candidate],
) -> None:
    """Draw charge with the pick and with one step less, around the day that fails."""
    run, small = runs
    piece, candidate = less
    record = run.problem.record
    middle = small.outages[0].index if small.outages else int(np.argmin(small.soc_frac))
    half = round(HALF_DAYS * 24 / record.step_h)
    window = stretch(small.problem, middle - half, 2 * half)
    # A typical year goes on from 31 December to 1 January of the year after.
    lap = record.n * (window < window[0]) * round(60 * record.step_h)
    times = record.start_local.astype("datetime64[m]")[window] + lap
    for one, colour, width, label in (
        (run, style.PICK, 1.4, "recommended"),
        (small, style.CHARGE, 1.8, "one step fewer"),
    ):
        axes.plot(times, 100 * one.soc_frac[window], color=colour, linewidth=width,
                  label=label)  # fmt: skip
    _lost(axes, small, window, times)
    depth = run.problem.design.tables.criteria.deepest_discharge_frac
    axes.axhline(100 * (1 - depth), color=style.OUTAGE, linewidth=1, linestyle="--")
    allowed = in_unit(100 * (1 - depth), "%")
    axes.annotate(f"minimum SOC allowed: {allowed}", (times[0], 100 * (1 - depth)),
                  xytext=(3, -9), textcoords="offset points", fontsize=7,
                  color=style.OUTAGE)  # fmt: skip
    axes.set_ylim(0, 104)
    axes.set_xlim(times[0], times[-1])
    fails = textwrap.fill(
        f"one {piece} step fewer: fails {failure_words(candidate)}", 46
    )
    style.dress(axes, "", "SOC, %")
    axes.set_title(fails, loc="left", fontsize=8.5, color=style.INK)
    dates: Any = import_module("matplotlib.dates")
    axes.xaxis.set_major_locator(dates.DayLocator(interval=7))
    form = "%d %b" if record.typical_year else "%d %b %Y"
    axes.xaxis.set_major_formatter(dates.DateFormatter(form))
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.14), fontsize=7.5, ncols=3,
                frameon=False)  # fmt: skip


def _lost(
    axes: Axes, run: Simulation, window: NDArray[np.int64], times: NDArray[Any]
) -> None:
    step, label = run.problem.record.step_h, "outage"
    for outage in run.outages:
        for start in times[window == outage.index]:
            end = start + np.timedelta64(round(60 * max(outage.hours, step)), "m")
            axes.axvspan(start, end, color=style.OUTAGE, alpha=0.45, linewidth=0,
                         label=label)  # fmt: skip
            label = "_"


def worksheet_chart(result: Sizing, name: str, path: Path) -> None:
    """Save `worksheet_figure`.

    Parameters
    ----------
    result
        Of a search.
    name
        Site name for the title [text].
    path
        PNG, SVG or PDF to write.
    """
    style.save(worksheet_figure(result, name), path)


def worksheet_figure(result: Sizing, name: str) -> Figure:
    """Return the worksheet's array and battery, its assumptions replaced in turn.

    Parameters
    ----------
    result
        Of a search.
    name
        Site name for the title [text].

    Returns
    -------
    Figure
        Bars from the worksheet to what the record asks, for array and battery.
    """
    found = result.disagreement
    figure = style.new_figure(10.2, 6.2)
    upper, lower = figure.subplots(2, 1)
    _side(
        upper, found, "array", "array, W",
        (found.array_strings, found.array_strings_replaced,
         found.array_strings_in_record, found.array_w_a_string),
    )  # fmt: skip
    _side(
        lower, found, "battery", "battery, Ah (rated)",
        (found.battery_strings, found.battery_strings_replaced,
         found.battery_strings_in_record, found.battery_ah_a_string),
    )  # fmt: skip
    style.headline(figure, f"Worksheet and simulation: {name}")
    figure.supxlabel(textwrap.fill("; ".join(found.words[:4]), 140), fontsize=8.5,
                     color=style.INK, x=0.01, ha="left")  # fmt: skip
    return figure


def _side(
    axes: Axes,
    found: Disagreement,
    side: str,
    label: str,
    sizes: tuple[int, int, int, float],
) -> None:
    by_hand, replaced, needed, each = sizes
    reasons = [r for r in found.reasons if r.side == side]
    strings = [
        r.array_strings if side == "array" else r.battery_strings for r in reasons
    ]
    other = found.battery_strings if side == "array" else found.array_strings
    beside = "battery" if side == "array" else "array"
    dark = found.dark_month if side == "array" else ""
    by_hand = 0 if dark else by_hand
    note = f"none: no irradiation in {dark}" if dark else ""
    bars = [("worksheet, unchanged", by_hand, style.LOAD, note)]
    bars += [
        (f"  {r.assumption}: {_short(r.by_hand)} to {_short(r.in_record)} {_unit(r.unit)}",
         n, style.HIDDEN, f" ({in_unit(100 * r.effect_frac, '%', sign=True)})")
        for r, n in zip(reasons, strings, strict=True)
    ]  # fmt: skip
    if found.reasons:
        bars.append(("all inputs replaced", replaced, style.CHARGE, ""))
    words = f"simulation, with {count(other, beside + ' string')}"
    if found.design is not None:
        bars.append(
            (words, needed, style.PICK, "" if needed else "none in the search range")
        )
    for k, (_, strings_, colour, note) in enumerate(bars):
        axes.barh(k, strings_ * each, color=colour, height=0.72)
        said = f" {strings_ * each:,.0f}{note}" if strings_ else f" {note}"
        axes.annotate(said, (strings_ * each, k), va="center", fontsize=8,
                      color=style.INK)  # fmt: skip
    if by_hand:
        axes.axvline(by_hand * each, color=style.LOAD, linewidth=1, linestyle=":")
    axes.set_yticks(range(len(bars)), [bar[0] for bar in bars])
    axes.invert_yaxis()
    axes.margins(x=0.14)
    axes.set_xlim(left=0)
    style.dress(axes, "", "", label)


def _short(value: float) -> str:
    return f"{value:.3g}"


def _unit(unit: str) -> str:
    return "" if unit in {"ratio", "fraction"} else unit
