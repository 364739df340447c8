"""Make the pictures of the manual from the demonstration fleet.

    python docs/make_pictures.py

Screens are grabbed from a real window (offscreen unless a display is given), sheets are rasterised by pdftoppm.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QEventLoop, Qt, QThreadPool, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from fleetcare.app import App, found_fleet, open_app, open_demo
from fleetcare.cli.deeds import write_board, write_pack_sheet
from fleetcare.domain.checks import CheckKind, LookItem, RestBand, TripCause, VoltageCheck
from fleetcare.reports import blank, history_sheet, renewal_sheet
from fleetcare.services import history, laying_up
from fleetcare.services.history_lines import Asked
from fleetcare.services.people import find_person
from fleetcare.services.renewal_summary import renewal_summary
from fleetcare.services.session import Author
from fleetcare.ui import theme
from fleetcare.ui.main_window import MainWindow

PICTURES = Path(__file__).parent / "pictures"
MORNING = dt.datetime(2026, 11, 25, 9, 30, tzinfo=dt.UTC)
ENTER = Qt.Key.Key_Return


def wait(milliseconds: int = 300) -> None:
    """Let the window work until nothing is being read in the background any more."""
    loop = QEventLoop()
    for _ in range(200):
        QTimer.singleShot(milliseconds, loop.quit)
        loop.exec()
        if QThreadPool.globalInstance().activeThreadCount() == 0:
            return


def hands(*parts: object) -> None:
    """Type into whatever has the focus."""
    for part in parts:
        focus = QApplication.focusWidget()
        if isinstance(part, str):
            QTest.keyClicks(focus, part)
        else:
            QTest.keyClick(focus, part)


def screens(app: App, qt: QApplication) -> None:
    """Every screen, and a few states of the bench."""
    window = MainWindow(app)
    window.resize(1366, 740)
    window.show()
    window.activateWindow()

    def shot(name: str) -> None:
        QTest.qWait(350)  # what is asked only once somebody stays on a line
        wait()
        window.grab().save(str(PICTURES / f"{name}.png"))

    wait()
    shot("sign-in")
    hands("B-01", ENTER)
    shot("conditions")
    hands("18", ENTER, "EB-18", ENTER, "P-1008", ENTER, Qt.Key.Key_F8, "3", "41.74", ENTER, "39.86", ENTER)
    shot("bench")
    hands(ENTER, "EB-13", ENTER, "P-1303", ENTER)
    shot("refused")
    hands("P-1012", ENTER)
    shot("pairing")
    window.bench._clear()
    hands("EB-15", ENTER, "P-1005", ENTER)
    window.bench.work.look.boxes[LookItem.SMELL].click()
    shot("stop")
    window.bench._back_from_stop()
    window.bench._clear()
    for screen in ("board", "packs", "vehicles"):
        window.go(screen)
        shot(screen)
    window.open_pack("P-1008")
    shot("pack")
    window.open_vehicle("EB-16")
    shot("vehicle")
    window.go("round")
    shot("round")
    packs = ("P-1011", "P-1012", "P-1013")
    laying_up.lay_up(app.store, app.clock, Author(window.session.person, "DESK"), "WINTER-1", packs, shelf="Rack 9")
    for code, volts in zip(packs, ("37.42", "36.90", "29.40"), strict=True):
        read = VoltageCheck(code, CheckKind.STORED, RestBand.OVERNIGHT, Decimal(volts), app.clock(), "M-01")
        laying_up.record_storage_look(app.store, app.clock, Author(window.session.person, "DESK"), read)
    window.round.tabs.setCurrentIndex(3)
    shot("layup")
    window.go("board")
    wait()
    window.board.choose("EB-14")
    shot("board-tiles")
    for screen in ("overview", "ahead"):  # read in the background, and laid out once that is here
        window.go(screen)
        wait()
        shot(screen)
    shot("review")
    window.ahead.choose("suspects")
    shot("measure-again")
    window.open_pack("P-1317")
    wait()
    window.pack.quantity.setCurrentIndex(window.pack.quantity.findData("stored_v"))
    shot("stored")
    window.go("cases")
    shot("decisions")
    for screen in ("away", "parts"):
        window.go(screen)
        shot(screen)
    window.go("papers")
    window.papers.tabs.setCurrentWidget(window.papers.rules)
    shot("rules")
    fault_pages(window, shot)
    window.session.sign_in(find_person(app.store, "Ormond"))
    window.go("setup")
    window.setup.go_to("pack_model")
    models = window.setup.thing_page("pack_model")
    models.choose("K48-B")
    models.form.entries["charge_max_c"].set_value("40")
    models.form.entries["name"].target.setFocus()
    models.show_live()
    shot("pack-model")
    theme.apply(qt, "dark", 100)
    window.go("board")
    shot("board-dark")
    window.close()


def fault_pages(window: MainWindow, shot: Callable[[str], None]) -> None:
    """A rider's report, the tree at its first row, the tallies, and the first pause of a guided reset."""
    faults = window.faults
    window.go("faults")
    hands("EB-12", ENTER, ENTER)
    shot("report")
    faults.report.clear()
    faults.show_page(faults.tree)
    faults.tree.take("pack", "P-1010")
    faults.tree.gate_no.click()
    shot("fault-finding")
    faults.show_page(faults.tallies)
    shot("tallies")
    faults.show_page(faults.trips)
    faults.trips.take("pack", "P-1006")
    faults.trips.cause.choose(TripCause.OVER_CURRENT)
    faults.trips.explained.setChecked(True)
    faults.trips.fields["reason"].edit.setText("steep ramp, heavy load")
    faults.trips.judge_button.click()
    faults.trips.reset_button.click()
    shot("guided-reset")
    faults.job.leave()


