"""Terminal, page and workbook print the same cells: each table is built once."""

from __future__ import annotations

import io
import math
import re
import subprocess
import sys

import pytest
from openpyxl import load_workbook

from powerbudget.report.book.result_sheets import SHEETS
from powerbudget.report.charts.style import new_figure
from powerbudget.report.document.blocks import Panels, Point, Table
from powerbudget.report.render import flow
from powerbudget.report.render.flow import markdown, pieces, write_docx
from powerbudget.report.render.html import html_page
from powerbudget.report.render.terminal import WIDTH, section_text, table_text
from powerbudget.report.render.workbook import write_workbook
from powerbudget.report.sections.pictures import picture, place_of
from powerbudget.report.sections.registry import in_order, sections

NAMES = ("starter", pytest.param("hybrid", marks=pytest.mark.slow))


@pytest.fixture(scope="module", params=NAMES)
def package(request, package_of):
    """Return one package after the other."""
    return package_of(request.param)


def tables(package):
    """Return every table of a document, those inside panels too."""
    blocks = [block for section in sections(package, "now") for block in section.blocks]
    inside = [p.table for b in blocks if isinstance(b, Panels) for p in b.items]
    return [b for b in blocks if isinstance(b, Table)] + inside


def columns_on_the_terminal(text, heads):
    """Return the words of each column, read between the marks of the rule."""
    found, lines = [], text.splitlines()
    rules = [k for k, line in enumerate(lines) if set(line.strip()) == {"-", " "}
             or set(line.strip()) == {"-"}]  # fmt: skip
    for number, at in enumerate(rules):
        spans = [match.span() for match in re.finditer("-+", lines[at])]
        end = rules[number + 1] if number + 1 < len(rules) else len(lines)
        body = lines[at + 1 : end]
        stop = body.index("") if "" in body else len(body)
        turn = [
            " ".join(line[a : b if k + 1 < len(spans) else None].strip()
                     for line in body[:stop]).split()
            for k, (a, b) in enumerate(spans)
        ]  # fmt: skip
        found += turn if number == 0 else turn[1:]
    assert len(found) == heads
    return found


def test_every_table_of_the_terminal_holds_the_cells_of_the_document(package):
    """No cell is left out or cut, however narrow the terminal, and no line is wider."""
    for table in tables(package):
        bare = Table(table.key, table.caption, table.columns, table.rows)
        text = table_text(bare)
        assert max(map(len, text.splitlines())) <= WIDTH
        shown = columns_on_the_terminal(text, len(table.columns))
        for k, words in enumerate(shown):
            cells = " ".join(row.cells[k].text for row in table.rows)
            # A word longer than its column is broken: letters stay in order.
            assert "".join(words) == "".join(cells.split()), (table.key, k)


def test_every_table_of_the_page_holds_the_cells_of_the_document(package, undrawn):
    """Cell by cell, as a reader of the page sees them."""
    import html5lib

    tree = html5lib.parse(html_page(package, made="now"), namespaceHTMLElements=False)
    drawn = {node.get("id"): node for node in tree.iter("table")}
    for table in tables(package):
        rows = drawn[table.key].find("tbody").findall("tr")
        shown = [["".join(cell.itertext()).replace("\u00a0", " ").strip() for cell in row]
                 for row in rows]  # fmt: skip
        assert shown == [[c.text for c in row.cells] for row in table.rows], table.key


def test_every_sheet_of_the_workbook_holds_the_cells_of_the_document(package, tmp_path):
    """Numbers as numbers, rounded only for the eye; words as words."""
    write_workbook(package, tmp_path / "a.xlsx", "2026-01-02")
    book = load_workbook(tmp_path / "a.xlsx", data_only=True)
    compared = 0
    for table in tables(package):
        if table.key not in SHEETS:
            continue
        found = [
            [cell.value for cell in row] for row in book[SHEETS[table.key]].iter_rows()
        ]
        start = next(
            k for k, row in enumerate(found) if row[0] == _head(table.columns[0])
        )
        body = found[start + 1 : start + 1 + len(table.rows)]
        for row, shown in zip(table.rows, body, strict=True):
            for cell, head, value in zip(row.cells, table.columns, shown, strict=False):
                compared += 1
                _same(cell, head, value)
    assert compared > 100


def _head(column):
    return f"{column.head}, {column.unit}" if column.unit else column.head


