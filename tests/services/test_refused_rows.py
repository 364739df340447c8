"""Refused rows of an old spreadsheet, saved for mending and brought in again."""

from pathlib import Path

import pytest

from fleetcare.domain.errors import FileRefused
from fleetcare.services import oldsheets, parked, refused_rows, table_files
from tests.kestrel import Kestrel

LOG = """Battery no;Date;Volts;Rest (min);Meter;Notes
P-1002;2026-04-03;41,52;90;M-01;
P-1002;;41,40;90;M-01;
P-1002;31/02/2026;41,38;90;M-01;=late
"""


def test_refused_rows_are_saved_with_reasons_mended_and_brought_in(kestrel: Kestrel, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(LOG, "utf-8")
    shown = oldsheets.preview(kestrel.store, kestrel.clock, log, oldsheets.survey(kestrel.store, log).plan)
    assert [(one.row, one.reason.key) for one in shown.refused] == [(3, "oldsheet.no_date"), (4, "oldsheet.moment")]
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
    saved = tmp_path / "refused.csv"
    refused_rows.write(shown.refused, shown.plan.headings, saved)
    lines = [cells for _, cells in table_files.rows(saved, "")]
    assert lines[0][-2:] == ["Row in the old sheet", "Why it was refused"]
    assert lines[1] == ["P-1002", "", "41,40", "90", "M-01", "", "3", "no date is written"]
    assert lines[2][5:7] == ["'=late", "4"]

    text = saved.read_text("utf-8-sig").replace("31/02/2026", "2026-02-28").replace("P-1002,,", "P-1002,2026-04-10,")
    saved.write_text(text, "utf-8")
    again = oldsheets.preview(kestrel.store, kestrel.clock, saved, oldsheets.survey(kestrel.store, saved).plan)
    assert again.counts == {"checks": 2} and not again.refused


def test_a_place_that_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(FileRefused) as refused:
        refused_rows.write([], ("Date",), tmp_path / "none" / "refused.csv")
    assert refused.value.message.key == "oldsheet.refused_unwritten"


def test_only_so_many_refused_rows_are_kept(kestrel: Kestrel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(oldsheets, "MOST", 1)
    log = tmp_path / "log.csv"
    log.write_text(LOG, "utf-8")
    shown = oldsheets.preview(kestrel.store, kestrel.clock, log, oldsheets.survey(kestrel.store, log).plan)
    assert shown.counts["refused"] == 2 and len(shown.refused) == 1


def test_the_list_of_imports_names_people(kestrel: Kestrel, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(LOG, "utf-8")
    shown = oldsheets.preview(kestrel.store, kestrel.clock, log, oldsheets.survey(kestrel.store, log).plan)
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
    assert [one.by for one in parked.imports_so_far(kestrel.store)] == [kestrel.author().person.name]
