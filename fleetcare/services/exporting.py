"""Everything in open formats, in one ZIP file, and a fleet made again from it."""

from __future__ import annotations

import csv
import io
import json
import os
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path

from fleetcare.domain.errors import FileRefused, FleetcareError
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import msg, say
from fleetcare.store.exchange import (
    Beside,
    check_rows,
    photo_digests,
    pin_hashes,
    rebuild_from,
    record_lines,
    source_digests,
)
from fleetcare.store.imported import source
from fleetcare.store.store import Store

CHECK_HEADINGS = (
    "position", "pack", "vehicle", "done_at", "kind", "rest", "rested_v", "loaded_v", "load_a", "hold_s", "bench_c",
    "meter", "verdict", "person", "source", "struck", "remark",
)  # fmt: skip
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def safe_cell(text: str) -> str:
    """A cell that no spreadsheet takes for a formula: an apostrophe before = + - @ unless it is a number.

    A text that begins like that already gets one more, so that `_bare` gives back what it was.
    """
    if not text.lstrip("'").startswith(_FORMULA):
        return text
    if text.startswith("'"):
        return "'" + text
    try:
        float(text)
    except ValueError:
        return "'" + text
    return text


def export_all(store: Store, path: Path) -> Head:
    """Write everything to a ZIP file; FileRefused when something stands there or it cannot be written."""
    if path.exists():
        raise FileRefused("file.exists", path=str(path))
    unfinished = path.with_name(path.name + ".part")
    try:
        with store.view() as view, zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as packed:
            head = view.head()
            readme = say(msg("export.readme", fleet=store.fleet_name, records=head.size, fingerprint=head.root_hex))
            packed.writestr("README.txt", readme)
            packed.writestr("fingerprint.json", json.dumps({"records": head.size, "root": head.root_hex}))
            _stream(packed, "records.jsonl", (line + b"\n" for line in record_lines(view)))
            names = [("code", "name"), *sorted(view.person_names().items())]
            _stream(packed, "people.csv", _csv_lines(names))
            rows = (
                (
                    position, judged.check.pack, judged.check.vehicle, judged.check.done_at.isoformat(),
                    judged.check.kind.value, judged.check.rest.value, judged.check.rested_v, judged.check.loaded_v,
                    judged.check.load_a, judged.check.hold_s, judged.check.bench_c, judged.check.meter,
                    judged.verdict.level.value, person, origin, "yes" if struck else "", judged.check.remark,
                )
                for position, person, origin, judged, struck in check_rows(view)
            )  # fmt: skip
            _stream(packed, "checks.csv", _csv_lines(_with_headings(rows)))
            for digest in source_digests(view):
                _stream(packed, f"sources/{digest}", source(view, digest))
            for digest, media in photo_digests(view):
                kept = view.photo(digest)
                assert kept is not None
                packed.writestr(f"photos/{digest}.{media.removeprefix('image/')}", kept[1])
            pins = [("person", "hash"), *pin_hashes(view)]
            _stream(packed, "pins.csv", _csv_lines(pins))
        os.replace(unfinished, path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise FileRefused("file.not_writable", path=str(path), why=str(error.strerror or error)) from error
    return head


def rebuild(path: Path, target: Path) -> Head:
    """Make a fleet file from an export; refused unless its fingerprint comes out as the export says."""
    if target.exists():
        raise FileRefused("file.exists", path=str(target))
    try:
        with zipfile.ZipFile(path) as packed:
            said = json.loads(packed.read("fingerprint.json"))
            names = list(csv.reader(io.StringIO(packed.read("people.csv").decode("utf-8"))))[1:]
            files = packed.namelist()
            pins = (
                list(csv.reader(io.StringIO(packed.read("pins.csv").decode("utf-8"))))[1:]
                if "pins.csv" in files
                else []
            )
            kept = [one for one in files if one.startswith("sources/")]
            photos = [one for one in files if one.startswith("photos/")]
            with packed.open("records.jsonl") as stream:
                store = rebuild_from(
                    target,
                    (line.rstrip(b"\n") for line in stream),
                    Beside(
                        {row[0]: _bare(row[1]) for row in names},
                        ((one.removeprefix("sources/"), _parts(packed, one)) for one in kept),
                        (packed.read(one) for one in photos),
                        ((row[0], row[1]) for row in pins),
                    ),
                )
        try:
            report = store.verify()
        finally:
            store.close()
        if not report.good or report.root_hex != said["root"]:
            target.unlink()
            raise ValueError("the fingerprint differs")
    except FleetcareError:
        raise
    except OSError as error:
        raise FileRefused("import.unreadable", path=str(path), why=str(error.strerror or error)) from error
    except Exception as error:  # a damaged archive can break its reader in any way; each way is one sentence
        raise FileRefused("backup.not_export", path=str(path), why=str(error)[:200]) from error
    return Head(report.records, report.root_hex)


def _bare(name: str) -> str:
    return name[1:] if name.startswith("'") and name.lstrip("'").startswith(_FORMULA) else name


def _parts(packed: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    with packed.open(name) as stream:
        while part := stream.read(1 << 20):
            yield part


def _stream(packed: zipfile.ZipFile, name: str, parts: Iterable[bytes]) -> None:
    with packed.open(name, "w", force_zip64=True) as out:
        for part in parts:
            out.write(part)


def _with_headings(rows: Iterable[tuple[object, ...]]) -> Iterator[tuple[object, ...]]:
    yield CHECK_HEADINGS
    yield from rows


def _csv_lines(rows: Iterable[tuple[object, ...]]) -> Iterator[bytes]:
    for row in rows:
        line = io.StringIO()
        csv.writer(line).writerow(["" if one is None else safe_cell(str(one)) for one in row])
        yield line.getvalue().encode("utf-8", "surrogatepass")
