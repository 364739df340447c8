"""The guided reset job: begin, leave half-way, finish; the pack is held all the while."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from decimal import Decimal

from fleetcare.domain import limits, reset_job
from fleetcare.domain.checks import CheckKind, Hold, HoldClass, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import PackModel, ServiceNotes
from fleetcare.domain.parts import fits
from fleetcare.domain.reset_job import GuidedJob, JobOutcome, Pause, Stop
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.trips import Reset
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import msg, word
from fleetcare.services import record, stock
from fleetcare.services.drafts import JOB_DRAFT
from fleetcare.services.fusing import model_of
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, own_badge
from fleetcare.services.trip_facts import reset_allowance
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View


@dataclass(frozen=True, slots=True)
class JobState:
    """A job that is under way: its pack's model and the ticks so far."""

    pack: str
    vehicle: str | None
    model: PackModel
    notes: ServiceNotes
    ticks: tuple[tuple[str, int], ...]
    stocked: tuple[tuple[Part, int], ...] = ()
    """Fuses and seals in stock that fit the model, with how many are on hand."""
    danger: bool = False
    """Whether the pack is held for danger, which no reset overrides."""

    @property
    def pause(self) -> Pause | None:
        """The pause that comes next, or None when only the readings are left."""
        done = dict(self.ticks)
        return next((p for p in Pause if done.get(p.value, 0) < reset_job.STEPS[p]), None)


def _draft_id(pack: str) -> str:
    return f"{JOB_DRAFT}{pack}"


def job_state(view: View, code: str) -> JobState:
    """The job of `code` with its draft, if there is one; NotAllowed where the maker does not describe it."""
    _pack, model, notes = model_of(view, code)
    reset_job.refuse_model(model, notes)
    assert notes is not None
    ticks = _kept_ticks(view, code) or ()
    placed = view.placement_of(code)
    stocked = tuple(
        (part, stock.have(view, part.code))
        for part in view.things("part").values()
        if part.kind in (PartKind.FUSE, PartKind.SEAL) and fits(part, model.code, model.connector)
    )
    danger = any(hold.hold_class is HoldClass.DANGER for hold in view.open_holds(("pack", code)))
    return JobState(code, placed.vehicle if placed else None, model, notes, ticks, stocked, danger)


def begin_job(store: Store, clock: Clock, author: Author, code: str) -> tuple[JobState, Recorded | None]:
    """Begin the job, or go on with its draft.  Refused by the reset rule with its number; the pack is held."""
    now = clock()
    with store.transaction() as tx:
        record.may_release(author, now, tx)
        state = job_state(tx, code)
        if state.danger:
            raise NotAllowed("reset.danger", pack=code)
        if _has_draft(tx, code):
            return state, None
        pack, _model, _notes = model_of(tx, code)
        allowed = reset_allowance(tx, pack, author.person, now.date(), record.site_rules(tx))
        if not allowed.allowed:
            raise NotAllowed(allowed.statement.key, **dict(allowed.statement.values))
        writer = Writer(tx, author, now)
        ruling = Ruling(HoldClass.ACTION_DUE, msg("job.open"))
        hold_by_rule(tx, writer, ruling, Hold("pack", code, ruling.hold_class, now, ruling.reason))
        _keep(tx, clock, author, code, ())
        return state, writer.recorded(msg("record.job_begun", pack=code))


def _has_draft(view: View, code: str) -> bool:
    return _kept_ticks(view, code) is not None


def _kept_ticks(view: View, code: str) -> tuple[tuple[str, int], ...] | None:
    kept = next((d for d in view.drafts() if d.draft_id == _draft_id(code)), None)
    return None if kept is None else tuple((name, int(count)) for name, count in json.loads(kept.body)["ticks"])


def _keep(tx: Transaction, clock: Clock, author: Author, code: str, ticks: tuple[tuple[str, int], ...]) -> None:
    body = json.dumps({"ticks": [list(one) for one in ticks]})
    tx.save_draft(_draft_id(code), author.person.code, author.station, code, clock(), body)


def keep_ticks(store: Store, clock: Clock, author: Author, state: JobState, pause: Pause, count: int) -> JobState:
    """Keep how far a pause has come, so that leaving half-way loses nothing.  Who may not do the job ticks nothing.

    A pause is ticked once those before it are; EntryRefused otherwise, and for more steps than it has.
    """
    with store.transaction() as tx:
        record.may_release(author, clock(), tx)
        kept = _ticks_on_record(tx, state.pack)
        if not 0 <= count <= reset_job.STEPS[pause]:
            raise EntryRefused("job.steps", field="ticks", pause=msg(f"job_pause.{pause.value}"),
                               number=reset_job.STEPS[pause])  # fmt: skip
        before = list(Pause)[: list(Pause).index(pause)]
        if before:
            reset_job.refuse_unticked(kept, before[-1])
        ticks = tuple({**dict(kept), pause.value: count}.items())
        _keep(tx, clock, author, state.pack, ticks)
    return replace(state, ticks=ticks)


