"""A printed slip with the fingerprint, to be kept outside the depot."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import show_moment, word
from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.services.writing_files import whole_file


def write(
    fleet_name: str,
    fleet_id: str,
    head: Head,
    path: Path,
    *,
    as_of: dt.datetime,
    page: str,
    printed_by: str,
    printed_at: dt.datetime,
    demo: bool,
) -> None:
    """Write the slip to `path` on A4 or Letter paper."""
    title = word("proof.slip_title")
    running = Running(title, show_moment(as_of), fleet_name, demo, as_of, head.short, printed_by, printed_at)
    digits = [head.root_hex[i : i + 4] for i in range(0, 64, 4)]
    with whole_file(path) as fresh, fresh.open("wb") as file:
        flow = Flow(file, running, page=page)
        flow.heading(title, 15)
        flow.text(Text(word("proof.slip_text"), 10))
        flow.space(10)
        flow.text(Text(head.short, 20, bold=True))
        flow.space(10)
        for key, value in (
            ("proof.slip_full", " ".join(digits)), ("proof.slip_records", f"{head.size:,}"),
            ("proof.slip_fleet", fleet_id),
        ):  # fmt: skip
            flow.text(Text(word(key), 8, quiet=True), Text(value, 10))
            flow.space(4)
        flow.finish()
