"""Everything that the program prints, place by place, for tests of its words.

Run this file with a folder to keep each output there as one text file; names of demo sites
behind it take only those.
"""

from __future__ import annotations

import contextlib
import html
import io
import json
import re
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any
from unittest import mock

from openpyxl import load_workbook
from reference.texts import ROOT

from powerbudget import cli
from powerbudget.manual.topics import topics

DEMOS = sorted((ROOT / "sites").glob("*.toml"))
CLAIMS = ROOT / "sites/claims/coastal-meter-run.toml"
VERBS = ("new", "import", "parts", "loads", "weather", "run", "size", "check", "review",
         "compare", "diff", "report", "fleet", "keys", "schema", "doctor", "help")  # fmt: skip
COMPARED = {
    "",
    "dark-gas-wellpad",
    "gas-well-free-gas",
    "winter-hybrid",
    "propane-relay",
}
"""Sites whose alternatives are compared: each kind of machine, fuel, and line."""


def said(*words: object, remarks: bool = True) -> str:
    """Return what one call prints, answers and remarks [text].

    Parameters
    ----------
    words
        Behind the name of the program.
    remarks
        Whether standard error is wanted as well.
    """
    text, other = io.StringIO(), io.StringIO()
    with (
        mock.patch.object(sys, "argv", ["powerbudget", *map(str, words)]),
        mock.patch.object(cli.gc, "disable"),
        contextlib.redirect_stdout(text),
        contextlib.redirect_stderr(text if remarks else other),
        contextlib.suppress(SystemExit),
    ):
        cli.main()
    return text.getvalue()


def strings(answer: Any) -> Iterator[str]:
    """Yield the texts of a JSON answer that hold a space; others are keys of their kind."""
    if isinstance(answer, dict):
        for value in answer.values():
            yield from strings(value)
    elif isinstance(answer, list):
        for value in answer:
            yield from strings(value)
    elif isinstance(answer, str) and " " in answer:
        yield answer


def page_text(page: str) -> str:
    """Return the words of a page, a line for each element [text]."""
    page = re.sub(r"(?s)<(style|script)\b.*?</\1>", "", page)
    page = re.sub(r'(?:alt|title|aria-label)="([^"]*)"', r">\1<", page)
    page = re.sub(
        r"</?(b|a|em|strong|code|span|sup|sub|abbr|wbr|tspan)\b[^>]*>", "", page
    )
    return html.unescape(re.sub(r"\s*\n\s*", "\n", re.sub(r"<[^>]+>", "\n", page)))


def cells(path: Path) -> str:
    """Return the words of a workbook, a line for each cell [text]."""
    book = load_workbook(path)
    return "\n".join(
        str(cell.value)
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str) and not cell.value.startswith("=")
    )


WRAPPED = 80
"""Width from which a line of a terminal goes on in the next one [count]."""


def _whole(lines: list[str]) -> Iterator[str]:
    """Yield lines, those that a terminal wrapped joined again."""
    kept = ""
    for line in lines:
        goes_on = (
            WRAPPED <= len(kept.splitlines()[-1] if kept else "") <= 100
            and line.strip()
            and not re.match(r"\s*([-*:|#>] |\S+ {3,})", line)
            and not re.search(r"\S {3,}\S.* {3,}\S", kept)
        )
        if not goes_on:
            yield kept.replace("\n", " ")
            kept = line
        else:
            kept = f"{kept.rstrip()}\n{line.strip()}"
    yield kept.replace("\n", " ")


def prose(text: str) -> list[str]:
    """Return the paragraphs of an output: no table, no code, no label beside a figure.

    Parameters
    ----------
    text
        Terminal, page, cells or Markdown [text].
    """
    text = re.sub(r"(?s)```.*?```", "", text)
    text = re.sub(r"!?\[([^\]]*)\]\([^)]*\)|<[^>]+>", r"\1", text)
    lines = []
    for line in _whole(text.splitlines()):
        if "|" in line or re.match(r" {4}|\S+ {3,}|#", line):
            continue
        bare = (
            re.sub(r"^[-*: ]*(\*\*[^*]+\*\*:? ?)?", "", line).replace("`", "").strip()
        )
        # An option or a verb and what it does: its name is no part of the sentence.
        bare = re.split(r" {3,}", re.sub(r"^\S+(?: \S+)? {2,}(?=\S)", "", bare))[-1]
        if len(bare.split()) > 3 and bare.endswith((".", "!", "?")):
            lines.append(bare)
    return lines


