"""Sheets written as other programs write them: CSV of the standard library, XLSX of openpyxl, ODS by hand."""

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


def _xlsx(path: Path, rows: Iterable[Row]) -> None:
    import openpyxl
    from openpyxl.cell import WriteOnlyCell

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("log")
    for row in rows:
        cells = []
        for value in row:
            cell = WriteOnlyCell(sheet, value)
            if isinstance(value, str):
                cell.data_type = "s"  # also what begins with =
            cells.append(cell)
        sheet.append(cells)
    book.save(path)


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
