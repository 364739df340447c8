"""The plan: everything that is to be looked at, each with its one due day and the reason for it.

The days of packs are those of `domain/status.py`, so that board, lists, plan and round name the same one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fleetcare.domain import inspection_plans, quarantine
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.inspection_plans import Kind
from fleetcare.domain.packs import InspectionPlan, Level, PackStanding
from fleetcare.domain.status import PackState, PackStatus
from fleetcare.domain.wording import Message, msg
from fleetcare.services import facts as read
from fleetcare.services import pace as own_pace
from fleetcare.services.facts import FleetFacts
from fleetcare.services.pace import Pace
from fleetcare.services.session import Clock
from fleetcare.store import plan_reads
from fleetcare.store.store import Store, View

_GRAVE = {
    Kind.COMMISSIONING: 2, Kind.CHECK: 5, Kind.LAY_UP_LOOK: 6, Kind.CHARGER_TEST: 7, Kind.LOOK_OVER: 8,
    Kind.VEHICLE_LOOK: 8, Kind.YEARLY: 8, Kind.METER_CALIBRATION: 7, Kind.TRAINING: 7, Kind.QUARANTINE_LOOK: 0,
}  # fmt: skip
"""Rank of each kind when nothing makes it graver, 0 first."""

AT_ONCE = (
    "due.reads_nothing", "due.after_trip", "due.after_reset", "due.after_fuse", "due.after_damage", "due.too_near",
    "due.misfit", "due.doubted",
)  # fmt: skip
"""Reasons for which a check is due on the day they arose."""


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One thing to look at.  `due_on` is its one day and `why` the reason; `grave` ranks it, 0 worst.

    `good_through` is the last day before it may not be used, None where nothing follows from being late.
    `source` says where the interval comes from.
    """

    kind: Kind
    subject_class: str
    subject: str
    depot: str
    due_on: dt.date
    why: Message
    minutes: int
    level: Level
    grave: int
    place: str = ""
    vehicle: str | None = None
    model: str = ""
    last_on: dt.date | None = None
    good_through: dt.date | None = None
    source: str = ""
    status: PackStatus | None = None

    @property
    def key(self) -> str:
        """What is equal in every plan of the same thing."""
        return f"{self.kind.value}:{self.subject}"

    @property
    def at_once(self) -> bool:
        """True where it is due on the day on which its reason arose, however long the pack has rested."""
        why = self.why if self.status is None or self.status.why is None else self.status.why
        return why.key in AT_ONCE

    @property
    def worst_first(self) -> tuple[int, dt.date, str]:
        """Sorts the gravest first, then by day."""
        return self.grave, self.due_on, self.subject


def plan(store: Store, clock: Clock, *, until: dt.date | None = None, depot: str = "") -> tuple[PlanItem, ...]:
    """Everything planned, by day, up to `until` and at one depot only, when given."""
    now = clock()
    with store.view() as view:
        facts = read.read_facts(view)
        found = [
            one
            for one in plan_items(view, facts, now)
            if (until is None or one.due_on <= until) and (not depot or one.depot in ("", depot))
        ]
    return tuple(sorted(found, key=lambda one: (one.due_on, one.grave, one.kind.value, one.subject)))


def plan_items(
    view: View, facts: FleetFacts, now: dt.datetime, paces: Mapping[str, Pace] | None = None
) -> list[PlanItem]:
    """Every item of the plan as known at the view's position, in no order."""
    here = _Reading(view, facts, now, own_pace.paces(view, facts) if paces is None else paces)
    return [*here.packs(), *here.vehicles(), *here.chargers(), *here.meters(), *here.people()]


