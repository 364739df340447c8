"""What a depot says of its own: the set of rules it follows, and its additions to the written procedures."""

from __future__ import annotations

from dataclasses import dataclass, replace

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Depot, Role
from fleetcare.domain.procedures import RuleSet, SiteText, Work, site_code
from fleetcare.domain.wording import msg
from fleetcare.services.in_force import Procedure, Statement, as_dated, newest, site_text, statements_of
from fleetcare.services.people import has_role
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View

MOST_LETTERS = 4000
"""The longest text a depot may add, in letters: about a page of a sheet (proposal of this program)."""


@dataclass(frozen=True, slots=True)
class DepotPage:
    """What is in force at one depot for one kind of work."""

    depot: Depot
    rules: RuleSet
    statements: tuple[Statement, ...]
    procedure: Procedure
    own: SiteText | None


def depots(store: Store) -> tuple[Depot, ...]:
    """Every depot, by code."""
    with store.view() as view:
        return tuple(one for _, one in sorted(view.things("depot").items()))


def depot_page(store: Store, code: str, work: Work) -> DepotPage:
    """What is in force at a depot; EntryRefused for one that is not on record."""
    with store.view() as view:
        depot = _known(view, code)
        rules = RuleSet(depot.rules)
        procedure = as_dated(view, newest(work))
        return DepotPage(depot, rules, statements_of(rules), procedure, site_text(view, depot.code, work))


def record_rules(
    store: Store, clock: Clock, author: Author, code: str, rules: RuleSet, text: str, seen: Depot | None = None
) -> Recorded:
    """Record which rules a depot follows, and its own text beside them; managers only."""
    now = clock()
    with store.transaction() as tx:
        _refuse_unless_manager(tx, author)
        depot = _known(tx, code)
        _refuse_if_moved(seen, depot)
        changed = replace(depot, rules=rules.value, rules_text=_fitting(text))
        if changed == depot:
            raise EntryRefused("procedure.nothing_new", field="text")
        writer = Writer(tx, author, now)
        writer.add_thing("depot", changed)
        return writer.recorded(msg("procedure.rules_recorded", depot=code))


def record_site_text(
    store: Store, clock: Clock, author: Author, code: str, work: Work, text: str, seen: SiteText | None = None
) -> Recorded:
    """Record what a depot adds to a procedure, as its next version; an empty text takes it back.  Managers only."""
    now = clock()
    with store.transaction() as tx:
        _refuse_unless_manager(tx, author)
        depot = _known(tx, code)
        before = site_text(tx, depot.code, work)
        _refuse_if_moved(seen, before)
        tidy = _fitting(text)
        if tidy == ("" if before is None else before.text):
            raise EntryRefused("procedure.nothing_new", field="text")
        version = 1 if before is None else before.version + 1
        writer = Writer(tx, author, now)
        writer.add_thing("site_text", SiteText(site_code(depot.code, work), depot.code, work.value, version, tidy))
        what = msg(f"procedure.work_{work.value}")
        return writer.recorded(msg("procedure.text_recorded", depot=code, work=what, version=version))


def _known(view: View, code: str) -> Depot:
    depot: Depot | None = view.thing("depot", code.strip().upper())
    if depot is None:
        raise EntryRefused("procedure.unknown_depot", field="depot", code=code.strip())
    return depot


def _refuse_if_moved(seen: object, stands: object) -> None:
    if seen is not None and seen != stands:
        raise EntryRefused("procedure.moved", field="text")


def _refuse_unless_manager(tx: Transaction, author: Author) -> None:
    if not has_role(tx, author, Role.MANAGER):
        raise NotAllowed("procedure.manager_only", person=author.person.name)


def _fitting(text: str) -> str:
    tidy = text.strip()
    if len(tidy) > MOST_LETTERS:
        raise EntryRefused("procedure.too_long", field="text", have=len(tidy), most=MOST_LETTERS)
    return tidy
