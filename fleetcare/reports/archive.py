"""A maintenance history to be given away: paper, records, proofs, a checker and how to check by hand."""

from __future__ import annotations

import datetime as dt
import hashlib
import inspect
import json
import shutil
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path

from fleetcare.domain.errors import FileRefused
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
        try:
            pages = history_sheet.write(
                reading, whole, paper, page=page, printed_by=printed_by, printed_at=printed_at, progress=progress
            )
        except FileRefused as error:
            if error.message.key != "paper.not_written":
                raise
            raise FileRefused("paper.not_written", path=str(path), why=error.message.value("why")) from error
        _records(reading, whole, Path(folder))
        (Path(folder) / CHECKER).write_text(inspect.getsource(history_checker), "utf-8")
        by_hand = msg(
            "archive.by_hand", title=whole.asked.title, fleet=whole.fleet_name, count=whole.head.size,
            root=whole.head.root_hex, short=whole.head.short, at=show_moment(whole.as_of),
        )  # fmt: skip
        (Path(folder) / BY_HAND).write_text(say(by_hand), "utf-8")
        files = sorted(Path(folder).iterdir())
        sums = {}
        for file in files:
            with file.open("rb") as data:
                sums[file.name] = hashlib.file_digest(data, "sha256").hexdigest()
        with zipfile.ZipFile(fresh, "w", zipfile.ZIP_DEFLATED) as archive:
            for file in files:
                with (
                    file.open("rb") as data,
                    archive.open(_entry(file.name, printed_at), "w", force_zip64=True) as into,
                ):
                    shutil.copyfileobj(data, into)
            archive.writestr(
                _entry(history_checker.FILES, printed_at), json.dumps(sums, indent=1, sort_keys=True) + "\n"
            )
    return pages


def _entry(name: str, at: dt.datetime) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, at.timetuple()[:6])
    entry.compress_type = zipfile.ZIP_DEFLATED
    entry.external_attr = 0o644 << 16
    return entry


def _records(reading: Reading, whole: History, folder: Path) -> None:
    """The records with their proofs, one JSON object a line, and the same as a table; line by line."""
    head = {
        "title": say(whole.asked.title),
        "from": whole.asked.from_date.isoformat(),
        "to": whole.asked.to_date.isoformat(),
        "as_of": whole.as_of.isoformat(),
        "fleet": reading.fleet_id,
        "records": whole.head.size,
        "fingerprint": whole.head.root_hex,
        "lines": whole.lines,
    }
    with (
        (folder / history_checker.RECORDS).open("w", encoding="utf-8", newline="\n") as records,
        (folder / history_checker.TABLE).open("w", encoding="utf-8", newline="") as table,
    ):
        records.write(json.dumps(head) + "\n")
        table.write(history_checker.table_line(history_checker.HEADINGS))
        for position, data, path in reading.proofs():
            text = data.decode("utf-8", "surrogatepass")
            one = {"position": position, "record": text, "proof": [part.hex() for part in path]}
            records.write(json.dumps(one, ensure_ascii=True) + "\n")
            table.write(history_checker.table_line(history_checker.table_row(position, text)))
