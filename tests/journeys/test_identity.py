"""Labels lost and twice, a pack without a name, a new pack: typed and clicked in a real window."""

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog
from pytestqt.qtbot import QtBot

from fleetcare.domain.labels import with_check
from fleetcare.domain.packs import PackModel
from fleetcare.domain.wording import say
from fleetcare.services import first_steps, record, summary
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel
from tests.window_fixtures import Typist, put_away, shown_paper

ENTER = Qt.Key.Key_Return
CLICK = Qt.MouseButton.LeftButton


def sign_in(window: MainWindow, hands: Typist, who: str = "B-01") -> None:
    hands(who, ENTER, "20", ENTER)
    window.go("identity")


def test_a_lost_label_a_twin_and_a_pack_without_a_name(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sign_in(window, hands)
    tab = window.identity.labels
    tab.find.fields["serial"].edit.setFocus()
    hands("2403-0161", ENTER)
    assert "2403-0611 (P-1011)" in tab.find.fields["serial"].wrong.text() and tab.found is None
    tab.find.fields["serial"].edit.selectAll()
    hands("2403-0611", ENTER)
    assert "P-1011, K36-A, on shelf Store. Label issue 1 stands" in tab.result.text()
    assert tab.again.fields["reason"].edit.hasFocus()
    hands(ENTER)
    assert "why a new label" in tab.again.fields["reason"].wrong.text()
    hands("worn off", ENTER)
    assert "label issue 2 is to be printed; issue 1 is void" in tab.again.said.text()
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_a, **_k: (str(tmp_path / "label.pdf"), ""))
    qtbot.mouseClick(tab.print_label, CLICK)
    paper = shown_paper(window, qtbot)
    qtbot.mouseClick(paper.buttons["save"], CLICK)
    put_away(window, qtbot)
    window.papers.labels.codes.edit.setText("P-1011")
    window.papers.labels.make()
    qtbot.waitUntil(lambda: window.papers.labels.made is not None)
    assert window.papers.labels.made.labels[0].issue == 2, "the identity page and the papers page count one issue"
    from pypdf import PdfReader

    text = PdfReader(tmp_path / "label.pdf").pages[0].extract_text()
    assert "P-1011/2*" in text and "label issue 2" in text and "2403-0611" in text

    window.go("bench")
    hands(with_check("P-1011"), ENTER)
    assert "Alarm: label issue 1 of P-1011 is void" in window.bench.work.scan.wrong.text()
    window.go("identity")
    tab.twin.fields["pack"].edit.setFocus()
    hands("P-1011")
    tab.twin.fields["serial"].edit.setFocus()
    hands("2405-0101", ENTER)
    assert "Choose the pack model" in tab.twin_model.wrong.text() and tab.twin.fields["serial"].text == "2405-0101"
    tab.twin_model.choose("K36-A")
    qtbot.mouseClick(tab.twin.do, CLICK)
    assert "P-1011 and U-001 are both held" in tab.twin.said.text()
    tab.unknown_model.choose("K36-A")
    qtbot.mouseClick(tab.unknown.do, CLICK)
    assert "U-002: new item, history unknown, held" in tab.unknown.said.text()
    for code in ("P-1011", "U-001", "U-002"):
        assert summary.pack_summary(kestrel.store, kestrel.clock, code).status.state.value == "held"


def test_a_new_pack_needs_the_whole_list(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path
) -> None:
    sign_in(window, hands)
    window.identity.tabs.setCurrentIndex(1)
    tab = window.identity.new_pack
    photo = tmp_path / "label.png"
    photo.write_bytes(b"\x89PNG\r\n\x1a\n" + b"0" * 30)
    fields = tab.form.fields
    typed = {
        "code": "P-1015", "serial": "2403-0501", "marks": "EN 62133-2; UN 38.3", "invoice": "INV-2211",
        "warranty_end": "2028-11-02", "warranty_clause": "not for hire use", "shelf": "Store", "photo": str(photo),
        "rested_v": "41.70", "loaded_v": "40.50",
    }  # fmt: skip
    for name, text in typed.items():
        fields[name].edit.setFocus()
        hands(text)
    qtbot.mouseClick(tab.form.do, CLICK)
    assert "tick the line" in tab.look_wrong.text() and tab.look_wrong.isVisible()
    assert all(one.wrong.text() for one in (tab.model, tab.charger, tab.rest)), "all that is missing is said at once"
    tab.good.setFocus()
    hands(Qt.Key.Key_Space)
    qtbot.mouseClick(tab.form.do, CLICK)
    assert "at least" in tab.rest.wrong.text() or tab.rest.wrong.text()
    tab.rest.choose("hours_1_3")
    qtbot.mouseClick(tab.form.do, CLICK)
    assert "Choose the pack model" in tab.model.wrong.text()
    assert tab.bench.isVisible() and tab.bench.text().startswith("Measured under: M-01")
    tab.model.choose("K36-A")
    tab.charger.choose("C-48-1")
    qtbot.mouseClick(tab.form.do, CLICK)
    assert "already recorded for P-1001" in fields["serial"].wrong.text()
    qtbot.wait(50)
    below = [fields[name].y() for name in ("date_code", "shelf", "load_a")]
    fields["serial"].edit.selectAll()
    hands("2609-0001")
    qtbot.wait(50)
    assert not fields["serial"].wrong.isVisible()
    assert [fields[name].y() for name in ("date_code", "shelf", "load_a")] == below, "nothing moves while one types"
    hands(ENTER)
    assert "C-48-1 charges to 54.6" in tab.charger.wrong.text()
    tab.charger.choose("C-36-1")
    qtbot.mouseClick(tab.form.do, CLICK)
    assert "P-1015 is commissioned: pass" in tab.form.said.text(), tab.form.said.text()
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1015")
    assert page.status.state.value == "ready" and page.checks[0].meter == "M-01" and fields["code"].text == ""
    assert (tab.model.code, tab.charger.code, fields["invoice"].text) == ("K36-A", "C-36-1", "INV-2211"), "one delivery"
    assert [fields[name].text for name in ("serial", "photo", "rested_v", "loaded_v")] == [""] * 4 and not tab.rest.code
    assert fields["load_a"].text, "the amps of the bench stay"
    fields["code"].edit.setFocus()
    hands("P")
    assert tab.form.said.isHidden(), "what came of one pack is not said over the next one"
    qtbot.mouseClick(tab.other, CLICK)
    assert not tab.model.code and fields["invoice"].text == "" and fields["load_a"].text


