"""Hold and release, asked the same way for packs and vehicles."""

from __future__ import annotations

from PySide6.QtWidgets import QCheckBox, QMessageBox, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import Hold, HoldClass, Release
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.inspections import Inspected
from fleetcare.domain.status import Reason
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import record, releasing
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.dialogs import AskDialog, reason_field
from fleetcare.ui.widgets.forms import proof_field


class Holding:
    """The two deeds, for one window."""

    def __init__(self, parent: QWidget, app: App, session: Session, changes: Changes) -> None:
        self._parent, self._app, self._session, self._changes = parent, app, session, changes

    def signed_in(self) -> bool:
        """True when somebody is signed in; says so otherwise."""
        if self._session.person is not None:
            return True
        QMessageBox.information(self._parent, word("program.title"), word("screen.sign_first"))
        return False

    def hold(self, subject_class: str, subject: str) -> None:
        """Ask for the reason and ground a vehicle or hold a pack; anyone may."""
        if not self.signed_in():
            return
        reason = reason_field()
        reason.setObjectName("remark")
        vehicle = subject_class == "vehicle"
        heading = say(msg("screen.ground_heading" if vehicle else "screen.hold_heading", subject=subject))

        def deed() -> None:
            author = self._session.author(self._changes.position)
            if author is None:
                raise EntryRefused("screen.sign_first")
            stated = msg("ground.by_person" if vehicle else "hold.by_person")
            hold = Hold(subject_class, subject, HoldClass.FAULT, self._app.clock(), stated, reason.text.strip())
            self._changes.tell(record.set_hold(self._app.store, self._app.clock, author, hold))

        button = word("screen.do_ground" if vehicle else "screen.do_hold")
        AskDialog(self._parent, heading, (reason,), button, deed).exec()

    def release(self, subject: str, reasons: tuple[Reason, ...]) -> None:
        """Ask for the reason and end the leading hold; the rules say who may."""
        held = next((one for one in reasons if one.hold_id is not None), None)
        if held is None or not self.signed_in():
            return
        hold_id = held.hold_id
        assert hold_id is not None
        reason, badge = reason_field(), proof_field()

        def deed() -> None:
            author = self._session.author(self._changes.position)
            if author is None:
                raise EntryRefused("screen.sign_first")
            release = Release(hold_id, self._app.clock(), reason.text.strip())
            self._changes.tell(record.release_hold(self._app.store, self._app.clock, author, release, badge.text))

        heading = say(msg("screen.release_heading", subject=subject))
        AskDialog(self._parent, f"{heading}: {say(held.text)}", (reason, badge), word("screen.do_release"), deed).exec()

    def inspect(self, subject_class: str, subject: str) -> None:
        """Ask what was looked at, and keep an inspection of a vehicle; it releases nothing."""
        if not self.signed_in():
            return
        looked = Field(word("inspection.looked_at"))
        looked.setObjectName("looked_at")
        authority = Field(word("inspection.authority"))
        found = QCheckBox(word("inspection.do_bad"))

        def deed() -> None:
            author = self._session.author(self._changes.position)
            if author is None:
                raise EntryRefused("screen.sign_first")
            seen = Inspected(
                subject_class, subject, self._app.clock(), not found.isChecked(), looked.text.strip(),
                authority.text.strip(),
            )  # fmt: skip
            self._changes.tell(releasing.record_inspection(self._app.store, self._app.clock, author, seen))

        heading = say(msg("inspection.ask", subject=subject))
        dialog = AskDialog(self._parent, heading, (looked, authority), word("inspection.do_good"), deed)
        found.toggled.connect(lambda on: dialog.do.setText(word("inspection.do_bad" if on else "inspection.do_good")))
        dialog.add(found)
        dialog.exec()
