"""The set-up screen: lists and forms, what a change changes, its history, nothing typed lost, keys in order."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.modeltest import ModelTester
from pytestqt.qtbot import QtBot

from fleetcare.domain.setup.forms import FORMS
from fleetcare.services import record, setting_up
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.setup.form import ThingForm
from fleetcare.ui.setup.list_page import ROWS, VehicleListPage
from fleetcare.ui.setup.setup_screen import TABS
from fleetcare.ui.setup.thing_page import HISTORY, ThingPage
from fleetcare.ui.widgets.tables import RowModel
from tests.kestrel import Kestrel
from tests.ui.test_screens import unnamed
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
CLICK = Qt.MouseButton.LeftButton


def opened(window: MainWindow, hands: Typist, kind: str, who: str = "B-05") -> ThingPage:
    hands(who, ENTER)
    window.go("setup")
    window.setup.go_to(kind)
    return window.setup.thing_page(kind)


def retype(qtbot: QtBot, page: ThingPage, name: str, text: str) -> None:
    target = page.form.entries[name].target
    target.setFocus()
    target.selectAll()  # type: ignore[attr-defined]
    qtbot.keyClicks(target, text)


def test_a_change_is_shown_before_it_is_saved_and_stands_in_the_history(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    page = opened(window, hands, "pack_model")
    page.choose("K36-A")
    assert page.live.text() == "As on record." and not page.discard.isEnabled()
    retype(qtbot, page, "limit_low_hold", "2.9")
    retype(qtbot, page, "source_low_hold", "maker's sheet")
    qtbot.waitUntil(lambda: "hold below: — → 2.9 V per group (looser)" in page.live.text())
    assert "checks from now on are judged by the new figures" in page.notices.text()
    qtbot.mouseClick(page.save, CLICK)
    assert page.said.text().startswith("K36-A: changes recorded: 2")
    assert page.history.rowCount() == 2
    assert "2.9 V per group (looser)" in page.history.index(0, 2).data()
    assert page.history.index(1, 2).data() == "first put on record"


def test_what_is_typed_stays_while_another_thing_is_looked_at(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    page = opened(window, hands, "charger")
    qtbot.waitUntil(lambda: page.model.rowCount() == 10)
    page.choose("C-36-1")
    retype(qtbot, page, "name", "by the door")
    page.choose("C-48-1")
    assert "(not recorded)" in page.model.index(0, 1).data()
    assert page.form.value("name") == "48 V charger"
    page.choose("C-36-1")
    assert page.form.value("name") == "by the door"
    page.begin()
    assert page.form.value("code") == "" and page.form.value("tolerance_percent") == "1"
    page.choose("C-36-1")
    qtbot.mouseClick(page.discard, CLICK)
    assert page.form.value("name") == "36 V charger"


def test_a_colleagues_change_meanwhile_is_told_and_typed_text_stays(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    page = opened(window, hands, "meter")
    page.choose("M-01")
    retype(qtbot, page, "name", "mine")
    with kestrel.store.view() as view:
        theirs = replace(view.thing("meter", "M-01"), name="theirs")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("DUNN"), ("meter", theirs))
    qtbot.mouseClick(page.save, CLICK)
    assert "Dunn" in page.wrong.text() and page.form.value("name") == "mine"
    qtbot.mouseClick(page.discard, CLICK)
    assert page.form.value("name") == "theirs"


def test_text_kept_while_a_colleague_changed_the_thing_never_overwrites_the_change(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    page = opened(window, hands, "meter")
    page.choose("M-01")
    retype(qtbot, page, "name", "mine")
    page.begin()
    with kestrel.store.view() as view:
        theirs = replace(view.thing("meter", "M-01"), accuracy_digits=4)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("DUNN"), ("meter", theirs))
    page.choose("M-01")
    assert page.form.value("name") == "mine"
    qtbot.mouseClick(page.save, CLICK)
    assert "Dunn" in page.wrong.text()
    with kestrel.store.view() as view:
        assert view.thing("meter", "M-01").accuracy_digits == 4
    qtbot.mouseClick(page.discard, CLICK)
    assert page.form.value("accuracy_digits") == "4"
    retype(qtbot, page, "name", "mine")
    qtbot.mouseClick(page.save, CLICK)
    with kestrel.store.view() as view:
        assert view.thing("meter", "M-01").name == "mine" and view.thing("meter", "M-01").accuracy_digits == 4


def test_another_than_a_manager_may_look_and_is_told_who_may(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    page = opened(window, hands, "test_load", "B-01")
    assert window.setup.note.isVisible()
    page.choose("L-08")
    retype(qtbot, page, "load_a", "8.2")
    qtbot.mouseClick(page.save, CLICK)
    assert "recorded by a manager" in page.wrong.text() and page.form.value("load_a") == "8.2"


def test_a_setting_of_the_site_is_changed_with_its_source(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    page = opened(window, hands, "site_rules")
    qtbot.waitUntil(lambda: page.form.value("code") == "SITE" and page.model.rowCount() == 1)
    assert not page.new.isVisible()
    page.form.entries["extension_allowed"].target.click()  # type: ignore[attr-defined]
    qtbot.mouseClick(page.save, CLICK)
    assert "may be put off" in page.form.entries["why"].field.wrong.text()
    retype(qtbot, page, "check_due_days", "20")
    retype(qtbot, page, "stale_board_minutes", "0")
    qtbot.mouseClick(page.save, CLICK)
    wrong = {
        name: page.form.entries[name].field.wrong for name in ("why", "grounded_after_days", "stale_board_minutes")
    }
    assert "must be more than “A check is due after”" in wrong["grounded_after_days"].text()
    assert wrong["why"].text() and wrong["stale_board_minutes"].text(), "all mistakes are said at once"
    retype(qtbot, page, "check_due_days", "7")
    qtbot.waitUntil(lambda: not wrong["grounded_after_days"].text())
    assert wrong["why"].text() and wrong["stale_board_minutes"].text(), "what is still wrong stays said"
    retype(qtbot, page, "stale_board_minutes", "15")
    retype(qtbot, page, "why", "depot meeting 2026-11-02")
    qtbot.waitUntil(lambda: not any(one.text() for one in wrong.values()))
    qtbot.waitUntil(lambda: "no → yes (looser)" in page.live.text())
    qtbot.mouseClick(page.save, CLICK)
    with kestrel.store.view() as view:
        site = view.thing("site_rules", "SITE")
    assert site.extension_allowed and dict(site.sources)["extension_allowed"] == "depot meeting 2026-11-02"
    assert site.resistance_watch_ohm is not None, "what was set before stays"


def test_a_copy_takes_everything_but_the_code_and_enter_records(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    page = opened(window, hands, "vehicle")
    page.choose("CB-01")
    qtbot.mouseClick(page.copy, CLICK)
    assert page.form.value("code") == "" and page.form.value("bays") == "2"
    assert page.form.entries["code"].target.hasFocus()
    hands("CB-40", ENTER)
    assert page.said.text().startswith("CB-40 is on record") and page.new.hasFocus()
    qtbot.waitUntil(lambda: page.table.selected_row() is not None and page.table.selected_row().code == "CB-40")


def test_tab_goes_through_the_fields_in_their_order_and_to_the_button(
    window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    page = opened(window, hands, "test_load")
    page.begin()
    order = [
        page.form.entries[name].target for name in ("code", "name", "load_a", "hold_s", "accuracy_percent", "proved_on")
    ]
    seen: list[QWidget | None] = [QApplication.focusWidget()]
    for _ in range(len(order)):
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
        seen.append(QApplication.focusWidget())
    assert seen[:-1] == order and seen[-1] is page.save


def test_a_scan_opens_the_form_of_what_it_names(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    opened(window, hands, "meter")
    window.take_scan("C-48-2")
    page = window.setup.page
    assert isinstance(page, ThingPage) and page.kind == "charger" and page.form.value("code") == "C-48-2"


def test_a_pasted_list_is_shown_and_recorded(window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot) -> None:
    hands("B-05", ENTER)
    window.go("setup")
    window.setup.go_to("list")
    page = window.setup.made("list")
    assert isinstance(page, VehicleListPage)
    QApplication.clipboard().setText("EB-90,e-bike,KW,WX90\nEB-91,trike,KW,\n")
    page.text.setFocus()
    page.text.paste()
    qtbot.mouseClick(page.show_rows, CLICK)
    assert page.counts.text() == "2 rows: 0 new, 0 changed, 0 known already, 2 refused" and not page.save.isEnabled()
    page.takes.choose("K36-A")
    qtbot.mouseClick(page.show_rows, CLICK)
    assert page.counts.text().startswith("2 rows: 1 new") and "no kind of vehicle" in page.model.index(1, 7).data()
    with kestrel.store.view() as view:
        assert view.thing("vehicle", "EB-90") is None
    qtbot.mouseClick(page.save, CLICK)
    assert "Recorded: 1 vehicles" in page.counts.text() and page.labels.isVisible()
    qtbot.mouseClick(page.labels, CLICK)
    assert window.stack.currentWidget() is window.papers and window.papers.tabs.currentWidget() is window.papers.labels


def test_every_step_leads_somewhere(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    hands("B-05", ENTER)
    places = {"person": window.identity, "pack": window.identity, "labels": window.papers, "bench": window.bench,
              "hours": window.round}  # fmt: skip
    window.to_first_steps()
    steps = window.setup.made("steps")
    for name in steps.buttons:  # type: ignore[union-attr]
        window.to_first_steps()
        qtbot.mouseClick(steps.buttons[name], CLICK)  # type: ignore[union-attr]
        assert window.stack.currentWidget() is places.get(name, window.setup)
        if name in TABS:
            assert window.setup.page is window.setup.made(name)


def test_every_field_has_a_name_for_a_screen_reader(window: MainWindow, hands: Typist) -> None:
    opened(window, hands, "depot")
    for name in TABS:
        window.setup.go_to(name)
    assert unnamed(window.setup.window()) == []
    page = window.setup.thing_page("pack_model")
    for entry in page.form.entries.values():
        interface = QAccessible.queryAccessibleInterface(entry.target)
        assert interface.text(QAccessible.Text.Name).strip()


def test_the_models_keep_qts_rules(qtmodeltester: ModelTester, kestrel: Kestrel) -> None:
    from fleetcare.services import vehicle_lists

    shown = vehicle_lists.read_text(kestrel.store, kestrel.clock, "EB-12,e-bike,KW,\nEB-90,e-bike,KW,", "K36-A")
    for columns, rows in ((ROWS, shown.rows), (HISTORY, setting_up.form_page(kestrel.store, "meter", "M-01").versions)):
        model = RowModel(columns)
        model.set_rows(rows)
        qtmodeltester.check(model, force_py=True)


@pytest.mark.parametrize("percent", [100, 200])
def test_no_form_is_wider_than_its_place_at_any_size_of_text(qtbot: QtBot, qapp: QApplication, percent: int) -> None:
    theme.apply(qapp, "light", percent)
    for kind in FORMS:
        form = ThingForm(kind, lambda: None, lambda: None)
        qtbot.addWidget(form)
        assert form.minimumSizeHint().width() <= (880 if percent == 100 else 1290), kind
    theme.apply(qapp, "light", 100)


def test_closing_the_program_asks_about_what_is_typed_and_not_recorded(
    window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    page = opened(window, hands, "charger")
    page.refresh()
    qtbot.waitUntil(lambda: page.model.rowCount() > 0)
    page.begin()
    hands("C-99")
    window.go("bench")
    window.close()
    asked = window.question
    assert window.isVisible() and asked is not None and asked.isVisible()
    assert "a new charger" in asked.told and "lost" in asked.told
    qtbot.waitUntil(asked.stay.hasFocus)
    qtbot.keyClick(asked.stay, ENTER)
    qtbot.waitUntil(lambda: window.stack.currentWidget() is window.setup)
    assert window.isVisible() and window.setup.page is page
    qtbot.wait(50)
    assert page.form.value("code") == "C-99", "nothing typed is lost, and it is in sight"
    assert window.focusWidget() is page.form.first
    window.close()
    assert window.question is not None and window.question is not asked
    qtbot.mouseClick(window.question.go_on, CLICK)
    assert not window.isVisible()


def test_a_close_that_did_not_come_about_asks_again(
    window: MainWindow, hands: Typist, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = opened(window, hands, "charger")
    page.begin()
    hands("C-99")
    monkeypatch.setattr(window.bench, "put_aside", lambda: False)
    monkeypatch.setattr(window.closing, "_close_anyway", lambda: False)
    window.close()
    asked = window.question
    assert asked is not None
    qtbot.mouseClick(asked.go_on, CLICK)
    assert window.isVisible(), "what is typed at the bench could not be kept, and the person stays"
    window.close()
    assert window.isVisible() and window.question is not asked
    monkeypatch.undo()
    window.closing.close_without()
    assert not window.isVisible()


def test_a_form_that_was_only_looked_at_asks_nothing(window: MainWindow, hands: Typist) -> None:
    on_record = {"pack_model": "K36-A", "vehicle": "EB-11", "site_rules": "SITE", "charger": "C-36-1", "meter": "M-01",
                 "test_load": "L-08", "depot": "KW"}  # fmt: skip
    opened(window, hands, "pack_model")
    for kind, code in on_record.items():
        window.setup.thing_page(kind).choose(code)
    window.close()
    assert not window.isVisible() and window.question is None
