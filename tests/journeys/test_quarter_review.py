"""The manager at the end of a quarter: what to buy, which model lasts, what to claim, and on what that rests."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QApplication, QFileDialog, QLabel, QPushButton, QWidget
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.packs import Pack
from fleetcare.services import record, warranty
from fleetcare.settings import Settings
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.dialogs import AskDialog
from tests.kestrel import K36, MONDAY, D, Kestrel
from tests.quarter import build_quarter
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
CLAUSE = "Cells 30 months from delivery. Rental fleets are excluded."


@pytest.fixture
def kestrel(tmp_path: Path) -> Iterator[Kestrel]:
    """The depot at the end of a quarter; P-1003 was bought with a clause, and tripped its watch limit since."""
    made = build_quarter(tmp_path / "quarter.fleet")
    warranty.record_purchase(
        made.store, made.clock, made.author("ORMOND"), "P-1003", bought_on="2025-03-31", months="30", clause=CLAUSE,
        invoice="F-118", price="399.50",
    )  # fmt: skip
    for days in (9, 2):
        made.check("P-1003", "39.60", at=MONDAY - dt.timedelta(days=days), vehicle="EB-13")
    yield made
    made.store.close()


@pytest.fixture
def app(kestrel: Kestrel) -> App:
    """The depot as an open program would have it."""
    return App(kestrel.store, kestrel.clock, "BENCH-1", Settings())


def text_of(part: QWidget) -> str:
    """Everything that stands on a page."""
    return "\n".join(label.text() for label in part.findChildren(QLabel) if not label.isHidden())


def button(part: QWidget, text: str) -> QPushButton:
    return next(one for one in part.findChildren(QPushButton) if one.text() == text)


def to_review(window: MainWindow, hands: Typist, qtbot: QtBot) -> MainWindow:
    hands("B-05", ENTER)
    qtbot.keyClick(window, Qt.Key.Key_P, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.ahead.found is not None, timeout=30_000)
    return window


def test_the_review_says_it_in_sentences_first(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    review = to_review(window, hands, qtbot).ahead.review
    assert review.total.text().startswith("In the next 91 days, to 1 Feb 2027:")
    buy = text_of(review.cards["buy"])
    assert "K36-A: " in buy and "at £420 each" in buy
    assert (
        "L36: 3 of 3 packs are not counted, not enough comparable checks: L-01 (1 of 6), L-02 (1 of 6), L-03 (1 of 6)"
        in buy
    )
    assert "P-1014 (3 of 6)" in buy
    assert "Both quarters, to 3 May 2027" in buy
    compare = text_of(review.cards["compare"])
    assert "L36 has too few packs to rank: 3 followed to 7 months, 5 are needed." in compare
    assert "K36-A: 100 % not pulled at 7 months" in compare and "lasted better" not in compare
    claims = text_of(review.cards["warranty"])
    assert f"“{CLAUSE}”" in claims and "332 days left, to 30 Sep 2027 · £399.50" in claims
    assert "439 days left, to 15 Jan 2028" in claims and "“not for hire use”" in claims
    assert "ask the seller before the work of a claim" in claims


def test_a_model_that_nobody_has_checked_is_named_and_not_ranked(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    new = replace(K36, code="M36", name="M36", price=D("455"), currency="GBP")
    fresh = Pack("M-91", "M36", "2610-1", MONDAY.date() - dt.timedelta(days=200), shelf="Store")
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", new), ("pack", fresh))
    compare = text_of(to_review(window, hands, qtbot).ahead.review.cards["compare"])
    assert "Not compared, since no pack of it was checked yet: M36." in compare
    assert "M36 lasted" not in compare


def test_the_clause_is_read_before_the_claim_file_is_made(
    window: MainWindow, hands: Typist, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    to_review(window, hands, qtbot).ahead.review.asked_claim.emit("P-1003")
    panel = window.papers.sheets
    assert window.stack.currentWidget() is window.papers and panel.code.text == "P-1003"
    assert panel.made is None and CLAUSE in panel.preview.sheet.text()
    assert panel.buttons["preview"].text() == "I have read the clause: make the claim file"
    qtbot.mouseClick(panel.buttons["preview"], Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: panel.made is not None, timeout=30_000)
    assert panel.preview.where.text().startswith("page 1 of ")
    chosen = tmp_path / "claim.pdf"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_a: (str(chosen), ""))
    qtbot.mouseClick(panel.buttons["save"], Qt.MouseButton.LeftButton)
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(chosen).pages).split())
    assert text.index("Rental fleets are excluded") < text.index("Identity") < text.index("Readings Done")
    panel.make()
    assert panel.made is None and CLAUSE in panel.preview.sheet.text()
    assert not panel.buttons["print"].isEnabled() and not panel.buttons["save"].isEnabled(), "nothing is made yet"
    for said in ("F-118", "31 Mar 2025", "30 Sep 2027", "£399.50", "39.60 V", "no photo, and no reason why there is none",
                 "It makes no statement about what caused any fault.", "printed by Ormond"):  # fmt: skip
        assert said in text, said
    assert "fault of" not in text and "negligen" not in text


def test_the_plan_is_made_and_names_packs_and_prices(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    review = to_review(window, hands, qtbot).ahead.review
    qtbot.mouseClick(review.plan, Qt.MouseButton.LeftButton)
    panel = window.papers.sheets
    qtbot.waitUntil(lambda: panel.made is not None, timeout=30_000)
    assert panel.made is not None
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(panel.made.path).pages).split())
    for said in ("Replacement plan", "£420", "P-1010", "How sure", "L36 has too few packs to rank"):
        assert said in text, said


def test_a_purchase_is_copied_from_the_invoice_and_a_slip_loses_nothing(
    window: MainWindow, hands: Typist, qtbot: QtBot
) -> None:
    ahead = to_review(window, hands, qtbot).ahead
    ahead.choose("claims")
    row = ahead.tables["claims"].selected_row()
    assert row is not None and row.pack == ahead.found.claims[0].pack, "what Claim file is about is seen"
    model = ahead.models["claims"]
    heads = [model.headerData(n, Qt.Orientation.Horizontal) for n in range(model.columnCount())]
    assert heads == ["Pack", "Last day", "Clause", "What was found", "Evidence"], "the clause before what was found"
    seen: list[str] = []

    def fill() -> None:
        dialog = next((w for w in QApplication.topLevelWidgets() if isinstance(w, AskDialog) and w.isVisible()), None)
        if dialog is None:
            QTimer.singleShot(20, fill)
            return
        fields = {field.objectName(): field for field in dialog._fields}
        fields["pack"].edit.setText("P-1005")
        fields["bought_on"].edit.setText("2 Nov")
        fields["months"].edit.setText("12")
        dialog.attempt()
        seen.extend((fields["bought_on"].wrong.text(), fields["months"].text))
        fields["bought_on"].edit.setText("2026-06-30")
        fields["clause"].edit.setText("one year")
        dialog.attempt()
        if dialog.isVisible():
            dialog.reject()

    QTimer.singleShot(20, fill)
    qtbot.mouseClick(ahead.purchase, Qt.MouseButton.LeftButton)
    assert seen[1] == "12"
    assert "is not a date" in seen[0]
    qtbot.waitUntil(lambda: any(one.pack == "P-1005" for one in ahead.found.claims), timeout=30_000)
    claim = next(one for one in ahead.found.claims if one.pack == "P-1005")
    assert claim.terms.ends_on == dt.date(2027, 6, 30) and claim.left_days == 240


def test_an_earlier_day_is_asked_on_the_review_and_on_a_pack(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    ahead = to_review(window, hands, qtbot).ahead
    ahead.as_of.edit.setFocus()
    hands("2 Oct", ENTER)
    qtbot.waitUntil(lambda: "is not a date" in ahead.as_of.wrong.text())
    assert ahead.as_of.typed == "2 Oct"
    ahead.as_of.edit.clear()
    hands("2026-10-01", ENTER)
    qtbot.waitUntil(lambda: ahead.found.past, timeout=30_000)
    assert "As it was known at the end of 1 Oct 2026" in ahead.note.text() and not ahead.claim.isEnabled()
    ahead.as_of.edit.setText("2 Oct")
    hands(ENTER)
    qtbot.waitUntil(lambda: "is not a date" in ahead.as_of.wrong.text() and ahead.as_of.wrong.isVisible())
    assert "As it was known at the end of 1 Oct 2026" in ahead.note.text(), "what is in view says of which day it is"
    window.open_pack("P-1010")
    page = window.pack
    qtbot.waitUntil(lambda: page.page is not None, timeout=30_000)
    assert page.page is not None and len(page.page.checks) == 9
    page.day.edit.setFocus()
    hands("2026-10-06", ENTER)
    qtbot.waitUntil(lambda: page.past.isVisible(), timeout=30_000)
    assert len(page.page.checks) == 5 and not page.buttons["correct"].isEnabled()
    assert page.sentence.text() == "not enough comparable checks (4 of 6)"
    qtbot.mouseClick(page.day.today, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not page.past.isVisible(), timeout=30_000)
    assert len(page.page.checks) == 9


def test_the_pack_page_says_why(window: MainWindow, hands: Typist, qtbot: QtBot) -> None:
    hands("B-05", ENTER)
    window.open_pack("P-1010")
    page = window.pack
    qtbot.waitUntil(lambda: page.page is not None, timeout=30_000)
    assert "around" in page.sentence.text() and "80 % range" in page.sentence.text()
    page.tabs.setCurrentWidget(page.why)
    told = page.why.told.text()
    for said in ("Readings used: 8.", "Level 0.2", "Limit 0.300 Ω", "fewer than 5 packs of this model"):
        assert said in told, said
    assert page.why.model.rowCount() == 8 and page.again.isHidden()
