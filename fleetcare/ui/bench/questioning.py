"""The card of odd readings at the bench: what was asked, how it was answered, which readings were taken twice."""

from __future__ import annotations

from decimal import Decimal

from PySide6.QtCore import QObject, QTimer, Signal

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.identity import ReadTwice
from fleetcare.domain.questioning import JUMPS, answers_jump
from fleetcare.domain.units import parse_volts
from fleetcare.domain.verdicts import Question
from fleetcare.domain.wording import msg, say, word
from fleetcare.ui.bench.work_page import WorkPage


class Questioning(QObject):
    """Asks one question at a time about the readings in the fields; an answer saves, unless it is to mend them."""

    answered = Signal()
    """The readings stand as they are now in the fields."""

    def __init__(self, app: App, work: WorkPage, parent: QObject) -> None:
        super().__init__(parent)
        self._app, self._work = app, work
        self._pack = ""
        self._asked: tuple[Question, ...] = ()
        self.upheld: tuple[tuple[str, str], ...] = ()
        """Fields and questions that were answered: the reading is as it was typed."""
        self.repeats: tuple[ReadTwice, ...] = ()
        """What was read a second time; both readings are kept."""
        work.right.clicked.connect(self._is_right)
        work.mend.clicked.connect(self._let_mend)
        work.again.edit.returnPressed.connect(self._second_reading)
        work.second.clicked.connect(self._second_reading)

    def forget(self) -> None:
        """Another reading is typed, or another pack is on the bench."""
        self.upheld = ()
        self.repeats = ()
        self._work.question_card.hide()

    def still_open(self, questions: tuple[Question, ...]) -> tuple[Question, ...]:
        """Those that nobody has answered yet."""
        return tuple(one for one in questions if (one.field, one.statement.key) not in self.upheld)

    def ask(self, pack: str, questions: tuple[Question, ...]) -> None:
        """Show the questions about the readings of `pack`."""
        self._pack, self._asked = pack, questions
        self._work.question.setText("\n".join(say(one.statement) for one in questions))
        self._work.again.clear()
        loaded = questions[0].field == "loaded_v"
        self._work.again_hint.setText(word("ask.again_hint_loaded" if loaded else "ask.again_hint"))
        self._work.name_right("bench.right")
        reversed_leads = questions[0].statement.key == "ask.reversed"
        for part in (self._work.again, self._work.second, self._work.again_hint):
            part.setHidden(reversed_leads)
        self._work.question_card.show()
        QTimer.singleShot(0, self, lambda: self._work.reveal(self._work.question_card))
        needs_second = any(one.statement.key in JUMPS and not one.suggestions for one in questions)
        (self._work.again.edit if needs_second else self._work.mend).setFocus()
        self._work.mark_enter()

    def _second_reading(self) -> None:
        """The questioned reading was taken again: both are kept, the second is judged."""
        work, asked = self._work, self._asked[0]
        try:
            second = parse_volts(work.again.text, field="again")
        except EntryRefused as error:
            work.again.refuse(error)
            work.again.edit.setFocus()
            return
        field = work.loaded if asked.field == "loaded_v" else work.rested
        first = parse_volts(field.text, field=asked.field)
        twice = ReadTwice(self._pack, asked.field, first, second, self._app.clock(), asked.statement)
        self.repeats += (twice,)
        field.edit.setText(work.again.text.strip())
        self.upheld = tuple(one for one in self.upheld if one[0] != asked.field)
        if answers_jump(asked, first, second):
            self.upheld += ((asked.field, asked.statement.key),)
        work.question_card.hide()
        self.answered.emit()

    def ask_reversed(self, pack: str, error: FleetcareError) -> None:
        """A minus sign: the leads were reversed, or it was mistyped; nothing is turned round unasked."""
        typed = error.message.value("typed_v")
        assert isinstance(typed, Decimal)
        statement = msg("ask.reversed", typed_v=typed, plus_v=-typed)
        self.ask(pack, (Question(error.field, statement, (-typed,)),))
        self._work.name_right("ask.leads_reversed")

    def _is_right(self) -> None:
        asked = self._asked[0]
        if asked.statement.key == "ask.reversed":
            field = self._work.loaded if asked.field == "loaded_v" else self._work.rested
            note = say(msg("bench.leads_reversed", typed_v=asked.statement.value("typed_v")))
            field.edit.setText(str(asked.suggestions[0]))
            self._work.remark.edit.setText("; ".join(filter(None, (self._work.remark.text.strip(), note))))
            self._work.question_card.hide()
            self.answered.emit()
            return
        self.upheld += tuple((one.field, one.statement.key) for one in self._asked)
        self._work.question_card.hide()
        self.answered.emit()

    def _let_mend(self) -> None:
        self._work.question_card.hide()
        field = self._work.loaded if self._asked[0].field == "loaded_v" else self._work.rested
        field.edit.setFocus()
        field.edit.selectAll()
