"""Parked rows of old spreadsheets: say which pack they belong to, or that they belong to none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.oldrows import alike_codes, meant
from fleetcare.domain.records import ParkedSettled, Record, SheetImport, new_id
from fleetcare.domain.wording import msg
from fleetcare.services.importing import _hold_newest, _ImportBench
from fleetcare.services.incidents import refuse_while_open
from fleetcare.services.oldrow import Refused, classify
from fleetcare.services.oldsheets import CHUNK, record_of
from fleetcare.services.record import may_check
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.table_files import Progress, Pulse, never
from fleetcare.services.writing import Writer
from fleetcare.store.imported import StoredImport, imports, parked, parked_codes, source
from fleetcare.store.store import Store


def imports_so_far(store: Store) -> list[StoredImport]:
    """All imports, newest first, each with the name of whoever brought it in."""
    with store.view() as view:
        names = view.person_names()
        return [replace(one, by=names.get(one.by, one.by)) for one in imports(view)]


def parked_rows(store: Store) -> list[tuple[str, int]]:
    """Packs as they were written, with the number of rows parked under each."""
    with store.view() as view:
        return parked_codes(view)


def written_alike(store: Store, written: str) -> tuple[str, ...]:
    """Packs on record that differ from `written` in spaces, punctuation or the size of letters only."""
    with store.view() as view:
        return meant(written, alike_codes(view.codes("pack")))


def settle(
    store: Store,
    clock: Clock,
    author: Author,
    written: str,
    pack: str | None,
    reason: str = "",
    progress: Progress | None = None,
    cancelled: Callable[[], bool] = never,
) -> Recorded:
    """Give all parked rows of `written` to `pack`; None says that they belong to no pack of this fleet.

    They become records of their own import, so that taking that import back strikes them too.  A
    row that the rules refuse for this pack is kept with the reason and feeds nothing.
    """
    now = clock()
    if pack is None and not reason.strip():
        raise EntryRefused("correct.needs_reason", field="reason")
    with store.transaction() as tx:
        may_check(author, now, tx)
        rows = sorted(parked(tx, written), key=lambda one: (one.reading.done_at, one.position))
        if not rows:
            raise EntryRefused("oldsheet.nothing_parked", field="pack", written=written)
        bench = _ImportBench(tx, now)
        if pack is not None and pack not in bench.packs:
            raise EntryRefused("entry.unknown_pack", field="pack", code=pack)
        if pack is not None:
            refuse_while_open(tx, [("pack", pack)], "pack")
        writer = Writer(tx, author, now)
        writer.add("parked_settled", ParkedSettled(written, pack, reason), now)
        if pack is None:
            return writer.recorded(msg("oldsheet.settled_none", rows=len(rows), written=written))
        pulse = Pulse(cancelled, progress)
        records: list[Record] = []
        done = 0
        for row in rows:
            reading = replace(row.reading, pack=pack)
            record = record_of(tx, author, bench, now, reading, row.source, row.batch)
            if record is None:
                try:
                    classify(bench, reading)
                except Refused as refused:
                    kept = replace(reading, why=refused.message)
                record = Record(
                    tx.fleet_id, new_id(), "old_reading", kept.done_at, now, author.person.code,
                    author.person.level_on(now.date()).value, author.station, row.source, kept, None, row.batch,
                )  # fmt: skip
            records.append(record)
            if len(records) == CHUNK:
                done += tx.append_checks(records)
                records = []
                pulse.at(done, len(rows))
                pulse()
        tx.append_checks(records)
        _hold_newest(tx, writer, bench)
        return writer.recorded(msg("oldsheet.settled", rows=len(rows), written=written, pack=pack))


def save_source(store: Store, batch: str, path: Path) -> None:
    """Write an imported file as it was, byte for byte; FileRefused when something stands there."""
    with store.view() as view:
        found = next((one for one in imports(view) if one.record_id == batch), None)
        if found is None:
            raise EntryRefused("oldsheet.no_import", batch=batch)
        parts = list(source(view, found.body.sha256)) if isinstance(found.body, SheetImport) else []
    if not isinstance(found.body, SheetImport):
        raise EntryRefused("oldsheet.no_source")
    if path.exists():
        raise FileRefused("file.exists", path=str(path))
    try:
        path.write_bytes(b"".join(parts))
    except OSError as error:
        raise FileRefused("file.not_writable", path=str(path), why=str(error.strerror or error)) from error
