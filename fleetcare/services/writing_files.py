"""Files that people take away: a new one appears whole, or the old one stays."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fleetcare.domain.errors import FileRefused


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A path beside `path` to write to; it takes the place of `path` when the block ends normally.

    FileRefused when the disk is full, the folder is missing or may not be written; any exception
    removes what was begun.
    """
    fresh = path.with_name(path.name + ".new")
    try:
        yield fresh
        os.replace(fresh, path)
    except BaseException as error:
        if path.parent.is_dir():
            fresh.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise FileRefused("paper.not_written", path=str(path), why=str(error.strerror or error)) from error
        raise


def write_whole(path: Path, data: bytes) -> None:
    """Write `data` to `path`, or leave what is there; FileRefused when it cannot be written."""
    with whole_file(path) as fresh, fresh.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
