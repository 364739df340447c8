"""What is held stays held until the rule lets it go, and what is gone stays gone: a real window, and the command line agrees."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QWidget
from pytestqt.qtbot import QtBot

from fleetcare import app as builder
from fleetcare.app import App
from fleetcare.cli.commands import run
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import Hold, HoldClass, LookItem, LookOver
from fleetcare.domain.packs import Level, Training
from fleetcare.domain.quarantine import HeadAnswer
from fleetcare.domain.wording import msg, say
from fleetcare.services import charging, laying_up, record, summary
from fleetcare.services.telling import line_text
from fleetcare.settings import Settings
from fleetcare.ui.board.anyway import AnywayDialog
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.deed_page import DeedPage
from tests.kestrel import MONDAY, D, Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
Printed = Callable[..., str]


@pytest.fixture
def printed(kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Printed:
    """Run a command on the depot's own file with its clock; returns what it printed."""
    monkeypatch.setattr(builder, "open_app", lambda _path: App(kestrel.store, kestrel.clock, "DESK", Settings()))

    def command(*words: str) -> str:
        capsys.readouterr()
        assert run([*words]) == 0
        return capsys.readouterr().out

    return command


def fill(hands: Typist, page: DeedPage, **typed: str) -> None:
    for name, text in typed.items():
        page.fields[name].edit.setFocus()
        page.fields[name].edit.clear()
        hands(text)


def state_of(kestrel: Kestrel, pack: str) -> str:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state.value


def wrongs(page: DeedPage) -> str:
    told = [field.wrong.text() for field in page.fields.values()]
    return " ".join([*filter(None, told), page.wrong.text() if page.wrong.isVisible() else ""])


def test_a_release_is_refused_in_every_way_but_the_right_one(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, printed: Printed
) -> None:
    """Farrow holds, Dunn disagrees: both records stand, the safer state holds until a deed of its own ends it."""
    hands("B-03", ENTER)
    window.go("faults")
    page = window.faults.holds
    window.faults.show_page(page)
    fill(hands, page, subject="P-1009", remark="case rattles")
    page.hold_button.click()
    assert state_of(kestrel, "P-1009") == "held"
    look = LookOver("P-1010", kestrel.now, "EB-20", (LookItem.SWOLLEN,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author("PIKE"), look, (), "Q-1")
    page.refresh()

    def release(code: str, **typed: str) -> str:
        codes = [line.subject for line in page.model.rows]
        page.table.selectRow(codes.index(code))
        assert code in page.release_card.heading.text()
        fill(hands, page, **{"reason": "", "badge": ""} | typed)
        page.release_button.click()
        return wrongs(page)

    assert "may not release" in release("P-1009", reason="nothing rattles", badge="B-03")
    window.session.sign_in(kestrel.people["DUNN"])
    window.go("faults")
    window.faults.show_page(page)
    assert "needs a reason" in release("P-1009", badge="B-01")
    assert "no passed check since" in release("P-1009", reason="nothing rattles", badge="B-01")
    assert "not released here" in release("P-1010", reason="looks flat to me", badge="B-01")
    kestrel.now += dt.timedelta(minutes=20)
    kestrel.check("P-1009", "41.40", vehicle="EB-19")
    assert state_of(kestrel, "P-1009") == "held", "a reading releases nothing"
    assert "own badge or PIN" in release("P-1009", reason="case screwed tight", badge="B-02")
    assert "P-1009" in printed("holds") and "case rattles" in printed("holds")
    assert release("P-1009", reason="case screwed tight", badge="B-01") == ""
    assert state_of(kestrel, "P-1009") == "ready" and "P-1009" not in printed("holds")
    told = [line_text(event) for event in summary.pack_summary(kestrel.store, kestrel.clock, "P-1009").events]
    assert any("case rattles" in text for text in told) and any("case screwed tight" in text for text in told)


def test_no_single_key_releases_anything(window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot) -> None:
    hold = Hold("vehicle", "EB-17", HoldClass.ACTION_DUE, kestrel.now, msg("ground.by_person"), "lamp")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    hands("B-01", ENTER)
    window.go("faults")
    window.faults.show_page(window.faults.holds)
    window.faults.holds.table.selectRow(0)
    for place in (window.faults.holds.table, window.faults.holds.release_button):
        place.setFocus()
        for key in (*range(Qt.Key.Key_A, Qt.Key.Key_Z + 1), Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Delete):
            qtbot.keyClick(place, Qt.Key(key))
    with kestrel.store.view() as view:
        assert len(view.open_holds(("vehicle", "EB-17"))) == 1


def test_a_training_that_ends_today_counts_no_more_from_midnight_on(
    window: MainWindow, hands: Typist, kestrel: Kestrel, printed: Printed
) -> None:
    for code, day in (("PIKE", dt.date(2026, 11, 2)), ("DUNN", dt.date(2026, 11, 3))):
        had = Training("Fuse work", dt.date(2025, 11, 2), day, Level.MAY_RELEASE, "course 12")
        kestrel.people[code] = replace(kestrel.people[code], trainings=(had,))
        record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("person", kestrel.people[code]))
    for vehicle in ("EB-16", "EB-17"):
        hold = Hold("vehicle", vehicle, HoldClass.ACTION_DUE, kestrel.now, msg("ground.by_person"), "lamp")
        record.set_hold(kestrel.store, kestrel.clock, kestrel.author("HALE"), hold)
    kestrel.now = MONDAY.replace(hour=23, minute=59)
    hands("B-02", ENTER)
    assert "Pike, may check" in window.bar.who.text()
    window.go("faults")
    page = window.faults.holds
    window.faults.show_page(page)

    def release(badge: str) -> str:
        page.table.selectRow(0)
        fill(hands, page, reason="lamp changed", badge=badge)
        page.release_button.click()
        return wrongs(page)

    assert "Pike may not release on 2 Nov 2026" in release("B-02")
    window.session.sign_in(kestrel.people["DUNN"])
    window.go("faults")
    window.faults.show_page(page)
    assert release("B-01") == "" and page.model.rowCount() == 1
    kestrel.now = MONDAY.replace(day=3, hour=0, minute=0)
    assert "Dunn may not release on 3 Nov 2026" in release("B-01")
    assert "RAN OUT 3 Nov 2026" in printed("competence")


