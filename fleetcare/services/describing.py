"""A fleet described in a plain TOML file: its depots, people, models, packs, vehicles and instruments.

`demo_fleet/fleet.toml` is an example.  Each table is a class of things and each key one of its
attributes; figures are exact decimals in quotes; a date is written as a date, or as days from today
under the key with `_day` added (`calibration_due_day = 71`).  A pack may say where
it is: `found_in` with `bay`, or `shelf`.
"""

from __future__ import annotations

import datetime as dt
import tomllib
import types
import typing
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass, replace
from decimal import Decimal, InvalidOperation
from enum import Enum
from pathlib import Path
from typing import Any

from fleetcare.domain.checks import FoundIn
from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.labels import normalise
from fleetcare.domain.packs import THING_CLASSES, PackModel, ServiceNotes, Thing
from fleetcare.domain.setup import rules
from fleetcare.domain.wording import msg
from fleetcare.services.identify import pair_in
from fleetcare.services.people import refuse_unless_allowed
from fleetcare.services.session import Author, Clock
from fleetcare.services.setting_up import KINDS, refuse_thing, refuse_unless_manager
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View

Described = dict[str, Any]
LARGEST, FINEST = 10**9, 9
"""Figures of things are below a thousand million and have at most nine decimals; what is beyond is a slip."""

SCANNED = ("pack", "vehicle", "charger", "meter")
"""Things with a label of their own."""

_ELSEWHERE = {"pack": {"found_in", "bay"}}


def import_fleet(store: Store, clock: Clock, author: Author, path: Path) -> Recorded:
    """Record everything a TOML file describes that is new or changed, in one transaction.

    What the file does not say of a thing on record stays as it is there.  What belongs to the fleet is recorded by a
    manager, here as in the window.
    Raises FileRefused for a file that cannot be read, EntryRefused naming the thing that cannot be taken.
    """
    now = clock()
    described = read(path)
    things = things_of(described, now.date())
    names = [_named(row) for cls in THING_CLASSES for row in described.get(cls, [])]
    with store.transaction() as tx:
        writer = Writer(tx, author, now)
        pairs = zip(things, names, strict=True)
        things = [(cls, _over(tx.thing(cls, one.code), one, named)) for (cls, one), named in pairs]
        changed = [(cls, one) for cls, one in things if tx.thing(cls, one.code) != one]
        for thing_class, thing in changed:
            refuse_unless_allowed(tx, author, thing_class, thing)
        if tx.codes("person") and any(thing_class in KINDS for thing_class, _ in changed):
            refuse_unless_manager(tx, author)
        for thing_class, thing in changed:
            writer.add_thing(thing_class, thing)
        _refuse_loose_ends(tx, things)
        for thing_class, thing in changed:
            _refuse_by_rule(tx, thing_class, thing, now.date())
        placed = tx.placements()
        for move in moves_of(described, now):
            before = placed.get(move.pack)
            if before is None or (before.vehicle, before.shelf) != (move.vehicle, move.shelf):
                if move.vehicle is not None:
                    pair_in(tx, move.vehicle, move.pack)
                writer.move(move)
        return writer.recorded(msg("record.things", count=len(changed)))


def _named(row: Described) -> set[str]:
    """The fields that a row says something about; a pack found in a vehicle lies on no shelf."""
    if "found_in" in row:
        row = row | {"shelf": row.get("shelf", "")}
    return {key.removesuffix("_day") for key in row} | row.keys()


def _over(before: Thing | None, described: Thing, named: set[str]) -> Thing:
    """`described`, with what the file does not name taken from the thing on record."""
    if before is None:
        return described
    return replace(before, **{one.name: getattr(described, one.name) for one in fields(before) if one.name in named})


def read(path: Path) -> Described:
    """The tables of a TOML file; FileRefused in words when it cannot be read."""
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise FileRefused("import.unreadable", path=str(path), why=str(error)) from error


def things_of(described: Described, today: dt.date) -> list[tuple[str, Thing]]:
    """All things described, with their class, in the order in which they build on each other."""
    unknown = described.keys() - THING_CLASSES.keys() - {"fleet"}
    if unknown:
        raise EntryRefused("describe.unknown_table", table=sorted(unknown)[0], tables=", ".join(THING_CLASSES))
    for cls, rows in described.items():
        if cls != "fleet" and not (isinstance(rows, list) and all(isinstance(row, dict) for row in rows)):
            raise EntryRefused("describe.not_tables", table=cls)
    return [(cls, _thing(cls, row, today)) for cls in THING_CLASSES for row in described.get(cls, [])]


def moves_of(described: Described, at: dt.datetime) -> list[FoundIn]:
    """Where the described packs are said to be."""
    moves = []
    for row in described.get("pack", []):
        if "found_in" in row or "shelf" in row:
            code = row["code"]
            vehicle, shelf = (_value(str, row.get(name, ""), code, name) for name in ("found_in", "shelf"))
            moves.append(FoundIn(code, vehicle or None, at, _value(int, row.get("bay", 1), code, "bay"), shelf))
    return moves


