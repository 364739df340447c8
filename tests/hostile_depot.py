"""A depot in which every free text of every kind of record is one that could be taken for a command."""

from __future__ import annotations

import dataclasses
import typing
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.packs import THING_CLASSES
from fleetcare.domain.records import BODY_CLASSES, Record
from fleetcare.services.session import Author
from fleetcare.store.store import Store, Transaction
from tests.kestrel import Kestrel
from tests.role_table import EVERYBODY, TABLE

FREE = set(
    [
        "as_written",
        "authority",
        "band_source",
        "bleed_note",
        "carrier",
        "cause",
        "charge_fuse_part",
        "charged_where",
        "consignment",
        "damage_since",
        "damage_what",
        "date_code",
        "date_code_from",
        "date_code_read",
        "date_code_to",
        "firm",
        "found",
        "found_outside",
        "charge_fuse_part",
        "mended",
        "fuse_part",
        "group",
        "hazard",
        "insurer",
        "invoice",
        "item",
        "judged_by",
        "last_place",
        "location",
        "looked_at",
        "maker",
        "marks",
        "mended",
        "method",
        "model_text",
        "name",
        "no_photo_reason",
        "note",
        "others",
        "owner",
        "part_number",
        "passport",
        "place",
        "plant",
        "police",
        "policy",
        "queried",
        "reason",
        "receipt",
        "recipient",
        "reference",
        "remark",
        "remedy",
        "replacement_serial",
        "report",
        "reset_note",
        "return_number",
        "rules_text",
        "seal",
        "serial",
        "serial_from",
        "serial_read",
        "serial_seen",
        "serial_to",
        "shelf",
        "source",
        "supplier",
        "text",
        "wake_note",
        "warranty_clause",
        "waste_chain",
        "what",
        "where",
        "work",
        "written",
        "driver",
        "bay_place",
        "questioned",
        "other",
        "about",
        "badge",
        "file_name",
        "sheet",
        "connector",
        "colour",
    ]
)
"""Fields that a person writes as they like."""

CODED = set(
    [
        "answers",
        "baseline",
        "batch",
        "charger",
        "check",
        "code",
        "counts",
        "country",
        "currency",
        "depot",
        "distances_km",
        "done_by",
        "engine",
        "fits",
        "fleet_name",
        "from_depot",
        "charge_fuse_body",
        "fuse_body",
        "half",
        "heads",
        "hold",
        "incident",
        "items",
        "job",
        "key",
        "kind",
        "limit_figures",
        "limit_name",
        "limits_id",
        "mapping",
        "means",
        "meter",
        "missing",
        "model",
        "models",
        "number",
        "numbers",
        "of",
        "pack",
        "packs",
        "part",
        "people",
        "person",
        "persons",
        "photos",
        "procedure",
        "proof",
        "quantity",
        "readings",
        "replacement",
        "root_hex",
        "rule",
        "rules",
        "rules_followed",
        "sha256",
        "shown_by",
        "sources",
        "steps",
        "subdivision",
        "subject",
        "subject_class",
        "test_load",
        "thing_class",
        "ticks",
        "time_zone",
        "to_depot",
        "trip",
        "values",
        "vehicle",
        "vehicle_kind",
        "vehicles",
    ]
)
"""Codes, names of rules, numbers as text and references, which each deed checks against what is on record."""

NOT_MADE = {"fleet_founded", "pin_changed", "batch_voided", "import_batch", "sheet_import", "read_twice", "misfit_seen"}
"""Kinds without a text of a person's, or whose file is part of what is verified."""

KEPT_AS_CODED = {"about": "Decision", "work": "SiteText", "source": "Finding", "name": "Depot"}
"""Where a name of a free text is a code in one class."""


def text_fields() -> set[str]:
    """The name of every field of text in every kind of record and thing."""
    found: set[str] = set()

    def walk(cls: type) -> None:
        hints = typing.get_type_hints(cls)
        for field in dataclasses.fields(cls):
            of = hints[field.name]
            if of is str or str(of) == "str | None" or "tuple[str" in str(of) or "tuple[tuple[str" in str(of):
                found.add(field.name)
            for one in (of, *typing.get_args(of)):
                if dataclasses.is_dataclass(one):
                    walk(one)  # type: ignore[arg-type]

    for cls in (*BODY_CLASSES.values(), *THING_CLASSES.values()):
        walk(cls)
    return found


def hostile(body: Any, text: str) -> Any:
    """The same body with `text` in every free field that holds something."""
    changed: dict[str, Any] = {}
    for field in dataclasses.fields(body):
        value = getattr(body, field.name)
        if dataclasses.is_dataclass(value) and not isinstance(value, type) and type(value).__name__ != "Message":
            changed[field.name] = hostile(value, text)
        elif field.name == "photos":
            changed[field.name] = ()
        elif field.name in FREE and KEPT_AS_CODED.get(field.name) != type(body).__name__:
            if type(value) is str and value:
                changed[field.name] = text
            elif isinstance(value, tuple) and value and all(type(one) is str for one in value):
                changed[field.name] = (text,) * len(value)
    return dataclasses.replace(body, **changed)


Made = tuple[str, Any, str]
"""Kind, body and identifier of a record."""


def bodies(base: Path, folder: Path) -> Iterator[Made]:
    """Every record that the deeds of the table make on the depot `base`, with what they need before."""
    for number, deed in enumerate(TABLE):
        path = folder / f"deed{number}.fleet"
        path.write_bytes(base.read_bytes())
        one = Kestrel(Store.open(path))
        author = Author([p for p in EVERYBODY if deed.who.allows(p)][-1], "BENCH-1")
        found: list[Made] = []
        with _listening(found):
            try:
                deed.do(one, author, deed.prepare(one, folder))
            except FleetcareError as refused:
                raise AssertionError(f"{deed.words}: {refused}") from refused
        one.store.close()
        path.unlink()
        yield from found


@contextmanager
def _listening(found: list[Made]) -> Iterator[None]:
    one_by_one: Callable[..., Any] = Transaction.append
    at_once: Callable[..., Any] = Transaction.append_checks

    def append(self: Transaction, kind: str, body: object, **rest: Any) -> Any:
        done = one_by_one(self, kind, body, **rest)
        found.append((kind, body, done.record_id))
        return done

    def append_checks(self: Transaction, records: Iterable[Record]) -> int:
        made = list(records)
        found.extend((record.kind, record.body, record.record_id) for record in made)
        return int(at_once(self, made))

    Transaction.append, Transaction.append_checks = append, append_checks  # type: ignore[method-assign,assignment]
    try:
        yield
    finally:
        Transaction.append, Transaction.append_checks = one_by_one, at_once  # type: ignore[method-assign]


def fill(into: Kestrel, records: list[Made], texts: tuple[str, ...]) -> Counter[str]:
    """Append every body with hostile text; each kind meets several texts.  Returns how many of each kind."""
    kinds: Counter[str] = Counter()
    kept: set[str] = set()
    for kind, body, record_id in records:
        if kind in NOT_MADE:
            continue
        text = texts[kinds[kind] % len(texts)]
        with into.store.transaction() as tx:
            tx.append(
                kind, hostile(body, text), done_at=into.now, entered_at=into.now, by="DUNN", level="may_release",
                station="BENCH-1", source="typed", record_id=None if record_id in kept else record_id,
            )  # fmt: skip
        kept.add(record_id)
        kinds[kind] += 1
    return kinds
