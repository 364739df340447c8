"""Tables for people and programs: text, CSV or JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence

FORMATS = ("text", "csv", "json")
_RISKY = ("=", "+", "-", "@", "\t", "\r")


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], form: str) -> str:
    """`rows` under `headings` in one of FORMATS; always ends in a newline."""
    if form == "json":
        return json.dumps([dict(zip(headings, row, strict=True)) for row in rows], ensure_ascii=False, indent=1) + "\n"
    if form == "csv":
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\r\n")
        writer.writerow(headings)
        writer.writerows([[harmless(cell) for cell in row] for row in rows])
        return out.getvalue()
    widths = [max(len(str(row[i])) for row in [headings, *rows]) for i in range(len(headings))]
    lines = ["  ".join(str(c).ljust(w) for c, w in zip(row, widths, strict=True)).rstrip() for row in [headings, *rows]]
    lines.insert(1, "  ".join("-" * w for w in widths))
    return "\n".join(lines) + "\n"


def tables(parts: Sequence[tuple[str, Sequence[str], Sequence[Sequence[str]]]], form: str) -> str:
    """Several tables, each (name, headings, rows), as one document in one of FORMATS.

    JSON is one object with the names as keys; in CSV and text the name stands alone in the line before its table, and an
    empty line follows each.
    """
    if form == "json":
        found = {name: [dict(zip(heads, row, strict=True)) for row in rows] for name, heads, rows in parts}
        return json.dumps(found, ensure_ascii=False, indent=1) + "\n"
    end = "\r\n" if form == "csv" else "\n"
    return "".join(f"{_name(name, form)}{end}{table(heads, rows, form)}{end}" for name, heads, rows in parts)


def _name(name: str, form: str) -> str:
    """A table's name as one cell of CSV (quoted where it holds a comma), or as it is."""
    return f'"{name}"' if form == "csv" and "," in name else name


def harmless(cell: str) -> str:
    """A cell that a spreadsheet will not take for a formula; plain numbers stay as they are."""
    if not cell.startswith(_RISKY):
        return cell
    try:
        float(cell)
    except ValueError:
        return "'" + cell
    return cell
