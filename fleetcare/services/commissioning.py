"""Take a new pack into the fleet: everything on the list, one baseline check, one transaction."""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass, replace

from fleetcare.domain.checks import Hold, HoldClass, LookOver, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.identity import Commissioned, media_of
from fleetcare.domain.intake import misfit
from fleetcare.domain.labels import is_code
from fleetcare.domain.packs import Charger, Level, Pack, PackModel
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import msg
from fleetcare.services.labelling import packs_with_serial
from fleetcare.services.people import may
from fleetcare.services.record import bench_of, write_check
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.warranty import purchase_of
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction

LARGEST_PHOTO = 8_000_000
"""Bytes a picture may have, so that one file for the fleet stays easy to copy (proposal of this program)."""


@dataclass(frozen=True, slots=True)
class NewPack:
    """The papers of a new pack.  `photos` are the bytes of JPEG or PNG files; purchase date, months and price as typed.

    Either photos or `no_photo_reason`; the warranty may be none, but then the clause says so.
    """

    code: str
    model: str
    serial: str
    marks: tuple[str, ...]
    invoice: str
    warranty_end: dt.date | None
    warranty_clause: str
    charger: str
    photos: tuple[bytes, ...] = ()
    no_photo_reason: str = ""
    shelf: str = ""
    bought_on: str = ""
    warranty_months: str = ""
    price: str = ""
    date_code: str = ""


def commission(
    store: Store, clock: Clock, author: Author, new: NewPack, baseline: VoltageCheck, look_over: LookOver
) -> Recorded:
    """Record a new pack with its papers and its first rested and loaded check.

    Needs the level that may check.  EntryRefused names the first thing that is missing, a code or
    serial that another pack has, and a charger that does not belong to the model.  Without a pass the
    pack is on record but held, and cannot be fitted until it passes and is released.
    """
    now = clock()
    _complete(new)
    bought = purchase_of(now.date(), bought_on=new.bought_on, months=new.warranty_months, price=new.price)
    if baseline.loaded_v is None:
        raise EntryRefused("commission.needs_loaded", field="loaded_v")
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_CHECK)
        _unused(tx, new)
        model: PackModel | None = tx.thing("pack_model", new.model)
        if model is None:
            raise EntryRefused("commission.needs_model", field="model")
        _belongs(tx, new.charger, model)
        writer = Writer(tx, author, now)
        pack = Pack(
            new.code,
            new.model,
            new.serial.strip(),
            now.date(),
            shelf=new.shelf.strip(),
            date_code=new.date_code.strip(),
        )
        writer.add_thing("pack", replace(pack, **bought))
        digests = tuple(keep_photo(tx, content) for content in new.photos)
        bench = bench_of(tx, baseline, now)
        verdict, _ = write_check(tx, writer, bench, baseline, look_over)
        check_id = next(c.record_id for c in tx.checks_of(new.code, 1))
        writer.add(
            "commissioned",
            Commissioned(
                new.code, now, tuple(m.strip() for m in new.marks if m.strip()), new.invoice.strip(),
                new.warranty_end, new.warranty_clause.strip(), new.charger, digests, new.no_photo_reason.strip(),
                check_id,
            ),
            now,
        )  # fmt: skip
        passed = verdict.valid and verdict.level in (VerdictLevel.PASS, VerdictLevel.WATCH)
        if not passed:
            reason = msg("commission.not_passed", verdict=msg(f"verdict.{verdict.level.value}"))
            writer.add("hold", Hold("pack", new.code, HoldClass.ACTION_DUE, now, reason, cause=check_id), now)
        recalled = next((h.reason for h in tx.open_holds(("pack", new.code)) if by_recall(h.reason)), None)
        if recalled is not None:
            return writer.recorded(msg("commission.recalled", pack=new.code, reason=recalled), verdict=verdict)
        key = "commission.done" if passed else "commission.held"
        return writer.recorded(msg(key, pack=new.code, verdict=msg(f"verdict.{verdict.level.value}")), verdict=verdict)


def _complete(new: NewPack) -> None:
    """Everything on the list is there; else EntryRefused for the first thing that is not."""
    for refused in lacking(new):
        raise refused


def lacking(new: NewPack) -> tuple[EntryRefused, ...]:
    """All that is missing on the list, in the order of the form."""
    found = []
    if not is_code(new.code) or new.code != new.code.upper() or "*" in new.code or "/" in new.code:
        found.append(EntryRefused("commission.needs_code", field="code"))
    for field in ("model", "serial", "invoice", "warranty_clause", "charger"):
        if not str(getattr(new, field)).strip():
            found.append(EntryRefused(f"commission.needs_{field}", field=field))
    if not any(mark.strip() for mark in new.marks):
        found.append(EntryRefused("commission.needs_marks", field="marks"))
    if not new.photos and not new.no_photo_reason.strip():
        found.append(EntryRefused("commission.needs_photo", field="photo"))
    return tuple(found)


def _unused(tx: Transaction, new: NewPack) -> None:
    if tx.thing("pack", new.code) is not None:
        raise EntryRefused("commission.code_taken", field="code", pack=new.code)
    owners = packs_with_serial(tx, new.serial)
    if owners:
        raise EntryRefused("serial.clash", field="serial", serial=new.serial.strip(), pack=owners[0].code)


def _belongs(tx: Transaction, code: str, model: PackModel) -> None:
    """Pairing needs equal charge-end voltage, chemistry and connector, and no more amps than the maker allows."""
    charger: Charger | None = tx.thing("charger", code)
    if charger is None:
        raise EntryRefused("commission.unknown_charger", field="charger", code=code)
    if charger.rated_v != model.full_v:
        raise EntryRefused(
            "commission.charger_volts", field="charger", charger=code, rated_v=charger.rated_v, model=model.name,
            full_v=model.full_v,
        )  # fmt: skip
    if charger.chemistry is not model.chemistry or charger.connector != model.connector:
        raise EntryRefused(
            "commission.charger_kind", field="charger", charger=code, model=model.name,
            charger_kind=f"{charger.chemistry.value}, {charger.connector}",
            model_kind=f"{model.chemistry.value}, {model.connector}",
        )  # fmt: skip
    wrong = misfit(charger, model)
    if wrong is not None:
        raise EntryRefused(wrong.key, field="charger", **dict(wrong.values))


def keep_photo(tx: Transaction, content: bytes) -> str:
    """Keep a JPEG or PNG picture in the file by its SHA-256 and return that; EntryRefused for anything else."""
    media = media_of(content)
    if media is None:
        raise EntryRefused("commission.photo_kind", field="photo")
    if len(content) > LARGEST_PHOTO:
        raise EntryRefused("commission.photo_size", field="photo", megabytes=len(content) // 1_000_000 + 1, most=8)
    digest = hashlib.sha256(content).hexdigest()
    tx.keep_photo(digest, media, content)
    return digest
