"""The working days ahead: how full each is, and what lies on it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fleetcare.domain.wording import msg, say, show_date, word
from fleetcare.services.rounds import Round, RoundItem, hours_text
from fleetcare.ui.rounds.today_page import mark_of, why_text
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.tables import Column, RowModel, Table


@dataclass(frozen=True, slots=True)
class DayLine:
    """One working day: how many things, their minutes, and the minutes there are."""

    day: str
    sort: object
    count: int
    used: int
    room: int
    people: str


DAYS = (
    Column(word("round.day"), lambda r: r.day, sort=lambda r: r.sort, width=24),
    Column(word("round.to_do"), lambda r: str(r.count), sort=lambda r: r.count, right=True, width=8),
    Column(word("round.hours"), lambda r: f"{hours_text(r.used)} / {hours_text(r.room)}", right=True, width=17),
    Column(word("round.who"), lambda r: r.people, width=60, tip=True),
)
LINES = (
    Column(word("round.day"), lambda r: word("round.no_day") if r.day is None else f"{r.day:%a} {show_date(r.day)}", width=17),
    Column(word("round.item"), lambda r: r.item.subject, width=9, mark=mark_of),
    Column(word("list.where"), lambda r: r.item.place or word("screen.where_unknown"), width=12),
    Column(word("round.what"), lambda r: word(f"plan_kind.{r.item.kind.value}"), width=17),
    Column(word("list.due"), lambda r: show_date(r.item.due_on), sort=lambda r: r.item.due_on, width=11),
    Column(word("round.who"), lambda r: r.person, width=9),
    Column(word("list.why"), why_text, width=44, tip=True),
)  # fmt: skip


class AheadPage(QWidget):
    """The days on top, every line of them below; Enter opens the item."""

    start = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.days, self.lines = RowModel(DAYS), RowModel(LINES)
        self.day_table = Table(self.days, word("round.days_ahead"), stretch=3)
        self.table = Table(self.lines, word("round.days_ahead"), stretch=6)
        self.table.opened.connect(self.start.emit)
        line = self.day_table.verticalHeader().defaultSectionSize()
        self.day_table.setMinimumHeight(line * 4)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(4, 8, 4, 4)
        self.told = words(quiet=True)
        outer.addWidget(self.told)
        outer.addWidget(self.day_table, 2)
        outer.addWidget(self.table, 3)

    def show_round(self, found: Round) -> None:
        """Show another round."""
        hours = defaultdict(list)
        for one in found.hours:
            hours[one.day].append(one)
        names = {one.person: one.name for one in found.hours}
        self.days.set_rows(
            [
                DayLine(
                    f"{day:%A} {show_date(day)}", day, sum(h.count for h in hours[day]), sum(h.used for h in hours[day]),
                    sum(h.room for h in hours[day]),
                    ", ".join(f"{h.name} {h.count}" if h.room else f"{h.name}: {say(h.why or msg('round.no_hours'))}" for h in hours[day]),
                )
                for day in found.days
            ]
        )  # fmt: skip
        left = [line for short in found.short for line in short.items if line.day is None]
        left += [line for line in found.away if line.day is None]
        self.lines.set_rows([_named(one, names) for one in (*left, *found.ahead)])
        self.told.setText("\n".join(say(one) for one in (found.calendar,)))


def _named(one: RoundItem, names: dict[str, str]) -> RoundItem:
    return replace(one, person=names.get(one.person, one.person))
