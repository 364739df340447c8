"""The manager's page ahead, in a real window."""

import datetime as dt
import re
from dataclasses import replace

from PySide6.QtWidgets import QLabel, QPushButton, QWidget
from pytestqt.modeltest import ModelTester
from pytestqt.qtbot import QtBot

from fleetcare.domain.packs import Pack
from fleetcare.services import record
from fleetcare.services.renewal import renewal
from fleetcare.ui.ahead.ahead_screen import TABLES, TABS
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.tables import RowModel
from tests.kestrel import K36, MONDAY, D, Kestrel
from tests.services.test_storage import put_away


def read(qtbot: QtBot, window: MainWindow) -> MainWindow:
    window.go("ahead")
    qtbot.waitUntil(lambda: window.ahead.found is not None, timeout=30_000)
    return window


def test_the_page_ahead_is_read_and_says_as_of_when(qtbot: QtBot, window: MainWindow) -> None:
    read(qtbot, window)
    assert "ranges, not promises" in window.ahead.note.text() or "checks from before today" in window.ahead.note.text()


def test_every_tab_can_be_chosen_and_says_in_words_that_it_is_empty(qtbot: QtBot, window: MainWindow) -> None:
    read(qtbot, window)
    for tab in TABS:
        window.ahead.choose(tab)
        assert window.ahead.table.isVisible() or tab != "review"
    for name in TABLES:
        empty = window.ahead.models[name].rowCount() == 0
        assert window.ahead.told[name].text() and window.ahead.tables[name].isHidden() is empty


def test_its_models_keep_qts_rules(qtmodeltester: ModelTester, kestrel: Kestrel) -> None:
    kestrel.check("P-1004", "38.10", vehicle="EB-14")
    found = renewal(kestrel.store, kestrel.clock)
    rows = {
        "needs": [pack for one in found.needs for quarter in one.quarters for pack in quarter.named],
        "suspects": found.suspects, "claims": found.claims, "kept": found.kept, "learnt": found.learnt,
    }  # fmt: skip
    assert rows["needs"]
    for name, columns in TABLES.items():
        model = RowModel(columns)
        model.set_rows(rows[name])
        qtmodeltester.check(model, force_py=True)


def test_a_pack_that_runs_low_in_store_is_named_once_a_line(qtbot: QtBot, window: MainWindow, kestrel: Kestrel) -> None:
    banded = replace(K36, storage_low_v=D("36.00"), storage_high_v=D("39.00"))
    fresh = [Pack(f"S-0{n}", "K36-A", f"2404-{n}", shelf="Store") for n in (1, 2)]
    put = [("pack_model", banded), *(("pack", one) for one in fresh)]
    record.put_things(kestrel.store, lambda: MONDAY - dt.timedelta(days=60), kestrel.author("ORMOND"), *put)
    put_away(kestrel, "S-01", 0.012, 36.90)
    put_away(kestrel, "S-02", 0.012, 36.20)
    review = read(qtbot, window).ahead.review
    qtbot.waitUntil(lambda: review.cards.get("stored") is not None)
    parts = review.cards["stored"].findChildren(QWidget)
    said = [part.text() for part in parts if isinstance(part, QLabel | QPushButton) and "S-0" in part.text()]
    assert sorted(said) == ["S-01", "S-02"]
    told = [part.text() for part in parts if isinstance(part, QLabel) and "36.00 V" in part.text()]
    low, ahead = sorted(one.split(" 36.00")[0] for one in told)
    assert low == "At or below" and re.fullmatch(
        r"From \d+ \w{3} 20\d\d on, where its 80 % range begins, it may, at its rate in storage, be at", ahead
    )
