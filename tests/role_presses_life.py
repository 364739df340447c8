"""How the deeds of cases, of a pack's life and of the plan are pressed at the window."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

from fleetcare.domain.away import BackAs
from fleetcare.domain.checks import RestBand
from fleetcare.domain.decisions import Choice as Decided
from fleetcare.domain.replacing import Replaced
from fleetcare.services.rounds import RoundItem
from tests.kestrel import MONDAY
from tests.role_pressing import Press, Pressing, fill

# decisions, recalls, incidents


def decide(choice: Decided) -> Press:
    def press(p: Pressing) -> None:
        tab = p.tab("cases", "decisions")
        tab.refresh()
        p.wait(lambda: any(row.pack == "P-1011" for row in tab.waiting.rows))
        tab.choose("P-1011")
        tab.choice.choose(choice.value)
        tab._suggest()
        tab.card.fields["reason"].edit.setText("spare is ordered")
        tab.card.do.click()
        p.qtbot.wait(1)

    return press


def put_off(p: Pressing) -> None:
    tab = p.tab("cases", "decisions")
    fill(tab.off.fields, pack="P-1002", until="2026-11-14", reason="mechanic ill")
    tab.off.do.click()


def allow_putting_off(p: Pressing) -> None:
    tab = p.tab("cases", "decisions")
    tab.allowed.setChecked(True)
    tab.rule.fields["most_days"].edit.setText("2")
    tab.rule.do.click()


def close_incident(p: Pressing) -> None:
    tab = p.tab("cases", "incidents")
    tab.refresh()
    p.wait(lambda: tab.model.rowCount() > 0)
    tab.table.selectRow(0)
    p.wait(tab.closing.isEnabled)
    fill(tab.closing.fields, reason="seen by the insurer", badge=p.badge)
    tab.closing.do.click()


def recall(name: str, /, **typed: str) -> Press:
    def press(p: Pressing) -> None:
        tab = p.tab("cases", "recalls")
        tab.refresh()
        p.wait(lambda: tab.notices.rowCount() > 0)
        tab.table.selectRow(0)
        p.wait(lambda: tab.page is not None and tab.packs.rowCount() > 0)
        held = next(n for n, row in enumerate(tab.packs.rows) if row.pack.code == "P-1002")
        tab.pack_table.selectRow(held)
        shown = getattr(tab, name)
        p.wait(shown.isEnabled)
        fill(shown.fields, badge=p.badge, **typed)
        shown.do.click()

    return press


# along a pack's life


def dried(p: Pressing) -> None:
    page = p.page("away", "water")
    page.table.selectRow(0)
    page.dry_button.click()


def cool(p: Pressing) -> None:
    page = p.page("away", "returns")
    page.cooling_table.selectRow(0)
    page.fields["badge"].edit.setText(p.badge)
    page.attempt(lambda: page._look(False), "badge")


def back_from_maker(outcome: BackAs) -> Press:
    def press(p: Pressing) -> None:
        page = p.page("away", "maker")
        page.outcome.choose(outcome)
        fill(page.fields, report="REP-1", work="display board", badge=p.badge)
        page.back_button.click()

    return press


def first_checks(p: Pressing) -> None:
    first = p.page("away", "maker").first
    fill(first.fields, marks="EN 62133-2", warranty_clause="none", charger="C-36-1", no_photo_reason="label as before",
         rested_v="41.60", loaded_v="40.40", load_a="8", badge=p.badge)  # fmt: skip
    first.good.setChecked(True)
    first.rest.choose(RestBand.HOURS_1_3)
    first.keep_button.click()


def pairing_rule(p: Pressing) -> None:
    page = p.page("away", "bays")
    fill(page.fields, rule_for="CB-01", source="the maker")
    page.same_model.setChecked(True)
    page.rule_button.click()


def replace_connector(p: Pressing) -> None:
    page = p.page("parts", "replace")
    page.what.choose(Replaced.CONNECTOR)
    fill(page.fields, pack="P-1002", vehicle="EB-12", before_v="41.30", after_v="41.31", seal="SL-36", badge=p.badge)
    page.part.box.setCurrentIndex(page.part.box.findData("S-04"))
    page.other.box.setCurrentIndex(page.other.box.findData("S-05"))
    page.keep_button.click()


def stocked(button: str, /, **typed: str) -> Press:
    def press(p: Pressing) -> None:
        page = p.page("parts", "stock")
        page.choose("S-04")
        fill(page.fields, **typed)
        page.buttons[button].click()

    return press


# the plan


def absence(p: Pressing) -> None:
    page = p.tab("round", "away")
    page.refresh()
    p.wait(lambda: page.person.box.findData("PIKE") >= 0)
    fill(page.absence.fields, person="PIKE", from_date="2026-11-02", to_date="2026-11-02", reason="leave")
    page.absence.do.click()


def vehicle_away(p: Pressing) -> None:
    page = p.tab("round", "away")
    fields = page.hire.fields
    page.vehicle.edit.setText("EB-12")
    fill(fields, from_date="2026-11-02", back_date="2026-11-02", reason="on hire")
    page.hire.do.click()


def plans(name: str, /, **typed: str) -> Press:
    def press(p: Pressing) -> None:
        p.window.go("round")
        p.window.round.tabs.setCurrentIndex(4)
        page = p.window.round._page(4)
        page.refresh()
        p.wait(lambda: page.place.box.count() > 1 and page.person.box.count() > 1)
        shown = getattr(page, name)
        fill(shown.fields, **typed)
        shown.do.click()

    return press


def read_edges(p: Pressing) -> None:
    p.window.go("round")
    page = p.window.round.today
    p.window.round.tabs.setCurrentIndex(0)
    page.read_edges()
    p.wait(page.edges_button.isEnabled)


def inspection(p: Pressing) -> None:
    """An inspection from the round, answered in its dialog."""
    from fleetcare.domain.inspection_plans import Kind
    from fleetcare.services import plan

    item = next(
        one for one in plan.plan(p.kestrel.store, p.kestrel.clock) if one.kind in (Kind.YEARLY, Kind.VEHICLE_LOOK)
    )
    line = RoundItem(item, MONDAY.date(), "PIKE", late=False)
    p.window.go("round")

    class Button(QWidget):
        def click(self) -> None:
            p.window.round.ask_inspection(line)

    p.ask(Button())


def lay_up(p: Pressing) -> None:
    page = p.tab("round", "layup")
    page.refresh()
    page.packs.edit.setText("P-1011 P-1012")
    page.put.fields["group"].edit.setText("winter")
    page.put.do.click()


def storage_look(p: Pressing) -> None:
    page = p.tab("round", "layup")
    page.refresh()
    p.wait(lambda: page.meter.box.findData("M-01") >= 0)
    page.pack.edit.setText("P-1011")
    page.volts.edit.setText("37.20")
    page.meter.choose("M-01")
    page.bench.edit.setText("18")
    page.look.do.click()


def take_out(p: Pressing) -> None:
    page = p.tab("round", "layup")
    page.refresh()
    p.wait(lambda: page.model.rowCount() > 0)
    page.table.selectRow(0)
    page.out.click()


def purchase(p: Pressing) -> None:
    p.window.go("ahead")
    from fleetcare.ui.ahead.purchase_dialog import ask_purchase

    screen = p.window.ahead

    class Button(QWidget):
        def click(self) -> None:
            ask_purchase(screen, screen._app, screen._session, screen._changes, "P-1011")

    p.ask(Button(), "P-1011", "2026-01-05", "24", "", "INV-1", "410")


def new_part(p: Pressing) -> None:
    page = p.page("parts", "stock")
    fill(page.fields, code="S-09", name="cover seal", part_number="SL-48")
    page._save()
