"""People: who may do what, levels and roles, badges and PINs.

What a person may do is read from the record inside the transaction, so that a level taken away
while somebody is signed in counts at once, whatever the window still shows.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.identity import PinChanged
from fleetcare.domain.labels import is_code, normalise
from fleetcare.domain.packs import Level, Pack, PackStanding, Person, Role, Thing
from fleetcare.domain.wording import msg
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View

if TYPE_CHECKING:
    from argon2 import PasswordHasher

PIN_DIGITS = (4, 12)
"""Fewest and most digits of a PIN.  A PIN tells colleagues at one bench apart; it guards no secret."""

FREE_TRIES = 3
"""Wrong PINs in a row before a wait is asked for (proposal of this program)."""

LONGEST_WAIT_S = 3600
"""The wait doubles from 5 s with each further wrong PIN, up to this (NIST SP 800-63B 5.2.2 asks for a limit)."""


def level_of(view: View | None, author: Author, now: dt.datetime) -> Level:
    """The author's competence on this day: the lower of what the badge said and what the record says now."""
    shown = author.person.level_on(now.date())
    kept: Person | None = None if view is None else view.thing("person", author.person.code)
    return shown if kept is None or kept.level_on(now.date()).covers(shown) else kept.level_on(now.date())


def may(view: View | None, author: Author, now: dt.datetime, needed: Level) -> None:
    """Raises NotAllowed unless the author's level covers `needed` on that day, by the record where `view` is given."""
    if not level_of(view, author, now).covers(needed):
        key = "allow.check" if needed is Level.MAY_CHECK else "allow.release"
        raise NotAllowed(key, person=author.person.name, on_date=now.date())


def person_on_record(view: View, code: str) -> Person:
    """The person called `code`; EntryRefused beside the field for the person where there is none."""
    found: Person | None = view.thing("person", code)
    if found is None:
        raise EntryRefused("entry.unknown_person", field="person", code=code)
    return found


def has_role(view: View | None, author: Author, role: Role) -> bool:
    """True when the author holds `role` as signed in and, where `view` is given, on record now."""
    kept: Person | None = None if view is None else view.thing("person", author.person.code)
    return role in author.person.roles and (kept is None or role in kept.roles)


GUARDED = ("person", "pack_model", "service_notes", "site_rules", "site_text", "inspection_plan", "roster")
"""Classes of things that decide who may do what and by which limits."""


GUARDED_FIELDS = {
    "depot": ("rules", "rules_text", "country", "subdivision"),
    "vehicle": ("pair_rule", "standing"),
    "pack": ("standing", "bought_on", "warranty_months", "warranty_clause", "invoice", "price_paid", "currency"),
}
"""What a manager decides about a thing that everybody may describe; a deed of its own asks for what that deed needs."""


def refuse_unless_allowed(tx: View, author: Author, thing_class: str, thing: Thing) -> None:
    """Raises NotAllowed where somebody else than a manager changes what a manager decides.

    That is people, pack models and site settings, and GUARDED_FIELDS of what is on record already.  Whoever writes
    the first person of an empty fleet founds it and may.  Nobody changes their own level or roles, a manager neither.
    """
    if not tx.codes("person"):
        return
    changed = thing_class in GUARDED or _guarded_change(tx.thing(thing_class, thing.code), thing_class, thing)
    if not changed:
        return
    if not has_role(tx, author, Role.MANAGER):
        if thing_class in GUARDED_FIELDS:
            what = msg(f"guarded.{changed}")
            raise NotAllowed("things.field_manager_only", person=author.person.name, code=thing.code, what=what)
        key = "people.manager_only" if thing_class == "person" else "things.manager_only"
        raise NotAllowed(key, person=author.person.name)
    if isinstance(thing, Person) and thing.code == author.person.code:
        before: Person | None = tx.thing("person", thing.code)
        if before is not None and _rank(thing) != _rank(before):
            raise NotAllowed("people.own_level", field="level", person=before.name)


def _guarded_change(before: Thing | None, thing_class: str, thing: Thing) -> str:
    """The first guarded field in which `thing` differs from what is on record, "" where none does.

    Not for a pack that was written off: that it never comes back is said to everybody, a manager too.
    """
    if before is None or (isinstance(before, Pack) and before.standing is PackStanding.WRITTEN_OFF):
        return ""
    names = GUARDED_FIELDS.get(thing_class, ())
    return next((name for name in names if getattr(before, name) != getattr(thing, name)), "")


def put_person(store: Store, clock: Clock, author: Author, person: Person) -> Recorded:
    """Add or change a person.  Only a manager may, and nobody changes their own level or roles.

    A badge or name that another person has is refused, and so is a code that is no code.
    """
    now = clock()
    with store.transaction() as tx:
        refuse_unless_allowed(tx, author, "person", person)
        if not person.name.strip():
            raise EntryRefused("people.needs_name", field="name")
        refuse_stale(tx, author, "person", person.code)
        people: dict[str, Person] = tx.things("person")
        for other in people.values():
            if other.code == person.code:
                continue
            if person.badge and normalise(other.badge) == normalise(person.badge):
                raise EntryRefused("people.badge_taken", field="badge", badge=person.badge, person=other.name)
            if other.name.strip().casefold() == person.name.strip().casefold():
                raise EntryRefused("people.name_taken", field="name", person=other.name, code=other.code)
        if person.badge and not is_code(normalise(person.badge)):
            raise EntryRefused("people.badge_shape", field="badge", badge=person.badge)
        writer = Writer(tx, author, now)
        writer.add_thing("person", replace(person, name=person.name.strip()))
        return writer.recorded(msg("people.saved", person=person.name.strip()))


