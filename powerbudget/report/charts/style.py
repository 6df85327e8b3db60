"""One picture language: the same colour for the same thing in every chart.

Colours keep apart for colour-blind readers and in grey print (they differ in
lightness), and were chosen for this project.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

INK = "#22303c"
CHARGE = "#1f5a7a"
SUN = "#e3a32b"
LOAD = "#7c2f4a"
OUTAGE = "#c8452c"
HIDDEN = "#9aa7b0"
FROST = "#a9c9dd"
HEAT = "#b0703a"
GENERATOR = "#6f63a0"
PICK = "#2f7d4f"
SOURCE = "#4f9a9c"
FUEL = "#8a6d3b"
PAPER = "#ffffff"
GRID = "#dfe4e8"
BOX = "□"
ON_PAGE = 0.8
"""Size of a picture on the page over its size in a file, letters staying as they are."""


def new_figure(width_in: float, height_in: float) -> Figure:
    """Return an empty figure in the house style, drawn without a display."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(
        figsize=(width_in, height_in), layout="constrained", facecolor=PAPER
    )
    FigureCanvasAgg(figure)
    return figure


def halves(figure: Figure, heights: tuple[float, float]) -> Any:
    """Return an upper and a lower figure in one; the legend of one leaves the other alone.

    Parameters
    ----------
    figure
        An empty one.
    heights
        In what ratio [ratio].
    """
    return figure.subfigures(2, 1, height_ratios=heights)


def shades() -> Any:
    """Return the scale for shares and days, dark to light for any eye and in grey.

    Notes
    -----
    In 32 steps, so that a colour bar is drawn in areas and not as an image of dots.
    """
    import matplotlib as mpl

    return mpl.colormaps["cividis"].resampled(32)


def dress(axes: Axes, title: str, ylabel: str, xlabel: str = "") -> None:
    """Give axes a title to the left, unit labels and a quiet grid."""
    axes.set_title(
        title, loc="left", fontsize=10, color=INK, fontweight="bold", parse_math=False
    )
    axes.set_ylabel(ylabel, fontsize=9, color=INK)
    axes.set_xlabel(xlabel, fontsize=9, color=INK)
    axes.grid(color=GRID, linewidth=0.7)
    axes.set_axisbelow(True)
    axes.tick_params(labelsize=8, colors=INK)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(HIDDEN)


def headline(figure: Figure, text: str) -> None:
    """Put a title above all axes; a dollar sign in it is a dollar sign.

    Parameters
    ----------
    figure
        Where it goes.
    text
        The title; what the font has no letter for is shown as a box [text].
    """
    title = figure.suptitle(
        drawable(text), x=0.01, ha="left", fontsize=13, color=INK, wrap=True
    )
    title.set_parse_math(False)


def drawable(text: str) -> str:
    """Return text as the picture font can set it: an empty box for a missing letter.

    Parameters
    ----------
    text
        What somebody wrote [text].

    Examples
    --------
    >>> drawable("pump 3")
    'pump 3'
    """
    known = _letters()
    return "".join(c if ord(c) in known else BOX for c in text)


@cache
def _letters() -> frozenset[int]:
    from matplotlib.font_manager import FontProperties, findfont, get_font

    font = get_font(findfont(FontProperties(family="DejaVu Sans")))
    return frozenset(font.get_charmap())


def save(figure: Figure, path: Any) -> None:
    """Write a picture whole or not at all.

    Parameters
    ----------
    figure
        What to write.
    path
        Target; its ending chooses the format (png, svg, pdf).

    Raises
    ------
    InputError
        When the folder is missing, cannot be written, or the ending is not known.
    """
    from pathlib import Path

    from powerbudget.files import atomic_path

    target = Path(path)
    with atomic_path(target, {".png", ".svg", ".pdf"}) as temporary:
        figure.savefig(temporary, dpi=130, format=target.suffix[1:].lower())
