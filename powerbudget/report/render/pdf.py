"""The page as a PDF."""

from __future__ import annotations

import logging
from importlib import import_module
from typing import TYPE_CHECKING, Any

from powerbudget.errors import Fault, InputError, missing_extra

if TYPE_CHECKING:
    from pathlib import Path


def check_pdf() -> None:
    """Refuse early where the library that sets pages cannot be loaded.

    Raises
    ------
    InputError
        With what to install.
    """
    _library()


def _library() -> Any:
    try:
        return import_module("weasyprint")
    except ModuleNotFoundError as exc:
        raise missing_extra("-o", exc.name or "weasyprint", "pdf") from None
    except (ImportError, OSError) as exc:
        reason = str(exc).splitlines()[0][:120]
        raise InputError(
            Fault(
                "-o",
                f"a PDF cannot be made here: {reason}",
                advice="it needs the Pango library of the system (Debian and Ubuntu: "
                "apt-get install libpango-1.0-0 libpangoft2-1.0-0; macOS: brew install "
                "pango); or write .html and print that from a browser",
            )
        ) from None


def write_pdf(page: str, path: Path, paper: str = "a4") -> None:
    """Write a page as tagged PDF.

    Parameters
    ----------
    page
        From `powerbudget.report.render.html.html_page` [HTML].
    path
        Where to [path].
    paper
        ``a4`` or ``letter`` [text].

    Notes
    -----
    Nothing is fetched: whatever the page might name elsewhere is refused.
    """
    library = _library()
    # Rules for screens that the library does not know are no news to a user.
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    fonts = library.text.fonts.FontConfiguration()
    sheet = library.CSS(string=_PAPER % paper, font_config=fonts)
    inside = library.URLFetcher(allowed_protocols=("data",))
    document = library.HTML(string=page, url_fetcher=inside)
    # Tags let a screen reader follow headings and tables.
    document.write_pdf(path, stylesheets=[sheet], font_config=fonts, pdf_tags=True)


_PAPER = """
@page {
  size: %s !important; margin: 17mm 15mm 18mm;
  font: 8pt "Liberation Sans", "DejaVu Sans", sans-serif; color: #51606c;
  @bottom-left { content: string(site); }
  @bottom-right { content: "page " counter(page) " of " counter(pages); }
}
h1 bdi { string-set: site content(text); }
"""
