"""Along a pack's life in a real window: return, water, theft, the maker, a connector, a van."""

import datetime as dt
from dataclasses import replace
from pathlib import Path

import pypdf
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QComboBox, QLineEdit, QPushButton
from pytestqt.qtbot import QtBot

from fleetcare.domain.away import BackAs, Missing
from fleetcare.domain.checks import Hold, HoldClass, LookItem, RestBand
from fleetcare.domain.fuses import Body
from fleetcare.domain.hire_return import Damage, Warmth
from fleetcare.domain.packs import Depot, ServiceNotes
from fleetcare.domain.replacing import Replaced
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.domain.water import WaterKind
from fleetcare.domain.wording import msg, say
from fleetcare.services import record, stock, summary
from fleetcare.ui.main_window import MainWindow
from fleetcare.ui.widgets.deed_page import DeedPage
from tests.kestrel import K36, MONDAY, D, Kestrel
from tests.window_fixtures import Typist, put_away, shown_paper

ENTER = Qt.Key.Key_Return


def open_page(window: MainWindow, screen: str, page: DeedPage) -> None:
    window.go(screen)
    getattr(window, screen).show_page(page)


def fill(hands: Typist, page: DeedPage, **typed: str) -> None:
    for name, text in typed.items():
        field = page.fields[name]
        field.edit.setFocus()
        field.edit.clear()
        hands(text)


def sheets(kestrel: Kestrel, begin: str) -> list[Path]:
    return sorted((kestrel.store.path.parent / "sheets").glob(f"{begin}*.pdf"))


def state_of(kestrel: Kestrel, pack: str) -> str:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state.value


