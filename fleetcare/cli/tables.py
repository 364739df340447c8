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


def harmless(cell: str) -> str:
    """A cell that a spreadsheet will not take for a formula; plain numbers stay as they are."""
    if not cell.startswith(_RISKY):
        return cell
    try:
        float(cell)
    except ValueError:
        return "'" + cell
    return cell
