"""Paper sheets: numbers issued and known, and back-entry of what was written on them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from decimal import Decimal
from zoneinfo import ZoneInfo

from fleetcare.domain.checks import CheckKind, LookItem, LookOver, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.labels import is_code, normalise, verify_check
from fleetcare.domain.packs import Level, Person, TestLoad
from fleetcare.domain.paper_sheets import Figure, SheetLine, SheetsIssued, fresh_numbers
from fleetcare.domain.verdicts import Verdict
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services import facts
from fleetcare.services.identify import PairingKind, pair_in, refuse_misfit
from fleetcare.services.record import FUTURE_GRACE, bench_of, may_check, write_check, write_look_over
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View
from fleetcare.store.values import StoredEvent

NEWEST_SHEETS = 60
"""Sheets shown in the list, newest first."""


@dataclass(frozen=True, slots=True)
class SheetEntry:
    """One line of a sheet as somebody types it in later.

    A figure that cannot be read is named in `unreadable` and its value is None; `as_written` then
    says what can be made out.  `look_found` None means that the inspection was not ticked at all.
    `queried` is the reason why a number in question is entered all the same.
    """

    sheet: str
    line: int
    pack: str
    done_by: str
    done_at: dt.datetime | None
    meter: str = ""
    rest: RestBand | None = None
    rested_v: Decimal | None = None
    loaded_v: Decimal | None = None
    load_a: Decimal | None = None
    test_load: str | None = None
    kind: CheckKind = CheckKind.RESTED_FULL
    vehicle: str | None = None
    look_found: tuple[LookItem, ...] | None = None
    unreadable: tuple[Figure, ...] = ()
    as_written: str = ""
    remark: str = ""
    queried: str = ""
    bench_c: Decimal | None = None


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One sheet: when it was issued (None: never here) and what was entered from it."""

    number: str
    issued_at: dt.datetime | None
    lines: tuple[int, ...]
    packs: tuple[str, ...]


def issue(store: Store, clock: Clock, count: int, author: Author | None, station: str) -> tuple[str, ...]:
    """Issue `count` fresh sheet numbers and record them; anybody may print blank sheets."""
    now = clock()
    with store.transaction() as tx:
        numbers = fresh_numbers(count, now, frozenset(tx.sheet_numbers(f"S{now:%y%m%d%H%M}-")))
        body = SheetsIssued(numbers)
        if author is None:
            tx.append(
                "sheets_issued", body, done_at=now, entered_at=now, by="", level="", station=station, source="program"
            )
        else:
            Writer(tx, author, now).add("sheets_issued", body, now)
    return numbers


def sheet_number(text: str) -> str:
    """The number of a sheet as typed or scanned, without its verified check character; EntryRefused otherwise."""
    typed = text.strip().upper()
    if not typed:
        raise EntryRefused("sheet.needs_number", field="sheet")
    if "*" in typed and not verify_check(typed):
        raise EntryRefused("sheet.wrong_check", field="sheet", typed=typed)
    number = normalise(typed)
    if not is_code(number) or not number.startswith("S"):
        raise EntryRefused("sheet.bad_number", field="sheet", typed=typed)
    return number


def known_sheet(store: Store, text: str) -> str | None:
    """The number when `text` is that of a sheet known here, or None; for a scan that may be anything."""
    code = normalise(text)
    if not is_code(code) or not code.startswith("S"):
        return None
    with store.view() as view:
        return code if view.events_of("sheet", code, 1) else None


def sheet_rows(store: Store) -> tuple[SheetRow, ...]:
    """The newest sheets, newest first."""
    with store.view() as view:
        rows = []
        for number in reversed(view.sheet_numbers()[-NEWEST_SHEETS:]):
            events = view.events_of("sheet", number)
            issued = next((e.done_at for e in events if isinstance(e.body, SheetsIssued)), None)
            lines = sorted((e.body for e in events if isinstance(e.body, SheetLine)), key=lambda one: one.line)
            rows.append(SheetRow(number, issued, tuple(one.line for one in lines), tuple(one.pack for one in lines)))
        return tuple(rows)


def next_line(store: Store, sheet: str) -> int:
    """The first line of a sheet that was not entered yet; 1 when all were."""
    with store.view() as view:
        entered = {e.body.line for e in view.events_of("sheet", sheet) if isinstance(e.body, SheetLine)}
    return next((line for line in range(1, 4) if line not in entered), 1)


