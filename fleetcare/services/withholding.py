"""A leaver's name on paper: initials instead, as a recorded choice that every print honours.

Names stand outside the records (decision 2), so the record is the same before and after.
"""

from __future__ import annotations

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.identity import NameWithheld, initials
from fleetcare.domain.packs import Level, Role
from fleetcare.domain.wording import msg
from fleetcare.services.people import has_role, person_on_record
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store


def withhold_name(
    store: Store, clock: Clock, author: Author, person: str, reason: str, *, withheld: bool = True
) -> Recorded:
    """Print a leaver as initials from now on, or (`withheld` False) as a name again; managers only.

    EntryRefused without a reason, for somebody who still has a level or a role, and where it is so already;
    NotAllowed for the own name.
    """
    now = clock()
    with store.transaction() as tx:
        if not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("people.manager_only", person=author.person.name)
        known = person_on_record(tx, person)
        if person == author.person.code:
            raise NotAllowed("people.withhold_own", field="person")
        if withheld and (known.roles or known.level_on(now.date()) is not Level.NONE):
            raise EntryRefused("people.withhold_active", field="person", person=known.name)
        if (person in tx.withheld()) is withheld:
            key = "people.withheld_already" if withheld else "people.shown_already"
            raise EntryRefused(key, field="person", code=person)
        if not reason.strip():
            raise EntryRefused("people.withhold_reason", field="reason")
        writer = Writer(tx, author, now)
        writer.add("name_withheld", NameWithheld(person, withheld, reason.strip()), now)
        key = "people.withheld" if withheld else "people.shown_again"
        return writer.recorded(msg(key, code=person, initials=initials(known.name)))
