"""Backups and restores: dated, read through, thinned out by age, and told apart from what is newer on paper."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from fleetcare.domain import fingerprint
from fleetcare.domain.errors import EntryRefused, FileRefused
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.wording import Message, msg
from fleetcare.services.session import Clock
from fleetcare.store.acknowledged import END, forget
from fleetcare.store.backups import Examined, copy_file, examine, head_at
from fleetcare.store.store import Store

DAYS, WEEKS, MONTHS = 14, 8, 24
"""How many days, weeks and months keep their last backup (proposal of this program)."""

_STAMP = re.compile(r"-(\d{8}-\d{6})\.fleet")
_FORM = "%Y%m%d-%H%M%S"


@dataclass(frozen=True, slots=True)
class Backed:
    """A backup that was made and read through; `second` is the copy at the second place, if any."""

    path: Path
    examined: Examined
    second: Path | None
    removed: tuple[Path, ...]
    trouble: Message | None


@dataclass(frozen=True, slots=True)
class Looked:
    """What a backup holds, and how it stands to a fingerprint printed on paper."""

    examined: Examined
    proof: Message | None
    missing: int
    may_restore: bool


def folder_of(store: Store) -> Path:
    """Where this fleet's backups are kept unless another folder is given: beside the file."""
    return store.path.parent / f"{store.path.stem}-backups"


def back_up(store: Store, clock: Clock, folder: Path | None = None, second: Path | None = None) -> Backed:
    """Make one backup while the fleet is in use, read it through, copy it to the second place, thin out old ones.

    A copy that does not verify is kept under another name and nothing is thinned out; FileRefused
    says so.  Trouble at the second place is told, and does not undo the first.
    """
    folder = folder or folder_of(store)
    path = folder / f"{store.path.stem}-{clock():{_FORM}}.fleet"
    copy_file(store.path, path)
    examined = examine(path)
    if not examined.good:
        bad = path.with_suffix(".damaged")
        path.replace(bad)
        raise FileRefused("backup.not_good", path=str(bad), why=examined.faults[0])
    removed = thin_out(folder, store.path.stem)
    copied, trouble = None, None
    if second is not None:
        try:
            copied = second / path.name
            copy_file(path, copied)
            if examine(copied).head != examined.head:
                raise FileRefused("backup.second_differs", path=str(copied))
            removed += thin_out(second, store.path.stem)
        except FileRefused as error:
            copied, trouble = None, error.message
    return Backed(path, examined, copied, removed, trouble)


def is_due(store: Store, clock: Clock, folder: Path | None = None) -> bool:
    """True when something was recorded since the newest backup and that one is not of today.

    EntryRefused while the clock is in doubt: a backup's name is its moment.
    """
    now = clock()
    kept = backups_in(folder or folder_of(store), store.path.stem)
    if not kept:
        return True
    newest = max(kept)
    if newest.date() == now.replace(tzinfo=None).date():
        return False
    with store.view() as view:
        last = view.record_at(view.position)
    return last is not None and last.entered_at.astimezone(now.tzinfo).replace(tzinfo=None) > newest


def backups_in(folder: Path, stem: str) -> dict[dt.datetime, Path]:
    """Backups of the fleet file called `stem`, by the moment in their names."""
    found = {}
    for path in folder.glob(f"{stem}-*.fleet") if folder.is_dir() else ():
        stamp = _STAMP.fullmatch(path.name.removeprefix(stem))
        if stamp:
            found[dt.datetime.strptime(stamp.group(1), _FORM)] = path
    return found


def to_keep(moments: Iterable[dt.datetime]) -> set[dt.datetime]:
    """Which backups stay: the last of each of the newest 14 days, 8 weeks and 24 months that have one."""
    newest = sorted(moments, reverse=True)
    kept: set[dt.datetime] = set()
    for count, period in (
        (DAYS, lambda m: m.date()),
        (WEEKS, lambda m: m.isocalendar()[:2]),
        (MONTHS, lambda m: (m.year, m.month)),
    ):
        last: dict[object, dt.datetime] = {}
        for one in newest:
            last.setdefault(period(one), one)
        kept |= set(list(last.values())[:count])
    return kept


def thin_out(folder: Path, stem: str) -> tuple[Path, ...]:
    """Remove the backups that need not be kept; only files with this program's dated names are touched."""
    found = backups_in(folder, stem)
    keep = to_keep(found)
    removed = []
    for moment, path in sorted(found.items()):
        if moment not in keep:
            path.unlink()
            removed.append(path)
    return tuple(removed)


# restore


def look(backup: Path, printed: str = "") -> Looked:
    """Read a backup through; `printed` is a fingerprint from paper, "1a2b 3c4d 5e6f 7a8b · 3412" (or empty)."""
    examined = examine(backup)
    if not printed.strip():
        return Looked(examined, None, 0, examined.good)
    digits, size = parse_printed(printed)
    if not examined.good:
        return Looked(examined, None, 0, False)
    if size > examined.records:
        missing = size - examined.records
        return Looked(examined, msg("backup.older_than_paper", missing=missing, size=size), missing, True)
    here: Head = head_at(backup, size)
    if here.root_hex[:16] == digits:
        added = examined.records - size
        if added:
            return Looked(examined, msg("backup.contains_paper", fingerprint=here.short, count=added), 0, True)
        return Looked(examined, msg("backup.equals_paper", fingerprint=here.short), 0, True)
    return Looked(examined, msg("backup.not_paper", here=here.short), 0, False)


def parse_printed(text: str) -> tuple[str, int]:
    """The sixteen digits and the number of records of a printed fingerprint."""
    found = fingerprint.parse_printed(text)
    if found is None:
        raise EntryRefused("backup.printed_form", field="printed", typed=text.strip()[:60])
    return found[0][:16], found[1]


def restore(backup: Path, target: Path, printed: str = "") -> Looked:
    """Put a backup in place as `target`.  Refused when something stands there, when the backup is
    damaged (the first bad record is named) or when it contradicts a printed fingerprint."""
    if target.exists():
        raise FileRefused("file.exists", path=str(target))
    found = look(backup, printed)
    if not found.examined.good:
        raise FileRefused("backup.damaged", path=str(backup), why=found.examined.faults[0])
    if not found.may_restore:
        assert found.proof is not None
        raise FileRefused("backup.contradicts", why=found.proof)
    forget(target)
    copy_file(backup, target)
    again = examine(target)
    if again.head != found.examined.head:
        raise FileRefused("backup.not_good", path=str(target), why=msg("backup.differs"))
    return found


def newest_backup(fleet: Path) -> Path | None:
    """The newest backup of a fleet file, which itself need not be readable: from its folder of backups, or
    what was rescued when it went away while it was open."""
    found = backups_in(fleet.parent / f"{fleet.stem}-backups", fleet.stem)
    found |= backups_in(fleet.parent, f"{fleet.stem}-rescued")
    return found[max(found)] if found else None


def take_place(restored: Path, fleet: Path, clock: Clock) -> Path:
    """Give a restored file the place and name of a damaged one, which is kept; returns where it is kept."""
    kept = fleet.with_name(f"{fleet.stem}-damaged-{clock():{_FORM}}.fleet")
    try:
        for end in ("", "-wal", "-shm", END):
            old = fleet.with_name(fleet.name + end)
            if old.exists():
                if kept.with_name(kept.name + end).exists():
                    raise FileRefused("file.exists", path=str(kept))
                old.rename(kept.with_name(kept.name + end))
        restored.rename(fleet)
    except OSError as error:
        raise FileRefused("file.not_writable", path=str(fleet), why=str(error.strerror or error)) from error
    return kept
