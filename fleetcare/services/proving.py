"""Lodging the fingerprint outside, and comparing what was printed with the record."""

from __future__ import annotations

import datetime as dt
import hashlib
import itertools
import secrets
from dataclasses import dataclass
from pathlib import Path

from fleetcare.domain import fingerprint
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.fingerprint import Head, parse_printed
from fleetcare.domain.limits import LODGE_EVERY_DAYS
from fleetcare.domain.packs import Role
from fleetcare.domain.records import FingerprintLodged
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services.people import has_role
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.services.writing_files import write_whole
from fleetcare.store import proving
from fleetcare.store.store import Store, View

MEANS = ("mail", "slip", "time_stamp")


@dataclass(frozen=True, slots=True)
class Answer:
    """Whether a printed fingerprint matches, and the sentence that says so."""

    matches: bool
    statement: Message


@dataclass(frozen=True, slots=True)
class LodgingLine:
    """One lodging on record: the head that was given away, to whom, how and when."""

    position: int
    head: Head
    means: str
    recipient: str
    done_at: dt.datetime
    person_name: str
    right: bool


@dataclass(frozen=True, slots=True)
class Lodgings:
    """All lodgings, oldest first; the gaps longer than asked; and what is to be done now."""

    lines: tuple[LodgingLine, ...]
    gaps: tuple[Message, ...]
    statement: Message
    due: bool
    head: Head
    as_of: dt.datetime


def compare_printed(store: Store, typed: str) -> Answer:
    """Does a fingerprint typed from paper belong to this record?  EntryRefused for what is none.

    Every record is hashed again first, so that altered bytes under kept hashes are found; then the
    head at that number of records is compared, and its consistency with today's head proved.
    """
    found = parse_printed(typed)
    if found is None:
        raise EntryRefused("proof.not_a_fingerprint", field="fingerprint", typed=typed[:100])
    digits, count = found
    report = store.verify()
    if not report.good:
        return Answer(False, msg("proof.broken", fault=report.faults[0]))
    with store.view() as view:
        if count > view.position:
            return Answer(False, msg("proof.too_many", count=count, have=view.position))
        ours = Head(count, proving.root_at(view, count).hex())
        if not ours.root_hex.startswith(digits) or count == 0:
            theirs = Head(count, digits.ljust(64, "0")).short
            return Answer(False, msg("proof.differs", count=count, ours=ours.short, theirs=theirs))
        path = proving.consistency(view, count)
        now = view.head()
        if not fingerprint.consistent(count, bytes.fromhex(ours.root_hex), now.size, bytes.fromhex(now.root_hex), path):
            raise ValueError("the record's own consistency proof does not hold")
        last = view.record_at(count)
        assert last is not None
        return Answer(True, msg("proof.matches", at=last.entered_at, count=count, after=now.size - count))


def lodge(store: Store, clock: Clock, author: Author, head: Head, means: str, recipient: str) -> Recorded:
    """Record that `head` was given to `recipient`; managers only.

    EntryRefused when nobody is named, when the same head was lodged there already, or when the head
    is not one of this record.
    """
    now = clock()
    kept_by = recipient.strip()
    if not kept_by:
        raise EntryRefused("proof.needs_recipient", field="recipient")
    if means not in MEANS:
        raise ValueError(means)
    with store.transaction() as tx:
        if not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("proof.manager_only", person=author.person.name)
        ours = proving.root_at(tx, head.size).hex()
        if ours != head.root_hex:
            raise EntryRefused(
                "proof.differs",
                field="fingerprint",
                count=head.size,
                ours=Head(head.size, ours).short,
                theirs=head.short,
            )
        for one in _lines(tx):
            if (one.head, one.recipient) == (head, kept_by):
                raise EntryRefused("proof.nothing_new", field="recipient", count=head.size, recipient=kept_by)
        writer = Writer(tx, author, now)
        writer.add("fingerprint_lodged", FingerprintLodged(head.size, head.root_hex, means, kept_by, now), now)
        return writer.recorded(msg("proof.lodged", fingerprint=head.short, recipient=kept_by))


def _lines(view: View) -> list[LodgingLine]:
    names = view.person_names()
    lines = []
    for position, record in proving.touching(view, "fleet", view.fleet_id):
        body = record.body
        assert isinstance(body, FingerprintLodged)
        right = body.size < position and proving.root_at(view, body.size).hex() == body.root_hex
        lines.append(
            LodgingLine(
                position, Head(body.size, body.root_hex), body.means, body.recipient, view.local(body.done_at),
                names.get(record.by, record.by), right,
            )
        )  # fmt: skip
    return lines


