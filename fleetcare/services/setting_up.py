"""The fleet put on record and changed, thing by thing: lists, forms, what a change changes, and its history.

A change is a new record with the whole new value; only a manager records one.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain import intake
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.inspection_plans import SUBJECT_OF, Kind
from fleetcare.domain.packs import (
    Charger,
    Depot,
    Meter,
    Pack,
    PackModel,
    Role,
    ServiceNotes,
    SiteRules,
    TestLoad,
    Thing,
    Vehicle,
)
from fleetcare.domain.records import ThingPut
from fleetcare.domain.setup import rules
from fleetcare.domain.setup.changes import Change, changes
from fleetcare.domain.setup.forms import FORMS, empty
from fleetcare.domain.setup.hints import Hint, hints
from fleetcare.domain.setup.reading import Typed, notes_of, thing_of, typed_of
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services.identify import refuse_misfit
from fleetcare.services.people import has_role, refuse_stale
from fleetcare.services.plan_settings import plan_settings
from fleetcare.services.record import site_rules
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store import proving
from fleetcare.store.store import Store, View

KINDS = tuple(FORMS)
"""Classes of things that have a set-up form."""

_LABELLED = ("pack", "vehicle", "charger", "meter", "test_load")
"""Classes whose codes are scanned; a code means one thing only."""


@dataclass(frozen=True, slots=True)
class Row:
    """One thing of a list: its code and what it is."""

    code: str
    told: Message
    thing: Thing


@dataclass(frozen=True, slots=True)
class Version:
    """One record of a thing; `changes` is empty for the first."""

    position: int
    entered_at: dt.datetime
    person_name: str
    changes: tuple[Change, ...]
    first: bool


@dataclass(frozen=True, slots=True)
class FormPage:
    """A thing's form as it stands on record, and every record of it, newest first."""

    typed: dict[str, str]
    versions: tuple[Version, ...]
    position: int


@dataclass(frozen=True, slots=True)
class Prepared:
    """What saving would record: the things, what changes (none for a new thing), and what it means elsewhere."""

    things: tuple[tuple[str, Thing], ...]
    new: bool
    changes: tuple[Change, ...]
    notices: tuple[Message, ...]


@dataclass(frozen=True, slots=True)
class Offers:
    """What the choices of the forms offer: depots, and pack models whole."""

    depots: tuple[tuple[str, str], ...]
    models: tuple[PackModel, ...]


# reading


def rows(store: Store, kind: str) -> tuple[Row, ...]:
    """All things of a kind, by code.  A contractor's meter stands on the page Competence."""
    with store.view() as view:
        things: dict[str, Thing] = view.things(kind)
        return tuple(
            Row(code, _told(thing), thing)
            for code, thing in sorted(things.items())
            if not (isinstance(thing, Meter) and thing.owner)
        )


def offers(store: Store) -> Offers:
    """What there is to choose from."""
    with store.view() as view:
        depots = tuple((code, f"{code} · {one.name}") for code, one in sorted(view.things("depot").items()))
        return Offers(depots, tuple(one for _, one in sorted(view.things("pack_model").items())))


def beginning(store: Store, kind: str) -> dict[str, str]:
    """What the form of a new thing begins with; where there is one depot only, a vehicle stands there."""
    with store.view() as view:
        depots = view.codes("depot")
    return empty(kind) | ({"depot": depots[0]} if kind == "vehicle" and len(depots) == 1 else {})


def form_page(store: Store, kind: str, code: str) -> FormPage:
    """The form of a thing on record and its history; EntryRefused for a code that is not on record."""
    with store.view() as view:
        thing = _known(view, kind, code)
        notes = view.thing("service_notes", code) if kind == "pack_model" else None
        return FormPage(typed_of(kind, thing, notes), _versions(view, kind, code), view.position)


def form_hints(store: Store, kind: str, typed: Typed) -> dict[str, Hint]:
    """The lines below the fields of a form as it is typed."""
    with store.view() as view:
        return hints(kind, typed, site_rules(view))


