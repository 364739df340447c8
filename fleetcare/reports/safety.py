"""Safety notes by kind of work, each with its authority or marked as common practice.

The statements are data, in `resources/safety/notes.toml`, so that a site's adviser can read them in
one place.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

from fleetcare.resource_files import shipped


@dataclass(frozen=True, slots=True)
class Note:
    """One statement and where it comes from."""

    statement: str
    source: str


PRACTICE = "common practice, no source"
WORK = ("check", "round", "storage", "quarantine", "handover", "recall")


def notes_for(work: str) -> tuple[Note, ...]:
    """The notes that belong to a kind of work (one of WORK), in their order."""
    data = tomllib.loads((shipped("resources") / "safety" / "notes.toml").read_text("utf-8"))
    return tuple(Note(one["statement"], one["source"]) for one in data["note"] if work in one["work"])


NOTES = notes_for("check")
"""The notes of the bench."""
