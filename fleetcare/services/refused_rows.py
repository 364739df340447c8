"""The rows of an old spreadsheet that were refused, for the person who must mend them."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from fleetcare.domain.errors import FileRefused
from fleetcare.domain.wording import Message, say, word
from fleetcare.services.exporting import safe_cell

MOST = 10_000
"""So many refused rows are kept for the list; a sheet with more is mended as a whole, not row by row."""


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """One refused row: its number in the sheet, why, and its cells as they were written."""

    row: int
    reason: Message
    cells: tuple[str, ...]


def write(rows: Sequence[RefusedRow], headings: Sequence[str], path: Path) -> None:
    """Write a CSV file (RFC 4180, UTF-8): the row's own cells under the sheet's headings, then its number and the reason.

    Once mended, the file can be brought in itself: its own columns have the headings they had.
    FileRefused where it cannot be written.
    """
    width = max([len(headings), *(len(one.cells) for one in rows)])
    names = [*headings, *[""] * (width - len(headings)), word("oldsheet.refused_row"), word("oldsheet.refused_why")]
    lines = [[*one.cells, *[""] * (width - len(one.cells)), str(one.row), say(one.reason)] for one in rows]
    try:
        with path.open("w", encoding="utf-8-sig", newline="") as out:
            csv.writer(out).writerows([safe_cell(cell) for cell in line] for line in [names, *lines])
    except OSError as error:
        raise FileRefused("oldsheet.refused_unwritten", path=str(path), why=error.strerror or str(error)) from None
