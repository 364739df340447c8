"""The bench at work: scan, look, read, verdict.  Fields and layout; the flow is in bench_screen."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QMouseEvent, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QBoxLayout,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.checks import CheckKind
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.bench.decision_panel import DecisionPanel
from fleetcare.ui.bench.drafts_panel import DraftsPanel
from fleetcare.ui.bench.look_panel import LookPanel
from fleetcare.ui.bench.pairing_panel import PairingPanel
from fleetcare.ui.bench.rest_picker import RestPicker
from fleetcare.ui.bench.round_panel import RoundPanel
from fleetcare.ui.bench.verdict_panel import VerdictPanel
from fleetcare.ui.scanning import SCAN_FIELD
from fleetcare.ui.theme import large_text, sized
from fleetcare.ui.widgets.cards import Card, Field, words

NARROW_LETTERS = 120
"""Below this many letters of width the page has one column."""

SETTLED_MS = 200
"""So long what is to be in view is followed while the page is laid out anew; afterwards a hand may scroll as it likes."""

TARGET = 44
"""Least height of what gloves must hit, in pixels."""

DETAIL_LINES = 2
"""Lines about the pack that have their place before one is scanned, so that no field moves when it is."""


class OnceButton(QPushButton):
    """A button that a double click presses once, where a second press is an answer of its own."""

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Qt's hook: the second press of a double click is none."""
        event.accept()


