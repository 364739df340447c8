"""What was typed and never saved, offered back by person and time."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.domain.wording import msg, say, word
from fleetcare.services.drafts import Offered
from fleetcare.ui.widgets.cards import Card, words
from fleetcare.ui.widgets.deed_page import large_text

SHOWN, SHOWN_LARGE = 1, 4
"""Lines shown until all are asked for: one in the column of verdict and round, which have to make room for it; a few
where the page scrolls anyway."""
TARGET = 36
"""Height of its buttons, in pixels."""
_BUTTONS = "buttons"


class DraftsPanel(Card):
    """Hidden when nothing was left unsaved.  Only one's own can be gone on with."""

    take_up = Signal(object)
    discard = Signal(object)
    job = Signal(str)
    """The guided reset of this pack is to be gone on with."""

    def __init__(self) -> None:
        super().__init__()
        self.column.setContentsMargins(14, 6, 14, 8)
        self._lines = QVBoxLayout()
        self._lines.setSpacing(6)
        self.column.addLayout(self._lines)
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        self.column.addWidget(self.wrong)
        self.offers: tuple[Offered, ...] = ()
        self._may_discard_all = False
        self.hide()

    def show_offers(self, offers: tuple[Offered, ...], *, may_discard_all: bool) -> None:
        """Show these, in their order; others' drafts can be discarded by whoever may release."""
        self.offers = offers
        self._may_discard_all = may_discard_all
        self.wrong.hide()
        self._show(SHOWN_LARGE if large_text() else SHOWN)
        self.setVisible(bool(offers))

    def _show_all(self) -> None:
        """All of them; the cursor goes to the first that was not seen before."""
        seen = self._lines.count()
        self._show(len(self.offers))
        line = self._lines.itemAt(seen).widget()
        first = line.findChild(QPushButton) if line is not None else None
        (first or self).setFocus()

    def _show(self, many: int) -> None:
        while (item := self._lines.takeAt(0)) is not None:
            old = item.widget()
            if isinstance(old, QWidget):
                old.hide()
                old.deleteLater()
        for offer in self.offers[:many]:
            self._lines.addWidget(self._line(offer, offer.own or self._may_discard_all))
        left = len(self.offers) - many
        if left > 0:
            last = self._lines.itemAt(self._lines.count() - 1).widget().findChild(QHBoxLayout, _BUTTONS)  # type: ignore[union-attr]
            assert isinstance(last, QHBoxLayout)
            more = self._button(say(msg("draft.show_more", more=left)))
            more.setObjectName("more")
            more.clicked.connect(self._show_all)
            last.addWidget(more, 0, Qt.AlignmentFlag.AlignVCenter)

    def first_own(self) -> Offered | None:
        """The newest draft that the person may go on with, or None."""
        return next((one for one in self.offers if one.own and one.typed is not None), None)

    def texts(self) -> list[str]:
        """What the lines say."""
        return [say(one.line) for one in self.offers]

    def _line(self, offer: Offered, may_discard: bool) -> QWidget:
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        row = QHBoxLayout()
        row.setSpacing(10)
        column.addLayout(row)
        heading = words(word("draft.job_heading" if offer.job else "draft.heading"), bold=True)
        heading.setWordWrap(False)
        top = Qt.AlignmentFlag.AlignTop
        row.addWidget(heading, 0, top)
        row.addWidget(words(say(offer.line)), 1, top)
        if not large_text():  # the column is narrow: the buttons stand below what they are about
            row = QHBoxLayout()
            row.setSpacing(8)
            row.addStretch(1)
            column.addLayout(row)
        row.setObjectName(_BUTTONS)
        if offer.job:
            go_on = self._button(word("draft.job_go_on"))
            go_on.setAccessibleName(f"{word('draft.job_go_on')}: {offer.subject}")
            go_on.clicked.connect(lambda: self.job.emit(offer.subject))
            row.addWidget(go_on, 0, Qt.AlignmentFlag.AlignVCenter)
        if offer.own and offer.typed is not None:
            go_on = self._button(word("draft.take_up_key" if offer is self.first_own() else "draft.take_up"))
            go_on.setAccessibleName(f"{word('draft.take_up')}: {offer.subject}")
            go_on.clicked.connect(lambda: self.take_up.emit(offer))
            row.addWidget(go_on, 0, Qt.AlignmentFlag.AlignVCenter)
        if may_discard and not offer.job:
            drop = self._button(word("draft.discard"))
            drop.setAccessibleName(f"{word('draft.discard')}: {offer.subject}")
            drop.clicked.connect(lambda: self._drop(drop, offer))
            row.addWidget(drop, 0, Qt.AlignmentFlag.AlignVCenter)
        return holder

    @staticmethod
    def _button(text: str) -> QPushButton:
        button = QPushButton(text)
        button.setMinimumHeight(TARGET)
        return button

    def _drop(self, button: QPushButton, offer: Offered) -> None:
        if button.property("sure"):
            self.discard.emit(offer)
            return
        button.setProperty("sure", True)
        button.setText(word("draft.discard_sure"))
