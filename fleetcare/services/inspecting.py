"""Inspections that no other record tells of, and what a person's shift came to."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.inspection_plans import SUBJECT_OF, InspectionDone, Kind, in_force, plan_for
from fleetcare.domain.packs import Level, Pack, Vehicle
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.records import CheckJudged
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg
from fleetcare.services import record
from fleetcare.services.people import may
from fleetcare.services.rounds import Round
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, said
from fleetcare.services.writing import Writer
from fleetcare.store import proving
from fleetcare.store.store import Store, View


def record_inspection(store: Store, clock: Clock, author: Author, done: InspectionDone) -> Recorded:
    """Keep an inspection of a plan; what was not in order grounds the vehicle or holds the pack until it is mended.

    That everything was in order needs the level that the plan asks for; anyone may say that something was not.
    """
    now = clock()
    found = done.found.strip()
    with store.transaction() as tx:
        thing_class, code = ("vehicle", done.vehicle) if done.vehicle is not None else ("pack", done.pack)
        assert code is not None
        thing = known(tx, thing_class, code)
        if not found:
            may(tx, author, now, _level_asked(tx, Kind(done.kind), thing))
        record.refuse_future(done.done_at, now)
        writer = Writer(tx, author, now)
        done_id = writer.add("inspection_done", done, done.done_at)
        if not found:
            return writer.recorded(msg("plan.inspection_saved", subject=code, what=msg(f"plan_kind.{done.kind}")))
        reason = msg("plan.inspection_found", what=msg(f"plan_kind.{done.kind}"), found=found)
        hold = Hold(thing_class, code, HoldClass.FAULT, done.done_at, reason, cause=done_id)
        hold_by_rule(tx, writer, Ruling(HoldClass.FAULT, reason), hold)
        return writer.recorded(said(hold))


def _level_asked(view: View, kind: Kind, thing: Pack | Vehicle) -> Level:
    """The level of the plan in force for this thing, else the one that may check."""
    plans = in_force(view.things("inspection_plan"))
    plan = None
    if SUBJECT_OF[kind] == "pack" and isinstance(thing, Pack):
        plan = plan_for(plans, kind, model=thing.model)
    elif SUBJECT_OF[kind] == "vehicle" and isinstance(thing, Vehicle):
        plan = plan_for(plans, kind, vehicle_kind=thing.kind.value)
    return Level.MAY_CHECK if plan is None else plan.level


@dataclass(frozen=True, slots=True)
class ShiftEnd:
    """What one person did today: packs checked, packs pulled, how many of those quarantined, lines left open, drafts not
    saved.

    Pulled is every pack that the person's check, inspection, decision or word took out of service, whether a check was
    made of it or not; what a recall holds is not.
    """

    name: str
    checked: int
    pulled: int
    quarantined: int
    left_open: int
    drafts: int
    told: Message


def shift_end(store: Store, clock: Clock, person: str, found: Round) -> ShiftEnd:
    """The day of one person ("" for everybody): the sentence for the end of a shift.

    Left open are the lines of today's round that are not done; what was typed and not saved is counted apart.
    """
    now = clock()
    checked: set[str] = set()
    pulled: set[str] = set()
    quarantined: set[str] = set()
    with store.view() as view:
        today = view.day(now)
        start = view.position_at(dt.datetime.combine(today, dt.time(), view.zone) - dt.timedelta(microseconds=1))
        for position in range(start + 1, view.position + 1):
            entry = proving.record_at(view, position)
            if (person and entry.by != person) or view.day(entry.done_at) != today:
                continue
            if isinstance(entry.body, CheckJudged):
                checked.add(entry.body.check.pack)
                if entry.body.verdict.hold_class is not None:
                    pulled.add(entry.body.check.pack)
                if entry.body.verdict.hold_class is HoldClass.DANGER:
                    quarantined.add(entry.body.check.pack)
            elif isinstance(entry.body, Hold) and _pulls(entry.body):
                pulled.add(entry.body.subject)
                if entry.body.hold_class is HoldClass.DANGER:
                    quarantined.add(entry.body.subject)
        names = view.person_names()
        drafts = sum(1 for one in view.drafts() if not person or one.person == person)
    own = sum(1 for one in found.today if one.day == today and (not person or one.person == person))
    counts = {
        "checked": len(checked), "pulled": len(pulled), "quarantined": len(quarantined), "left_open": own, "drafts": drafts,
    }  # fmt: skip
    told = msg("round.shift_end_quarantined" if quarantined else "round.shift_end", **counts)
    if drafts:
        told = msg("round.shift_end_drafts" if drafts > 1 else "round.shift_end_draft", told=told, drafts=drafts)
    return ShiftEnd(names.get(person, person), told=told, **counts)


def _pulls(hold: Hold) -> bool:
    """True for a pack taken out of service by what somebody read, saw or decided."""
    grave = hold.hold_class in (HoldClass.DANGER, HoldClass.FAULT)
    return hold.subject_class == "pack" and grave and not by_recall(hold.reason)
