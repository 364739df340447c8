"""How the deeds of the fleet's set-up, and of names on paper, are pressed at the window."""

from __future__ import annotations

from PySide6.QtWidgets import QApplication

from fleetcare.ui.setup.list_page import VehicleListPage
from tests.role_pressing import Pressing


def change_vehicle(p: Pressing) -> None:
    p.window.go("setup")
    p.window.setup.go_to("vehicle")
    QApplication.processEvents()
    page = p.window.setup.thing_page("vehicle")
    p.wait(lambda: page.model.rowCount() > 0)
    page.choose("EB-12")
    page.form.entries["serial"].set_value(f"WX-{p.badge}")
    page.save.click()


def vehicle_list(p: Pressing) -> None:
    p.window.go("setup")
    p.window.setup.go_to("list")
    page = p.window.setup.page
    assert isinstance(page, VehicleListPage)
    page.text.setPlainText("EB-99, e-bike, KW, WX1")
    page.takes.choose("K36-A")
    page.read_typed()
    page.record()


def name_on_paper(p: Pressing) -> None:
    tab = p.tab("identity", "people")
    tab.refresh()
    tab.edit_person(p.kestrel.people["PIKE"])
    tab.paper.fields["reason"].edit.setText("left, asked in writing")
    tab.paper.do.click()
