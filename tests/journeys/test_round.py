"""A mechanic's round from screen to bench and paper, and a winter's lay-up of twelve packs."""

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path

import pypdf
import pytest
import vobject
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.packs import Pack, Roster
from fleetcare.domain.status import PackState
from fleetcare.domain.wording import say
from fleetcare.reports import work_sheets
from fleetcare.services import record, summary
from fleetcare.settings import Settings
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel, build, build_morning
from tests.window_fixtures import Typist, shown_paper

ENTER, F8 = Qt.Key.Key_Return, Qt.Key.Key_F8


@pytest.fixture
def morning(tmp_path: Path) -> Iterator[Kestrel]:
    made = build_morning(tmp_path / "morning.fleet")
    hours = [
        ("roster", Roster("DUNN", "KW", (12, 12, 12, 12, 12, 0, 0))),
        ("roster", Roster("PIKE", "KW", (0, 90, 90, 90, 90, 0, 0))),
        ("roster", Roster("FARROW", "KW", (0,) * 7)),
    ]
    record.put_things(made.store, made.clock, made.author("ORMOND"), *hours)
    yield made
    made.store.close()


@pytest.fixture
def app(morning: Kestrel) -> App:
    return App(morning.store, morning.clock, "BENCH-1", Settings())


def until(qtbot: QtBot, ready: Callable[[], object]) -> None:
    """Wait for what is planned in the background, on a busy machine too."""
    qtbot.waitUntil(ready, timeout=30_000)


def start_shift(hands: Typist) -> None:
    hands("B-01", ENTER, "18", ENTER)


def test_the_round_is_read_started_and_ends_the_shift(
    window: MainWindow, hands: Typist, morning: Kestrel, qtbot: QtBot
) -> None:
    start_shift(hands)
    hands(Qt.Key.Key_F2)
    hands(F8)
    today = window.round.today
    until(qtbot, lambda: today.model.rowCount() == 2)
    assert window.stack.currentWidget() is window.round and today.table.hasFocus()
    assert today.heading.text() == "Round of Kestrel Wharf, Monday 2 Nov 2026"
    assert [today.model.index(row, 0).data() for row in range(2)] == ["P-1008", "P-1023"]
    assert today.kept.text() == (
        "Overdue: 2, all on this day's round. What falls due on the next 10 working days can be done in time."
    )
    assert today.shift.text() == "0 checked, 0 pulled, 2 left open; 1 entry typed and not saved"
    hands(ENTER)
    work = window.bench.work
    assert window.stack.currentWidget() is window.bench and "P-1008 · EB-18" in work.subject.text()
    hands(F8)
    assert window.stack.currentWidget() is window.bench and work.look.found == ()
    hands("3", "41.60", ENTER, ENTER)
    until(qtbot, lambda: window.bench.work.scan.edit.hasFocus())
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_R, Qt.KeyboardModifier.ControlModifier)
    until(qtbot, lambda: today.shift.text() == "1 checked, 0 pulled, 1 left open; 1 entry typed and not saved")
    assert [today.model.index(row, 0).data() for row in range(today.model.rowCount())] == ["P-1023"]


def test_a_mechanic_off_sick_is_recorded_and_what_moved_is_shown(
    window: MainWindow, hands: Typist, morning: Kestrel, qtbot: QtBot
) -> None:
    start_shift(hands)
    window.go("round")
    window.round.tabs.setCurrentIndex(2)
    page = window.round.away
    until(qtbot, lambda: page.person.box.count() > 1)
    page.person.choose("PIKE")
    page.absence.fields["from_date"].edit.setFocus()
    hands("2026-11-03", Qt.Key.Key_Tab, "2026-11-05", Qt.Key.Key_Tab, "off sick", ENTER)
    assert page.absence.said.text() == "Pike: no checks from 3 Nov 2026 to 5 Nov 2026."
    until(qtbot, page.changed_card.isVisible)
    assert "Dunn" in page.changed.text() or "now finds no day" in page.changed.text()
    until(qtbot, lambda: page.model.rowCount() == 1)
    window.round.tabs.setCurrentIndex(0)
    today = window.round.today
    until(qtbot, today.cannot.isVisible)
    assert "checks cannot be done by 4 Nov 2026 with 36 min: P-" in today.cannot.text()


def test_the_round_goes_on_paper_into_a_table_and_a_calendar(
    window: MainWindow, hands: Typist, morning: Kestrel, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    start_shift(hands)
    window.go("round")
    today = window.round.today
    until(qtbot, lambda: today.model.rowCount() == 2)
    made = {name: tmp_path / name for name in ("round.pdf", "round.xlsx", "round.ics")}
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(made["round.pdf"]), ""))
    qtbot.mouseClick(today.print_button, Qt.MouseButton.LeftButton)
    paper = shown_paper(window, qtbot)
    qtbot.mouseClick(paper.buttons["save"], Qt.MouseButton.LeftButton)
    paper.close()
    for button, path in ((today.table_button, made["round.xlsx"]), (today.calendar_button, made["round.ics"])):
        monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, p=path: (str(p), ""))
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        until(qtbot, path.exists)
    printed = "".join("".join(page.extract_text().split()) for page in pypdf.PdfReader(made["round.pdf"]).pages)
    for words in ("Round list: Kestrel Wharf, Monday 2 Nov 2026", "P-1008", "EB-18", "check, due 25 Oct 2026, 2 minutes",
                  "Dunn: 2 to do, 4 minutes of 12 min"):  # fmt: skip
        assert "".join(words.split()) in printed, words
    assert printed.index("P-1008") < printed.index("P-1023")
    assert vobject.readOne(made["round.ics"].read_text("utf-8")).vevent_list


