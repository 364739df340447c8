"""What was typed and not saved: kept beside the record, offered back by person and time, never a record."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import asdict, dataclass

from fleetcare.domain.checks import FoundIn
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Level
from fleetcare.domain.records import from_plain, new_id, to_plain
from fleetcare.domain.wording import Message, msg
from fleetcare.services.people import level_of
from fleetcare.services.session import Author, Clock
from fleetcare.store.store import SOON_S, Store
from fleetcare.store.values import Draft

JOB_DRAFT = "guided-reset-"
"""How the ids of drafts of a guided reset begin: they are gone on with, or stopped, where the job is done."""

FORM = 1
"""Version of a draft's body; a body of another version is named and not read."""


@dataclass(frozen=True, slots=True)
class Typed:
    """The bench as typed: every text exactly as it stood in its field, and the conditions of that shift."""

    pack: str
    vehicle: str | None
    kind: str
    rest: str | None
    rested: str
    loaded: str
    amps: str
    remark: str
    looked: tuple[str, ...] | None
    meter: str
    load: str | None
    bench: str | None
    moves: tuple[FoundIn, ...] = ()
    seen: int | None = None


@dataclass(frozen=True, slots=True)
class Offered:
    """One draft to offer.  `typed` is None when its body cannot be read; `own` when the person may go on with it."""

    draft_id: str
    person: str
    subject: str
    station: str
    saved_at: dt.datetime
    typed: Typed | None
    own: bool
    line: Message
    job: bool = False
    """A guided reset left half-way, not something typed at the bench."""


def fresh_id() -> str:
    """The id of a new draft."""
    return new_id()


def body_of(typed: Typed) -> str:
    """`typed` as the text that is kept."""
    plain = asdict(typed) | {"moves": [to_plain(move) for move in typed.moves], "form": FORM}
    return json.dumps(plain, ensure_ascii=False)


def typed_of(body: str) -> Typed | None:
    """The typed bench in a kept text, or None when another version made it or it holds none."""
    try:
        plain = json.loads(body)
        if plain.pop("form") != FORM:
            return None
        looked = plain.pop("looked")
        moves = tuple(from_plain(FoundIn, one) for one in plain.pop("moves"))
        return Typed(**plain, looked=None if looked is None else tuple(looked), moves=moves)
    except (ValueError, KeyError, TypeError, AttributeError):
        return None


def keep(store: Store, person: str, station: str, draft_id: str, at: dt.datetime, typed: Typed) -> None:
    """Put what is typed on the disk, over what the same draft held before.  Refused soon where the file is held."""
    with store.transaction(SOON_S) as tx:
        tx.save_draft(draft_id, person, station, typed.pack, at, body_of(typed))


def forget(store: Store, draft_id: str) -> None:
    """The person's own decision to throw away what is being typed."""
    with store.transaction() as tx:
        tx.delete_draft(draft_id)


def offered(store: Store, person: str, tz: dt.tzinfo | None, leave_out: str = "") -> tuple[Offered, ...]:
    """Drafts to offer to `person`: their own first, then what others left, newest first."""
    with store.view() as view:
        kept = [draft for draft in view.drafts() if draft.draft_id != leave_out]
        names = view.person_names()
    lines = [_offered(draft, person, names, tz) for draft in reversed(kept)]
    return tuple(sorted(lines, key=lambda one: not one.own))


def _offered(draft: Draft, person: str, names: dict[str, str], tz: dt.tzinfo | None) -> Offered:
    typed = typed_of(draft.body)
    own = draft.person == person
    at = draft.saved_at.astimezone(tz)
    values = {"subject": draft.subject, "person": names.get(draft.person, draft.person), "at": at}
    job = draft.draft_id.startswith(JOB_DRAFT)
    if job:
        line = msg("draft.job", **values)
    elif typed is None and own:
        line = msg("draft.unreadable", subject=draft.subject)
    elif own and typed is not None:
        line = msg("draft.line", typed=_figures(typed), **values)
    else:
        line = msg("draft.other", **values)
    return Offered(draft.draft_id, draft.person, draft.subject, draft.station, at, typed, own, line, job)


def _figures(typed: Typed) -> tuple[Message, ...]:
    parts = [
        msg(f"draft.{name}", value=value)
        for name, value in (("rested", typed.rested), ("loaded", typed.loaded), ("remark", typed.remark))
        if value.strip()
    ]
    if typed.looked is not None:
        parts.insert(0, msg("draft.looked"))
    return tuple(parts) or (msg("draft.nothing"),)


def discard(store: Store, clock: Clock, author: Author, draft_id: str) -> None:
    """Throw a draft away: its own person may, and whoever may release."""
    with store.transaction() as tx:
        kept = next((draft for draft in tx.drafts() if draft.draft_id == draft_id), None)
        if kept is None:
            raise EntryRefused("draft.gone")
        if draft_id.startswith(JOB_DRAFT):
            raise NotAllowed("draft.job_stays", subject=kept.subject)
        may = level_of(tx, author, clock()).covers(Level.MAY_RELEASE)
        if kept.person != author.person.code and not may:
            name = tx.person_names().get(kept.person, kept.person)
            raise NotAllowed("draft.not_yours", person=name)
        tx.delete_draft(draft_id)
