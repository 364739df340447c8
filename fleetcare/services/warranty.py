"""Warranties of the fleet's packs: what is on record, what a claim would rest on, and what it still lacks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Any

from fleetcare.domain import warranty
from fleetcare.domain.checks import CheckKind, HoldClass, Trip, TripCause
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.fuses import FuseWork
from fleetcare.domain.identity import Commissioned
from fleetcare.domain.moments import date_if_typed
from fleetcare.domain.packs import Pack, PackModel, PackStanding, Role
from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.warranty import Evidence, Item, Terms, is_none
from fleetcare.domain.wording import Message, msg, word
from fleetcare.services.facts import FleetFacts
from fleetcare.services.people import has_role, refuse_stale
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known_pack
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredCheck

MOST_MONTHS = 240


@dataclass(frozen=True, slots=True)
class Claim:
    """One pack with a warranty on record: terms, days left, what was found, and what a claim still lacks."""

    pack: str
    model: str
    terms: Terms
    left_days: int | None
    finding: Message | None
    items: tuple[Item, ...]

    @property
    def lacks(self) -> tuple[Item, ...]:
        """What a claim still lacks."""
        return warranty.missing(self.items)

    @property
    def worth(self) -> bool:
        """True where something was found and the warranty has not run out."""
        return self.finding is not None and (self.left_days is None or self.left_days >= 0)

    @property
    def time_left(self) -> Message:
        """How long it still runs, with its last day."""
        end = self.terms.ends_on
        if end is None or self.left_days is None:
            lacking = "warranty.bought_on" if self.terms.bought_on is None else "warranty.end"
            return msg("warranty.end_unknown", what=word(lacking).lower())
        if self.left_days < 0:
            return msg("warranty.over", over_days=-self.left_days, end_date=end)
        if self.left_days == 0:
            return msg("warranty.last_day", end_date=end)
        return msg("warranty.left", left_days=self.left_days, end_date=end)

    @property
    def state(self) -> Message:
        """Evidence complete, or what is missing by name; while nothing is found, only the papers count."""
        found = ("finding", "confirmed")
        lacks = [one for one in self.lacks if self.finding is not None or one.key not in found]
        if not lacks:
            return msg("warranty.complete" if self.finding is not None else "warranty.papers_complete")
        return msg("warranty.lacks", what=", ".join(word(f"warranty.{one.key}").lower() for one in lacks))


def terms_of(pack: Pack, model: PackModel, commissioned: Commissioned | None) -> Terms:
    """The pack's own purchase facts, then what was noted when it was commissioned, then the model's terms.

    A pack of which "none" is noted has no clause, and none of its model's months.
    """
    own = pack.warranty_clause or (commissioned.warranty_clause if commissioned else "")
    clause = own or model.warranty_clause
    months = pack.warranty_months if pack.warranty_months is not None or is_none(own) else model.warranty_months
    return Terms(
        bought_on=pack.bought_on,
        months=months,
        clause="" if is_none(clause) else clause,
        invoice=pack.invoice or (commissioned.invoice if commissioned else ""),
        price=pack.price_paid,
        currency=pack.currency or model.currency,
        stated_end=commissioned.warranty_end if commissioned else None,
    )


def commissioned_packs(view: View, packs: Iterable[str]) -> dict[str, Commissioned]:
    """The newest commissioning record of each of `packs` that has one."""
    found = {}
    for code in packs:
        for event in view.events_of("pack", code, 1, "commissioned"):
            assert isinstance(event.body, Commissioned)
            found[code] = event.body
    return found


def claim_of(
    view: View, facts: FleetFacts, code: str, now: dt.datetime, projections: Sequence[Projection] = (),
    checks: Sequence[StoredCheck] | None = None, *, leaks: bool = False,
) -> Claim:  # fmt: skip
    """One pack's warranty as it stands; `projections` are its own, where they are at hand."""
    pack = facts.packs[code]
    model = facts.models[pack.model]
    commissioned = commissioned_packs(view, [code]).get(code)
    terms = terms_of(pack, model, commissioned)
    history = view.checks_of(code) if checks is None else checks
    standing = sorted((c for c in history if c.void_position is None), key=lambda c: c.check.done_at)
    trips = [e.body for e in view.events_of("pack", code, kind="trip") if isinstance(e.body, Trip)]
    fuses = [e.body for e in view.records_of("fuse", ("pack", code)) if isinstance(e.body, FuseWork)]
    charged = bool(view.records_of("charged_on", ("pack", code)))
    finding = _finding(facts, code, standing, trips, projections, terms, now, leaks)
    photos = len(commissioned.photos) if commissioned else 0
    evidence = Evidence(
        terms, pack.serial, photos, commissioned.no_photo_reason if commissioned else "",
        any(c.check.loaded_v is not None for c in standing[:1]), len(standing), finding, _confirmed(standing, trips),
        sum(t.cause is TripCause.UNKNOWN for t in trips), sum(f.blown and f.not_found for f in fuses), charged,
    )  # fmt: skip
    left = terms.days_left(now.date())
    return Claim(code, model.name, terms, left, finding, warranty.evidence_items(evidence))


