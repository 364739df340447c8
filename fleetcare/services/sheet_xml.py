"""The XML inside a spreadsheet, read part by part: nothing of it is kept but what the reader asks for.

A part is fed, what it brought is handed on, and the caller is asked in between whether to go on.  A document type
(and with it every entity) is refused: neither format has one, and small ones can unfold without end.
"""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Iterator
from xml.parsers import expat

PART = 1 << 16
LONGEST_CELL = 1 << 20
LAST_ROW = 1 << 24
LARGEST_UNPACKED = 8 << 30

Heartbeat = Callable[[], None]
"""Called many times a second while a file is read; what it raises ends the reading."""

Told = Callable[[int, int], None]
"""Called with the parts of a file that are read, and all of its parts (0 while nobody knows)."""


def no_heartbeat() -> None:
    """Go on."""


def untold(_parts: int, _of: int) -> None:
    """Nobody waits for it."""


def fed(parser: expat.XMLParserType, packed: zipfile.ZipFile, member: str, heartbeat: Heartbeat) -> Iterator[None]:
    """Feed `member` to `parser`, with a pause after each part in which the caller may take what was found."""
    parser.StartDoctypeDeclHandler = _no_document_type
    parser.buffer_text = True
    with packed.open(member) as stream:
        while part := stream.read(PART):
            heartbeat()
            parser.Parse(part, False)
            yield
        parser.Parse(b"", True)
        yield


def _no_document_type(*_told: object) -> None:
    raise ValueError("it has a document type, which no spreadsheet has")


class Text:
    """The text of one cell as it comes in pieces."""

    __slots__ = ("_pieces", "_size")

    def __init__(self) -> None:
        self._pieces: list[str] = []
        self._size = 0

    def add(self, piece: str) -> None:
        """One more piece; ValueError for a cell longer than any program writes."""
        self._size += len(piece)
        if self._size > LONGEST_CELL:
            raise ValueError(f"a cell of more than {LONGEST_CELL} letters")
        self._pieces.append(piece)

    def taken(self) -> str:
        """All of it; the next cell begins empty."""
        whole = "".join(self._pieces)
        self._pieces.clear()
        self._size = 0
        return whole
