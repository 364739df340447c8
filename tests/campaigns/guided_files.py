"""A depot for the inputs of guided.py that are files, the readers of files, and whole ones to begin with."""

from __future__ import annotations

import io
import random
import shutil
import tempfile
import zipfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from fleetcare.domain.errors import FleetcareError
from fleetcare.services import importing
from fleetcare.store.store import Store
from tests.campaigns.damaged import memory
from tests.campaigns.readers import every_sort
from tests.campaigns.sheet_files import XLSX_PARTS
from tests.kestrel import Kestrel, build

FRESH_EVERY = 500
PART = "\x1f"

__all__ = ["XLSX_PARTS", "by_reader", "depot", "packed"]


class _Depot:
    """A depot in memory, put back as it was every so many inputs, with the readers of files and whole ones."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="guided", dir=memory()))
        self.made = build(self.folder / "depot.fleet")
        sorts = every_sort(self.made, self.folder)
        self.readers = {
            "table": sorts["log.csv"].read, "spreadsheet": sorts["log.xlsx"].read, "checks": sorts["table.csv"].read,
            "cells": sorts["cells.csv"].read, "vehicles": sorts["vehicles.csv"].read,
            "described": sorts["fleet.toml"].read, "projected checks": sorts["checks.csv"].read,
            "projected models": sorts["models.csv"].read, "export": sorts["export.zip"].read,
        }  # fmt: skip
        self.kept = {"export": _members(sorts["export.zip"].whole)}
        xlsx, ods = _members(sorts["log.xlsx"].whole), _members(sorts["log.ods"].whole)
        self.seeds = {name: [sorts[whole].whole.decode()] for name, whole in (
            ("table", "log.csv"), ("checks", "table.csv"), ("cells", "cells.csv"), ("vehicles", "vehicles.csv"),
            ("described", "fleet.toml"), ("projected", "checks.csv"))}  # fmt: skip
        self.seeds["projected"].append("m" + sorts["models.csv"].whole.decode())
        self.seeds["export"] = [str(self.kept["export"]["records.jsonl"])]
        self.seeds["spreadsheet"] = [
            f"{xlsx['xl/worksheets/sheet1.xml']}{PART}{xlsx['xl/sharedStrings.xml']}", f"o{ods['content.xml']}"
        ]  # fmt: skip
        with self.made.store.view() as view:
            self.bench = importing._ImportBench(view, self.made.clock())  # type: ignore[arg-type]
            newest = view._raw.execute("SELECT bytes FROM record GROUP BY kind").fetchall()
        self.seeds["record"] = [bytes(data).decode() for (data,) in newest]
        self.made.store.close()
        self.base = self.folder / "base.fleet"
        shutil.copy(self.made.store.path, self.base)
        self.asked = 0
        self.store_again()

    def store_again(self) -> None:
        """The depot as it was in the beginning."""
        self.made.store.close()
        for left in self.folder.glob("depot.fleet*"):
            left.unlink()
        shutil.copy(self.base, self.folder / "depot.fleet")
        self.made = Kestrel(Store.open(self.folder / "depot.fleet"))

    def read(self, by: str, path: Path) -> None:
        """Have a reader read it."""
        self.asked += 1
        if self.asked % FRESH_EVERY == 0:
            assert self.made.store.verify().good
            self.store_again()
        self.readers[by](self.made, path, random.Random(self.asked))


@cache
def depot() -> _Depot:
    """The one of this process."""
    return _Depot()


def by_reader(by: str, name: str, data: bytes) -> None:
    """Have one of the readers read a file; a refusal has its words."""
    path = depot().folder / name
    path.write_bytes(data)
    try:
        depot().read(by, path)
    except FleetcareError as refused:
        assert str(refused)
    path.with_suffix(".fleet").unlink(missing_ok=True)


def packed(parts: Mapping[str, str | bytes]) -> bytes:
    """An archive of these parts, with checksums that are right."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, text in parts.items():
            packed.writestr(name, text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text)
    return out.getvalue()


def _members(whole: bytes) -> dict[str, str | bytes]:
    with zipfile.ZipFile(io.BytesIO(whole)) as packed:
        return {name: packed.read(name).decode() if _is_text(name) else packed.read(name) for name in packed.namelist()}


def _is_text(name: str) -> bool:
    return name.endswith((".xml", ".rels", ".jsonl", ".json", ".txt", "people.csv", "checks.csv", "pins.csv"))
