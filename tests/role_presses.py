"""How the deeds of bench, faults, identity and papers are pressed at the window."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtWidgets import QLabel, QWidget

from fleetcare.domain.checks import RestBand, TripCause
from fleetcare.domain.intake import Story
from fleetcare.domain.quarantine import HeadAnswer
from tests.kestrel import MONDAY
from tests.role_pressing import Press, Pressing, fill

# the bench and the pack


def save_check(p: Pressing) -> None:
    p.window.go("bench")
    bench = p.window.bench
    bench.setCurrentWidget(bench.work)
    work = bench.work
    for code in ("EB-12", "P-1002"):
        work.scan.edit.setText(code)
        work.scan.edit.returnPressed.emit()
    work.look.press_good()
    work.rest.choose(RestBand.HOURS_1_3)
    work.rested.edit.setText("41.50")
    bench.save()


def correct(p: Pressing) -> None:
    p.window.open_pack("P-1003")
    p.wait(lambda: p.window.pack.page is not None and p.window.pack.page.pack.code == "P-1003")
    p.ask(p.window.pack.buttons["correct"], "41.40", "", "", "", "", "", "digits swapped")


def colleagues_draft(p: Pressing) -> None:
    p.window.go("bench")
    bench = p.window.bench
    bench.setCurrentWidget(bench.work)
    from fleetcare.services import drafts

    author = p.window.session.author(p.window.changes.position)
    assert author is not None
    (offer,) = drafts.offered(p.kestrel.store, "PIKE", MONDAY.tzinfo)  # type: ignore[arg-type]
    bench.work.drafts.discard.emit(offer)


# faults


def judged_report(p: Pressing) -> None:
    page = p.page("faults", "report")
    page.none.setChecked(True)
    fill(page.fields, pack="P-1002", vehicle="EB-12", reason="steep ramp")
    page.story.choose(Story.CUT_OUT_HILL)
    page.explained.setChecked(True)
    page.cause.choose(TripCause.OVER_CURRENT)
    page.keep()


def trips(button: str) -> Press:
    def press(p: Pressing) -> None:
        page = p.page("faults", "trips")
        fill(page.fields, pack="P-1002", reason="steep ramp")
        page.fields["pack"].edit.returnPressed.emit()
        p.wait(lambda: page.table.model().rowCount() > 0)
        page.table.selectRow(0)
        page.cause.choose(TripCause.OVER_CURRENT)
        page.explained.setChecked(True)
        page.fields["badge"].edit.setText(p.badge)
        getattr(page, button).click()  # a reset is only offered to who may, and the page says so

    return press


def begin_job(p: Pressing) -> None:
    page = p.page("faults", "job")
    fill(page.fields, pack="P-1002")
    page.begin_button.click()


def in_a_job(deed: Callable[[Any, Pressing], None]) -> Press:
    """A job begun by somebody who may, gone on with by whoever is signed in now."""

    def press(p: Pressing) -> None:
        page = p.page("faults", "job")
        page.state = p.ready
        page._show()
        deed(page, p)

    return press


def next_pause(page: Any, _p: Pressing) -> None:
    for box in page.boxes:
        box.setChecked(True)
    page.next()


def finish_job(page: Any, p: Pressing) -> None:
    fill(page.fields, rested_v="41.40", loaded_v="39.90", load_a="8", badge=p.badge)
    page.lit.setChecked(True)
    page.finish_button.click()


def fuse(*, fitted: bool) -> Press:
    def press(p: Pressing) -> None:
        page = p.page("faults", "fuse")
        fill(page.fields, pack="P-1008", vehicle="EB-18", cause="lead pinched")
        page.blown.setChecked(True)
        page.fitted.setChecked(fitted)
        if fitted:
            from fleetcare.domain.fuses import Body

            fill(page.fields, rated_a="30", dc_v="58", part_number="FB-30-58", badge=p.badge)
            page.body.choose(Body.TYPE_C)
        page.keep_button.click()

    return press


def walk(p: Pressing) -> None:
    from fleetcare.domain.fault_tree import Outcome

    page = p.page("faults", "tree")
    fill(page.fields, pack="P-1002", vehicle="EB-12")
    page._steps, page._readings, page._outcome = [("r2", "collapses")], [], Outcome.PULL
    from decimal import Decimal

    page._readings = [("r2", Decimal("12.4"))]
    page.keep()


def collect(p: Pressing) -> None:
    page = p.page("faults", "quarantine")
    p.wait(lambda: page.table.model().rowCount() > 0)
    page.table.selectRow(0)
    for choice in page.heads.values():
        choice.choose(HeadAnswer.CANNOT_SAY)
    fill(page.fields, carrier="Northfield Carriers", consignment="NC-1", badge=p.badge)
    page.collect.click()


def release(p: Pressing) -> None:
    p.window.open_vehicle("CB-06")
    p.wait(p.window.vehicle.release.isEnabled)
    p.ask(p.window.vehicle.release, "mended", p.badge)


def inspected_good(p: Pressing) -> None:
    page = p.page("faults", "holds")
    p.wait(lambda: page.table.model().rowCount() > 0)
    page.table.selectRow(0)
    fill(page.fields, looked_at="brake cable")
    page.inspect(good=True)


# identity, meters, paper


def person(p: Pressing) -> None:
    tab = p.tab("identity", "people")
    tab._chosen = None
    tab.form.fields["name"].edit.setText(f"Newcomer {p.badge}")
    tab.form.do.click()


def another_pin(p: Pressing) -> None:
    tab = p.tab("identity", "people")
    tab.edit_person(p.kestrel.people["PIKE"])
    tab.pin.fields["pin"].edit.setText("4711")
    tab.pin.do.click()


def new_pack(p: Pressing) -> None:
    tab = p.tab("identity", "new_pack")
    tab.refresh()
    fill(tab.form.fields, code="P-1015", model="K36-A", serial="2609-0001", marks="EN 62133-2", invoice="INV-2211",
         charger="C-36-1", warranty_clause="none", no_photo_reason="camera broken", rest=RestBand.HOURS_1_3.value,
         rested_v="41.70", loaded_v="40.50", load_a="8")  # fmt: skip
    tab.good.setChecked(True)
    tab.form.do.click()


def training(p: Pressing) -> None:
    tab = p.tab("identity", "competence")
    p.wait(lambda: tab.table is not None and tab._matrix is not None)
    tab.choose("PIKE")
    tab.item.box.setEditText("Fuse work")
    tab.training.do.click()


def prove_meter(p: Pressing) -> None:
    p.window.go("meters")
    screen = p.window.meters
    p.wait(lambda: screen.model.rowCount() > 0)
    screen.choose("M-02")
    p.wait(lambda: screen.proof.meter is not None)
    fill(screen.proof._fields, reference="voltage standard", reference_v="41.00", reference_error_v="0.01", read_v="41.05",
         done_date=MONDAY.date().isoformat())  # fmt: skip
    screen.save()
    screen.save()


def break_meter(p: Pressing) -> None:
    p.window.go("meters")
    p.wait(lambda: p.window.meters.model.rowCount() > 0)
    p.window.meters.choose("M-02")
    p.wait(lambda: p.window.meters.proof.meter is not None)
    p.ask(p.window.meters.proof.broken, "dropped")


def paper_line(p: Pressing) -> None:
    p.window.go("sheets")
    form = p.window.sheets.form
    typed = {form.sheet: p.ready, form.line: "1", form.pack: "P-1003", form.date: "2026-11-02", form.time: "06:30",
             form.done_by: "Pike", form.rested: "41.38", form.meter: "M-01"}  # fmt: skip
    for field, text in typed.items():
        field.edit.setText(text)
    form.rest.setCurrentIndex(form.rest.findData(RestBand.HOURS_1_3))
    form.all_good.setChecked(True)
    p.window.sheets.enter()


def print_labels(p: Pressing) -> None:
    panel = p.tab("papers", "labels")
    if panel.made is None:
        panel.codes.edit.setText("P-1003")
        panel.buttons["preview"].click()
        p.wait(lambda: panel.made is not None)
    panel._issue(lambda made: "saved")


def passport(p: Pressing) -> None:
    panel = p.tab("papers", "labels")
    panel.passport_pack.edit.setText("P-1011")
    panel.passport.edit.setText("https://passport.example/P-1011")
    panel.keep.click()


def lodge(p: Pressing) -> None:
    panel = p.tab("papers", "proof")
    panel.refresh()
    p.wait(lambda: panel._known is not None)
    panel.recipient.edit.setText("the broker")
    panel.lodge.click()


def condition(p: Pressing) -> None:
    panel = p.tab("papers", "policy")
    panel.text.edit.setText("Inspect weekly.")
    panel.policy.edit.setText("FL-1")
    panel.from_date.edit.setText("2026-11-02")
    panel.save.click()


def rules(button: str) -> Press:
    def press(p: Pressing) -> None:
        panel = p.tab("papers", "rules")
        p.wait(lambda: panel.shown is not None)
        panel.rules.setCurrentIndex(panel.rules.count() - 1)
        panel.rules_text.setPlainText("the depot's own")
        panel.own.setPlainText("Gloves lie in drawer 1.")
        getattr(panel, button).click()

    return press


# old spreadsheets


def _imports(p: Pressing) -> Any:
    p.window.go("keeping")
    page = p.window.keeping.imports
    p.window.keeping.pages.setCurrentWidget(page)
    page.refresh()
    return page


def _answered(p: Pressing, page: Any, button: QWidget, *typed: str) -> None:
    button.click()  # type: ignore[attr-defined]
    asked = page.asked
    for field, text in zip(asked._fields, typed, strict=False):
        field.edit.setText(text)
    asked.do.click()
    p.wait(lambda: not asked.running)
    p.dialog_said = " ".join(label.text() for label in asked.findChildren(QLabel) if label.isVisible())
    asked.close()


def take_back(p: Pressing) -> None:
    page = _imports(p)
    page.imports_table.selectRow(0)
    _answered(p, page, page.back, "wrong")


def settle(p: Pressing) -> None:
    page = _imports(p)
    page.parked_table.selectRow(0)
    _answered(p, page, page.settle, "P-1010", "the same pack")


def bring_in(p: Pressing) -> None:
    path = p.folder / "log.csv"
    path.write_text("pack,date,volts\nP-1004,2026-09-02,41.5\n", "utf-8")
    page = p.window.keeping.sheets
    p.window.go("keeping")
    p.window.keeping.pages.setCurrentWidget(page)
    page.file.edit.setText(str(path))
    page.look()
    p.wait(page.show_rows.isEnabled)
    page.show_rows.click()
    p.wait(page.confirm.isEnabled)
    page.confirm.click()
    p.wait(lambda: not page.stop.isVisible() and bool(page.said.text()))


def next_label(p: Pressing) -> None:
    again = p.tab("identity", "labels").again
    fill(again.fields, pack="P-1003", reason="worn")
    again.do.click()