def inspections_of(store: Store, model: str) -> Message:
    """What is inspected how often of packs of a model ("": of one that is not on record yet)."""
    plans = [
        f"{say(msg(f'plan_kind.{one.plan.kind}'))} {say(one.told)}"
        for one in plan_settings(store).plans
        if SUBJECT_OF[Kind(one.plan.kind)] == "pack" and one.plan.active and one.plan.model in ("", model)
    ]
    return msg("setup.inspections", told="; ".join(plans))


def preview(store: Store, clock: Clock, kind: str, typed: Typed, code: str = "") -> Prepared:
    """What saving this form would record in the place of `code` ("" for a new thing); EntryRefused beside its field."""
    with store.view() as view:
        return _prepared(view, clock().date(), kind, typed, code)


def _told(thing: Thing) -> Message:
    match thing:
        case Depot():
            return msg("setup.row_depot", name=thing.name, zone=thing.time_zone)
        case PackModel():
            return msg("setup.row_pack_model", name=thing.name, chemistry=thing.chemistry.value, groups=thing.series_count,
                       full_v=thing.full_v, capacity_ah=thing.capacity_ah, connector=thing.connector)  # fmt: skip
        case Vehicle():
            return msg("setup.row_vehicle", kind=msg(f"vehicle_kind.{thing.kind.value}"), depot=thing.depot,
                       volts=thing.voltage_class_v, connector=thing.connector)  # fmt: skip
        case Charger():
            return msg("setup.row_charger", name=thing.name, rated_v=thing.rated_v,
                       tolerance_percent=thing.tolerance_percent, connector=thing.connector)  # fmt: skip
        case Meter():
            return msg("setup.row_meter", name=thing.name, percent=thing.accuracy_percent, digits=thing.accuracy_digits)
        case TestLoad():
            return msg("setup.row_test_load", name=thing.name, load_a=thing.load_a, hold_seconds=thing.hold_s)
        case SiteRules():
            return msg("setup.row_site_rules", name=thing.name)
    raise TypeError(type(thing).__name__)


def _known(view: View, kind: str, code: str) -> Thing:
    thing: Thing | None = view.thing(kind, code)
    if thing is None:
        raise EntryRefused("setup.unknown", field="code", code=code, what=msg(f"class.{kind}"))
    return thing


def _versions(view: View, kind: str, code: str) -> tuple[Version, ...]:
    """Every record of a thing, newest first; the service notes of a pack model are part of its form."""
    classes = (kind, "service_notes") if kind == "pack_model" else (kind,)
    found = sorted(
        ((position, record) for one in classes for position, record in proving.touching(view, one, code)),
        key=lambda pair: pair[0],
    )
    names = view.person_names()
    before: dict[str, str] | None = None
    thing: Thing | None = None
    notes: ServiceNotes | None = None
    versions = []
    for position, record in found:
        if not isinstance(record.body, ThingPut):
            continue
        if isinstance(record.body.thing, ServiceNotes):
            notes = record.body.thing
        else:
            thing = record.body.thing
        if thing is None:
            continue
        after = typed_of(kind, thing, notes)
        told = () if before is None else changes(kind, before, after)
        name = names.get(record.by, record.by)
        if before is None or told:
            versions.append(Version(position, view.local(record.entered_at), name, told, before is None))
        before = after
    return tuple(reversed(versions))


# recording


