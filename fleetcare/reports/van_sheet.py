"""The van list on paper: what is on it, as what it goes, loaded and unloaded to tick, and who decides on marks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import Message, msg, say, show_moment, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.safety import put_notes
from fleetcare.reports.settling import settled
from fleetcare.services.in_force import DepotRules
from fleetcare.services.van_lists import VanPage
from fleetcare.services.writing_files import whole_file

_BOX = "\u25a1"


def write(
    van: VanPage, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime, rules: Sequence[DepotRules] = ()
) -> int:  # fmt: skip
    """Write one van list to `path`; the folder is made where it is missing.  Returns the number of pages."""
    path.parent.mkdir(parents=True, exist_ok=True)
    loaded = van.loaded
    head = Head(van.position, van.fingerprint)
    running = Running(
        word("sheet.van_title"), loaded.number, van.fleet_name, van.demo, van.as_of, head.short, printed_by, printed_at
    )

    def put(flow: Flow) -> None:
        flow.heading(f"{word('sheet.van_title')} {loaded.number}", 16)
        flow.text(Text(say(_told(van)), 10, bold=True))
        flow.space(4)
        flow.table(
            (0.13, word("parts.code")), (0.10, word("away.class")), (0.20, word("van.model")),
            (0.14, word("van.serial")), (0.23, word("van.mark")), (0.10, word("sheet.van_loaded")),
            (0.10, word("sheet.van_unloaded")),
        )  # fmt: skip
        for one in van.items:
            flow.row(
                [Text(one.code, 11, bold=True)], [Text(one.what, 8)],
                [Text(one.model, 8), Text(say(one.where), 7.5, quiet=True)], [Text(one.serial or "—", 8)],
                [Text(say(one.mark), 8)], [Text(_BOX, 14)], [Text(_BOX if not one.arrived else "\u2713", 14)],
            )  # fmt: skip
        flow.end_table()
        flow.space(6)
        for one in van.items:
            for reason in one.held:
                flow.text(Text(say(msg("sheet.van_held_since", code=one.code, reason_sentence=reason)), 10, bold=True))
        if any(not line.vehicle for line in loaded.lines) and loaded.contacts_covered:
            flow.text(Text("\u2713 " + word("sheet.van_covered"), 10))
        flow.text(Text(word("sheet.van_rule"), 9), Text(word("sheet.van_marks"), 9))
        flow.space(14)
        flow.text(Text(word("sheet.van_sign"), 9.5))
        put_notes(flow, "transport", rules)

    with whole_file(path) as fresh:
        return settled(fresh, running, page=page, put=put)


def _told(van: VanPage) -> Message:
    loaded = van.loaded
    loose = sum(not line.vehicle for line in loaded.lines)
    return msg(
        "sheet.van_told", from_depot=van.from_name, to_depot=van.to_name, left_at=show_moment(loaded.done_at),
        driver=loaded.driver, loose=loose, fitted=len(loaded.lines) - loose, vehicles=len(loaded.vehicles),
    )  # fmt: skip
