"""Inspection plans: what is looked at, how often, by whom, and where the interval comes from.

A plan is data: a thing on record with the code of a default takes its place.  An interval runs from the day it was
last done; a calendar rule (RFC 5545) names the days themselves.  The voltage check's own interval stands in the
site's settings, because board and plan must use the same one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain import recurrence
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Depot, InspectionPlan, Level, Roster
from fleetcare.domain.wording import Message, msg

PRACTICE = "common practice, no source"
PROPOSAL = "proposal of this program"


class Kind(StrEnum):
    """What is to be done, in the order of gravity in which a round is walked."""

    QUARANTINE_LOOK = "quarantine_look"
    CHECK = "check"
    COMMISSIONING = "commissioning"
    LAY_UP_LOOK = "lay_up_look"
    LOOK_OVER = "look_over"
    VEHICLE_LOOK = "vehicle_look"
    YEARLY = "yearly"
    CHARGER_TEST = "charger_test"
    METER_CALIBRATION = "meter_calibration"
    TRAINING = "training"


SUBJECT_OF = {
    Kind.QUARANTINE_LOOK: "pack",
    Kind.CHECK: "pack",
    Kind.COMMISSIONING: "pack",
    Kind.LAY_UP_LOOK: "pack",
    Kind.LOOK_OVER: "pack",
    Kind.VEHICLE_LOOK: "vehicle",
    Kind.YEARLY: "vehicle",
    Kind.CHARGER_TEST: "charger",
    Kind.METER_CALIBRATION: "meter",
    Kind.TRAINING: "person",
}
"""The class of thing that each kind is about."""

DESK = frozenset({Kind.METER_CALIBRATION, Kind.TRAINING})
"""Kinds that are arranged from a desk: in the calendar, in no mechanic's round."""

BY_ITS_OWN_RULE = frozenset({Kind.QUARANTINE_LOOK, Kind.CHECK, Kind.COMMISSIONING, Kind.LAY_UP_LOOK, *DESK})
"""Kinds whose day follows from settings or from the thing itself; a plan gives only their minutes and level."""


@dataclass(frozen=True, slots=True)
class InspectionDone:
    """Something of a plan was done that no other record tells of; `found` says what was not in order.

    Exactly one of `pack` and `vehicle` is set.
    """

    kind: str
    pack: str | None
    vehicle: str | None
    done_at: dt.datetime
    found: str = ""
    remark: str = ""

    def __post_init__(self) -> None:
        if (self.pack is None) == (self.vehicle is None):
            raise EntryRefused("plan.one_subject", field="subject")
        if self.kind not in list(Kind):
            raise EntryRefused("plan.no_such_kind", field="kind", kind=self.kind)


@dataclass(frozen=True, slots=True)
class EdgeSeen:
    """The early edge of a pack's projection, read into the plan on `done_at`; None: no crossing in sight."""

    pack: str
    quantity: str
    done_at: dt.datetime
    early_date: dt.date | None
    checks: int
    engine: str


@dataclass(frozen=True, slots=True)
class MisfitSeen:
    """The check of a pack, `check` of the day `read_on`, that its projections found not to fit it, read into the plan
    on `done_at`; "" and None: none waits to be measured again.
    """

    pack: str
    done_at: dt.datetime
    check: str
    read_on: dt.date | None
    engine: str


DEFAULTS: tuple[InspectionPlan, ...] = (
    InspectionPlan("QUARANTINE-LOOK", Kind.QUARANTINE_LOOK.value, every_days=1, source=PROPOSAL, minutes=2),
    InspectionPlan("CHECK", Kind.CHECK.value, source="the site's settings"),
    InspectionPlan("COMMISSIONING", Kind.COMMISSIONING.value, source=PRACTICE, minutes=12),
    InspectionPlan("LAY-UP-LOOK", Kind.LAY_UP_LOOK.value, source="the site's settings", minutes=2),
    InspectionPlan("LOOK-OVER", Kind.LOOK_OVER.value, every_days=30, source=PROPOSAL, minutes=2),
    InspectionPlan("VEHICLE-LOOK", Kind.VEHICLE_LOOK.value, every_days=30, source=PROPOSAL, minutes=5, active=False),
    InspectionPlan("YEARLY", Kind.YEARLY.value, every_days=365, source=PROPOSAL, minutes=30),
    InspectionPlan("CHARGER-TEST", Kind.CHARGER_TEST.value, every_days=91, source=PROPOSAL, minutes=6),
    InspectionPlan("METER-CALIBRATION", Kind.METER_CALIBRATION.value, source="the meter's own date", minutes=0),
    InspectionPlan("TRAINING", Kind.TRAINING.value, source="the person's own date", minutes=0, level=Level.NONE),
)
"""What is planned at every site until a plan with the same code says otherwise; an inactive one waits to be put in force."""


