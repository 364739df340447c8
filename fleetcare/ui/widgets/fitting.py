"""How wide the columns of a table are: as wide as what stands in them where there is room, else the wordy ones wrap."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics

from fleetcare.ui.widgets.badge import CELL_MARGIN

CELL_AIR = 2 * CELL_MARGIN + 8
"""What a cell needs beside its text: the table's own margins and the style's."""


def wrapped_height(metrics: QFontMetrics, text: str, width: int) -> int:
    """Pixels that `text` is high when its words wrap in `width`."""
    flags = int(Qt.TextFlag.TextWordWrap.value)
    return metrics.boundingRect(0, 0, max(width, 1), 100_000, flags, text).height()


def broken(metrics: QFontMetrics, text: str, width: int) -> str:
    """`text` in lines of at most `width` pixels, one word a line at least."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and metrics.horizontalAdvance(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return "\n".join(lines)


def fitted(wanted: Sequence[int], least: Sequence[int], usual: Sequence[int], room: int, stretch: int) -> list[int]:
    """Pixels for each column in `room`.

    `wanted` holds a column's longest text in one line, `least` its longest word (its text where it cannot wrap), `usual`
    what it has where there is room to spare; `stretch` takes what is then left.  Where the room is too small the widest
    are brought down alike, none below its least; where even that is more than `room`, the sum is.
    """
    if sum(wanted) <= room:
        widths = _raised(wanted, usual, room)
        widths[stretch] += max(room - sum(widths), 0)
        return widths
    low, high = 0, max(wanted)
    while low < high:
        middle = (low + high + 1) // 2
        if sum(_levelled(wanted, least, middle)) <= room:
            low = middle
        else:
            high = middle - 1
    widths = _levelled(wanted, least, low)
    widths[stretch] += max(room - sum(widths), 0)
    return widths


def _levelled(wanted: Sequence[int], least: Sequence[int], level: int) -> list[int]:
    return [max(min(want, level), few) for want, few in zip(wanted, least, strict=True)]


def _raised(wanted: Sequence[int], usual: Sequence[int], room: int) -> list[int]:
    """Each column towards its usual width, in the measure of the room, so that a table keeps its shape as rows change."""
    lacking = [max(width - want, 0) for want, width in zip(wanted, usual, strict=True)]
    spare = room - sum(wanted)
    share = min(spare / sum(lacking), 1.0) if any(lacking) else 0.0
    return [want + int(share * lack) for want, lack in zip(wanted, lacking, strict=True)]