def first_steps(folder: Path) -> None:
    """What a fleet lacks that has just been founded."""
    path = folder / "own.fleet"
    founder = found_fleet(path, "Mill Lane Bikes", "Alex Quill", clock=lambda: MORNING)
    app = open_app(path, clock=lambda: MORNING)
    window = MainWindow(app)
    window.resize(1366, 740)
    window.show()
    window.activateWindow()
    wait()
    window.welcome(founder)
    wait()
    window.grab().save(str(PICTURES / "first-steps.png"))
    window.close()
    app.store.close()


def sheets(app: App, folder: Path) -> None:
    """One picture a page of every sheet."""
    common = {"page": "A4", "printed_by": "Dunn"}
    write_pack_sheet(app, "P-1008", folder / "sheet.pdf", **common)
    write_board(app, folder / "board-sheet.pdf", **common)
    blank.write(
        app.store.fleet_name,
        ["S2611020630-01"],
        folder / "blank-sheet.pdf",
        demo=True,
        printed_at=app.clock(),
        **common,
    )
    renewal_sheet.write(renewal_summary(app.store, app.clock), folder / "renewal.pdf", printed_at=app.clock(), **common)
    year = Asked("vehicle", "EB-18", app.clock().date() - dt.timedelta(days=365), app.clock().date())
    with history.reading(app.store, app.clock, year) as reading:
        history_sheet.write(reading, reading.whole(), folder / "history.pdf", printed_at=app.clock(), **common)
    history_page = ["-f", "1", "-l", "1", "-singlefile"]
    subprocess.run(
        ["pdftoppm", "-r", "80", *history_page, "-png", str(folder / "history.pdf"), str(PICTURES / "history")],
        check=True,
    )
    for name in ("sheet", "board-sheet", "blank-sheet", "renewal"):
        subprocess.run(["pdftoppm", "-r", "80", "-png", str(folder / f"{name}.pdf"), str(PICTURES / name)], check=True)


def main() -> None:
    """Make all pictures anew."""
    shutil.rmtree(PICTURES, ignore_errors=True)
    PICTURES.mkdir()
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FLEETCARE_HOME"] = folder
        app = open_demo(print, clock=lambda: MORNING, path=Path(folder) / "demo.fleet")
        qt = QApplication([])
        theme.apply(qt, "light", 100)
        first_steps(Path(folder))
        screens(app, qt)
        sheets(app, Path(folder))
        app.store.close()


if __name__ == "__main__":
    main()
