"""The fuse page in a real window: the rule, the bracket of opening times, and what a wrong fuse is told.

Opening times: makers' published sheets of 35 and 40 A blade fuses of type C.  Ratings 32 V and 58 V: ISO 8820-3:2015.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal as D

from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.fuses import Body, Position
from fleetcare.domain.packs import Pack, ServiceNotes
from fleetcare.services import record
from fleetcare.ui.faults.fuse_page import FusePage
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import K36, K48, Kestrel
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return


def noted(kestrel: Kestrel, amps: str, limit_a: str = "20", body: str = "type_c") -> None:
    model = replace(K36, fuse_a=D(amps), fuse_dc_v=D("58"), bms_limit_a=D(limit_a))
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", model),
                      ("service_notes", ServiceNotes("K36-A", fuse_body=body)))  # fmt: skip


def test_the_page_shows_a_bracket_never_one_number_and_where_nothing_protects(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    noted(kestrel, "40")
    hands("B-01", ENTER, "18", ENTER)
    window.go("faults")
    page = window.faults.fuse
    window.faults.show_page(page)
    page.fields["pack"].edit.setFocus()
    hands("P-1002", ENTER)
    shown = [[page.model.index(row, column).data() for column in range(4)] for row in range(page.model.rowCount())]
    opens = {row[0].split()[0].split(".")[0]: (row[2], row[3]) for row in shown}
    assert opens["20"] == ("no opening expected", "normal work")
    assert opens["40"][0] == "not before 100 h, perhaps never" and opens["40"][1].startswith(
        "only the battery management"
    )
    assert opens["54"][0] == "0.75 s to 600 s" and opens["80"][0] == "0.15 s to 5 s"
    assert "the fuse gives no protection" in page.gap.text() and "20" in page.gap.text() and "40" in page.gap.text()
    assert "type C (medium). The pack" in page.rule.text(), "no part number on record leaves no gap"
    assert "maker's discharge fuse 40 A, 58 V DC" in page.rule.text() and "42.0" in page.rule.text()
    assert page.fields["vehicle"].text == "EB-12", "a second blow grounds the vehicle: it is filled in from the record"
    page.position.choose(Position.CHARGE)
    page.position.box.activated.emit(1)
    assert "The maker's charge fuse for K36-A" in page.rule.text() and "not on record" in page.rule.text()


def test_45_amps_asks_for_the_part_number_and_a_colour_for_other_amps_is_noticed(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    noted(kestrel, "45")
    hands("B-01", ENTER, "18", ENTER)
    window.go("faults")
    page = window.faults.fuse
    window.faults.show_page(page)
    page.fields["pack"].edit.setFocus()
    hands("P-1002", ENTER)
    page.blown.setChecked(True)
    page.fitted.setChecked(True)
    page.body.choose(Body.TYPE_C)
    for name, text in (("cause", "lead pinched"), ("rated_a", "45"), ("dc_v", "32"), ("badge", "B-01")):
        page.fields[name].edit.setFocus()
        hands(text)
    page.keep_button.click()
    assert "below the pack's charge-end voltage of 42.0" in page.fields["dc_v"].wrong.text()
    page.fields["dc_v"].edit.setText("58")
    page.keep_button.click()
    assert "45 A is no standard blade value" in page.fields["part_number"].wrong.text().replace("45.0", "45")
    page.fields["part_number"].edit.setText("X-45-58")
    page.colour.box.setCurrentIndex(page.colour.box.findData("orange"))
    page.keep_button.click()
    told = page.wrong.text() + getattr(page.colour, "wrong", page.wrong).text()
    assert "orange stands for 40" in told and "45" in told
    page.colour.box.setCurrentIndex(0)
    assert page.fields["cause"].text == "lead pinched", "nothing typed is lost"
    page.fields["badge"].edit.setText("B-01")
    page.keep_button.click()
    assert "The look at the fuse of P-1002 was kept" in page.result.text()


def typed(page: FusePage, hands: Typist, **texts: str) -> None:
    page.fitted.setChecked(True)
    for name, text in texts.items():
        page.fields[name].edit.setFocus()
        page.fields[name].edit.selectAll()
        hands(text)
    page.fields["badge"].edit.setText("B-01")
    page.keep_button.click()


def test_thirteen_groups_take_58_volts_and_the_next_lower_amps_only_where_the_maker_allows(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    """13 groups charge to 54.6 V, 14 to 58.8 V (4.2 V a group); 58 V is the higher rating of ISO 8820-3:2015."""
    thirteen = replace(K48, fuse_a=D("40"), bms_limit_a=D("30"))
    fourteen = replace(K48, code="F14", name="F14", series_count=14, full_v=D("58.8"), fuse_a=D("40"))
    put = (("pack_model", thirteen), ("service_notes", ServiceNotes("K48-B", "type_c", next_lower_fuse=True)),
           ("pack_model", fourteen), ("service_notes", ServiceNotes("F14", "type_c")),
           ("pack", Pack("P-1401", "F14", "2601-0001")))  # fmt: skip
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), *put)
    hands("B-01", ENTER, "18", ENTER)
    window.go("faults")
    page = window.faults.fuse
    window.faults.show_page(page)
    hands("P-1401", ENTER)
    typed(page, hands, rated_a="40", dc_v="58")
    assert "58 V DC is below the pack's charge-end voltage of 58.80 V" in page.fields["dc_v"].wrong.text()
    typed(page, hands, rated_a="35", dc_v="80")
    assert "does not state that a lower one is allowed" in page.fields["rated_a"].wrong.text()
    page.fields["pack"].edit.setFocus()
    page.fields["pack"].edit.clear()
    hands("P-1303", ENTER)
    typed(page, hands, rated_a="30", dc_v="58")
    assert "not the next lower standard rating; that is 35 A" in page.fields["rated_a"].wrong.text()
    typed(page, hands, rated_a="35", dc_v="32")
    assert "32 V DC is below the pack's charge-end voltage of 54.60 V" in page.fields["dc_v"].wrong.text()
    page.colour.box.setCurrentIndex(page.colour.box.findData("green"))
    typed(page, hands, rated_a="35", dc_v="58")
    assert "green stands for 30 A and 35 A was typed" in page.wrong.text()
    page.colour.box.setCurrentIndex(page.colour.box.findData("blue-green"))
    typed(page, hands, rated_a="35", dc_v="58")
    assert "The look at the fuse of P-1303 was kept" in page.result.text()
