"""From the phone call to the decision, in a real window: report, tallies, reset, quarantine to collection."""

import datetime as dt
from dataclasses import replace

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.checks import CheckKind, LookItem, TripCause
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.packs import ServiceNotes
from fleetcare.domain.quarantine import HeadAnswer
from fleetcare.domain.reset_job import Stop
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.wording import say
from fleetcare.services import record, reporting, stock, summary
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
    assert page.fields["vehicle"].edit.hasFocus() and not page.judging.isVisible()
    page.save.click()
    assert "Answer the first question" in page.wrong.text() and page.none.hasFocus()
    page.none.click()
    page.save.click()
    assert "Say which pack" in page.fields["pack"].wrong.text()
    hands("P-1002", ENTER)
    assert (page.fields["pack"].text, page.fields["vehicle"].text) == ("P-1002", "EB-12")
    page.save.click()
    assert "Choose what happened" in page.wrong.text()
    take_report(window, hands, "P-1002", "EB-12", "C-48-3", works=False)
    assert "Warning: C-48-3 ends at 54.6" in page.charger_line.text()
    take_report(window, hands, "P-1002", "EB-12", "C-36-1", works=False)
    assert not page.charger_line.isVisible()
    page.fields["pack_c"].edit.setFocus()
    hands("99")
    page.save.click()
    assert page.fields["pack_c"].wrong.isVisible() and page.fields["pack_c"].text == "99"
    page.fields["pack_c"].edit.clear()
    hands("4")
    page.save.click()
    assert "P-1002 is held" in page.result.text() and page.fields["pack"].text == ""
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.state.value == "held"


