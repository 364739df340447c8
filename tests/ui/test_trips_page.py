"""A trip judged again begins at the judgement that stands, and reading the page again loses nothing typed."""

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.checks import TripCause
from fleetcare.domain.intake import Story
from fleetcare.services import reporting
from fleetcare.services.reporting import Judgement, Report
from fleetcare.ui.faults.trips_page import TripsPage
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def with_a_judged_trip(window: MainWindow, hands: Typist, kestrel: Kestrel) -> TripsPage:
    """The page with P-1002, whose one trip was judged when it was reported."""
    told = Report("P-1002", "EB-12", kestrel.now, Story.CUT_OUT_HILL, charger="C-36-1")
    first = Judgement(TripCause.SHORT_CIRCUIT, True, "pinched lead", "lead at the seat post", "lead replaced")
    reporting.record_report(kestrel.store, kestrel.clock, kestrel.author(), told, first)
    hands("B-01", ENTER)
    window.go("faults")
    page = window.faults.trips
    window.faults.show_page(page)
    hands("P-1002", ENTER)
    return page


def test_a_pack_without_trips_has_no_words_of_the_pack_before(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    page = with_a_judged_trip(window, hands, kestrel)
    assert page.text("reason") == "pinched lead"
    page.fields["pack"].edit.setText("P-9999")
    page.refresh()
    assert page.text("reason") == "pinched lead", "a code that is refused loses nothing"
    page.fields["pack"].edit.setText("P-1003")
    page.refresh()
    assert [page.text(name) for name in ("reason", "found_outside", "mended")] == ["", "", ""]
    assert page.cause.chosen(TripCause) is next(iter(TripCause)) and not page.explained.isChecked()
    assert not page.judge_button.isEnabled()
    page.fields["pack"].edit.setText("P-1002")
    page.refresh()
    assert page.text("reason") == "pinched lead"


def test_a_colleagues_judgement_changes_only_what_nobody_edited(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    page = with_a_judged_trip(window, hands, kestrel)
    page.fields["mended"].edit.setText("lead replaced and clipped")
    page.explained.setChecked(False)
    (trip,) = page.model.rows
    theirs = Judgement(TripCause.SHORT_CIRCUIT, True, "crushed lead", "lead at the seat post", "new lead")
    reporting.judge_trip(kestrel.store, kestrel.clock, kestrel.author("PIKE"), trip.record_id, theirs)
    page.refresh()
    assert page.text("reason") == "crushed lead", "nobody had edited it here"
    assert page.text("mended") == "lead replaced and clipped" and not page.explained.isChecked()


def test_a_trip_judged_again_keeps_all_that_stands(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    page = with_a_judged_trip(window, hands, kestrel)
    stands = {"reason": "pinched lead", "found_outside": "lead at the seat post", "mended": "lead replaced"}
    assert {name: page.text(name) for name in stands} == stands
    assert page.cause.chosen(TripCause) is TripCause.SHORT_CIRCUIT and page.explained.isChecked()
    page.fields["mended"].edit.setFocus()
    page.fields["mended"].edit.end(False)
    hands(" and clipped")
    window.faults.show_page(window.faults.tallies)
    window.faults.show_page(page)
    assert page.text("mended") == "lead replaced and clipped", "read again, what is typed stays"
    page.judge_button.click()
    (trip,) = page.model.rows
    assert trip.reason == "pinched lead" and trip.found_outside == "lead at the seat post"
    assert trip.mended == "lead replaced and clipped" == page.text("mended")
