"""Plans and hours: what is inspected how often and why, who has how many minutes, whose holidays count."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.inspection_plans import BY_ITS_OWN_RULE, SUBJECT_OF, Kind
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.packs import InspectionPlan, Roster, VehicleKind
from fleetcare.domain.wording import Message, say, word
from fleetcare.services import plan_settings
from fleetcare.services.plan_settings import HoursLine, PlanLine, PlanSettings
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.forms import Choice, DeedCard
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _applies(line: PlanLine) -> str:
    plan = line.plan
    if plan.vehicle_kind:
        return word(f"vehicle_kind.{plan.vehicle_kind}")
    return plan.model or word("plan.all")


PLANS = (
    Column(word("plan.code"), lambda r: r.plan.code, width=20),
    Column(word("plan.kind"), lambda r: word(f"plan_kind.{r.plan.kind}"), width=20),
    Column(word("plan.applies"), _applies, width=14),
    Column(word("plan.when"), lambda r: say(r.told), width=44, tip=True),
    Column(word("round.minutes"), lambda r: str(r.plan.minutes or ""), right=True, width=5),
    Column(word("plan.source"), lambda r: r.plan.source, width=26, tip=True),
    Column("", lambda r: word("plan.own" if r.recorded else "plan.default"), width=20),
)
HOURS = (
    Column(word("round.who"), lambda r: r.name, width=14),
    Column(word("round.depot"), lambda r: r.depot, width=8),
    Column(word("plan.minutes"), lambda r: "  ".join(str(one) for one in r.minutes), width=36),
    Column("", lambda r: "" if r.recorded else word("plan.assumed"), width=10),
)


class PlansPage(QWidget):
    """Two lists and three forms; only a manager records."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app, self._session, self._changes = app, session, changes
        self._background = Background(self)
        self.model, self.hours_model = RowModel(PLANS), RowModel(HOURS)
        self.table = Table(self.model, word("plan.tab"), stretch=3)
        self.hours_table = Table(self.hours_model, word("plan.hours_heading"), stretch=2)
        self.kind, self.pack_model, self.vehicle_kind = (
            Choice(word("plan.kind")), Choice(word("plan.model")), Choice(word("plan.vehicle_kind")),
        )  # fmt: skip
        self.kind.offer([(k.value, word(f"plan_kind.{k.value}")) for k in Kind if k not in BY_ITS_OWN_RULE])
        self.vehicle_kind.offer([(k.value, word(f"vehicle_kind.{k.value}")) for k in VehicleKind])
        self.plan = DeedCard(
            word("plan.put_heading"),
            {
                "code": Field(word("plan.code")), "kind": self.kind, "every_days": Field(word("plan.every"), number=True),
                "model": self.pack_model, "vehicle_kind": self.vehicle_kind, "minutes": Field(word("plan.minutes"), number=True),
                "rule": Field(word("plan.rule")), "from_date": Field(word("plan.from")), "source": Field(word("plan.source")),
            },
            word("plan.put"), self._put_plan, columns=3,
        )  # fmt: skip
        self.person, self.depot, self.place = (
            Choice(word("round.person")),
            Choice(word("round.depot")),
            Choice(word("round.depot")),
        )
        self.hours = DeedCard(
            word("plan.hours_heading"),
            {"person": self.person, "depot": self.depot, "minutes": Field(word("plan.hours_list"))},
            word("plan.hours_put"), self._put_hours, columns=1,
        )  # fmt: skip
        self.calendar = DeedCard(
            word("plan.calendar_heading"),
            {"depot": self.place, "country": Field(word("plan.country")), "subdivision": Field(word("plan.subdivision"))},
            word("plan.calendar_put"), self._put_calendar, columns=1,
        )  # fmt: skip
        for card in (self.plan, self.hours, self.calendar):
            card.column.addStretch(1)
        self.table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 8)
        self.hours_table.setMinimumHeight(self.table.verticalHeader().defaultSectionSize() * 5)
        forms = QHBoxLayout()
        forms.addWidget(self.hours, 1)
        forms.addWidget(self.calendar, 1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(4, 8, 4, 4)
        outer.addWidget(self.table)
        outer.addWidget(self.plan)
        outer.addWidget(self.hours_table)
        outer.addLayout(forms)

    def refresh(self) -> None:
        """Read everything again, off the GUI thread."""
        store = self._app.store

        def work() -> tuple[PlanSettings, list[tuple[str, str]]]:
            with store.view() as view:
                models = [(code, one.name) for code, one in sorted(view.things("pack_model").items())]
            return plan_settings.plan_settings(store), models

        self._background.ask(work, self._show)

    def _show(self, answer: tuple[PlanSettings, list[tuple[str, str]]]) -> None:
        found, models = answer
        self.model.set_rows(found.plans)
        self.hours_model.set_rows(found.hours)
        self.pack_model.offer(models)
        people: list[HoursLine] = list(found.hours)
        self.person.offer([(one.person, one.name) for one in people])
        for choice in (self.depot, self.place):
            choice.offer([(one.code, one.name) for one in found.depots])

    def _author(self) -> Author:
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("round.sign_in_first")
        return author

    @staticmethod
    def _whole(card: DeedCard, name: str, unit: str) -> int:
        typed = card.fields[name].text.strip()
        if not typed:
            return 0
        if not typed.isdecimal():
            raise EntryRefused("plan.minutes_wrong", field=name, typed=typed, unit=unit)
        return int(typed)

    def _put_plan(self) -> Message:
        card, app = self.plan, self._app
        author = self._author()
        if not self.kind.code:
            raise EntryRefused("plan.no_such_kind", field="kind", kind="")
        first = date_if_typed(card.fields["from_date"].text, field="from_date")
        of_pack = SUBJECT_OF[Kind(self.kind.code)] == "pack"
        plan = InspectionPlan(
            card.fields["code"].text, self.kind.code, self.pack_model.code if of_pack else "",
            "" if of_pack else self.vehicle_kind.code, self._whole(card, "every_days", "days"),
            card.fields["rule"].text.strip().upper(), first, minutes=self._whole(card, "minutes", "minutes"),
            source=card.fields["source"].text,
        )  # fmt: skip
        return self._finish(plan_settings.put_plan(app.store, app.clock, author, plan))

    def _put_hours(self) -> Message:
        app = self._app
        author = self._author()
        parts = self.hours.fields["minutes"].text.replace(",", " ").split()
        minutes = tuple(int(one) if one.isdecimal() else -1 for one in parts)
        roster = Roster(self.person.code, self.depot.code, minutes)
        return self._finish(plan_settings.put_hours(app.store, app.clock, author, roster))

    def _put_calendar(self) -> Message:
        app, fields = self._app, self.calendar.fields
        author = self._author()
        country, part = fields["country"].text, fields["subdivision"].text
        return self._finish(
            plan_settings.put_calendar(app.store, app.clock, author, self.place.code, country, part)
        )  # fmt: skip

    def _finish(self, done: Recorded) -> Message:
        self._changes.tell(done)
        self.refresh()
        return done.message
