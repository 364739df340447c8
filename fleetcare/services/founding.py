"""Found a fleet: its first person, one depot, and the default settings."""

from __future__ import annotations

from pathlib import Path

from fleetcare.domain.packs import Depot, Level, Person, Role, SiteRules
from fleetcare.services.record import put_things
from fleetcare.services.session import Author, Clock
from fleetcare.store.store import Store


def found(path: Path, fleet_name: str, person_name: str, clock: Clock, zone: str = "") -> str:
    """A new fleet file at `path`; the first person may check and release and holds every role.

    `zone` is the IANA name of the first depot's time zone ("": as for any depot).

    Returns the person's code.  Raises FileRefused when something stands at `path`.
    """
    code = "".join(c for c in person_name.upper() if c.isascii() and c.isalnum())[:12] or "FIRST"
    person = Person(code, person_name, tuple(Role), Level.MAY_RELEASE)
    depot = Depot("D1", fleet_name, zone) if zone else Depot("D1", fleet_name)
    store = Store.create(path, fleet_name=fleet_name, now=clock())
    try:
        put_things(
            store, clock, Author(person, "set-up"),
            ("person", person), ("depot", depot), ("site_rules", SiteRules(name=fleet_name)),
        )  # fmt: skip
    finally:
        store.close()
    return code
