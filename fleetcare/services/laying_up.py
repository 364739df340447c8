"""Lay-up: packs put away in a group, their looks, and their way back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from fleetcare.domain import laying_up as rule
from fleetcare.domain import limits, quarantine
from fleetcare.domain.checks import CheckKind, FoundIn, HoldClass, LookOver, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.judging import SILENT_PER_GROUP_V
from fleetcare.domain.laying_up import Band, LaidUp, LayUpEnded, Standing
from fleetcare.domain.packs import Pack, SiteRules
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.wording import Message, msg
from fleetcare.services import conditions, record
from fleetcare.services import facts as read
from fleetcare.services.edges import note_storage
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known, known_pack
from fleetcare.services.storage import Stored, stored_pack
from fleetcare.services.writing import Writer
from fleetcare.store import plan_reads
from fleetcare.store.store import Store, Transaction, View


@dataclass(frozen=True, slots=True)
class LaidUpLine:
    """One laid-up pack as list and sheet show it; `standing` is where its last storage reading lies."""

    pack: Pack
    model_name: str
    group: str
    shelf: str
    since: dt.datetime
    band: Band
    rested_v: Decimal | None
    read_on: dt.date | None
    standing: Standing | None
    next_look: dt.date
    why: Message
    held: Message | None
    stored: Stored | None


def band_for(store: Store, pack: str) -> tuple[Band, str]:
    """The storage band of a pack and the name of its model, for the form; EntryRefused for an unknown code."""
    with store.view() as view:
        found = known_pack(view, pack)
        model = view.thing("pack_model", found.model)
        return rule.band_of(model, record.site_rules(view)), model.name


def lay_up(
    store: Store, clock: Clock, author: Author, group: str, packs: Sequence[str], *, shelf: str = "", remark: str = ""
) -> Recorded:
    """Put packs away in a group; all or none.  Their weekly checks are suspended, their own looks begin.

    Refused for a pack that is held (it goes the way of its hold), that is laid up already, or that sits in a vehicle
    and is not fixed there (it is noted on a shelf first, with `shelf`).
    """
    now = clock()
    name = group.strip().upper()
    if not name:
        raise EntryRefused("layup.needs_group", field="group")
    if not packs:
        raise EntryRefused("layup.needs_packs", field="packs")
    with store.transaction() as tx:
        record.may_check(author, now, tx)
        site = record.site_rules(tx)
        away, _ = conditions.standing_lay_ups(tx)
        writer = Writer(tx, author, now)
        for code in dict.fromkeys(packs):
            _put_away(tx, writer, known_pack(tx, code), name, shelf.strip(), remark, site, away)
        return writer.recorded(msg("layup.saved", count=len(set(packs)), group=name, look_days=site.lay_up_look_days))


def _put_away(
    tx: Transaction, writer: Writer, pack: Pack, group: str, shelf: str, remark: str, site: SiteRules,
    away: dict[str, LaidUp],
) -> None:  # fmt: skip
    if pack.code in away:
        raise EntryRefused("layup.already", field="packs", pack=pack.code, group=away[pack.code].group)
    held = tx.open_holds(("pack", pack.code))
    if held:
        raise EntryRefused("layup.held", field="packs", pack=pack.code, reason=held[0].reason)
    model = tx.thing("pack_model", pack.model)
    placed = tx.placement_of(pack.code)
    if placed is not None and placed.vehicle is not None and not model.fixed:
        if not shelf:
            raise EntryRefused("layup.in_vehicle", field="shelf", pack=pack.code, vehicle=placed.vehicle)
        writer.move(FoundIn(pack.code, None, writer.now, shelf=shelf))
    elif shelf and not model.fixed and (placed is None or placed.shelf != shelf):
        writer.move(FoundIn(pack.code, None, writer.now, shelf=shelf))
    band = rule.band_of(model, site)
    where = shelf or (placed.shelf if placed else pack.shelf)
    body = LaidUp(
        pack.code, group, writer.now, where, band.low_v, band.high_v, band.source, site.lay_up_look_days, remark
    )
    writer.add("laid_up", body, writer.now)


def record_storage_look(
    store: Store, clock: Clock, author: Author, check: VoltageCheck, look_over: LookOver | None = None
) -> Recorded:
    """Keep a look at a laid-up pack: a reading of the kind "stored", judged for deep discharge as everywhere.

    Low holds the pack, deep-discharged quarantines it, by the same rules as at the bench.  What a series of readings
    says of its self-discharge is read into the plan.
    """
    if check.kind is not CheckKind.STORED:
        raise EntryRefused("layup.not_stored", field="kind", pack=check.pack)
    with store.view() as view:
        if check.pack not in conditions.standing_lay_ups(view)[0]:
            raise EntryRefused("layup.not_laid_up", field="pack", pack=check.pack)
    done = record.record_check(store, clock, author, check, look_over)
    noted = note_storage(store, clock, author, check.pack)
    return done if noted is None else noted_after(done, noted)


def noted_after(done: Recorded, noted: Recorded) -> Recorded:
    """The result of a deed that was followed by a note of what it means: one change for the screens."""
    return replace(
        done, position=noted.position, record_ids=(*done.record_ids, *noted.record_ids),
        changed_packs=done.changed_packs | noted.changed_packs,
        changed_vehicles=done.changed_vehicles | noted.changed_vehicles,
    )  # fmt: skip


def take_out(store: Store, clock: Clock, author: Author, packs: Sequence[str], remark: str = "") -> Recorded:
    """Take packs out of lay-up; none of them goes out before a full check that passes."""
    now = clock()
    if not packs:
        raise EntryRefused("layup.needs_packs", field="packs")
    with store.transaction() as tx:
        record.may_check(author, now, tx)
        away, _ = conditions.standing_lay_ups(tx)
        writer = Writer(tx, author, now)
        for code in dict.fromkeys(packs):
            known(tx, "pack", code)
            if code not in away:
                raise EntryRefused("layup.not_laid_up", field="pack", pack=code)
            writer.add("lay_up_ended", LayUpEnded(code, away[code].group, now, remark), now)
        told = msg("layup.out", count=len(set(packs)))
        held = tuple(code for code in dict.fromkeys(packs) if tx.open_holds(("pack", code)))
        return writer.recorded(msg("layup.out_held", told=told, these=held) if held else told)


def laid_up_lines(
    store: Store, clock: Clock, group: str = "", *, position: int | None = None
) -> tuple[LaidUpLine, ...]:
    """Every laid-up pack, of one group when given: what wants a hand first, then by the day of its next look."""
    now = clock()
    with store.view(position) as view:
        facts = read.read_facts(view)
        away, _ = conditions.standing_lay_ups(view)
        lines = [
            _line(view, facts, one, now, at_position=position is not None)
            for one in away.values()
            if not group or one.group == group.strip().upper()
        ]
    return tuple(sorted(lines, key=_by_need))


_NEED = (Standing.DEEP, Standing.SILENT, Standing.LOW, Standing.BELOW, Standing.ABOVE)


def _by_need(line: LaidUpLine) -> tuple[object, ...]:
    need = _NEED.index(line.standing) if line.standing in _NEED else len(_NEED)
    leaking = line.stored is not None and line.stored.leaks
    return need, not leaking, line.next_look, line.group, line.pack.code


def _line(view: View, facts: read.FleetFacts, one: LaidUp, now: dt.datetime, *, at_position: bool) -> LaidUpLine:
    pack = facts.packs[one.pack]
    model = facts.models[pack.model]
    readings = plan_reads.stored_readings(view, one.pack, one.done_at)
    volts = readings[-1][1] if readings else None
    band = Band(one.low_v, one.high_v, one.band_source)
    found = limits.resolve(model, facts.site)
    silent_v = SILENT_PER_GROUP_V * model.series_count
    rest = facts.laid_up[one.pack]
    holds = facts.pack_holds.get(one.pack, ())
    next_look, why = rest.look_on, rest.why
    dangers = [h.since for h in holds if h.hold_class is HoldClass.DANGER and not by_recall(h.text)]
    if dangers:
        looks = {view.day(e.done_at) for e in view.records_of("quarantine_look", ("pack", one.pack))}
        next_look, why = quarantine.next_look(view.day(min(dangers)), looks, view.day(now))
    return LaidUpLine(
        pack=pack,
        model_name=model.name,
        group=one.group,
        shelf=facts.shelf_of(one.pack) or one.shelf,
        since=one.done_at,
        band=band,
        rested_v=volts,
        read_on=readings[-1][0].astimezone(facts.zone).date() if readings else None,
        standing=None if volts is None else rule.standing_of(volts, band, found, silent_below_v=silent_v),
        next_look=next_look,
        why=why,
        held=holds[0].text if holds else None,
        stored=stored_pack(view, facts, one.pack, now, at_position=at_position) if readings else None,
    )