def test_a_due_check_is_put_off_by_name_on_the_board_and_lapses_by_itself(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, printed: Printed
) -> None:
    """Checked 30 Oct, due 6 Nov, good until 13 Nov; three days more at most (a site setting, proposal)."""
    kestrel.now = MONDAY + dt.timedelta(days=12)
    kestrel.check("P-1317", "54.20")
    hold = Hold("pack", "P-1003", HoldClass.FAULT, kestrel.now, msg("hold.by_person"), "rattles")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    hands("B-05", ENTER)
    said: list[str] = []

    def anyway(vehicle: str, **typed: str) -> str:
        window.go("board")
        qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
        window.board.choose(vehicle)
        said.clear()

        def answer() -> None:
            dialog = QApplication.activeModalWidget()
            assert isinstance(dialog, AnywayDialog)
            said.extend(dialog.told)
            if dialog.may and typed:
                dialog.until.edit.setText(typed["until"])
                dialog.reason.edit.setText(typed["reason"])
                dialog.do.click()
                said.extend((dialog.until.wrong.text(), dialog.reason.wrong.text()))
            if dialog.isVisible():
                dialog.reject()

        QTimer.singleShot(0, answer)
        window.board.side.details.buttons["anyway"].click()
        return " ".join(said)

    assert "allow no due check to be put off" in anyway("EB-18")
    window.go("cases")
    tab = window.cases.decisions
    window.cases.show_tab(tab)
    tab.allowed.setChecked(True)
    tab.rule.fields["most_days"].edit.setText("3")
    tab.rule.do.click()
    assert "saved" in tab.rule.said.text()
    assert "too far: at most 3 days" in anyway("EB-18", until="2026-11-17", reason="off sick")
    assert "puts nothing off" in anyway("EB-18", until="2026-11-13", reason="off sick")
    assert "is not a date" in anyway("EB-18", until="16 Nov", reason="off sick")
    assert "Say why" in anyway("EB-18", until="2026-11-16", reason="")
    assert "More than lateness" in anyway("EB-13", until="2026-11-16", reason="off sick")
    anyway("EB-18", until="2026-11-16", reason="mechanic off sick")
    line = next(
        one for one in summary.fleet_summary(kestrel.store, kestrel.clock).vehicles if one.vehicle.code == "EB-18"
    )
    assert line.status.state.value == "ready_but_due"
    assert "Ormond put it off until 16 Nov 2026: mechanic off sick" in say(line.status.reasons[0].text)
    row = next(text for text in printed("board").splitlines() if text.startswith("EB-18"))
    assert "ready, check due" in row
    kestrel.now = MONDAY.replace(day=17, hour=0, minute=1)
    row = next(text for text in printed("board").splitlines() if text.startswith("EB-18"))
    assert "grounded" in row


