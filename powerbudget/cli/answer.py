"""How a verb answers: options that all have, first screen or the parts asked for."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, is_dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    check_form,
    print_csv,
    print_json,
    remark,
)  # fmt: skip

if TYPE_CHECKING:
    from powerbudget.checks.cautions import Caution
    from powerbudget.report.document.blocks import Section
    from powerbudget.report.screens.layout import Screen
    from powerbudget.report.sections.sources import Sources

    Build = Callable[[Sources], Sequence[Section | None]]
    Page = Callable[[], tuple[Screen, Build, Sequence[Caution]]]

# Where the main table stands in the answer of a verb: what `--csv` prints.
MAIN = {"run": "monthly", "size": "frontier", "check": "checks", "review": "claims",
        "compare": "options", "loads": "lines", "weather": "monthly"}  # fmt: skip
WORDS = ("missing", "problems", "fails_on_record")  # lists that a row of text can hold


@dataclass(frozen=True)
class Part:
    """A switch that prints parts of the document.

    Parameters
    ----------
    name
        Of the switch, with its hyphens.
    words
        Its help.
    keys
        Of the sections and blocks that it prints.
    older
        Another name of it.
    """

    name: str
    words: str
    keys: tuple[str, ...] = ()
    older: str = ""

    @property
    def option(self) -> Any:
        """Return the type by which typer knows the switch."""
        names = [self.name, self.older] if self.older else [self.name]
        return Annotated[bool, typer.Option(*names, help=self.words)]


COMMON = {
    "findings": Part("--findings", "Print all warnings and notes.").option,
    "cautions": Part("--cautions", "Print the cautions.").option,
    "full": Part("--full", "Print every section after the screen.").option,
    "quiet": Part("-q", "Print the result line only.", older="--quiet").option,
    "as_json": JsonOption,
    "as_csv": CsvOption,
}


@dataclass(frozen=True)
class Asked:
    """What of a document is wanted, and in which form.

    Parameters
    ----------
    parts
        Keys of sections and blocks [text].
    findings, cautions, full, quiet, as_json, as_csv
        The options that every verb with a first screen has.
    """

    parts: tuple[str, ...] = ()
    findings: bool = False
    cautions: bool = False
    full: bool = False
    quiet: bool = False
    as_json: bool = False
    as_csv: bool = False

    def also(self, *parts: str) -> Asked:
        """Return the same with further parts wanted."""
        return replace(self, parts=(*self.parts, *parts))


def verb(*parts: Part) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a verb its switches and the options that every verb has.

    Parameters
    ----------
    parts
        Switches of this verb alone. Its function takes `Asked` first, then what else it
        has of its own.
    """
    switches = {f"part_{k}": each for k, each in enumerate(parts)}
    further = {name: each.option for name, each in switches.items()} | COMMON

    def decorate(body: Callable[..., None]) -> Callable[..., None]:
        own = list(inspect.signature(body, eval_str=True).parameters.values())[1:]

        def command(**given: Any) -> None:
            check_form(given["as_json"], given["as_csv"])
            _check_pictures(given)
            keys = [
                k for name, p in switches.items() if given.pop(name) for k in p.keys
            ]
            common = {name: given.pop(name) for name in COMMON}
            body(Asked(tuple(keys), **common), **given)

        kind = inspect.Parameter.KEYWORD_ONLY
        added = [inspect.Parameter(name, kind, default=False, annotation=option)
                 for name, option in further.items()]  # fmt: skip
        own = [each.replace(kind=kind) for each in own]
        command.__signature__ = inspect.Signature([*own, *added])  # type: ignore[attr-defined]
        command.__annotations__, command.__doc__ = {}, body.__doc__
        return command

    return decorate


def _check_pictures(given: dict[str, Any]) -> None:
    from powerbudget.files import PICTURES, check_target

    for name, value in given.items():
        if name.startswith("plot") and value:
            check_target(value, PICTURES)


def drawn(target: Path | None, draw: Callable[[Path], object]) -> None:
    """Draw a picture that was asked for, and say so."""
    if target is not None:
        draw(target)
        remark(f"Drew {target}.")


def tell(
    asked: Asked, name: str, result: Any, page: Page,
    rows: Sequence[Any] = (), **more: Any,
) -> None:  # fmt: skip
    """Print an answer as JSON, as rows, or as a page.

    Parameters
    ----------
    asked
        What is wanted.
    name
        Of the verb.
    result
        What its answer is read from.
    page
        Makes the first screen, what builds the sections, and the cautions.
    rows
        For ``--csv``, in place of the main table of the answer.
    more
        Further keys of the answer; None leaves one out.
    """
    if not (asked.as_json or asked.as_csv):
        answer(asked, *page())
        return
    from powerbudget.report import answers

    found = answers.answer(answers.ANSWERS[name], result)
    if asked.as_json:
        print_json(found | {k: v for k, v in more.items() if v is not None})
    else:
        print_csv([flat(row) for row in rows or found[MAIN[name]]])


def flat(row: Any) -> dict[str, Any]:
    """Return a row of a table: lists of words joined, tables within it left out."""
    found = asdict(row) if is_dataclass(row) and not isinstance(row, type) else row
    joined = {key: "; ".join(map(str, found[key])) for key in WORDS if key in found}
    kept = {k: v for k, v in found.items() if not isinstance(v, tuple | list | dict)}
    return {key: (joined | kept)[key] for key in found if key in joined | kept}


def answer(
    asked: Asked, screen: Screen, build: Build, cautions: Sequence[Caution]
) -> None:
    """Print the first screen, or its first line and the parts asked for.

    Parameters
    ----------
    asked
        What of it, and of the document, is wanted.
    screen
        Of the verb.
    build
        Builds the sections of the verb, when one of them is wanted.
    cautions
        Of the site.
    """
    from powerbudget.checks.cautions import caution_text
    from powerbudget.report.render.terminal import findings_text

    wanted = asked.parts or asked.findings or asked.cautions
    first = f"{screen.first.splitlines()[0]}\n"
    pages = [first if wanted or asked.quiet else screen.text]
    if (asked.parts or asked.full) and not asked.quiet:
        pages += _sections(build, asked)
    if asked.findings or asked.full:
        pages.append(findings_text(screen.findings))
    if asked.cautions or asked.full:
        pages.append(caution_text(tuple(cautions)))
    typer.echo("\n".join(pages[:1] if asked.quiet else pages), nl=False)


def _sections(build: Build, asked: Asked) -> list[str]:
    from powerbudget.report.render.terminal import block_text, chosen_text, section_text
    from powerbudget.report.sections.sources import Sources

    sources = Sources("site file")
    sections = [section for section in build(sources) if section is not None]
    pages = (
        [section_text(section) for section in sections]
        if asked.full
        else chosen_text(sections, asked.parts)
    )
    named = sources.table()
    if named.rows and (asked.full or named.key in asked.parts):
        pages.append(block_text(named))
    return pages
