"""A workbook written letter by letter, so that it can say what no program writes."""

from __future__ import annotations

import io
import zipfile

_OPEN = "http://schemas.openxmlformats.org"
_MAIN = f"{_OPEN}/spreadsheetml/2006/main"
_RELS = f"{_OPEN}/package/2006/relationships"
_KINDS = f"{_OPEN}/officeDocument/2006/relationships"
_WORD = "application/vnd.openxmlformats-officedocument.spreadsheetml"
HEAD = (
    '<row r="1"><c r="A1" t="inlineStr"><is><t>Tag</t></is></c>'
    '<c r="B1" t="inlineStr"><is><t>Signal</t></is></c></row>'
    '<row r="2"><c r="A2" t="inlineStr"><is><t>PT-1</t></is></c>'
    '<c r="B2" t="inlineStr"><is><t>AI</t></is></c></row>'
)
"""A list of one signal."""


def _relations(*pairs: tuple[str, str]) -> str:
    lines = (
        f'<Relationship Id="rId{k}" Type="{_KINDS}/{kind}" Target="{target}"/>'
        for k, (kind, target) in enumerate(pairs, start=1)
    )
    return f'<Relationships xmlns="{_RELS}">{"".join(lines)}</Relationships>'


def parts(rows: str, tail: str = "", styles: str = "", strings: str = ""):
    """Return the files of a workbook by name: rows, what follows them, the other two."""
    types = f'<Types xmlns="{_OPEN}/package/2006/content-types">'
    types += '<Default Extension="xml" ContentType="application/xml"/>'
    for name, kind in (("workbook", "sheet.main"), ("worksheets/sheet1", "worksheet")):
        types += (
            f'<Override PartName="/xl/{name}.xml" ContentType="{_WORD}.{kind}+xml"/>'
        )
    found = {
        "[Content_Types].xml": types + "</Types>",
        "_rels/.rels": _relations(("officeDocument", "xl/workbook.xml")),
        "xl/workbook.xml": f'<workbook xmlns="{_MAIN}" xmlns:r="{_KINDS}"><sheets>'
        '<sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": _relations(
            ("worksheet", "worksheets/sheet1.xml"),
            ("styles", "styles.xml"),
            ("sharedStrings", "sharedStrings.xml"),
        ),
        "xl/worksheets/sheet1.xml": f'<worksheet xmlns="{_MAIN}">'
        f"<sheetData>{rows}</sheetData>{tail}</worksheet>",
        "xl/styles.xml": styles,
        "xl/sharedStrings.xml": strings,
    }
    return {name: text for name, text in found.items() if text}


def packed(found) -> bytes:
    """Return the workbook of the files."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as book:
        for name, text in found.items():
            book.writestr(name, text)
    return made.getvalue()