def test_a_charger_found_low_a_charge_noted_late_and_a_pack_that_may_not_be_charged(
    window: MainWindow, hands: Typist, kestrel: Kestrel, printed: Printed
) -> None:
    kestrel.now = MONDAY - dt.timedelta(days=20)
    charging.record_output(kestrel.store, kestrel.clock, kestrel.author(), "C-36-4", "M-01", D("42.00"))
    kestrel.now = MONDAY
    kestrel.check("P-1318", "54.20")
    hands("B-01", ENTER, "18", ENTER, ENTER)
    window.go("faults")
    page = window.faults.chargers
    window.faults.show_page(page)

    def charge(pack: str, charger: str, when: str = "") -> str:
        fill(hands, page, charger=charger, pack=pack, done_at=when)
        page.charge_button.click()
        return wrongs(page) or page.result.text()

    assert "is not a date" in charge("P-1002", "C-36-4", "28 Oct 18:30")
    assert "is not a time" in charge("P-1002", "C-36-4", "2026-10-28 half six")
    assert "later than" in charge("P-1002", "C-36-4", "2026-11-28 18:30") or "clock" in wrongs(page)
    assert "P-1002 charged on C-36-4: kept" in charge("P-1002", "C-36-4", "2026-10-28 18:30")
    assert "kept" in charge("P-1003", "C-36-4", "2026-11-01 19:00")
    kestrel.check("P-1003", "40.70", vehicle="EB-13")
    fill(hands, page, charger="C-36-4", measured_v="41.58")
    page.output_button.click()
    assert "within 41.58" in page.result.text()
    assert "No pack is on record as charged on C-36-4" in page.since.text()
    assert "kept" in charge("P-1002", "C-36-4") and "kept" in charge("P-1003", "C-36-4")
    kestrel.now += dt.timedelta(minutes=5)
    assert "kept" in charge("P-1002", "C-36-4") and "kept" in charge("P-1003", "C-36-4")
    fill(hands, page, charger="C-36-4", measured_v="41.57")
    page.output_button.click()
    assert "below 41.58 V: withdrawn" in page.result.text()
    assert [row.pack for row in page.suspects.rows] == ["P-1003", "P-1002"]
    assert page.since.text().endswith("worst first: 2")
    assert "withdrawn: 41.57 V, below 41.58 V" in printed("chargers")
    assert [row.split()[0] for row in printed("chargers", "C-36-4").splitlines()[2:]] == ["P-1003", "P-1002"]
    assert "C-36-4 is withdrawn" in charge("P-1005", "C-36-4")


