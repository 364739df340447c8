"""Meters: proofs against a reference, meters found out, and what has to be checked again because of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, replace

from fleetcare.domain import judging, metering, proving
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.metering import Decision
from fleetcare.domain.packs import Meter
from fleetcare.domain.proving import MeterFoundOut, MeterProof, Rejudged
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services import doubting, facts
from fleetcare.services.record import FUTURE_GRACE, may_check, site_rules
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View
from fleetcare.store.values import StoredCheck


@dataclass(frozen=True, slots=True)
class RecheckLine:
    """One pack to be checked again: the reading in doubt that could be worst, and what it could mean.

    `rejudged` is None where the meter's error is not known.  `would_hold` says that the reading
    without the error lies beyond a pull or stop limit.
    """

    pack: str
    vehicle: str | None
    shelf: str
    stored: StoredCheck
    found: MeterFoundOut
    rejudged: Rejudged | None
    would_hold: bool
    held: bool


@dataclass(frozen=True, slots=True)
class ProofPreview:
    """What a proof means, before it is saved.  `lines` is the re-check list if the meter is found out by it."""

    decision: Decision
    statement: Message
    plan: Message | None
    lines: tuple[RecheckLine, ...]


@dataclass(frozen=True, slots=True)
class MeterRow:
    """One meter with the state of its calibration, and how much depends on it."""

    meter: Meter
    state: Message
    level: VerdictLevel
    last_good: dt.datetime | None
    readings: int


JUST_NOW = dt.timedelta(microseconds=1)
"""A proof of this very second counts as done: clocks tell seconds, and the list is read again in the second of a save."""


def meter_rows(store: Store, clock: Clock) -> tuple[MeterRow, ...]:
    """All meters, those that must not be used first, then those soonest due."""
    now = clock()
    with store.view() as view:
        found = {one.meter: one for one in view.found_out()}
        rows = []
        for meter in view.things("meter").values():
            out = found.get(meter.code)
            good = out.last_good_at if out is not None else doubting.last_good(view, meter, now + JUST_NOW)
            state, level = _state(view, meter, now.date())
            rows.append(MeterRow(meter, state, level, good, sum(view.readings_by(meter.code, good, now).values())))
    far = dt.date.max
    return tuple(sorted(rows, key=lambda r: (-r.level.rank, r.meter.calibration_due or far, r.meter.code)))


def _state(view: View, meter: Meter, today: dt.date) -> tuple[Message, VerdictLevel]:
    if meter.refused_from is not None:
        return msg("meters.state_refused"), VerdictLevel.PULL
    if meter.calibration_due is None:
        return msg("meters.state_no_date"), VerdictLevel.WATCH
    left = (meter.calibration_due - today).days
    if left <= 0:
        return msg("meters.state_due"), VerdictLevel.WATCH
    newest = next(iter(doubting.proofs(view, meter.code)), None)
    if newest is not None and proving.decide(newest, meter) is Decision.TOO_NEAR:
        return msg("meters.state_unproven"), VerdictLevel.TOO_NEAR
    if left <= proving.SOON_DAYS:
        return msg("meters.state_soon", left_days=left), VerdictLevel.WATCH
    return msg("meters.state_good"), VerdictLevel.PASS


# proofs


def is_meter(store: Store, text: str) -> bool:
    """True when `text` is the code of a meter of this fleet."""
    with store.view() as view:
        return view.thing("meter", text.strip().upper()) is not None


def start_of(store: Store, day: dt.date) -> dt.datetime:
    """The first moment of `day` at the depot: a proof of an earlier day vouches for no reading of that day."""
    with store.view() as view:
        zone = facts.zone_of(view)
    start = dt.datetime.combine(day, dt.time(), zone)
    offset = start.utcoffset()
    assert offset is not None
    return start.replace(tzinfo=dt.timezone(offset))


def _with_reference(view: View, proof: MeterProof) -> MeterProof:
    code = proof.reference.strip().upper()
    reference: Meter | None = view.thing("meter", code)
    if reference is None:
        return proof
    if code == proof.meter:
        raise EntryRefused("proof.same_meter", field="reference", meter=code)
    if reference.refused_from is not None:
        raise EntryRefused("proof.reference_refused", field="reference", meter=code, since_date=reference.refused_from)
    if reference.calibration_due is None:
        raise EntryRefused("proof.reference_no_date", field="reference", meter=code)
    if proof.done_at.date() >= reference.calibration_due:
        raise EntryRefused("proof.reference_due", field="reference", meter=code, due_date=reference.calibration_due)
    return replace(proof, reference=code, reference_error_v=metering.limit_of_error_v(proof.reference_v, reference))


def preview_proof(store: Store, clock: Clock, proof: MeterProof) -> ProofPreview:
    """What `proof` would mean; reads all readings of the meter, so ask for it off the GUI thread."""
    now = clock()
    with store.view() as view:
        meter = _usable(view, proof.meter)
        proof = _checked(view, proof, now)
        decision = proving.decide(proof, meter)
        if decision is not Decision.BEYOND:
            return ProofPreview(decision, _statement(proof, meter, decision), None, ())
        found, readings = _finding(view, meter, now, "", proof, None)
        lines = _lines(view, [found], now)
        since = msg("found.never") if found.last_good_at is None else msg("found.good_at", at=found.last_good_at)
        held = sum(line.would_hold and not line.held for line in lines)
        plan = msg("found.plan", readings=readings, packs=len(found.packs), since=since, held=held)
        return ProofPreview(decision, _statement(proof, meter, decision), plan, lines)


def record_proof(store: Store, clock: Clock, author: Author, proof: MeterProof) -> Recorded:
    """Store a proof.  A meter outside its limit of error is found out by it, in the same transaction.

    A calibration within the limit moves the due date.
    """
    now = clock()
    with store.transaction() as tx:
        may_check(author, now, tx)
        meter = _usable(tx, proof.meter)
        proof = _checked(tx, proof, now)
        writer = Writer(tx, author, now)
        proof_id = writer.add("meter_proof", proof, proof.done_at)
        decision = proving.decide(proof, meter)
        if decision is Decision.BEYOND:
            statement = _statement(proof, meter, decision)
            return writer.recorded(_find_out(tx, writer, meter, now, say(statement), proof, proof_id))
        if decision is Decision.PASS and proof.calibration_due is not None:
            writer.add_thing("meter", replace(meter, calibration_due=proof.calibration_due))
        return writer.recorded(_statement(proof, meter, decision))


def mark_found_out(store: Store, clock: Clock, author: Author, meter_code: str, reason: str) -> Recorded:
    """Mark a meter as found out without a figure: it is broken, dropped, or reads nonsense."""
    now = clock()
    if not reason.strip():
        raise EntryRefused("found.needs_reason", field="reason")
    with store.transaction() as tx:
        may_check(author, now, tx)
        meter = _usable(tx, meter_code)
        writer = Writer(tx, author, now)
        return writer.recorded(_find_out(tx, writer, meter, now, reason.strip(), None, None))


def _usable(view: View, code: str) -> Meter:
    meter: Meter | None = view.thing("meter", code)
    if meter is None:
        raise EntryRefused("entry.unknown_meter", field="meter", code=code)
    if meter.refused_from is not None:
        raise EntryRefused("proof.meter_refused", field="meter", meter=code, since_date=meter.refused_from)
    return meter


def _checked(view: View, proof: MeterProof, now: dt.datetime) -> MeterProof:
    if proof.done_at > now + FUTURE_GRACE:
        raise EntryRefused("proof.future", field="done_date", done_at=proof.done_at, now_at=now)
    if proof.calibration_due is not None and proof.calibration_due <= proof.done_at.date():
        raise EntryRefused(
            "proof.before_due", field="calibration_due", due_date=proof.calibration_due,
            done_date=proof.done_at.date(),
        )  # fmt: skip
    return _with_reference(view, proof)


def _statement(proof: MeterProof, meter: Meter, decision: Decision) -> Message:
    return msg(
        f"proof.{decision.value}", meter=meter.code, read_v=proof.read_v, reference_v=proof.reference_v,
        change_v=proof.error_v, limit_v=doubting.tidy_v(metering.limit_of_error_v(proof.reference_v, meter)),
        reference_error_v=doubting.tidy_v(proof.reference_error_v),
    )  # fmt: skip


# found out


def _finding(
    view: View, meter: Meter, now: dt.datetime, reason: str, proof: MeterProof | None, proof_id: str | None
) -> tuple[MeterFoundOut, int]:
    """The finding with the packs it puts in doubt, and how many readings these are."""
    since = doubting.last_good(view, meter, now if proof is None else proof.done_at)
    counts = view.readings_by(meter.code, since, now)
    figures = (None, None, None) if proof is None else (proof.error_v, proof.reference_v, proof.reference_error_v)
    found = MeterFoundOut(meter.code, now, since, reason, *figures, proof_id, tuple(sorted(counts)))
    return found, sum(counts.values())


def _find_out(
    tx: Transaction,
    writer: Writer,
    meter: Meter,
    now: dt.datetime,
    reason: str,
    proof: MeterProof | None,
    proof_id: str | None,
) -> Message:
    found, readings = _finding(tx, meter, now, reason, proof, proof_id)
    writer.add("meter_found_out", found, now)
    writer.add_thing("meter", replace(meter, refused_from=now.date()))
    held = 0
    for line in _lines(tx, [found], now):
        if line.would_hold and line.rejudged is not None:
            held += doubting.hold(tx, writer, line.stored, found, line.rejudged, now)
    return msg("found.done", meter=meter.code, readings=readings, packs=len(found.packs), held=held)


# the list of what to check again


def recheck_list(store: Store, clock: Clock) -> tuple[RecheckLine, ...]:
    """Packs whose readings since the last good one are in doubt, worst first; a good check takes a pack off."""
    with store.view() as view:
        return _lines(view, view.found_out(), clock())


def _lines(view: View, findings: Iterable[MeterFoundOut], now: dt.datetime) -> tuple[RecheckLine, ...]:
    findings = list(findings)
    packs = {pack for found in findings for pack in found.packs}
    recorded = view.found_out()
    if recorded:
        packs |= view.doubted_packs(view.latest_checks()).keys() if findings == recorded else set()
    held = {hold.subject for hold in view.open_holds() if hold.subject_class == "pack"}
    lines = []
    for pack in packs:
        line = _line(view, pack, findings, pack in held)
        if line is not None:
            lines.append(line)
    site = site_rules(view)
    models = view.things("pack_model")
    known = view.things("pack")

    def worst_first(line: RecheckLine) -> tuple[int, bool, float, str]:
        verdict = line.stored.verdict if line.rejudged is None else line.rejudged.verdict
        margin = (
            judging.margin_v(line.stored.check, models[known[line.pack].model], site)
            if line.rejudged is None
            else line.rejudged.margin_v
        )
        return -verdict.level.rank, line.vehicle is None, float(margin), line.pack

    return tuple(sorted(lines, key=worst_first))


def _line(view: View, pack: str, findings: list[MeterFoundOut], held: bool) -> RecheckLine | None:
    def doubt(stored: StoredCheck) -> MeterFoundOut | None:
        return next((f for f in findings if f.covers(stored.check)), None)

    standing = [one for one in view.checks_of(pack, doubting.NEWEST_READ) if one.void_position is None]
    good = max(
        (one.check.done_at for one in standing if one.verdict.valid and one.doubt is None and doubt(one) is None),
        default=None,
    )
    doubted = [
        (one, found)
        for one in standing
        if (found := doubt(one)) is not None and (good is None or one.check.done_at > good)
    ]
    if not doubted:
        return None
    judged = [(one, found, doubting.rejudge(view, one, found)) for one, found in doubted]
    stored, found, rejudged = max(judged, key=_worst)
    placed = view.placement_of(pack)
    shelf = view.thing("pack", pack).shelf if placed is None else placed.shelf
    would_hold = doubting.beyond(rejudged)
    return RecheckLine(pack, placed.vehicle if placed else None, shelf, stored, found, rejudged, would_hold, held)


def _worst(one: tuple[StoredCheck, MeterFoundOut, Rejudged | None]) -> tuple[int, float]:
    stored, _, rejudged = one
    if rejudged is None:
        return stored.verdict.level.rank, -float(stored.check.rested_v)
    return rejudged.verdict.level.rank, -float(rejudged.margin_v)