def lodgings(store: Store, clock: Clock) -> Lodgings:
    """What was lodged, where the gaps are, and whether it is due; on the due day it is due."""
    with store.view() as view:
        return lodgings_of(view, clock())


def lodgings_of(view: View, now: dt.datetime) -> Lodgings:
    """`lodgings` within a view."""
    lines = _lines(view)
    founded = view.record_at(1)
    assert founded is not None
    every = dt.timedelta(days=LODGE_EVERY_DAYS)
    days = [view.day(founded.entered_at), *(view.day(one.done_at) for one in lines), view.day(now)]
    gaps = tuple(
        msg("proof.gap", from_date=a, to_date=b, long_days=(b - a).days, every_days=LODGE_EVERY_DAYS)
        for a, b in itertools.pairwise(days)
        if b - a > every
    )
    if not lines:
        return Lodgings((), gaps, msg("proof.never_lodged"), True, view.head(), now)
    last = lines[-1]
    due_on = view.day(last.done_at) + every
    known = {"last_date": view.day(last.done_at), "recipient": last.recipient, "due_date": due_on}
    due = view.day(now) >= due_on
    late = (view.day(now) - due_on).days
    told = msg("proof.lodging_due", late_days=late, **known) if due else msg("proof.last_lodged", **known)
    return Lodgings(tuple(lines), gaps, told, due, view.head(), now)


def lodging_due(view: View, now: dt.datetime) -> Message | None:
    """Since when the fingerprint is due to be lodged outside, for whoever may; None while it is not."""
    days = [view.day(record.body.done_at) for _, record in proving.touching(view, "fleet", view.fleet_id)]  # type: ignore[attr-defined]
    if not days:
        return msg("proof.offer_never")
    due_on = days[-1] + dt.timedelta(days=LODGE_EVERY_DAYS)
    return msg("proof.offer", due_date=due_on) if view.day(now) >= due_on else None


def lodging_faults(store: Store) -> tuple[Message, ...]:
    """Lodgings whose head is not the record's own at that number of records."""
    with store.view() as view:
        return tuple(
            msg(
                "proof.lodging_wrong", position=one.position, theirs=one.head.short,
                ours=Head(one.head.size, proving.root_at(view, min(one.head.size, view.position)).hex()).short,
            )
            for one in _lines(view)
            if not one.right
        )  # fmt: skip


def mail_text(store: Store, head: Head, at: dt.datetime) -> tuple[str, str]:
    """Subject and text of a message that lodges `head`; plain text, no attachment."""
    subject = say(msg("proof.mail_subject", fleet=store.fleet_name, at=at))
    body = say(
        msg(
            "proof.mail_body", fleet=store.fleet_name, fleet_id=store.fleet_id, count=head.size, root=head.root_hex,
            short=head.short, at=at,
        )
    )  # fmt: skip
    return subject, body


def time_stamp_request(statement: bytes, nonce: int | None = None) -> bytes:
    """The request of RFC 3161 section 2.4.1 for a time stamp over `statement`, in DER.

    Version 1, SHA-256 of the statement, a random nonce of 64 bits, and the service's certificate asked for.
    """
    number = secrets.randbits(63) if nonce is None else nonce
    algorithm = _der(0x30, bytes.fromhex("0609608648016503040201") + b"\x05\x00")
    imprint = _der(0x30, algorithm + _der(0x04, hashlib.sha256(statement).digest()))
    body = _der(0x02, b"\x01") + imprint + _der(0x02, number.to_bytes(number.bit_length() // 8 + 1, "big"))
    return _der(0x30, body + _der(0x01, b"\xff"))


def _der(tag: int, content: bytes) -> bytes:
    assert len(content) < 128
    return bytes((tag, len(content))) + content


def write_time_stamp(store: Store, known: Lodgings, path: Path) -> tuple[Path, Path]:
    """Write the statement to `path` and the request over it beside it, with ".tsq" added.

    FileRefused when it cannot be written; older files stay as they are until the new ones are whole.
    """
    _, body = mail_text(store, known.head, known.as_of)
    statement = body.encode()
    request = path.with_name(path.name + ".tsq")
    for target, data in ((path, statement), (request, time_stamp_request(statement))):
        write_whole(target, data)
    return path, request
