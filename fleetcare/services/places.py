"""Where a file lies: on this PC's own disk or on a share, where SQLite's locks cannot be relied on.

Source: the SQLite documentation, "Use Of The SQLite Database Over A Network": file locking of many
network file systems is faulty, and a write-ahead log needs shared memory on one machine.
"""

from __future__ import annotations

import sys
from pathlib import Path

_MOUNTED = "fuse."
"""Prefix of file systems that a program mounts."""
NETWORK = frozenset({"nfs", "nfs4", "cifs", "smb3", "smbfs", _MOUNTED + "sshfs", "9p", "afs", "ceph", "glusterfs", "webdav",
                     "davfs", _MOUNTED + "davfs2", "ncpfs"})  # fmt: skip
_REMOTE_DRIVE = 4


def network_kind(path: Path, mounts: Path = Path("/proc/mounts")) -> str | None:
    """The kind of network drive that `path` lies on, or None for a local one or where nobody can tell."""
    whole = path.resolve()
    if sys.platform == "win32":
        import ctypes

        if str(whole).startswith("\\\\"):
            return "share"
        return "share" if ctypes.windll.kernel32.GetDriveTypeW(whole.anchor) == _REMOTE_DRIVE else None
    if not mounts.is_file():
        return None
    best, kind = -1, ""
    for line in mounts.read_text("utf-8", "replace").splitlines():
        parts = line.split()
        if len(parts) < 3:
            continue
        at = Path(parts[1].replace("\\040", " "))
        if (whole == at or at in whole.parents) and len(at.parts) >= best:
            best, kind = len(at.parts), parts[2]
    return kind if kind in NETWORK else None
