"""Text on paper: real fonts, embedded, and what people typed never taken for markup.

A run of letters takes the first shipped font that has them: the sheet's own, then the wide one
(Chinese, Japanese, Korean).  Lines with letters that run from right to left are put in the order in
which they are read (Unicode Annex 9), after they were broken to lines; what a sentence sets apart
(`apart` in the wording) stays apart, and the marks that say so are neither measured nor drawn.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import groupby
from typing import Any
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Paragraph

from fleetcare.domain.wording import AS_BEFORE, BEFORE_UNIT, LEFT_TO_RIGHT, RIGHT_TO_LEFT
from fleetcare.resource_files import font_file

REGULAR, BOLD, WIDE = "FleetText", "FleetText-Bold", "FleetText-Wide"
FONT = ("FONT", (0, 0), (-1, -1), REGULAR)
"""Table command that keeps reportlab's own unembedded default font out of the file."""

QUIET = 0.35
"""Grey of secondary text, 0 black to 1 white; 7:1 on white, so it survives a photocopy."""


@lru_cache(maxsize=1)
def register() -> None:
    """Make the shipped fonts known to reportlab, once."""
    pdfmetrics.registerFont(TTFont(REGULAR, str(font_file("DejaVuSans.ttf"))))
    pdfmetrics.registerFont(TTFont(BOLD, str(font_file("DejaVuSans-Bold.ttf"))))
    pdfmetrics.registerFontFamily(REGULAR, normal=REGULAR, bold=BOLD, italic=REGULAR, boldItalic=BOLD)


@lru_cache(maxsize=4)
def _glyphs(font: str) -> Any:
    """The letters that a font has, by code point; the wide font is read when first needed."""
    register()
    if font == WIDE:
        pdfmetrics.registerFont(TTFont(WIDE, str(font_file("DroidSansFallback.ttf"))))
        pdfmetrics.registerFontFamily(WIDE, normal=WIDE, bold=WIDE, italic=WIDE, boldItalic=WIDE)
    return pdfmetrics.getFont(font).face.charToGlyph


_DIRECTION = frozenset((*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F))
_BACKWARDS = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff]")
"""Letters that run from right to left and that the shipped fonts have."""
_APART = re.compile("[\u2066\u2067]([^\u202a-\u202e\u2066-\u2069]*)\u2069")
_MARKED = re.compile("[\u2066\u2067\u2069]")
_OPENED = (LEFT_TO_RIGHT, RIGHT_TO_LEFT)
_NOT_DRAWN = dict.fromkeys(map(ord, (*_OPENED, AS_BEFORE)))
_BOUND = "\x00"
"""Stands for such a space while lines are broken; no printable text has it."""
_LACKING = re.compile(r"\[U\+[0-9A-F]{4,6}\]")


@lru_cache(maxsize=4096)
def _shown(character: str) -> str:
    """One character as it is printed: itself, a space, or its number."""
    code = ord(character)
    if character in "\n\t":
        return " "
    hidden = code < 32 or 0x7F <= code < 0xA0 or code in _DIRECTION or code == 0xFEFF
    known = not hidden and (code in _glyphs(REGULAR) or code in _glyphs(WIDE))
    return character if known else f"[U+{code:04X}]"


def visible(text: str) -> str:
    """`text` with what cannot be printed made visible: U+1F525 for a letter that no shipped font has."""
    if text.isascii() and text.isprintable():
        return text
    text = unicodedata.normalize("NFC", text)
    shown, at = [], 0
    for found in _APART.finditer(text):
        inside = "".join(map(_shown, found[1]))
        if _BACKWARDS.search(inside):
            shown += [*map(_shown, text[at : found.start()]), found[0][0], inside, AS_BEFORE]
            at = found.end()
    return "".join([*shown, *map(_shown, text[at:])])


def printable(text: str) -> str:
    """`visible` text with letters joined as their script asks, in the order in which they are stored."""
    shown = visible(text)
    if shown.isascii() or not _BACKWARDS.search(shown):
        return shown
    from arabic_reshaper import reshape

    return str(reshape(shown))


def in_reading_order(line: str) -> str:
    """One printed line with its right-to-left words turned; a line without any is unchanged."""
    if line.isascii() or not (_BACKWARDS.search(line) or _MARKED.search(line)):
        return line
    from bidi import get_display

    return str(get_display(line, base_dir="L")).translate(_NOT_DRAWN)


def lacking(texts: Iterable[str]) -> tuple[str, ...]:
    """The numbers that stand in `texts` for letters that no shipped font has, in order."""
    return tuple(sorted({found for text in texts for found in _LACKING.findall(text)}))


@lru_cache(maxsize=4096)
def _font_of(character: str, font: str) -> str:
    code = ord(character)
    return next((one for one in (font, REGULAR, WIDE) if code in _glyphs(one)), font)


def runs(text: str, font: str) -> list[tuple[str, str]]:
    """`text` in pieces, each with the font that has its letters."""
    if text.isascii():
        return [(font, text)]
    return [(name, "".join(part)) for name, part in groupby(text, lambda one: _font_of(one, font))]


