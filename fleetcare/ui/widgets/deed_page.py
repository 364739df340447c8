"""A page of deeds: fields, refusals beside them, choices of named values, ticks, and who is acting."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from enum import StrEnum
from typing import TypeVar

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QBoxLayout,
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FleetcareError
from fleetcare.domain.labels import normalise
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.wording import say, word
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import proof_field
from fleetcare.ui.widgets.page import Page

E = TypeVar("E", bound=StrEnum)


class Choice(QWidget):
    """A list of named values under its label; the first entry may be "nothing chosen yet"."""

    def __init__(self, label: str, area: str, values: Iterable[StrEnum], *, blank: bool = False) -> None:
        super().__init__()
        self.box = QComboBox()
        self.box.setAccessibleName(label)
        self.box.setMinimumContentsLength(10)
        self.box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        if blank:
            self.box.addItem("—", None)
        for value in values:
            self.box.addItem(word(f"{area}.{value.value}"), value.value)
        name = QLabel(label)
        name.setBuddy(self.box)
        column = QVBoxLayout(self)
        column.setAlignment(Qt.AlignmentFlag.AlignTop)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3)
        column.addWidget(name)
        column.addWidget(self.box)

    def chosen(self, enum: type[E]) -> E | None:
        """The chosen value, or None while nothing is chosen."""
        data = self.box.currentData()
        return None if data is None else enum(data)

    def choose(self, value: StrEnum | None) -> None:
        """Show `value` as chosen."""
        self.box.setCurrentIndex(max(self.box.findData(None if value is None else value.value), 0))


class DeedPage(Page):
    """What pages of deeds share: the app, who is signed in, where refusals go, and what is said after a deed."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self.fields: dict[str, Field] = {}
        self.wrong = words()
        self.wrong.setProperty("role", "wrong")
        self.wrong.hide()
        self.result = words(size=1.1, bold=True)

    def add_field(self, name: str, label: str, unit: str = "", *, number: bool = False) -> Field:
        """A field under the name that refusals use; one called "badge" asks for the own badge or PIN."""
        field = proof_field() if name == "badge" else Field(label, unit, number=number)
        field.setObjectName(name)
        self.fields[name] = field
        return field

    def code(self, name: str) -> str:
        """The code typed into a field, in the form of the labels; "" for none."""
        text = self.fields[name].text.strip()
        return normalise(text) if text else ""

    def author(self) -> Author:
        """The signed-in person; EntryRefused when there is none."""
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("screen.sign_first")
        return author

    def refuse(self, error: FleetcareError) -> None:
        """Say what is wrong beside its field, or under the buttons; nothing typed is lost."""
        field = self.fields.get(error.field)
        if field is not None:
            field.refuse(error)
            field.edit.setFocus()
            field.edit.selectAll()
            return
        self.wrong.setText(say(error.message))
        self.wrong.show()

    def attempt(self, deed: Callable[[], Recorded | None], *clear: str) -> bool:
        """Do a deed: on a refusal say it and keep everything typed, else empty the fields in `clear` and tell everybody."""
        self.quiet()
        try:
            done = deed()
        except FleetcareError as error:
            self.result.clear()
            self.refuse(error)
            return False
        if done is None:
            return False
        for name in clear:
            self.fields[name].clear()
        self.refresh()
        self.result.setText(say(done.message))
        self._changes.tell(done)
        return True

    def text(self, name: str) -> str:
        """What is typed into a field, without outer spaces."""
        return self.fields[name].text.strip()

    def day(self, name: str) -> dt.date | None:
        """The date typed into a field as YYYY-MM-DD, None for an empty one; EntryRefused beside it otherwise."""
        return date_if_typed(self.text(name), field=name)

    def quiet(self) -> None:
        """Take every refusal away."""
        self.wrong.hide()
        for field in self.fields.values():
            field.clear_refusal()

    def take(self, thing_class: str, code: str) -> bool:
        """A scanned code goes into the field of its class; False where this page has none."""
        field = self.fields.get(thing_class)
        if field is None:
            return False
        field.edit.setText(code)
        field.clear_refusal()
        self.taken(thing_class)
        return True

    def taken(self, thing_class: str) -> None:
        """A code has just come into the field of `thing_class`; the page may re-read."""


def line() -> QBoxLayout:
    """A row of fields; a column where the text is large."""
    return QVBoxLayout() if large_text() else QHBoxLayout()


def tick(text: str) -> QCheckBox:
    """A tick box that is large enough for gloves."""
    box = QCheckBox(text)
    box.setMinimumHeight(max(30, round(box.fontMetrics().height() * 1.4)))
    return box


def abreast(row: QBoxLayout, *parts: tuple[QWidget, int]) -> QBoxLayout:
    """Fill a row from `line` with (part, stretch); buttons and ticks stand level with the entries, below no label.

    A refusal below one entry moves none of the others.
    """
    for part, stretch in parts:
        shown = part
        if isinstance(part, QAbstractButton) and not large_text():
            shown = QWidget()
            column = QVBoxLayout(shown)
            column.setContentsMargins(0, 0, 0, 0)
            column.setSpacing(3)
            column.addWidget(QLabel(" "))
            column.addWidget(part)
            part.setMinimumHeight(max(part.minimumHeight(), 38))
        row.addWidget(shown, stretch, Qt.AlignmentFlag.AlignTop)
    return row
