"""One sentence for each kind of record in a history."""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.domain.absences import Absence, Away
from fleetcare.domain.attendance import AtWork
from fleetcare.domain.chargers import ChargedOn, OutputTest
from fleetcare.domain.checks import FoundIn, Hold, LookOver, Release, Trip
from fleetcare.domain.decisions import Choice, Decision
from fleetcare.domain.extensions import DueExtended
from fleetcare.domain.fault_tree import FaultWalk
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.fuses import FuseWork, part_words
from fleetcare.domain.identity import (
    ClockAnswered,
    Commissioned,
    LabelIssued,
    NameWithheld,
    PinChanged,
    ReadTwice,
    TwinFound,
)
from fleetcare.domain.incidents import IncidentClosed, IncidentOpened, IncidentWidened
from fleetcare.domain.inspection_plans import EdgeSeen, InspectionDone, MisfitSeen
from fleetcare.domain.inspections import Inspected
from fleetcare.domain.intake import Report
from fleetcare.domain.laying_up import LaidUp, LayUpEnded
from fleetcare.domain.oldrows import OldReading
from fleetcare.domain.paper_sheets import SheetLine
from fleetcare.domain.proving import MeterFoundOut, MeterProof
from fleetcare.domain.quarantine import Collected, QuarantineLook
from fleetcare.domain.recalls import RecallCleared, RecallNotice, RecallRuledOut, RecallWithdrawn
from fleetcare.domain.records import (
    BatchVoided,
    CheckCorrected,
    FingerprintLodged,
    FleetFounded,
    LabelPrinted,
    PolicyCondition,
    ThingPut,
    Told,
)
from fleetcare.domain.reset_job import GuidedJob, JobOutcome
from fleetcare.domain.trips import Reset, TripJudged
from fleetcare.domain.vans import is_list_number
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services.life_words import life_text
from fleetcare.services.shown import CheckLine, EventLine
from fleetcare.store.values import StoredEvent


def released(event: StoredEvent, among: Sequence[StoredEvent]) -> Message:
    """A release, with the hold that it ended and what stood on after it, as far as these are `among` the events given."""
    assert isinstance(event.body, Release)
    holds = {one.record_id: one for one in among if isinstance(one.body, Hold)}
    ended = {one.body.hold for one in among if isinstance(one.body, Release) and one.position <= event.position}
    mine = holds.get(event.body.hold)
    if mine is None:
        return msg("event.released", reason=event.body.reason)
    told = msg("event.released_from", held_at=mine.done_at, reason=event.body.reason)
    stood = sorted(one.done_at for code, one in holds.items() if one.position < event.position and code not in ended)
    if len(stood) > 1:
        return msg("event.released_several_stand", told=told, held_at=tuple(stood))
    return msg("event.released_stands", told=told, held_at=stood[0]) if stood else told


