"""One vehicle: state and reasons, the packs in it now, and everything that happened to it."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fleetcare.app import App
from fleetcare.domain.errors import FleetcareError
from fleetcare.domain.status import pack_words
from fleetcare.domain.wording import msg, say, show_moment, show_value, word
from fleetcare.services import summary, telling
from fleetcare.services.incidents import incident_words
from fleetcare.services.shown import PackRow, VehiclePage, elsewhere_told
from fleetcare.ui import colours
from fleetcare.ui.background import Background
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.holding import Holding
from fleetcare.ui.widgets.tables import Column, RowModel, Table


def _reason(row: PackRow) -> str:
    return "; ".join(say(one.text) for one in row.status.reasons)


PACKS = (
    Column(word("window.pack"), lambda p: p.pack.code, width=9),
    Column(word("list.model"), lambda p: p.model_name, width=18),
    Column(word("list.state"), lambda p: say(pack_words(p.status)),
           mark=lambda p: colours.of_pack(p.status), width=19),
    Column(word("list.rested"), lambda p: "" if p.rested_v is None else show_value("rested_v", p.rested_v), right=True,
           width=9),
    Column(word("list.checked"), lambda p: "" if p.last_check is None else show_moment(p.last_check), width=20),
    Column(word("list.reason"), _reason, width=40, tip=True),
)  # fmt: skip
EVENTS = (
    Column(word("list.done"), lambda e: show_moment(e.done_at), width=20),
    Column(word("list.what"), telling.line_text, width=60, tip=True),
    Column(word("list.who"), lambda e: e.person_name, width=10),
)


class VehicleScreen(QWidget):
    """Shows the vehicle it was last asked for, and follows its changes."""

    open_pack = Signal(str)

    def __init__(self, app: App, session: Session, changes: Changes) -> None:
        super().__init__()
        self._app = app
        self._code = ""
        self._page: VehiclePage | None = None
        self._background = Background(self)
        self._holding = Holding(self, app, session, changes)
        self.title = words(word("list.vehicle"), size=1.7, bold=True)
        self.title.setWordWrap(False)
        self.badge = Badge()
        self.badge.setFont(sized(1.3, bold=True))
        self.reasons = words(word("screen.choose_vehicle"))
        self.packs = RowModel(PACKS)
        self.pack_table = Table(self.packs, word("list.packs"), stretch=5)
        self.events = RowModel(EVENTS)
        self.event_table = Table(self.events, word("screen.events"), stretch=1)
        self.ground = QPushButton(word("screen.ground"))
        self.release = QPushButton(word("screen.release"))
        self.look_over = QPushButton(word("inspection.button"))
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(self.title)
        head.addWidget(self.badge)
        head.addStretch(1)
        head.addWidget(self.ground)
        head.addWidget(self.look_over)
        head.addWidget(self.release)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 10, 12, 8)
        outer.addLayout(head)
        outer.addWidget(self.reasons)
        outer.addWidget(words(word("list.packs"), bold=True))
        outer.addWidget(self.pack_table, 2)
        outer.addWidget(words(word("screen.events"), bold=True))
        outer.addWidget(self.event_table, 3)
        self.pack_table.opened.connect(lambda row: self.open_pack.emit(row.pack.code))
        self.ground.clicked.connect(lambda: self._holding.hold("vehicle", self._code))
        self.release.clicked.connect(self._release)
        self.look_over.clicked.connect(lambda: self._holding.inspect("vehicle", self._code))
        changes.changed.connect(self._changed)
        self.badge.hide()
        self._able(False)

    @property
    def page(self) -> VehiclePage | None:
        """The vehicle as last read."""
        return self._page

    def show_vehicle(self, code: str) -> None:
        """Show another vehicle."""
        self._code = code
        self.refresh()

    def refresh(self) -> None:
        """Read the vehicle again, off the GUI thread."""
        app, code = self._app, self._code
        if code:
            self._background.ask(lambda: summary.vehicle_page(app.store, app.clock, code), self._show, self._failed)

    def _changed(self, _packs: frozenset[str], vehicles: frozenset[str]) -> None:
        if self._code in vehicles:
            self.refresh()

    def _failed(self, error: Exception) -> None:
        if not isinstance(error, FleetcareError):
            raise error
        self.reasons.setText(say(error.message))

    def _show(self, page: VehiclePage) -> None:
        self._page = page
        vehicle, status = page.line.vehicle, page.line.status
        frame = say(msg("list.frame", serial=vehicle.serial)) if vehicle.serial else ""
        self.title.setText(f"{vehicle.code} · {word(f'vehicle_kind.{vehicle.kind.value}')}{frame}")
        elsewhere = elsewhere_told(page.line)
        if elsewhere is None:
            self.badge.show_state(colours.of_vehicle(status), word(f"board_state.{status.state.value}"))
        else:
            self.badge.show_state(colours.UNKNOWN, elsewhere[0])
        self.badge.show()
        lines = [elsewhere[1]] if elsewhere is not None and elsewhere[1] else []
        lines += [f"{say(one.text)}  →  {say(one.next_step)}" for one in status.reasons]
        if page.line.offers:
            lines.append(say(msg("screen.offers", packs=", ".join(offer.pack for offer in page.line.offers))))
        if page.line.may_clear:
            lines.append(say(msg("screen.clears", names=page.line.may_clear)))
        lines += incident_words(page.incidents)
        self.reasons.setText("\n".join(lines))
        self.packs.set_rows(page.packs)
        self.events.set_rows(page.events)
        self._able(True)
        self.release.setEnabled(any(one.hold_id for one in status.reasons))

    def _able(self, on: bool) -> None:
        self.ground.setEnabled(on)
        self.release.setEnabled(on)
        self.look_over.setEnabled(on)

    def _release(self) -> None:
        """End the vehicle's own hold first; a pack's hold is ended on the pack's page."""
        if self._page is not None:
            status = self._page.line.status
            own = {one.hold_id for pack in self._page.line.packs for one in pack.reasons}
            mine = tuple(one for one in status.reasons if one.hold_id not in own)
            self._holding.release(self._code, mine or status.reasons)
