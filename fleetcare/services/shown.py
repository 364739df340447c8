"""What board, pack page, sheet and command line show: values only, made by summary."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from fleetcare.domain.absences import Away
from fleetcare.domain.checks import CheckKind, HoldClass, LookItem, RestBand
from fleetcare.domain.packs import Pack, PackModel, Vehicle, VehicleStanding
from fleetcare.domain.status import BoardState, PackStatus, VehicleStatus
from fleetcare.domain.verdicts import Verdict
from fleetcare.domain.wording import Message, listed, msg, say, word

if TYPE_CHECKING:
    from fleetcare.domain.identity import ReadTwice
    from fleetcare.domain.incidents import Incident
    from fleetcare.domain.projection.answer import Projection
    from fleetcare.services.decisions import PackDecision


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One check in a history, newest state of knowledge.

    `struck` is True for an entry that was corrected or voided; `corrects` holds the id it replaces.
    `after_incident` is the moment of a danger found before this entry was made, about a time before it.
    `clock_by` names who had corrected the PC's clock.  `verdict` is as told on the day.  `person_name` may be
    initials when the name is withheld.
    `doubt` says why the reading is in doubt; `done_by` names who did a check that somebody else entered from paper.
    `twice` are readings of this check that were questioned and taken again: the first ones are struck.
    `incident` says that the entry was made after an incident that holds the records of its pack or vehicle.
    """

    record_id: str
    position: int
    pack: str
    vehicle: str | None
    kind: CheckKind
    rest: RestBand
    rested_v: Decimal
    loaded_v: Decimal | None
    load_a: Decimal | None
    hold_s: int | None
    resistance_ohm: Decimal | None
    bench_c: Decimal | None
    meter: str
    meter_state: Message
    done_at: dt.datetime
    entered_at: dt.datetime
    person: str
    person_name: str
    level: str
    station: str
    source: str
    verdict: Verdict
    look_over: tuple[LookItem, ...] | None
    remark: str
    struck: bool = False
    strike_reason: str = ""
    corrects: str | None = None
    after_incident: dt.datetime | None = None
    clock_by: str = ""
    doubt: Message | None = None
    done_by: str = ""
    incident: Message | None = None
    twice: tuple[ReadTwice, ...] = ()


@dataclass(frozen=True, slots=True)
class EventLine:
    """Anything else in a history: trip, hold, release, move, commissioning, correction.

    `incident` says that the entry was made after an incident that holds the records of its thing.
    """

    record_id: str
    position: int
    done_at: dt.datetime
    entered_at: dt.datetime
    person: str
    person_name: str
    text: Message
    remark: str = ""
    incident: Message | None = None


@dataclass(frozen=True, slots=True)
class Comparison:
    """This check against the last comparable one (same kind, rest band, meter; ohms only at the same load)."""

    earlier_at: dt.datetime
    change_v: Decimal
    change_ohm: Decimal | None
    statement: Message


WATCH_LINES = {"resistance_ohm": "resistance_watch", "rested_full_v": "rested_full_pass"}
PULL_LINES = {"resistance_ohm": "resistance_pull", "rested_full_v": "rested_full_pull"}


@dataclass(frozen=True, slots=True)
class PackSummary:
    """Everything the pack page and the maintenance sheet say about one pack.

    `limits` are (name, value, unit, source), those of the loaded resistance last; `decision` is what waits for one or answers it; `incidents` name the pack, open or closed.
    """

    pack: Pack
    model: PackModel
    status: PackStatus
    vehicle: str | None
    bay: int | None
    shelf: str
    checks: tuple[CheckLine, ...]
    events: tuple[EventLine, ...]
    projections: tuple[Projection, ...]
    limits: tuple[tuple[str, Decimal, str, str], ...]
    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool
    decision: PackDecision | None = None
    incidents: tuple[Incident, ...] = ()
    stays: Message | None = None
    """What keeps its vehicle in though the pack may be used, as the board says it."""

    def watch_line(self, quantity: str) -> float | None:
        """From where a verdict on this quantity says watch; None where no line is set."""
        return next((float(value) for name, value, *_ in self.limits if name == WATCH_LINES.get(quantity)), None)

    def limit_source(self, quantity: str) -> str:
        """Where the pull limit of this quantity comes from; "" where that is not a limit of verdicts."""
        return next((source for name, _, _, source in self.limits if name == PULL_LINES.get(quantity)), "")


