"""Sections as HTML: the one place where text becomes markup."""

from __future__ import annotations

import base64
import hashlib
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from powerbudget.report.document.words import SEVERITY, coordinates, gravest_first, held
from powerbudget.report.screens.site import array, battery, generator, load
from powerbudget.report.sections.registry import in_order, sections
from powerbudget.version import __version__

if TYPE_CHECKING:
    from jinja2 import Environment

    from powerbudget.report.document.package import Package

TEMPLATES = Path(__file__).with_name("templates")


def html_page(
    package: Package, made: str | None = None, paper: str | None = None
) -> str:
    """Return the calculation package as one self-contained page [HTML].

    Parameters
    ----------
    package
        All results.
    made
        When it was made; now, in UTC, when left out [text].
    paper
        ``a4`` or ``letter``; whatever the printer holds when left out [text].

    Returns
    -------
    str
        Nothing in it is loaded from elsewhere.  All figures stand in the markup; the
        script only folds, sorts, filters and picks.
    """
    stamp = stamp_of(made)
    script = _asset("page.js")
    return _environment().get_template("page.html.j2").render(
        name=package.tables.site.name,
        block_facts=title_block(package, stamp),
        sections=in_order(sections(package, stamp)),
        css=_asset("page.css").replace("size: auto", f"size: {paper or 'auto'}"),
        script=script,
        script_hash=_csp_hash(script),
        version=__version__,
        made=stamp,
    )  # fmt: skip


def stamp_of(made: str | None) -> str:
    """Return when a document was made, now in UTC where nothing is said [text]."""
    return made or datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")


def title_block(package: Package, made: str) -> list[tuple[str, str]]:
    """Return the cells of the title block: the site, and the revision of the document."""
    site, run, document = package.tables.site, package.run, package.tables.document
    revised = f", revision {document.revision}" if document.revision else ""
    checked = f"; checked {document.checked}" if document.checked else ""
    said = (
        ("Document", (document.number + revised).removeprefix(", ")),
        ("Date", document.date or made),
        ("By", (document.by + checked).removeprefix("; ")),
        ("Company", document.company),
    )
    return [
        ("Location", coordinates(site.latitude_deg, site.longitude_deg, site.elevation_m)),
        ("Load", load(run)), ("Array", array(run)), ("Battery", battery(run)),
        *[("Generator", generator(unit)) for unit in package.problem.sources.units],
        *[(label, text) for label, text in said if text],
    ]  # fmt: skip


@cache
def _asset(name: str) -> str:
    return (TEMPLATES / name).read_text(encoding="utf-8")


def _csp_hash(script: str) -> str:
    """Return what the page's own policy allows to run: this script and no other."""
    digest = hashlib.sha256(script.encode("utf-8")).digest()
    return f"sha256-{base64.b64encode(digest).decode()}"


def longest_word(text: str) -> int:
    """Return the letters of the longest word, which a column must hold [count].

    Parameters
    ----------
    text
        Plain words [text].

    Examples
    --------
    >>> longest_word("a charge regulator")
    9
    """
    return max((len(word) for word in text.split()), default=0)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    found = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip

    def drawn(text: str) -> Any:
        """Let our own SVG, style and script through; nothing else may use it."""
        return Markup(text)  # noqa: S704 - never holds what a user wrote

    found.filters["drawn"] = drawn
    found.filters["held"] = held
    found.filters["severity"] = SEVERITY.__getitem__
    found.filters["longest"] = longest_word
    found.filters["gravest"] = gravest_first
    return found