def _rank(person: Person) -> tuple[object, ...]:
    return person.level, person.level_until, tuple(sorted(person.roles)), person.trainings


def refuse_stale(view: View, author: Author, thing_class: str, code: str) -> None:
    """Raises EntryRefused for a lost update: what somebody else changed since the author looked is not overwritten."""
    at = view.changed_at(thing_class, code)
    if at is None or author.seen_position is None or at <= author.seen_position:
        return
    newer = view.record_at(at)
    assert newer is not None
    if newer.by == author.person.code:
        return
    names = view.person_names()
    raise EntryRefused("meanwhile.thing", code=code, person=names.get(newer.by, newer.by), entered_at=newer.entered_at)


def person_code(store: Store, name: str) -> str:
    """A free code for a new person, from the letters of the name."""
    letters = "".join(c for c in name.upper() if c.isascii() and c.isalnum())[:10] or "PERSON"
    with store.view() as view:
        taken = set(view.codes("person"))
    return next(c for c in (letters, *(f"{letters}{n}" for n in range(2, len(taken) + 3))) if c not in taken)


# PINs


def set_pin(store: Store, clock: Clock, author: Author, person: str, pin: str | None) -> Recorded:
    """Set or (None) take away a PIN: one's own, or as a manager anybody's.

    The PIN is kept only as an Argon2id hash (RFC 9106) beside the records; that it changed is a record.
    """
    now = clock()
    if pin is not None and not (pin.isascii() and pin.isdigit() and PIN_DIGITS[0] <= len(pin) <= PIN_DIGITS[1]):
        raise EntryRefused("pin.shape", field="pin", least=PIN_DIGITS[0], most=PIN_DIGITS[1])
    if pin is not None and (len(set(pin)) == 1 or pin in "01234567890" or pin in "09876543210"):
        raise EntryRefused("pin.obvious", field="pin")
    hashed = None if pin is None else _hasher().hash(pin)
    with store.transaction() as tx:
        subject = person_on_record(tx, person)
        if person != author.person.code and not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("pin.not_yours", person=subject.name)
        tx.keep_pin(person, hashed)
        writer = Writer(tx, author, now)
        writer.add("pin_changed", PinChanged(person, hashed is not None), now)
        return writer.recorded(msg("pin.set" if hashed else "pin.removed", person=subject.name))


def has_pin(store: Store, person: str) -> bool:
    """True when the person signs in with a PIN."""
    with store.view() as view:
        return view.pin_hash(person) is not None


def find_person(store: Store, typed: str) -> Person:
    """The person that a badge, a code or the beginning of one of the names names, with the name that is printed.

    EntryRefused otherwise.
    """
    with store.view() as view:
        people = sorted(view.things("person").values(), key=lambda p: p.name)
        printed = view.people()
    code = normalise(typed)
    for person in people:
        if code and code in (person.code, normalise(person.badge)):
            return printed[person.code]
    begun = typed.strip().lower()
    whole = [p for p in people if p.name.lower() == begun]
    fitting = whole or [p for p in people if begun and f" {p.name.lower()}".find(f" {begun}") >= 0]
    if len(fitting) == 1:
        return printed[fitting[0].code]
    if fitting:
        raise EntryRefused("sign.several", typed=typed, names=", ".join(p.name for p in fitting))
    key = "sign.unknown" if begun else "sign.empty"
    raise EntryRefused(key, typed=typed, names=", ".join(p.name for p in people))


def is_pin(kept: str, typed: str) -> bool:
    """True when `typed` is the PIN whose hash is `kept`."""
    from argon2.exceptions import VerifyMismatchError

    try:
        return typed.isdigit() and _hasher().verify(kept, typed)
    except VerifyMismatchError:
        return False


class PinGate:
    """Checks PINs at one PC and makes guessing slow; a right PIN forgets the wrong ones."""

    def __init__(self, store: Store, clock: Clock) -> None:
        self._store = store
        self._clock = clock
        self._wrong: dict[str, tuple[int, dt.datetime]] = {}

    def check(self, person: Person, pin: str) -> None:
        """Raises EntryRefused for a wrong PIN, or while a wait is on; people without a PIN pass."""
        with self._store.view() as view:
            kept = view.pin_hash(person.code)
        if kept is None:
            return
        tries, last = self._wrong.get(person.code, (0, self._clock()))
        wait_s = 0 if tries < FREE_TRIES else min(5 * 2 ** (tries - FREE_TRIES), LONGEST_WAIT_S)
        left = wait_s - (self._clock() - last).total_seconds()
        if tries and left > 0:
            raise EntryRefused("pin.wait", field="pin", person=person.name, left_seconds=math.ceil(left))
        from argon2.exceptions import VerifyMismatchError

        try:
            _hasher().verify(kept, pin)
        except VerifyMismatchError:
            self._wrong[person.code] = (tries + 1, self._clock())
            raise EntryRefused("pin.wrong", field="pin", person=person.name) from None
        self._wrong.pop(person.code, None)


def _hasher() -> PasswordHasher:
    """Argon2id with the library's defaults, the second recommended choice of RFC 9106 section 4."""
    from argon2 import PasswordHasher

    return PasswordHasher()
