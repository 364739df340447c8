"""Who is away: somebody off sick, a day lost, a vehicle on hire; and what that moved in the round."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.absences import Absence, Away
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.moments import parse_date
from fleetcare.domain.wording import Message, msg, say, show_date, word
from fleetcare.services import absences, round_changes, rounds
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Card, Field, words
from fleetcare.ui.widgets.forms import Choice, DeedCard, code_field
from fleetcare.ui.widgets.tables import Column, RowModel, Table


@dataclass(frozen=True, slots=True)
class AwayLine:
    """One absence as the list shows it."""

    who: str
    first: dt.date
    last: dt.date
    reason: str
    body: Absence | Away


LINES = (
    Column(word("round.who"), lambda r: r.who, width=16),
    Column(word("round.first_day"), lambda r: show_date(r.first), sort=lambda r: r.first, width=14),
    Column(word("round.until"), lambda r: show_date(r.last), sort=lambda r: r.last, width=14),
    Column(word("round.reason"), lambda r: r.reason, width=40),
)


class AwayPage(QWidget):
    """Two small forms, the list of what stands, and what the last one changed."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self._comparing = Background(self)
        self.depot = ""
        self.person, self.place = Choice(word("round.person")), Choice(word("round.depot"))
        self.vehicle = code_field(word("list.vehicle"))
        self.absence = DeedCard(
            word("round.person_away"),
            {"person": self.person, "depot": self.place, "from_date": Field(word("round.from_day")),
             "to_date": Field(word("round.to_day")), "reason": Field(word("round.reason"))},
            word("round.record"), self._record_absence, columns=3,
        )  # fmt: skip
        self.absence.add(words(word("round.day_lost"), quiet=True))
        self.hire = DeedCard(
            word("round.vehicle_away"),
            {"vehicle": self.vehicle, "from_date": Field(word("round.from_day")), "back_date": Field(word("round.back_day")),
             "reason": Field(word("round.reason"))},
            word("round.record"), self._record_away, columns=2,
        )  # fmt: skip
        for card in (self.absence, self.hire):
            card.column.addStretch(1)
        self.model = RowModel(LINES)
        self.table = Table(self.model, word("round.away_tab"), stretch=3)
        self.empty = words(word("round.nobody_away"), quiet=True)
        self.withdraw = QPushButton(word("round.withdraw"))
        self.withdraw.setMinimumHeight(40)
        self.withdraw.clicked.connect(self.take_back)
        changed = Card(word("round.changed_head"))
        self.changed = words()
        changed.column.addWidget(self.changed)
        self.changed_card = changed
        changed.hide()
        forms = QHBoxLayout()
        forms.addWidget(self.absence, 3)
        forms.addWidget(self.hire, 2)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(4, 8, 4, 4)
        outer.addLayout(forms)
        outer.addWidget(changed)
        outer.addWidget(self.empty)
        outer.addWidget(self.table, 1)
        self._below = QWidget()
        outer.addWidget(self._below, 1)
        outer.addWidget(self.withdraw)

    def refresh(self) -> None:
        """Read the list again, off the GUI thread."""
        store, clock = self._app.store, self._app.clock

        def work() -> tuple[list[AwayLine], list[tuple[str, str]], list[tuple[str, str]]]:
            today = clock().date()
            with store.view() as view:
                names = view.person_names()
                places = view.things("depot")
                people = [(code, one.name) for code, one in sorted(view.things("person").items())]
                lines = [
                    AwayLine(names.get(one.person, "") or places[one.depot].name, one.from_date, one.to_date, one.reason, one)
                    for one in absences.absences(view)
                    if one.to_date >= today
                ] + [
                    AwayLine(one.vehicle, one.from_date, one.back_date, one.reason, one)
                    for one in absences.vehicles_away(view)
                    if one.back_date >= today
                ]  # fmt: skip
            lines.sort(key=lambda one: (one.first, one.who))
            return lines, people, [(code, one.name) for code, one in sorted(places.items())]

        self._background.ask(work, self._show)

    def _show(self, answer: tuple[list[AwayLine], list[tuple[str, str]], list[tuple[str, str]]]) -> None:
        lines, people, places = answer
        self.model.set_rows(lines)
        self.empty.setVisible(not lines)
        self.table.setVisible(bool(lines))
        self._below.setVisible(not lines)
        self.withdraw.setVisible(bool(lines))
        self.person.offer(people)
        self.place.offer(places)

    def _author(self) -> Author:
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("round.sign_in_first")
        return author

    def _day(self, card: DeedCard, name: str) -> dt.date:
        typed = card.fields[name].text.strip()
        if not typed and name != "from_date":
            typed = card.fields["from_date"].text.strip()
        return parse_date(typed, field=name)

    def _record_absence(self) -> Message:
        card, app = self.absence, self._app
        author = self._author()
        if not self.person.code and not self.place.code:
            raise EntryRefused("absence.needs_who", field="person")
        body = Absence(
            self.person.code, "" if self.person.code else self.place.code, self._day(card, "from_date"),
            self._day(card, "to_date"), app.clock(), card.fields["reason"].text.strip(),
        )  # fmt: skip
        return self._finish(absences.record_absence(app.store, app.clock, author, body))

    def _record_away(self) -> Message:
        card, app = self.hire, self._app
        author = self._author()
        body = Away(
            self.vehicle.text.strip().upper(), self._day(card, "from_date"), self._day(card, "back_date"), app.clock(),
            card.fields["reason"].text.strip(),
        )  # fmt: skip
        return self._finish(absences.record_away(app.store, app.clock, author, body), body.vehicle)

    def take_back(self) -> None:
        """Take the chosen line back; it stays on record as taken back."""
        line = self.table.selected_row()
        app = self._app
        try:
            author = self._author()
            if line is None:
                raise EntryRefused("round.choose_away")
            body = replace(line.body, withdrawn=True, done_at=app.clock())
            if isinstance(body, Absence):
                self._finish(absences.record_absence(app.store, app.clock, author, body))
            else:
                self._finish(absences.record_away(app.store, app.clock, author, body), body.vehicle)
        except FleetcareError as error:
            self.absence.tell(say(error.message), wrong=True)

    def _finish(self, done: Recorded, vehicle: str = "") -> Message:
        """Announce the deed, read the list again, and compare the rounds before and after it."""
        store, clock, depot = self._app.store, self._app.clock, self.depot
        before = done.position - 1

        def work() -> list[str]:
            then = rounds.round_of(store, clock, depot, position=before)
            moved = round_changes.changes(then, rounds.round_of(store, clock, depot))
            return [say(one) for one in round_changes.told(moved, vehicle)]

        self._comparing.ask(work, self._show_changes)
        self._changes.tell(done)
        self.refresh()
        return done.message

    def _show_changes(self, lines: list[str]) -> None:
        more = len(lines) - MOST_TOLD
        told = lines[:MOST_TOLD] + ([say(msg("round.and_more", number=more))] if more > 0 else [])
        self.changed.setText("\n".join(told) or word("round.unchanged"))
        self.changed_card.show()


MOST_TOLD = 30
"""Lines of what changed; the page scrolls, and the days ahead show where everything is now."""
