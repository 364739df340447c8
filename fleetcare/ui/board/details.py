"""The selected vehicle in words: why it may not go out, who may clear it, what would free it, and what to do."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from fleetcare.domain.status import BoardState, pack_words
from fleetcare.domain.wording import msg, say, show_since, word
from fleetcare.services import freeing
from fleetcare.services.shown import FleetSummary, VehicleSummary, clears_by_shift
from fleetcare.ui import colours
from fleetcare.ui.theme import sized
from fleetcare.ui.widgets.badge import Badge
from fleetcare.ui.widgets.cards import words
from fleetcare.ui.widgets.flow import Flow

ACTIONS = ("open", "report", "ground", "anyway")
PACKED = ("report", "ground", "open", "anyway")
"""In large letters these pairs have room beside each other."""


def clears_lines(line: VehicleSummary, at_work: tuple[str, ...] | None) -> list[str]:
    """Who may clear it, those at work today first."""
    if not line.may_clear:
        return []
    shift = clears_by_shift(line, at_work)
    if shift is None:
        return [say(msg("board.clears", names=line.may_clear))]
    here, away = shift
    told = [say(msg("board.clears_here", names=here)) if here else word("board.clears_none")]
    if away:
        told.append(say(msg("board.clears_away", names=away)))
    return told


class Details(QWidget):
    """One vehicle; its deeds are asked of the window through `asked`."""

    asked = Signal(str, str)
    """One of ACTIONS, and the vehicle's code."""

    def __init__(self, *, large: bool = False) -> None:
        super().__init__()
        self.line: VehicleSummary | None = None
        self._shown: tuple[FleetSummary | None, bool] = (None, False)
        self._planned: dict[str, list[str]] = {}
        self._doubts: dict[str, dict[str, str]] = {}
        self.title = words(size=1.0 if large else 1.45, bold=True)
        self.badge = Badge()
        self.badge.setFont(sized(0.9 if large else 1.15, bold=True))
        self.body = QWidget()
        self._rows = QVBoxLayout(self.body)
        self._rows.setContentsMargins(0, 0, 6, 0)
        self._rows.setSpacing(7)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scroll.setWidget(self.body)
        self.body.setAutoFillBackground(False)
        scroll.viewport().setAutoFillBackground(False)
        self.buttons = {name: QPushButton(word(f"board.{name}")) for name in ACTIONS}
        grid, flow = QGridLayout(), Flow()
        grid.setSpacing(6)
        for number, name in enumerate(PACKED if large else ACTIONS):
            button = self.buttons[name]
            button.clicked.connect(lambda _on=False, n=name: self.line and self.asked.emit(n, self.line.vehicle.code))
            if large:
                button.setProperty("role", "small")
                flow.addWidget(button)
            else:
                grid.addWidget(button, number // 2, number % 2)
        badge = QHBoxLayout()
        badge.addWidget(self.badge)
        badge.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.title)
        column.addLayout(badge)
        column.addWidget(scroll, 1)
        column.addLayout(flow if large else grid)
        self.show_line(None, None, stale=False)

    @property
    def told(self) -> str:
        """Everything that is said of the vehicle, for a screen reader and for tests."""
        return self.body.accessibleDescription()

    def show_line(self, line: VehicleSummary | None, fleet: FleetSummary | None, *, stale: bool) -> None:
        """Show this vehicle (None: none)."""
        self.line, self._shown = line, (fleet, stale)
        for button in self.buttons.values():
            button.setEnabled(line is not None)
        while (item := self._rows.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self.badge.setVisible(line is not None)
        said: list[str] = []

        def add(text: str, *, bold: bool = False, quiet: bool = False, wrong: bool = False) -> None:
            said.append(text)
            label = words(text, bold=bold, quiet=quiet)
            if wrong:
                label.setProperty("role", "wrong")
            self._rows.addWidget(label)

        if line is None or fleet is None:
            self.title.setText(word("board.choose"))
        else:
            self._tell(line, fleet, add, stale=stale)
        self._rows.addStretch(1)
        self.body.setAccessibleDescription("\n".join(said))

    def take_plan(self, vehicle: str, told: list[str]) -> None:
        """Say of a vehicle what the round plans for it, now and whenever it is shown again."""
        if self._planned.get(vehicle, []) != told:
            self._planned[vehicle] = told
            self._show_again(vehicle)

    def take_doubts(self, vehicle: str, told: dict[str, str]) -> None:
        """Say which spares of a vehicle are doubtful, by pack, now and whenever it is shown again."""
        if self._doubts.get(vehicle, {}) != told:
            self._doubts[vehicle] = told
            self._show_again(vehicle)

    def _show_again(self, vehicle: str) -> None:
        if self.line is not None and self.line.vehicle.code == vehicle:
            fleet, stale = self._shown
            self.show_line(self.line, fleet, stale=stale)

    def _tell(self, line: VehicleSummary, fleet: FleetSummary, add, *, stale: bool) -> None:  # type: ignore[no-untyped-def]
        vehicle, status = line.vehicle, line.status
        names = dict(fleet.depots)
        parts = (vehicle.code, word(f"vehicle_kind.{vehicle.kind.value}"), names.get(vehicle.depot, vehicle.depot))
        self.title.setText(" · ".join(parts))
        state = word(f"board_state.{status.state.value}")
        if line.away is not None:
            state = say(msg("board.state_away", state=state))
        mark = colours.UNKNOWN if stale else colours.of_vehicle(status)
        self.badge.show_state(mark, say(msg("board.was", state=state)) if stale else state)
        self.buttons["anyway"].setVisible(status.state is BoardState.GROUNDED)
        if line.away is not None:
            away = line.away
            add(
                say(msg("board.away_until", reason=away.reason, from_date=away.from_date, back_date=away.back_date)),
                bold=True,
            )
        for reason in status.reasons:
            since = "" if reason.since is None else " · " + say(msg("board.since", at=show_since(reason.since)))
            add(f"{word(f'hold_class.{reason.hold_class.value}')}{since}", bold=True)
            add(say(reason.text))
            add(f"→ {say(reason.next_step)}")
        if not status.reasons and line.away is None:
            add(word("board.ready"))
        for text in () if status.state is BoardState.READY else self._planned.get(vehicle.code, ()):
            add(text)
        for text in clears_lines(line, fleet.at_work):
            add(text)
        if line.offers or line.no_offer is not None:
            add(word("list.offers"), bold=True)
        for offer in line.offers:
            add(say(freeing.explained(offer, names)), bold=offer.proposed)
            if offer.pack in self._doubts.get(vehicle.code, {}):
                add(self._doubts[vehicle.code][offer.pack], wrong=True)
        if line.no_offer is not None:
            add(say(line.no_offer))
        if any(offer.proposed for offer in line.offers):
            add(word("free.together"), quiet=True)
        if line.packs:
            packs = tuple(msg("board.pack_state", pack=p.code, state=pack_words(p)) for p in line.packs)
            add(say(msg("board.packs", packs=packs)), quiet=True)
        if status.due_on is not None and status.state is BoardState.READY:
            add(say(msg("board.next_due", due_date=status.due_on)), quiet=True)
