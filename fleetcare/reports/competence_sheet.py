"""The matrix of people, levels and trainings on paper, with what runs out soon first."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from fleetcare.domain.competence import SOON_DAYS, State
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import apart, msg, say, show_date, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.services.competence import Matrix
from fleetcare.services.competence_words import cell_text, firm_text, granted_text, level_text, next_text
from fleetcare.services.writing_files import whole_file


def write(matrix: Matrix, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime) -> int:
    """Write the matrix to `path` and return its number of pages."""
    path.parent.mkdir(parents=True, exist_ok=True)
    today = matrix.as_of.date()
    running = Running(
        word("paper.competence_title"), show_date(today), matrix.fleet_name, matrix.demo, matrix.as_of,
        Head(matrix.position, matrix.fingerprint).short, printed_by, printed_at,
    )  # fmt: skip
    with whole_file(path) as fresh, fresh.open("wb") as file:
        flow = Flow(file, running, page=page)
        flow.heading(word("paper.competence_title"), 15)
        soon = msg("competence.soon_line", count=len(matrix.soon), soon_days=SOON_DAYS)
        flow.text(Text(say(soon if matrix.soon else msg("competence.soon_none", soon_days=SOON_DAYS)), 10, bold=True))
        flow.text(Text(word("competence.note"), 8, quiet=True))
        flow.space(5)
        flow.table(
            (0.16, word("competence.person")), (0.19, word("competence.level_now")), (0.19, word("competence.granted")),
            (0.28, word("competence.item")), (0.18, word("competence.next")),
        )  # fmt: skip
        for row in matrix.rows:
            trained = [
                Text(f"{apart(item)}: {cell_text(cell, today)}", 8, bold=cell.state in (State.SOON, State.EXPIRED))
                for item, cell in zip(matrix.items, row.cells, strict=True)
                if cell.training is not None
            ]
            flow.row(
                [Text(row.person.name, 9.5, bold=True), Text(firm_text(row), 7.5, quiet=True)],
                [Text(level_text(row), 8.5, bold=row.expired)],
                [Text(granted_text(row, today), 8, bold=row.level_state in (State.SOON, State.EXPIRED))],
                trained or [Text(word("competence.items_none"), 8, quiet=True)],
                [Text(next_text(row), 8)],
            )
        flow.end_table()
        if matrix.meters:
            flow.space(6)
            flow.heading(word("competence.meters"), 11)
            for one in matrix.meters:
                flow.text(
                    Text(f"{one.meter.code} · {apart(one.meter.owner)} · {apart(one.meter.name)}: {say(one.why)}", 8.5)
                )
        flow.space(8)
        flow.text(Text(word("paper.competence_note"), 8))
        flow.space(8)
        flow.text(Text(word("paper.competence_signed"), 9))
        return flow.finish()