def test_the_maker_sends_another_pack_and_it_is_checked_before_it_is_fitted(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-01", ENTER, "18", ENTER, ENTER)
    page = window.away.maker
    open_page(window, "away", page)
    assert page.none.isVisible() and not page.first.isVisible()
    hands("P-1011", ENTER)
    assert page.fields["pack"].text == "P-1011"
    page.send_button.click()
    assert "expected back" in page.fields["expected_on"].wrong.text()
    fill(
        hands,
        page,
        maker="Northfield Packs",
        carrier="Northfield Carriers",
        expected_on="2026-11-9",
        reason="display dark",
    )
    page.send_button.click()
    assert "not a date" in page.fields["expected_on"].wrong.text() and page.fields["carrier"].text
    fill(hands, page, expected_on="2026-11-09")
    page.send_button.click()
    assert "return number" in page.fields["return_number"].wrong.text()
    fill(hands, page, return_number="RN-551")
    page.send_button.click()
    assert "not usable meanwhile" in page.result.text() and state_of(kestrel, "P-1011") == "away"
    kestrel.now = MONDAY + dt.timedelta(days=10)
    page.refresh()
    assert "3 days overdue" in page.model.data(page.model.index(0, 6))
    page.outcome.choose(BackAs.REPLACED)
    assert page.fields["replacement"].isEnabled() and not page.fields["work"].isEnabled()
    fill(hands, page, report="REP-88", replacement="P-1050", replacement_serial="2403-0611", shelf="Rack 1")
    page.back_button.click()
    assert "repaired or is unchanged" in page.fields["replacement_serial"].wrong.text()
    fill(hands, page, replacement_serial="2610-0001")
    page.back_button.click()
    assert "own badge or PIN" in page.fields["badge"].wrong.text() and page.fields["report"].text == "REP-88"
    fill(hands, page, badge="B-01")
    page.back_button.click()
    assert "P-1011 is closed" in page.result.text() and "P-1050" in page.waiting.text()
    window.go("bench")
    hands("EB-12", ENTER, "P-1050", ENTER)
    assert "P-1050 cannot be fitted to EB-12" in window.bench.work.scan.wrong.text()
    open_page(window, "away", page)
    first = page.first
    assert first.isVisible() and first.pack.box.currentData() == "P-1050"
    fill(hands, first, charger="C-36-1", marks="EN 62133-2", warranty_clause="none", no_photo_reason="label read",
         rested_v="41.62", loaded_v="40.40", load_a="8", badge="B-01")  # fmt: skip
    first.rest.choose(RestBand.OVERNIGHT)
    first.keep_button.click()
    assert "Look at every item" in first.wrong.text() and first.fields["rested_v"].text == "41.62"
    first.good.setChecked(True)
    first.keep_button.click()
    assert "may be fitted" in first.result.text() and state_of(kestrel, "P-1050") == "ready"
    window.go("bench")
    window.bench.work.scan.edit.clear()
    hands("P-1011", ENTER)
    assert "ALARM" in window.bench.work.scan.wrong.text()


def test_immersion_quarantines_outdoors_prints_its_sheet_and_rain_only_asks_to_be_dried(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    hands("B-04", ENTER)
    page = window.away.water
    open_page(window, "away", page)
    hands("P-1009", ENTER)
    page.keep_button.click()
    assert page.wrong.isVisible()
    fill(hands, page, vehicle="EB-19", where="ford at the mill", place="yard, bay 3")
    page.kind.choose(WaterKind.IMMERSION)
    page.keep_button.click()
    assert "P-1009 is held" in page.result.text() and "EB-19 is grounded" in page.result.text()
    told = page.steps.text()
    assert "Carry it outdoors" in told and "may ignite hours or weeks later" in told and "Source: public advice" in told
    (sheet,) = sheets(kestrel, "quarantine-P-1009")
    assert "yard, bay 3" in pypdf.PdfReader(sheet).pages[0].extract_text()
    fill(hands, page, pack="P-1002")
    page.kind.choose(WaterKind.RAIN)
    page.keep_button.click()
    assert "Wipe case and contacts dry" in page.steps.text() and page.model.rowCount() == 1
    page.dry_button.click()
    assert "may not" in page.wrong.text() or "level" in page.wrong.text()
    window.session.sign_in(kestrel.people["FARROW"])
    page.dry_button.click()
    assert "noted as dry" in page.result.text() and page.model.rowCount() == 0
    assert len(sheets(kestrel, "quarantine")) == 1 and state_of(kestrel, "P-1002") == "ready"


def test_a_stolen_bike_leaves_the_count_and_what_is_recovered_is_held(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-04", ENTER)
    page = window.away.missing
    open_page(window, "away", page)
    hands("EB-14", ENTER)
    assert page.fields["subject"].text == "EB-14"
    page.kind.choose(Missing.STOLEN)
    fill(hands, page, last_place="outside the bakery")
    page.gone_button.click()
    assert "With it: P-1004" in page.result.text()
    assert [row.code for row in page.model.rows] == ["EB-14", "P-1004"]
    fill(hands, page, police="CR-2211", insurer="CL-9")
    page.note_button.click()
    assert "CR-2211" in page.model.data(page.model.index(0, 7))
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 23)
    assert window.board.header.away.isVisible()
    assert "23 here and 1 away (EB-14 stolen) = 24 on record" in window.board.header.away.text()
    kestrel.now = MONDAY + dt.timedelta(days=4)
    open_page(window, "away", page)
    hands("P-1004", ENTER)
    assert page.table.selected_row().code == "P-1004"
    page.back_button.click()
    assert "Answer the first question" in page.wrong.text()
    page.gate.none.click()
    page.back_button.click()
    assert "where it lies" in page.fields["place"].wrong.text()
    fill(hands, page, place="Rack 9")
    page.back_button.click()
    assert "held until inspected" in page.result.text() and state_of(kestrel, "P-1004") == "held"
    assert [row.code for row in page.model.rows] == ["EB-14"]
    page.gate.none.click()
    fill(hands, page, place="yard")
    page.back_button.click()
    window.go("board")
    qtbot.waitUntil(lambda: window.board.model.rowCount() == 24)
    assert not window.board.header.away.isVisible()
    line = next(row for row in window.board.model.rows if row.vehicle.code == "EB-14")
    assert any("after 4 days away, history unknown" in say(reason.text) for reason in line.status.reasons)


def test_a_connector_is_replaced_on_both_sides_from_the_stock(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    notes = ServiceNotes("K36-A", connector_by_workshop=True)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("service_notes", notes))
    hands("B-01", ENTER, "18", ENTER, ENTER)
    shelf, page = window.parts.stock, window.parts.replace
    open_page(window, "parts", shelf)
    assert shelf.empty.isVisible() and not shelf.table.isVisible()
    for code, half in (("S-04", "pack"), ("S-05", "vehicle")):
        shelf.kind.choose(PartKind.CONNECTOR)
        shelf.half.box.setCurrentIndex(shelf.half.box.findData(half))
        fill(hands, shelf, code=code, name=f"connector K2, {half}", fits="K2", reorder_level="1", location="cabinet A")
        shelf.save.click()
        assert "part number" in shelf.fields["part_number"].wrong.text() and shelf.fields["code"].text == code
        fill(hands, shelf, part_number=f"CN-K2-{half[0].upper()}")
        shelf.save.click()
        assert shelf.table.selected_row().part.code == code
        fill(hands, shelf, pieces="1.5")
        shelf.buttons["in"].click()
        assert "whole number" in shelf.fields["pieces"].wrong.text()
        fill(hands, shelf, pieces="2", supplier="note 71")
        shelf.buttons["in"].click()
        assert "2 on hand" in shelf.result.text()
    stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), Part("S-06", PartKind.SEAL, "cover seal", "SL-36"))
    window.parts.show_page(page)
    page.what.choose(Replaced.CONNECTOR)
    fill(hands, page, pack="P-1002", before_v="41,30", after_v="41.31", badge="B-01")
    page.part.box.setCurrentIndex(page.part.box.findData("S-04"))
    page.keep_button.click()
    assert "name the pack and the vehicle" in page.fields["vehicle"].wrong.text()
    fill(hands, page, vehicle="EB-12", seal="the housing has its own")
    page.keep_button.click()
    assert "needs both halves" in page.wrong.text() and page.fields["before_v"].text == "41,30"
    page.other.box.setCurrentIndex(page.other.box.findData("S-05"))
    fill(hands, page, drop_before_mv="180", drop_after_mv="22", load_a="8")
    page.keep_button.click()
    assert "P-1002 is held" in page.result.text() and "EB-12 is grounded" in page.result.text()
    assert "CN-K2-P" in page.model.data(page.model.index(0, 1))
    window.parts.show_page(shelf)
    assert {row.part.code: row.have for row in shelf.model.rows} == {"S-04": 1, "S-05": 1, "S-06": 0}
    assert "3 to order" in shelf.order.text()
    texts = [say(line.text) for line in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").events]
    assert any("CN-K2-P" in text and "CN-K2-V" in text for text in texts)
    assert any("1 × S-04 (CN-K2-P) used on P-1002: connector, both halves replaced" in text for text in texts)


def test_with_one_depot_a_van_has_nowhere_to_go_and_that_is_said(window: MainWindow, hands: Typist) -> None:
    hands("B-04", ENTER)
    page = window.away.vans
    open_page(window, "away", page)
    assert "A second depot must be on record first" in page.one_depot.text() and page.one_depot.isVisible()
    assert not page.to_depot.isVisible() and not page.leave_button.isEnabled()


def test_a_van_list_refuses_a_held_pack_prints_its_marks_and_is_unloaded_elsewhere(
    window: MainWindow, hands: Typist, qtbot: QtBot, kestrel: Kestrel
) -> None:
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("depot", Depot("HY", "Heron Yard")))
    hold = Hold("pack", "P-1012", HoldClass.UNKNOWN, kestrel.now, msg("ground.by_person"), "rattles")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    hands("B-04", ENTER)
    page = window.away.vans
    open_page(window, "away", page)
    hands("P-1012", ENTER)
    assert "P-1012 is held" in page.fields["items"].wrong.text() and "rattles" in page.fields["items"].wrong.text()
    page.fields["items"].edit.clear()
    hands("P-1011", ENTER, "CB-01", ENTER)
    assert [row.code for row in page.loading.rows] == ["P-1011", "CB-01"]
    assert not page.one_depot.isVisible() and page.to_depot.isVisible()
    fill(hands, page, driver="Pike")
    page.leave_button.click()
    assert "1 loose packs" in page.wrong.text()
    page.covered.setChecked(True)
    page.leave_button.click()
    assert "V-0001: 3 packs and 1 vehicles" in page.result.text()
    shown = shown_paper(window, qtbot)
    text = pypdf.PdfReader(shown.path).pages[0].extract_text()
    assert not sheets(kestrel, "van-V-0001"), "shown first, and a file only when it is saved"
    put_away(window, qtbot)
    for words in ("UN 3480", "UN 3556", "P-1011", "P-1301", "in CB-01", "dangerous-goods", "Heron Yard",
                  "No held, quarantined or recalled pack", "call the fire service"):  # fmt: skip
        assert words in text, words
    assert list(page.boxes) == ["CB-01", "P-1011", "P-1301", "P-1302"]
    for code in ("CB-01", "P-1301", "P-1302"):
        page.boxes[code].setChecked(True)
    hands("P-1011", ENTER)
    assert page.boxes["P-1011"].isChecked()
    page.arrive_button.click()
    assert "which shelf" in page.fields["shelf"].wrong.text() and page.boxes["P-1011"].isChecked()
    fill(hands, page, shelf="HY rack 2")
    page.arrive_button.click()
    assert "unloaded at HY" in page.result.text() and page.none.isVisible()
    with kestrel.store.view() as view:
        assert view.thing("vehicle", "CB-01").depot == "HY" and view.thing("pack", "P-1011").depot == "HY"