def _ticks_on_record(view: View, code: str) -> tuple[tuple[str, int], ...]:
    """The ticks that were kept for the job of this pack; EntryRefused where none was begun.

    What the maker describes is not asked again: a job under way can be stopped for heat or smell whatever set-up says now.
    """
    ticks = _kept_ticks(view, code)
    if ticks is None:
        raise EntryRefused("job.no_job", field="pack", pack=code)
    return ticks


@dataclass(frozen=True, slots=True)
class JobReadings:
    """What was read at the end: volts first, then the display, loaded volts and amps last."""

    rested_v: Decimal
    display_lit: bool
    meter: str
    loaded_v: Decimal | None = None
    load_a: Decimal | None = None


def finish_job(
    store: Store, clock: Clock, author: Author, state: JobState, readings: JobReadings, badge: str, part: str = ""
) -> Recorded:
    """Keep the finished job with its readings as a check, and hold what the outcome says.

    `part` is a part from the stock that was fitted in the job (a fuse, a seal): it is booked out with it.
    Every step must have been ticked and kept, whoever calls this and whatever `state` says.  A job that went well
    still needs the full check and a release.
    """
    now = clock()
    with store.transaction() as tx:
        record.may_release(author, now, tx)
        state = replace(state, ticks=_ticks_on_record(tx, state.pack))
        reset_job.refuse_unticked(state.ticks, Pause.CLOSE)
        own_badge(author, badge, tx)
        check = VoltageCheck(
            state.pack, CheckKind.AS_FOUND, RestBand.UNKNOWN, readings.rested_v, now, readings.meter, None,
            readings.loaded_v, readings.load_a,
        )  # fmt: skip
        bench = record.bench_of(tx, check, now)
        found = limits.resolve(state.model, record.site_rules(tx))
        outcome = reset_job.outcome_of(
            readings.rested_v, readings.display_lit, readings.loaded_v, found.volts("low_hold").value,
            found.volts("over_full_stop").value,
        )  # fmt: skip
        job = GuidedJob(
            state.pack, state.vehicle, now, state.ticks, outcome, Stop.NONE, readings.rested_v, readings.display_lit,
            readings.loaded_v, readings.load_a, readings.meter,
        )  # fmt: skip
        writer = Writer(tx, author, now)
        record.write_check(tx, writer, bench, check)
        stocked: Part | None = known(tx, "part", part) if part else None
        return _write(tx, writer, author, job, now_worked=outcome is JobOutcome.BACK, part=stocked)


def stop_job(store: Store, clock: Clock, author: Author, state: JobState, stop: Stop, remark: str = "") -> Recorded:
    """Stop the job at any pause; heat, smell or water quarantines the pack, anything else holds it."""
    now = clock()
    if stop is Stop.NONE:
        raise EntryRefused("job.needs_stop", field="stop")
    with store.transaction() as tx:
        state = replace(state, ticks=_ticks_on_record(tx, state.pack))
        job = GuidedJob(state.pack, state.vehicle, now, state.ticks, JobOutcome.STOPPED, stop, remark=remark.strip())
        return _write(tx, Writer(tx, author, now), author, job, now_worked=False)


def _write(
    tx: Transaction, writer: Writer, author: Author, job: GuidedJob, *, now_worked: bool, part: Part | None = None
) -> Recorded:
    pack, model, _notes = model_of(tx, job.pack)
    allowed = reset_allowance(tx, pack, author.person, job.done_at.date(), record.site_rules(tx))
    job_id = writer.add("guided_job", job, job.done_at)
    if part is not None:
        stock.take_out(tx, writer, part, 1, job_id, pack=job.pack, vehicle=job.vehicle, at=job.done_at,
                       reason=word("parts.for_job"))  # fmt: skip
    if allowed.trip is not None and job.stop is Stop.NONE:
        writer.add(
            "reset", Reset(job.pack, allowed.trip.record_id, job.done_at, model.reset_note, now_worked), job.done_at
        )
    ruling = reset_job.job_ruling(job)
    if ruling is not None:
        hold_by_rule(
            tx, writer, ruling, Hold("pack", job.pack, ruling.hold_class, job.done_at, ruling.reason, cause=job_id)
        )
    tx.delete_draft(_draft_id(job.pack))
    told = msg(
        f"job_stop.{job.stop.value}" if job.outcome is JobOutcome.STOPPED else f"job_outcome.{job.outcome.value}"
    )
    message = msg("record.job", pack=job.pack, outcome=told)
    return writer.recorded(message if part is None else stock.taken_words(tx, message, part, 1))
