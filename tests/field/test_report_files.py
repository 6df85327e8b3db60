"""`report`: what people write in, where they write to, and what they get back."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from powerbudget.errors import InputError
from powerbudget.files import atomic_path
from powerbudget.report import write
from powerbudget.report.render.html import html_page
from powerbudget.report.render.pdf import write_pdf
from powerbudget.report.write import Written, write_report

pytestmark = pytest.mark.slow


def _run(*words, cwd):
    return subprocess.run(
        [sys.executable, "-m", "powerbudget", *words],
        capture_output=True, text=True, check=False, cwd=cwd,
    )  # fmt: skip


@pytest.fixture
def ready(monkeypatch, package_of):
    """Let `write_report` use packages that are computed already."""

    def use(name: str):
        package = package_of(name)
        monkeypatch.setattr(
            "powerbudget.report.document.package.assemble", lambda *_, **_k: package
        )
        return package

    return use


def test_the_command_writes_a_page_and_tells_progress_apart(tmp_path):
    """The page is a file, progress goes to standard error, the exit code is run's."""
    done = _run("report", "-o", "site.html", cwd=tmp_path)
    assert done.returncode == 0
    assert done.stdout == ""
    assert "simulating" in done.stderr
    assert "Wrote site.html" in done.stderr
    text = (tmp_path / "site.html").read_text(encoding="utf-8")
    assert text.startswith("<!DOCTYPE html>")
    assert [p.name for p in tmp_path.iterdir()] == ["site.html"]


def test_an_unknown_ending_is_refused_with_the_allowed_ones(tmp_path):
    """Exit code 2, nothing computed, nothing written."""
    done = _run("report", "-o", "site.odt", cwd=tmp_path)
    assert done.returncode == 2
    assert ".docx, .html, .md, .pdf, .xlsx" in done.stderr
    assert "simulating" not in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["missing/site.html", "taken.html"])
def test_a_place_that_cannot_be_written_is_refused_first(tmp_path, name):
    """A missing folder, or a folder of that name, is told before any computation."""
    (tmp_path / "taken.html").mkdir()
    with pytest.raises(InputError, match=r"does not exist|is a folder"):
        write_report(None, tmp_path / name)


def test_a_read_only_folder_is_refused_first(tmp_path, monkeypatch):
    """No permission: an error with what to do, and no half file."""
    monkeypatch.setattr("os.access", lambda *_: False)
    with pytest.raises(InputError, match="read-only"):
        write_report(None, tmp_path / "site.html")
    assert list(tmp_path.iterdir()) == []


def test_a_site_that_fails_is_written_all_the_same(tmp_path, ready):
    """The file says what is not met, and so does the answer."""
    package = ready("nasty")
    done = write_report(package.design, tmp_path / "site.html")
    assert done == Written(tmp_path / "site.html", met=False)
    assert "FAIL: " in done.path.read_text(encoding="utf-8")


def test_the_exit_code_tells_that_criteria_are_not_met(monkeypatch, tmp_path):
    """One where the criteria are not met, none where they are."""
    import typer

    from powerbudget.cli import report

    for met in (True, False):
        answer = Written(tmp_path / "x.html", met)
        monkeypatch.setattr(write, "write_report", lambda *_a, _n=answer, **_k: _n)
        if met:
            report.command(tmp_path / "x.html")
        else:
            with pytest.raises(typer.Exit) as stop:
                report.command(tmp_path / "x.html")
            assert stop.value.exit_code == 1


def test_an_existing_file_is_replaced_whole_or_stays(tmp_path, ready, monkeypatch):
    """A failure while writing leaves the old file as it was, and nothing beside it."""
    package = ready("starter")
    target = tmp_path / "site.html"
    target.write_text("old", encoding="utf-8")

    def fail(_package, path, _made, _paper):
        path.write_text("half", encoding="utf-8")
        raise OSError(28, "No space left on device")

    monkeypatch.setitem(write._WRITERS, ".html", fail)
    with pytest.raises(InputError, match="no space left"):
        write_report(package.design, target)
    assert target.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["site.html"]
    monkeypatch.undo()
    with atomic_path(target) as temporary:
        temporary.write_text("new", encoding="utf-8")
    assert target.read_text(encoding="utf-8") == "new"


def test_no_path_of_the_machine_stands_on_the_page(tmp_path, page_of):
    """A page is handed on: it names files, never folders of whoever made it."""
    text = page_of("starter")
    assert not re.search(r"(?:/home/|/root/|/tmp/|/usr/|[A-Z]:\\)", text)


