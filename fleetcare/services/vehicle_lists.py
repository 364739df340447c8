"""Many vehicles at once: a pasted or imported list is shown first, row by row, and recorded in one act.

The counts add up to the rows.  The same list again records nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path

from fleetcare.domain.errors import EntryRefused, FileRefused, FleetcareError
from fleetcare.domain.packs import PackModel, Vehicle, VehicleKind
from fleetcare.domain.wording import Message, msg, word
from fleetcare.services import table_files
from fleetcare.services.people import refuse_stale
from fleetcare.services.session import Author, Clock
from fleetcare.services.setting_up import refuse_taken, refuse_thing, refuse_unless_manager
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View

COLUMNS: dict[str, tuple[str, ...]] = {
    "code": ("code", "vehicle", "label", "number"),
    "kind": ("kind", "type", "vehicle kind"),
    "depot": ("depot", "site", "place"),
    "serial": ("serial", "frame", "frame number", "serial number", "frame no"),
    "model": ("model", "pack model", "pack"),
}
"""Headings by which a column is recognised, in small letters; without headings the columns stand in this order."""

MOST_ROWS = 20_000


class State(StrEnum):
    """What becomes of a row."""

    NEW = "new"
    CHANGED = "changed"
    KNOWN = "known"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class ListRow:
    """One row: its number, what it says, what becomes of it, and why where it is refused."""

    number: int
    cells: dict[str, str]
    state: State
    vehicle: Vehicle | None = None
    why: Message | None = None


@dataclass(frozen=True, slots=True)
class Shown:
    """A list as it would be recorded; nothing is written."""

    rows: tuple[ListRow, ...]
    position: int
    file_name: str = ""

    def count(self, state: State) -> int:
        """How many rows are in that state."""
        return sum(row.state is state for row in self.rows)

    @property
    def told(self) -> Message:
        """The counts, which add up to the rows."""
        counts = {state.value: self.count(state) for state in State}
        return msg("vehicle_list.counts", total=len(self.rows), **counts)


def read_text(store: Store, clock: Clock, text: str, model: str = "") -> Shown:
    """A pasted list as it would be recorded; `model` is the pack model of rows that name none."""
    return _shown(store, clock, table_files.text_rows(text), model, "")


def read_file(store: Store, clock: Clock, path: Path, model: str = "") -> Shown:
    """A list from a CSV, XLSX or ODS file; FileRefused where it cannot be read."""
    return _shown(store, clock, table_files.rows(path), model, path.name)


def record_list(store: Store, clock: Clock, author: Author, shown: Shown) -> Recorded:
    """Record the new and changed vehicles of a list as it was shown, in one transaction.  Only a manager may.

    Refused where one of them was changed by somebody else since.
    """
    now = clock()
    wanted = [row.vehicle for row in shown.rows if row.vehicle is not None and row.state in (State.NEW, State.CHANGED)]
    source = f"file:{shown.file_name}:0" if shown.file_name else author.source
    author = replace(author, source=source, seen_position=shown.position)
    with store.transaction() as tx:
        refuse_unless_manager(tx, author)
        if not wanted:
            raise EntryRefused("vehicle_list.nothing")
        writer = Writer(tx, author, now)
        for vehicle in wanted:
            refuse_stale(tx, author, "vehicle", vehicle.code)
            refuse_thing(tx, vehicle, now.date())
            if tx.thing("vehicle", vehicle.code) is None:
                refuse_taken(tx, "vehicle", vehicle.code)
            writer.add_thing("vehicle", vehicle)
        return writer.recorded(msg("vehicle_list.recorded", count=len(wanted)))


def _shown(store: Store, clock: Clock, found: Iterable[tuple[int, list[str]]], model: str, file_name: str) -> Shown:
    lines = []
    for line in found:
        lines.append(line)
        if len(lines) > MOST_ROWS + 1:
            raise FileRefused("vehicle_list.too_long", most=MOST_ROWS)
    if not lines:
        raise EntryRefused("vehicle_list.empty", field="text")
    columns, lines = _columns(lines)
    seen: dict[str, int] = {}
    rows = []
    with store.view() as view:
        for number, texts in lines:
            cells = {name: texts[at].strip() if at < len(texts) else "" for name, at in columns.items()}
            code = cells["code"].upper()
            if code and code in seen:
                why = msg("vehicle_list.twice", code=code, row=seen[code])
                rows.append(ListRow(number, cells, State.REFUSED, None, why))
                continue
            seen[code] = number
            rows.append(_row(view, clock, number, cells, model))
        return Shown(tuple(rows), view.position, file_name)


def _columns(lines: list[tuple[int, list[str]]]) -> tuple[dict[str, int], list[tuple[int, list[str]]]]:
    """The place of each column, and the rows below the headings; a first row without known headings is a row."""
    names = {heading: name for name, headings in COLUMNS.items() for heading in headings}
    first = [names.get(cell.strip().lower()) for cell in lines[0][1]]
    found = {name: at for at, name in reversed(list(enumerate(first))) if name is not None}
    if "code" in found and "kind" in found:
        return found, lines[1:]
    if found:
        raise EntryRefused("vehicle_list.headings", field="text", known=", ".join(COLUMNS))
    return {name: at for at, name in enumerate(COLUMNS)}, lines


def _row(view: View, clock: Clock, number: int, cells: dict[str, str], model: str) -> ListRow:
    try:
        vehicle = _vehicle(view, cells, model)
        refuse_thing(view, vehicle, clock().date())
        before: Vehicle | None = view.thing("vehicle", vehicle.code)
        if before is None:
            refuse_taken(view, "vehicle", vehicle.code)
    except FleetcareError as error:
        return ListRow(number, cells, State.REFUSED, None, error.message)
    state = State.NEW if before is None else State.KNOWN if before == vehicle else State.CHANGED
    return ListRow(number, cells, state, vehicle)


def _vehicle(view: View, cells: dict[str, str], model: str) -> Vehicle:
    """The vehicle a row describes; what it does not say of one on record stays."""
    code = cells["code"].upper()
    before: Vehicle | None = view.thing("vehicle", code) if code else None
    kind, depot = _kind(cells.get("kind", "")), _depot(view, cells.get("depot", ""), before)
    serial = cells.get("serial", "") or ("" if before is None else before.serial)
    named = cells.get("model", "") or model
    if before is not None and not cells.get("model", ""):
        return replace(before, kind=kind, depot=depot, serial=serial)
    if not named:
        raise EntryRefused("vehicle_list.needs_model", field="model")
    takes: PackModel | None = view.thing("pack_model", named.upper())
    if takes is None:
        raise EntryRefused("entry.unknown_pack_model", field="model", code=named)
    pairing = (takes.voltage_class_v, takes.connector)
    if before is not None:
        return replace(before, kind=kind, depot=depot, serial=serial, voltage_class_v=pairing[0], connector=pairing[1],
                       charge_end_v=takes.full_v, chemistry=takes.chemistry)  # fmt: skip
    return Vehicle(code, kind, depot, *pairing, charge_end_v=takes.full_v, chemistry=takes.chemistry, serial=serial)


def _kind(typed: str) -> VehicleKind:
    plain = typed.strip().lower().replace("-", "").replace("_", "").replace(" ", "")
    for kind in VehicleKind:
        if plain and plain in (
            kind.value.replace("_", ""),
            word(f"vehicle_kind.{kind.value}").replace("-", "").replace(" ", ""),
        ):
            return kind
    kinds = ", ".join(word(f"vehicle_kind.{kind.value}") for kind in VehicleKind)
    raise EntryRefused("vehicle_list.kind", field="kind", typed=typed or "—", kinds=kinds)


def _depot(view: View, typed: str, before: Vehicle | None) -> str:
    """A depot's code, or its name; a row that names none keeps its own, or takes the only one there is."""
    depots = view.things("depot")
    if not typed and before is not None:
        return before.depot
    if not typed and len(depots) == 1:
        return next(iter(depots))
    for code, one in depots.items():
        if typed.casefold() in (code.casefold(), one.name.casefold()):
            return str(code)
    raise EntryRefused("entry.unknown_depot", field="depot", code=typed)
