"""What a person can do wrong, said in one plain sentence.

A `FleetcareError` is shown beside the field or on stderr, and nothing is written.  Every other
exception is a fault of this program: it goes to the log and the crash dialog, once.
"""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.domain.wording import Message, msg, say


class FleetcareError(Exception):
    """A refusal for a person: the rule, the number, and what to do instead.

    `field` names the entry field the sentence belongs beside ("rested_v"), or "" for none.
    """

    def __init__(self, key: str, *, field: str = "", **values: object) -> None:
        self.message: Message = msg(key, **values)
        self.field = field
        super().__init__(say(self.message))


class EntryRefused(FleetcareError):
    """A typed or scanned value that cannot be taken as it stands; the text is kept.

    `others` are further ones of the same form, each for its own field.
    """

    others: tuple[EntryRefused, ...] = ()


def refuse_together(found: Sequence[EntryRefused]) -> None:
    """Raises the first of `found`, which then names the others; nothing where there are none."""
    if found:
        found[0].others = tuple(found[1:])
        raise found[0]


class NotAllowed(FleetcareError):
    """The person's level or role on that day does not suffice for the deed."""


class FileRefused(FleetcareError):
    """A file that cannot be opened, read or written: foreign, newer, damaged, read-only."""