def test_a_hire_return_keeps_pictures_lets_a_warm_pack_cool_and_stops_at_a_crack(
    window: MainWindow, hands: Typist, kestrel: Kestrel, tmp_path: Path
) -> None:
    picture = tmp_path / "corner.png"
    image = QImage(64, 48, QImage.Format.Format_RGB32)
    image.fill(0x808890)
    image.save(str(picture))
    hands("B-01", ENTER)
    page = window.away.returns
    open_page(window, "away", page)
    hands("P-1007", ENTER)
    page.keep_button.click()
    assert "Answer the first question" in page.wrong.text()
    page.gate.none.click()
    page.damage.choose(Damage.KNOWN)
    page.warmth.choose(Warmth.SUN_OR_RIDE)
    fill(hands, page, charger="C-36-1", damage_what="scuffed corner", damage_since="Sunday, rider")
    page.keep_button.click()
    assert "before anything is cleaned" in page.fields["photo"].wrong.text()
    page.fields["photo"].edit.setText(str(tmp_path / "gone.png"))
    page.keep_button.click()
    assert "gone.png" in page.fields["photo"].wrong.text()
    page.fields["photo"].edit.setText(str(picture))
    page.keep_button.click()
    assert "1 pictures" in page.result.text() and page.cooling.rowCount() == 1
    page.show_button.click()
    assert page.pictures.isVisible()
    page.look_cool.click()
    assert "left alone for 0 minutes" in page.fields["pack"].wrong.text()
    kestrel.now = MONDAY + dt.timedelta(hours=1)
    page.look_cool.click()
    assert "their own badge or PIN" in page.result.text() and page.cooling.rowCount() == 1
    fill(hands, page, badge="B-01")
    page.look_cool.click()
    assert "hold for warmth is ended" in page.result.text() and page.cooling.rowCount() == 0
    assert state_of(kestrel, "P-1007") == "held"
    fill(hands, page, pack="P-1003")
    page.gate.boxes[LookItem.CRACK].click()
    assert page.stop.isVisible() and page.stop.place.edit.hasFocus() and not page.keep_button.isVisible()
    hands("Q-1", ENTER)
    assert page.keep_button.isVisible() and state_of(kestrel, "P-1003") == "quarantined"
    assert len(sheets(kestrel, "quarantine-P-1003")) == 1


