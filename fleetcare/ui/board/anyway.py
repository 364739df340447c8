"""A grounded vehicle is wanted out anyway: what each reason allows; only lateness can be put off, by a named person."""

from __future__ import annotations

from PySide6.QtWidgets import QPushButton, QWidget

from fleetcare.app import App
from fleetcare.domain.checks import HoldClass
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.moments import parse_date
from fleetcare.domain.status import BoardState, PackState
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import extending, freeing
from fleetcare.services.shown import FleetSummary, VehicleSummary
from fleetcare.ui.changes import Changes
from fleetcare.ui.session import Session
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.dialogs import AskDialog, reason_field

MOST_INSTEAD = 6
"""So many ready vehicles are named; how many more there are is said."""


def only_late(line: VehicleSummary) -> bool:
    """True when nothing but checks past their last good day stands against the vehicle."""
    return bool(line.status.reasons) and all(one.hold_class is HoldClass.ACTION_DUE for one in line.status.reasons)


def instead(line: VehicleSummary, fleet: FleetSummary) -> tuple[str, ...]:
    """All ready vehicles of the same kind at the same depot, by code."""
    alike = (
        one.vehicle.code
        for one in fleet.vehicles
        if one.status.state is BoardState.READY
        and (one.vehicle.kind, one.vehicle.depot) == (line.vehicle.kind, line.vehicle.depot)
    )
    return tuple(sorted(alike))


class AnywayDialog(AskDialog):
    """Where only lateness stands against it there are two fields and a button; else only what to do instead."""

    def __init__(
        self, parent: QWidget, app: App, session: Session, changes: Changes, line: VehicleSummary, fleet: FleetSummary
    ) -> None:
        self._app, self._session, self._changes, self._line = app, session, changes, line
        self.until = Field(word("extension.until"))
        self.until.setObjectName("until")
        self.reason = reason_field()
        with app.store.view() as view:
            site = view.thing("site_rules", "SITE")
        self.may = only_late(line) and site is not None and site.extension_allowed
        fields = (self.until, self.reason) if self.may else ()
        heading = say(msg("anyway.heading", vehicle=line.vehicle.code))
        super().__init__(parent, heading, fields, word("extension.do"), self._put_off)
        self.told = self._sentences(fleet)
        if only_late(line) and site is not None:
            on = msg("extension.rule_on", most_days=site.extension_most_days)
            self.told.append(say(on if site.extension_allowed else msg("extension.rule_off")))
        if self.may:
            self.told.append(say(msg("extension.who", names=extending.who_may(app.store, app.clock))))
        self.tell(*self.told)
        if not self.may:
            self.do.hide()
            cancel = next(one for one in self.findChildren(QPushButton) if one is not self.do)
            cancel.setText(word("anyway.close"))
            cancel.setDefault(True)

    def _sentences(self, fleet: FleetSummary) -> list[str]:
        told = []
        for hold_class in dict.fromkeys(one.hold_class for one in self._line.status.reasons):
            mine = [say(one.text) for one in self._line.status.reasons if one.hold_class is hold_class]
            told.append(f"{word(f'hold_class.{hold_class.value}')}: {'; '.join(mine)}")
            if hold_class is not HoldClass.ACTION_DUE or only_late(self._line):
                told.append(word(f"anyway.{hold_class.value}"))
            else:
                told.append(word("anyway.mixed"))
        names = dict(fleet.depots)
        proposed = [one for one in self._line.offers if one.proposed]
        told += [say(msg("anyway.spare", offer=freeing.explained(one, names))) for one in proposed]
        others = instead(self._line, fleet)
        if others:
            named, more = others[:MOST_INSTEAD], len(others) - MOST_INSTEAD
            said = msg("anyway.instead", vehicles=named)
            told.append(say(said if more <= 0 else msg("anyway.instead_more", told=said, more=more)))
        return told

    def _put_off(self) -> None:
        author = self._session.author(self._changes.position)
        if author is None:
            raise EntryRefused("window.scan_first")
        until = parse_date(self.until.text, field="until")
        late = [pack.code for pack in self._line.packs if pack.state is PackState.OVERDUE]
        for pack in late:
            done = extending.extend_due(self._app.store, self._app.clock, author, pack, until, self.reason.text)
            self._changes.tell(done)
