"""A4 and Letter, whole pictures, tags: what a PDF and a printed workbook are made for."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest
from openpyxl import load_workbook

from powerbudget.errors import InputError
from powerbudget.report.book.sheets import Workbook
from powerbudget.report.render.pdf import check_pdf, write_pdf
from powerbudget.report.write import check_paper, write_report
from powerbudget.site.reader import read_site

PIXEL = (
    "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42m"
    "NkYPhfDwAChwGA60e6kgAAAABJRU5ErkJggg=="
)
PAGE = f"""<!doctype html><html lang="en"><head><title>One page</title>
<style>@page {{ size: auto; margin: 10mm }}</style></head><body><h1><bdi>Site</bdi></h1>
<svg viewBox="0 0 100 50" xmlns="http://www.w3.org/2000/svg">
<image href="{PIXEL}" width="40" height="20"/>
<text x="5" y="40" font-size="8">after the band</text></svg>
<img src="file:///etc/hostname" alt="not there"></body></html>"""
SIZES = {"a4": ("595.276", "841.89"), "letter": ("612", "792")}


@pytest.fixture(scope="module", params=list(SIZES))
def paper(request, tmp_path_factory):
    """Return the name of a paper and a PDF on it."""
    if shutil.which("pdfinfo") is None:
        pytest.skip("needs pdfinfo: apt-get install poppler-utils")
    try:
        check_pdf()
    except InputError as exc:
        pytest.skip(str(exc))
    path = tmp_path_factory.mktemp("paper") / f"{request.param}.pdf"
    write_pdf(PAGE, path, request.param)
    return request.param, path


def _told(*words):
    return subprocess.run(words, capture_output=True, text=True, check=True).stdout


def test_a_pdf_has_the_size_that_was_asked_for(paper):
    """The paper wins over what the page says for printers."""
    name, path = paper
    width, height = SIZES[name]
    assert f"{width} x {height} pts" in _told("pdfinfo", str(path))


def test_a_picture_goes_on_after_a_band_of_pixels(paper):
    """A dense band is an image inside a drawing; what follows it is drawn as well."""
    _, path = paper
    assert "after the band" in _told("pdftotext", str(path), "-")
    # The one from a file is refused.
    rows = [row.split() for row in _told("pdfimages", "-list", str(path)).splitlines()]
    assert [row[2] for row in rows[2:]].count("image") == 1


def test_a_pdf_is_tagged_and_has_its_title(paper):
    """A screen reader finds headings, and the window its name."""
    told = _told("pdfinfo", str(paper[1]))
    assert "Title:           One page" in told
    assert "Tagged:          yes" in told


@pytest.mark.parametrize(("name", "number"), [("a4", 9), ("letter", 1)])
def test_sheets_of_a_workbook_print_on_the_same_paper(tmp_path, name, number):
    """Each sheet carries the number of its paper, on its side and as wide as the page."""
    book = Workbook(str(tmp_path / "book.xlsx"), name)
    book.sheet("One", (10.0, 20.0), "Title")
    book.close()
    page = load_workbook(tmp_path / "book.xlsx")["One"]
    assert int(page.page_setup.paperSize) == number
    assert page.page_setup.orientation == "landscape"
    assert page.sheet_properties.pageSetUpPr.fitToPage


@pytest.mark.parametrize("given", ["a5", "", "A4 "])
def test_another_paper_is_refused_before_anything_runs(call, tmp_path, given):
    """The answer names both papers, and nothing is written."""
    target = tmp_path / "site.pdf"
    code, _, said = call("report", "-o", target, "--paper", given)
    assert code == 2
    assert "--paper" in said
    assert "a4 or letter" in said
    assert not target.exists()


def test_capitals_do_not_matter():
    """Letter is letter."""
    assert check_paper("Letter") == "letter"
    assert check_paper(None) is None


BODY_PAGES = 10  # named by the task before the first body was drawn


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["coastal-meter-run", "foggy-basin-station", "checked-station-12v"]
)
def test_the_body_of_a_demo_stands_on_ten_pages(tmp_path, name):
    """Everything before the annex, on A4; the annex begins on a page of its own."""
    if shutil.which("pdftotext") is None:
        pytest.skip("needs pdftotext: apt-get install poppler-utils")
    site = Path(__file__).resolve().parents[2] / "sites" / f"{name}.toml"
    write_report(read_site(site), tmp_path / "a.pdf")
    pages = _told("pdftotext", "-layout", str(tmp_path / "a.pdf"), "-").split("\f")
    starts = [k for k, text in enumerate(pages) if re.search(r"(?m)^ *A1 +\w", text)]
    body = next(k for k in starts if k)  # page one names it in its contents
    assert 5 < body <= BODY_PAGES
    assert re.match(r"\s*A1 ", pages[body])
