"""Deeds around a fault: the report, the trip it tells of, its judgement, and the reset."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from fleetcare.domain import intake, judging
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import Hold, HoldClass, LookOver, Trip, TripCause
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.trips import SECOND_TRIP, Reset, TripJudged, TripSeen
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg
from fleetcare.services import record
from fleetcare.services.charging import withdrawn
from fleetcare.services.counting import hold_by_count
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, known_pack, own_badge, said
from fleetcare.services.trip_facts import by_guided_job, reset_allowance, trips_seen
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View


@dataclass(frozen=True, slots=True)
class Reported:
    """What a report led to: the record, what is held now and why, and what comes next."""

    recorded: Recorded
    held: tuple[Message, ...]
    steps: tuple[Message, ...]
    danger: bool
    quarantined: tuple[str, ...] = ()
    """Packs whose quarantine sheet is wanted now."""


@dataclass(frozen=True, slots=True)
class Meant:
    """Which vehicle and pack a report is about, as far as the record knows: what it may fill in, and what to ask."""

    vehicle: str
    pack: str
    choices: tuple[str, ...] = ()
    line: Message | None = None
    last_charge: Message | None = None


def meant(store: Store, vehicle: str, pack: str) -> Meant:
    """Read who is where for a report: a vehicle names its only pack, a pack its vehicle; EntryRefused for unknown codes.

    Two packs are offered as `choices`.  What the record says may be wrong by now: packs are swapped on the road.
    """
    with store.view() as view:
        placed = None
        if pack:
            known_pack(view, pack)
            placed = view.placement_of(pack)
        if vehicle:
            known(view, "vehicle", vehicle)
        elif placed is not None and placed.vehicle:
            vehicle = placed.vehicle
        if not vehicle:
            return Meant("", pack, last_charge=_last_charge(view, pack))
        inside = tuple(code for code, _bay in view.packs_in(vehicle))
        if pack:
            elsewhere = None if pack in inside else msg("report.recorded_elsewhere", pack=pack, vehicle=vehicle)
            return Meant(vehicle, pack, (), elsewhere, _last_charge(view, pack))
        if len(inside) == 1:
            there = msg("report.recorded_in", pack=inside[0], vehicle=vehicle)
            return Meant(vehicle, inside[0], (), there, _last_charge(view, inside[0]))
        which = (
            msg("report.which_of", vehicle=vehicle, packs=inside) if inside else msg("report.no_pack", vehicle=vehicle)
        )
        return Meant(vehicle, "", inside, which)


def _last_charge(view: View, pack: str) -> Message | None:
    """The newest charge of a pack on record, as a sentence; the rider may have charged it since."""
    charged = [e.body for e in view.records_of("charged_on", ("pack", pack))] if pack else []
    newest = charged[-1] if charged else None
    if not isinstance(newest, ChargedOn) or not newest.charger:
        return None
    return msg("report.last_charge", pack=pack, charger=newest.charger, on_date=view.day(newest.done_at))


@dataclass(frozen=True, slots=True)
class Judgement:
    """The cause of a trip as a person judged it while reporting."""

    cause: TripCause
    explained: bool
    reason: str
    found_outside: str = ""
    mended: str = ""


def record_report(
    store: Store, clock: Clock, author: Author, report: Report, judgement: Judgement | None = None
) -> Reported:
    """Take a report.  Anyone may; a danger quarantines at once and nothing else is asked: where nobody could name the
    pack, every pack recorded in the vehicle, and the vehicle itself where none is.

    A story that is a trip is recorded as one, unexplained with its likely cause, unless somebody who
    may release judges it here (`judgement`).  Everything is one transaction.
    """
    now = clock()
    with store.transaction() as tx:
        if report.vehicle is None and report.story is Story.BRAKING_LOST and not report.dangers:
            placed = tx.placement_of(report.pack)
            report = replace(report, vehicle=placed.vehicle if placed else None)
            if report.vehicle is None:
                raise EntryRefused("report.needs_vehicle", field="vehicle")
        if report.vehicle is not None:
            known(tx, "vehicle", report.vehicle)
        record.refuse_future(report.done_at, now)
        writer = Writer(tx, author, now)
        if report.dangers and report.vehicle is not None and not report.pack:
            return _danger_aboard(tx, writer, report, report.vehicle)
        pack = known_pack(tx, report.pack)
        if report.dangers:
            return _danger(tx, writer, report)
        charger = known(tx, "charger", report.charger) if report.charger else None
        model = tx.thing("pack_model", pack.model)
        held: list[Message] = []
        cause = intake.trip_cause(report)
        if cause is not None:
            trip_id = writer.add("trip", Trip(report.pack, report.vehicle, report.done_at, cause, False, report.remark),
                                 report.done_at)  # fmt: skip
            report = replace(report, trip=trip_id)
        report_id = writer.add("report", report, report.done_at)
        if cause is not None and judgement is not None:
            assert report.trip is not None
            _judge(tx, writer, author, _unjudged(report, cause), judgement, now)
        asked = intake.rulings(report, model, charger)
        if charger is not None and "pack" not in asked:
            charged = withdrawn(tx, report.charger, report.done_at)
            asked |= {} if charged is None else {"pack": charged}
        for subject_class, ruling in asked.items():
            if judgement is not None and judgement.explained and ruling.reason.key == "report.as_short_circuit":
                continue
            held += _hold(tx, writer, report, subject_class, ruling, report_id)
        if report.trip is not None:
            held += hold_by_count(tx, writer, report.trip)
        done = writer.recorded(msg("record.report", pack=report.pack))
        return Reported(done, tuple(held), intake.next_steps(report, model), False)


def _unjudged(report: Report, cause: TripCause) -> TripSeen:
    assert report.trip is not None
    return TripSeen(report.trip, report.pack, report.vehicle, report.done_at, cause, False, "", report.charger)


def _danger(tx: Transaction, writer: Writer, report: Report) -> Reported:
    """The stop card was shown: keep the report and the findings, quarantine, ask nothing more."""
    writer.add("report", report, report.done_at)
    found = LookOver(report.pack, report.done_at, report.vehicle, report.dangers, report.remark)
    look_id = writer.add("look_over", found, report.done_at)
    pack = known_pack(tx, report.pack)
    verdict = judging.judge_look_over(found, tx.thing("pack_model", pack.model), record.site_rules(tx))
    assert verdict.hold_class is not None and verdict.hold_reason is not None
    held = _hold(tx, writer, report, "pack", Ruling(verdict.hold_class, verdict.hold_reason), look_id)
    done = writer.recorded(msg("record.report", pack=report.pack), verdict=verdict)
    return Reported(done, tuple(held), (verdict.next_step,), True, (report.pack,))


def _danger_aboard(tx: Transaction, writer: Writer, report: Report, vehicle: str) -> Reported:
    """Nobody can say which pack it is: every pack recorded in the vehicle is quarantined, or the vehicle itself."""
    inside = tuple(code for code, _bay in tx.packs_in(vehicle))
    parts = [_danger(tx, writer, replace(report, pack=code)) for code in inside]
    held = [one for part in parts for one in part.held]
    steps = tuple(dict.fromkeys(one for part in parts for one in part.steps))
    if not inside:
        why = msg("report.danger_aboard", found=tuple(msg(f"look.{d.value}") for d in report.dangers))
        hold = Hold("vehicle", vehicle, HoldClass.DANGER, report.done_at, why, report.remark, report.place)
        held += [said(hold)] if hold_by_rule(tx, writer, Ruling(hold.hold_class, why), hold) else []
    done = writer.recorded(msg("record.report", pack=vehicle))
    return Reported(done, tuple(held), steps, True, inside)


def _hold(
    tx: Transaction, writer: Writer, report: Report, subject_class: str, ruling: Ruling, cause: str
) -> list[Message]:
    subject = report.pack if subject_class == "pack" else report.vehicle
    assert subject is not None
    hold = Hold(subject_class, subject, ruling.hold_class, report.done_at, ruling.reason, place=report.place,
                cause=cause)  # fmt: skip
    return [said(hold)] if hold_by_rule(tx, writer, ruling, hold) else []


def judge_trip(store: Store, clock: Clock, author: Author, trip_id: str, judgement: Judgement) -> Recorded:
    """Say why a trip happened; needs the level that may release.  Holds that stand are released separately."""
    now = clock()
    with store.transaction() as tx:
        seen = next((t for t in trips_seen(tx) if t.record_id == trip_id), None)
        if seen is None:
            raise EntryRefused("trip.unknown", record=trip_id)
        writer = Writer(tx, author, now)
        _judge(tx, writer, author, seen, judgement, now)
        hold_by_count(tx, writer, trip_id)
        return writer.recorded(msg("record.trip_judged", pack=seen.pack))


def _judge(
    tx: Transaction, writer: Writer, author: Author, trip: TripSeen, judgement: Judgement, now: dt.datetime
) -> None:
    record.may_release(author, now, tx)
    if judgement.explained and judgement.cause is TripCause.UNKNOWN:
        raise EntryRefused("trip.explained_by_what", field="cause")
    if judgement.explained and not judgement.reason.strip():
        raise EntryRefused("trip.needs_reason", field="reason")
    if judgement.explained and judgement.cause is TripCause.SHORT_CIRCUIT and not judgement.found_outside.strip():
        raise EntryRefused("trip.needs_outside", field="found_outside")
    body = TripJudged(
        trip.record_id, trip.pack, trip.vehicle, now, judgement.cause, judgement.explained, author.person.code,
        judgement.reason.strip(), judgement.found_outside.strip(), judgement.mended.strip(),
    )  # fmt: skip
    writer.add("trip_judged", body, now)


def record_reset(
    store: Store, clock: Clock, author: Author, pack_code: str, badge: str, worked: bool, remark: str = ""
) -> Recorded:
    """Note that the pack was reset as its maker describes; refused with the rule and the number otherwise.

    NotAllowed where the maker's way is to remove and re-seat a fuse: that is the guided job, whose steps are ticked.
    """
    now = clock()
    with store.transaction() as tx:
        record.may_release(author, now, tx)
        pack = known_pack(tx, pack_code)
        allowed = reset_allowance(tx, pack, author.person, now.date(), record.site_rules(tx))
        if not allowed.allowed or allowed.trip is None:
            raise NotAllowed(allowed.statement.key, field="reset", **dict(allowed.statement.values))
        if by_guided_job(tx, pack):
            raise NotAllowed("reset.by_job", field="reset", pack=pack.code)
        own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        method = tx.thing("pack_model", pack.model).reset_note
        writer.add("reset", Reset(pack_code, allowed.trip.record_id, now, method, worked, remark.strip()), now)
        again = allowed.count >= SECOND_TRIP
        told = "record.reset_failed" if not worked else "record.reset_again" if again else "record.reset_worked"
        return writer.recorded(msg(told, pack=pack_code))