class WorkPage(QWidget):
    """All fields of one check, in the order of the work; the sheet for paper has the same order."""

    def __init__(self, app: App) -> None:
        super().__init__()
        self.conditions = words(quiet=True)
        self.change = QPushButton(word("bench.change"))
        self.drafts = DraftsPanel()
        self.scan = Field(word("bench.scan"))
        self.scan.edit.setProperty(SCAN_FIELD, True)
        self.scan.edit.setAccessibleName(word("bench.scan_field"))
        self.scan.edit.setMinimumHeight(TARGET)
        self.scan.edit.setFont(sized(1.25))
        self.subject = words(size=1.35, bold=True)
        self.details = words(quiet=True)
        for label, lines in ((self.subject, 1), (self.details, DETAIL_LINES)):
            label.setText("\n".join("X" * lines))
            label.setMinimumHeight(label.sizeHint().height())
            label.clear()
            label.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop)
        self.pairing = PairingPanel(app)
        self.look = LookPanel()
        self.rest = RestPicker()
        self.kind = QComboBox()
        self.kind.setAccessibleName(word("bench.kind"))
        for kind in CheckKind:
            self.kind.addItem(word(f"check_kind.{kind.value}"), kind)
        self.rested = Field(word("bench.rested"), "V", number=True, width=170)
        self.loaded = Field(word("bench.loaded"), "V", number=True, width=170)
        self.amps = Field(word("bench.amps"), "A", number=True, width=120)
        self.remark = Field(word("bench.remark"))
        for field in (self.rested, self.loaded, self.amps):
            field.edit.setMinimumHeight(TARGET)
            field.edit.setFont(sized(1.3))
        self.question = words(bold=True)
        self.again = Field(word("ask.read_again"), "V", number=True, width=170)
        self.again.edit.setMinimumHeight(TARGET)
        self.again_hint = words(word("ask.again_hint"), quiet=True)
        self.second = QPushButton()
        self.second.setMinimumHeight(TARGET)
        self.right = QPushButton()
        self.mend = QPushButton()
        self._answers = {self.second: word("ask.use_second"), self.mend: word("bench.mend")}
        self.name_right("bench.right")
        self.save = QPushButton(word("bench.save"))
        self.clear = OnceButton(word("bench.clear"))
        for button in (self.right, self.mend, self.save, self.clear):
            button.setMinimumHeight(TARGET)
        for button in (self.mend, self.save):
            button.setAutoDefault(True)
        self.save.setFont(sized(1.1, bold=True))
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        self.verdict = VerdictPanel()
        self.decision = DecisionPanel(app)
        self.round = RoundPanel(app)
        self._wanted: QWidget = self.scan
        self._settling = QTimer(self)
        self._settling.setSingleShot(True)
        self._lay_out()
        QApplication.instance().focusChanged.connect(self._follow)  # type: ignore[union-attr]
        self.look.asked_again.connect(self._show_asked)
        for field in (self.rested, self.loaded, self.amps, self.remark):
            field.edit.textEdited.connect(lambda _text, typed=field: self.reveal(typed))

    def _show_asked(self) -> None:
        """The line that asks for one item again is in view, wherever the page stood."""
        self.reveal(self.look.line)

    def _follow(self, _old: QWidget | None, new: QWidget | None) -> None:
        """Keep what has the focus in view."""
        if new is not None and self.isAncestorOf(new):
            self.reveal(new)
            self.mark_enter()

    def empty(self) -> None:
        """Nothing on the bench: every field empty, the cursor where the next code goes."""
        for field in (self.scan, self.rested, self.loaded, self.remark):
            field.clear()
        self.amps.clear()
        self.subject.clear()
        self.details.clear()
        self.scan.edit.setFocus()
        self.pairing.hide()
        self.look.clear()
        self.rest.clear()
        self.kind.setCurrentIndex(0)
        self.wrong.hide()
        self.verdict.wait()
        self.decision.forget()

    def refuse(self, error: FleetcareError) -> None:
        """Beside the field it belongs to, or under the buttons."""
        fields = {"rested_v": self.rested, "loaded_v": self.loaded, "load_a": self.amps, "pack": self.scan}
        field = fields.get(error.field)
        if error.field == "rest":
            self.rest.ask()
        elif field is not None:
            field.refuse(error)
            field.edit.setFocus()
            field.edit.selectAll()
        else:
            self.wrong.setText(say(error.message))
            self.wrong.show()

    def name_right(self, key: str) -> None:
        """What the answer "it is right" is called for the question that stands."""
        self._answers[self.right] = word(key)
        self.mark_enter()

    def mark_enter(self) -> None:
        """The answer that Enter gives from where the cursor is says so; no other does."""
        for button, answer in self._answers.items():
            given = button.hasFocus() or (button is self.second and self.again.edit.hasFocus())
            button.setText(say(msg("ask.with_enter", answer=answer)) if given else answer)

    def _lay_out(self) -> None:
        bar = QHBoxLayout()
        bar.addWidget(self.conditions, 1)
        bar.addWidget(self.change)
        scan_card = Card()
        scan_card.column.addWidget(self.scan)
        scan_card.column.addWidget(self.subject)
        scan_card.column.addWidget(self.details)
        scan_card.column.addWidget(self.pairing)
        self.readings = Card()
        self.readings.column.addWidget(self.rest)
        numbers = QHBoxLayout()
        numbers.setSpacing(18)
        for field in (self.rested, self.loaded, self.amps):
            numbers.addWidget(field, 0, Qt.AlignmentFlag.AlignTop)
        numbers.addStretch(1)
        kind = QVBoxLayout()
        kind.setSpacing(3)
        label = QLabel(word("bench.kind"))
        label.setBuddy(self.kind)
        kind.addWidget(label)
        kind.addWidget(self.kind)
        kind.addStretch(1)
        others = QHBoxLayout()
        others.setSpacing(18)
        others.addLayout(kind)
        others.addWidget(self.remark, 1, Qt.AlignmentFlag.AlignTop)
        self._row = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._row.setSpacing(18)
        self._row.addLayout(numbers)
        self._row.addLayout(others, 1)
        self.readings.column.addLayout(self._row)
        self.question_card = Card(word("bench.question"))
        self.question_card.column.addWidget(self.question)
        answers = QVBoxLayout()
        answers.addWidget(self.mend)
        answers.addWidget(self.again_hint)
        answers.addWidget(self.again)
        answers.addWidget(self.second)
        answers.addWidget(self.right)
        self.question_card.column.addLayout(answers)
        self.question_card.hide()
        buttons = QHBoxLayout()
        buttons.addWidget(self.save)
        buttons.addWidget(self.clear)
        left = QVBoxLayout()
        left.setSpacing(8)
        left.addLayout(bar)
        # one below the other, what was left unsaved comes first; side by side it stands where it moves no field and where
        # verdict and round make room for it, so that no refusal and no second line pushes it out of a low window
        first = (self.drafts,) if large_text() else ()
        for card in (*first, scan_card, self.look, self.readings):
            left.addWidget(card)
        left.addLayout(buttons)
        left.addWidget(self.wrong)  # below the buttons, so that no sentence moves them
        left.addStretch(1)
        right = QVBoxLayout()
        right.addWidget(self.question_card)
        right.addWidget(self.verdict, 3)
        right.addWidget(self.decision)
        if not first:
            right.addWidget(self.drafts)
        right.addWidget(self.round, 2)
        self.round.setMinimumHeight(180)
        holder = QWidget()
        self._both = QBoxLayout(QBoxLayout.Direction.LeftToRight, holder)
        self._both.setContentsMargins(12, 8, 12, 4)
        self._both.setSpacing(12)
        self._both.addLayout(left, 5)
        self._both.addLayout(right, 3)
        self.scroll = QScrollArea()
        self.scroll.setWidget(holder)
        self.scroll.setWidgetResizable(True)
        self.scroll.setFrameShape(QFrame.Shape.NoFrame)
        self.scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.scroll.verticalScrollBar().rangeChanged.connect(self._show_wanted)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.scroll)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Qt's hook: with large letters or a narrow window the columns stand one below the other."""
        narrow = self.width() < NARROW_LETTERS * self.fontMetrics().averageCharWidth()
        down, across = QBoxLayout.Direction.TopToBottom, QBoxLayout.Direction.LeftToRight
        self._both.setDirection(down if narrow else across)
        self._row.setDirection(down if narrow else across)
        self.look.arrange(narrow=narrow)
        super().resizeEvent(event)

    def reveal(self, part: QWidget) -> None:
        """Scroll `part` into view, and again while the page takes its places after what was just said."""
        self._wanted = part
        self._settling.start(SETTLED_MS)
        self._show_wanted()

    def _show_wanted(self) -> None:
        """What is scanned next stands at the top of the page, and so does what was told of the last check."""
        if self._settling.isActive():
            if self.scan.isAncestorOf(self._wanted):
                self.scroll.verticalScrollBar().setValue(0)
            self.scroll.ensureWidgetVisible(self._wanted, 0, 8 if self._wanted is self.look.line else 40)