def record_thing(
    store: Store, clock: Clock, author: Author, kind: str, typed: Typed, code: str = ""
) -> Recorded:  # fmt: skip
    """Record what a form describes: a new thing, or one in the place of what `code` was.

    Only a manager may.  EntryRefused beside the field that cannot be taken, where nothing would change, and where
    somebody else changed the thing since the author had looked.
    """
    now = clock()
    with store.transaction() as tx:
        refuse_unless_manager(tx, author)
        ready = _prepared(tx, now.date(), kind, typed, code)
        if not ready.new and not ready.changes:
            raise EntryRefused("setup.nothing_new", code=code)
        writer = Writer(tx, author, now)
        for thing_class, thing in ready.things:
            refuse_stale(tx, author, thing_class, thing.code)
            if tx.thing(thing_class, thing.code) != thing:
                writer.add_thing(thing_class, thing)
        told = ready.things[0][1].code
        key = "setup.recorded_new" if ready.new else "setup.recorded_change"
        return writer.recorded(msg(key, what=msg(f"class.{kind}"), code=told, count=len(ready.changes)))


def refuse_unless_manager(view: View, author: Author) -> None:
    """Raises NotAllowed unless the author is a manager: what belongs to the fleet is theirs to say."""
    if not has_role(view, author, Role.MANAGER):
        raise NotAllowed("setup.manager_only", person=author.person.name)


def _prepared(view: View, today: dt.date, kind: str, typed: Typed, code: str) -> Prepared:
    before = _known(view, kind, code) if code else None
    thing = thing_of(kind, {**typed, "code": code} if code else typed, before)
    notes = None
    if isinstance(thing, PackModel):
        kept: ServiceNotes | None = view.thing("service_notes", thing.code)
        notes = notes_of({**typed, "code": thing.code}, kept)
        rules.refuse_model(thing, notes)
    refuse_thing(view, thing, today)
    if before is None:
        refuse_taken(view, kind, thing.code)
    after = typed_of(kind, thing, notes)
    old = empty(kind) if before is None else typed_of(kind, before, view.thing("service_notes", code))
    things: list[tuple[str, Thing]] = [(kind, thing)]
    if notes is not None and notes != (view.thing("service_notes", thing.code) or ServiceNotes(thing.code)):
        things.append(("service_notes", notes))
    told = () if before is None else changes(kind, old, after)
    return Prepared(tuple(things), before is None, told, () if before is None else _elsewhere(view, before, thing))


def refuse_thing(view: View, thing: Thing, today: dt.date) -> None:
    """Raises EntryRefused for a thing that breaks a rule, by itself or with what else is on record."""
    match thing:
        case Vehicle():
            rules.refuse_vehicle(thing, view.codes("depot"))
            for code, bay in view.packs_in(thing.code):
                pack: Pack = view.thing("pack", code)
                refuse_misfit(thing, pack, view.thing("pack_model", pack.model), thing.code)
                if bay > thing.bays:
                    raise EntryRefused("setup.bay_used", field="bays", pack=code, bay=bay)
        case Charger():
            rules.refuse_charger(thing, view.things("pack_model"))
        case Meter():
            rules.refuse_meter(thing)
        case TestLoad():
            rules.refuse_load(thing, today)
        case SiteRules():
            rules.refuse_site(thing)
        case Depot():
            rules.refuse_depot(thing, view.codes("depot"))


def refuse_taken(view: View, kind: str, code: str) -> None:
    """Raises EntryRefused for a code that means something already: of the same kind, or another label's."""
    classes = _LABELLED if kind in _LABELLED else (kind,)
    for one in classes:
        if view.thing(one, code) is not None:
            raise EntryRefused("setup.code_taken", field="code", code=code, what=msg(f"class.{one}"))


def _elsewhere(view: View, before: Thing, thing: Thing) -> tuple[Message, ...]:
    """What a change of this thing means for others."""
    if not isinstance(thing, PackModel) or not isinstance(before, PackModel):
        return ()
    found = []
    packs = [one.code for one in view.things("pack").values() if one.model == thing.code]
    if packs:
        found.append(msg("setup.packs_of", n_packs=len(packs), model=thing.code))
    chargers: dict[str, Charger] = view.things("charger")
    for one in chargers.values():
        wrong = intake.misfit(one, thing)
        if wrong is not None and intake.misfit(one, before) is None:
            found.append(msg("setup.charger_lost", why=wrong))
    return tuple(found)
