"""Sheets written as spreadsheet programs write them: CSV of the standard library, XLSX and ODS by hand.

The texts of an XLSX stand in one table that its cells share, as spreadsheet programs keep them; the libraries that
write XLSX from Python put them into the cells, which is easier to read.
"""

from __future__ import annotations

import csv
import zipfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from xml.sax.saxutils import escape

_URN = "urn:oasis:names:tc:opendocument:xmlns"
_START = (
    f'<?xml version="1.0" encoding="UTF-8"?><office:document-content xmlns:office="{_URN}:office:1.0"'
    f' xmlns:table="{_URN}:table:1.0" xmlns:text="{_URN}:text:1.0" office:version="1.2">'
    '<office:body><office:spreadsheet><table:table table:name="log">'
)
_END = "</table:table></office:spreadsheet></office:body></office:document-content>"

Row = Sequence[object]


def write_sheet(path: Path, rows: Iterable[Row]) -> None:
    """One sheet, of the sort that the name says; numbers are numbers, everything else is text."""
    if path.suffix == ".csv":
        with path.open("w", encoding="utf-8", errors="surrogatepass", newline="") as out:
            csv.writer(out).writerows(rows)
    elif path.suffix == ".xlsx":
        _xlsx(path, rows)
    else:
        _ods(path, rows)


_SHEET = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"
XLSX_PARTS = {
    "[Content_Types].xml": f'''<Types xmlns="{_PACKAGE}/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Override PartName="/xl/workbook.xml" ContentType="{_KIND}.sheet.main+xml"/>
<Override PartName="/xl/worksheets/sheet1.xml" ContentType="{_KIND}.worksheet+xml"/>
<Override PartName="/xl/sharedStrings.xml" ContentType="{_KIND}.sharedStrings+xml"/></Types>''',
    "_rels/.rels": f'''<Relationships xmlns="{_PACKAGE}/relationships">
<Relationship Id="rId1" Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>''',
    "xl/workbook.xml": f'''<workbook xmlns="{_SHEET}" xmlns:r="{_OFFICE}"><sheets>
<sheet name="log" sheetId="1" r:id="rId1"/></sheets></workbook>''',
    "xl/_rels/workbook.xml.rels": f'''<Relationships xmlns="{_PACKAGE}/relationships">
<Relationship Id="rId1" Type="{_OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>
<Relationship Id="rId2" Type="{_OFFICE}/sharedStrings" Target="sharedStrings.xml"/></Relationships>''',
}  # fmt: skip


def _xlsx(path: Path, rows: Iterable[Row]) -> None:
    shared: dict[str, int] = {}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in XLSX_PARTS.items():
            packed.writestr(name, text)
        with packed.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as out:
            out.write(f'<worksheet xmlns="{_SHEET}"><sheetData>'.encode())
            for number, row in enumerate(rows, start=1):
                cells = "".join(_xlsx_cell(f"{chr(65 + n)}{number}", value, shared) for n, value in enumerate(row))
                out.write(f'<row r="{number}">{cells}</row>'.encode())
            out.write(b"</sheetData></worksheet>")
        with packed.open("xl/sharedStrings.xml", "w", force_zip64=True) as out:
            out.write(f'<sst xmlns="{_SHEET}">'.encode())
            for text in shared:
                out.write(f'<si><t xml:space="preserve">{escape(text)}</t></si>'.encode())
            out.write(b"</sst>")


def _xlsx_cell(place: str, value: object, shared: dict[str, int]) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, str):
        return f'<c r="{place}" t="s"><v>{shared.setdefault(value, len(shared))}</v></c>'
    return f'<c r="{place}"><v>{value}</v></c>'


def _ods(path: Path, rows: Iterable[Row]) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed, packed.open("content.xml", "w") as out:
        out.write(_START.encode())
        for row in rows:
            out.write(f"<table:table-row>{''.join(map(_cell, row))}</table:table-row>".encode())
        out.write(_END.encode())


def _cell(value: object) -> str:
    if isinstance(value, str):
        return f'<table:table-cell office:value-type="string"><text:p>{escape(value)}</text:p></table:table-cell>'
    return (
        f'<table:table-cell office:value-type="float" office:value="{value}"><text:p>{value}</text:p>'
        "</table:table-cell>"
    )