@dataclass(frozen=True, slots=True)
class Offer:
    """A spare that would free a vehicle, and why it fits.

    `proposed` is True for the packs chosen when all vehicles were solved together.  `km` is None where the way
    between the depots is not recorded.  `charged_at` is when it was put on `charger` ("": nobody knows which) after its
    last full check, None where no charge is on record since.
    """

    pack: str
    shelf: str
    last_check: dt.date
    rested_v: Decimal
    depot: str = ""
    km: Decimal | None = None
    proposed: bool = False
    charged_at: dt.datetime | None = None
    charger: str = ""

    @property
    def full_on(self) -> dt.date:
        """The day it was last charged or known to be full."""
        return self.last_check if self.charged_at is None else self.charged_at.date()


@dataclass(frozen=True, slots=True)
class VehicleSummary:
    """One line of the board.  `no_offer` says why no spare frees a vehicle that lacks one; `away` that it is away today
    (on hire, say), though it is of the fleet."""

    vehicle: Vehicle
    status: VehicleStatus
    packs: tuple[PackStatus, ...]
    may_clear: tuple[str, ...] = ()
    offers: tuple[Offer, ...] = ()
    no_offer: Message | None = None
    away: Away | None = None


def elsewhere_told(line: VehicleSummary) -> tuple[str, str] | None:
    """State and reason of a vehicle that is not here to go out: away until a day, lost, stolen or on the way; else None.

    Danger that stands against one that is away comes first: then it is told as one that is here.
    """
    standing = line.vehicle.standing
    if standing is not VehicleStanding.IN_FLEET:
        return word(f"vehicle_standing.{standing.value}"), ""
    if line.away is None or any(one.hold_class is HoldClass.DANGER for one in line.status.reasons):
        return None
    return word("board.away"), say(msg("board.back_on", reason=line.away.reason, back_date=line.away.back_date))


def reasons_told(line: VehicleSummary) -> str:
    """All reasons in one text, the gravest first; one that is a sentence ends without its stop before another."""
    *before, last = [say(reason.text) for reason in line.status.reasons] or [""]
    return "; ".join([*(text.removesuffix(".") for text in before), last])


def next_steps(line: VehicleSummary) -> tuple[Message, ...]:
    """What to do about each reason, the gravest first; a step that several ask for once."""
    return tuple({say(reason.next_step): reason.next_step for reason in line.status.reasons}.values())


def clears_by_shift(
    line: VehicleSummary, at_work: tuple[str, ...] | None
) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """Who may clear it and is at work today, and who may and is not; None where nobody noted it or no person is named."""
    unnamed = word("clear.maker_only"), word("clear.after_remedy")
    if not line.may_clear or line.may_clear[0] in unnamed or at_work is None:
        return None
    here = tuple(name for name in line.may_clear if name in at_work)
    return here, tuple(name for name in line.may_clear if name not in at_work)


def clears_brief(line: VehicleSummary, at_work: tuple[str, ...] | None) -> str:
    """Who may clear it in few words: those at work today first."""
    shift = clears_by_shift(line, at_work)
    if shift is None:
        return listed(line.may_clear)
    told = [
        say(msg(f"board.clears_brief_{name}", names=who))
        for name, who in zip(("here", "away"), shift, strict=True)
        if who
    ]
    return "; ".join(told)