def person_named(store: Store, typed: str) -> Person:
    """Whose initials, name, badge or code `typed` is; raises EntryRefused when nobody or several fit."""
    text = typed.strip()
    if not text:
        raise EntryRefused("sheet.needs_person", field="done_by")
    code = normalise(text)
    with store.view() as view:
        people: list[Person] = sorted(view.things("person").values(), key=lambda one: one.name)
    for person in people:
        if code in (person.code, normalise(person.badge)):
            return person
    fitting = [one for one in people if one.name.lower().startswith(text.lower()) or _initials(one) == text.upper()]
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        raise EntryRefused(
            "sheet.person_several", field="done_by", typed=text, names=", ".join(p.name for p in fitting)
        )
    raise EntryRefused("sheet.person_unknown", field="done_by", typed=text, names=", ".join(p.name for p in people))


def _initials(person: Person) -> str:
    return "".join(part[0] for part in person.name.split()).upper()


def enter_line(store: Store, clock: Clock, author: Author, entry: SheetEntry) -> Recorded:
    """Store one line of a sheet: the check with the time it was done, or that it cannot be read.

    A figure that cannot be read is recorded as such; without rested volts or time there is no check.
    A number already used, or never issued, is asked about and needs a reason.
    """
    now = clock()
    source = f"paper:{entry.sheet}:{entry.line}:{entry.done_by}"
    with store.transaction() as tx:
        may_check(author, now, tx)
        writer = Writer(tx, replace(author, source=source), now)
        _refuse(tx, entry, now)
        vehicle, elsewhere = _vehicle(tx, entry)
        remark = "; ".join(part for part in (entry.remark.strip(), elsewhere) if part)
        at = entry.done_at or now
        look_over = None if entry.look_found is None else LookOver(entry.pack, at, vehicle, entry.look_found, remark)
        line = SheetLine(
            entry.sheet, entry.line, entry.pack, entry.done_by, at, entry.vehicle, entry.unreadable, entry.as_written,
            None, entry.queried.strip(), remark,
        )  # fmt: skip
        if Figure.RESTED in entry.unreadable or Figure.DONE_AT in entry.unreadable:
            verdict = None
            if look_over is not None:
                verdict, _ = write_look_over(tx, writer, look_over)
            writer.add("sheet_line", line, at)
            return writer.recorded(_unreadable(entry), verdict=verdict)
        verdict, message = _write_check(tx, writer, entry, vehicle, look_over, remark, line, now)
        return writer.recorded(msg("sheet.saved", sheet=entry.sheet, line=entry.line, message=message), verdict=verdict)


def _write_check(
    tx: Transaction,
    writer: Writer,
    entry: SheetEntry,
    vehicle: str | None,
    look_over: LookOver | None,
    remark: str,
    line: SheetLine,
    now: dt.datetime,
) -> tuple[Verdict, Message]:
    assert entry.done_at is not None and entry.rested_v is not None
    if entry.rest is None:
        raise EntryRefused("sheet.needs_rest", field="rest")
    if look_over is None:
        raise EntryRefused("sheet.needs_look", field="look")
    load: TestLoad | None = tx.thing("test_load", entry.test_load) if entry.test_load else None
    loaded = entry.loaded_v is not None
    check = VoltageCheck(
        pack=entry.pack, kind=entry.kind, rest=entry.rest, rested_v=entry.rested_v, done_at=entry.done_at,
        meter=entry.meter, vehicle=vehicle, loaded_v=entry.loaded_v, load_a=entry.load_a if loaded else None,
        hold_s=load.hold_s if load and loaded else None, bench_c=entry.bench_c, test_load=load.code if load and loaded else None,
        remark=remark,
    )  # fmt: skip
    verdict, message = write_check(tx, writer, bench_of(tx, check, now), check, look_over)
    writer.add("sheet_line", replace(line, check=writer.check_id), line.done_at)
    return verdict, message


def _unreadable(entry: SheetEntry) -> Message:
    what = tuple(msg(f"figure.{figure.value}") for figure in entry.unreadable)
    return msg("sheet.unreadable_saved", sheet=entry.sheet, line=entry.line, pack=entry.pack, what=what)


# what is refused or asked about


