"""A display board or connector replaced: what was fitted, booked out of the stock, read before and after."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain import parts, replacing
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import PackModel, ServiceNotes, Vehicle
from fleetcare.domain.replacing import PartReplaced, Replaced
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services import record, stock
from fleetcare.services.life_words import replaced_text
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known, known_pack, own_badge, said
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View


@dataclass(frozen=True, slots=True)
class ReplacedLine:
    """One replacement in the list."""

    done_at: dt.datetime
    person: str
    work: PartReplaced
    text: Message


def record_replacement(
    store: Store, clock: Clock, author: Author, work: PartReplaced, badge: str, seal_part: str = ""
) -> Recorded:
    """Keep a replacement, book its parts out of the stock, and hold what it touched until the next check.

    Needs the level that may release and the own badge.  `seal_part` is the seal from the stock, when one was used.
    """
    now = clock()
    with store.transaction() as tx:
        record.may_release(author, now, tx)
        record.refuse_future(work.done_at, now)
        model, notes = _subjects(tx, work)
        replacing.refuse_wrong(work, model, notes)
        _meter(tx, work.meter)
        taken = _parts(tx, work, model)
        if seal_part:
            seal: Part = known(tx, "part", seal_part)
            _refuse_kind(seal, PartKind.SEAL)
            taken.append((seal, 1))
        own_badge(author, badge, tx)
        writer = Writer(tx, author, now)
        work_id = writer.add("part_replaced", work, work.done_at)
        for part, pieces in taken:
            reason = msg("parts.for_replacement", what=msg(f"replaced.{work.what.value}"))
            stock.take_out(tx, writer, part, pieces, work_id, pack=work.pack, vehicle=work.vehicle, at=work.done_at,
                           reason=say(reason))  # fmt: skip
        held = []
        for subject_class, ruling in replacing.rulings(work).items():
            hold = Hold(subject_class, getattr(work, subject_class), ruling.hold_class, work.done_at, ruling.reason,
                        cause=work_id)  # fmt: skip
            if hold_by_rule(tx, writer, ruling, hold):
                held.append(said(hold))
        return writer.recorded(msg("replace.done", what=msg(f"replaced.{work.what.value}"), held=tuple(held)))


def _subjects(tx: Transaction, work: PartReplaced) -> tuple[PackModel | None, ServiceNotes | None]:
    model: PackModel | None = None
    notes: ServiceNotes | None = None
    if work.pack is not None:
        pack = known_pack(tx, work.pack)
        if any(h.hold_class is HoldClass.DANGER for h in tx.open_holds(("pack", work.pack))):
            raise NotAllowed("replace.danger", field="pack", pack=work.pack)
        model, notes = tx.thing("pack_model", pack.model), tx.thing("service_notes", pack.model)
    if work.vehicle is not None:
        vehicle: Vehicle = known(tx, "vehicle", work.vehicle)
        if model is not None and model.connector != vehicle.connector:
            raise EntryRefused(
                "pair.wrong_connector", field="vehicle", pack=work.pack, pack_connector=model.connector,
                vehicle=vehicle.code, vehicle_connector=vehicle.connector, where=msg("pair.recorded_nowhere"),
            )  # fmt: skip
    return model, notes


def _meter(tx: Transaction, code: str) -> None:
    meter = known(tx, "meter", code)
    if meter.refused_from is not None:
        raise EntryRefused("entry.meter_refused", field="meter", code=code, since_date=meter.refused_from)


def _refuse_kind(part: Part, kind: PartKind) -> None:
    if part.kind is not kind:
        raise EntryRefused(
            "parts.other_kind", field="part", part=part.code, name=part.name, kind=msg(f"part_kind.{kind.value}")
        )


def _parts(tx: Transaction, work: PartReplaced, model: PackModel | None) -> list[tuple[Part, int]]:
    """The parts that were fitted, of the right kind and fitting; a connector needs both halves."""
    found: list[tuple[Part, int]] = []
    vehicle: Vehicle | None = tx.thing("vehicle", work.vehicle) if work.vehicle else None
    named = () if model is None else (model.code, model.connector)
    fitted_to = () if vehicle is None else (vehicle.code, vehicle.connector)
    codes = tuple(filter(None, (*named, *fitted_to)))
    needed = PartKind.CONNECTOR if work.what is Replaced.CONNECTOR else PartKind.DISPLAY_BOARD
    for fitted in work.parts:
        part: Part = known(tx, "part", fitted.part)
        _refuse_kind(part, needed)
        if not parts.fits(part, *codes):
            raise EntryRefused(
                "parts.does_not_fit", field="part", part=part.code, name=part.name, fits=part.fits, asked=codes
            )
        found.append((part, fitted.pieces))
    if work.what is Replaced.CONNECTOR:
        halves = {part.half for part, _ in found}
        if "" not in halves and not {"pack", "vehicle"} <= halves:
            raise EntryRefused("replace.needs_both_parts", field="part")
    return found


def replacements(view: View) -> tuple[ReplacedLine, ...]:
    """Every replacement, newest first."""
    names = view.person_names()
    events = view.records_of("part_replaced")
    return tuple(
        ReplacedLine(e.done_at, names.get(e.by, e.by), e.body, replaced_text(e.body))  # type: ignore[arg-type]
        for e in reversed(events)
    )