@dataclass(frozen=True, slots=True)
class FleetSummary:
    """The board.  `counts` adds up to the number of vehicles that are here; `away` are those that are not, and
    `hired` those that are away today and come back on a day (unless danger stands against them: they are counted).

    `depots` are (code, name); `at_work` the names of those at work today, None where nobody recorded it.  `unread` are
    counted as ready and not among `vehicles`: they are being read.
    """

    vehicles: tuple[VehicleSummary, ...]
    counts: dict[BoardState, int]
    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool
    stale_after_minutes: int
    drafts: tuple[tuple[str, str, dt.datetime], ...] = ()
    depots: tuple[tuple[str, str], ...] = ()
    at_work: tuple[str, ...] | None = None
    away: tuple[Vehicle, ...] = ()
    hired: tuple[Away, ...] = ()
    elsewhere: tuple[VehicleSummary, ...] = ()
    """The lines of those that are not counted, by code."""

    unread: int = 0

    @property
    def total(self) -> int:
        """How many vehicles are here."""
        return len(self.vehicles) + self.unread

    @property
    def away_told(self) -> Message | None:
        """How the counts add up to the fleet when vehicles are away, or None when all are here."""
        if not self.away and not self.hired:
            return None
        gone = [
            msg("screen.away_one", vehicle=one.code, standing=msg(f"vehicle_standing.{one.standing.value}"))
            for one in self.away
        ]
        out = [
            msg("screen.away_until", vehicle=one.vehicle, reason=one.reason, back_date=one.back_date)
            for one in self.hired
        ]
        here, away = self.total, len(gone) + len(out)
        return msg("screen.and_away", here=here, away=away, which=(*out, *gone), total=here + away)


@dataclass(frozen=True, slots=True)
class RoundLine:
    """One pack to be checked, worst first."""

    pack: str
    model: str
    vehicle: str | None
    shelf: str
    status: PackStatus
    why: Message
    due_on: dt.date | None


@dataclass(frozen=True, slots=True)
class PackRow:
    """One line of the list of packs."""

    pack: Pack
    model_name: str
    vehicle: str | None
    shelf: str
    status: PackStatus
    rested_v: Decimal | None
    resistance_ohm: Decimal | None
    last_check: dt.datetime | None


@dataclass(frozen=True, slots=True)
class VehiclePage:
    """One vehicle with its packs now, the history of packs found in it, and the incidents that name it."""

    line: VehicleSummary
    packs: tuple[PackRow, ...]
    events: tuple[EventLine, ...]
    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool
    incidents: tuple[Incident, ...] = ()


LETS_OUT = {
    "next.back_to_work": "", "next.watch": "next.watch_in", "next.watch_resistance": "next.watch_resistance_in",
    "next.look_closer": "next.look_closer",
}  # fmt: skip
"""Steps that let a pack go out, and what is left of each for one that does not."""


def step_now(verdict: Verdict, held: bool, stays: Message | None = None) -> Message:
    """The next safe step: a good reading sends a pack that is held nowhere, nor a vehicle that `stays` in."""
    step = verdict.next_step
    if step.key not in LETS_OUT:
        return step
    if held:
        stays = msg("next.stays_held")
    if stays is None:
        return step
    left = LETS_OUT[step.key]
    return stays if not left else msg("next.stays_and", told_sentence=stays, step=msg(left))


def headline_now(verdict: Verdict, held: bool, stays: Message | None = None) -> Message:
    """The headline, which lets nothing go out that is held or `stays` in."""
    keeps = held or stays is not None
    return msg("headline.watch_in") if keeps and verdict.headline.key == "headline.watch" else verdict.headline


def model_words(model: PackModel) -> str:
    """A model by its name, with its code where that says more."""
    return model.name if model.name == model.code else f"{model.name} ({model.code})"


@dataclass(frozen=True, slots=True)
class Recorded:
    """What a deed wrote: every screen re-reads these packs and vehicles, and no others.

    `next_due` is the day that board and plan show.  `meanwhile` says what others recorded about the pack since the author
    had looked, `held` that the pack is held all the same, `stays` what else keeps its vehicle in, as the board says it.
    """

    position: int
    record_ids: tuple[str, ...]
    changed_packs: frozenset[str]
    changed_vehicles: frozenset[str]
    message: Message
    verdict: Verdict | None = None
    next_due: dt.date | None = None
    meanwhile: tuple[Message, ...] = ()
    held: bool = False
    stays: Message | None = None
