"""Quarantine: the list with its day counter, the daily look, the collection, and the sheet's values."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from fleetcare.domain import quarantine as rule
from fleetcare.domain.checks import FoundIn, HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Level, Pack, PackModel, PackStanding, Role, SiteRules
from fleetcare.domain.quarantine import Collected, QuarantineLook
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.wording import Message, msg
from fleetcare.services import record
from fleetcare.services.people import has_role, level_of
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known_pack, own_badge
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredHold


@dataclass(frozen=True, slots=True)
class QuarantineCase:
    """One quarantined pack as list, board and sheet show it."""

    pack: Pack
    model: PackModel
    vehicle: str | None
    place: str
    since: dt.datetime
    days: int
    reasons: tuple[Message, ...]
    looks: tuple[tuple[dt.datetime, str, bool], ...]
    missed: tuple[dt.date, ...]
    looked_today: bool
    alarm_on: dt.date
    alarm: bool

    @property
    def today_told(self) -> Message:
        """Whether somebody looked today; on its first day a pack was seen when it was put there."""
        if self.looked_today:
            return msg("quarantine.looked")
        return msg("quarantine.not_looked" if self.days else "quarantine.first_day")

    @property
    def missed_told(self) -> Message | None:
        """The days on which nobody looked, runs of days by their ends; None where there are none."""
        if not self.missed:
            return None
        runs = [
            msg("quarantine.one_day", on_date=first) if first == last
            else msg("quarantine.run", from_date=first, to_date=last, run_days=(last - first).days + 1)
            for first, last in rule.spans(self.missed)
        ]  # fmt: skip
        return msg("quarantine.missed", missed=tuple(runs))


@dataclass(frozen=True, slots=True)
class QuarantineSheet:
    """What the quarantine sheet says."""

    case: QuarantineCase
    as_of: dt.datetime
    position: int
    fingerprint: str
    fleet_name: str
    demo: bool


def quarantine_cases(store: Store, clock: Clock) -> tuple[QuarantineCase, ...]:
    """Every pack quarantined for danger, the longest first; a recall alone is no quarantine."""
    now = clock()
    with store.view() as view:
        dangers: dict[str, list[StoredHold]] = {}
        for hold in view.open_holds():
            if hold.subject_class == "pack" and hold.hold_class is HoldClass.DANGER:
                dangers.setdefault(hold.subject, []).append(hold)
        dangers = {code: held for code, held in dangers.items() if not all(by_recall(h.reason) for h in held)}
        cases = [
            _case(view, pack, holds, now)
            for code, holds in dangers.items()
            if (pack := view.thing("pack", code)).standing is not PackStanding.WRITTEN_OFF
        ]
        return tuple(sorted(cases, key=lambda one: (one.since, one.pack.code)))


def quarantine_page(store: Store, clock: Clock, code: str) -> QuarantineSheet:
    """One quarantined pack for its sheet; EntryRefused where it is not quarantined."""
    now = clock()
    with store.view() as view:
        pack = known_pack(view, code)
        case = _case(view, pack, _dangers(view, code), now)
        return QuarantineSheet(case, now, view.position, view.head().root_hex, store.fleet_name, store.demo)


def _dangers(view: View, code: str) -> list[StoredHold]:
    holds = [h for h in view.open_holds(("pack", code)) if h.hold_class is HoldClass.DANGER]
    if all(by_recall(h.reason) for h in holds):
        raise EntryRefused("quarantine.not_in", field="pack", pack=code)
    return holds


def _case(view: View, pack: Pack, holds: list[StoredHold], now: dt.datetime) -> QuarantineCase:
    site = view.thing("site_rules", "SITE") or SiteRules()
    names = view.person_names()
    since = min(hold.since for hold in holds if not by_recall(hold.reason))
    events = view.records_of("quarantine_look", ("pack", pack.code))
    looks = [(e.done_at, names.get(e.by, e.by), e.body) for e in events if e.done_at >= since]
    days_seen = {view.day(at) for at, _, _ in looks}
    today, since_day = view.day(now), view.day(since)
    place = next((hold.place for hold in reversed(holds) if hold.place), "")
    place = next((body.place for _, _, body in reversed(looks) if body.place), place)  # type: ignore[attr-defined]
    placed = view.placement_of(pack.code)
    days = rule.days_in(since_day, today)
    return QuarantineCase(
        pack=pack,
        model=view.thing("pack_model", pack.model),
        vehicle=placed.vehicle if placed else None,
        place=place,
        since=since,
        days=days,
        reasons=tuple(_in_words(hold) for hold in holds),
        looks=tuple((at, name, body.changed) for at, name, body in looks),  # type: ignore[attr-defined]
        missed=rule.missed_looks(since_day, days_seen, today),
        looked_today=today in days_seen,
        alarm_on=rule.alarm_on(since_day, site.quarantine_alarm_days),
        alarm=rule.is_alarm(days, site.quarantine_alarm_days),
    )


def _in_words(hold: StoredHold) -> Message:
    return msg("hold.in_words", remark=hold.remark, reason=hold.reason) if hold.remark else hold.reason


def record_look(store: Store, clock: Clock, author: Author, look: QuarantineLook) -> Recorded:
    """Note the daily look at a quarantined pack.  Anyone may; a change asks for the alarm, not for a hand."""
    now = clock()
    with store.transaction() as tx:
        known_pack(tx, look.pack)
        record.refuse_future(look.done_at, now)
        _dangers(tx, look.pack)
        writer = Writer(tx, author, now)
        writer.add("quarantine_look", look, look.done_at)
        return writer.recorded(msg("record.look_changed" if look.changed else "record.look_same", pack=look.pack))


def may_write_off(author: Author, now: dt.datetime, view: View) -> None:
    """Raises NotAllowed unless the author is a manager or may release on that day, as recorded now."""
    release_or_manager(author, now, view, "allow.write_off")


def release_or_manager(author: Author, now: dt.datetime, view: View, refusal: str) -> None:
    """Raises NotAllowed in the words of `refusal` unless the author is a manager or may release, as recorded now."""
    if not has_role(view, author, Role.MANAGER) and not level_of(view, author, now).covers(Level.MAY_RELEASE):
        raise NotAllowed(refusal, person=author.person.name)


def record_collection(store: Store, clock: Clock, author: Author, badge: str, collected: Collected) -> Recorded:
    """Hand a quarantined or recalled pack to its carrier and write it off; nothing brings its label back."""
    now = clock()
    with store.transaction() as tx:
        may_write_off(author, now, tx)
        pack = known_pack(tx, collected.pack)
        record.refuse_future(collected.done_at, now)
        if not any(by_recall(h.reason) for h in tx.open_holds(("pack", pack.code))):
            _dangers(tx, collected.pack)
        own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        writer.add("collected", collected, collected.done_at)
        writer.move(FoundIn(pack.code, None, collected.done_at, shelf=f"{collected.carrier}, {collected.consignment}"))
        writer.add_thing("pack", replace(pack, standing=PackStanding.WRITTEN_OFF, shelf=""))
        return writer.recorded(msg("record.written_off", pack=pack.code, consignment=collected.consignment))
