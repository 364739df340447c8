"""Pages of a finished PDF as pictures: for the preview, and for printers that take pictures."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

POINTS_PER_INCH = 72


@dataclass(frozen=True, slots=True)
class Picture:
    """One page, 8 bits a channel, `stride` bytes a row, top row first; red, green, blue, or grey alone."""

    width: int
    height: int
    stride: int
    data: bytes


class Pages:
    """The pages of the PDF at `path`; close it when done.  Use it from one thread only."""

    def __init__(self, path: Path) -> None:
        from pypdfium2 import PdfDocument

        self._document = PdfDocument(path)
        self.path = path

    def __len__(self) -> int:
        return len(self._document)

    def size(self, number: int) -> tuple[float, float]:
        """Width and height of page `number` (from 0) in points."""
        width, height = self._document.get_page_size(number)
        return float(width), float(height)

    def picture(self, number: int, dots_per_inch: float, *, grey: bool = False) -> Picture:
        """Page `number` (from 0) at a resolution."""
        page = self._document[number]
        bitmap = page.render(scale=dots_per_inch / POINTS_PER_INCH, grayscale=grey, rev_byteorder=True)
        made = Picture(bitmap.width, bitmap.height, bitmap.stride, bytes(bitmap.buffer))
        bitmap.close()
        page.close()
        return made

    def close(self) -> None:
        """Let go of the file."""
        self._document.close()
