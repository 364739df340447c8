"""Who is at work today: ticks beside the names."""

from __future__ import annotations

from PySide6.QtWidgets import QCheckBox, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Person
from fleetcare.domain.wording import apart, msg, say, word
from fleetcare.services import attendance
from fleetcare.services import facts as read
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.dialogs import AskDialog


class AtWorkDialog(AskDialog):
    """One tick a person; those noted already are ticked."""

    def __init__(self, parent: QWidget, app: App, session: Session, changes: Changes) -> None:
        super().__init__(parent, word("board.at_work_ask"), (), word("board.save_at_work"), self._note)
        self._app, self._session, self._changes = app, session, changes
        with app.store.view() as view:
            self._day = app.clock().astimezone(read.zone_of(view)).date()
            noted = read.at_work(view, self._day) or frozenset()
            people: list[Person] = sorted(view.things("person").values(), key=lambda one: one.name)
        self.ticks: dict[str, QCheckBox] = {}
        column = self.layout()
        assert column is not None
        for number, person in enumerate(people):
            level = say(msg(f"level.{person.level_on(self._day).value}"))
            tick = QCheckBox(f"{apart(person.name)}, {level}")
            tick.setMinimumHeight(30)
            tick.setChecked(person.code in noted)
            column.insertWidget(1 + number, tick)  # type: ignore[attr-defined]
            self.ticks[person.code] = tick

    def _note(self) -> None:
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("window.scan_first")
        chosen = [code for code, tick in self.ticks.items() if tick.isChecked()]
        done = attendance.record_at_work(self._app.store, self._app.clock, author, self._day, chosen)
        self._changes.tell(done)