def _refuse(tx: Transaction, entry: SheetEntry, now: dt.datetime) -> None:
    if tx.thing("pack", entry.pack) is None:
        raise EntryRefused("entry.unknown_pack", field="pack", code=entry.pack)
    person: Person | None = tx.thing("person", entry.done_by)
    if person is None:
        raise EntryRefused("entry.unknown_person", field="done_by", code=entry.done_by)
    if entry.done_at is None and Figure.DONE_AT not in entry.unreadable:
        raise EntryRefused("sheet.needs_time", field="done_at")
    if entry.done_at is not None:
        if entry.done_at > now + FUTURE_GRACE:
            raise EntryRefused("entry.future", field="done_at", done_at=entry.done_at, now_at=now)
        day = entry.done_at.date()
        if not person.level_on(day).covers(Level.MAY_CHECK):
            raise NotAllowed("sheet.was_not_allowed", field="done_by", person=person.name, on_date=day)
    readable = Figure.RESTED not in entry.unreadable and Figure.DONE_AT not in entry.unreadable
    if readable and not entry.meter:
        raise EntryRefused("sheet.needs_meter", field="meter")
    _query(tx, entry)


def _query(tx: View, entry: SheetEntry) -> None:
    """Ask about a number that was used for this line, or was never issued."""
    events = tx.events_of("sheet", entry.sheet)
    issued = next((event.done_at for event in events if isinstance(event.body, SheetsIssued)), None)
    if issued is not None and entry.done_at is not None and entry.done_at < issued.replace(second=0, microsecond=0):
        raise EntryRefused("sheet.before_issue", field="done_at", issued_at=issued, done_at=entry.done_at)
    if entry.queried.strip():
        return
    used = next((e for e in events if isinstance(e.body, SheetLine) and e.body.line == entry.line), None)
    if used is not None:
        raise _used(tx, used)
    if issued is None:
        near = [one for one in tx.sheet_numbers(entry.sheet[:7]) if _one_other(one, entry.sheet)][:4]
        key = "sheet.unknown_near" if near else "sheet.unknown"
        raise EntryRefused(key, field="queried", sheet=entry.sheet, near=", ".join(near))


def _one_other(known: str, typed: str) -> bool:
    """One character other, or two neighbours swapped."""
    if len(known) != len(typed):
        return False
    unlike = [i for i, (a, b) in enumerate(zip(known, typed, strict=True)) if a != b]
    return len(unlike) == 1 or (len(unlike) == 2 and sorted(known) == sorted(typed))


def _used(tx: View, used: StoredEvent) -> EntryRefused:
    line = used.body
    assert isinstance(line, SheetLine)
    stored = None if line.check is None else tx.check(line.check)
    if stored is not None:
        what = msg("sheet.used_reading", rested_v=stored.check.rested_v)
    else:
        what = msg("sheet.used_unreadable" if line.unreadable else "sheet.used_nothing")
    person = tx.person_names().get(used.by, used.by)
    return EntryRefused(
        "sheet.used", field="queried", sheet=line.sheet, line=line.line, person=person, entered_at=used.entered_at,
        pack=line.pack, what=what,
    )  # fmt: skip


def _vehicle(tx: Transaction, entry: SheetEntry) -> tuple[str | None, str]:
    """The vehicle to store the check against, and a note where the sheet says another than is recorded now.

    Paper tells where a pack was, not where it is: nothing is moved by it.
    """
    if entry.vehicle is None:
        return None, ""
    vehicle = tx.thing("vehicle", entry.vehicle)
    if vehicle is None:
        raise EntryRefused("entry.unknown_vehicle", field="vehicle", code=entry.vehicle)
    pack = tx.thing("pack", entry.pack)
    placed = tx.placement_of(entry.pack)
    refuse_misfit(vehicle, pack, tx.thing("pack_model", pack.model), placed.vehicle if placed else None)
    if pair_in(tx, entry.vehicle, entry.pack).kind is PairingKind.AS_RECORDED:
        return entry.vehicle, ""
    return None, say(msg("sheet.elsewhere", vehicle=entry.vehicle, pack=entry.pack))


def zone_of(store: Store) -> ZoneInfo:
    """The depot's time zone, in which the times on a sheet are meant."""
    with store.view() as view:
        return facts.zone_of(view)
