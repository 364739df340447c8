"""Everything on record that a warranty claim for one pack can be built on, and what is missing from it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.checks import FoundIn, Hold, LookOver, Release, Trip
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.fuses import FuseWork
from fleetcare.domain.identity import Commissioned
from fleetcare.domain.packs import Pack, PackModel
from fleetcare.domain.trips import Reset
from fleetcare.services import facts as read
from fleetcare.services import summary, warranty
from fleetcare.services.as_of import AsOf
from fleetcare.services.session import Clock
from fleetcare.services.shown import CheckLine, EventLine
from fleetcare.services.storage import rate_of, stored_pack
from fleetcare.services.warranty import Claim
from fleetcare.store.store import Store


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture by its digest; `content` is None where the picture itself is not in this file."""

    digest: str
    media: str
    content: bytes | None


@dataclass(frozen=True, slots=True)
class ClaimFile:
    """The parts of the paper, in its order."""

    claim: Claim
    pack: Pack
    model: PackModel
    commissioned: Commissioned | None
    checks: tuple[CheckLine, ...]
    trips: tuple[EventLine, ...]
    fuses: tuple[EventLine, ...]
    holds: tuple[EventLine, ...]
    photos: tuple[Photo, ...]
    as_of: dt.datetime
    head: Head
    fleet_name: str
    demo: bool


def clause_of(store: Store, code: str) -> Claim:
    """The warranty of one pack, to be read before a claim file is made; EntryRefused for an unknown pack."""
    with store.view() as view:
        facts = read.read_facts(view)
        if code not in facts.packs:
            raise EntryRefused("entry.unknown_pack", field="code", code=code)
        return warranty.claim_of(view, facts, code, view.last_entered())


def claim_file(store: Store, clock: Clock, code: str, at: AsOf | None = None) -> ClaimFile:
    """Read the claim file of one pack, now or as known on an earlier day; EntryRefused for an unknown pack."""
    from fleetcare.services.fleet_outlook import outlook_of  # SciPy: not before it is asked for
    from fleetcare.services.outlook import PackHistory, pack_projections

    asked = at or AsOf(clock)
    now = asked.clock()
    with store.view(asked.position) as view:
        facts = read.read_facts(view)
        if code not in facts.packs:
            raise EntryRefused("entry.unknown_pack", field="code", code=code)
        pack = facts.packs[code]
        model = facts.models[pack.model]
        checks = view.checks_of(code)
        outlook = outlook_of(store, view, facts, now, at_position=asked.past)
        projections = pack_projections(outlook, [PackHistory(code, model, checks)], facts.site, now, fans=False)[0]
        leaks = (
            rate_of(checks, model, now).refusal is None
            and stored_pack(view, facts, code, now, checks, at_position=asked.past).leaks
        )
        claim = warranty.claim_of(view, facts, code, now, projections, checks, leaks=leaks)
        commissioned = warranty.commissioned_packs(view, [code]).get(code)
        kinds = {one.record_id: type(one.body) for one in view.events_of("pack", code)}
        lines = summary.event_lines(view, "pack", code, checks)

        def of(*classes: type) -> tuple[EventLine, ...]:
            return tuple(line for line in lines if kinds.get(line.record_id) in classes)

        photos = []
        for digest in commissioned.photos if commissioned else ():
            media, content = view.photo(digest) or ("", None)
            photos.append(Photo(digest, media, content))
        return ClaimFile(
            claim, pack, model, commissioned, summary.check_lines(view, checks), of(Trip, Reset), of(FuseWork),
            of(Hold, Release, LookOver, FoundIn), tuple(photos), now, view.head(), store.fleet_name, store.demo,
        )  # fmt: skip
