"""Papers that the screens ask for: made in the background, shown first, then printed or saved."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QMainWindow, QMessageBox, QWidget

from fleetcare.app import App, print_reentry
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import label_sheets, record, work_lists
from fleetcare.services.competence import Matrix
from fleetcare.services.labelling import Label
from fleetcare.services.resetting import JobState
from fleetcare.services.shown import FleetSummary, PackSummary
from fleetcare.ui.changes import Changes
from fleetcare.ui.papers.paper_dialog import PaperDialog
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.literal import literal


def show_reentry(
    parent: QWidget, fleet: Path, missing: int, app: App | None = None, printed_by: str = ""
) -> PaperDialog:
    """Show the re-entry list of a restored fleet file, to be printed or saved."""

    def write(path: Path) -> None:
        print_reentry(app, fleet, missing, path, printed_by)

    shown = PaperDialog(parent, word("sheet.reentry"), "re-entry.pdf", write)
    shown.open()
    return shown


class PaperOrders:
    """One order at a time; `shown` is the paper in front, None without one."""

    def __init__(self, window: QMainWindow, app: App, session: Session, changes: Changes) -> None:
        self._window, self._app, self._session, self._changes = window, app, session, changes
        self.shown: PaperDialog | None = None

    def preview_paper(
        self, title: str, name: str, write: Callable[[Path], object], given: Callable[[], None] | None = None
    ) -> PaperDialog:
        """Make a paper in the background and show it, to be printed or saved; `given()` once it was."""
        shown = self.shown = PaperDialog(self._window, title, name, write, given)
        shown.finished.connect(self._paper_closed)
        shown.open()
        return shown

    def _paper_closed(self) -> None:
        self.shown = None
        self._window.activateWindow()

    def _order(self, kind: str, **more: Any) -> Callable[[Path], object]:
        """What writes a sheet of `kind` to a path."""
        app, words = self._app, self._print_words()

        def write(path: Path) -> object:
            from fleetcare.reports import every_sheet

            return every_sheet.write(every_sheet.Order(kind, **words, **more), app.store, app.clock, path)

        return write

    def print_pack(self, page: PackSummary) -> None:
        """Show the pack's maintenance sheet; what it tells of the projection is kept when it is given out."""

        def given() -> None:
            author = self._session.author(self._changes.position)
            if author is not None:
                told = record.record_told(self._app.store, self._app.clock, author, word("paper.pack_title"), page)
                self._changes.tell(told)

        code = page.pack.code
        self.preview_paper(word("paper.pack_title"), f"{code}.pdf", self._order("pack", code=code), given)

    def print_label(self, label: Label) -> None:
        """Show the label that stands for a pack; its printing is recorded when it is given out."""
        app, words = self._app, self._print_words()
        author = self._session.author(self._changes.position)
        if author is None:
            self._window.statusBar().showMessage(word("labels.sign_in"), 10_000)
            return
        try:
            label_sheets.may_label(author, app.clock())
        except FleetcareError as error:
            QMessageBox.warning(self._window, word("program.title"), literal(say(error.message)))
            return

        def write(path: Path) -> None:
            from fleetcare.reports import label as label_sheet

            label_sheet.write(label, path, stamp=work_lists.stamp(app.store, app.clock), **words)

        def given() -> None:
            printed = label_sheets.labels_for(app.store, "pack", (label.pack.code,))
            done = label_sheets.record_labels(app.store, app.clock, author, printed, label_sheets.COPIES)
            self._changes.tell(done)

        name = f"label-{label.pack.code}-{label.issue}.pdf"
        self.preview_paper(word("label.sheet_title"), name, write, given)

    def print_board(self, fleet: FleetSummary | None) -> None:
        """Show the board for the wall; nothing while it is not read yet."""
        words = self._print_words()
        if fleet is None or fleet.unread:
            return

        def write(path: Path) -> None:
            from fleetcare.reports import board_sheet

            board_sheet.write(fleet, path, **words)

        self.preview_paper(word("paper.board_title"), "board.pdf", write)

    def print_round(self, depot: str, person: str, by_bay: bool) -> None:
        """Show today's round for the walk."""
        app, words = self._app, self._print_words()
        asked: dict[str, Any] = {"depot": depot, "person": person, "by_bay": by_bay}

        def write(path: Path) -> None:
            from fleetcare.reports import work_sheets

            work_sheets.write("round", app.store, app.clock, path, **asked, **words)

        self.preview_paper(word("sheet.round"), "round.pdf", write)

    def print_renewal(self) -> None:
        """Show the one-page summary for a renewal talk."""
        self.preview_paper(word("summary.title"), "renewal.pdf", self._order("renewal"))

    def print_sheets(self, numbers: tuple[str, ...]) -> None:
        """Show blank check sheets with these numbers."""
        self.preview_paper(word("paper.blank_title"), f"{numbers[0]}.pdf", self._order("blank", numbers=numbers))

    def print_van(self, number: str) -> None:
        """Show a van list."""
        self.preview_paper(word("sheet.van"), f"van-{number}.pdf", self._order("van", code=number))

    def print_reentry(self, fleet: Path, missing: int) -> None:
        """Show the re-entry list of a restored file."""
        printed_by = self._print_words()["printed_by"]
        self.shown = show_reentry(self._window, fleet, missing, self._app, printed_by)
        self.shown.finished.connect(self._paper_closed)

    def print_recall(self, number: str) -> None:
        """Show the action sheet of a recall."""
        name = "".join(c if c.isalnum() else "-" for c in number)
        self.preview_paper(word("paper.recall_title"), f"recall-{name}.pdf", self._order("recall", code=number))

    def print_competence(self, matrix: Matrix) -> None:
        """Show the matrix of people, levels and trainings as paper."""
        words = self._print_words()

        def write(path: Path) -> None:
            from fleetcare.reports import competence_sheet

            competence_sheet.write(matrix, path, **words)

        self.preview_paper(word("paper.competence_title"), "competence.pdf", write)

    def print_job(self, state: JobState) -> None:
        """Show the job sheet of a guided reset."""
        self.preview_paper(word("sheet.job_title"), f"reset-{state.pack}.pdf", self._order("job", code=state.pack))

    def print_quarantine(self, code: str) -> None:
        """Print a pack's quarantine sheet in one action: a file beside the fleet file, and the default printer."""
        path = self._sheet_path(f"quarantine-{code}")
        try:
            self._order("quarantine_pack", code=code)(path)
        except FleetcareError as error:
            QMessageBox.warning(self._window, word("program.title"), literal(say(error.message)))
            return
        self._print_at_once(path)

    def _print_at_once(self, path: Path) -> None:
        """A sheet that lies beside the fleet file goes to the default printer; without one it is opened."""
        from fleetcare.ui.papers import printing

        try:
            printer = printing.print_at_once(path)
        except FleetcareError as error:
            name = str(dict(error.message.values).get("printer", ""))
            said = say(msg("papers.at_once_refused", printer=name, path=str(path)))
            printer = ""
        else:
            key = "papers.at_once_no_printer" if printer is None else "papers.at_once"
            said = say(msg(key, path=str(path), printer=printer or ""))
        if not printer and not self._open(path):
            said = say(msg("papers.not_opened", said=said))
        self._window.statusBar().showMessage(said, 30_000)

    def _sheet_path(self, name: str) -> Path:
        app = self._app
        return app.store.path.parent / "sheets" / f"{name}-{app.clock():%Y%m%d-%H%M%S}.pdf"

    @staticmethod
    def _open(path: Path) -> bool:
        from fleetcare.ui.papers.opening import opened

        return QGuiApplication.platformName() == "offscreen" or (path.exists() and opened(path))

    def _print_words(self) -> dict[str, Any]:
        person = self._session.person
        return {
            "page": self._app.settings.page,
            "printed_by": person.name if person else "",
            "printed_at": self._app.clock(),
        }
