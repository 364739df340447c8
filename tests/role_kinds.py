"""What a line of the table of who may do what is made of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Any

from fleetcare.domain.packs import Level, Person, Role
from fleetcare.services.session import Author
from tests.kestrel import Kestrel


class Who(Enum):
    """Who may, in the words of the manual."""

    ANYONE = "anyone"
    MAY_CHECK = "may check"
    MAY_RELEASE = "may reset and release"
    MANAGER = "manager"
    CHECK_OR_MANAGER = "may check, or manager"
    RELEASE_OR_MANAGER = "may reset and release, or manager"
    RELEASE_OR_DESK = "may reset and release, or dispatcher, or manager"

    def allows(self, person: Person) -> bool:
        """True when this person may, by role and level alone."""
        check, release = (person.level.covers(level) for level in (Level.MAY_CHECK, Level.MAY_RELEASE))
        manager = Role.MANAGER in person.roles
        return {
            Who.ANYONE: True,
            Who.MAY_CHECK: check,
            Who.MAY_RELEASE: release,
            Who.MANAGER: manager,
            Who.CHECK_OR_MANAGER: check or manager,
            Who.RELEASE_OR_MANAGER: release or manager,
            Who.RELEASE_OR_DESK: release or manager or Role.DISPATCHER in person.roles,
        }[self]


EVERYBODY = tuple(
    Person(f"{role.value[:3]}-{level.value}".upper(), f"{role.value} {level.value}", (role,), level,
           badge=f"B-{10 * r + n:03d}")
    for r, role in enumerate(Role, start=1) for n, level in enumerate(Level)
)  # fmt: skip
"""One person of every role and level."""

Ready = Any
"""Whatever the preparation found out and the deed needs: an identifier, a shown import."""

BADGE = "with the own badge"


@dataclass(frozen=True)
class Deed:
    """One line of the table."""

    function: str
    words: str
    who: Who
    do: Callable[[Kestrel, Author, Ready], object]
    prepare: Callable[[Kestrel, Path], Ready] = lambda _kestrel, _folder: None
    note: str = ""
    keeps_record: bool = True


def both(made: Kestrel) -> tuple[Any, Any]:
    """The store and the clock, which every deed takes first."""
    return made.store, made.clock


COMMAND_LINE_ONLY = {
    "change the standing, purchase or pairing rule of one on record", "add or change a pack model",
    "change what the maker describes for the workshop", "change the site's settings", "import a table of checks",
    "import measured cell histories", "import a description of the fleet",
}  # fmt: skip
"""Deeds without a place in the window; how each is asked for stands in `tests/role_paths.py`."""

SET_UP = "in the window as a set-up, below"
"""Noted where a fleet description does at the command line what the page Fleet set-up does as a deed of its own."""

BY_ITSELF = {
    "record a visual inspection that finds nothing": "with the check, at the bench",
    "record a trip": "with the report that tells of it",
    "note whether a stored pack loses more than is usual": "with the look at it, by itself",
}
"""Deeds that are never asked for on their own."""
