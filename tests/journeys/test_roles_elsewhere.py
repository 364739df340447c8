"""Who may, on the pages of the maker, the stock, the plan, lay-up and the round: said in place, and nothing is lost."""

from collections.abc import Callable

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QLabel
from pytestqt.qtbot import QtBot

from fleetcare.domain.away import BackAs
from fleetcare.domain.inspection_plans import Kind
from fleetcare.domain.packs import InspectionPlan, Level
from fleetcare.services import plan, plan_settings
from fleetcare.services.rounds import RoundItem
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.cards import Field
from fleetcare.ui.widgets.dialogs import AskDialog
from tests.kestrel import METERS, MONDAY, Kestrel
from tests.role_kinds import both
from tests.role_life import _parts, _sent
from tests.services.test_roles import WHO_MAY

EXPECTED = {"pack": "P-1012", "maker": "Northfield Packs", "return_number": "RN-7", "carrier": "Northfield Carriers",
            "expected_on": "2026-11-20"}  # fmt: skip
BACK = {"report": "REP-9", "work": "not worth mending", "badge": "B-03"}
PIECES = {"pieces": "5", "supplier": "note 12"}
PLAN = {"code": "BRAKES", "every_days": "14", "source": "the maker"}


def type_into(fields: dict[str, Field], typed: dict[str, str]) -> None:
    for name, text in typed.items():
        fields[name].edit.setText(text)


def still(fields: dict[str, Field], typed: dict[str, str]) -> None:
    assert {name: fields[name].text for name in typed} == typed


def readable(part: QLabel) -> None:
    """The sentence stands in view and says who may."""
    assert part.isVisible() and WHO_MAY.search(part.text()), part.text()
    assert not part.visibleRegion().isEmpty()


def refused(kestrel: Kestrel, press: Callable[[], object]) -> None:
    with kestrel.store.view() as view:
        before = view.head()
    press()
    with kestrel.store.view() as view:
        assert view.head() == before


def test_at_the_maker_the_stock_and_the_plan(window: MainWindow, kestrel: Kestrel, qtbot: QtBot) -> None:
    _sent(kestrel, kestrel.store.path.parent)
    _parts(kestrel, kestrel.store.path.parent)
    window.session.set_bench(METERS[0], None, None)
    window.session.sign_in(kestrel.people["FARROW"])
    maker = window.away.maker
    window.go("away")
    window.away.show_page(maker)
    type_into(maker.fields, EXPECTED)
    refused(kestrel, maker.send_button.click)
    assert "send a pack to its maker" in maker.wrong.text()
    readable(maker.wrong)
    still(maker.fields, EXPECTED)
    maker.outcome.choose(BackAs.KEPT)
    type_into(maker.fields, BACK)
    refused(kestrel, maker.back_button.click)
    assert "write off" in maker.wrong.text()
    readable(maker.wrong)
    still(maker.fields, BACK)
    window.session.sign_in(kestrel.people["HALE"])
    stock = window.parts.stock
    window.go("parts")
    window.parts.show_page(stock)
    stock.table.selectRow(0)
    type_into(stock.fields, PIECES)
    refused(kestrel, stock.buttons["in"].click)
    readable(stock.wrong)
    still(stock.fields, PIECES)
    window.go("round")
    window.round.tabs.setCurrentIndex(4)
    plans = window.round._page(4)
    qtbot.waitUntil(lambda: plans.place.box.count() > 0 and plans.kind.box.count() > 1)
    plans.kind.box.setCurrentIndex(1)
    type_into(plans.plan.fields, PLAN)
    refused(kestrel, plans.plan.do.click)
    assert WHO_MAY.search(plans.plan.said.text())
    still(plans.plan.fields, PLAN)
    type_into(plans.calendar.fields, {"country": "GB", "subdivision": "ENG"})
    refused(kestrel, plans.calendar.do.click)
    assert "choose one of the list" in plans.place.wrong.text()
    plans.place.choose("KW")
    refused(kestrel, plans.calendar.do.click)
    assert "the public holidays of KW: that is for a manager" in plans.calendar.said.text()
    still(plans.calendar.fields, {"country": "GB", "subdivision": "ENG"})


def test_an_inspection_whose_plan_asks_for_more_is_refused_and_a_finding_never(
    window: MainWindow, kestrel: Kestrel, qtbot: QtBot
) -> None:
    strict = InspectionPlan("LOOK", "vehicle_look", every_days=30, source="the maker", level=Level.MAY_RELEASE)
    plan_settings.put_plan(*both(kestrel), kestrel.author("ORMOND"), strict)
    look = next(i for i in plan.plan(kestrel.store, kestrel.clock) if i.kind is Kind.VEHICLE_LOOK)
    line = RoundItem(look, MONDAY.date(), "FARROW", late=False)
    window.session.sign_in(kestrel.people["FARROW"])
    window.go("round")
    said: list[str] = []

    def answer() -> None:
        asked = QApplication.activeModalWidget()
        if not isinstance(asked, AskDialog):
            QTimer.singleShot(30, answer)
            return
        refused(kestrel, asked.do.click)
        said.append(" ".join(one.text() for one in asked.findChildren(QLabel) if one.isVisible()))
        asked._fields[0].edit.setText("brake cable frayed")
        asked.do.click()
        said.append("")

    QTimer.singleShot(30, answer)
    window.round.ask_inspection(line)
    qtbot.waitUntil(lambda: len(said) == 2)
    assert WHO_MAY.search(said[0])
    with kestrel.store.view() as view:
        assert [h.reason.key for h in view.open_holds(("vehicle", look.subject))] == ["plan.inspection_found"]
