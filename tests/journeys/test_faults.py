"""From the phone call to the decision, in a real window: report, tallies, reset, quarantine to collection."""

from dataclasses import replace

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.checks import LookItem, TripCause
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.packs import ServiceNotes
from fleetcare.domain.quarantine import HeadAnswer
from fleetcare.services import record, reporting, summary
from fleetcare.services.reporting import Judgement
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import K36, MONDAY, Kestrel
from tests.window_fixtures import Typist, put_away, shown_paper

ENTER = Qt.Key.Key_Return


def take_report(
    window: MainWindow, hands: Typist, pack: str, vehicle: str, charger: str, *, works: bool = True
) -> None:
    page = window.faults.report
    page.fields["pack"].edit.setFocus()
    hands(pack, ENTER)
    page.fields["vehicle"].edit.setFocus()
    hands(vehicle, ENTER)
    page.fields["charger"].edit.setFocus()
    hands(charger, ENTER)
    page.none.setChecked(True)
    page.story.choose(Story.CUT_OUT_HILL)
    page.ticks["works_again"].setChecked(works)


def open_faults(window: MainWindow) -> None:
    window.go("faults")
    window.faults.show_page(window.faults.report)


def test_the_dispatcher_answers_the_gate_first_and_a_missing_answer_is_named(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-04", ENTER)
    open_faults(window)
    page = window.faults.report
    assert page.fields["pack"].edit.hasFocus() and not page.judging.isVisible()
    page.save.click()
    assert "Answer the first question" in page.wrong.text()
    page.none.click()
    page.save.click()
    assert "Say which pack" in page.fields["pack"].wrong.text()
    hands("P-1002", ENTER)
    assert page.fields["pack"].text == "P-1002"
    page.save.click()
    assert "Choose what happened" in page.wrong.text()
    take_report(window, hands, "P-1002", "EB-12", "C-48-3", works=False)
    assert "Warning: C-48-3 ends at 54.6" in page.charger_line.text()
    take_report(window, hands, "P-1002", "EB-12", "C-36-1", works=False)
    assert page.charger_line.text() == ""
    page.fields["pack_c"].edit.setFocus()
    hands("99")
    page.save.click()
    assert page.fields["pack_c"].wrong.isVisible() and page.fields["pack_c"].text == "99"
    page.fields["pack_c"].edit.clear()
    hands("4")
    page.save.click()
    assert "P-1002 is held" in page.result.text() and page.fields["pack"].text == ""
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state.value == "held"


def test_two_packs_in_one_vehicle_ground_it_and_the_cross_table_shows_it(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER)
    open_faults(window)
    page = window.faults.report
    for pack in ("P-1002", "P-1011"):
        take_report(window, hands, pack, "EB-12", "C-36-2")
        page.explained.setChecked(True)
        page.cause.choose(TripCause.OVER_CURRENT)
        page.fields["reason"].edit.setFocus()
        hands("steep ramp")
        page.save.click()
    assert "EB-12 is grounded: 2 packs" in page.result.text()
    tallies = window.faults.tallies
    window.faults.show_page(tallies)
    qtbot.waitUntil(lambda: tallies.model.rowCount() == 4)
    assert {t.subject for t in tallies.model.rows if t.reading is not None} == {"EB-12", "C-36-2"}
    assert tallies.cross_table is not None and tallies.cross_table.rows_model.rowCount() == 2
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
    assert window.board.model.rows[0].vehicle.code == "EB-12"


def test_a_reset_is_offered_only_when_allowed_and_needs_the_own_badge(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    noted = replace(K36, reset_note="Press the button for 5 s.")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", noted))
    hands("B-01", ENTER)
    open_faults(window)
    take_report(window, hands, "P-1002", "EB-12", "C-36-1", works=False)
    window.faults.report.save.click()
    page = window.faults.trips
    window.faults.show_page(page)
    hands("P-1002", ENTER)
    assert "nobody has explained" in page.rule.text() and not page.reset_button.isEnabled()
    page.explained.setChecked(True)
    page.cause.choose(TripCause.OVER_CURRENT)
    page.fields["reason"].edit.setFocus()
    hands("steep ramp, low charge")
    page.judge_button.click()
    assert "may be reset once" in page.rule.text() and page.reset_button.isEnabled()
    page.worked.setChecked(True)
    page.reset_button.click()
    assert "own badge" in page.fields["badge"].wrong.text()
    page.fields["badge"].edit.setText("B-01")
    page.reset_button.click()
    assert "full check before it is released" in page.result.text() and not page.reset_button.isEnabled()


def test_a_smell_shows_the_stop_card_and_one_action_quarantines_and_prints(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.now = MONDAY.replace(hour=16, minute=20)
    hands("B-03", ENTER, "u", ENTER)
    open_faults(window)
    page = window.faults.report
    hands("P-1009", ENTER)
    page.fields["vehicle"].edit.setFocus()
    hands("EB-19", ENTER)
    page.dangers[LookItem.SMELL].click()
    assert page.stop.isVisible() and page.stop.place.edit.hasFocus()
    hands("Q-2", ENTER)
    (sheet,) = (kestrel.store.path.parent / "sheets").glob("quarantine-P-1009-*.pdf")
    assert sheet.read_bytes()[:5] == b"%PDF-"
    hands_on = window.faults.quarantine
    window.faults.show_page(hands_on)
    assert [(c.pack.code, c.place) for c in hands_on.model.rows] == [("P-1009", "Q-2")]
    kestrel.now = MONDAY.replace(day=10)
    window.session.sign_in(kestrel.people["ORMOND"])
    hands_on.refresh()
    assert "ALARM" in hands_on.model.data(hands_on.model.index(0, 1))
    hands_on.collect.click()
    assert "Name the carrier" in hands_on.fields["carrier"].wrong.text()
    for choice in hands_on.heads.values():
        choice.choose(HeadAnswer.CANNOT_SAY)
    for name, text in (("carrier", "Northfield"), ("consignment", "NC-1"), ("weight", "2,9"), ("badge", "B-05")):
        hands_on.fields[name].edit.setText(text)
    hands_on.collect.click()
    assert "written off" in hands_on.result.text() and hands_on.model.rowCount() == 0
    window.go("bench")
    window.session.sign_in(kestrel.people["FARROW"])
    hands("P-1009", ENTER)
    assert "ALARM" in window.bench.work.scan.wrong.text()


def test_three_dead_packs_are_walked_to_three_different_ends(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-01", ENTER)
    window.go("faults")
    page = window.faults.tree
    window.faults.show_page(page)
    hands("P-1010", ENTER)
    page.gate_no.click()
    assert "Output is off until woken" in page.note.text() and page.fields["vehicle"].text == "EB-20"
    page.buttons["lamp_red"].click()
    page.buttons["rises"].click()
    assert page.fields["reading"].wrong.isVisible()
    page.fields["reading"].edit.setFocus()
    hands("37.9")
    page.buttons["rises"].click()
    assert "slept and woke" in page.see.text() and page.path.text().count("→") == 2
    page.back.click()
    assert "Still 0 V" in page.see.text()
    page.fields["reading"].edit.setFocus()
    hands("37.9")
    page.buttons["rises"].click()
    page.keep_button.click()
    assert "full check is still due" in page.result.text()
    page.fields["pack"].edit.setFocus()
    hands("P-1002", ENTER)
    page.seen.setCurrentIndex(page.seen.findData("r2"))
    page.gate_no.click()
    page.fields["reading"].edit.setFocus()
    hands("12.4")
    page.buttons["collapses"].click()
    page.keep_button.click()
    assert "P-1002 is held" in page.result.text()
    with kestrel.store.view() as view:
        assert view.open_holds(("vehicle", "EB-12")) == [] and view.trips() == []
    page.fields["pack"].edit.setFocus()
    hands("P-1009", ENTER)
    page.gate_yes.click()
    assert window.faults.page is window.faults.report and window.faults.report.fields["pack"].text == "P-1009"


def test_a_guided_reset_goes_through_four_pauses_by_keyboard_and_survives_leaving(
    window: MainWindow, hands: Typist, qtbot: QtBot, kestrel: Kestrel
) -> None:
    space = Qt.Key.Key_Space
    noted = replace(K36, reset_note="Draw the charge fuse, wait one minute, re-seat it.")
    notes = ServiceNotes("K36-A", reset_by_fuse=True)
    record.put_things(
        kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", noted), ("service_notes", notes)
    )
    told = Report("P-1002", "EB-12", kestrel.now, Story.CUT_OUT_HILL, charger="C-36-1")
    steep = Judgement(TripCause.OVER_CURRENT, True, "steep ramp")
    reporting.record_report(kestrel.store, kestrel.clock, kestrel.author(), told, steep)
    hands("B-01", ENTER, "18", ENTER)
    window.go("faults")
    page = window.faults.job
    window.faults.show_page(page)
    hands("P-1002", ENTER)
    page.sheet_button.click()
    paper = shown_paper(window, qtbot)
    assert len(paper.preview.pages) == 1
    put_away(window, qtbot)
    page.begin_button.click()
    assert "Pause 1 of 4" in page.heading.text() and page.boxes[0].hasFocus()
    hands(space)
    page.next_button.click()
    assert "5 not ticked yet" in page.wrong.text()
    page.leave_button.click()
    assert "stays held" in page.result.text()
    page.begin_button.click()
    assert [box.isChecked() for box in page.boxes] == [True] + [False] * 5
    for number in range(1, 5):
        assert f"Pause {number} of 4" in page.heading.text()
        for box in page.boxes:
            box.setChecked(True)
        page.boxes[-1].setFocus()
        hands(ENTER)
    assert page.fields["rested_v"].edit.hasFocus()
    hands("40.10")
    page.finish_button.click()
    assert "Say whether the display is lit" in page.wrong.text()
    page.lit.setChecked(True)
    page.finish_button.click()
    assert "own badge" in page.fields["badge"].wrong.text()
    page.fields["badge"].edit.setText("B-01")
    page.finish_button.click()
    assert "read the volts under load" in page.fields["loaded_v"].wrong.text()
    page.fields["loaded_v"].edit.setText("38.50")
    page.fields["load_a"].edit.setText("8")
    page.fields["badge"].edit.setText("B-01")
    page.finish_button.click()
    assert "full check, then release" in page.result.text()
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state.value == "held"


def test_a_wrong_charger_is_warned_of_at_entry_and_a_drifted_one_lists_its_packs(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-01", ENTER, "18", ENTER, ENTER)
    window.go("faults")
    page = window.faults.chargers
    with kestrel.store.view() as view:
        waits = replace(view.thing("charger", "C-36-5"), output_waits_for_pack=True)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("charger", waits))
    window.faults.show_page(page)
    states = {line.charger.code: page.model.index(row, 6).data() for row, line in enumerate(page.model.rows)}
    assert states["C-36-5"] == "in use; 0 V until it sees a pack" and states["C-36-4"] == "in use"
    for pack, charger in (("P-1004", "C-48-3"), ("P-1007", "C-36-5")):
        page.fields["charger"].edit.setFocus()
        hands(charger, ENTER)
        page.fields["pack"].edit.setFocus()
        hands(pack, ENTER)
        page.charge_button.click()
        if pack == "P-1004":
            assert "Warning: C-48-3 ends at 54.6" in page.wrong.text()
            with kestrel.store.view() as view:
                assert view.open_holds(("pack", "P-1004")) == []
            page.charge_button.click()
            assert "P-1004 is held" in page.result.text()
    page.fields["charger"].edit.setFocus()
    hands("C-36-5", ENTER)
    page.fields["measured_v"].edit.setFocus()
    hands("43.6")
    page.output_button.click()
    assert "above 42.42" in page.result.text() and [row.pack for row in page.suspects.rows] == ["P-1007"]
    holds = window.faults.holds
    window.faults.show_page(holds)
    assert [line.subject for line in holds.model.rows] == ["P-1004", "C-36-5", "P-1007"]
    holds.table.selectRow(0)
    holds.fields["reason"].edit.setText("looks fine")
    holds.release_button.click()
    assert "not released here" in holds.fields["reason"].wrong.text()
    holds.fields["subject"].edit.setFocus()
    hands("EB-16", ENTER)
    holds.hold_button.click()
    assert "why it is held" in holds.fields["remark"].wrong.text()
    holds.fields["remark"].edit.setText("front brake")
    holds.hold_button.click()
    assert "EB-16" in [line.subject for line in holds.model.rows]