def event_text(event: StoredEvent, among: Sequence[StoredEvent] = ()) -> Message:
    """What `event` says, as a message; a release also which hold it ended and which ones stood on, where these are `among`
    the events of the same subject."""
    body = event.body
    match body:
        case Trip():
            cause = msg(f"trip_cause.{body.cause.value}")
            key = "event.trip_explained" if body.explained else "event.trip_unexplained"
            return msg(key, pack=body.pack, vehicle=body.vehicle or "—", cause=cause)
        case Hold():
            key = "event.grounded" if body.subject_class == "vehicle" else "event.held"
            return msg(
                key, subject=body.subject, hold_class=msg(f"hold_class.{body.hold_class.value}"), reason=body.reason
            )
        case Release():
            return released(event, among)
        case FoundIn(vehicle=None, shelf=""):
            return msg("event.whereabouts_unknown", pack=body.pack)
        case FoundIn(vehicle=None):
            key = "event.found_on_van" if is_list_number(body.shelf) else "event.found_on_shelf"
            return msg(key, pack=body.pack, shelf=body.shelf)
        case FoundIn():
            return msg("event.found_in", pack=body.pack, vehicle=body.vehicle, bay=body.bay)
        case LookOver():
            items = tuple(msg(f"look.{item.value}") for item in body.found)
            return (
                msg("event.look_over", pack=body.pack, found=items)
                if items
                else msg("event.look_over_good", pack=body.pack)
            )
        case CheckCorrected(judged=None):
            return msg("event.check_voided", reason=body.reason)
        case CheckCorrected():
            return msg("event.check_corrected", reason=body.reason)
        case ThingPut():
            return msg("event.thing", what=msg(f"class.{body.thing_class}"), code=body.thing.code)
        case MeterProof():
            return msg("event.meter_proof", meter=body.meter, reference=body.reference, reference_v=body.reference_v,
                       read_v=body.read_v, change_v=body.error_v)  # fmt: skip
        case MeterFoundOut():
            return msg("event.meter_found_out", doubt=doubt_text(body))
        case SheetLine():
            return _sheet_text(body)
        case OldReading():
            return _old_reading(event, body)
        case BatchVoided():
            return msg("event.import_taken_back", reason=body.reason)
        case Told():
            return msg("event.told", what=body.what, statement=body.statement)
        case LabelIssued():
            return msg("event.label", pack=body.pack, issue=body.issue, void=body.issue - 1, reason=body.reason)
        case TwinFound():
            return msg("event.twin", pack=body.pack, other=body.other, serial=body.serial_read or "—")
        case Commissioned():
            return _commissioned(body)
        case ReadTwice():
            quantity = msg(f"quantity.{body.quantity}")
            return msg("event.read_twice", quantity=quantity, first_v=body.first_v, second_v=body.second_v)
        case PinChanged():
            return msg("event.pin_set" if body.is_set else "event.pin_removed")
        case NameWithheld():
            key = "event.name_withheld" if body.withheld else "event.name_shown"
            return msg(key, code=body.person, reason=body.reason)
        case ClockAnswered():
            return msg(f"event.clock_{body.answer.value}", shown_at=body.shown_at, true_at=body.true_at)
        case Report(dangers=()):
            return msg("event.report", pack=body.pack, story=msg(f"story.{body.story.value}"))
        case Report():
            return msg("event.report_danger", pack=body.pack, found=tuple(msg(f"look.{d.value}") for d in body.dangers))
        case TripJudged():
            explained = msg("event.explained" if body.explained else "event.not_explained")
            cause = msg(f"trip_cause.{body.cause.value}")
            told = msg("event.trip_judged", pack=body.pack, cause=cause, explained=explained, why=body.reason or "—")
            return msg("event.trip_mended", told=told, mended=body.mended) if body.mended else told
        case FaultWalk():
            path = tuple(f"{word(f'tree.{row}_see')} → {word(f'tree_answer.{name}')}" for row, name in body.steps)
            return msg("event.walk", pack=body.pack, path=path, outcome=msg(f"tree_outcome.{body.outcome.value}"))
        case GuidedJob(outcome=JobOutcome.STOPPED):
            return msg("event.job_stopped", pack=body.pack, why=msg(f"job_stop.{body.stop.value}"))
        case GuidedJob():
            return msg("event.job", pack=body.pack, outcome=msg(f"job_outcome.{body.outcome.value}"))
        case ChargedOn():
            return msg("event.charged", pack=body.pack, charger=body.charger or msg("event.unknown_charger"))
        case OutputTest():
            state = msg(f"output_state.{body.state.value}")
            return msg("event.output", charger=body.charger, measured_v=body.measured_v, state=state)
        case FuseWork():
            return _fuse(body)
        case QuarantineLook():
            return msg("event.quarantine_changed" if body.changed else "event.quarantine_look", pack=body.pack)
        case Collected():
            return msg("event.collected", pack=body.pack, carrier=body.carrier, consignment=body.consignment)
        case Reset():
            return msg(
                "event.reset_worked" if body.worked else "event.reset_failed", pack=body.pack, method=body.method
            )
        case RecallCleared():
            return msg("event.recall_cleared", pack=body.pack, number=body.number, remedy=body.remedy,
                       reference=body.reference)  # fmt: skip
        case RecallRuledOut():
            return msg("event.recall_ruled_out", pack=body.pack, number=body.number, serial=body.serial_read or "—",
                       date_code=body.date_code_read or "—")  # fmt: skip
        case RecallNotice():
            return msg("event.recall_notice", number=body.number, models=", ".join(body.models))
        case RecallWithdrawn():
            return msg("event.recall_withdrawn", number=body.number, reason=body.reason)
        case Decision():
            return _decision(body)
        case Inspected(authority=""):
            key = "event.inspected" if body.good else "event.inspected_bad"
            return msg(key, subject=body.subject, what=body.looked_at)
        case Inspected():
            return msg("event.inspected_by", subject=body.subject, what=body.looked_at, authority=body.authority)
        case DueExtended():
            return msg("event.extended", pack=body.pack, due_date=body.due_on, until_date=body.until,
                       reason=body.reason)  # fmt: skip
        case IncidentOpened():
            return msg(
                "event.incident_opened", incident=body.code, what=body.what, where=body.where, items=_codes(body.items)
            )
        case IncidentWidened():
            return msg("event.incident_widened", incident=body.code, items=_codes(body.items), reason=body.reason)
        case IncidentClosed():
            return msg("event.incident_closed", incident=body.code, reason=body.reason)
        case FingerprintLodged():
            return msg(
                "proof.event", fingerprint=Head(body.size, body.root_hex).short, recipient=body.recipient,
                means=msg(f"proof.means_{body.means}"),
            )  # fmt: skip
        case FleetFounded():
            return msg("history.founded", fleet=body.fleet_name)
        case LabelPrinted():
            return msg("labels.event", code=body.code, issue=body.issue, copies=body.copies)
        case AtWork():
            return msg("board.at_work_event", day_date=body.day, people=body.people or msg("board.nobody"))
        case PolicyCondition():
            return msg("policy.event", code=body.code, policy=body.policy, text=body.text)
        case LaidUp():
            band = msg("event.band", low_v=body.low_v, high_v=body.high_v, source=body.band_source)
            return msg(
                "event.laid_up", pack=body.pack, group=body.group, shelf=body.shelf or "—", look_days=body.look_days,
                band=msg("event.no_band") if body.low_v is None else band,
            )  # fmt: skip
        case LayUpEnded():
            return msg("event.lay_up_ended", pack=body.pack, group=body.group)
        case Away():
            told = msg("event.away", vehicle=body.vehicle, from_date=body.from_date, back_date=body.back_date,
                       reason=body.reason or "—")  # fmt: skip
            return msg("event.taken_back", what=told) if body.withdrawn else told
        case Absence():
            told = msg("event.absence", from_date=body.from_date, to_date=body.to_date, reason=body.reason or "—")
            return msg("event.taken_back", what=told) if body.withdrawn else told
        case InspectionDone():
            what = msg(f"plan_kind.{body.kind}")
            return msg("event.plan_found", what=what, found=body.found) if body.found else msg(
                "event.plan_done", what=what)  # fmt: skip
        case EdgeSeen():
            quantity = msg(f"quantity.{body.quantity}")
            if body.early_date is None:
                return msg("event.no_edge", quantity=quantity, checks=body.checks)
            return msg("event.edge_seen", quantity=quantity, early_date=body.early_date, checks=body.checks)
        case MisfitSeen():
            return msg("event.misfit_seen", on_date=body.read_on) if body.read_on else msg("event.misfit_over")
    return life_text(body) or msg("event.other", kind=event.kind)


