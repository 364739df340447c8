"""A shop that starts today: from no file to the first saved check and its verdict, typed and clicked, with no TOML file."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt, QThreadPool
from PySide6.QtWidgets import QApplication, QCheckBox, QComboBox, QLineEdit
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.services import first_steps, summary
from fleetcare.ui import theme
from fleetcare.ui.first_start import FirstStart
from fleetcare.ui.main_window import MainWindow, first_focus
from fleetcare.ui.setup.entries import ChoiceEntry
from fleetcare.ui.setup.thing_page import ThingPage
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
CLICK = Qt.MouseButton.LeftButton


@pytest.fixture
def founded(qtbot: QtBot, qapp: QApplication, tmp_path: Path, hands: Typist) -> Iterator[MainWindow]:
    """No file is there: the first question is answered by typing, and the window opens on the new fleet."""
    qapp.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
    theme.apply(qapp, "light", 100)
    asked = FirstStart(tmp_path / "shop.fleet")
    qtbot.addWidget(asked)
    asked.show()
    asked.activateWindow()
    qtbot.waitExposed(asked)
    qtbot.mouseClick(asked.buttons["found"], CLICK)
    qtbot.waitUntil(asked.fleet.edit.hasFocus)
    hands(ENTER)
    hands(ENTER)
    assert "needs a name" in asked.fleet.wrong.text()
    hands("Mill Lane Bikes", ENTER, "Alex Quill", ENTER)
    assert asked.app is not None and asked.founder
    app: App = asked.app
    window = MainWindow(app)
    qtbot.addWidget(window)
    window.show()
    window.activateWindow()
    qtbot.waitExposed(window)
    first_focus(window, asked.founder)
    qtbot.waitUntil(lambda: window.stack.currentWidget() is window.setup)
    yield window
    QThreadPool.globalInstance().waitForDone()
    qapp.processEvents()
    app.store.close()


class Hand:
    """Types into the forms of the set-up as a person would."""

    def __init__(self, window: MainWindow, qtbot: QtBot) -> None:
        self.window, self.qtbot = window, qtbot

    def fill(self, page: ThingPage, **values: str) -> None:
        """Type or choose each value in its field."""
        for name, text in values.items():
            entry = page.form.entries[name]
            target = entry.target
            target.setFocus()
            if isinstance(target, QComboBox):
                assert isinstance(entry, ChoiceEntry)
                number = target.findData(text)
                assert number >= 0, (name, text)
                target.setCurrentIndex(number)
                target.activated.emit(number)
            elif isinstance(target, QCheckBox):
                self.qtbot.keyClick(target, Qt.Key.Key_Space)
            else:
                assert isinstance(target, QLineEdit)
                target.selectAll()
                self.qtbot.keyClicks(target, text)

    def record(self, page: ThingPage) -> str:
        """Press Record; what was said."""
        self.qtbot.mouseClick(page.save, CLICK)
        return page.said.text() if page.said.isVisible() else ""

    def press(self, button: str) -> None:
        """Press a button of the next steps."""
        self.window.to_first_steps()
        steps = self.window.setup.made("steps")
        self.qtbot.mouseClick(steps.buttons[button], CLICK)  # type: ignore[union-attr]


def missing(window: MainWindow) -> list[str]:
    return [step.name for step in first_steps.missing(window._app.store)]


def test_from_no_file_to_the_first_saved_check_and_its_verdict(
    founded: MainWindow, qtbot: QtBot, hands: Typist
) -> None:
    window, hand = founded, Hand(founded, qtbot)
    assert window.session.person is not None and window.session.person.name == "Alex Quill"
    assert missing(window) == ["person", "pack_model", "vehicle", "charger", "meter", "test_load", "pack"]
    steps = window.setup.made("steps")
    assert "neither badge nor PIN" in steps.told["person"].text()  # type: ignore[union-attr]

    # the screens that have nothing to show say what is missing and lead to it
    window.go("bench")
    notice = window.bench.conditions.empty
    assert notice.isVisible() and "pack model, vehicle, charger, meter, test load, pack" in notice.told.text()
    for screen in ("packs", "vehicles"):
        window.go(screen)
        qtbot.waitUntil(lambda s=screen: getattr(window, s).empty.isVisible())
    window.go("board")
    qtbot.waitUntil(lambda: window.board.empty.isVisible())
    qtbot.mouseClick(window.board.empty.button, CLICK)
    assert window.stack.currentWidget() is window.setup

    # a PIN
    hand.press("person")
    people = window.identity.people
    assert people.isVisible()
    people.pin.fields["pin"].edit.setFocus()
    hands("47110", ENTER)
    assert "person" not in missing(window)

    # the pack model: the typed figures are questioned by rule and number, and nothing typed is lost
    hand.press("pack_model")
    model = window.setup.thing_page("pack_model")
    assert model.form.entries["code"].target.hasFocus()
    hand.fill(model, code="M36", name="M36 e-bike pack", chemistry="NMC", series_count="13", full_v="42.0",
              voltage_class_v="36", capacity_ah="14", connector="K2")  # fmt: skip
    assert hand.record(model) == ""
    wrong = model.form.entries["full_v"].field.wrong.text()
    assert "42.0" in wrong and "13 groups is 3.23 V per group" in wrong and "10 groups?" in wrong
    model.show_live()
    assert "13 and 14 groups" in model.form.entries["series_count"].hint.text()
    hand.fill(model, series_count="10", baseline_resistance_ohm="132", baseline_c="25")
    hand.record(model)
    assert "milliohms" in model.form.entries["baseline_resistance_ohm"].field.wrong.text()
    hand.fill(model, baseline_resistance_ohm="0.132", fuse_a="45", fuse_dc_v="32", fuse_body="type_c")
    hand.record(model)
    assert "below the pack's charge-end voltage of 42.0" in model.form.entries["fuse_dc_v"].field.wrong.text()
    hand.fill(model, fuse_dc_v="58")
    hand.record(model)
    assert "no standard blade value" in model.form.entries["fuse_part"].field.wrong.text()
    hand.fill(model, fuse_a="30", reset_by_fuse="yes")
    hand.record(model)
    assert "the maker's own description" in model.form.entries["reset_note"].field.wrong.text()
    hand.fill(model, reset_note="Draw and re-seat the discharge fuse.", limit_low_hold="2.9")
    hand.record(model)
    assert "A figure without a source" in model.form.entries["source_low_hold"].field.wrong.text()
    hand.fill(model, source_low_hold="maker's sheet 2026-03")
    model.show_live()
    assert "looser than the default 3.00 V" in model.form.entries["limit_low_hold"].hint.text()
    assert model.form.value("name") == "M36 e-bike pack" and "Will be put on record" in model.live.text()
    assert "M36 is on record" in hand.record(model)

    # a vehicle, charger, meter and load of the own
    hand.press("vehicle")
    vehicle = window.setup.thing_page("vehicle")
    hand.fill(vehicle, code="EB1", kind="e_bike", serial="WX44120", like="M36")
    assert (vehicle.form.value("connector"), vehicle.form.value("charge_end_v")) == ("K2", "42.0")
    assert vehicle.form.value("depot") == "D1", "there is only one"
    hand.fill(vehicle, code="BIKE")
    hand.record(vehicle)
    assert "cannot be a label's code" in vehicle.form.entries["code"].field.wrong.text()
    hand.fill(vehicle, code="EB-1")
    assert "EB-1 is on record" in hand.record(vehicle)
    hand.press("charger")
    charger = window.setup.thing_page("charger")
    hand.fill(charger, code="C-1", name="bench charger", like="M36", tolerance_percent="1")
    charger.form.entries["rated_v"].target.setFocus()
    hand.fill(charger, rated_v="58.8")
    hand.record(charger)
    assert "58.80 V" in charger.form.entries["models"].field.wrong.text()
    hand.fill(charger, rated_v="42.0")
    charger.show_live()
    assert "good from 41.58 V to 42.42 V" in charger.form.entries["tolerance_percent"].hint.text()
    assert "C-1 is on record" in hand.record(charger)
    hand.press("meter")
    meter = window.setup.thing_page("meter")
    hand.fill(meter, code="M-1", name="bench meter", accuracy_percent="0,5", accuracy_digits="2")
    meter.show_live()
    assert "±0.230 V" in meter.form.entries["digit_v"].hint.text()
    assert "M-1 is on record" in hand.record(meter)
    hand.press("test_load")
    load = window.setup.thing_page("test_load")
    hand.fill(load, code="L-1", name="8 A load", load_a="8.1")
    assert "L-1 is on record" in hand.record(load)
    assert missing(window) == ["pack"]

    # bench conditions, then the first pack with its papers and baseline
    hand.press("bench")
    qtbot.waitUntil(window.bench.conditions.temperature.edit.hasFocus)
    hands("20", ENTER)
    hand.press("pack")
    tab = window.identity.new_pack
    assert tab.isVisible() and tab.form.fields["load_a"].text == "8.1"
    for name, text in {"code": "P-1", "serial": "2611-0001", "marks": "EN 62133-2", "invoice": "INV-1", "warranty_clause": "none",
                       "no_photo_reason": "no camera", "rested_v": "41.70", "loaded_v": "40.50"}.items():  # fmt: skip
        tab.form.fields[name].edit.setFocus()
        hands(text)
    tab.model.choose("M36")
    tab.charger.choose("C-1")
    tab.rest.choose("hours_1_3")
    tab.good.setFocus()
    hands(Qt.Key.Key_Space)
    qtbot.mouseClick(tab.form.do, CLICK)
    assert "P-1 is commissioned: pass" in tab.form.said.text()
    assert missing(window) == []
    window.to_first_steps()
    assert "Everything that a check needs" in steps.summary.text()  # type: ignore[union-attr]

    # the first check at the bench: the pack is fitted, judged and saved
    window.go("bench")
    qtbot.waitUntil(window.bench.work.scan.edit.hasFocus)
    hands("EB-1", ENTER, "P-1", ENTER)
    if window.bench.work.pairing.isVisible():
        qtbot.mouseClick(window.bench.work.pairing.do, CLICK)
    hands(Qt.Key.Key_F8, "3", "41.66", ENTER, "40.45", ENTER)
    qtbot.waitUntil(lambda: "pass" in window.bench.work.verdict.text())
    hands(ENTER)
    assert "Saved: P-1, pass." in window.bench.work.verdict.text()
    page = summary.pack_summary(window._app.store, window._app.clock, "P-1")
    assert page.vehicle == "EB-1" and page.checks[0].rested_v == Decimal("41.66")
    assert page.checks[0].verdict.level is VerdictLevel.PASS and page.checks[0].load_a == Decimal("8.1")
    assert dict((name, value) for name, value, *_ in page.limits)["low_hold"] == Decimal("29.0")
    assert window._app.store.verify().good
