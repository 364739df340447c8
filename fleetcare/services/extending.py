"""A due check put off: the deed, and who put off what."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.extensions import DueExtended, refuse_extension
from fleetcare.domain.packs import Level, Role, SiteRules
from fleetcare.domain.wording import msg
from fleetcare.services import facts
from fleetcare.services.people import has_role, level_of, refuse_unless_allowed
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known_pack
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store

MOST_DAYS = 14
"""No site may set more (proposal of this program)."""


def extend_due(store: Store, clock: Clock, author: Author, pack: str, until: dt.date, reason: str) -> Recorded:
    """Put the due check of a pack off; a manager or somebody who may release may, within the site's rule."""
    now = clock()
    with store.transaction() as tx:
        known_pack(tx, pack)
        if not level_of(tx, author, now).covers(Level.MAY_RELEASE) and not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("extension.allow", field="until", person=author.person.name)
        read = facts.read_facts(tx)
        status = facts.pack_status(read, pack, now)
        today = now.astimezone(read.zone).date()
        latest = read.latest.get(pack)
        day = facts.due_day(read, pack)
        away = pack in read.laid_up or (day is not None and day.why.key == "due.after_lay_up")
        if latest is None or latest.last_valid is None or day is None or away:
            raise NotAllowed("extension.no_check", field="until", pack=pack)
        refuse_extension(status, day.good_through, until, reason, read.site, today, read.doubted.get(pack, ""))
        writer = Writer(tx, author, now)
        body = DueExtended(pack, until, day.due_on, day.good_through, latest.last_valid, now, reason.strip())
        writer.add("due_extended", body, now)
        return writer.recorded(msg("record.extended", pack=pack, until_date=until))


def who_may(store: Store, clock: Clock) -> tuple[str, ...]:
    """Names of those who may put a due check off today, by name."""
    now = clock()
    with store.view() as view:
        day = view.day(now)
        people = view.people().values()
    may = (one.name for one in people if one.level_on(day).covers(Level.MAY_RELEASE) or Role.MANAGER in one.roles)
    return tuple(sorted(may))


def set_rule(store: Store, clock: Clock, author: Author, *, allowed: bool, most_days: int) -> Recorded:
    """Say whether and by how much due checks may be put off here; only a manager may."""
    if not 1 <= most_days <= MOST_DAYS:
        raise EntryRefused("extension.bad_days", field="most_days", typed=most_days)
    with store.transaction() as tx:
        site: SiteRules = tx.thing("site_rules", "SITE") or SiteRules()
        changed = replace(site, extension_allowed=allowed, extension_most_days=most_days)
        refuse_unless_allowed(tx, author, "site_rules", changed)
        writer = Writer(tx, author, clock())
        writer.add_thing("site_rules", changed)
        return writer.recorded(msg("record.extension_rule"))
