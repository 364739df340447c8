"""Keeping: old spreadsheets in, imports so far, backups."""

from __future__ import annotations

from PySide6.QtWidgets import QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.wording import word
from fleetcare.ui.changes import Changes
from fleetcare.ui.keeping.backups_page import BackupsPage
from fleetcare.ui.keeping.imports_page import ImportsPage
from fleetcare.ui.keeping.sheets_page import SheetsPage
from fleetcare.ui.session import Session


class KeepingScreen(QWidget):
    """One page for each of the three."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self.sheets = SheetsPage(app, session, changes)
        self.imports = ImportsPage(app, session, changes)
        self.backups = BackupsPage(app)
        self.pages = QTabWidget()
        self.pages.addTab(self.sheets, word("oldsheet.title"))
        self.pages.addTab(self.imports, word("oldsheet.imports"))
        self.pages.addTab(self.backups, word("backup.title"))
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 8, 12, 4)
        outer.addWidget(self.pages)
        self.sheets.brought.connect(self.imports.refresh)

    def refresh(self) -> None:
        """Read what may have changed elsewhere."""
        self.imports.refresh()
        self.backups.refresh()