def _decision(body: Decision) -> Message:
    keys = {Choice.CARRY_ON: "carry_on_until", Choice.RECHECK: "recheck_by", Choice.REPLACE: "replace_by"}
    pull = body.choice is Choice.PULL
    what = msg("decision.pull_now") if pull else msg(f"decision.{keys[body.choice]}", until_date=body.until)
    values = {"pack": body.pack, "kind": msg(f"decision_kind.{body.kind.value}"), "what": what}
    return msg("event.decision_why", why=body.reason, **values) if body.reason else msg("event.decision", **values)


def _codes(items: tuple[tuple[str, str], ...]) -> str:
    return ", ".join(code for _cls, code in items)


def _commissioned(body: Commissioned) -> Message:
    warranty = (
        msg("event.warranty", end_date=body.warranty_end, clause=body.warranty_clause)
        if body.warranty_end is not None
        else msg("event.no_warranty", clause=body.warranty_clause)
    )
    photos = (
        msg("event.photos", count=len(body.photos))
        if body.photos
        else msg("event.no_photo", reason=body.no_photo_reason)
    )
    return msg(
        "event.commissioned", pack=body.pack, marks=body.marks, invoice=body.invoice, charger=body.charger,
        warranty=warranty, photos=photos,
    )  # fmt: skip


def doubt_text(found: MeterFoundOut | None) -> Message | None:
    """Why readings of a meter that was found out are in doubt, or None without one."""
    if found is None:
        return None
    since = msg("doubt.never_good") if found.last_good_at is None else msg("doubt.good", at=found.last_good_at)
    if found.error_v is None:
        return msg("doubt.no_figure", meter=found.meter, found_date=found.done_at.date(), since=since)
    return msg("doubt.error", meter=found.meter, found_date=found.done_at.date(), change_v=found.error_v,
               at_v=found.reference_v, since=since)  # fmt: skip


