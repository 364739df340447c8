"""Roles and levels at the window: who may not presses the button and reads who may; nothing is recorded."""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QLabel, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.domain.packs import Level, Person, Role
from fleetcare.domain.quarantine import HeadAnswer
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.dialogs import AskDialog
from tests.kestrel import METERS, Kestrel
from tests.role_table import EVERYBODY, TABLE, Who, _brought, _fuses, _grounded, _smelt, _tripped, with_everybody
from tests.services.test_roles import WHO_MAY

Press = Callable[[MainWindow, QtBot, Path], None]


def fault_page(name: str, button: str, **typed: str) -> Press:
    def press(window: MainWindow, qtbot: QtBot, _folder: Path) -> None:
        window.go("faults")
        page = getattr(window.faults, name)
        window.faults.show_page(page)
        for field, text in typed.items():
            page.fields[field].edit.setText(text)
            page.fields[field].edit.returnPressed.emit()
        if name == "trips":
            qtbot.waitUntil(lambda: page.table.model().rowCount() > 0)
            page.table.selectRow(0)
        if name == "quarantine":
            page.table.selectRow(0)
            for choice in page.heads.values():
                choice.choose(HeadAnswer.CANNOT_SAY)
        if name == "fuse" and button == "keep_button":
            page.blown.setChecked(True)
        getattr(page, button).click()

    return press


def ask(window: MainWindow, qtbot: QtBot, button: QWidget, reason: str) -> None:
    """Press a button that opens a dialog, give a reason there, and leave the dialog as it then is."""

    def in_dialog() -> None:
        asked = QApplication.activeModalWidget()
        if not isinstance(asked, AskDialog):
            QTimer.singleShot(30, in_dialog)
            return
        asked._fields[-1].edit.setText(reason)
        asked.do.click()
        said.append(" ".join(label.text() for label in asked.findChildren(QLabel) if label.isVisible()))
        asked.close()

    said: list[str] = []
    QTimer.singleShot(60, in_dialog)
    button.click()  # type: ignore[attr-defined]
    qtbot.waitUntil(lambda: bool(said))
    window.setProperty("dialog_said", said[0])


def release(window: MainWindow, qtbot: QtBot, _folder: Path) -> None:
    window.open_vehicle("CB-06")
    qtbot.waitUntil(window.vehicle.release.isEnabled)
    ask(window, qtbot, window.vehicle.release, "mended")


def take_back(window: MainWindow, qtbot: QtBot, _folder: Path) -> None:
    window.go("keeping")
    window.keeping.pages.setCurrentWidget(window.keeping.imports)
    window.keeping.imports.imports_table.selectRow(0)
    ask(window, qtbot, window.keeping.imports.back, "wrong")


def bring_in(window: MainWindow, qtbot: QtBot, folder: Path) -> None:
    path = folder / "log.csv"
    path.write_text("pack,date,volts\nP-1004,2026-09-01,41.5\n", "utf-8")
    page = window.keeping.sheets
    window.go("keeping")
    window.keeping.pages.setCurrentWidget(page)
    page.file.edit.setText(str(path))
    page.look()
    qtbot.waitUntil(page.show_rows.isEnabled)
    page.show_rows.click()
    qtbot.waitUntil(page.confirm.isEnabled)
    page.confirm.click()
    qtbot.waitUntil(lambda: not page.stop.isVisible() and bool(page.said.text()))


def meter(window: MainWindow, qtbot: QtBot, _folder: Path) -> None:
    window.go("meters")
    qtbot.waitUntil(lambda: window.meters.model.rowCount() > 0)
    window.meters.choose("M-02")
    qtbot.waitUntil(lambda: window.meters.proof.meter is not None)
    ask(window, qtbot, window.meters.proof.broken, "dropped")


def person(window: MainWindow, _qtbot: QtBot, _folder: Path) -> None:
    window.go("identity")
    window.identity.tabs.setCurrentIndex(3)
    tab = window.identity.people
    tab.form.fields["name"].edit.setText("Newcomer")
    tab.form.do.click()


def label(window: MainWindow, _qtbot: QtBot, _folder: Path) -> None:
    window.go("identity")
    window.identity.tabs.setCurrentIndex(0)
    again = window.identity.labels.again
    again.fields["pack"].edit.setText("P-1003")
    again.fields["reason"].edit.setText("worn")
    again.do.click()


