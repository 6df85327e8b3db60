"""A workbook names the program that wrote it, and no spreadsheet maker."""

from __future__ import annotations

import re
import zipfile

import pytest
from openpyxl import load_workbook

from powerbudget.report.book.sheets import Workbook
from powerbudget.report.render.io_list import write_lists
from powerbudget.report.render.metadata import FACE
from powerbudget.version import __version__


def _book(path):
    book = Workbook(str(path))
    book.sheet("A", (10,), "a title")
    book.close()


def _lists(path):
    write_lists(path, {"A": [["tag", "W"], ["PT-1", 0.3]]})


@pytest.mark.parametrize("write", [_book, _lists], ids=["package", "list"])
def test_a_workbook_is_signed_by_the_program(write, tmp_path):
    """Application, creator and fonts are ours in every part; the book still opens."""
    path = tmp_path / "book.xlsx"
    write(path)
    with zipfile.ZipFile(path) as book:
        parts = {name: book.read(name).decode("utf-8") for name in book.namelist()}
    assert "<Application>powerbudget</Application>" in parts["docProps/app.xml"]
    core = parts["docProps/core.xml"]
    assert re.findall(r"<dc:creator[^>]*>(.*?)<", core) == [
        f"powerbudget {__version__}"
    ]
    about = " ".join(re.findall(r">([^<]+)<", parts["docProps/app.xml"] + core))
    assert not re.findall(r"(?i)microsoft|excel|openpyxl|xlsxwriter", about)
    fonts = re.findall(r'<name val="([^"]*)"', parts["xl/styles.xml"])
    fonts += re.findall(r'latin typeface="([^"]*)"', parts["xl/theme/theme1.xml"])
    assert set(fonts) == {FACE}
    assert load_workbook(path)["A"].max_row >= 1
