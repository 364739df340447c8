"""A real window in a process of its own that types and is then killed, as by a power cut.

Run as a program: `python -m tests.journeys.unplugged FLEET window|saving`.
"""

from __future__ import annotations

import datetime as dt
import os
import sys
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind, LookOver, RestBand, VoltageCheck
from fleetcare.services import drafts, record
from fleetcare.services.drafts import Typed
from fleetcare.services.session import Author
from fleetcare.settings import Settings
from fleetcare.store.store import Store
from tests.kestrel import MONDAY, PEOPLE, D

TYPED_AT = MONDAY + dt.timedelta(minutes=10)


def type_in_a_window(path: Path) -> None:
    """Sign in, scan a vehicle and its pack, look it over, type two thirds of a reading, and go on waiting."""
    from PySide6.QtCore import Qt
    from PySide6.QtTest import QTest
    from PySide6.QtWidgets import QApplication

    from fleetcare.ui import theme
    from fleetcare.ui.main_window import MainWindow, first_focus

    qt = QApplication([])
    theme.apply(qt, "light", 100)
    window = MainWindow(App(Store.open(path), lambda: TYPED_AT, "BENCH-1", Settings()))
    window.show()
    window.activateWindow()
    first_focus(window)
    qt.processEvents()
    enter = Qt.Key.Key_Return
    for part in ("B-01", enter, "18", enter, "EB-13", enter, "P-1003", enter, Qt.Key.Key_F8, "3", "41.3"):
        for key in part if isinstance(part, str) else (part,):
            target = QApplication.focusWidget()
            (QTest.keyClicks if isinstance(key, str) else QTest.keyClick)(target, key)
            qt.processEvents()
    print("typed", flush=True)
    qt.exec()


def save_and_save(path: Path) -> None:
    """Keep a draft, save the check it became, and so on for every spare and bike, until killed."""
    store = Store.open(path)
    at = MONDAY
    while True:
        for number in range(1, 11):
            at += dt.timedelta(seconds=1)
            pack, draft_id = f"P-10{number:02d}", f"{number}-{at.timestamp()}"
            text = Typed(pack, None, "rested_full", "hours_1_3", "41.5", "", "", str(at), (), "M-01", None, None)
            drafts.keep(store, "DUNN", "BENCH-1", draft_id, at, text)
            check = VoltageCheck(pack, CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.5"), at, "M-01", remark=str(at))
            author = replace(Author(PEOPLE["DUNN"], "BENCH-1"), draft_id=draft_id)
            record.record_check(store, lambda at=at: at, author, check, LookOver(pack, at))
            print("saved", flush=True)


if __name__ == "__main__":
    {"window": type_in_a_window, "saving": save_and_save}[sys.argv[2]](Path(sys.argv[1]))
