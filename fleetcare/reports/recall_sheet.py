"""The action sheet of a recall: the notice, every pack with what to do about it, where written-off ones went."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from fleetcare.domain.fingerprint import Head
from fleetcare.domain.recalls import Match, RecallNotice
from fleetcare.domain.wording import apart, msg, say, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.safety import put_notes
from fleetcare.reports.settling import settled
from fleetcare.services.in_force import DepotRules
from fleetcare.services.recalling import RecallLine, RecallPage, Where
from fleetcare.services.writing_files import whole_file

_BOX = "\u25a1"


def write(
    page_of: RecallPage, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime,
    rules: Sequence[DepotRules] = (),
) -> int:  # fmt: skip
    """Write the sheet to `path` and return its number of pages; the folder is made where it is missing."""
    path.parent.mkdir(parents=True, exist_ok=True)
    running = Running(
        word("paper.recall_title"), page_of.notice.number, page_of.fleet_name, page_of.demo, page_of.as_of,
        Head(page_of.position, page_of.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip

    def put(flow: Flow) -> None:
        _notice(flow, page_of)
        _packs(flow, page_of)
        put_notes(flow, "recall", rules, last=(Text(word("paper.recall_defer"), 8, bold=True),))

    with whole_file(path) as fresh:
        return settled(fresh, running, page=page, put=put)


def _notice(flow: Flow, page_of: RecallPage) -> None:
    notice = page_of.notice
    flow.heading(f"{word('paper.recall_title')} · {notice.number}", 15)
    told = msg(
        "paper.recall_notice",
        number=notice.number,
        maker=notice.maker or "—",
        at=notice.done_at,
        person=page_of.entered_by,
    )
    flow.text(Text(say(told), 9))
    if page_of.withdrawn is not None:
        flow.text(Text(say(page_of.withdrawn), 11, bold=True))
    flow.text(Text(" · ".join(_meant(notice)), 9))
    if notice.hazard:
        flow.text(Text(say(msg("paper.recall_hazard", text=notice.hazard)), 10, bold=True))
    remedy = msg("paper.recall_remedy", text=notice.remedy) if notice.remedy else msg("paper.recall_no_remedy")
    flow.text(Text(say(remedy), 10, bold=True))
    counts = msg(
        "paper.recall_what", matched=page_of.matched, unsure=page_of.not_ruled_out, open=page_of.open,
        vehicles=len(page_of.vehicles),
    )  # fmt: skip
    flow.space(3)
    flow.text(Text(say(counts), 11, bold=True))
    flow.text(Text(word("paper.recall_rule"), 7.5, quiet=True))
    flow.space(4)


def _meant(notice: RecallNotice) -> list[str]:
    models = ", ".join(notice.models)
    told = [
        say(
            msg("paper.recall_models", models=f"{models} ({apart(notice.model_text)})" if notice.model_text else models)
        )
    ]
    if notice.serial_from:
        told.append(say(msg("paper.recall_serials", first=notice.serial_from, last=notice.serial_to)))
    else:
        told.append(word("paper.recall_all_serials"))
    if notice.date_code_from:
        told.append(say(msg("paper.recall_dates", first=notice.date_code_from, last=notice.date_code_to)))
    return told


def what_to_do(line: RecallLine) -> str:
    """What the sheet asks for one pack."""
    do = word(f"recall_do.{line.where.value}")
    if line.found is Match.NOT_RULED_OUT and line.where is not Where.WRITTEN_OFF:
        return f"{do} {word('recall_do.not_ruled_out')}"
    return do


def _group(line: RecallLine) -> str:
    """Where a pack is and what that asks: said once above all packs that it is true of."""
    where = word(f"recall_where.{line.where.value}")
    asked = line.held or line.where is Where.WRITTEN_OFF
    return f"{where}: {what_to_do(line)}" if asked else where


def _packs(flow: Flow, page_of: RecallPage) -> None:
    if not page_of.lines:
        flow.text(Text(word("paper.recall_none"), 11, bold=True))
        return
    names = word("paper.recall_columns").split("|")
    flow.table(*zip((0.06, 0.14, 0.21, 0.18, 0.13, 0.28), names, strict=True))
    told = ""
    for line in page_of.lines:
        do = _group(line)
        if do != told:
            flow.line(Text(do, 8.5, bold=True), below=24)
            told = do
        flow.row(
            [Text(_BOX if line.held else "—", 11)],
            [Text(line.pack.code, 10, bold=True)],
            [Text(", ".join(one for one in (line.pack.serial, line.pack.date_code) if one) or "—", 8.5)],
            [Text(line.place or "—", 9.5, bold=True)],
            [Text(word(f"recall_match.{line.found.value}"), 8)],
            [Text(say(line.state), 8)],
        )
    flow.end_table()
    flow.space(6)
    flow.text(Text(word("paper.recall_told"), 9))
    flow.space(6)
