"""People: roles, levels, badges and PINs.  The rules of who may change what are in the services."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtWidgets import QCheckBox, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.identity import NameWithheld, initials
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.packs import Level, Person, Role
from fleetcare.domain.wording import Message, msg, say, show_date, word
from fleetcare.services import people, withholding
from fleetcare.services.session import Author
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import Choice, DeedCard, code_field
from fleetcare.ui.widgets.tables import Column, RowModel, Table

PEOPLE = (
    Column(word("people.name"), lambda r: r[2], width=24, tip=True),
    Column(word("people.code"), lambda r: r[0].code, width=12),
    Column(word("people.firm"), lambda r: r[0].firm or word("competence.own_staff"), width=18, tip=True),
    Column(word("people.roles"), lambda r: ", ".join(word(f"role.{role.value}") for role in r[0].roles), width=26),
    Column(word("people.level"), lambda r: word(f"level.{r[0].level.value}"), width=25),
    Column(word("people.until"), lambda r: show_date(r[0].level_until) if r[0].level_until else "—", width=14),
    Column(word("people.badge"), lambda r: r[0].badge or "—", width=10),
    Column(word("people.pin"), lambda r: word("people.pin_yes" if r[1] else "people.pin_no"), width=8),
)


class PeopleTab(QWidget):
    """Everybody on record; a person chosen in the list is changed in the form."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._chosen: Person | None = None
        self._about: Person | None = None
        """Whom PIN and name on paper are about: the person in the form, or saved from it just now; None for oneself."""

        self._withheld: dict[str, NameWithheld] = {}
        self._seen: int | None = None
        self.rows = RowModel(PEOPLE)
        self.table = Table(self.rows, word("people.heading"))
        self.table.opened.connect(lambda row: self.edit_person(row[0]))
        self.table.setMinimumHeight(180)
        self.level = Choice(word("people.level"))
        self.roles = {role: QCheckBox(word(f"role.{role.value}")) for role in Role}
        self.form = DeedCard(
            word("people.form_heading"),
            {
                "name": Field(word("people.name")),
                "firm": Field(word("people.firm_hint")),
                "badge": code_field(word("people.badge")),
                "level": self.level,
                "until": Field(word("people.until_hint")),
            },
            word("people.save"),
            self._save,
            columns=2,
        )
        ticks = QWidget()
        row = QHBoxLayout(ticks)
        row.setContentsMargins(0, 0, 0, 0)
        for box in self.roles.values():
            box.setMinimumHeight(32)
            row.addWidget(box)
        row.addStretch(1)
        self.form.add(ticks)
        pin = Field(word("people.new_pin"))
        pin.edit.setEchoMode(QLineEdit.EchoMode.Password)
        self.pin = DeedCard(word("people.pin_heading"), {"pin": pin}, word("people.set_pin"), self._set_pin)
        self.pin.column.insertWidget(1, words(word("people.pin_hint"), quiet=True))
        self.paper = DeedCard(
            word("people.paper_heading"), {"reason": Field(word("people.paper_reason"))},
            word("people.paper_initials"), self._name_on_paper,
        )  # fmt: skip
        self.paper.column.insertWidget(1, words(word("people.paper_hint"), quiet=True))
        for card in (self.form, self.pin, self.paper):
            card.column.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        outer.addWidget(words(word("people.choose"), quiet=True))
        outer.addWidget(self.table, 1)
        below = QHBoxLayout()
        below.addWidget(self.form, 2)
        below.addWidget(self.pin, 1)
        below.addWidget(self.paper, 1)
        outer.addLayout(below)
        session.person_changed.connect(self._start_over)

    def refresh(self) -> None:
        """Read everybody again."""
        with self._app.store.view() as view:
            found = sorted(view.things("person").values(), key=lambda p: p.name)
            self._withheld = view.withheld()
            self.rows.set_rows([(one, view.pin_hash(one.code) is not None, self._shown(one)) for one in found])
        self.level.offer([(level.value, word(f"level.{level.value}")) for level in Level])

    def _shown(self, person: Person) -> str:
        """The name, and what is printed for it where that differs."""
        if person.code not in self._withheld:
            return person.name
        return say(msg("people.on_paper", person=person.name, initials=initials(person.name)))

    def edit_person(self, person: Person) -> None:
        """Put a person into the form."""
        self._chosen, self._seen = person, self._changes.position
        self._be_about(person)
        fields = self.form.fields
        fields["name"].edit.setText(person.name)
        fields["firm"].edit.setText(person.firm)
        fields["badge"].edit.setText(person.badge)
        fields["until"].edit.setText(person.level_until.isoformat() if person.level_until else "")
        self.level.choose(person.level.value)
        for role, box in self.roles.items():
            box.setChecked(role in person.roles)
        fields["name"].edit.setFocus()
        for card in (self.form, self.pin, self.paper):
            card.tell("")

    def _be_about(self, person: Person | None) -> None:
        """The cards beside the form say whose PIN and whose name they are about."""
        self._about = person
        for card, name in ((self.pin, "pin"), (self.paper, "paper")):
            own = person is None
            card.heading.setText(
                word(f"people.{name}_heading") if own else say(msg(f"people.{name}_of", person=person.name))
            )
        withheld = person is not None and person.code in self._withheld
        self.paper.do.setText(word("people.paper_full" if withheld else "people.paper_initials"))

    def _start_over(self) -> None:
        """Somebody else is here: nothing of whom the last one had in the form."""
        self._chosen = None
        self._be_about(None)
        for card in (self.form, self.pin, self.paper):
            for field in card.fields.values():
                field.clear()
            card.tell("")
        for box in self.roles.values():
            box.setChecked(False)

    def _author(self) -> Author:
        author = self._session.author(self._seen if self._chosen else self._changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        return author

    def _save(self) -> Message:
        fields = self.form.fields
        until = date_if_typed(fields["until"].text, field="until")
        name = fields["name"].text.strip()
        roles = tuple(role for role, box in self.roles.items() if box.isChecked())
        level = Level(self.level.code or Level.NONE)
        before = self._chosen or Person(people.person_code(self._app.store, name), name, ())
        if set(roles) == set(before.roles):
            roles = before.roles
        person = replace(
            before, name=name, roles=roles, level=level, level_until=until, badge=fields["badge"].text.strip().upper(),
            firm=fields["firm"].text.strip(),
        )  # fmt: skip
        done = people.put_person(self._app.store, self._app.clock, self._author(), person)
        self._chosen = None
        for box in self.roles.values():
            box.setChecked(False)
        self._changes.tell(done)
        self.refresh()
        self._be_about(person)
        for card in (self.pin, self.paper):
            card.tell("")
        return done.message

    def _name_on_paper(self) -> Message:
        """Initials for the person in the form or saved from it, or the name again."""
        if self._about is None:
            raise EntryRefused("people.paper_choose")
        code = self._about.code
        done = withholding.withhold_name(
            self._app.store, self._app.clock, self._author(), code, self.paper.fields["reason"].text,
            withheld=code not in self._withheld,
        )  # fmt: skip
        self._changes.tell(done)
        self.refresh()
        self._be_about(self._about)
        return done.message

    def _set_pin(self) -> Message:
        author = self._author()
        chosen = self._about or author.person
        typed = self.pin.fields["pin"].text.strip()
        done = people.set_pin(self._app.store, self._app.clock, author, chosen.code, typed or None)
        self._changes.tell(done)
        self.refresh()
        return done.message