def test_a_deep_discharged_pack_out_of_lay_up_never_meets_a_charger(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, printed: Printed
) -> None:
    packs = ("P-1011", "P-1012", "P-1013")
    laying_up.lay_up(kestrel.store, kestrel.clock, kestrel.author(), "W-1", packs, shelf="Rack 9")
    for day in range(1, 58, 7):
        kestrel.now = MONDAY + dt.timedelta(days=day)
        kestrel.check("P-1318", "54.20")
    hands("B-03", ENTER, "u", ENTER)
    window.go("round")
    window.round.tabs.setCurrentIndex(3)
    page = window.round.layup
    qtbot.waitUntil(lambda: page.meter.box.count() > 1)
    for code, volts in zip(packs, ("23.90", "28.10", "0.00"), strict=True):
        page.choose(code)
        page.volts.edit.setText(volts)
        page.meter.choose("M-01")
        page.look.do.click()
    assert [state_of(kestrel, code) for code in packs] == ["quarantined", "held", "laid_up"]
    window.go("faults")
    chargers = window.faults.chargers
    window.faults.show_page(chargers)
    for code, words in zip(packs, ("quarantined and is never put", "only attended", "Never on a charger"), strict=True):
        fill(hands, chargers, charger="C-36-1", pack=code)
        chargers.charge_button.click()
        assert words in chargers.wrong.text()
        with kestrel.store.view() as view:
            assert view.records_of("charged_on", ("pack", code)) == []
        chargers.charge_button.click()
        assert "stays held" in chargers.result.text()
    assert state_of(kestrel, "P-1013") == "quarantined"
    table = printed("layup")
    assert "deep-discharged: quarantine, never charge it" in table and "says nothing about its cells" in table
    assert "P-1011" in printed("quarantine") and "P-1013" in printed("quarantine")


def test_a_notice_by_date_code_holds_what_it_means_and_what_has_no_code(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, printed: Printed
) -> None:
    codes = {
        "P-1301": "2024-W09",
        "P-1302": "2024-W10",
        "P-1303": "2024-W14",
        "P-1304": "2024-W15",
        "P-1317": "2024 w12",
    }
    with kestrel.store.view() as view:
        known = {code: pack for code, pack in view.things("pack").items() if pack.model == "K48-B"}
    things = [("pack", replace(pack, date_code=codes.get(code, "2025-W01"))) for code, pack in known.items()]
    things.append(("pack", replace(known["P-1305"], serial="", date_code="2024-W12")))
    things.append(("pack", replace(known["P-1306"], date_code="")))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), *things)
    look = LookOver("P-1302", kestrel.now, "CB-01", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look, (), "Q-3")
    kestrel.now += dt.timedelta(minutes=5)
    hands("B-04", ENTER)
    window.go("cases")
    tab = window.cases.recalls
    window.cases.show_tab(tab)
    typed = {"number": "BD/7", "models": "K48-B", "date_code_from": "2024-W10", "date_code_to": "2024-W14"}
    for name, text in typed.items():
        tab.entry.fields[name].edit.setFocus()
        hands(text)
    tab.entry.do.click()
    assert "4 packs meant, 1 cannot be ruled out" in tab.entry.said.text()
    tab.enter.click()
    assert "4 packs meant, 1 cannot be ruled out. Held now: 4." in tab.told.text() and tab.told.isVisible()
    assert "with this reason too: 1" in tab.told.text()
    qtbot.waitUntil(lambda: tab.packs.rowCount() == 5)
    assert {line.pack.code: line.found.value for line in tab.packs.rows} == {
        "P-1302": "matched", "P-1303": "matched", "P-1305": "matched", "P-1317": "matched", "P-1306": "not_ruled_out",
    }  # fmt: skip
    assert "2024-W14" in printed("recall", "BD/7")