# Twelve packs put away for the winter; the readings are this test's own.
LAID_UP = {
    "P-1011": "37.42", "P-1012": "37.80", "P-1013": "36.05", "P-1014": "38.20", "P-1501": "37.10", "P-1502": "36.90",
    "P-1503": "38.40", "P-1504": "37.55", "P-1505": "36.40", "P-1506": "29.10", "P-1507": "23.70", "P-1508": "37.00",
}  # fmt: skip


@pytest.fixture
def winter(tmp_path: Path) -> Iterator[Kestrel]:
    made = build(tmp_path / "winter.fleet")
    packs = [("pack", Pack(f"P-150{n}", "K36-A", f"2403-80{n}", shelf="Store")) for n in range(1, 9)]
    record.put_things(made.store, made.clock, made.author("ORMOND"), *packs)
    yield made
    made.store.close()


def weeks_pass(kestrel: Kestrel, window: MainWindow, days: int) -> None:
    """Days go by with work on another pack, seen by the window: a clock that jumps over weeks would be asked about."""
    for _ in range(days // 2):
        kestrel.now += dt.timedelta(days=2)
        kestrel.check("P-1001", "41.60", vehicle="EB-11")
        window.go("bench")
        window._app.clock()


class TestWinter:
    """Twelve packs laid up, one found low and one deep-discharged, and one brought back."""

    @pytest.fixture
    def app(self, winter: Kestrel) -> App:
        return App(winter.store, winter.clock, "BENCH-1", Settings())

    def test_twelve_packs_through_a_winter(
        self, window: MainWindow, hands: Typist, winter: Kestrel, qtbot: QtBot, tmp_path: Path
    ) -> None:
        start_shift(hands)
        window.go("round")
        window.round.tabs.setCurrentIndex(3)
        page = window.round.layup
        page.put.fields["group"].edit.setFocus()
        hands("winter-1", Qt.Key.Key_Tab, "Rack 9")
        page.packs.edit.setFocus()
        for code in LAID_UP:
            hands(code, ENTER)
        page.put.do.click()
        assert page.put.said.text() == (
            "Packs laid up in WINTER-1: 12. Weekly checks suspended, first look within 60 days."
        )
        until(qtbot, lambda: page.model.rowCount() == 12)

        weeks_pass(winter, window, 58)
        window.go("bench")
        window.go("round")
        until(qtbot, lambda: page.meter.box.count() > 1)
        page.meter.choose("M-01")
        for code, volts in LAID_UP.items():
            page.pack.edit.setFocus()
            page.pack.edit.clear()
            hands(code, ENTER)
            assert "storage band 36.00 V to 38.50 V (proposal of this program)" in page.band.text()
            assert page.volts.edit.hasFocus()
            hands(volts)
            page.good.setChecked(True)
            page.look.do.click()
            assert code in page.look.said.text(), page.look.said.text()
        until(qtbot, lambda: all(row.standing is not None for row in page.model.rows))
        states = {row.pack.code: row.status for row in summary.pack_rows(winter.store, winter.clock)}
        assert states["P-1506"].state is PackState.HELD and states["P-1507"].state is PackState.QUARANTINED
        assert "hold below 3.00 V" in say(states["P-1506"].reasons[0].text)
        assert "do not charge below 2.50 V" in say(states["P-1507"].reasons[0].text)
        assert [states[code].state for code in LAID_UP].count(PackState.LAID_UP) == 10
        shown = [(row.pack.code, row.standing.value) for row in page.model.rows]
        assert shown[:2] == [("P-1507", "deep"), ("P-1506", "low")]
        assert {standing for _, standing in shown[2:]} == {"in_band"}
        good = next(row for row in page.model.rows if row.pack.code == "P-1011")
        assert good.next_look == winter.now.date() + dt.timedelta(days=60)

        path = tmp_path / "layup.pdf"
        words = {"page": "A4", "printed_by": "Dunn", "printed_at": winter.now}
        work_sheets.write("layup", winter.store, winter.clock, path, **words)
        printed = "".join("".join(one.extract_text().split()) for one in pypdf.PdfReader(path).pages)
        for said in ("Packs laid up: 12", "23.70 V on 30 Dec 2026", "deep-discharged: quarantine, never charge it",
                     "29.10 V on 30 Dec 2026", "low: held", "28 Feb 2027", "proposal of this program"):  # fmt: skip
            assert "".join(said.split()) in printed, said

        weeks_pass(winter, window, 30)
        window.go("round")
        until(qtbot, lambda: page.model.rowCount() == 12)
        codes = [row.pack.code for row in page.model.rows]
        page.table.selectRow(codes.index("P-1011"))
        page.out.click()
        until(qtbot, lambda: page.model.rowCount() == 11)
        back = summary.pack_summary(winter.store, winter.clock, "P-1011").status
        assert not back.usable and "no full check passed since" in say(back.reasons[0].text)
        winter.now += dt.timedelta(hours=9)
        window.go("bench")
        window.bench.work.scan.edit.setFocus()
        hands("P-1011", ENTER, F8, "3", "41.50", ENTER, ENTER)
        assert summary.pack_summary(winter.store, winter.clock, "P-1011").status.state is PackState.READY
