"""Inspection plans, hours for checks and the depots' calendars: as they stand, and changed by a manager."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fleetcare.domain import inspection_plans as inspections
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Depot, InspectionPlan, Role, Roster, SiteRules
from fleetcare.domain.wording import Message, msg
from fleetcare.services import record
from fleetcare.services.people import has_role
from fleetcare.services.rounds import DEFAULT_MINUTES
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One plan: `told` says when it is due, `recorded` is False for a default of this program."""

    plan: InspectionPlan
    told: Message
    recorded: bool


@dataclass(frozen=True, slots=True)
class HoursLine:
    """One mechanic's minutes for checks on the weekdays from Monday on; `recorded` is False where they are assumed."""

    person: str
    name: str
    depot: str
    minutes: tuple[int, ...]
    recorded: bool


@dataclass(frozen=True, slots=True)
class PlanSettings:
    """Everything that the plan rests on besides the records."""

    plans: tuple[PlanLine, ...]
    hours: tuple[HoursLine, ...]
    depots: tuple[Depot, ...]


def plan_settings(store: Store) -> PlanSettings:
    """Plans, hours and calendars as they stand."""
    with store.view() as view:
        recorded = view.things("inspection_plan")
        both = {one.code: one for one in inspections.DEFAULTS} | recorded
        site = record.site_rules(view)
        rosters: dict[str, Roster] = view.things("roster")
        depots = tuple(depot for _, depot in sorted(view.things("depot").items()))
        people = view.things("person")
        first = depots[0].code if depots else ""
        hours = [
            HoursLine(
                code, person.name, rosters[code].depot if code in rosters else first,
                rosters[code].minutes if code in rosters else (DEFAULT_MINUTES,) * 5 + (0, 0), code in rosters,
            )
            for code, person in people.items()
            if Role.MECHANIC in person.roles
        ]  # fmt: skip
    return PlanSettings(
        tuple(PlanLine(one, _told(one, site), one.code in recorded) for _, one in sorted(both.items())),
        tuple(sorted(hours, key=lambda one: one.name)),
        depots,
    )


def _told(plan: InspectionPlan, site: SiteRules) -> Message:
    kind = inspections.Kind(plan.kind)
    if not plan.active:
        return msg("plan.not_in_force")
    if kind is inspections.Kind.CHECK:
        return msg("plan.by_site_check", every_days=site.check_due_days, good_days=site.grounded_after_days)
    if kind is inspections.Kind.LAY_UP_LOOK:
        return msg("plan.by_interval", every_days=site.lay_up_look_days)
    if kind is inspections.Kind.COMMISSIONING:
        return msg("plan.before_use")
    if kind in inspections.DESK:
        return msg("plan.by_own_date")
    if plan.rule:
        return msg("plan.by_calendar", rule=plan.rule, from_date=plan.from_date)
    return msg("plan.by_interval", every_days=plan.every_days)


def put_plan(store: Store, clock: Clock, author: Author, plan: InspectionPlan) -> Recorded:
    """Record a plan, new or in the place of one with its code.  Only a manager may."""
    if not plan.code.strip():
        raise EntryRefused("plan.needs_code", field="code")
    if not plan.source.strip():
        raise EntryRefused("plan.needs_source", field="source")
    plan = replace(plan, code=plan.code.strip().upper(), source=plan.source.strip())
    with store.view() as view:
        if plan.model:
            known(view, "pack_model", plan.model)
    return record.put_things(store, clock, author, ("inspection_plan", plan))


def put_hours(store: Store, clock: Clock, author: Author, roster: Roster) -> Recorded:
    """Record a person's minutes for checks on each weekday.  Only a manager may."""
    with store.view() as view:
        known(view, "person", roster.code)
        known(view, "depot", roster.depot)
    return record.put_things(store, clock, author, ("roster", roster))


def put_calendar(store: Store, clock: Clock, author: Author, depot: str, country: str, subdivision: str) -> Recorded:
    """Choose whose public holidays hold at a depot; "" for none.  Only a manager may."""
    now = clock()
    with store.transaction() as tx:
        place: Depot = known(tx, "depot", depot)
        if not has_role(tx, author, Role.MANAGER):
            what = msg("guarded.country")
            raise NotAllowed("things.field_manager_only", person=author.person.name, code=place.code, what=what)
        writer = Writer(tx, author, now)
        chosen = replace(place, country=country.strip().upper(), subdivision=subdivision.strip().upper())
        writer.add_thing("depot", chosen)
        return writer.recorded(msg("plan.calendar_saved", depot=place.code))