def sentences(lines: Iterable[str]) -> list[str]:
    """Return the sentences of paragraphs; items of a list with semicolons are their own.

    Parameters
    ----------
    lines
        Paragraphs [text].
    """
    from pysbd import Segmenter

    split = Segmenter(language="en", clean=False).segment
    found = [one for line in lines for one in split(line)]
    found = [
        part.strip() for one in found for part in re.split(r"; |: (?=[A-Z][a-z])", one)
    ]
    # A degree sign or a bracket before the full stop hides the end from the splitter.
    found = [
        part for one in found for part in re.split(r"(?<=[°C%)\d]\.) (?=[A-Z])", one)
    ]
    return [one for one in found if len(one.split()) > 3]


def fixed_texts() -> Iterator[tuple[str, str]]:
    """Yield name and text of what no site changes."""
    yield "help", said("--help")
    for verb in VERBS:
        yield f"{verb} --help", said(verb, "--help")
    for topic in topics():
        yield f"help {topic}", said("help", topic)
    for words in (("keys",), ("parts",), ("help",), ("fleet", ROOT / "sites")):
        yield words[0] + " all", said(*words)
    yield (
        "parts --json",
        "\n".join(strings(json.loads(said("parts", "--json", remarks=False)))),
    )
    for path in (ROOT / "README.md", ROOT / "sites/README.md"):
        yield path.parent.name + " README", path.read_text(encoding="utf-8")
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        book = json.loads(path.read_text(encoding="utf-8"))["cells"]
        texts = ["".join(c["source"]) for c in book if c["cell_type"] == "markdown"]
        texts += [
            "".join(out.get("text", "")) for c in book for out in c.get("outputs", ())
        ]
        yield path.stem, "\n\n".join(texts)
    for path in (*DEMOS, CLAIMS):
        text = path.read_text(encoding="utf-8")
        yield (
            f"{path.stem} comments",
            "\n".join(re.findall(r"(?m)(?:^| )# ?(.*)", text)),
        )


def site_texts(name: str, folder: Path) -> Iterator[tuple[str, str]]:
    """Yield name and text of all that one site is printed in, the example for ``""``."""
    site = [ROOT / "sites" / f"{name}.toml"] if name else []
    verbs = ["loads", "weather", "run", "size", "check"]
    verbs += ["compare"] if name in COMPARED else []
    for verb in verbs:
        full = [] if verb == "weather" else ["--full"]
        yield f"{name} {verb}", said(verb, *site, *full)
        # A verb may refuse a site: what it says is in the text above.
        answer = json.loads(said(verb, *site, "--json", remarks=False) or "{}")
        yield f"{name} {verb} --json", "\n".join(strings(answer))
    claims = ["--claims", CLAIMS] if name == CLAIMS.stem else []
    options = ["--options"] if name in COMPARED else []
    if claims:
        yield f"{name} review", said("review", *site, CLAIMS, "--full")
        yield "review alone", said("review", CLAIMS, "--full")
    more = ["--monte-carlo", "60", "--autonomy"] if name in {"", CLAIMS.stem} else []
    for ending, read in ((".html", page_text), (".xlsx", cells), (".md", str)):
        path = folder / f"page{ending}"
        path.unlink(missing_ok=True)
        answer = said("report", *site, *claims, *options, *more, "-o", path)
        if not path.exists():  # refused: what is said is an output too
            yield f"{name} report {ending}", answer
            continue
        text = path.read_text(encoding="utf-8") if ending != ".xlsx" else path
        yield f"{name} report {ending}", read(text)


def printed(folder: Path, names: list[str] | None = None) -> Iterator[tuple[str, str]]:
    """Yield name and text of everything printed on the demo sites and the example.

    Parameters
    ----------
    folder
        Where pages are written.
    names
        Demo sites; all of them and the example when None.
    """
    if names is None:
        yield from fixed_texts()
    for name in ["", *(demo.stem for demo in DEMOS)] if names is None else names:
        yield from site_texts(name, folder)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    for place, told in printed(target, sys.argv[2:] or None):
        (target / f"{place.replace('/', '_').strip()}.txt").write_text(told, "utf-8")