def _finding(
    facts: FleetFacts, code: str, standing: Sequence[StoredCheck], trips: Sequence[Trip],
    projections: Sequence[Projection], terms: Terms, now: dt.datetime, leaks: bool,
) -> Message | None:  # fmt: skip
    """The weightiest thing on record that a claim could rest on; None where there is none."""
    for hold in facts.pack_holds.get(code, ()):
        if hold.hold_class is HoldClass.DANGER:
            return msg("warranty.found_danger", since_at=hold.since, reason=hold.text)
    newest = standing[-1] if standing else None
    if newest is not None and newest.verdict.level in (VerdictLevel.PULL, VerdictLevel.DANGER):
        return msg("warranty.found_pull", done_at=newest.check.done_at)
    window = facts.site.trip_window_days
    recent = [t for t in trips if t.done_at >= now - dt.timedelta(days=window)]
    if len(recent) >= facts.site.trips_unexplained_pull:
        return msg("warranty.found_trips", count=len(recent), window_days=window)
    if leaks:
        return msg("warranty.found_leak")
    if newest is not None and newest.verdict.level is VerdictLevel.WATCH:
        return msg("warranty.found_watch", done_at=newest.check.done_at)
    end = terms.ends_on
    early = [p.crossing_p10 for p in projections if p.projected and p.crossing_p10 and p.quantity != "stored_v"]
    if end is not None and early and min(early) <= end and _likely(projections, end):
        return msg("warranty.found_ahead", early_date=min(early))
    return None


def _likely(projections: Sequence[Projection], end: dt.date) -> bool:
    """True where a limit is more likely than not reached before `end`."""
    return any(p.projected and p.crossing_p50 is not None and p.crossing_p50 <= end for p in projections)


def _confirmed(standing: Sequence[StoredCheck], trips: Sequence[Trip]) -> bool:
    """True where the newest two full checks agree that something is wrong, or it tripped more than once."""
    full = [c for c in standing if c.check.kind is CheckKind.RESTED_FULL]
    bad = (VerdictLevel.WATCH, VerdictLevel.PULL, VerdictLevel.DANGER)
    return (len(full) >= 2 and all(c.verdict.level in bad for c in full[-2:])) or len(trips) >= 2


def covered(facts: FleetFacts, commissioned: dict[str, Commissioned], today: dt.date) -> list[str]:
    """Packs still here whose warranty has not run out, or whose end is not known though something is on record."""
    found = []
    for code, pack in sorted(facts.packs.items()):
        if pack.standing is PackStanding.WRITTEN_OFF:
            continue
        terms = terms_of(pack, facts.models[pack.model], commissioned.get(code))
        left = terms.days_left(today)
        own = bool(pack.bought_on or pack.warranty_months or pack.warranty_clause or code in commissioned)
        if (left is not None and left >= 0) or (left is None and own and (terms.clause or terms.months)):
            found.append(code)
    return found


def in_order(claims: Iterable[Claim]) -> tuple[Claim, ...]:
    """Worth claiming first, then by days left; an unknown end last."""
    return tuple(sorted(claims, key=lambda c: (not c.worth, 10**6 if c.left_days is None else c.left_days, c.pack)))


def record_purchase(
    store: Store, clock: Clock, author: Author, code: str, *, bought_on: str, months: str, clause: str, invoice: str,
    price: str,
) -> Recorded:  # fmt: skip
    """Record a pack's purchase facts, as typed; empty leaves a thing unknown.  Managers only.

    EntryRefused beside its field for what is no date, no number of months or no price, a purchase ahead of today, and
    when nothing differs from what is on record.
    """
    now = clock()
    bought = purchase_of(now.date(), bought_on=bought_on, months=months, price=price)
    with store.transaction() as tx:
        if not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("warranty.manager_only", person=author.person.name)
        pack = known_pack(tx, code)
        refuse_stale(tx, author, "pack", code)
        changed = replace(pack, warranty_clause=clause.strip(), invoice=invoice.strip(), **bought)
        if changed == pack:
            raise EntryRefused("warranty.nothing_new", field="bought_on", pack=code)
        writer = Writer(tx, author, now)
        writer.add_thing("pack", changed)
        return writer.recorded(msg("warranty.recorded", pack=code))


def purchase_of(today: dt.date, *, bought_on: str, months: str, price: str) -> dict[str, Any]:
    """Purchase date, months and price as typed, by the names a pack keeps them under; empty is unknown.

    EntryRefused beside its field for what is no date, lies ahead, is no number of months or no price.
    """
    day = date_if_typed(bought_on, field="bought_on")
    if day is not None and day > today:
        raise EntryRefused("warranty.future", field="bought_on", bought_date=day)
    return {"bought_on": day, "warranty_months": _months(months), "price_paid": _price(price)}


def _months(typed: str) -> int | None:
    text = typed.strip()
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= MOST_MONTHS):
        raise EntryRefused("warranty.bad_months", field="months", typed=text)
    return int(text)


def _price(typed: str) -> Decimal | None:
    text = typed.strip()
    if not text:
        return None
    try:
        amount = Decimal(text.replace(",", "."))
    except InvalidOperation:
        raise EntryRefused("warranty.bad_price", field="price", typed=text) from None
    if not amount.is_finite() or amount < 0:
        raise EntryRefused("warranty.bad_price", field="price", typed=text)
    return amount
