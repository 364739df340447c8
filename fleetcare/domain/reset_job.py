"""The guided reset by drawing and re-seating a fuse: four pauses, what stops it, and what the result means.

Only for models whose maker describes it.  Steps are data, so that screen and sheet show the same; their
sentences stand in the catalogue as `job.prepare_1` and so on (common practice of workshops, no source;
insulating gloves are rated after IEC 60903).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.added_later import added_later
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import PackModel, ServiceNotes
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg

BENCH_LIMIT_V = Decimal("60")
"""Packs that charge above this are not for this bench job: voltage class A of EN 50604-1 ends at 60 V DC."""


class Pause(StrEnum):
    """The four physical pauses, at each of which hands are free for the keyboard."""

    PREPARE = "prepare"
    COVER = "cover"
    FUSE = "fuse"
    CLOSE = "close"


STEPS: dict[Pause, int] = {Pause.PREPARE: 6, Pause.COVER: 4, Pause.FUSE: 5, Pause.CLOSE: 4}
"""How many steps each pause asks to be ticked."""


def step_keys(pause: Pause) -> tuple[str, ...]:
    """Catalogue keys of a pause's steps, in order."""
    return tuple(f"job.{pause.value}_{number}" for number in range(1, STEPS[pause] + 1))


def normal_words(pause: Pause, notes: ServiceNotes) -> tuple[Message, ...]:
    """What is normal at a pause, with what the maker says about it."""
    spark = pause is Pause.FUSE and notes.spark_said
    told = [msg(f"job.normal_{pause.value}{'_spark' if spark else ''}")]
    if pause is Pause.PREPARE:
        if notes.bleed_note:
            told.append(msg("job.maker_bleed", note=notes.bleed_note))
        if notes.driver:
            told.append(msg("job.maker_driver", note=notes.driver))
    return tuple(told)


class Stop(StrEnum):
    """What stops the job at any pause."""

    NONE = "none"
    HEAT_SMELL = "heat_smell"
    SPARK = "spark"
    WATER = "water"
    FUSE_DAMAGED = "fuse_damaged"
    PARTS_DAMAGED = "parts_damaged"


DANGERS = (Stop.HEAT_SMELL, Stop.WATER)
"""What stops the job and quarantines the pack."""

JOB_SIGNS = ("W012", "M021", "M004", "M009")
"""Signs of ISO 7010 for this job, in the order of screen and sheet."""


class JobOutcome(StrEnum):
    """What the job led to."""

    BACK = "back"
    DISPLAY_DARK = "display_dark"
    OUT_OF_RANGE = "out_of_range"
    COLLAPSED = "collapsed"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class GuidedJob:
    """One guided reset as done: ticks per pause, what stopped it, the readings, and the outcome.

    Volts come first, then the display, the loaded reading last; what was not reached is None.
    """

    pack: str
    vehicle: str | None
    done_at: dt.datetime
    ticks: tuple[tuple[str, int], ...]
    outcome: JobOutcome
    stop: Stop = Stop.NONE
    rested_v: Decimal | None = None
    display_lit: bool | None = None
    loaded_v: Decimal | None = None
    load_a: Decimal | None = None
    meter: str = ""
    remark: str = ""
    procedure: str = added_later("")


def refuse_model(model: PackModel, notes: ServiceNotes | None) -> None:
    """Raises NotAllowed unless the maker of `model` describes this job and the pack is at most 60 V DC."""
    if notes is None or not notes.reset_by_fuse:
        raise NotAllowed("job.not_described", field="pack", model=model.name)
    refuse_above_bench(model)


def refuse_above_bench(model: PackModel) -> None:
    """Raises NotAllowed for a pack above 60 V DC: nothing under its cover is a job for this bench."""
    if model.full_v > BENCH_LIMIT_V:
        raise NotAllowed("job.too_high", field="pack", full_v=model.full_v, limit_v=BENCH_LIMIT_V)


def refuse_unticked(ticks: tuple[tuple[str, int], ...], upto: Pause) -> None:
    """Raises EntryRefused while a step of a pause up to `upto` is not ticked."""
    done = dict(ticks)
    for pause in Pause:
        missing = STEPS[pause] - done.get(pause.value, 0)
        if missing > 0:
            raise EntryRefused("job.unticked", field="ticks", pause=msg(f"job_pause.{pause.value}"), number=missing)
        if pause is upto:
            return


def outcome_of(
    rested_v: Decimal, display_lit: bool, loaded_v: Decimal | None, low_v: Decimal, high_v: Decimal
) -> JobOutcome:
    """What the readings mean.  `low_v` (hold limit) and `high_v` (stop limit) themselves are in range.

    A lit display needs the loaded reading: EntryRefused without it.  A loaded reading below the hold
    limit is a collapse.
    """
    if not low_v <= rested_v <= high_v:
        return JobOutcome.OUT_OF_RANGE
    if not display_lit:
        return JobOutcome.DISPLAY_DARK
    if loaded_v is None:
        raise EntryRefused("job.needs_loaded", field="loaded_v")
    return JobOutcome.COLLAPSED if loaded_v < low_v else JobOutcome.BACK


def job_ruling(job: GuidedJob) -> Ruling | None:
    """What the outcome holds; a job that went well keeps the hold that it was begun with."""
    if job.stop in DANGERS:
        return Ruling(HoldClass.DANGER, msg("job.held", why=msg(f"job_stop.{job.stop.value}")))
    if job.outcome is JobOutcome.STOPPED:
        return Ruling(HoldClass.FAULT, msg("job.held", why=msg(f"job_stop.{job.stop.value}")))
    if job.outcome in (JobOutcome.OUT_OF_RANGE, JobOutcome.COLLAPSED):
        return Ruling(HoldClass.FAULT, msg("job.held", why=msg(f"job_outcome.{job.outcome.value}")))
    if job.outcome is JobOutcome.DISPLAY_DARK:
        return Ruling(HoldClass.ACTION_DUE, msg("job.held", why=msg("job_outcome.display_dark")))
    return None
