"""One sentence for each kind of record in a history."""

from __future__ import annotations

from fleetcare.domain.checks import FoundIn, Hold, LookOver, Release, Trip
from fleetcare.domain.oldrows import OldReading
from fleetcare.domain.records import BatchVoided, CheckCorrected, ThingPut, Told
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services.shown import CheckLine
from fleetcare.store.values import StoredEvent


def event_text(event: StoredEvent) -> Message:
    """What `event` says, as a message."""
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
            return msg("event.released", reason=body.reason)
        case FoundIn(vehicle=None, shelf=""):
            return msg("event.whereabouts_unknown", pack=body.pack)
        case FoundIn(vehicle=None):
            return msg("event.found_on_shelf", pack=body.pack, shelf=body.shelf)
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
        case OldReading():
            return _old_reading(event, body)
        case BatchVoided():
            return msg("event.import_taken_back", reason=body.reason)
        case Told():
            return msg("event.told", what=body.what, statement=body.statement)
    return msg("event.other", kind=event.kind)


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


LATE_MINUTES = 30
"""An entry later than this after it was done is said to be late (proposal of this program)."""


def entry_note(line: CheckLine) -> str:
    """What is special about an entry: struck and why, a correction, entered late, imported."""
    notes = []
    if line.struck:
        notes.append(say(msg("screen.struck", reason=line.strike_reason)))
    if line.corrects:
        notes.append(word("screen.corrects"))
    if (line.entered_at - line.done_at).total_seconds() > LATE_MINUTES * 60:
        notes.append(say(msg("screen.late", entered_at=line.entered_at)))
    file, _, row = line.source.removeprefix("file:").rpartition(":")
    if line.source.startswith("file:"):
        notes.append(say(msg("event.imported", file=file, row=row)))
    elif line.source != "typed":
        notes.append(line.source)
    return "; ".join(notes)
