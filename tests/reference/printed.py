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
from collections.abc import Iterator
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


def said(*words: object) -> str:
    """Return what one call prints, answers and remarks [text]."""
    text = io.StringIO()
    with (
        mock.patch.object(sys, "argv", ["powerbudget", *map(str, words)]),
        mock.patch.object(cli.gc, "disable"),
        contextlib.redirect_stdout(text),
        contextlib.redirect_stderr(text),
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


def fixed_texts() -> Iterator[tuple[str, str]]:
    """Yield name and text of what no site changes."""
    yield "help", said("--help")
    for verb in VERBS:
        yield f"{verb} --help", said(verb, "--help")
    for topic in topics():
        yield f"help {topic}", said("help", topic)
    for words in (("keys",), ("parts",), ("help",), ("fleet", ROOT / "sites")):
        yield words[0] + " all", said(*words)
    yield "parts --json", "\n".join(strings(json.loads(said("parts", "--json"))))
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
        answer = said(verb, *site, "--json")
        answer = json.loads(answer[answer.find("{") :])
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
        said("report", *site, *claims, *options, *more, "-o", path)
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
