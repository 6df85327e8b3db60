"""Metadata and font of a workbook: the program that wrote it, not the library that it used."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

from powerbudget.version import __version__

FACE = "Liberation Sans"
"""A free font; a spreadsheet without it takes its own sans-serif one."""
_NAMES = {
    "docProps/app.xml": (
        (r"<Application>.*?</Application>", "<Application>powerbudget</Application>"),
        # A version of the form that the schema has is that of a spreadsheet program.
        (r"<AppVersion>.*?</AppVersion>", ""),
    ),
    "docProps/core.xml": (
        (r"(<dc:creator[^>]*?)(?:/>|>.*?</dc:creator>)",
         rf"\1>powerbudget {__version__}</dc:creator>"),
        (r"<cp:lastModifiedBy>.*?</cp:lastModifiedBy>|<cp:lastModifiedBy/>", ""),
    ),
    "xl/theme/theme1.xml": (
        (r'typeface="(?:Calibri|Cambria)"', f'typeface="{FACE}"'),
        (r'name="Office[^"]*"', 'name="powerbudget"'),
    ),
    "xl/styles.xml": ((r'<name val="Calibri"/>', f'<name val="{FACE}"/>'),),
}  # fmt: skip
"""Part of the file -> what stands in it, and what stands there after."""


def sign(path: Path) -> None:
    """Name this program as the one that wrote a workbook.

    Parameters
    ----------
    path
        A workbook that was closed [path].
    """
    with zipfile.ZipFile(path) as book:
        parts = [(info, book.read(info)) for info in book.infolist()]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        for info, content in parts:
            text = content
            for old, new in _NAMES.get(info.filename, ()):
                text = re.sub(old.encode(), new.encode(), text, flags=re.DOTALL)
            book.writestr(info, text)