def test_who_is_missing_and_which_pack_was_in_it_on_that_day(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "20", ENTER, "EB-13", ENTER, "P-1012", ENTER)
    radio = window.bench.work.pairing.choice.button(2)
    qtbot.mouseClick(radio, CLICK)
    radio.setFocus()
    hands(ENTER, Qt.Key.Key_F8, "3", "41.40", ENTER, ENTER)
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1012").vehicle == "EB-13"
    window.go("identity")
    window.identity.tabs.setCurrentIndex(2)
    tab = window.identity.find
    assert [(row.pack, row.last_place.key) for row in tab.rows.rows] == [("P-1003", "find.last_in")]
    tab.ask.fields["vehicle"].edit.setFocus()
    hands("EB-13")
    tab.ask.fields["day"].edit.setFocus()
    hands("1 Nov", ENTER)
    assert "Type it as YYYY-MM-DD, such as 2026-11-02" in tab.ask.fields["day"].wrong.text()
    tab.ask.fields["day"].edit.selectAll()
    hands("2026-11-01", ENTER)
    assert "EB-13 on 1 Nov 2026: P-1003, P-1012, or unknown." in tab.answer.text()
    assert "Since when it had been there is not known" in tab.answer.text()


def test_a_manager_adds_somebody_and_nobody_raises_themselves(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    from dataclasses import replace

    from fleetcare.services import people
    from tests.kestrel import PEOPLE

    hands("B-05", ENTER)
    window.go("identity")
    window.identity.tabs.setCurrentIndex(3)
    tab = window.identity.people
    tab.form.fields["name"].edit.setFocus()
    hands("Newman")
    tab.form.fields["badge"].edit.setFocus()
    hands("B-01", ENTER)
    assert "Badge B-01 belongs to Dunn" in tab.form.fields["badge"].wrong.text()
    tab.form.fields["badge"].edit.selectAll()
    hands("B-09")
    tab.level.choose("may_check")
    qtbot.mouseClick(tab.form.do, CLICK)
    assert "Newman is recorded" in tab.form.said.text()
    assert people.find_person(kestrel.store, "b-09").level.value == "may_check"
    assert people.find_person(kestrel.store, "b-09").firm == ""
    tab.edit_person(people.find_person(kestrel.store, "b-09"))
    tab.form.fields["firm"].edit.setFocus()
    hands("Quayside Electrics")
    qtbot.mouseClick(tab.form.do, CLICK)
    assert people.find_person(kestrel.store, "b-09").firm == "Quayside Electrics"
    firms = {row[0].name: tab.rows.index(number, 2).data() for number, row in enumerate(tab.rows.rows)}
    assert firms["Newman"] == "Quayside Electrics" and firms["Dunn"] == "own staff"
    tab.edit_person(people.find_person(kestrel.store, "b-09"))
    assert tab.form.fields["firm"].text == "Quayside Electrics"
    tab.edit_person(replace(PEOPLE["ORMOND"]))
    assert tab.form.fields["firm"].text == ""
    tab.level.choose("may_release")
    qtbot.mouseClick(tab.form.do, CLICK)
    assert "Nobody changes their own level" in tab.level.wrong.text()


def test_what_the_bench_lacks_is_said_before_the_first_field(
    window: MainWindow, hands: Typist, kestrel: Kestrel
) -> None:
    window.go("identity")
    tab = window.identity.new_pack
    window.identity.show_tab(tab)
    assert "nobody is signed in; no meter is chosen" in tab.bench.text() and tab.bench.isVisible()
    fields = list(tab.form.fields.values())
    assert tab.bench.y() < min(one.y() for one in fields)
    bare = replace(kestrel_model(kestrel), code="BARE", name="Bare", baseline_resistance_ohm=None, baseline_c=None)
    record.put_things(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), ("pack_model", bare))
    tab.refresh()
    tab.model.choose("BARE")
    assert "compare with the model's figure when new at a temperature" in tab.bare.text() and tab.bare.isVisible()
    step = next(one for one in first_steps.first_steps(kestrel.store) if one.name == "pack_model")
    assert step.done and "no verdict on loaded resistance for Bare" in say(step.told)


def kestrel_model(kestrel: Kestrel) -> PackModel:
    with kestrel.store.view() as view:
        model: PackModel = view.thing("pack_model", "K36-A")
    return model