def _sheet_text(line: SheetLine) -> Message:
    values = {"sheet": line.sheet, "line": line.line, "pack": line.pack, "by": line.done_by}
    if not line.unreadable:
        return msg("event.sheet_line", **values)
    what = tuple(msg(f"figure.{figure.value}") for figure in line.unreadable)
    key = "event.sheet_unreadable" if line.check is None else "event.sheet_part"
    return msg(key, what=what, as_written=line.as_written, **values)


def done_by(source: str, names: dict[str, str]) -> str:
    """Who did a check entered from paper (source "paper:NUMBER:LINE:PERSON"), or ""."""
    kind, _, rest = source.partition(":")
    code = rest.rpartition(":")[2] if kind == "paper" else ""
    return names.get(code, code)


def source_text(line: CheckLine) -> str:
    """Where an entry came from when it was not typed at the bench: the sheet and its line, or the file."""
    kind, _, rest = line.source.partition(":")
    parts = rest.split(":")
    if kind == "paper" and len(parts) == 3:
        return say(msg("screen.from_sheet", sheet=parts[0], line=parts[1], person=line.done_by))
    return line.source


def _fuse(work: FuseWork) -> Message:
    position = msg(f"fuse_position.{work.position.value}")
    if work.blown:
        cause = work.cause or msg("event.fuse_not_found")
        told = msg("event.fuse_blown", position=position, pack=work.pack, cause=cause)
    else:
        told = msg("event.fuse_good", position=position, pack=work.pack)
    spec = work.fitted
    if spec is None:
        return told
    body = msg(f"fuse_body.{spec.body.value}")
    return msg(
        "event.fuse_fitted",
        told=told,
        rated_amp=spec.rated_a,
        fuse_vdc=spec.dc_v,
        body=body,
        part=part_words(spec.part_number),
    )


def _old_reading(event: StoredEvent, body: OldReading) -> Message:
    file = imported_from(event.source)
    if event.struck:
        return msg("event.old_reading_struck", file=file, rested_v=body.rested_v)
    if body.rested_v is None:
        return msg("event.old_words", file=file, remark=body.remark, why=body.why)
    return msg("event.old_reading", file=file, rested_v=body.rested_v, why=body.why)


def imported_from(source: str) -> str:
    """The file and row in a record's source, or "" for a record that was not imported."""
    if not source.startswith("file:"):
        return ""
    file, _, row = source.removeprefix("file:").rpartition(":")
    return say(msg("event.file_row", file=file, row=row))


def remark(event: StoredEvent) -> str:
    """The person's own words with the record, or ""."""
    return getattr(event.body, "remark", "")


def line_text(line: EventLine) -> str:
    """An event as histories print it: what happened, the person's words, and when it was entered if that was late."""
    said = say(line.text)
    if line.remark and line.remark not in said:
        said = f"{said} – {line.remark}"
    if (line.entered_at - line.done_at).total_seconds() > LATE_MINUTES * 60:
        said = f"{said} ({say(msg('screen.late', entered_at=line.entered_at))})"
    return said if line.incident is None else f"{said} ({say(line.incident)})"


LATE_MINUTES = 30
"""An entry later than this after it was done is said to be late (proposal of this program)."""


def entry_note(line: CheckLine) -> str:
    """What is special about an entry: struck and why, a correction, entered late, after an incident, imported."""
    notes = []
    if line.struck:
        notes.append(say(msg("screen.struck", reason=line.strike_reason)))
    for one in line.twice:
        quantity = msg(f"quantity.{one.quantity}")
        notes.append(say(msg("screen.read_twice", quantity=quantity, first_v=one.first_v, second_v=one.second_v)))
    if line.corrects:
        notes.append(word("screen.corrects"))
    if (line.entered_at - line.done_at).total_seconds() > LATE_MINUTES * 60:
        notes.append(say(msg("screen.late", entered_at=line.entered_at)))
    if line.incident is not None:
        notes.append(say(line.incident))
    if line.after_incident is not None:
        notes.append(say(msg("screen.after_incident", incident_at=line.after_incident)))
    if line.clock_by:
        notes.append(say(msg("screen.clock_corrected", person=line.clock_by)))
    elif line.source.startswith("file:"):
        file, _, row = line.source.removeprefix("file:").rpartition(":")
        notes.append(say(msg("event.imported", file=file, row=row)))
    elif line.source != "typed":
        notes.append(source_text(line))
    if line.doubt is not None:
        notes.insert(0, say(line.doubt))
    return "; ".join(notes)
