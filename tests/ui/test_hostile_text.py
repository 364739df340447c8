"""Text that could be taken for a command, in every field of every kind of record, out at every screen, paper and table."""

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtCore import Qt
from PySide6.QtGui import Qt as GuiQt
from PySide6.QtWidgets import QAbstractItemView, QApplication, QLabel, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.records import BODY_CLASSES
from fleetcare.reports import archive, board_page, every_sheet, history_sheet
from fleetcare.services import exporting, history, summary
from fleetcare.services.history import Asked
from fleetcare.settings import Settings
from fleetcare.store.store import Store
from fleetcare.ui.main_window import MORE, SCREENS, MainWindow
from fleetcare.ui.widgets.literal import literal
from tests.hostile_depot import CODED, FREE, NOT_MADE, bodies, fill, text_fields
from tests.kestrel import MONDAY, Kestrel, build
from tests.role_table import with_everybody
from tests.services.test_injection import NASTY
from tests.ui.test_mistakes import pages

MARKUP = tuple(text for text in NASTY if GuiQt.mightBeRichText(text))


@pytest.fixture(scope="module")
def depot(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of the depot; every kind of record is in it, most of them with several texts."""
    folder = tmp_path_factory.mktemp("hostile")
    base = folder / "base.fleet"
    with_everybody(build(base)).store.close()
    records = list(bodies(base, folder))
    made = Kestrel(Store.open(base))
    kinds = fill(made, [one for one in records for _ in range(3)], NASTY)
    assert set(BODY_CLASSES) - set(kinds) <= NOT_MADE, set(BODY_CLASSES) - set(kinds)
    made.store.close()
    return made.store.path


@pytest.fixture
def hostile(depot: Path, tmp_path: Path) -> Iterator[Kestrel]:
    """The depot, opened."""
    path = tmp_path / "hostile.fleet"
    path.write_bytes(depot.read_bytes())
    made = Kestrel(Store.open(path))
    yield made
    made.store.close()


def test_every_field_of_text_is_known_as_free_or_as_a_code() -> None:
    assert text_fields() == FREE | CODED


def test_papers_tables_and_pages_hold_it_as_text(hostile: Kestrel, tmp_path: Path) -> None:
    store, clock = hostile.store, hostile.clock
    assert store.verify().good
    store.rebuild()
    assert store.verify().good
    made = 0
    codes = {"van": ("V-2026-001",), "recall": ("R-1",)}
    for kind in every_sheet.KINDS:
        wanted = ("P-1002", "P-1009", "P-1011") if kind in every_sheet.OF_ONE_PACK else codes.get(kind, ("",))
        for code in wanted:
            order = every_sheet.Order(kind, "A4", NASTY[2], MONDAY, code, ("S2611020630-01",))
            try:
                every_sheet.write(order, store, clock, tmp_path / f"{kind}.pdf")
            except FleetcareError as refused:
                assert str(refused)
                continue
            assert PdfReader(tmp_path / f"{kind}.pdf").pages
            made += 1
    assert made >= 12, made
    for asked in (("vehicle", "EB-12"), ("pack", "P-1002"), ("pack", "P-1011"), ("fleet", "")):
        since = MONDAY.date().replace(year=2025)
        with history.reading(store, clock, Asked(*asked, since, MONDAY.date())) as reading:
            history_sheet.write(
                reading, reading.whole(), tmp_path / "h.pdf", page="A4", printed_by=NASTY[2], printed_at=MONDAY
            )
            archive.write(
                reading, reading.whole(), tmp_path / "h.zip", page="A4", printed_by=NASTY[2], printed_at=MONDAY
            )
        _tables_are_tame(tmp_path / "h.zip")
    html = board_page.page(summary.fleet_summary(store, clock), made_at=MONDAY)
    assert not re.search(r"<(?:b|img|para|font)\b", html) and html.count("<script") == html.count("</script") == 1
    exporting.export_all(store, tmp_path / "all.zip")
    _tables_are_tame(tmp_path / "all.zip")
    assert exporting.rebuild(tmp_path / "all.zip", tmp_path / "again.fleet") is not None


def _tables_are_tame(path: Path) -> None:
    with zipfile.ZipFile(path) as packed:
        assert not [one for one in packed.namelist() if one.startswith(("/", "..")) or ".." in one.split("/")]
        for table in (one for one in packed.namelist() if one.endswith(".csv")):
            for row in csv.reader(io.StringIO(packed.read(table).decode("utf-8"))):
                assert not [cell for cell in row if cell.startswith(("=", "@", "+"))], (table, row)


def _markup(tip: str) -> bool:
    return GuiQt.mightBeRichText(tip) and not (tip.startswith("<qt>") and tip.count("<") == 2 + tip.count("<br>"))


def read_as_markup(part: QWidget) -> list[str]:
    """What a label, a tip or a cell's tip would show as markup."""
    found = []
    for label in part.findChildren(QLabel):
        rich = label.textFormat() in (Qt.TextFormat.AutoText, Qt.TextFormat.RichText)
        if rich and GuiQt.mightBeRichText(label.text()):
            found.append(f"label {label.text()[:80]}")
    for one in part.findChildren(QWidget):
        if _markup(one.toolTip()):
            found.append(f"tip {one.toolTip()[:80]}")
    for view in part.findChildren(QAbstractItemView):
        model = view.model()
        for row in range(model.rowCount() if model else 0):
            for column in range(model.columnCount()):
                tip = model.index(row, column).data(Qt.ItemDataRole.ToolTipRole) or ""
                if _markup(tip):
                    found.append(f"cell's tip {tip[:80]}")
    return found


def test_no_screen_takes_it_for_markup(hostile: Kestrel, qtbot: QtBot) -> None:
    window = MainWindow(App(hostile.store, hostile.clock, "BENCH-1", Settings()))
    qtbot.addWidget(window)
    window.show()
    window.session.sign_in(hostile.people["ORMOND"])
    shown = 0
    for screen in (*SCREENS, *MORE):
        window.go(screen)
        for turn in pages(window, screen):
            turn()  # type: ignore[operator]
            qtbot.wait(150)
            QApplication.processEvents()
            assert not (found := read_as_markup(window)), (screen, found[:5])
            shown += sum(any(text in label.text() for text in NASTY) for label in window.findChildren(QLabel))
    for code in ("P-1002", "P-1009", "P-1011", "P-1003"):
        window.open_pack(code)
        qtbot.waitUntil(lambda c=code: window.pack.page is not None and window.pack.page.pack.code == c, timeout=15_000)
        assert not (found := read_as_markup(window)), (code, found[:5])
    window.open_vehicle("EB-12")
    qtbot.wait(300)
    assert not (found := read_as_markup(window)), found[:5]
    assert shown, "none of it was in view"
    window.close()


def test_markup_is_shown_letter_by_letter() -> None:
    assert MARKUP and all("<qt>" in literal(text) and text not in literal(text) for text in MARKUP)
    assert literal("plain, < and &") == "plain, < and &"