def condition(window: MainWindow, _qtbot: QtBot, _folder: Path) -> None:
    window.go("papers")
    panel = window.papers.policy
    window.papers.tabs.setCurrentWidget(window.papers.policy)
    panel.text.edit.setText("Inspect weekly.")
    panel.policy.edit.setText("FL-1")
    panel.from_date.edit.setText("2026-11-02")
    panel.save.click()


def lodge(window: MainWindow, qtbot: QtBot, _folder: Path) -> None:
    window.go("papers")
    window.papers.tabs.setCurrentWidget(window.papers.proof)
    panel = window.papers.proof
    qtbot.waitUntil(lambda: panel._known is not None)
    panel.recipient.edit.setText("the broker")
    panel.lodge.click()


def _nothing(_kestrel: Kestrel, _folder: Path) -> None:
    """Nothing need be on record before."""


PRESSED: dict[str, tuple[Press, Callable[[Kestrel, Path], object]]] = {
    "release what is grounded or held": (release, _grounded),
    "take an import back": (take_back, _brought),
    "bring in an old spreadsheet": (bring_in, _nothing),
    "mark a meter as found out": (meter, _nothing),
    "add a person, change roles, level or badge": (person, _nothing),
    "make the next label of a pack": (label, _nothing),
    "record a condition of the policy": (condition, _nothing),
    "record a lodged fingerprint": (lodge, _nothing),
    "note what a fuse looks like": (
        fault_page("fuse", "keep_button", pack="P-1008", vehicle="EB-18", cause="lead pinched"), _fuses),
    "begin a guided reset": (fault_page("job", "begin_button", pack="P-1002"), _tripped),
    "note a reset": (fault_page("trips", "reset_button", pack="P-1002"), _tripped),
    "say why a trip happened": (fault_page("trips", "judge_button", pack="P-1002"), _tripped),
    "test a charger's output": (
        fault_page("chargers", "output_button", charger="C-36-1", measured_v="42.0"), _nothing),
    "hand a pack to a carrier and write it off": (
        fault_page("quarantine", "collect", carrier="Northfield", consignment="NC-1"), _smelt),
}  # fmt: skip


def said_in(window: MainWindow) -> str:
    """Everything that can be read in the window, and in the dialog just closed."""
    shown = [one.text() for one in window.findChildren(QLabel) if one.isVisible()]
    return " ".join([*shown, window.property("dialog_said") or ""])


def test_who_may_not_reads_who_may(window: MainWindow, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path) -> None:
    with_everybody(kestrel)
    for prepare in dict.fromkeys(prepare for _, prepare in PRESSED.values()):
        if prepare is not _fuses:  # done by _tripped as well
            prepare(kestrel, tmp_path)
    window.session.set_bench(METERS[0], None, Decimal(20))
    with kestrel.store.view() as view:
        before = view.position
    for words, (press, _) in PRESSED.items():
        who: Who = next(deed.who for deed in TABLE if deed.words == words)
        refused = [one for one in EVERYBODY if not who.allows(one)]
        for one in (refused[0], refused[-1]):
            window.session.sign_in(one)
            window.setProperty("dialog_said", "")
            press(window, qtbot, tmp_path)
            with kestrel.store.view() as view:
                assert view.position == before, f"{one.name} did it: {words}"
            found = said_in(window).replace(window.who.text(), "")
            assert WHO_MAY.search(found), f"{words}: {one.name} read: {found[-800:]}"


def test_nobody_is_told_to_sign_in(window: MainWindow, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path) -> None:
    for press in (person, label, condition):
        with kestrel.store.view() as view:
            before = view.position
        press(window, qtbot, tmp_path)
        assert "sign in" in said_in(window).lower()
        with kestrel.store.view() as view:
            assert view.position == before


def test_a_level_taken_away_counts_at_once_in_an_open_window(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path
) -> None:
    from fleetcare.services import people

    with_everybody(kestrel)
    was = next(one for one in EVERYBODY if one.level is Level.MAY_CHECK)
    window.session.sign_in(was)
    now = Person(was.code, was.name, (Role.MECHANIC,), Level.NONE, badge=was.badge)
    people.put_person(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), now)
    label(window, qtbot, tmp_path)
    assert WHO_MAY.search(said_in(window).replace(window.who.text(), ""))
