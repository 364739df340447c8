"""Text that Qt might take for markup, shown letter by letter: tips and message boxes guess what they are given."""

from __future__ import annotations

from html import escape

from PySide6.QtGui import Qt


def literal(text: str) -> str:
    """`text` as it is, or, where it would be taken for markup (a name with <b> in it), so that every letter shows."""
    if not Qt.mightBeRichText(text):
        return text
    return f"<qt>{escape(text)}</qt>".replace("\n", "<br>")