def test_a_phone_call_takes_four_questions_by_keyboard_alone(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    """Vehicle, none of these, the story by its number, one charger: everything else may stay empty."""
    hands("B-04", ENTER)
    open_faults(window)
    page = window.faults.report
    keys = (
        "EB-12",
        ENTER,
        ENTER,
        "1",
        ENTER,
        "Mill Lane",
        ENTER,
        ENTER,
        ENTER,
        ENTER,
        ENTER,
        "C-36-1",
        ENTER,
        ENTER,
        ENTER,
    )
    hands("EB-12", ENTER)
    assert page.fields["pack"].text == "P-1002" and page.none.hasFocus()
    assert "P-1002 is recorded in EB-12. Swapped on the road?" in page.which_line.text()
    hands(ENTER)
    assert page.none.isChecked() and page.story.box.hasFocus()
    hands("1", ENTER, "Mill Lane", ENTER, ENTER)
    assert page.level.box.hasFocus() and page.story.chosen(Story) is Story.CUT_OUT_HILL
    hands(ENTER, ENTER)
    assert page.ticks["heavy"].hasFocus()
    hands(ENTER)
    assert page.fields["charger"].edit.hasFocus(), "the ticks of what was going on are one stop"
    hands("C-36-1", ENTER)
    assert page.fields["charged_where"].edit.hasFocus()
    hands(ENTER)
    assert page.save.hasFocus()
    hands(ENTER)
    assert "P-1002 is held: cut out uphill" in page.result.text()
    assert sum(len(one) if isinstance(one, str) else 1 for one in keys) <= 40
    with kestrel.store.view() as view:
        (told,) = view.records_of("report", ("pack", "P-1002"))
    assert isinstance(told.body, Report) and (told.body.vehicle, told.body.where) == ("EB-12", "Mill Lane")


def test_a_cargo_bike_has_two_packs_and_the_dispatcher_is_asked_which(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-04", ENTER)
    open_faults(window)
    page = window.faults.report
    hands("CB-02", ENTER)
    assert page.fields["pack"].text == "" and "Recorded in CB-02: P-1303, P-1304" in page.which_line.text()
    buttons = [page.choices.itemAt(n).widget() for n in range(page.choices.count())]
    assert [b.text() for b in buttons] == ["P-1303", "P-1304"]  # type: ignore[union-attr]
    buttons[1].click()  # type: ignore[union-attr]
    assert page.fields["pack"].text == "P-1304" and page.none.hasFocus()
    page.fields["vehicle"].edit.setFocus()
    page.fields["vehicle"].edit.selectAll()
    hands("EB-14", ENTER)
    assert "P-1304 is not recorded in EB-14" in page.which_line.text(), "what a person chose is not changed"
    page.clear()
    hands("EB-13", ENTER)
    page.fields["vehicle"].edit.setFocus()
    hands("EB-14", ENTER)
    assert page.fields["pack"].text == "P-1004", "what the record filled in follows the vehicle"


def test_smoke_on_the_phone_needs_no_pack_and_quarantines_every_pack_aboard(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-04", ENTER)
    open_faults(window)
    page = window.faults.report
    page.dangers[LookItem.SMOKE].click()
    assert page.stop.isVisible()
    hands("Mill Lane, on the road", ENTER)
    assert "Say which vehicle or pack" in page.fields["vehicle"].wrong.text()
    hands("CB-02", ENTER)
    assert page.stop.isVisible() and page.stop.subject.text() == "CB-02: P-1303, P-1304", (
        "the card comes back by itself"
    )
    assert page.stop.place.text == "Mill Lane, on the road"
    hands(ENTER)
    states = [summary.pack_summary(kestrel.store, kestrel.clock, code).status.state for code in ("P-1303", "P-1304")]
    assert [one.value for one in states] == ["quarantined", "quarantined"]
    sheets = {path.name[:17] for path in (kestrel.store.path.parent / "sheets").glob("quarantine-*.pdf")}
    assert sheets == {"quarantine-P-1303", "quarantine-P-1304"}


def test_a_charge_refused_in_the_cold_is_no_trip_and_lost_braking_is_the_vehicles(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    """Charge window 0 to 45 °C: typical of 18650 cell sheets; the pack maker's figure wins."""
    hands("B-04", ENTER)
    open_faults(window)
    page = window.faults.report
    hands("EB-12", ENTER, ENTER, "9", ENTER)
    assert page.story.chosen(Story) is Story.CHARGE_REFUSED
    page.fields["pack_c"].edit.setFocus()
    hands("-4", ENTER)
    page.fields["charger"].edit.setFocus()
    hands("C-36-1", ENTER)
    page.save.click()
    told = page.result.text()
    assert "Not a trip: at −4 °C" in told and "between 0 °C and 45 °C" in told and "holds nothing" in told
    hands("EB-13", ENTER, ENTER)
    page.story.choose(Story.BRAKING_LOST)
    page.ticks["works_again"].setChecked(True)
    page.fields["charger"].edit.setFocus()
    hands("C-36-1", ENTER)
    page.save.click()
    told = page.result.text()
    assert "EB-13 is grounded: electric braking was lost: check the brakes" in told and "P-1003 is held" not in told
    tallies = window.faults.tallies
    window.faults.show_page(tallies)
    qtbot.waitUntil(lambda: tallies.model.rowCount() > 0)
    assert {t.subject for t in tallies.model.rows} == {"P-1003", "EB-13", "C-36-1"}, "the cold charge counts nowhere"


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


def test_a_second_trip_shows_the_count_and_waits_for_what_was_mended(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    noted = replace(K36, reset_note="Press the button for 5 s.")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", noted))
    steep = Judgement(TripCause.REGENERATION, True, "full pack, Mill Hill")
    for days in (30, 0):
        at = kestrel.now - dt.timedelta(days=days)
        told = Report("P-1002", "EB-12", at, Story.CUT_OUT_HILL, charger="C-36-1")
        reporting.record_report(kestrel.store, kestrel.clock, kestrel.author(), told, steep)
    hands("B-01", ENTER)
    open_faults(window)
    page = window.faults.trips
    window.faults.show_page(page)
    hands("P-1002", ENTER)
    assert "2 of 3 (3 Oct 2026, 2 Nov 2026)" in page.rule.text() and not page.reset_button.isEnabled()
    assert page.cause.chosen(TripCause) is TripCause.REGENERATION and page.explained.isChecked(), "what stands, stays"
    for name, text in (("reason", "full pack again"), ("mended", "riders start Mill Hill below full")):
        page.fields[name].edit.setFocus()
        hands(text)
    page.judge_button.click()
    assert "may be reset once more" in page.rule.text() and "the next one pulls it" in page.rule.text()
    page.worked.setChecked(True)
    page.fields["badge"].edit.setText("B-01")
    page.reset_button.click()
    assert "full check with a loaded reading" in page.result.text()


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


def test_the_tree_is_walked_by_digits_and_quarantine_prints_its_sheet(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-03", ENTER, "u", ENTER)
    window.go("faults")
    page = window.faults.tree
    window.faults.show_page(page)
    hands("P-1010", ENTER)
    page.seen.setCurrentIndex(page.seen.findData("r5"))
    page.gate_no.click()
    assert page.card.hasFocus(), "nothing is pressed by an Enter too many"
    assert "do not charge below 25.00 V" in page.note.text() and "maker or a licensed repairer only" in page.who.text()
    hands("²")
    assert page.card.hasFocus(), "a key of some keyboards that is no number of an answer"
    hands(Qt.Key.Key_1)
    assert "quarantine" in page.see.text() and page.keep_button.hasFocus()
    hands(ENTER)
    assert "P-1010 is held" in page.result.text()
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1010").status.state.value == "quarantined"
    assert list((kestrel.store.path.parent / "sheets").glob("quarantine-P-1010-*.pdf"))


def test_a_pack_out_of_storage_is_offered_no_charger_at_any_row(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    kestrel.check("P-1011", "37.20", kind=CheckKind.STORED, at=kestrel.now - dt.timedelta(days=1))
    hands("B-01", ENTER, "18", ENTER)
    window.go("faults")
    page = window.faults.tree
    window.faults.show_page(page)
    for row, offered in (("r1", {"woke", "stays_dead"}), ("r1b", {"stuck"})):
        page.fields["pack"].edit.setFocus()
        hands("P-1011", ENTER)
        page.seen.setCurrentIndex(page.seen.findData(row))
        page.gate_no.click()
        assert set(page.buttons) == offered
        assert "Never on a charger: P-1011 reads nothing and comes out of storage" in page.note.text()
        assert "Its own chargers" not in page.note.text() and "own charger, attended" not in page.test.text()
        page.take("pack", "P-1011")


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
    hands(space, ENTER)
    assert "5 not ticked yet" in page.wrong.text()
    page.leave_button.click()
    assert "stays held" in page.result.text()
    window.go("bench")
    (offer,) = window.bench.work.drafts.texts()
    assert offer.startswith("Guided reset of P-1002, left half-way by Dunn") and "The pack is held" in offer
    window.bench.work.drafts.job.emit("P-1002")
    assert window.faults.page is page
    assert [box.isChecked() for box in page.boxes] == [True] + [False] * 5 and page.boxes[1].hasFocus()
    hands(space)
    window.session.sign_in(kestrel.people["PIKE"])
    assert page.state is None and "Left half-way" in page.result.text(), "somebody else goes on by their own deed"
    page.begin_button.click()
    assert [box.isChecked() for box in page.boxes] == [True] * 2 + [False] * 4, "every tick is kept at once"
    window.session.sign_in(kestrel.people["DUNN"])
    page.begin_button.click()
    for number in range(1, 5):
        assert f"Pause {number} of 4" in page.heading.text()
        for box in page.boxes:
            if not box.isChecked():
                assert box.hasFocus()
                hands(space)
        assert page.next_button.hasFocus()
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
    assert "full check, then release" in page.result.text() and not page.tree_button.isVisible()
    status = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status
    assert status.state.value == "held"
    assert any("fully checked and released" in say(reason.text) for reason in status.reasons)


def begun(window: MainWindow, hands: Typist, kestrel: Kestrel, pack: str, vehicle: str) -> None:
    """A guided reset of `pack` with every step ticked but the readings, or begun only."""
    noted = replace(K36, reset_note="Draw the charge fuse, wait one minute, re-seat it.")
    notes = ServiceNotes("K36-A", reset_by_fuse=True)
    record.put_things(
        kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", noted), ("service_notes", notes)
    )
    told = Report(pack, vehicle, kestrel.now, Story.CUT_OUT_HILL, charger="C-36-1")
    steep = Judgement(TripCause.OVER_CURRENT, True, "steep ramp")
    reporting.record_report(kestrel.store, kestrel.clock, kestrel.author(), told, steep)
    hands("B-01", ENTER, "18", ENTER)
    window.go("faults")
    window.faults.show_page(window.faults.trips)
    hands(pack, ENTER)
    assert window.faults.trips.reset_button.text() == "Go to the guided reset"
    window.faults.trips.reset_button.click()
    assert window.faults.page is window.faults.job


def test_heat_half_way_quarantines_and_prints_the_sheet_in_one_action(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    begun(window, hands, kestrel, "P-1003", "EB-13")
    page = window.faults.job
    hands(Qt.Key.Key_Space)
    page.stop.choose(Stop.HEAT_SMELL)
    page.stop_button.click()
    assert "P-1003" in page.result.text() and page.state is None
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").status.state.value == "quarantined"
    assert list((kestrel.store.path.parent / "sheets").glob("quarantine-P-1003-*.pdf"))


def test_going_on_with_the_job_of_another_pack_never_shows_the_one_under_way(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    begun(window, hands, kestrel, "P-1003", "EB-13")
    page = window.faults.job
    hands(Qt.Key.Key_Space)
    told = Report("P-1004", "EB-14", kestrel.now, Story.CUT_OUT_HILL)
    reporting.record_report(
        kestrel.store, kestrel.clock, kestrel.author(), told, Judgement(TripCause.OVER_CURRENT, True, "steep ramp")
    )
    window.faults.begin_job("P-1004")
    assert page.state is not None and page.state.pack == "P-1004" and not page.boxes[0].isChecked()
    window.begin_job("P-1003")
    assert page.state is not None and page.state.pack == "P-1003" and page.boxes[0].isChecked()


def test_a_dark_display_leads_to_the_row_that_tries_known_good_parts_first(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    begun(window, hands, kestrel, "P-1003", "EB-13")
    page = window.faults.job
    for _pause in range(4):
        for _box in page.boxes:
            hands(Qt.Key.Key_Space)
        hands(ENTER)
    hands("40.10", ENTER)
    page.dark.setChecked(True)
    page.fields["badge"].edit.setText("B-01")
    page.finish_button.click()
    assert "known-good vehicle and a known-good pack" in page.result.text() and page.tree_button.isVisible()
    page.tree_button.click()
    tree = window.faults.tree
    assert window.faults.page is tree and tree.fields["pack"].text == "P-1003" and tree.seen.currentData() == "r2"
    assert window.faults.tree.gate.isVisible(), "the gate is asked again"


def test_volts_at_zero_lead_to_the_first_row_and_a_fitted_part_does_not_hide_it(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    seal = Part("S-06", PartKind.SEAL, "cover seal", "SL-36", ("K36-A",))
    stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), seal)
    stock.book_in(kestrel.store, kestrel.clock, kestrel.author(), "S-06", 2)
    begun(window, hands, kestrel, "P-1003", "EB-13")
    page = window.faults.job
    for _pause in range(4):
        for _box in page.boxes:
            hands(Qt.Key.Key_Space)
        hands(ENTER)
    hands("0.0", ENTER)
    page.dark.setChecked(True)
    page.stocked.box.setCurrentIndex(1)
    page.fields["badge"].edit.setText("B-01")
    page.finish_button.click()
    assert "volts zero or out of range" in page.result.text() and "cover seal" in page.result.text()
    page.tree_button.click()
    assert window.faults.tree.seen.currentData() == "r1"


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