def test_six_heads_are_typed_and_a_label_that_is_gone_alarms_on_every_screen(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, printed: Printed
) -> None:
    look = LookOver("P-1009", kestrel.now, "EB-19", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look, (), "Q-2")
    kestrel.now = MONDAY.replace(day=10)
    kestrel.check("P-1318", "54.20")
    hands("B-05", ENTER)
    window.go("faults")
    page = window.faults.quarantine
    window.faults.show_page(page)
    assert "missed: 3 Nov 2026 to 9 Nov 2026 (7 days)" in page.model.data(page.model.index(0, 5))
    assert "3 Nov 2026 to 9 Nov 2026 (7 days)" in printed("quarantine")
    fill(hands, page, carrier="Northfield Carriers", consignment="NC-5012", badge="B-05")
    page.collect.click()
    assert "point 1 of the six" in page.wrong.text()
    for number, choice in enumerate(page.heads.values()):
        box: QComboBox = choice.box
        box.setFocus()
        for _ in range(number % 3 + 1):
            qtbot.keyClick(box, Qt.Key.Key_Down)
        assert choice.chosen(HeadAnswer) is list(HeadAnswer)[number % 3]
    fill(hands, page, weight="2,9kg")
    page.fields["receipt"].edit.setFocus()
    assert page.fields["weight"].text == "2,9kg", "what was typed stays as typed"
    page.collect.click()
    assert "“2,9kg” is not a weight" in page.fields["weight"].wrong.text()
    fill(hands, page, weight="2,9")
    page.collect.click()
    assert "written off" in page.result.text() and not page.cards[1].isVisible() and page.empty.isVisible()

    def scanned() -> None:
        for letter in "P-1009":
            target: QWidget = QApplication.focusWidget() or window
            QTest.keyClick(target, letter)
        QTest.keyClick(QApplication.focusWidget() or window, ENTER)

    for screen in ("bench", "board", "packs", "vehicles", "faults", "round", "overview", "identity", "meters", "away",
                   "parts", "papers", "cases", "keeping", "ahead"):  # fmt: skip
        window.go(screen)
        qtbot.waitUntil(window.isActiveWindow)
        if QApplication.focusWidget() is None:
            window.setFocus()
        scanned()
        assert window.alarm.isVisible(), screen
        assert "P-1009 was written off and must not be here" in window.alarm.told.text()
        window.alarm.seen.click()
        assert not window.alarm.isVisible()
    window.open_pack("P-1009")
    qtbot.waitUntil(lambda: window.pack.page is not None and window.pack.page.pack.code == "P-1009")
    assert "left with Northfield Carriers, NC-5012" in window.pack.identity.text()
    assert "2.9" in printed("disposal") and "P-1009" not in printed("holds")
    assert kestrel.store.verify().good


def test_a_worn_out_pack_leaves_with_weight_and_receipt(
    window: MainWindow, hands: Typist, kestrel: Kestrel, printed: Printed
) -> None:
    hands("B-01", ENTER)
    window.go("away")
    page = window.away.disposal
    window.away.show_page(page)
    assert page.none.isVisible()
    hands("P-1014", ENTER)
    assert page.fields["pack"].text == "P-1014"

    def keep(**typed: str) -> str:
        fill(hands, page, **typed)
        page.keep_button.click()
        return wrongs(page) or page.result.text()

    assert "Name the carrier" in keep()
    assert "consignment number" in keep(carrier="Northfield Carriers")
    assert "Write the weight" in keep(consignment="NC-77")
    assert "“0” is not a weight" in keep(weight="0")
    assert "own badge or PIN" in keep(weight="2,85") and page.fields["carrier"].text == "Northfield Carriers"
    assert "Still open: receipt, waste-chain reference" in keep(badge="B-01")
    assert "1 written off, 1 with papers still open, 2.85 kg" in page.told.text()
    row = next(text for text in printed("disposal").splitlines() if text.startswith("P-1014"))
    assert "2.85" in row and "receipt" in row
    assert "They are whole" in keep(pack="P-1014", receipt="TR-9", plant="Lowmoor", waste_chain="WTN-31", badge="B-01")
    assert "0 with papers still open" in page.told.text() and "TR-9" in printed("disposal")
    look = LookOver("P-1013", kestrel.now, None, (LookItem.LEAK,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), look)
    refused = keep(pack="P-1013", carrier="Northfield Carriers", consignment="NC-78", weight="2.9", badge="B-01")
    assert "quarantine" in refused.lower() and state_of(kestrel, "P-1013") == "quarantined"
    with pytest.raises(Exception, match="was written off"):
        charging.record_charge(
            kestrel.store, kestrel.clock, kestrel.author(), ChargedOn("P-1014", "C-36-1", kestrel.now)
        )
