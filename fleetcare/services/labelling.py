"""Deeds about identity: a label lost, a label twice, and a pack that nobody can name."""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.identity import LabelIssued, TwinFound
from fleetcare.domain.labels import label_text
from fleetcare.domain.packs import Level, Pack, PackStanding
from fleetcare.domain.vans import is_list_number
from fleetcare.domain.wording import Message, msg
from fleetcare.services.identify import label_issue, one_slip
from fleetcare.services.people import may
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View

UNKNOWN_PREFIX = "U"
"""Codes of packs that came without a name: U-001, U-002 …"""


@dataclass(frozen=True, slots=True)
class Label:
    """The label that stands for a pack: its issue, and the text that goes on it with check character."""

    pack: Pack
    model_name: str
    issue: int
    text: str
    where: Message


def tidy_serial(serial: str) -> str:
    """A serial as it is compared: capitals, without spaces; hyphens and strokes count."""
    return "".join(serial.upper().split())


def packs_with_serial(view: View, serial: str) -> list[Pack]:
    """Packs on record with this serial (one, unless the record itself has a clash)."""
    wanted = tidy_serial(serial)
    return [pack for pack in view.things("pack").values() if pack.serial and tidy_serial(pack.serial) == wanted]


def find_by_serial(store: Store, serial: str) -> Label:
    """The pack whose case carries `serial`; EntryRefused names serials one slip away, and assumes none."""
    wanted = tidy_serial(serial)
    if not wanted:
        raise EntryRefused("serial.empty", field="serial")
    with store.view() as view:
        found = packs_with_serial(view, serial)
        if len(found) == 1:
            return _label(view, found[0])
        if found:
            raise EntryRefused(
                "serial.several", field="serial", serial=serial.strip(), packs=tuple(sorted(p.code for p in found))
            )
        near = tuple(
            f"{pack.serial} ({pack.code})"
            for pack in sorted(view.things("pack").values(), key=lambda one: one.code)
            if pack.serial and one_slip(wanted, tidy_serial(pack.serial))
        )[:4]
    if near:
        raise EntryRefused("serial.unknown_near", field="serial", serial=serial.strip(), near=near)
    raise EntryRefused("serial.unknown", field="serial", serial=serial.strip())


def label_of(store: Store, code: str) -> Label:
    """The label that stands for a pack; EntryRefused for a code that is not on record."""
    with store.view() as view:
        return _label(view, _known(view, code))


def _label(view: View, pack: Pack) -> Label:
    newest = label_issue(view, pack.code)
    issue = 1 if newest is None else newest.issue
    placed = view.placement_of(pack.code)
    if placed is not None and placed.vehicle is not None:
        where = msg("identity.in_vehicle", vehicle=placed.vehicle)
    elif placed is not None and placed.shelf:
        key = "identity.on_van" if is_list_number(placed.shelf) else "identity.on_shelf"
        where = msg(key, shelf=placed.shelf)
    elif placed is None and pack.shelf:
        where = msg("identity.on_shelf", shelf=pack.shelf)
    else:
        where = msg("identity.nowhere")
    model = view.thing("pack_model", pack.model)
    return Label(pack, model.name, issue, label_text(pack.code, issue), where)


def _known(view: View, code: str, field: str = "pack") -> Pack:
    pack: Pack | None = view.thing("pack", code)
    if pack is None:
        raise EntryRefused("entry.unknown_pack", field=field, code=code)
    return pack


def reissue_label(
    store: Store, clock: Clock, author: Author, pack: str, reason: str, serial_seen: str = ""
) -> Recorded:
    """Make the next label of a pack; all earlier issues are void.  Identity and history stay the same.

    Needs the level that may check, and a reason.  A serial that was read must be the pack's own.
    """
    now = clock()
    if not reason.strip():
        raise EntryRefused("label.needs_reason", field="reason")
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_CHECK)
        known = _known(tx, pack)
        if known.standing is PackStanding.WRITTEN_OFF:
            raise NotAllowed("label.written_off", field="pack", pack=pack)
        if serial_seen.strip() and known.serial and tidy_serial(serial_seen) != tidy_serial(known.serial):
            raise EntryRefused(
                "label.other_serial", field="serial", pack=pack, serial=serial_seen.strip(), recorded=known.serial
            )
        newest = label_issue(tx, pack)
        issue = 2 if newest is None else newest.issue + 1
        writer = Writer(tx, author, now)
        writer.add("label_issued", LabelIssued(pack, issue, now, reason.strip(), serial_seen.strip()), now)
        return writer.recorded(msg("label.made", pack=pack, issue=issue, void=issue - 1))


def report_twin(
    store: Store, clock: Clock, author: Author, pack: str, serial_read: str, looks_like: str, remark: str = ""
) -> Recorded:
    """Two packs claim the label of `pack`: hold both.  Anyone may report it.

    The second one is the pack on record with `serial_read`, or else a new item of unknown history
    that `looks_like` a pack model; it inherits nothing.  An unreadable serial is left empty.
    """
    now = clock()
    with store.transaction() as tx:
        known = _known(tx, pack)
        if serial_read.strip() and known.serial and tidy_serial(serial_read) == tidy_serial(known.serial):
            raise EntryRefused("twin.same_serial", field="serial", pack=pack, serial=known.serial)
        writer = Writer(tx, author, now)
        owners = packs_with_serial(tx, serial_read) if serial_read.strip() else []
        other = owners[0].code if owners else _new_unknown(tx, writer, serial_read, looks_like, remark)
        writer.add("twin_found", TwinFound(pack, other, serial_read.strip(), now, remark.strip()), now)
        for code, twin in ((pack, other), (other, pack)):
            reason = msg("identity.twin", label=pack, twin=twin)
            writer.add("hold", Hold("pack", code, HoldClass.UNKNOWN, now, reason, remark.strip()), now)
        return writer.recorded(msg("twin.held", label=pack, other=other))


def take_in_unknown(
    store: Store, clock: Clock, author: Author, looks_like: str, serial_read: str = "", remark: str = ""
) -> Recorded:
    """A pack with no label and no serial on record becomes a new item with unknown history, held.

    Anyone may take it in.  It inherits nothing: no check, no place, no warranty.  A serial that is on
    record is refused, since then the pack has a name.
    """
    now = clock()
    with store.transaction() as tx:
        if serial_read.strip():
            owners = packs_with_serial(tx, serial_read)
            if owners:
                raise EntryRefused("serial.clash", field="serial", serial=serial_read.strip(), pack=owners[0].code)
        writer = Writer(tx, author, now)
        code = _new_unknown(tx, writer, serial_read, looks_like, remark)
        return writer.recorded(msg("identity.taken_in", pack=code))


def _new_unknown(tx: Transaction, writer: Writer, serial: str, looks_like: str, remark: str) -> str:
    if tx.thing("pack_model", looks_like) is None:
        raise EntryRefused("identity.needs_model", field="model")
    taken = set(tx.codes("pack"))
    number = next(n for n in range(1, len(taken) + 2) if f"{UNKNOWN_PREFIX}-{n:03d}" not in taken)
    code = f"{UNKNOWN_PREFIX}-{number:03d}"
    writer.add_thing("pack", Pack(code, looks_like, serial.strip(), note=remark.strip()))
    reason = msg("identity.history_unknown")
    at = writer.now
    writer.add("hold", Hold("pack", code, HoldClass.UNKNOWN, at, reason, remark.strip()), at)
    return code