def _thing(thing_class: str, row: Described, today: dt.date) -> Thing:
    cls = THING_CLASSES[thing_class]
    hints = typing.get_type_hints(cls)
    values: dict[str, Any] = {}
    used = set(_ELSEWHERE.get(thing_class, ()))
    code = normalise(str(row.get("code", "?")))
    for name, hint in hints.items():
        if name in row:
            values[name] = _value(hint, row[name], code, name)
        elif f"{name}_day" in row:
            values[name] = _days_from(today, row[f"{name}_day"], code, f"{name}_day")
        used |= {name, f"{name}_day"}
    odd = row.keys() - used
    if odd:
        raise EntryRefused("describe.unknown_key", code=code, attribute=sorted(odd)[0], what=thing_class)
    lacking = _lacking(cls, values)
    if lacking:
        raise EntryRefused("describe.missing", code=code, what=thing_class, lacking=lacking)
    made: Thing = cls(**values)
    return made


def _lacking(cls: Any, given: Mapping[str, Any]) -> tuple[str, ...]:
    """The fields of `cls` that must be given and are not."""
    needed = (one.name for one in fields(cls) if one.default is MISSING and one.default_factory is MISSING)
    return tuple(name for name in needed if name not in given)


def _days_from(today: dt.date, days: Any, code: str, name: str) -> dt.date:
    try:
        return today + dt.timedelta(days=_value(int, days, code, name))
    except OverflowError as error:
        raise EntryRefused("describe.value", code=code, attribute=name, typed=str(days)) from error


def _value(hint: Any, value: Any, code: str, name: str) -> Any:
    """A TOML value as a field of this type: a date is no moment, true is no number, a number is finite."""
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        hint = next(one for one in typing.get_args(hint) if one is not type(None))
    refused = EntryRefused("describe.value", code=code, attribute=name, typed=str(value)[:60])
    if is_dataclass(hint) and isinstance(hint, type) and isinstance(value, dict):
        hints = typing.get_type_hints(hint)
        odd = value.keys() - hints.keys()
        if odd:
            raise EntryRefused("describe.unknown_key", code=code, attribute=sorted(odd)[0], what=name)
        lacking = _lacking(hint, value)
        if lacking:
            raise EntryRefused("describe.missing", code=code, what=name, lacking=lacking)
        return hint(**{key: _value(hints[key], one, code, key) for key, one in value.items()})
    if typing.get_origin(hint) is tuple:
        inner = typing.get_args(hint)[0]
        parts = typing.get_args(inner) if typing.get_origin(inner) is tuple else ()
        if not isinstance(value, list) or (
            parts and not all(isinstance(one, list) and len(one) == len(parts) for one in value)
        ):
            raise refused
        if parts:
            return tuple(tuple(_value(h, v, code, name) for h, v in zip(parts, one, strict=True)) for one in value)
        return tuple(_value(inner, one, code, name) for one in value)
    if hint is Decimal:
        if isinstance(value, bool) or not isinstance(value, (str, int, float)):
            raise refused
        try:
            number = Decimal(repr(value) if isinstance(value, float) else value)
        except InvalidOperation as error:
            raise refused from error
        if not number.is_finite() or abs(number) >= LARGEST or number.as_tuple().exponent < -FINEST:  # type: ignore[operator]
            raise refused
        return number
    if isinstance(hint, type) and issubclass(hint, Enum):
        try:
            return hint(value)
        except ValueError as error:
            raise refused from error
    if not isinstance(hint, type) or type(value) is not hint:
        raise refused
    return value


def _refuse_loose_ends(tx: Any, things: list[tuple[str, Thing]]) -> None:
    """A pack needs its model on record, and a vehicle its depot."""
    for thing_class, needed, attribute in (("pack", "pack_model", "model"), ("vehicle", "depot", "depot")):
        for cls, thing in things:
            if cls == thing_class and tx.thing(needed, getattr(thing, attribute)) is None:
                raise EntryRefused(
                    "describe.loose", code=thing.code, attribute=attribute, other=getattr(thing, attribute)
                )


def _refuse_by_rule(tx: View, thing_class: str, thing: Thing, today: dt.date) -> None:
    """What the forms of the window refuse is refused in a file too, with the code of the thing."""
    try:
        rules.refuse_code(thing.code, scanned=thing_class in SCANNED)
        if thing_class in ("pack_model", "service_notes"):
            model: PackModel | None = tx.thing("pack_model", thing.code)
            if model is not None:
                rules.refuse_model(model, tx.thing("service_notes", thing.code) or ServiceNotes(thing.code))
        refuse_thing(tx, thing, today)
    except EntryRefused as error:
        raise EntryRefused("describe.by_rule", code=thing.code, why=error.message) from error
