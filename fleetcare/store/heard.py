"""Statements of SQLite that take long, during which somebody is asked whether to go on."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

LOOK_EVERY = 50_000
"""So many steps of SQLite's own work between two looks, some milliseconds."""


@contextmanager
def heard(raw: Any, heartbeat: Callable[[], None]) -> Iterator[None]:
    """Within it `heartbeat` is called again and again; what it raises ends the statement and is raised here."""
    stopped: list[BaseException] = []

    def look() -> int:
        try:
            heartbeat()
        except BaseException as error:
            stopped.append(error)
        return len(stopped)

    raw.set_progress_handler(look, LOOK_EVERY)
    try:
        yield
    except sqlite3.OperationalError:
        if stopped:
            raise stopped[0] from None
        raise
    finally:
        raw.set_progress_handler(None, 0)
