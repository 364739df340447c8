"""Fuses: inspection, change, the second blown one, and the coordination page's values."""

from __future__ import annotations

from dataclasses import replace

from fleetcare.domain import fuses, parts
from fleetcare.domain.checks import Hold
from fleetcare.domain.fuses import Coordination, FuseWork
from fleetcare.domain.packs import Pack, PackModel, ServiceNotes
from fleetcare.domain.reset_job import refuse_above_bench
from fleetcare.domain.spare_parts import Part
from fleetcare.domain.wording import msg, word
from fleetcare.services import record, stock
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, known_pack, own_badge, said
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View


def model_of(view: View, code: str) -> tuple[Pack, PackModel, ServiceNotes | None]:
    """A pack in service with its model and what the maker describes for the workshop."""
    pack = known_pack(view, code)
    return pack, view.thing("pack_model", pack.model), view.thing("service_notes", pack.model)


def record_fuse(
    store: Store, clock: Clock, author: Author, work: FuseWork, badge: str = "", part: str = ""
) -> Recorded:
    """Keep a look at a fuse, and its change.  Looking needs the level that may check, fitting that which may
    release, with the own badge.  A wrong fuse is refused with the rule and the number.  Without a vehicle it is the one that the
    pack is recorded in, so that a second blow grounds it.  `part` is the stocked fuse
    that was fitted: it is booked out and its part number kept with the change.
    """
    now = clock()
    with store.transaction() as tx:
        record.may_check(author, now, tx)
        _pack, model, notes = model_of(tx, work.pack)
        if work.vehicle is None:
            placed = tx.placement_of(work.pack)
            work = replace(work, vehicle=placed.vehicle if placed else None)
        if work.vehicle is not None:
            known(tx, "vehicle", work.vehicle)
        record.refuse_future(work.done_at, now)
        if work.fitted is not None:
            record.may_release(author, now, tx)
            refuse_above_bench(model)
            fuses.refuse_wrong(work.fitted, model, notes, work.position)
            own_badge(author, badge, tx)
        stocked: Part | None = None
        if part and work.fitted is not None:
            stocked = known(tx, "part", part)
            parts.refuse_other_fuse(stocked, work.fitted)
            work = replace(work, fitted=replace(work.fitted, part_number=stocked.part_number))
        writer = Writer(tx, author, now)
        work_id = writer.add("fuse", work, work.done_at)
        if stocked is not None:
            stock.take_out(tx, writer, stocked, 1, work_id, pack=work.pack, vehicle=work.vehicle, at=work.done_at,
                           reason=word("parts.for_fuse"))  # fmt: skip
        everything = [replace(e.body, done_at=e.done_at) for e in tx.records_of("fuse", ("pack", work.pack))]  # type: ignore[type-var]
        here = replace(work, done_at=tx.local(work.done_at))
        held = []
        for subject_class, ruling in fuses.blown_ruling(here, everything).items():  # type: ignore[arg-type]
            subject = work.pack if subject_class == "pack" else work.vehicle
            assert subject is not None
            hold = Hold(subject_class, subject, ruling.hold_class, work.done_at, ruling.reason, cause=work_id)
            if hold_by_rule(tx, writer, ruling, hold):
                held.append(said(hold))
        told = msg("record.fuse", pack=work.pack)
        if stocked is not None:
            told = stock.taken_words(tx, told, stocked, 1)
        return writer.recorded(msg("record.fuse_held", told=told, held=tuple(held)) if held else told)


def fuse_rule(store: Store, code: str) -> tuple[PackModel, ServiceNotes | None, str]:
    """What may be fitted to a pack: its model and the maker's notes, and the vehicle that it is recorded in ("" for none).

    EntryRefused for an unknown pack.
    """
    with store.view() as view:
        _pack, model, notes = model_of(view, code)
        placed = view.placement_of(code)
        return model, notes, (placed.vehicle or "") if placed else ""


def coordination_of(store: Store, code: str) -> Coordination:
    """The coordination page of a pack's model; EntryRefused where a figure is missing."""
    model, notes, _vehicle = fuse_rule(store, code)
    return fuses.coordination(model, notes)
