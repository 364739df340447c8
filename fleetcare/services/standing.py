"""What every deed about a fault asks first: the thing is on record, and the badge is the author's own."""

from __future__ import annotations

from typing import Any

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.labels import normalise
from fleetcare.domain.packs import Pack, PackStanding
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg
from fleetcare.services.people import is_pin
from fleetcare.services.session import Author
from fleetcare.services.writing import Writer
from fleetcare.store.store import Transaction, View


def known(view: View, thing_class: str, code: str) -> Any:
    """The thing called `code`; EntryRefused beside the field of its class where there is none."""
    thing = view.thing(thing_class, code)
    if thing is None:
        raise EntryRefused(f"entry.unknown_{thing_class}", field=thing_class, code=code or "—")
    return thing


def known_pack(view: View, code: str) -> Pack:
    """The pack called `code`, in service; EntryRefused for one that is unknown, retired or written off."""
    pack: Pack = known(view, "pack", code)
    if pack.standing is not PackStanding.IN_SERVICE:
        raise EntryRefused(f"entry.{pack.standing.value}", field="pack", pack=code)
    return pack


def own_badge(author: Author, badge: str, view: View | None = None) -> None:
    """Raises NotAllowed unless `badge` is the author's own badge or, with `view`, the author's PIN.

    Asked where a deed can put somebody in danger: reset, release, fuse change, write-off.  Who has
    neither badge nor PIN cannot show who they are and sets a PIN first.
    """
    person = author.person
    pin = None if view is None else view.pin_hash(person.code)
    if not person.badge and pin is None:
        raise NotAllowed("allow.no_proof", field="badge", person=person.name)
    if person.badge and normalise(badge) == normalise(person.badge):
        return
    if pin is not None and is_pin(pin, badge.strip()):
        return
    raise NotAllowed("allow.badge", field="badge", person=person.name)


def hold_by_rule(tx: Transaction, writer: Writer, ruling: Ruling, hold: Hold) -> bool:
    """Append `hold` unless the same reason already stands, or a danger does; True when it was appended.

    A recall's hold says nothing about what was found on the thing itself and takes no other hold's place.
    """
    standing = [h for h in tx.open_holds((hold.subject_class, hold.subject)) if not by_recall(h.reason)]
    if any(h.hold_class is HoldClass.DANGER for h in standing):
        return False
    if any(h.hold_class is ruling.hold_class and h.reason.key == ruling.reason.key for h in standing):
        return False
    writer.add("hold", hold, hold.done_at)
    return True


def held_key(hold: Hold) -> str:
    """The sentence of a hold: vehicles are grounded, packs in danger quarantined, all else is held."""
    if hold.subject_class == "vehicle":
        return "record.grounded"
    danger = hold.subject_class == "pack" and hold.hold_class is HoldClass.DANGER and not by_recall(hold.reason)
    return "record.quarantined" if danger else "record.held"


def said(hold: Hold) -> Message:
    """The sentence about a hold just set."""
    return msg(held_key(hold), subject=hold.subject, reason=hold.reason)
