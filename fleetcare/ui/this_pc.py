"""This PC: colours, size of text, paper, its name on records and when it locks; no record, and nobody's leave is needed."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fleetcare import settings as preferences
from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.wording import Message, word
from fleetcare.settings import LONGEST_LOCK_MINUTES, LONGEST_STATION, PAGES, SCALES, THEMES, Settings
from fleetcare.ui.widgets.cards import Field, words
from fleetcare.ui.widgets.forms import Choice, DeedCard
from fleetcare.ui.widgets.paged import scrolled


def _one_of(label: str, offered: dict[str, str], chosen: str) -> Choice:
    """A choice in which something always is chosen."""
    choice = Choice(label)
    choice.offer(list(offered.items()))
    choice.box.removeItem(0)
    choice.choose(chosen)
    return choice


class ThisPcScreen(QWidget):
    """`kept` when something was changed that only a window opened anew shows whole."""

    kept = Signal()

    def __init__(self, app: App) -> None:
        super().__init__()
        self._app = app
        now = preferences.load()
        self.theme = _one_of(word("pc.theme"), {one: word(f"pc.theme_{one}") for one in THEMES}, now.theme)
        self.text = _one_of(word("pc.text"), {str(one): f"{one} %" for one in SCALES}, str(now.text_percent))
        self.page = _one_of(word("pc.page"), {one: one for one in PAGES}, now.page)
        self.station = Field(word("pc.station"))
        self.lock = Field(word("pc.lock"), word("pc.minutes"), number=True)
        fields = {
            "theme": self.theme, "text_percent": self.text, "page": self.page, "station": self.station,
            "lock_minutes": self.lock,
        }  # fmt: skip
        self.card = DeedCard(word("pc.heading"), fields, word("pc.keep"), self._keep, columns=2)
        self.card.add(words(word("pc.hint"), quiet=True))
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(12, 12, 12, 8)
        column.addWidget(self.card)
        column.addWidget(words(word("pc.elsewhere"), quiet=True))
        column.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(scrolled(inside))
        self.refresh()

    @property
    def first(self) -> QWidget:
        """Where the focus goes."""
        return self.theme.box

    def refresh(self) -> None:
        """Show what is kept on this PC."""
        now = preferences.load()
        self.theme.choose(now.theme)
        self.text.choose(str(now.text_percent))
        self.page.choose(now.page)
        self.station.edit.setText(now.station)
        self.station.edit.setPlaceholderText(self._app.station)
        self.lock.edit.setText(str(now.lock_minutes))

    def _typed(self) -> Settings:
        station = " ".join(self.station.text.split())
        if len(station) > LONGEST_STATION or not station.isprintable():
            raise EntryRefused("pc.station_long", field="station", most=LONGEST_STATION)
        minutes = self.lock.text.strip()
        if not (minutes.isascii() and minutes.isdigit()) or int(minutes) > LONGEST_LOCK_MINUTES:
            raise EntryRefused("pc.lock_refused", field="lock_minutes", typed=minutes, most=LONGEST_LOCK_MINUTES)
        return replace(
            preferences.load(), theme=self.theme.code, text_percent=int(self.text.code), page=self.page.code,
            station=station, lock_minutes=int(minutes),
        )  # fmt: skip

    def _keep(self) -> Message | None:
        typed = self._typed()
        if typed == preferences.load():
            self.card.tell(word("pc.as_before"))
            return None
        try:
            preferences.save(typed)
        except OSError as error:
            path = preferences.settings_file()
            raise FileRefused("pc.not_written", path=str(path), why=error.strerror or str(error)) from error
        self.card.tell(word("pc.kept"))
        self.kept.emit()
        return None