def test_a_fuse_from_the_stock_is_checked_against_what_its_body_says(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    model = replace(K36, fuse_a=D("30"), fuse_dc_v=D("58"))
    notes = ServiceNotes("K36-A", fuse_body="type_c")
    record.put_things(
        kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", model), ("service_notes", notes)
    )
    fuse = Part(
        "S-01", PartKind.FUSE, "blade fuse 30 A", "FB-30-58", ("K36-A",), D("30"), D("80"), "type_c", reorder_level=1
    )
    stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), fuse)
    stock.book_in(kestrel.store, kestrel.clock, kestrel.author(), "S-01", 1)
    hands("B-01", ENTER)
    window.go("faults")
    page = window.faults.fuse
    window.faults.show_page(page)
    hands("P-1002", ENTER)
    page.fitted.setChecked(True)
    assert page.stocked.isEnabled() and "FB-30-58 (1)" in page.stocked.box.itemText(1)
    page.stocked.box.setCurrentIndex(1)
    page.body.choose(Body.TYPE_C)
    fill(hands, page, rated_a="30", dc_v="58", badge="B-01")
    page.keep_button.click()
    assert "80.00 V" in page.fields["dc_v"].wrong.text() and page.fields["rated_a"].text == "30"
    fill(hands, page, dc_v="80")
    page.keep_button.click()
    assert "1 × blade fuse 30 A, FB-30-58; 0 on hand" in page.result.text() and page.stocked.code == ""


def test_every_input_of_these_pages_has_a_name_for_a_screen_reader(window: MainWindow) -> None:
    pages: list[DeedPage] = [window.parts.stock, window.parts.replace]
    pages += [window.away.made(key) for key in ("away.tab_returns", "away.tab_water", "away.tab_missing")]
    pages += [window.away.maker, window.away.vans, window.away.bays, window.away.disposal]
    for page in pages:
        inputs = [*page.findChildren(QLineEdit), *page.findChildren(QComboBox)]
        assert inputs and all(one.accessibleName() for one in inputs), page
        assert all(button.text() for button in page.findChildren(QPushButton))