def _same(cell, head, value):
    if isinstance(value, float | int) and isinstance(cell.sort, float | int):
        scale = 100.0 if head.unit.startswith("%") else 1.0
        assert value == pytest.approx(scale * cell.sort, rel=1e-12, abs=1e-12)
        assert math.isfinite(value)
    else:
        assert str(value if value is not None else "") == cell.text


def texts(package):
    """Return the rows of every table of a document as words, with their heads."""
    rows = []
    for table in tables(package):
        rows.append([_head(column) for column in table.columns])
        rows += [[cell.text for cell in row.cells] for row in table.rows]
    return rows


def test_markdown_holds_the_cells_of_the_document(package):
    """Row by row; what Markdown would read as its own marks is told apart."""
    text = markdown("a site", [], pieces(in_order(sections(package, "now"))))
    lines = [line for line in text.splitlines() if line.startswith("| ")]
    drawn = [re.sub(r"\\(.)", r"\1", line)[2:-2].split(" | ") for line in lines]
    for row in texts(package):
        assert [" ".join(words.split()) for words in row] in drawn


@pytest.mark.slow
def test_docx_holds_the_cells_of_the_document(package, tmp_path, monkeypatch):
    """Every table of the document, read again by the library; pictures stand in it.

    One is drawn and stands for all: each as large as this costs half a second.
    """
    docx = pytest.importorskip("docx")
    found = list(pieces(in_order(sections(package, "now"))))
    block = next(what[0] for kind, *what in found if kind == "picture")
    drawn = flow._png(block).getvalue()
    monkeypatch.setattr(flow, "_png", lambda _: io.BytesIO(drawn))
    write_docx(tmp_path / "a.docx", "a site", [("Load", "3 W")], found)
    book = docx.Document(tmp_path / "a.docx")
    shown = [[c.text for c in row.cells] for t in book.tables for row in t.rows]
    assert all(row in shown for row in texts(package))
    assert len(book.inline_shapes) == sum(kind == "picture" for kind, *_ in found) > 3


def test_the_annex_follows_the_body_and_nothing_is_lost(package):
    """Each block stands once; the annex is numbered apart and begins with A1."""
    found = sections(package, "now")
    ordered = in_order(found)
    blocks = [block for section in found for block in section.blocks]
    assert sorted(map(id, blocks)) == sorted(
        id(b) for section in ordered for b in section.blocks
    )
    numbers = [section.number for section in ordered]
    first = numbers.index("A1")
    assert numbers[:first] == [str(n) for n in range(1, first + 1)]
    assert numbers[first:] == [f"A{n}" for n in range(1, len(numbers) - first + 1)]
    assert ordered[0].key == "summary"
    annex = {getattr(b, "key", "") for s in ordered[first:] for b in s.blocks}
    assert {"circuit-checks", "sources", "inputs", "run-months"} <= annex


@pytest.mark.slow
def test_full_prints_the_sections_of_the_document(package_of):
    """`run --full` is the screen and the sections, word for word."""
    line = [sys.executable, "-m", "powerbudget", "run", "--full"]
    done = subprocess.run(line, capture_output=True, text=True, check=True).stdout
    battery = next(
        s for s in sections(package_of("starter"), "now") if s.key == "battery"
    )
    assert section_text(battery) in done


def test_a_ring_sits_on_its_point():
    """Where a point can be picked is where the saved drawing has its mark."""
    drawn = []

    def make():
        figure = new_figure(6.0, 4.0)
        axes = figure.add_subplot()
        axes.plot([3.0, 9.0], [500.0, 12_000.0], "o")
        axes.set_ylabel("a label of some length, W")
        axes.annotate("words that reach over the edge of the axes", (9.0, 12_000.0))
        drawn.append(axes)
        return figure

    def points(figure):
        figure.draw_without_rendering()  # to draw it again moves nothing
        return tuple(
            Point(*place_of(drawn[0], x, y), "#a", "a")
            for x, y in ((3.0, 500.0), (9.0, 12_000.0))
        )

    svg, found = picture(make, "k", "two marks", points=points).draw()
    wide, high = map(float, re.search(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', svg).groups())
    uses = re.findall(r'<use [^>]*x="([\d.]+)" y="([\d.]+)"', svg)
    for point in found:
        at = (wide * point.left_frac, high * point.top_frac)
        apart = min(math.dist(at, (float(x), float(y))) for x, y in uses)
        assert apart < 0.1
