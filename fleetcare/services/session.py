"""Who is acting, where, at what moment, and what they had seen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from fleetcare.domain.packs import Person

Clock = Callable[[], dt.datetime]

CORRECTED_SOURCE = "typed:clock:"
"""How the source of a record begins that was typed while a corrected clock ran; the person's code follows."""


@dataclass(frozen=True, slots=True)
class Author:
    """The signed-in person at a station.  `source` is "typed", "typed:clock:CODE"
    (while a corrected clock ran), "paper:NUMBER:LINE:PERSON" or "file:NAME:ROW".

    `seen_position` is the record position that the screen had shown when the deed was begun;
    None for a batch.  `draft_id` is what was typed for the deed and kept unsaved; the deed removes it in
    the same transaction.
    """

    person: Person
    station: str
    source: str = "typed"
    seen_position: int | None = None
    draft_id: str = ""
