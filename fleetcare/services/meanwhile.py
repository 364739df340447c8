"""What others recorded about a pack while somebody was at work on it: both entries stay."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain.wording import Message, msg
from fleetcare.services import telling
from fleetcare.services.session import Author
from fleetcare.store.store import View

MOST_TOLD = 5
"""At most so many entries are told one by one; the history has them all."""


def meanwhile(view: View, author: Author, pack: str, up_to: int) -> tuple[Message, ...]:
    """What was entered about `pack` by others after the position the author had seen, oldest first.

    `up_to` is the newest position before the author's own entries.  Each line says who, when and
    what; a last one says that a hold stands and a reading does not end it.
    """
    if author.seen_position is None or author.seen_position >= up_to:
        return ()
    names = view.person_names()
    found: list[tuple[int, Message]] = []
    for event in view.events_of("pack", pack, MOST_TOLD * 4):
        if author.seen_position < event.position <= up_to and event.by != author.person.code:
            found.append((event.position, _line(names, event.by, event.entered_at, telling.event_text(event))))
    for stored in view.checks_of(pack, MOST_TOLD * 4):
        if author.seen_position < stored.position <= up_to and stored.by != author.person.code:
            what = msg(
                "meanwhile.check", rested_v=stored.check.rested_v, verdict=msg(f"verdict.{stored.verdict.level.value}")
            )
            found.append((stored.position, _line(names, stored.by, stored.entered_at, what)))
    lines = tuple(line for _, line in sorted(found, key=lambda one: one[0])[:MOST_TOLD])
    held = bool(view.open_holds(("pack", pack)))
    return (*lines, msg("meanwhile.safer", pack=pack)) if lines and held else lines


def _line(names: dict[str, str], by: str, at: dt.datetime, what: Message) -> Message:
    return msg("meanwhile.line", person=names.get(by, by), entered_at=at, what=what)
