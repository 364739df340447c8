"""Packs back from hire: pictures before cleaning, what they are held for, and the second look at warm ones."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fleetcare.domain import hire_return
from fleetcare.domain.checks import Hold, HoldClass, Release
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.hire_return import HireReturn, LookedAgain
from fleetcare.domain.packs import Level
from fleetcare.domain.wording import Message, msg, word
from fleetcare.services import record
from fleetcare.services.commissioning import keep_photo
from fleetcare.services.people import level_of, may
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, known_pack, own_badge, said
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredHold

COOLING = "returns.cooling"


@dataclass(frozen=True, slots=True)
class ReturnLine:
    """One return in the list."""

    done_at: dt.datetime
    person: str
    back: HireReturn


@dataclass(frozen=True, slots=True)
class CoolingLine:
    """A warm return that waits to be looked at again from `again_at` on."""

    pack: str
    since: dt.datetime
    again_at: dt.datetime


def record_return(
    store: Store, clock: Clock, author: Author, back: HireReturn, photos: Sequence[bytes] = ()
) -> tuple[Recorded, bool]:
    """Keep a return with its pictures and hold the pack as the rule says; True with a danger.  Anyone may.

    With an item of the gate nothing else is asked.
    """
    now = clock()
    with store.transaction() as tx:
        known_pack(tx, back.pack)
        if back.vehicle is not None:
            known(tx, "vehicle", back.vehicle)
        if back.charger:
            known(tx, "charger", back.charger)
        record.refuse_future(back.done_at, now)
        back = replace(back, photos=tuple(keep_photo(tx, content) for content in photos))
        if not back.dangers:
            hire_return.refuse_incomplete(back)
        writer = Writer(tx, author, now)
        back_id = writer.add("hire_return", back, back.done_at)
        held: list[Message] = []
        rulings = hire_return.rulings(back)
        for ruling in rulings:
            hold = Hold(
                "pack", back.pack, ruling.hold_class, back.done_at, ruling.reason, place=back.place, cause=back_id
            )
            if hold_by_rule(tx, writer, ruling, hold):
                held.append(said(hold))
        key = "returns.kept_held" if held else "returns.kept"
        done = writer.recorded(msg(key, pack=back.pack, photos=len(back.photos), held=tuple(held)))
        return done, any(ruling.hold_class is HoldClass.DANGER for ruling in rulings)


def cooling_hold(view: View, pack: str) -> StoredHold | None:
    """The hold of a warm return that waits to be looked at again, or None."""
    return next((h for h in view.open_holds(("pack", pack)) if h.reason.key == COOLING), None)


def look_again(store: Store, clock: Clock, author: Author, look: LookedAgain, badge: str = "") -> Recorded:
    """The second look at a warm return, an hour off or later; refused before.

    Still warm quarantines it, and anyone may say so.  Cool needs the level that may check; it ends the hold for warmth
    where the person may release and shows it by their own `badge` or PIN.  Every other hold stays.
    """
    now = clock()
    with store.transaction() as tx:
        if not look.still_warm:
            may(tx, author, now, Level.MAY_CHECK)
        known_pack(tx, look.pack)
        record.refuse_future(look.done_at, now)
        held = cooling_hold(tx, look.pack)
        if held is None:
            raise EntryRefused("returns.not_cooling", field="pack", pack=look.pack)
        if not look.still_warm:
            hire_return.refuse_early(held.since, look.done_at)
        writer = Writer(tx, author, now)
        look_id = writer.add("looked_again", look, look.done_at)
        ruling = hire_return.again_ruling(look)
        if ruling is not None:
            hold = Hold("pack", look.pack, ruling.hold_class, look.done_at, ruling.reason, cause=look_id)
            hold_by_rule(tx, writer, ruling, hold)
            return writer.recorded(msg("returns.hot", pack=look.pack))
        if not level_of(tx, author, now).covers(Level.MAY_RELEASE) or not badge.strip():
            return writer.recorded(msg("returns.cooled_kept", pack=look.pack))
        own_badge(author, badge, tx)
        writer.add("release", Release(held.hold_id, look.done_at, word("returns.look_cool")), look.done_at)
        return writer.recorded(msg("returns.cooled", pack=look.pack))


def return_lines(store: Store, most: int = 50) -> tuple[ReturnLine, ...]:
    """The newest returns first."""
    with store.view() as view:
        names = view.person_names()
        events = view.records_of("hire_return", newest=most)
        return tuple(ReturnLine(e.done_at, names.get(e.by, e.by), e.body) for e in reversed(events))  # type: ignore[arg-type]


def cooling_lines(store: Store) -> tuple[CoolingLine, ...]:
    """Warm returns that wait, the oldest first."""
    again = dt.timedelta(minutes=hire_return.COOLING_MINUTES)
    with store.view() as view:
        held = [h for h in view.open_holds() if h.subject_class == "pack" and h.reason.key == COOLING]
        found = [CoolingLine(h.subject, h.since, h.since + again) for h in held]
    return tuple(sorted(found, key=lambda one: (one.since, one.pack)))


def photos_of(store: Store, back: HireReturn) -> tuple[bytes, ...]:
    """The pictures of a return, as they were kept."""
    with store.view() as view:
        kept = [view.photo(digest) for digest in back.photos]
    return tuple(one[1] for one in kept if one is not None)
