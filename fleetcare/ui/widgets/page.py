"""What a screen of tabs asks of each of its pages."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget


class Page(QWidget):
    """One tab's page.  One that `scrolls_itself` is not put into a scroll area; one that does not follow changes is
    read again only when it is shown, since a form under way may not move."""

    scrolls_itself = False
    follows_changes = True

    def refresh(self) -> None:
        """Read again what the page shows."""

    def take(self, thing_class: str, code: str) -> bool:
        """A scanned code; False where this page has no field for it."""
        return False
