"""What the working sheets say: packs on shelves, items in quarantine, and what a shift did."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain import quarantine
from fleetcare.domain.checks import Hold, HoldClass, LookOver, Release, Trip
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.packs import PackStanding
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.records import CheckJudged
from fleetcare.domain.wording import Message, msg
from fleetcare.services import facts as read
from fleetcare.services.facts import FleetFacts
from fleetcare.services.session import Clock
from fleetcare.store import proving
from fleetcare.store.store import Store

SHIFT_HOURS = 12
"""How far back a handover looks (proposal of this program)."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """What every sheet says of the record it was made from."""

    fleet_name: str
    demo: bool
    as_of: dt.datetime
    head: Head


@dataclass(frozen=True, slots=True)
class LaidUp:
    """A pack on a shelf; `low_v` and `high_v` are the maker's storage window or None."""

    pack: str
    model: str
    shelf: str
    rested_v: Decimal | None
    checked: dt.date | None
    days: int | None
    low_v: Decimal | None
    high_v: Decimal | None


@dataclass(frozen=True, slots=True)
class Quarantined:
    """A vehicle or pack held for danger, and for how many whole days."""

    subject_class: str
    code: str
    since: dt.datetime
    days: int
    place: str
    reason: Message
    remark: str
    vehicle: str = ""
    """The vehicle that a pack is still in."""


@dataclass(slots=True)
class Shift:
    """What one person did in the shift."""

    person: str
    checks: int = 0
    inspections: int = 0
    trips: int = 0
    holds: int = 0
    releases: int = 0
    others: int = 0

    @property
    def told(self) -> Message:
        """What was done, without what was not."""
        kinds = ("checks", "inspections", "trips", "holds", "releases", "others")
        done = tuple(msg(f"sheet.shift_{kind}", number=getattr(self, kind)) for kind in kinds if getattr(self, kind))
        return msg("sheet.shift_line", person=self.person, done=done)


def stamp(store: Store, clock: Clock) -> Stamp:
    """The record as it stands now."""
    with store.view() as view:
        return Stamp(store.fleet_name, store.demo, clock(), view.head())


def laid_up(store: Store, clock: Clock) -> tuple[LaidUp, ...]:
    """Packs in service on a known shelf and in no vehicle, longest unread first."""
    today = clock().date()
    with store.view() as view:
        facts = read.read_facts(view)
        found = []
        for code, pack in facts.packs.items():
            placed = facts.placements.get(code)
            shelf = facts.shelf_of(code)
            if pack.standing is not PackStanding.IN_SERVICE or not shelf or (placed and placed.vehicle):
                continue
            model = facts.models[pack.model]
            latest = facts.latest.get(code)
            checked = latest.done_at.date() if latest else None
            found.append(
                LaidUp(
                    code, model.name, shelf, latest.rested_v if latest else None, checked,
                    None if checked is None else (today - checked).days, model.storage_low_v, model.storage_high_v,
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda one: (one.checked or dt.date.min, one.pack)))


def quarantined(store: Store, clock: Clock, code: str = "") -> tuple[tuple[Quarantined, ...], int]:
    """Items held for danger, oldest first, and the site's alarm in days; of `code` only, when given.

    EntryRefused when `code` is not in quarantine.
    """
    now = clock()
    wanted = code.strip().upper()
    with store.view() as view:
        facts = read.read_facts(view)
        found = tuple(
            Quarantined(
                one.subject_class,
                one.subject,
                one.since,
                quarantine.days_in(view.day(one.since), view.day(now)),
                one.place,
                one.reason,
                one.remark,
                _still_in(facts, one.subject_class, one.subject),
            )
            for one in view.open_holds()
            if one.hold_class is HoldClass.DANGER
            and not by_recall(one.reason)
            and (not wanted or one.subject == wanted)
        )
    if wanted and not found:
        raise EntryRefused("sheet.not_quarantined", field="code", code=wanted)
    return found, facts.site.quarantine_alarm_days


def _still_in(facts: FleetFacts, subject_class: str, code: str) -> str:
    placed = facts.placements.get(code) if subject_class == "pack" else None
    return (placed.vehicle or "") if placed else ""


def shift(store: Store, clock: Clock) -> tuple[Shift, ...]:
    """What each person entered in the last SHIFT_HOURS, in order of name."""
    since = clock() - dt.timedelta(hours=SHIFT_HOURS)
    done: dict[str, Shift] = {}
    with store.view() as view:
        names = view.person_names()
        for position in range(view.position_at(since) + 1, view.position + 1):
            record = proving.record_at(view, position)
            if not record.by:
                continue
            mine = done.setdefault(record.by, Shift(names.get(record.by, record.by)))
            match record.body:
                case CheckJudged():
                    mine.checks += 1
                    mine.inspections += record.body.look_over is not None
                case LookOver():
                    mine.inspections += 1
                case Trip():
                    mine.trips += 1
                case Hold():
                    mine.holds += 1
                case Release():
                    mine.releases += 1
                case _:
                    mine.others += 1
    return tuple(sorted(done.values(), key=lambda one: one.person))