@pytest.fixture(scope="module")
def paper(tmp_path_factory, package_of):
    """Return the failing site's PDF and its text, page by page."""
    if shutil.which("pdftotext") is None:
        pytest.skip("needs pdftotext: apt-get install poppler-utils")
    try:
        from powerbudget.report.render.pdf import check_pdf

        check_pdf()
    except InputError as exc:
        pytest.skip(str(exc))
    path = tmp_path_factory.mktemp("pdf") / "site.pdf"
    write_pdf(html_page(package_of("nasty"), made="2026-01-02 03:04 UTC"), path)
    text = subprocess.run(["pdftotext", "-layout", str(path), "-"],
                          capture_output=True, text=True, check=True).stdout  # fmt: skip
    return path, text.replace("\u00a0", " ").split("\f")[:-1]


def test_paper_can_be_read_and_searched(paper, package_of):
    """The text of the PDF holds name, verdict, every section and every load."""
    _, pages = paper
    text = " ".join(" ".join(pages).split())
    assert "<script>alert('x')</script>" in text
    assert "FAIL: " in text
    for title in ("Power budget", "Solar resource and deficit periods",
                  "Sizing worksheet", "Cautions",
                  "Assumptions and sources", "Traceability"):  # fmt: skip
        assert title in text
    for line in package_of("nasty").budget.lines:
        if line.name.isascii() and len(line.name) < 20:
            # A narrow column breaks a name between its words.
            assert all(word in text for word in line.name.split(":")[0].split())
    assert "Basis of calculation" in text


def test_pages_are_numbered_and_none_ends_in_a_heading(paper):
    """Each page says which it is; no heading stands at its foot without text."""
    _, pages = paper
    assert len(pages) > 8
    headings = re.compile(r"^\s*\d+\s+[A-Z][a-z ]+$")
    for number, page in enumerate(pages, start=1):
        lines = [line for line in page.splitlines() if line.strip()]
        assert f"page {number} of {len(pages)}" in lines[-1]
        assert not headings.match(lines[-2]), lines[-2]


def test_heads_are_repeated_on_each_page_of_a_long_table(paper):
    """Whoever turns the page still reads what the columns mean."""
    _, pages = paper
    heads = [
        page for page in pages if re.search(r"input\s+value\s+unit\s+status", page)
    ]
    assert len(heads) >= 2


DOT = (
    "data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk"
    "+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)


@pytest.mark.parametrize(
    ("href", "fetched"), [(DOT, True), ("file:///etc/hostname", False)]
)
def test_a_picture_on_paper_does_not_stop_at_an_image_in_it(
    tmp_path, href, fetched, paper
):
    """Dense bands are images inside a picture: what follows them is drawn as well."""
    drawing = (
        '<svg viewBox="0 0 90 90" width="90" height="90"><text y="20">before</text>'
        f'<image href="{href}" width="9" height="9"/><text y="60">after</text></svg>'
    )
    path = tmp_path / "drawing.pdf"
    write_pdf(f"<html><body>{drawing}</body></html>", path)
    text, images = (
        subprocess.run(words, capture_output=True, text=True, check=True).stdout
        for words in (["pdftotext", str(path), "-"], ["pdfimages", "-list", str(path)])
    )
    assert "before" in text
    assert "after" in text
    assert (" image " in images) is fetched


def test_a_missing_library_is_told_with_what_to_install(monkeypatch, tmp_path):
    """Without the system's text library a PDF is refused before anything runs."""

    def missing(name):
        raise OSError("cannot load library 'libpango-1.0-0'")

    monkeypatch.setattr("powerbudget.report.render.pdf.import_module", missing)
    with pytest.raises(InputError, match="apt-get install libpango"):
        write_report(None, tmp_path / "site.pdf")


@pytest.mark.slow
def test_eighteen_half_hourly_years_make_a_small_page(tmp_path):
    """315,000 intervals stay under 5 MB on the page: dense bands are drawn as pixels."""
    from powerbudget.site.reader import read_site_text
    from powerbudget.site.starter import starter_text

    folder = Path(__file__).resolve().parents[2].parent / "shared" / "weather"
    files = folder / "nsrdb-california-1998-2015"
    if not files.is_dir():
        pytest.skip("needs the folder of weather files beside the checkout")
    text = starter_text().replace('record = "sand-point"', f'file = "{files}/*.csv"')
    done = write_report(read_site_text(text), tmp_path / "site.html")
    assert 300_000 < done.path.stat().st_size < 5_000_000
    assert re.search(
        "1[78](?:\\.\\d)? actual years", done.path.read_text(encoding="utf-8")
    )
