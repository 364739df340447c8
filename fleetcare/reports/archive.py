"""A maintenance history to be given away: paper, records, proofs, a checker and how to check by hand."""

from __future__ import annotations

import datetime as dt
import hashlib
import inspect
import json
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from fleetcare.domain.wording import msg, say, show_moment
from fleetcare.reports import history_sheet
from fleetcare.services import history_checker
from fleetcare.services.history import Reading
from fleetcare.services.history_lines import History
from fleetcare.services.writing_files import whole_file

PAPER = "history.pdf"
CHECKER = "check_history.py"
BY_HAND = "HOW-TO-CHECK.txt"


def write(
    reading: Reading,
    whole: History,
    path: Path,
    *,
    page: str,
    printed_by: str,
    printed_at: dt.datetime,
    progress: Callable[[int], None] | None = None,
) -> int:
    """Write the archive to `path`; returns the number of pages of the paper in it.

    An older file at `path` stays until the new one is whole.
    """
    with whole_file(path) as fresh, tempfile.TemporaryDirectory(prefix="history-", dir=path.parent) as folder:
        paper = Path(folder) / PAPER
        pages = history_sheet.write(
            reading, whole, paper, page=page, printed_by=printed_by, printed_at=printed_at, progress=progress
        )
        records, table = _records(reading, whole)
        files = {
            PAPER: paper.read_bytes(),
            history_checker.RECORDS: records,
            history_checker.TABLE: table,
            CHECKER: inspect.getsource(history_checker).encode(),
            BY_HAND: say(
                msg(
                    "archive.by_hand", title=whole.asked.title, fleet=whole.fleet_name, count=whole.head.size,
                    root=whole.head.root_hex, short=whole.head.short, at=show_moment(whole.as_of),
                )
            ).encode(),
        }  # fmt: skip
        sums = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
        files[history_checker.FILES] = (json.dumps(sums, indent=1, sort_keys=True) + "\n").encode()
        with zipfile.ZipFile(fresh, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, data in files.items():
                stamp = zipfile.ZipInfo(name, printed_at.timetuple()[:6])
                stamp.compress_type = zipfile.ZIP_DEFLATED
                stamp.external_attr = 0o644 << 16
                archive.writestr(stamp, data)
    return pages


def _records(reading: Reading, whole: History) -> tuple[bytes, bytes]:
    """The records with their proofs, one JSON object a line, and the same as a table."""
    lines: list[str] = []
    table = [history_checker.table_line(history_checker.HEADINGS)]
    fleet = ""
    for position, data, path in reading.proofs():
        text = data.decode("utf-8", "surrogatepass")
        fleet = fleet or json.loads(text)["fleet"]
        one = {"position": position, "record": text, "proof": [part.hex() for part in path]}
        lines.append(json.dumps(one, ensure_ascii=True))
        table.append(history_checker.table_line(history_checker.table_row(position, text)))
    head = {
        "title": say(whole.asked.title),
        "from": whole.asked.from_date.isoformat(),
        "to": whole.asked.to_date.isoformat(),
        "as_of": whole.as_of.isoformat(),
        "fleet": fleet,
        "records": whole.head.size,
        "fingerprint": whole.head.root_hex,
        "lines": len(lines),
    }
    return ("\n".join([json.dumps(head), *lines]) + "\n").encode(), "".join(table).encode()
