"""How wide the columns of a table are: as wide as what stands in them where there is room, else the wordy ones wrap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics

from fleetcare.ui.widgets.badge import CELL_MARGIN

MOST_LINES = 40
"""No cell is broken into more lines; its column is then as wide as its longest word."""
RAGGED = 1.15
"""Lines of whole words fill their column only in part: what a text needs more than its length divided by its lines."""
SHARES = (1.0, 0.9, 0.75, 0.5)
"""Shares of a list's cells by which its widths are tried."""
LINES_TRIED = range(2, 7)
"""Lines into which all cells of most rows are tried to go."""
ROWS_TRIED = 60
"""Rows whose words decide that: more are not in sight together, and measuring them all would be seen."""
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
    what it has where there is room to spare; `stretch` takes what is then left.  Where the room is too small, the
    longest texts wrap into as few lines as do (one more where that keeps short ones like dates whole), no column below its
    least; where even the least is more than `room`, the sum is.
    """
    if sum(wanted) <= room:
        widths = _raised(wanted, usual, room)
        widths[stretch] += max(room - sum(widths), 0)
        return widths
    whole = [want if want <= room // len(wanted) else few for want, few in zip(wanted, least, strict=True)]
    kept, broken_up = _lines_needed(wanted, whole, room), _lines_needed(wanted, least, room)
    if kept <= broken_up + 1 <= MOST_LINES:
        widths = _broken_into(kept, wanted, whole)
    else:
        widths = _broken_into(broken_up, wanted, least) if broken_up <= MOST_LINES else list(least)
    spare = room - sum(widths)
    for number in sorted(range(len(widths)), key=lambda one: wanted[one] - widths[one]):
        lack = wanted[number] - widths[number]
        if 0 < lack <= spare:
            widths[number], spare = wanted[number], spare - lack
    widths[stretch] += max(spare, 0)
    return widths


@dataclass(frozen=True, slots=True)
class Need:
    """What a column asks for: its cells row by row, "" for a badge, with their pixels in one line, and those of heading or
    badges."""

    texts: Sequence[str]
    cells: Sequence[int]
    whole: int

    def of_share(self, share: float) -> int:
        """The width in which this share of its cells stand in one line, and the heading."""
        rising = sorted(self.cells)
        return max([self.whole, *rising[: ceil(share * len(rising))][-1:]])


def lowest(
    metrics: QFontMetrics, needs: Sequence[Need], least: Sequence[int], usual: Sequence[int], room: int, stretch: int
) -> list[int]:
    """Of widths that go by the longest cells, or by most of them, those that make all rows together the least high.

    A few long reasons then do not press what stands in every row into many lines.  Where anything has to wrap, the widths are
    tried as well in which most rows have just two lines, three and so on: a column that needs little leaves its room to others.
    """
    wanted = [[max(one.of_share(share), few) for one, few in zip(needs, least, strict=True)] for share in SHARES]
    if sum(wanted[0]) <= room:
        return fitted(wanted[0], least, usual, room, stretch)
    tried = [fitted(one, least, usual, room, stretch) for one in wanted]
    tried += _in_equal_lines(metrics, needs, least, room, stretch)
    return min(tried, key=lambda widths: _height_of_all(metrics, needs, widths))


def _in_equal_lines(
    metrics: QFontMetrics, needs: Sequence[Need], least: Sequence[int], room: int, stretch: int
) -> list[list[int]]:
    """For each share of the rows the widths in which every cell goes into the fewest lines for which there is room."""
    broken_up = [_broken_up(metrics, need) for need in needs]
    space, shares, found = metrics.horizontalAdvance(" "), list(SHARES), []
    for lines in LINES_TRIED:
        each = [sorted(_width_in(cell, lines, space) for cell in cells) for cells in broken_up]
        for share in list(shares):
            widths = [
                max([few, *(one + CELL_AIR for one in rising[: ceil(share * len(rising))][-1:])])
                for rising, few in zip(each, least, strict=True)
            ]
            if sum(widths) <= room:
                found.append(_spread(widths, needs, room, stretch))
                shares.remove(share)
        if not shares:
            break
    return found


def _broken_up(metrics: QFontMetrics, need: Need) -> list[list[int]]:
    """The pixels of the words of each cell."""
    known: dict[str, int] = {}
    cells = []
    for text in need.texts[:ROWS_TRIED]:
        words = text.split(" ")
        for word in words:
            if word not in known:
                known[word] = metrics.horizontalAdvance(word)
        cells.append([known[word] for word in words])
    return cells


def _width_in(words: Sequence[int], lines: int, space: int) -> int:
    """The smallest width in which the words go into so many lines."""
    low, high = max(words), sum(words) + space * (len(words) - 1)
    low = max(low, high // lines)
    while low < high:
        middle = (low + high) // 2
        count, at = 1, -space
        for word in words:
            if at + space + word <= middle:
                at += space + word
            else:
                count, at = count + 1, word
        if count <= lines:
            high = middle
        else:
            low = middle + 1
    return high


def _spread(widths: Sequence[int], needs: Sequence[Need], room: int, stretch: int) -> list[int]:
    """What is left over goes to columns that then stand in one line, those that lack least first, and to `stretch`."""
    made, spare = list(widths), room - sum(widths)
    wanted = [one.of_share(1.0) for one in needs]
    for number in sorted(range(len(made)), key=lambda one: wanted[one] - made[one]):
        lack = wanted[number] - made[number]
        if 0 < lack <= spare:
            made[number], spare = wanted[number], spare - lack
    made[stretch] += spare
    return made


def _height_of_all(metrics: QFontMetrics, needs: Sequence[Need], widths: Sequence[int]) -> int:
    """Pixels of the first rows together, each as high as the cell that wraps into the most lines."""
    line = metrics.height()
    columns = [
        [
            line if cell <= width else wrapped_height(metrics, text, width - CELL_AIR)
            for text, cell in zip(need.texts[:ROWS_TRIED], need.cells, strict=False)
        ]
        for need, width in zip(needs, widths, strict=True)
    ]
    return sum(map(max, zip(*columns, strict=True)))


def _lines_needed(wanted: Sequence[int], least: Sequence[int], room: int) -> int:
    """The fewest lines into which the longest texts have to wrap; one more than MOST_LINES where none suffice."""
    tried = range(2, MOST_LINES + 1)
    return next((n for n in tried if sum(_broken_into(n, wanted, least)) <= room), MOST_LINES + 1)


def _broken_into(lines: int, wanted: Sequence[int], least: Sequence[int]) -> list[int]:
    """What each column needs for its longest text in so many lines, none below its least."""
    return [max(round(want * RAGGED / lines), few) for want, few in zip(wanted, least, strict=True)]


def _raised(wanted: Sequence[int], usual: Sequence[int], room: int) -> list[int]:
    """Each column towards its usual width, in the measure of the room, so that a table keeps its shape as rows change."""
    lacking = [max(width - want, 0) for want, width in zip(wanted, usual, strict=True)]
    spare = room - sum(wanted)
    share = min(spare / sum(lacking), 1.0) if any(lacking) else 0.0
    return [want + int(share * lack) for want, lack in zip(wanted, lacking, strict=True)]
