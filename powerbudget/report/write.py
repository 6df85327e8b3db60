"""The calculation package as a file: page, workbook, PDF, DOCX or Markdown by the file's ending."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from powerbudget.errors import Fault, InputError
from powerbudget.files import atomic_path, check_target

if TYPE_CHECKING:
    from collections.abc import Callable

    from powerbudget.report.document.package import Package
    from powerbudget.report.extras import Extras
    from powerbudget.site.reader import Design

PAPERS = ("a4", "letter")
"""Papers that a package can be made for."""
ENDINGS = frozenset({".html", ".xlsx", ".pdf", ".docx", ".md"})
"""File endings that a package can be written with."""


@dataclass(frozen=True)
class Written:
    """What was written.

    Parameters
    ----------
    path
        The file [path].
    met
        Whether the site as written meets every criterion.
    """

    path: Path
    met: bool


def write_report(
    design: Design,
    path: str | Path,
    *,
    extras: Extras | None = None,
    say: Callable[[str], None] | None = None,
    made: str | None = None,
    paper: str | None = None,
) -> Written:
    """Write the calculation package of a site, whole or not at all.

    Parameters
    ----------
    design
        A checked site.
    path
        ``.html`` (a page), ``.xlsx`` (a workbook with live formulas), ``.pdf``, ``.docx``
        or ``.md`` [path].
    extras
        Claims to judge, sources to compare, autonomy from every side, an ensemble;
        nothing of these when left out.
    say
        Told what is being done [text].
    made
        Date and time to print; now, in UTC, when left out [text].
    paper
        ``a4`` or ``letter``; when left out A4, and for a page that of whoever prints it
        [text].

    Returns
    -------
    Written
        The file, and whether the criteria are met; it is written either way.

    Raises
    ------
    InputError
        When ending or paper is another, the folder cannot be written to, or the site
        cannot be used.
    DataError
        When the weather cannot be used.
    """
    from powerbudget.report.document.package import assemble

    target = Path(path)
    check_target(target, ENDINGS)
    paper = check_paper(paper)
    ending = target.suffix.lower()
    _check_library(ending)
    package = assemble(design, say, extras=extras)
    if say:
        say(f"writing {target.name}")
    with atomic_path(target, ENDINGS) as temporary:
        _WRITERS[ending](package, temporary, made, paper)
    return Written(target, package.met)


def _check_library(ending: str) -> None:
    if ending == ".pdf":
        from powerbudget.report.render.pdf import check_pdf

        check_pdf()
    elif ending == ".docx":
        from powerbudget.report.render.flow import check_docx

        check_docx()


def check_paper(paper: str | None) -> str | None:
    """Refuse a paper that is not known, before any long computation.

    Parameters
    ----------
    paper
        ``a4``, ``letter`` or None, in capitals or not [text].

    Returns
    -------
    str or None
        In small letters [text].

    Raises
    ------
    InputError
        With the papers that there are.
    """
    if paper is None:
        return None
    if paper.lower() not in PAPERS:
        given = paper or "nothing"
        raise InputError(Fault("--paper", "is no paper", given, " or ".join(PAPERS)))
    return paper.lower()


def _page(package: Package, path: Path, made: str | None, paper: str | None) -> None:
    from powerbudget.report.render.html import html_page

    path.write_text(html_page(package, made, paper), encoding="utf-8")


def _book(package: Package, path: Path, made: str | None, paper: str | None) -> None:
    from powerbudget.report.render.workbook import write_workbook

    write_workbook(package, path, made, paper or PAPERS[0])


def _pdf(package: Package, path: Path, made: str | None, paper: str | None) -> None:
    from powerbudget.report.render.html import html_page
    from powerbudget.report.render.pdf import write_pdf

    write_pdf(html_page(package, made), path, paper or PAPERS[0])


def _flow(package: Package, path: Path, made: str | None, _paper: str | None) -> None:
    from powerbudget.report.render import flow
    from powerbudget.report.render.html import stamp_of, title_block
    from powerbudget.report.sections.registry import in_order, sections

    stamp, name = stamp_of(made), package.tables.site.name
    head = title_block(package, stamp)
    found = flow.pieces(in_order(sections(package, stamp)))
    if path.suffix.lower() == ".docx":
        flow.write_docx(path, name, head, found)
    else:
        path.write_text(flow.markdown(name, head, found), encoding="utf-8")


_WRITERS = {".html": _page, ".xlsx": _book, ".pdf": _pdf, ".docx": _flow, ".md": _flow}
