"""What others recorded about a pack since a person had it on the screen: told, so that neither entry is lost."""

from __future__ import annotations

from fleetcare.domain.wording import Message, msg
from fleetcare.services import telling
from fleetcare.services.session import Author
from fleetcare.store.store import Store


def entries_since(store: Store, pack: str, author: Author) -> tuple[Message, ...]:
    """Entries of other people on `pack` after the position that `author` had seen, oldest first.

    The last line says whether the pack is held: the safer state stands, whoever saved last.  Empty
    when nobody else recorded anything, or the author's position is not known.
    """
    seen = author.seen_position
    if seen is None:
        return ()
    with store.view() as view:
        names = view.person_names()
        found = [
            (event.position, event.by, event.entered_at, telling.event_text(event))
            for event in view.events_of("pack", pack)
        ]
        found += [
            (
                stored.position,
                stored.by,
                stored.entered_at,
                msg(
                    "meanwhile.check",
                    rested_v=stored.check.rested_v,
                    verdict=msg(f"verdict.{stored.verdict.level.value}"),
                ),
            )
            for stored in view.checks_of(pack)
        ]
        theirs = sorted(one for one in found if one[0] > seen and one[1] != author.person.code)
        lines = [
            msg("meanwhile.entry", person=names.get(by, by), at=at, what=what) for _position, by, at, what in theirs
        ]
        if lines and view.open_holds(("pack", pack)):
            lines.append(msg("meanwhile.held", pack=pack))
        return tuple(lines)
