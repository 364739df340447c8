"""A trip judged again at the window: what stands, stays."""

from PySide6.QtCore import Qt

from fleetcare.domain.checks import TripCause
from fleetcare.domain.intake import Report, Story
from fleetcare.services import reporting
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def test_a_trip_that_is_judged_again_as_it_stands_keeps_its_words(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    told = Report("P-1002", "EB-12", kestrel.now, Story.CUT_OUT_HILL, charger="C-36-1")
    reporting.record_report(kestrel.store, kestrel.clock, kestrel.author(), told)
    hands("B-01", ENTER)
    window.go("faults")
    page = window.faults.trips
    window.faults.show_page(page)
    hands("P-1002", ENTER)
    page.explained.setChecked(True)
    page.cause.choose(TripCause.OVER_CURRENT)
    page.fields["reason"].edit.setText("steep ramp, low charge")
    for _ in range(3):
        page.judge_button.click()
        assert page.fields["reason"].text == "steep ramp, low charge"
    with kestrel.store.view() as view:
        judged = [event.body.reason for event in view.records_of("trip_judged")]  # type: ignore[attr-defined]
    assert judged == ["steep ramp, low charge"] * 3
