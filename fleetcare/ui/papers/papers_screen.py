"""Everything that leaves the program on paper or as a file, and the proof that it is genuine."""

from __future__ import annotations

from PySide6.QtWidgets import QTabWidget, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.wording import word
from fleetcare.ui.changes import Changes
from fleetcare.ui.papers.history_panel import HistoryPanel
from fleetcare.ui.papers.labels_panel import LabelsPanel
from fleetcare.ui.papers.policy_panel import PolicyPanel
from fleetcare.ui.papers.proof_panel import ProofPanel
from fleetcare.ui.papers.rules_panel import RulesPanel
from fleetcare.ui.papers.sheets_panel import SheetsPanel
from fleetcare.ui.session import Session


class PapersScreen(QWidget):
    """One tab for each kind of paper, and one for proof."""

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self.history = HistoryPanel(app, session, changes)
        self.proof = ProofPanel(app, session, changes)
        self.labels = LabelsPanel(app, session, changes)
        self.sheets = SheetsPanel(app, session, changes)
        self.policy = PolicyPanel(app, session, changes)
        self.rules = RulesPanel(app, session, changes)
        self.tabs = QTabWidget()
        self.tabs.addTab(self.history, word("papers.history"))
        self.tabs.addTab(self.sheets, word("papers.sheets"))
        self.tabs.addTab(self.proof, word("proof.screen"))
        self.tabs.addTab(self.labels, word("papers.labels"))
        self.tabs.addTab(self.policy, word("papers.policy"))
        self.tabs.addTab(self.rules, word("papers.rules"))
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 12, 8)
        column.addWidget(self.tabs)
        self.tabs.currentChanged.connect(lambda _i: self.refresh())

    def show_sheet(self, kind: str, code: str = "") -> None:
        """Show a kind of sheet, of `code` where it is of one thing, and make it."""
        self.tabs.setCurrentWidget(self.sheets)
        self.sheets.choose(kind)
        self.sheets.code.edit.setText(code)
        self.sheets.make()

    def take_scan(self, text: str) -> bool:
        """A scanned code goes to the history or the sheet that is shown; False when neither takes it."""
        shown = self.tabs.currentWidget()
        return shown in (self.history, self.sheets, self.labels) and shown.take_scan(text)

    def refresh(self) -> None:
        """Read again what the shown tab shows."""
        shown = self.tabs.currentWidget()
        for panel in (self.proof, self.policy, self.rules):
            if shown is panel:
                panel.refresh()
        if shown is self.history:
            self.history.code.edit.setFocus()

    def stop(self) -> None:
        """Stop what is being made, after its page."""
        self.history.stop()

    def let_go(self) -> None:
        """Close what is shown and remove the files it was made in."""
        self.history.let_go()
        self.proof.let_go()
        self.labels.let_go()
        self.sheets.let_go()
