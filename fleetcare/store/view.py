"""Reading at a record position: what was known there, and nothing later."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from fleetcare.domain.checks import Hold, HoldClass, Trip, VoltageCheck
from fleetcare.domain.fingerprint import EMPTY, Head, append, root_of_edge
from fleetcare.domain.identity import initials
from fleetcare.domain.packs import THING_CLASSES, Person
from fleetcare.domain.proving import MeterFoundOut
from fleetcare.domain.records import (
    CheckCorrected,
    CheckJudged,
    Record,
    decode,
)
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.store.derive import KIND, microseconds
from fleetcare.store.names import Names
from fleetcare.store.values import (
    Draft,
    LatestCheck,
    Placement,
    StoredCheck,
    StoredEvent,
    StoredHold,
    Touched,
)
from fleetcare.store.zones import Zoned

if TYPE_CHECKING:
    from fleetcare.store.store import Store

_HASH = 32


_LEVELS = {level.value: level for level in VerdictLevel}


class Reader(Names, Zoned):
    """A raw DB-API connection within one transaction, read at `asked` (None: newest)."""

    _keep = True

    def __init__(self, store: Store, raw: Any, asked: int | None) -> None:
        self._store = store
        self._raw = raw
        size = raw.execute("SELECT size FROM tree").fetchone()[0]
        self._newest = asked is None or asked >= size
        self._position = size if asked is None else min(asked, size)

    @property
    def position(self) -> int:
        """The record position that is read at."""
        return self._position

    @property
    def fleet_id(self) -> str:
        """The identifier of the fleet."""
        return self._store.fleet_id

    def _span(self) -> str:
        """SQL condition for rows valid at the position."""
        if self._newest:
            return "to_position IS NULL"
        p = self._position
        return f"from_position <= {p} AND (to_position IS NULL OR to_position > {p})"

    def head(self) -> Head:
        """Number of records and head of the tree at the position."""
        if self._newest:
            size, edge = self._raw.execute("SELECT size, edge FROM tree").fetchone()
            parts = [edge[i : i + _HASH] for i in range(0, len(edge), _HASH)]
            return Head(size, root_of_edge(parts).hex())
        return Head(self._position, self._root_at(self._position).hex())

    def _root_at(self, size: int) -> bytes:
        """The head over the first `size` records, from complete subtrees and the last leaves."""
        edge: list[bytes] = []
        whole = size // 256
        for number, (digest,) in enumerate(
            self._raw.execute("SELECT hash FROM subtree WHERE number < ? ORDER BY number", (whole,))
        ):
            append(edge, number, digest)
        leaves: list[bytes] = []
        tail = self._raw.execute(
            "SELECT leaf FROM record WHERE position > ? AND position <= ? ORDER BY position", (whole * 256, size)
        )
        for number, (leaf,) in enumerate(tail):
            append(leaves, number, leaf)
        return root_of_edge([*edge, *leaves]) if size else EMPTY

    # things

    def thing(self, thing_class: str, code: str) -> Any:
        """The thing as it stood at the position, or None."""
        row = self._raw.execute(
            f"SELECT body FROM thing WHERE class = ? AND code = ? AND {self._span()}",
            (thing_class, code),
        ).fetchone()
        return None if row is None else self._store.thing_from(thing_class, row[0], self._raw)

    def things(self, thing_class: str) -> dict[str, Any]:
        """All things of a class at the position, by code."""
        if self._newest:
            return self._store.current_things(thing_class, self._raw, keep=self._keep)
        rows = self._raw.execute(
            f"SELECT code, body FROM thing WHERE class = ? AND {self._span()}", (thing_class,)
        ).fetchall()
        return {code: self._store.thing_from(thing_class, body, self._raw) for code, body in rows}

    def people(self) -> dict[str, Person]:
        """All people at the position, by code, each with the name that is printed."""
        found: dict[str, Person] = self.things("person")
        names = {code: initials(found[code].name) for code in self.withheld() if code in found}
        return found | {code: replace(found[code], name=name) for code, name in names.items()} if names else found

    def codes(self, thing_class: str) -> list[str]:
        """All codes of a class."""
        rows = self._raw.execute(
            f"SELECT code FROM thing WHERE class = ? AND {self._span()}", (thing_class,)
        ).fetchall()
        return [code for (code,) in rows]

    # checks

    _CHECK_COLUMNS = "c.record_id, c.position, c.void_position, c.void_reason, c.corrects, r.bytes"

    def checks_of(self, pack: str, limit: int | None = None) -> list[StoredCheck]:
        """Checks of `pack` known at the position, newest first, corrected ones included."""
        rows = self._raw.execute(
            f"SELECT {self._CHECK_COLUMNS} FROM voltage_check c JOIN record r ON r.position = c.position"
            " WHERE c.pack = ? AND c.position <= ? ORDER BY c.done_us DESC, c.position DESC LIMIT ?",
            (pack, self._position, -1 if limit is None else limit),
        ).fetchall()
        return [self._stored_check(row) for row in rows]

    def check(self, record_id: str) -> StoredCheck | None:
        """One check by its record id, or None."""
        row = self._raw.execute(
            f"SELECT {self._CHECK_COLUMNS} FROM voltage_check c JOIN record r ON r.position = c.position"
            " WHERE c.record_id = ? AND c.position <= ?",
            (record_id, self._position),
        ).fetchone()
        return None if row is None else self._stored_check(row)

    def _stored_check(self, row: tuple[Any, ...]) -> StoredCheck:
        record_id, position, void_position, void_reason, corrects, data = row
        record = decode(data)
        judged = judged_of(record)
        void = void_position is not None and void_position <= self._position
        check, here = judged.check, self.local(judged.check.done_at)
        if here.utcoffset() != check.done_at.utcoffset():
            check = replace(check, done_at=here)
        return StoredCheck(
            record_id, position, check, judged.verdict, judged.meter_state, judged.look_over,
            self.local(record.entered_at), record.by, record.level, record.station, record.source,
            void_position if void else None, void_reason if void else "", corrects, self.doubt_of(check),
        )  # fmt: skip

    # meters found out

    _doubts: tuple[int, list[MeterFoundOut]] | None = None

    def found_out(self) -> list[MeterFoundOut]:
        """Meters found out as known at the position, oldest first."""
        if self._doubts is None or self._doubts[0] != self._position:
            rows = self._raw.execute(
                "SELECT r.bytes FROM subject_event e JOIN record r ON r.position = e.position"
                " WHERE e.subject_class = 'meter' AND r.kind = 'meter_found_out' AND e.position <= ?"
                " ORDER BY e.position",
                (self._position,),
            ).fetchall()
            found = [self._store.decoded(data).body for (data,) in rows]
            self._doubts = self._position, [self._found_out_here(one) for one in found]  # type: ignore[arg-type]
        return self._doubts[1]

    def _found_out_here(self, found: MeterFoundOut) -> MeterFoundOut:
        """A finding with its moments in the depot's zone."""
        good_at = None if found.last_good_at is None else self.local(found.last_good_at)
        return replace(found, done_at=self.local(found.done_at), last_good_at=good_at)

    def doubt_of(self, check: VoltageCheck) -> MeterFoundOut | None:
        """The finding that puts `check` in doubt, or None."""
        return next((found for found in self.found_out() if found.covers(check)), None)

    def doubted_packs(self, latest: dict[str, LatestCheck]) -> dict[str, str]:
        """Of the packs in `latest`, those whose last valid check is in doubt, with the meter it was read by."""
        doubted: dict[str, str] = {}
        for found in self.found_out():
            for pack, newest in latest.items():
                at = newest.last_valid
                if at is None or at > found.done_at or (found.last_good_at is not None and at <= found.last_good_at):
                    continue
                row = self._raw.execute(
                    "SELECT meter FROM voltage_check WHERE pack = ? AND done_us = ? AND valid = 1 AND position <= ?"
                    " AND (void_position IS NULL OR void_position > ?) ORDER BY position DESC LIMIT 1",
                    (pack, microseconds(at), self._position, self._position),
                ).fetchone()
                if row is not None and row[0] == found.meter:
                    doubted[pack] = found.meter
        return doubted

    def readings_by(self, meter: str, after: dt.datetime | None, until: dt.datetime) -> dict[str, int]:
        """How many standing readings of each pack were taken with `meter` after `after`, up to `until`."""
        return dict(
            self._raw.execute(
                "SELECT pack, count(*) FROM voltage_check WHERE meter = ? AND done_us > ? AND done_us <= ?"
                " AND position <= ? AND (void_position IS NULL OR void_position > ?) GROUP BY pack",
                (
                    meter, -(2**62) if after is None else microseconds(after), microseconds(until), self._position,
                    self._position,
                ),
            ).fetchall()
        )  # fmt: skip

    def sheet_numbers(self, begin: str = "") -> list[str]:
        """Numbers of paper sheets that begin with `begin` and were issued or entered, in order."""
        return [
            number
            for (number,) in self._raw.execute(
                "SELECT DISTINCT subject FROM subject_event WHERE subject_class = 'sheet' AND subject >= ?"
                " AND subject < ? AND position <= ? ORDER BY subject",
                (begin, begin + "~", self._position),
            )
        ]

    def latest_checks(self, packs: Iterable[str] | None = None) -> dict[str, LatestCheck]:
        """The newest standing check of each pack (of `packs` only, when given), its moments in the depot's zone."""
        if not self._newest:
            return self._latest_at(None if packs is None else list(packs))
        columns = "pack, position, done_us, level, rested_v, resistance_ohm, valid_us, valid_rested_v, pass_us"
        if packs is None:
            rows = self._raw.execute(f"SELECT {columns} FROM latest_check").fetchall()
        else:
            rows = []
            for pack in packs:
                rows += self._raw.execute(f"SELECT {columns} FROM latest_check WHERE pack = ?", (pack,)).fetchall()
        return {row[0]: self._latest(row[1:]) for row in rows}

    def _latest_at(self, packs: list[str] | None) -> dict[str, LatestCheck]:
        if packs is None:
            packs = [p for (p,) in self._raw.execute("SELECT DISTINCT pack FROM voltage_check").fetchall()]
        p = self._position
        stands = f"position <= {p} AND (void_position IS NULL OR void_position > {p})"
        order = "ORDER BY done_us DESC, position DESC LIMIT 1"
        found = {}
        for pack in packs:
            newest = self._raw.execute(
                "SELECT position, done_us, level, rested_v, resistance_ohm FROM voltage_check"
                f" WHERE pack = ? AND {stands} {order}",
                (pack,),
            ).fetchone()
            if newest is None:
                continue
            valid = self._raw.execute(
                f"SELECT done_us, rested_v FROM voltage_check WHERE pack = ? AND valid = 1 AND {stands} {order}",
                (pack,),
            ).fetchone()
            passed = self._raw.execute(
                f"SELECT max(done_us) FROM voltage_check WHERE pack = ? AND valid = 1 AND {stands}"
                " AND level IN ('pass', 'watch')",
                (pack,),
            ).fetchone()
            found[pack] = self._latest((*newest, *(valid or (None, None)), passed[0]))
        return found

    # where things are, and what holds them

    def placements(self) -> dict[str, Placement]:
        """Where each pack was last found, as known at the position."""
        rows = self._raw.execute(
            f"SELECT pack, vehicle, bay, shelf, since_us, known FROM placement WHERE {self._span()}"
        ).fetchall()
        return {row[0]: self._placement(row) for row in rows}

    def placement_of(self, pack: str) -> Placement | None:
        """Where one pack was last found, or None when it was never noted anywhere."""
        row = self._raw.execute(
            f"SELECT pack, vehicle, bay, shelf, since_us, known FROM placement WHERE pack = ? AND {self._span()}",
            (pack,),
        ).fetchone()
        return None if row is None else self._placement(row)

    def packs_in(self, vehicle: str) -> list[tuple[str, int]]:
        """Packs recorded in `vehicle` with their bay."""
        rows: list[tuple[str, int]] = self._raw.execute(
            f"SELECT pack, bay FROM placement WHERE vehicle = ? AND {self._span()} ORDER BY bay, pack", (vehicle,)
        ).fetchall()
        return rows

    def open_holds(self, subject: tuple[str, str] | None = None) -> list[StoredHold]:
        """Holds not released at the position, oldest first; of one (class, code) only, when given."""
        only, values = ("", ()) if subject is None else (" AND h.subject_class = ? AND h.subject = ?", subject)
        rows = self._raw.execute(
            "SELECT h.hold_id, h.subject_class, h.subject, h.hold_class, h.from_position, r.bytes FROM hold h"
            f" JOIN record r ON r.position = h.from_position WHERE {self._span()}{only} ORDER BY h.from_position",
            values,
        ).fetchall()
        found = []
        for hold_id, subject_class, code, hold_class, position, data in rows:
            body = self._store.decoded(data).body
            assert isinstance(body, Hold)
            found.append(
                StoredHold(
                    hold_id, subject_class, code, HoldClass(hold_class), body.reason, self.local(body.done_at),
                    body.remark, body.place, position,
                )
            )  # fmt: skip
        return found

    def trips_since(self, since: dt.datetime) -> list[Trip]:
        """Trips done at or after `since`, oldest first."""
        rows = self._raw.execute(
            "SELECT r.bytes FROM trip t JOIN record r ON r.position = t.position"
            " WHERE t.done_us >= ? AND t.position <= ? ORDER BY t.done_us",
            (microseconds(since), self._position),
        ).fetchall()
        return [decode(data).body for (data,) in rows]  # type: ignore[misc]

    def events_of(
        self, subject_class: str, subject: str, limit: int | None = None, kind: str = ""
    ) -> list[StoredEvent]:
        """Records that touch a subject, newest first, checks left out (see `checks_of`); of one `kind`, when given."""
        rows = self._raw.execute(
            "SELECT e.position, r.bytes, o.void_position FROM subject_event e JOIN record r ON r.position = e.position"
            " LEFT JOIN old_reading o ON o.position = e.position"
            " WHERE e.subject_class = ? AND e.subject = ? AND e.position <= ? AND r.kind <> 'voltage_check'"
            " AND (? = '' OR r.kind = ?) ORDER BY e.position DESC LIMIT ?",
            (subject_class, subject, self._position, kind, kind, -1 if limit is None else limit),
        ).fetchall()
        struck = {position: void is not None and void <= self._position for position, _data, void in rows}
        return [replace(self._event(position, data), struck=struck[position]) for position, data, _void in rows]

    def trips(self) -> list[StoredEvent]:
        """Every trip known at the position, by when it happened, oldest first."""
        rows = self._raw.execute(
            "SELECT t.position, r.bytes FROM trip t JOIN record r ON r.position = t.position"
            " WHERE t.position <= ? ORDER BY t.done_us, t.position",
            (self._position,),
        ).fetchall()
        return [self._event(position, data) for position, data in rows]

    def records_of(
        self,
        kind: str,
        subject: tuple[str, str] | None = None,
        *,
        after: int = 0,
        since: dt.datetime | None = None,
        newest: int | None = None,
    ) -> list[StoredEvent]:
        """Records of one kind in order of entry; of one (class, code), `after` a position, entered from `since` on,
        and the `newest` so many, when given.
        """
        subject_class, code = subject or (KIND, kind)
        rows = self._raw.execute(
            "SELECT e.position, r.bytes FROM subject_event e JOIN record r ON r.position = e.position"
            " WHERE e.subject_class = ? AND e.subject = ? AND r.kind = ? AND e.position <= ? AND e.position > ?"
            " AND r.entered_us >= ? ORDER BY e.position DESC LIMIT ?",
            (
                subject_class,
                code,
                kind,
                self._position,
                after,
                -(2**62) if since is None else microseconds(since),
                -1 if newest is None else newest,
            ),
        ).fetchall()
        return [self._event(position, data) for position, data in reversed(rows)]

    # the record itself

    def record_at(self, position: int) -> Record | None:
        """The record at `position`, decoded, or None."""
        row = self._raw.execute("SELECT bytes FROM record WHERE position = ?", (position,)).fetchone()
        return None if row is None else decode(row[0])

    def position_at(self, asked: dt.datetime) -> int:
        """The last position entered at or before `asked`; 0 when nothing was."""
        row = self._raw.execute(
            "SELECT max(position) FROM record WHERE entered_us <= ?", (microseconds(asked),)
        ).fetchone()
        return row[0] or 0

    def touched_since(self, position: int) -> Touched:
        """Packs and vehicles touched by records after `position`; asked every second or two, so by the index of positions."""
        if position >= self._position:
            return Touched(self._position, frozenset(), frozenset())
        rows = self._raw.execute(
            "SELECT DISTINCT subject_class, subject FROM subject_event INDEXED BY subject_event_position WHERE position > ?",
            (position,),
        ).fetchall()
        by_class = {cls: frozenset(code for c, code in rows if c == cls) for cls in ("pack", "vehicle")}
        return Touched(self._position, by_class["pack"], by_class["vehicle"])

    def known_rows(self, identities: Iterable[bytes]) -> set[bytes]:
        """Those of the imported rows' identities that stand in a batch that was not taken back."""
        found: set[bytes] = set()
        for identity in identities:
            row = self._raw.execute(
                "SELECT 1 FROM import_row i JOIN import_batch b ON b.position = i.position"
                " WHERE i.identity = ? AND b.void_position IS NULL",
                (identity,),
            ).fetchone()
            if row is not None:
                found.add(identity)
        return found

    def packs_of_batch(self, batch: str) -> list[str]:
        """Packs about which the import `batch` recorded something that still stands."""
        rows = self._raw.execute(
            "SELECT pack FROM voltage_check WHERE batch = ? AND void_position IS NULL"
            " UNION SELECT pack FROM old_reading WHERE batch = ? AND void_position IS NULL",
            (batch, batch),
        ).fetchall()
        return [pack for (pack,) in rows]

    def photo(self, sha256: str) -> tuple[str, bytes] | None:
        """A kept picture as (media type, bytes), or None."""
        row: tuple[str, bytes] | None = self._raw.execute(
            "SELECT media, bytes FROM photo WHERE sha256 = ?", (sha256,)
        ).fetchone()
        return row

    def has_photo(self, sha256: str) -> bool:
        """True where the picture is kept, without reading it."""
        return self._raw.execute("SELECT 1 FROM photo WHERE sha256 = ?", (sha256,)).fetchone() is not None

    def pin_hash(self, person: str) -> str | None:
        """The hash of a person's PIN, or None when there is none."""
        row = self._raw.execute("SELECT hash FROM person_pin WHERE person = ?", (person,)).fetchone()
        return None if row is None else row[0]

    def seen_by(self, person: str) -> tuple[int, dt.datetime] | None:
        """The position and moment up to which a person has looked at the board, or None before the first time."""
        row = self._raw.execute("SELECT position, seen_us FROM last_seen WHERE person = ?", (person,)).fetchone()
        return None if row is None else (row[0], self.moment(row[1]))

    def last_touch(self, subject_class: str, code: str) -> tuple[int, Record] | None:
        """The newest record that touches a subject, with its position, or None."""
        row = self._raw.execute(
            "SELECT max(position) FROM subject_event WHERE subject_class = ? AND subject = ? AND position <= ?",
            (subject_class, code, self._position),
        ).fetchone()
        record = None if row[0] is None else self.record_at(row[0])
        return None if record is None else (row[0], record)

    def changed_at(self, thing_class: str, code: str) -> int | None:
        """The position of the record that gave a thing its present form, or None."""
        row = self._raw.execute(
            f"SELECT from_position FROM thing WHERE class = ? AND code = ? AND {self._span()}", (thing_class, code)
        ).fetchone()
        return None if row is None else row[0]

    def last_entered(self) -> dt.datetime:
        """When the newest record was entered, in its own offset."""
        record = self.record_at(self._position)
        assert record is not None
        return record.entered_at

    def packs_checked_in(self, vehicle: str) -> list[str]:
        """Packs of which a check names this vehicle."""
        rows = self._raw.execute(
            "SELECT DISTINCT c.pack FROM subject_event e JOIN voltage_check c ON c.position = e.position"
            " WHERE e.subject_class = 'vehicle' AND e.subject = ? AND e.position <= ? AND c.vehicle = ?",
            (vehicle, self._position, vehicle),
        ).fetchall()
        return [pack for (pack,) in rows]

    def left_for(self, vehicles: Iterable[str]) -> dict[str, tuple[str, str]]:
        """Those of `vehicles` whose last pack was since found in another: (pack, the other vehicle)."""
        found = {}
        for vehicle in vehicles:
            row = self._raw.execute(
                "SELECT o.pack, n.vehicle FROM placement o JOIN placement n ON n.pack = o.pack"
                " AND n.from_position = o.to_position WHERE o.vehicle = ? AND o.to_position <= ?"
                " ORDER BY o.to_position DESC LIMIT 1",
                (vehicle, self._position),
            ).fetchone()
            if row is not None and row[1] is not None and row[1] != vehicle:
                found[vehicle] = row
        return found

    def last_packs_of(self, vehicles: Iterable[str]) -> dict[str, str]:
        """The pack that was recorded last in each of `vehicles` that ever had one."""
        found = {}
        for vehicle in vehicles:
            row = self._raw.execute(
                "SELECT pack FROM placement WHERE vehicle = ? AND from_position <= ? ORDER BY from_position DESC LIMIT 1",
                (vehicle, self._position),
            ).fetchone()
            if row is not None:
                found[vehicle] = row[0]
        return found

    def left_at(self, vehicles: Iterable[str]) -> dict[str, dt.datetime]:
        """When the pack that left last was first known to be gone from each of `vehicles` that one left."""
        found = {}
        for vehicle in vehicles:
            row = self._raw.execute(
                "SELECT n.since_us FROM placement o JOIN placement n ON n.pack = o.pack AND n.from_position = o.to_position"
                " WHERE o.vehicle = ? AND o.to_position <= ? ORDER BY o.to_position DESC LIMIT 1",
                (vehicle, self._position),
            ).fetchone()
            if row is not None:
                found[vehicle] = self.moment(row[0])
        return found

    def kinds_since(self, position: int) -> set[str]:
        """Kinds of the records after `position`, a thing's as "thing:CLASS"."""
        kinds = {
            kind
            for (kind,) in self._raw.execute(
                "SELECT DISTINCT kind FROM record WHERE position > ?", (position,)
            ).fetchall()
        }
        if "thing" in kinds:
            kinds.remove("thing")
            kinds |= {
                f"thing:{cls}"
                for cls in THING_CLASSES
                if self._raw.execute(
                    "SELECT 1 FROM thing WHERE class = ? AND from_position > ? LIMIT 1", (cls, position)
                ).fetchone()
            }
        return kinds

    def checked_before(self, moment: dt.datetime, *, since: int) -> bool:
        """Whether a check done before `moment` was recorded after the position `since`."""
        row = self._raw.execute(
            "SELECT 1 FROM voltage_check WHERE position > ? AND position <= ? AND done_us < ? LIMIT 1",
            (since, self._position, microseconds(moment)),
        ).fetchone()
        return row is not None

    def dangers_of(self, pack: str) -> list[Hold]:
        """Every hold for danger the pack ever had, released or not: the incidents of its history."""
        rows = self._raw.execute(
            "SELECT r.bytes FROM hold h JOIN record r ON r.position = h.from_position WHERE h.subject_class = 'pack'"
            " AND h.subject = ? AND h.hold_class = 'danger' AND h.from_position <= ? ORDER BY h.from_position",
            (pack, self._position),
        ).fetchall()
        return [self._store.decoded(data).body for (data,) in rows]  # type: ignore[misc]

    def _event(self, position: int, data: bytes) -> StoredEvent:
        record = decode(data)
        body = self._found_out_here(record.body) if isinstance(record.body, MeterFoundOut) else record.body
        return StoredEvent(
            record.record_id, position, record.kind, self.local(record.done_at), self.local(record.entered_at),
            record.by, body, record.source,
        )  # fmt: skip

    def _placement(self, row: tuple[Any, ...]) -> Placement:
        _, vehicle, bay, shelf, since, known = row
        return Placement(vehicle, bay, shelf, self.moment(since), bool(known))

    def _latest(self, row: tuple[Any, ...]) -> LatestCheck:
        position, done_us, level, rested_v, ohm, valid_us, valid_v, pass_us = row
        done, rested = self.moment(done_us), Decimal(rested_v)
        return LatestCheck(
            position, done, _LEVELS[level], rested, None if ohm is None else Decimal(ohm),
            done if valid_us == done_us else None if valid_us is None else self.moment(valid_us),
            rested if valid_v == rested_v else None if valid_v is None else Decimal(valid_v),
            done if pass_us == done_us else None if pass_us is None else self.moment(pass_us),
        )  # fmt: skip

    def drafts(self) -> list[Draft]:
        """What people typed and did not save, oldest first."""
        rows = self._raw.execute(
            "SELECT draft_id, person, station, subject, saved_us, body FROM draft ORDER BY saved_us"
        ).fetchall()
        return [Draft(i, who, where, what, self.moment(at), body) for i, who, where, what, at, body in rows]


def judged_of(record: Record) -> CheckJudged:
    """The judged check in a voltage_check or check_corrected record."""
    body = record.body
    if isinstance(body, CheckCorrected):
        assert body.judged is not None
        return body.judged
    assert isinstance(body, CheckJudged)
    return body
