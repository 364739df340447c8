"""The power goes in the middle of a round: the draft comes back, and the paper sheet is entered afterwards."""

import datetime as dt
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.labels import with_check
from fleetcare.domain.paper_sheets import Figure
from fleetcare.domain.wording import say
from fleetcare.services import drafts, sheets, summary
from fleetcare.services.telling import entry_note
from fleetcare.ui.main_window import MainWindow
from tests.journeys.unplugged import TYPED_AT
from tests.kestrel import MONDAY, Kestrel
from tests.window_fixtures import Typist

ENTER, TAB, SPACE, DOWN = Qt.Key.Key_Return, Qt.Key.Key_Tab, Qt.Key.Key_Space, Qt.Key.Key_Down
ROOT = Path(__file__).parents[2]


@contextmanager
def running(path: Path, what: str) -> Iterator[subprocess.Popen[str]]:
    """The other process, surely killed in the end."""
    words = [sys.executable, "-m", "tests.journeys.unplugged", str(path), what]
    child = subprocess.Popen(words, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    try:
        yield child
    finally:
        child.kill()
        child.wait()
        assert child.stdout is not None
        child.stdout.close()


@pytest.fixture
def cut(kestrel: Kestrel) -> Kestrel:
    """Two sheets were issued; Dunn typed "41.3" for P-1003 at 06:40 when the power went; now it is 08:40."""
    sheets.issue(kestrel.store, kestrel.clock, 2, kestrel.author("PIKE"), "BENCH-1")
    with running(kestrel.store.path, "window") as child:
        assert child.stdout is not None
        assert child.stdout.readline().strip() == "typed"
        until = time.monotonic() + 30
        while not drafts.offered(kestrel.store, "DUNN", dt.UTC) and time.monotonic() < until:
            time.sleep(0.05)
    kestrel.now = MONDAY + dt.timedelta(hours=2, minutes=10)
    return kestrel


def test_what_was_typed_is_offered_back_and_saved_with_its_own_time(
    cut: Kestrel, window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    assert len(summary.pack_summary(cut.store, cut.clock, "P-1003").checks) == 1
    assert cut.store.verify().good
    hands("B-01", ENTER, "20", ENTER)
    work = window.bench.work
    assert work.drafts.isVisible()
    assert work.drafts.texts() == ["P-1003, typed by Dunn on 2 Nov 2026 06:40, never saved: looked over, rested 41.3 V"]
    qtbot.keyClick(work.scan.edit, Qt.Key.Key_G, Qt.KeyboardModifier.ControlModifier)
    assert work.subject.text() == "P-1003 · EB-13" and work.rested.text == "41.3"
    assert "Typed 2 Nov 2026 06:40 and not saved then" in work.details.text()
    hands(Qt.Key.Key_End, "8", ENTER, "39.78", ENTER, ENTER)
    assert "Saved: P-1003" in work.verdict.text()
    line = summary.pack_summary(cut.store, cut.clock, "P-1003").checks[0]
    assert (str(line.rested_v), line.done_at, line.entered_at) == ("41.38", TYPED_AT, cut.now)
    assert str(line.bench_c) == "18" and "entered 2 Nov 2026 08:40" in entry_note(line)
    assert not work.drafts.isVisible()
    window.bench._keeper.settle()
    assert drafts.offered(cut.store, "DUNN", dt.UTC) == ()


def test_a_draft_that_was_saved_elsewhere_meanwhile_is_not_gone_on_with(
    cut: Kestrel, window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "20", ENTER)
    work = window.bench.work
    (offer,) = work.drafts.offers
    drafts.discard(cut.store, cut.clock, cut.author(), offer.draft_id)
    qtbot.keyClick(work.scan.edit, Qt.Key.Key_G, Qt.KeyboardModifier.ControlModifier)
    assert work.rested.text == "" and "saved or discarded elsewhere" in work.wrong.text()
    assert work.drafts.texts() == []


def test_another_person_sees_whose_it_is_and_cannot_go_on_with_it(
    cut: Kestrel, window: MainWindow, hands: Typist
) -> None:
    hands("B-03", ENTER, "20", ENTER)
    work = window.bench.work
    assert work.drafts.texts() == [
        "P-1003, typed by Dunn on 2 Nov 2026 06:40, never saved. Only Dunn can go on with it."
    ]
    assert work.drafts.first_own() is None


def test_the_paper_sheet_of_the_outage_is_entered_line_by_line_without_a_mouse(
    cut: Kestrel, window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "20", ENTER)
    qtbot.keyClick(window.bench.work.scan.edit, Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)
    form = window.sheets.form
    assert form.sheet.edit.hasFocus()
    hands(with_check("S2611020630-01"), ENTER)
    assert form.line.text == "1" and form.date.text == "2026-11-02" and form.meter.text == "M-01"
    hands(ENTER, ENTER, "18", ENTER, "EB-15", ENTER, "P-1005", ENTER, "06:55", ENTER, "pike", ENTER, SPACE, TAB)
    hands(DOWN, DOWN, DOWN, TAB, "41.38", ENTER, "39.98", ENTER, "8", ENTER, ENTER, "by torch", ENTER)
    assert window.sheets.said.text() == "Sheet S2611020630-01, line 1 entered. Saved: P-1005, pass."
    line = summary.pack_summary(cut.store, cut.clock, "P-1005").checks[0]
    assert (line.done_at, line.person_name, line.done_by) == (MONDAY + dt.timedelta(minutes=25), "Dunn", "Pike")
    assert entry_note(line) == "entered 2 Nov 2026 08:40; from sheet S2611020630-01, line 1, done by Pike"

    assert form.line.text == "2" and form.vehicle.edit.hasFocus()
    hands("EB-17", ENTER, "P-1007", ENTER, "07:02", ENTER)
    form.unreadable[Figure.RESTED].setFocus()
    hands(SPACE)
    form.as_written.edit.setFocus()
    hands("4?.38", ENTER, ENTER)
    assert "it does not count as a check of P-1007" in window.sheets.said.text()
    assert len(summary.pack_summary(cut.store, cut.clock, "P-1007").checks) == 1

    form.line.edit.setFocus()
    form.line.edit.selectAll()
    hands("1", ENTER, ENTER, ENTER, "EB-16", ENTER, "P-1006", ENTER, "07:10", ENTER, ENTER, SPACE, TAB)
    hands(DOWN, DOWN, DOWN, TAB, "41.50", ENTER, ENTER, ENTER, ENTER, ENTER)
    assert window.sheets.query.isVisible() and "already entered by Dunn" in window.sheets.query_text.text()
    assert form.pack.text == "P-1006" and form.rested.text == "41.50"
    hands("photocopied blank", ENTER)
    assert summary.pack_summary(cut.store, cut.clock, "P-1006").checks[0].done_by == "Pike"
    assert cut.store.verify().good


def test_a_check_and_its_draft_are_never_both_there_nor_both_gone(kestrel: Kestrel) -> None:
    with running(kestrel.store.path, "saving") as child:
        assert child.stdout is not None
        for _ in range(25):
            assert child.stdout.readline().strip() == "saved"
    report = kestrel.store.verify()
    assert report.good, [say(fault) for fault in report.faults]
    with kestrel.store.view() as view:
        recorded = {one.check.remark for number in range(1, 11) for one in view.checks_of(f"P-10{number:02d}")}
        kept = {one.typed.remark for one in drafts.offered(kestrel.store, "DUNN", dt.UTC) if one.typed}
    assert len(recorded) >= 25 and len(kept) <= 1 and not recorded & kept


def test_the_window_leaves_a_draft_when_it_is_closed_and_when_another_person_signs_in(
    window: MainWindow, hands: Typist, kestrel: Kestrel, app: App
) -> None:
    hands("B-01", ENTER, "18", ENTER, "EB-12", ENTER, "P-1002", ENTER, "3", "41.2")
    hands(Qt.Key.Key_F12)
    hands("B-02", ENTER)
    work = window.bench.work
    assert work.rested.text == "" and work.drafts.texts()[0].startswith("P-1002, typed by Dunn")
    hands("EB-13", ENTER, "P-1003", ENTER, "3", "40.1")
    window.close()
    assert {one.subject for one in drafts.offered(kestrel.store, "PIKE", dt.UTC)} == {"P-1002", "P-1003"}
