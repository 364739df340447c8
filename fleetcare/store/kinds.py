"""Which packs have readings of a kind, without decoding a record."""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.domain.checks import CheckKind
from fleetcare.store.view import Reader

_AT_ONCE = 500


def packs_read_in_store(view: Reader, packs: Sequence[str]) -> list[str]:
    """Those of `packs`, in their order, with a stored reading known at the view's position."""
    found: set[str] = set()
    for start in range(0, len(packs), _AT_ONCE):
        part = list(packs[start : start + _AT_ONCE])
        places = ",".join("?" * len(part))
        rows = view._raw.execute(
            f"SELECT DISTINCT pack FROM voltage_check WHERE pack IN ({places}) AND kind = ? AND position <= ?",
            (*part, CheckKind.STORED.value, view.position),
        ).fetchall()
        found |= {pack for (pack,) in rows}
    return [code for code in packs if code in found]
