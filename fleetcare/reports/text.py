"""Text on paper: real fonts, embedded, and what people typed never taken for markup."""

from __future__ import annotations

from functools import lru_cache
from xml.sax.saxutils import escape

from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Paragraph

from fleetcare.resource_files import font_file

REGULAR, BOLD = "FleetText", "FleetText-Bold"
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


def printable(text: str) -> str:
    """`text` with what cannot be printed made visible: U+4E2D for a letter that the font lacks."""
    register()
    known = pdfmetrics.getFont(REGULAR).face.charToGlyph
    out = []
    for character in text:
        if character in "\n\t":
            out.append(" ")
        elif ord(character) < 32 or 0x7F <= ord(character) < 0xA0 or ord(character) in _DIRECTION:
            out.append(f"[U+{ord(character):04X}]")
        else:
            out.append(character if ord(character) in known else f"[U+{ord(character):04X}]")
    return "".join(out)


_DIRECTION = frozenset((*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0x200E, 0x200F))


@lru_cache(maxsize=64)
def style(
    size: float, *, bold: bool = False, quiet: bool = False, right: bool = False, after: float = 0
) -> ParagraphStyle:
    """A paragraph style of the sheets."""
    register()
    grey = QUIET if quiet else 0.0
    made = ParagraphStyle(
        f"s{size}{bold}{quiet}{right}{after}", fontName=BOLD if bold else REGULAR, fontSize=size, leading=size * 1.3,
        textColor=(grey, grey, grey), spaceAfter=after, splitLongWords=True,
    )  # fmt: skip
    if right:
        made.alignment = TA_RIGHT
    return made


def para(
    text: str, size: float = 9, *, bold: bool = False, quiet: bool = False, right: bool = False, after: float = 0,
    struck: bool = False,
) -> Paragraph:  # fmt: skip
    """A paragraph of plain text; the only place where a Paragraph is made."""
    safe = escape(printable(text))
    if struck:
        safe = f"<strike>{safe}</strike>"
    return Paragraph(safe, style(size, bold=bold, quiet=quiet, right=right, after=after))