@lru_cache(maxsize=2048)
def width(text: str, font: str, size: float) -> float:
    """How wide printable `text` is, in points; the words of a table come again and again."""
    drawn = text if text.isascii() else text.translate(_NOT_DRAWN)
    return float(sum(pdfmetrics.stringWidth(part, name, size) for name, part in runs(drawn, font)))


def draw(canvas: Canvas, x: float, y: float, text: str, font: str, size: float, side: str = "left") -> None:
    """Draw one line of printable text; `side` is which end of it stands at `x` ("left", "middle", "right")."""
    line = in_reading_order(text)
    if side != "left":
        x -= width(line, font, size) / (2 if side == "middle" else 1)
    for name, part in runs(line, font):
        if (canvas._fontname, canvas._fontsize) != (name, size):
            canvas.setFont(name, size)
        canvas.drawString(x, y, part)
        x += pdfmetrics.stringWidth(part, name, size)


def wrap(text: str, font: str, size: float, room: float) -> list[str]:
    """Printable `text` in lines no wider than `room` points; a word that is too long is broken.

    A figure stays with its unit (SI Brochure: the two are one expression), and a day with its month.
    """
    return list(_wrapped(text, font, size, room))


@lru_cache(maxsize=1024)
def _wrapped(text: str, font: str, size: float, room: float) -> tuple[str, ...]:
    """The lines; a sheet asks for those of a text when it measures and again when it draws."""
    lines: list[str] = []
    line, left = "", room
    space = width(" ", font, size)
    for part in BEFORE_UNIT.sub(_BOUND, text).split(" "):
        if _BOUND in part:
            part = part.replace(_BOUND, " ")
        wide = width(part, font, size)
        if line and wide + space <= left:
            line, left = f"{line} {part}", left - wide - space
            continue
        if line:
            lines.append(line)
        while wide > room:
            cut = _fitting(part, font, size, room)
            lines.append(part[:cut])
            part = part[cut:]
            wide = width(part, font, size)
        line, left = part, room - wide
    lines.append(line)
    return tuple(lines if text.isascii() or AS_BEFORE not in text else _closed(lines))


def _closed(lines: list[str]) -> Iterator[str]:
    """Lines in each of which what is set apart is closed, and opened again on the next."""
    opened = ""
    for line in lines:
        line = opened + line
        last = max(line.rfind(mark) for mark in _OPENED)
        opened = line[last] if last > line.rfind(AS_BEFORE) else ""
        yield line + AS_BEFORE if opened else line


def _fitting(part: str, font: str, size: float, room: float) -> int:
    """How many letters of `part` fit into `room`; at least one."""
    cut = len(part)
    while cut > 1 and (wide := width(part[:cut], font, size)) > room:
        cut = min(cut - 1, max(1, int(cut * room / wide)))
    return cut


@lru_cache(maxsize=64)
def style(
    size: float, *, bold: bool = False, quiet: bool = False, right: bool = False, after: float = 0, hang: bool = False
) -> ParagraphStyle:
    """A paragraph style of the sheets."""
    register()
    grey = QUIET if quiet else 0.0
    made = ParagraphStyle(
        f"s{size}{bold}{quiet}{right}{after}{hang}", fontName=BOLD if bold else REGULAR, fontSize=size, leading=size * 1.3,
        textColor=(grey, grey, grey), spaceAfter=after, splitLongWords=True,
        leftIndent=size if hang else 0, firstLineIndent=-size if hang else 0,
    )  # fmt: skip
    if right:
        made.alignment = TA_RIGHT
    return made


def _markup(text: str, font: str) -> str:
    parts = []
    for name, part in runs(text, font):
        safe = escape(part).replace("  ", "\u00a0 ")
        parts.append(safe if name == font else f'<font name="{name}">{safe}</font>')
    return "".join(parts)


class _Turned(Paragraph):
    """A paragraph with right-to-left words: broken to lines first, then each line turned."""

    told: tuple[str, str, str] | None = None
    """The text and the markup around it, until it is known how wide the lines are."""

    def wrap(self, room: float, height: float) -> tuple[float, float]:
        if self.told is not None:
            before, text, after = self.told
            font, size = self.style.fontName, self.style.fontSize
            lines = [_markup(in_reading_order(one), font) for one in wrap(text, font, size, room - 1)]
            self._setup(f"{before}{'<br/>'.join(lines)}{after}", self.style, None, None, lambda markup: markup)
        return super().wrap(room, height)  # type: ignore[no-any-return]


def para(
    text: str, size: float = 9, *, bold: bool = False, quiet: bool = False, right: bool = False, after: float = 0,
    struck: bool = False, hang: bool = False,
) -> Paragraph:  # fmt: skip
    """A paragraph of plain text; the only place where a Paragraph is made.

    With `hang` its later lines stand in from the first, as in a list.
    """
    shown = BEFORE_UNIT.sub("\u00a0", printable(text))
    how = style(size, bold=bold, quiet=quiet, right=right, after=after, hang=hang)
    before, close = ("<strike>", "</strike>") if struck else ("", "")
    if not shown.isascii() and _BACKWARDS.search(shown):
        made = _Turned(_markup(shown, how.fontName), how)
        made.told = (before, shown, close)
        return made
    return Paragraph(f"{before}{_markup(shown, how.fontName)}{close}", how)
