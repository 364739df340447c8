"""The small stock of parts: what lies where, booked in, booked out by a job, counted, and what to order."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain import parts as rule
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.labels import is_code
from fleetcare.domain.packs import Level
from fleetcare.domain.parts import PartMoved, StockMove
from fleetcare.domain.spare_parts import Part
from fleetcare.domain.wording import Message, msg
from fleetcare.services import record
from fleetcare.services.life_words import life_text
from fleetcare.services.people import may, refuse_stale
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import known
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, Transaction, View


@dataclass(frozen=True, slots=True)
class StockLine:
    """One part as list, page and order list show it; `order` is how many to order, 0 above the level."""

    part: Part
    have: int
    order: int
    last_out: dt.datetime | None
    used_90_days: int

    @property
    def cost(self) -> Decimal | None:
        """What the order costs at the price on record; None without a price."""
        return None if self.part.price is None else self.part.price * self.order


@dataclass(frozen=True, slots=True)
class MoveLine:
    """One movement of a part, with who entered it and what was on hand after it."""

    moved: PartMoved
    person: str
    after: int
    text: Message


USED_DAYS = 90
"""How far back the use of a part is counted on its line."""


def moves_of(view: View, code: str) -> list[PartMoved]:
    """All movements of one part in order of entry."""
    return [e.body for e in view.records_of("part_moved", ("part", code))]  # type: ignore[misc]


def have(view: View, code: str) -> int:
    """How many pieces of a part lie on the shelf, by the record."""
    return rule.on_hand(moves_of(view, code))


def stock_lines(view: View, now: dt.datetime) -> tuple[StockLine, ...]:
    """Every part, those to order first, then by kind and name."""
    since = now - dt.timedelta(days=USED_DAYS)
    lines = []
    for code, part in view.things("part").items():
        moves = moves_of(view, code)
        out = [m for m in moves if m.move is StockMove.BOOKED_OUT]
        number = rule.on_hand(moves)
        lines.append(
            StockLine(
                part, number, rule.to_order(part, number), max((m.done_at for m in out), default=None),
                sum(m.pieces for m in out if m.done_at >= since),
            )
        )  # fmt: skip
    return tuple(sorted(lines, key=lambda one: (not one.order, one.part.kind.value, one.part.name)))


def stock(store: Store, clock: Clock) -> tuple[StockLine, ...]:
    """`stock_lines` as of now."""
    with store.view() as view:
        return stock_lines(view, clock())


def to_reorder(view: View) -> tuple[StockLine, ...]:
    """The order list for the manager: parts at or below their reorder level, those that ran out first."""
    low = [line for line in stock_lines(view, view.last_entered()) if line.order]
    return tuple(sorted(low, key=lambda one: (one.have, one.part.name)))


def move_lines(store: Store, code: str) -> tuple[MoveLine, ...]:
    """The movements of one part, newest first."""
    with store.view() as view:
        names = view.person_names()
        lines, moves = [], []
        for event in view.records_of("part_moved", ("part", code)):
            moved: PartMoved = event.body  # type: ignore[assignment]
            moves.append(moved)
            text = life_text(moved)
            assert text is not None
            lines.append(MoveLine(moved, names.get(event.by, event.by), rule.on_hand(moves), text))
        return tuple(reversed(lines))


def put_part(store: Store, clock: Clock, author: Author, part: Part) -> Recorded:
    """Add a part to the stock, or change what is written about it; needs the level that may check."""
    now = clock()
    if not is_code(part.code) or part.code != part.code.upper():
        raise EntryRefused("parts.needs_code", field="code")
    for field in ("name", "part_number"):
        if not str(getattr(part, field)).strip():
            raise EntryRefused(f"parts.needs_{field}", field=field)
    if part.reorder_level < 0:
        raise EntryRefused("parts.needs_level", field="reorder_level")
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_CHECK)
        refuse_stale(tx, author, "part", part.code)
        writer = Writer(tx, author, now)
        writer.add_thing("part", part)
        return writer.recorded(msg("parts.saved", part=part.code, name=part.name))


def book_in(store: Store, clock: Clock, author: Author, code: str, pieces: int, supplier: str = "") -> Recorded:
    """Pieces of a part arrived and lie on the shelf."""
    now = clock()
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_CHECK)
        part: Part = known(tx, "part", code)
        writer = Writer(tx, author, now)
        put_in(writer, part, pieces, supplier.strip())
        return writer.recorded(msg("parts.booked_in", pieces=pieces, name=part.name, have=have(tx, code)))


def put_in(writer: Writer, part: Part, pieces: int, supplier: str) -> None:
    """The writing part of `book_in`, within a transaction."""
    moved = PartMoved(
        part.code, StockMove.BOOKED_IN, pieces, writer.now, supplier=supplier, part_number=part.part_number
    )
    writer.add("part_moved", moved, writer.now)


def count(store: Store, clock: Clock, author: Author, code: str, pieces: int, reason: str) -> Recorded:
    """The shelf was counted: the number on record becomes what lies there, with the reason of a difference."""
    now = clock()
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_CHECK)
        part: Part = known(tx, "part", code)
        before = have(tx, code)
        writer = Writer(tx, author, now)
        writer.add(
            "part_moved",
            PartMoved(
                code, StockMove.COUNTED, pieces, now, reason=reason.strip(), before=before, part_number=part.part_number
            ),
            now,
        )
        return writer.recorded(msg("parts.counted", name=part.name, before=before, pieces=pieces))


def use(
    store: Store, clock: Clock, author: Author, code: str, pieces: int, reason: str, *,
    pack: str | None = None, vehicle: str | None = None,
) -> Recorded:  # fmt: skip
    """Pieces used outside the jobs that book out by themselves; what for is said in a few words."""
    now = clock()
    if not reason.strip():
        raise EntryRefused("parts.needs_use", field="reason")
    with store.transaction() as tx:
        may(tx, author, now, Level.MAY_CHECK)
        part: Part = known(tx, "part", code)
        for thing_class, subject in (("pack", pack), ("vehicle", vehicle)):
            if subject:
                known(tx, thing_class, subject)
        writer = Writer(tx, author, now)
        take_out(tx, writer, part, pieces, None, pack=pack, vehicle=vehicle, at=now, reason=reason.strip())
        return writer.recorded(msg("parts.used", pieces=pieces, name=part.name, have=have(tx, code)))


def take_out(
    tx: Transaction, writer: Writer, part: Part, pieces: int, job: str | None, *, pack: str | None,
    vehicle: str | None, at: dt.datetime, reason: str = "",
) -> None:  # fmt: skip
    """The writing part of a job that uses parts, within its transaction; refused where the shelf is short by the record."""
    rule.refuse_short(part, have(tx, part.code), pieces)
    record.refuse_future(at, writer.now)
    writer.add(
        "part_moved",
        PartMoved(
            part.code, StockMove.BOOKED_OUT, pieces, at, job, pack, vehicle, reason, part_number=part.part_number
        ),
        at,
    )


def taken_words(view: View, told: Message, part: Part, pieces: int) -> Message:
    """What a deed says, with the part it booked out and how many are left."""
    return msg(
        "parts.taken",
        told=told,
        pieces=pieces,
        name=part.name,
        part_number=part.part_number,
        have=have(view, part.code),
    )


def parts_used_by(view: View, job: str, pack: str) -> tuple[tuple[Part, int], ...]:
    """The parts that a job on `pack` took from the shelf, for its sheet and its line in the history."""
    used = [e.body for e in view.records_of("part_moved", ("pack", pack))]
    return tuple((view.thing("part", one.part), one.pieces) for one in used if one.job == job)  # type: ignore[attr-defined]
