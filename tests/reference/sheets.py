"""A client's list written as lines of text."""

from __future__ import annotations

from openpyxl import Workbook

from powerbudget.lists.importer import read_lists


def read(tmp_path, *sheets, ending="xlsx"):
    """Return what sheets hold; cells parted by bars, numbers as numbers."""

    def cell(word):
        word = word.strip()
        try:
            return float(word)
        except ValueError:
            return word or None

    made = Workbook()
    made.remove(made.active)
    for number, text in enumerate(sheets, start=1):
        sheet = made.create_sheet(f"S{number}")
        for line in text.strip("\n").split("\n"):
            sheet.append([cell(c) for c in line.split("|")])
    made.save(tmp_path / f"s.{ending}")
    return read_lists([tmp_path / f"s.{ending}"])