class _Reading:
    """One reading of the plan: what is asked of the record once, for all items."""

    def __init__(self, view: View, facts: FleetFacts, now: dt.datetime, paces: Mapping[str, Pace]) -> None:
        self._view, self._facts, self._now, self._paces = view, facts, now, paces
        self._today = now.astimezone(facts.zone).date()
        self._plans = inspection_plans.in_force(view.things("inspection_plan"))
        self._chosen: dict[tuple[Kind, str, str], InspectionPlan | None] = {}
        self._done: dict[tuple[str, str], dt.date] = {}
        for event in view.records_of("inspection_done"):
            body = event.body
            assert isinstance(body, inspection_plans.InspectionDone)
            key = body.kind, body.vehicle or body.pack or ""
            day = self._day(body.done_at)
            self._done[key] = max(day, self._done.get(key, day))

    def _day(self, moment: dt.datetime) -> dt.date:
        return moment.astimezone(self._facts.zone).date()

    def _plan(self, kind: Kind, *, model: str = "", vehicle_kind: str = "") -> InspectionPlan | None:
        key = kind, model, vehicle_kind
        if key not in self._chosen:
            self._chosen[key] = inspection_plans.plan_for(self._plans, kind, model=model, vehicle_kind=vehicle_kind)
        return self._chosen[key]

    def packs(self) -> Iterator[PlanItem]:
        """Checks, first checks, looks in lay-up and quarantine, and visual inspections."""
        facts = self._facts
        looks = plan_reads.last_looks(self._view) if self._plan_for_any(Kind.LOOK_OVER) else {}
        known = plan_reads.known_since(self._view, "pack")
        looked: dict[str, set[dt.date]] = {}
        if any(h.hold_class is HoldClass.DANGER for held in facts.pack_holds.values() for h in held):
            for event in self._view.records_of("quarantine_look"):
                looked.setdefault(event.body.pack, set()).add(self._day(event.done_at))  # type: ignore[attr-defined]
        for code, pack in facts.packs.items():
            if pack.standing is not PackStanding.IN_SERVICE:
                continue
            status = read.pack_status(facts, code, self._now)
            yield from self._pack(code, status, looks.get(code), known.get(code, self._now), looked.get(code, set()))

    def _plan_for_any(self, kind: Kind) -> bool:
        return any(one.kind == kind.value for one in self._plans)

    def _pack(
        self, code: str, status: PackStatus, look: dt.datetime | None, known: dt.datetime, looked: set[dt.date]
    ) -> Iterator[PlanItem]:
        facts = self._facts
        pack = facts.packs[code]
        start = pack.in_service_on or self._day(known)
        if status.state is PackState.QUARANTINED:
            since = min(h.since for h in facts.pack_holds[code] if h.hold_class is HoldClass.DANGER)
            yield from self._quarantine(code, status, self._day(since), looked)
            return
        if status.state is PackState.LAID_UP and status.due_on is not None and status.why is not None:
            yield from self._of_pack(Kind.LAY_UP_LOOK, code, status, status.due_on, status.why)
            return
        if status.state is PackState.HELD and code in facts.laid_up:
            rest = facts.laid_up[code]  # it goes on losing charge there, whoever decides about it
            yield from self._of_pack(Kind.LAY_UP_LOOK, code, status, rest.look_on, rest.why)
            return
        if status.state is PackState.HELD and status.reasons[0].hold_class is not HoldClass.ACTION_DUE:
            return
        first = status.due_on is None or status.why is None
        if first:
            why = msg("due.never_checked", start_date=start)
            yield from self._of_pack(Kind.COMMISSIONING, code, status, start, why)
        elif status.due_on is not None and status.why is not None:
            yield from self._of_pack(Kind.CHECK, code, status, status.due_on, self._rested(code, status.why))
        plan = self._plan(Kind.LOOK_OVER, model=pack.model)
        if plan is not None and not first:
            last = None if look is None else self._day(look)
            day = inspection_plans.planned_day(plan, last, start)
            if day is not None:
                yield from self._of_pack(Kind.LOOK_OVER, code, status, day.due_on, day.why, last)

    def _rested(self, code: str, why: Message) -> Message:
        """The reason of a check, with what a long rest asks for; the day stays the same."""
        latest = self._facts.latest.get(code)
        days = 0 if latest is None or latest.last_valid is None else (self._today - latest.last_valid.date()).days
        return msg("due.long_rest", told=why, ago_days=days) if days > self._facts.site.long_rest_days else why

    def _quarantine(self, code: str, status: PackStatus, since: dt.date, looked: set[dt.date]) -> Iterator[PlanItem]:
        day, why = quarantine.next_look(since, looked, self._today)
        yield from self._of_pack(Kind.QUARANTINE_LOOK, code, status, day, why)

    def _of_pack(
        self, kind: Kind, code: str, status: PackStatus, due_on: dt.date, why: Message, last: dt.date | None = None
    ) -> Iterator[PlanItem]:
        facts = self._facts
        plan = self._plan(kind, model=facts.packs[code].model)
        if plan is None:
            return
        depot = read.depot_of(facts, code)
        placed = facts.placements.get(code)
        vehicle = placed.vehicle if placed else None
        minutes = plan.minutes
        if not minutes:
            minutes = self._paces[depot].minutes if depot in self._paces else own_pace.CHECK_MINUTES
        latest = facts.latest.get(code)
        if kind in (Kind.CHECK, Kind.LAY_UP_LOOK) and latest is not None:
            last = self._day(latest.last_valid if kind is Kind.CHECK and latest.last_valid else latest.done_at)
        yield PlanItem(
            kind, "pack", code, depot, due_on, why, minutes, plan.level, self._rank(kind, status),
            vehicle or facts.shelf_of(code), vehicle, facts.models[facts.packs[code].model].name, last,
            status.good_through if kind is Kind.CHECK else None, plan.source, status,
        )  # fmt: skip

    @staticmethod
    def _rank(kind: Kind, status: PackStatus) -> int:
        if kind is not Kind.CHECK or status.why is None:
            return _GRAVE[kind]
        if not status.usable:
            return 1
        if status.why.key in AT_ONCE:
            return 3
        return _GRAVE[kind] if status.why.key == "due.weekly" else 4

    def vehicles(self) -> Iterator[PlanItem]:
        """Looks at vehicles and yearly inspections."""
        known = plan_reads.known_since(self._view, "vehicle")
        for kind in (Kind.VEHICLE_LOOK, Kind.YEARLY):
            for code, vehicle in self._facts.vehicles.items():
                plan = self._plan(kind, vehicle_kind=vehicle.kind.value)
                if plan is None:
                    continue
                last = self._done.get((kind.value, code))
                day = inspection_plans.planned_day(plan, last, self._day(known[code]))
                if day is not None:
                    yield PlanItem(
                        kind, "vehicle", code, vehicle.depot, day.due_on, day.why, plan.minutes or 5, plan.level,
                        _GRAVE[kind], code, code, last_on=last, source=plan.source,
                    )  # fmt: skip

    def chargers(self) -> Iterator[PlanItem]:
        """Output tests; a charger that is withdrawn waits for its repair, not for a day."""
        plan = self._plan(Kind.CHARGER_TEST)
        if plan is None:
            return
        held = {one.subject for one in self._view.open_holds() if one.subject_class == "charger"}
        tested: dict[str, dt.date] = {}
        for event in self._view.records_of("output_test"):
            tested[event.body.charger] = self._day(event.done_at)  # type: ignore[attr-defined]
        known = plan_reads.known_since(self._view, "charger")
        for code, charger in self._view.things("charger").items():
            day = inspection_plans.planned_day(plan, tested.get(code), self._day(known[code]))
            if code not in held and day is not None:
                yield PlanItem(
                    Kind.CHARGER_TEST, "charger", code, self._first_depot, day.due_on, day.why, plan.minutes or 5,
                    plan.level, _GRAVE[Kind.CHARGER_TEST], charger.name, last_on=tested.get(code), source=plan.source,
                )  # fmt: skip

    @property
    def _first_depot(self) -> str:
        return next(iter(self._facts.depots), "")

    def meters(self) -> Iterator[PlanItem]:
        """Calibrations that end; a meter that is refused takes part in nothing."""
        plan = self._plan(Kind.METER_CALIBRATION)
        if plan is None:
            return
        for code, meter in self._view.things("meter").items():
            if meter.calibration_due is not None and meter.refused_from is None:
                why = msg("due.calibration", meter=meter.name or code, end_date=meter.calibration_due)
                yield PlanItem(
                    Kind.METER_CALIBRATION, "meter", code, "", meter.calibration_due, why, 0, plan.level,
                    _GRAVE[Kind.METER_CALIBRATION], source=plan.source,
                )  # fmt: skip

    def people(self) -> Iterator[PlanItem]:
        """Levels that end: the last day on which they still count."""
        plan = self._plan(Kind.TRAINING)
        if plan is None:
            return
        for code, person in self._facts.people.items():
            if person.level_until is not None and person.level is not Level.NONE:
                level = msg(f"level.{person.level.value}")
                yield PlanItem(
                    Kind.TRAINING, "person", code, "", person.level_until - dt.timedelta(days=1),
                    msg("due.training", level=level, end_date=person.level_until), 0, plan.level,
                    _GRAVE[Kind.TRAINING], person.name, source=plan.source,
                )  # fmt: skip