def in_force(recorded: Mapping[str, InspectionPlan]) -> tuple[InspectionPlan, ...]:
    """The plans that hold: recorded ones, and every default whose code nobody recorded; inactive ones left out."""
    both = {one.code: one for one in DEFAULTS} | dict(recorded)
    return tuple(plan for _, plan in sorted(both.items()) if plan.active)


def plan_for(
    plans: Iterable[InspectionPlan], kind: Kind, *, model: str = "", vehicle_kind: str = ""
) -> InspectionPlan | None:
    """The plan of one kind for a pack model or kind of vehicle; one that names it wins over one for all.

    Of several that name it the one with the shorter interval wins, so that a second plan never loosens the first.
    """
    fitting = [
        one
        for one in plans
        if one.kind == kind.value and one.model in ("", model) and one.vehicle_kind in ("", vehicle_kind)
    ]
    named = [one for one in fitting if one.model or one.vehicle_kind]
    return min(named or fitting, key=lambda one: (one.every_days or 10_000, one.code), default=None)


def refuse_plan(plan: InspectionPlan) -> None:
    """Raises EntryRefused for a plan that can never name a day."""
    if plan.kind not in list(Kind):
        raise EntryRefused("plan.no_such_kind", field="kind", kind=plan.kind)
    if plan.rule:
        recurrence.check_rule(plan.rule)
        if plan.from_date is None:
            raise EntryRefused("plan.rule_needs_start", field="from_date", rule=plan.rule)
    elif plan.every_days < 1 and Kind(plan.kind) not in BY_ITS_OWN_RULE:
        raise EntryRefused("plan.needs_interval", field="every_days", code=plan.code)


@dataclass(frozen=True, slots=True)
class PlannedDay:
    """The one day on which a thing is due under a plan, with the reason."""

    due_on: dt.date
    why: Message


def planned_day(plan: InspectionPlan, last: dt.date | None, known_since: dt.date) -> PlannedDay | None:
    """The day a plan names for a thing last done on `last` (None: never) and known since `known_since`.

    By interval: so many days after it was last done, or after it became known.  By calendar rule: the first day of
    the rule after that; what is done up to `early_days` before a day counts for that day.  None when a rule has ended.
    """
    if plan.rule and plan.from_date is not None:
        base = last + dt.timedelta(days=plan.early_days) if last is not None else None
        first = max(known_since, plan.from_date) - dt.timedelta(days=1)
        day = recurrence.next_day(plan.rule, plan.from_date, base or first)
        return None if day is None else PlannedDay(day, msg("due.by_rule", plan=plan.code, source=plan.source))
    if last is None:
        start = max(known_since, plan.from_date) if plan.from_date is not None else known_since
        day = start + dt.timedelta(days=plan.every_days)
        return PlannedDay(
            day, msg("due.first_by_plan", every_days=plan.every_days, start_date=start, source=plan.source)
        )
    day = last + dt.timedelta(days=plan.every_days)
    return PlannedDay(day, msg("due.by_plan", every_days=plan.every_days, last_date=last, source=plan.source))


def refuse_setting(thing: object) -> None:
    """Raises EntryRefused for a plan without a day, hours that no day has, or a calendar that nobody knows."""
    match thing:
        case InspectionPlan():
            refuse_plan(thing)
        case Roster():
            if len(thing.minutes) != 7 or not all(0 <= one <= 24 * 60 for one in thing.minutes):
                raise EntryRefused("plan.hours_wrong", field="minutes", person=thing.code)
        case Depot(country=country, subdivision=subdivision) if country:
            from fleetcare.domain.working_days import public_holidays  # only where a country is named

            public_holidays(country, subdivision, 2026)
