"""Figures as SVG that can stand inside a page, several to a page."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

from powerbudget.report.document.blocks import Picture, Point

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_HEAD = re.compile(r"^.*?(?=<svg)", re.DOTALL)
_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
_STYLE = re.compile(r"\s*<defs>\s*<style[^>]*>.*?</style>\s*</defs>", re.DOTALL)
_ID = re.compile(r'\bid="([^"]+)"')
_URL = re.compile(r"url\(#([^)]+)\)")
_LINK = re.compile(r'xlink:href="#([^"]+)"')
_EMPTY = re.compile(r"<path(?![^>]*\sd=)")
_COMMENT = re.compile(r"<!--.*?-->\s*", re.DOTALL)
_GROUP = re.compile(r'<g id="[^"]*">')
_ROOT = re.compile(r"<svg[^>]*>")
_PLACES = re.compile(r' (?:d|x|y)="[^"]*"')
_FINE = re.compile(r"(\.\d\d)\d+")  # nobody sees a hundredth of a point
_FITTED = "fitted"
_SIZE = re.compile(r' (?:width|height)="[\d.]+pt"')


def fitted(figure: Figure) -> Figure:
    """Return a figure at the size of the page, its letters as large as before.

    Parameters
    ----------
    figure
        Drawn for a file of its own; changed in place, once.

    Notes
    -----
    A sheet of paper is 180 mm wide inside its margins: at full size letters would
    come out under 6 points.
    """
    from powerbudget.report.charts.style import ON_PAGE

    if figure.get_gid() != _FITTED:
        figure.set_size_inches(*(ON_PAGE * figure.get_size_inches()))
        figure.set_gid(_FITTED)
    return figure


def svg_text(figure: Figure, key: str) -> str:
    """Return a figure as markup whose ids no other figure of the page has [SVG].

    Parameters
    ----------
    figure
        What to draw.
    key
        Prefix of its ids [text].

    Notes
    -----
    Letters are drawn as outlines, so that the picture looks alike everywhere; words
    for those who cannot see it stand in `Picture.alt`.  The salt makes the ids, and so
    the file, the same in every run.
    """
    import matplotlib as mpl

    stream = io.StringIO()
    with mpl.rc_context({"svg.hashsalt": key, "svg.fonttype": "path"}):
        fitted(figure).savefig(stream, format="svg", dpi=110, metadata={"Date": None})
    return own_ids(stream.getvalue(), key)


def own_ids(svg: str, key: str) -> str:
    """Return SVG markup without header, metadata and style, ids prefixed [SVG].

    Parameters
    ----------
    svg
        As matplotlib writes it [SVG].
    key
        Prefix [text].

    Notes
    -----
    The style element in it would hold for the whole page; its two properties are
    inherited from the root instead.

    Examples
    --------
    >>> own_ids('<?xml?><svg xmlns:xlink="x"><g id="a"><use xlink:href="#b"/></g></svg>',
    ...     "k")
    '<svg stroke-linejoin="round" stroke-linecap="butt"><g><use href="#k-b"/></g></svg>'
    """
    # Comments hold the words of the picture once more.
    svg = _COMMENT.sub("", svg)
    svg = _STYLE.sub("", _METADATA.sub("", _HEAD.sub("", svg)))
    svg = _GROUP.sub("<g>", svg)
    svg = _PLACES.sub(lambda m: _FINE.sub(r"\1", m.group()), svg)
    # The outline of a blank has no points, but the standard wants some.
    svg = _EMPTY.sub('<path d="M0 0"', svg)
    svg = _ID.sub(rf'id="{key}-\1"', svg)
    svg = _URL.sub(rf"url(#{key}-\1)", svg)
    svg = _LINK.sub(rf'href="#{key}-\1"', svg)
    svg = svg.replace("xlink:href=", "href=")
    svg = re.sub(r' xmlns:xlink="[^"]*"', "", svg)
    svg = _ROOT.sub(lambda m: _SIZE.sub("", m.group()), svg, count=1)
    root = '<svg stroke-linejoin="round" stroke-linecap="butt"'
    return svg.strip().replace("<svg", root, 1)


def picture(
    make: Callable[[], Figure],
    key: str,
    alt: str,
    caption: str = "",
    points: Callable[[Figure], tuple[Point, ...]] | None = None,
) -> Picture:
    """Return a figure as a block of the page.

    Parameters
    ----------
    make
        Makes the figure.
    key, alt, caption
        As in `Picture` [text].
    points
        Finds the places on it that can be picked.
    """

    def draw() -> tuple[str, tuple[Point, ...]]:
        figure = fitted(make())
        # Laid out once: what is saved and where its points are must not differ.
        figure.draw_without_rendering()
        figure.set_layout_engine("none")
        return svg_text(figure, key), points(figure) if points else ()

    return Picture(key, alt, draw, make, caption)


def place_of(axes: Axes, x: float, y: float) -> tuple[float, float]:
    """Return where data coordinates lie on the drawn figure, from left and top.

    Parameters
    ----------
    axes
        Axes of a figure whose layout is settled.
    x, y
        Data coordinates [unit of the axes].

    Returns
    -------
    tuple of float
        Left and top [fraction].
    """
    figure = axes.get_figure(root=True)
    if figure is None:
        return 0.0, 0.0
    left, bottom = figure.transFigure.inverted().transform(
        axes.transData.transform((x, y))
    )
    return float(left), float(1 - bottom)
