"""What the bench lets go out is what the board lets go out, on the day that the board names."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fleetcare.domain.checks import CheckKind, Hold, HoldClass, Release
from fleetcare.domain.decisions import Choice
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg, say
from fleetcare.reports import pack_sheet
from fleetcare.services import deciding, record, summary
from fleetcare.services.shown import VehicleSummary, step_now
from fleetcare.services.writing import Writer
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import Kestrel, build_morning
from tests.window_fixtures import Typist

ENTER, GOOD = Qt.Key.Key_Return, Qt.Key.Key_F8
TODAY = dt.date(2026, 11, 2)


def on_board(kestrel: Kestrel, vehicle: str) -> VehicleSummary:
    fleet = summary.fleet_summary(kestrel.store, kestrel.clock)
    return next(one for one in fleet.vehicles if one.vehicle.code == vehicle)


def ground(kestrel: Kestrel, vehicle: str, why: str) -> None:
    hold = Hold("vehicle", vehicle, HoldClass.FAULT, kestrel.now, msg("ground.by_person"), why)
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author("PIKE"), hold)


def printed(kestrel: Kestrel, pack: str, path: Path) -> str:
    page = summary.pack_summary(kestrel.store, kestrel.clock, pack)
    pack_sheet.write(page, path, page="A4", printed_by="Dunn", printed_at=kestrel.now)
    return " ".join("".join(one.extract_text() for one in pypdf.PdfReader(path).pages).split())


@pytest.mark.parametrize("loaded", [("",), ("39.70", ENTER)], ids=["pass", "watch"])
def test_a_passing_pack_does_not_let_a_grounded_vehicle_out(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path, loaded: tuple[object, ...]
) -> None:
    ground(kestrel, "EB-12", "two packs tripped in this bike")
    window.changes.poll()
    hands("B-01", ENTER, "18", ENTER, "EB-12", ENTER, "P-1002", ENTER, GOOD, "3", "41.50", ENTER, *loaded)
    work = window.bench.work
    stays = "P-1002 passes, but EB-12 stays in: two packs tripped in this bike (grounded by hand)."
    qtbot.waitUntil(lambda: stays in work.verdict.text())
    for text in ("may go out", "Back to work"):
        assert text.casefold() not in work.verdict.text().casefold()
    hands(ENTER)
    assert "Saved: P-1002" in work.verdict.text() and stays in work.verdict.text()
    assert on_board(kestrel, "EB-12").status.state is BoardState.GROUNDED
    paper = printed(kestrel, "P-1002", tmp_path / "sheet.pdf")
    assert stays in paper and "ay go out" not in paper and "Back to work" not in paper
    hold = next(one for one in on_board(kestrel, "EB-12").status.reasons if one.hold_id)
    assert hold.hold_id is not None
    release = Release(hold.hold_id, kestrel.now, "looked at lead and connector, both good")
    with kestrel.store.transaction() as tx:  # as if another PC had released it
        Writer(tx, kestrel.author("PIKE"), kestrel.now).add("release", release, kestrel.now)
    window.changes.poll()
    assert "stays in" not in work.verdict.text() and "Saved: P-1002" in work.verdict.text()


def test_another_pack_keeps_the_vehicle_in_or_goes_out_limited(kestrel: Kestrel) -> None:
    done = kestrel.check("P-1305", "51.00", vehicle="CB-03")
    assert done.stays is None and done.held
    told = kestrel.check("P-1306", "54.20", vehicle="CB-03").stays
    assert told is not None and on_board(kestrel, "CB-03").status.state is BoardState.LIMITED
    assert say(told).startswith("P-1306 passes, but CB-03 goes out limited: P-1305: ")
    assert "Take P-1305 out before CB-03 goes out." in say(told)
    assert kestrel.check("P-1303", "54.20", vehicle="CB-02").stays is None
    ground(kestrel, "CB-03", "brake")
    again = kestrel.check("P-1306", "54.20", at=kestrel.now + dt.timedelta(minutes=5), vehicle="CB-03").stays
    assert again is not None and "And 1 more: see the board." in say(again) and "stays in" in say(again)


def test_a_reading_that_is_no_check_lets_no_overdue_vehicle_out(tmp_path: Path) -> None:
    morning = build_morning(tmp_path / "morning.fleet")
    done = morning.check("P-1008", "38.00", vehicle="EB-18", kind=CheckKind.AS_FOUND)
    assert done.verdict is not None and on_board(morning, "EB-18").status.state is BoardState.GROUNDED
    told = say(step_now(done.verdict, done.held, done.stays))
    assert told.startswith("EB-18 stays in: P-1008: last valid check") and "passes" not in told
    morning.store.close()


def test_no_step_lets_a_held_pack_out_whatever_the_verdict(kestrel: Kestrel) -> None:
    hold = Hold("pack", "P-1002", HoldClass.FAULT, kestrel.now, msg("hold.by_person"), "rattles")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    done = kestrel.check("P-1002", "41.50", vehicle="EB-12", loaded="39.70", at=kestrel.now + dt.timedelta(minutes=1))
    assert done.verdict is not None and done.verdict.next_step.key == "next.watch_resistance"
    assert say(step_now(done.verdict, done.held, done.stays)).startswith("It stays held")


def test_bench_slip_and_board_name_one_day_before_and_after_a_decision(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot, tmp_path: Path
) -> None:
    hands("B-01", ENTER, "18", ENTER, "EB-12", ENTER, "P-1002", ENTER, GOOD, "3", "41.50", ENTER, "39.70", ENTER, ENTER)
    work = window.bench.work

    def told() -> dt.date:
        days = [line for line in work.verdict.text().splitlines() if line.startswith("Next check due ")]
        assert (
            len(days) == 1 and "next week" not in work.verdict.text() and "within the week" not in work.verdict.text()
        )
        return dt.datetime.strptime(days[0], "Next check due %d %b %Y").date()

    assert told() == on_board(kestrel, "EB-12").status.due_on == TODAY + dt.timedelta(days=7)
    qtbot.waitUntil(work.decision.isVisible)
    qtbot.keyClick(work.scan.edit, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert "re-check by 3 Nov 2026" in work.verdict.text()
    assert told() == on_board(kestrel, "EB-12").status.due_on == TODAY + dt.timedelta(days=1)
    paper = printed(kestrel, "P-1002", tmp_path / "sheet.pdf")
    assert "Next check due 3 Nov 2026" in paper and "next week" not in paper


def test_a_pull_decided_at_the_bench_takes_back_that_it_may_go_out(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "18", ENTER, "EB-12", ENTER, "P-1002", ENTER, GOOD, "3", "41.50", ENTER, "39.70", ENTER, ENTER)
    work = window.bench.work
    qtbot.waitUntil(work.decision.isVisible)
    assert "May go out" in work.verdict.text()
    qtbot.keyClick(work.scan.edit, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    assert "It stays held" in work.verdict.text() and "May go out" not in work.verdict.text()
    assert (
        "Next check due" not in work.verdict.text() and "Decided about P-1002: pull. It is held." in work.verdict.text()
    )


def test_an_earlier_decision_still_names_the_day_after_the_next_check(kestrel: Kestrel) -> None:
    kestrel.check("P-1002", "41.50", vehicle="EB-12", loaded="39.70")
    until = TODAY + dt.timedelta(days=5)
    author = kestrel.author()
    deciding.decide(kestrel.store, kestrel.clock, author, "P-1002", Choice.CARRY_ON, until, "watch it")
    kestrel.now += dt.timedelta(days=1)
    done = kestrel.check("P-1002", "41.50", vehicle="EB-12", loaded="39.70")
    assert done.next_due == on_board(kestrel, "EB-12").status.due_on == until


def test_the_preview_says_what_the_save_will_say(kestrel: Kestrel) -> None:
    for pack, vehicle, volts in (
        ("P-1002", "EB-12", "41.50"),
        ("P-1305", "CB-03", "51.00"),
        ("P-1306", "CB-03", "54.20"),
    ):
        kestrel.now += dt.timedelta(minutes=1)
        stored = summary.pack_summary(kestrel.store, kestrel.clock, pack).checks[0]
        with kestrel.store.view() as view:
            found = view.check(stored.record_id)
        assert found is not None
        check = replace(found.check, done_at=kestrel.now, rested_v=Decimal(volts), vehicle=vehicle)
        before = record.preview_check(kestrel.store, kestrel.clock, check)
        done = record.record_check(kestrel.store, kestrel.clock, kestrel.author(), check)
        if done.verdict is not None and done.verdict.hold_class is None:
            assert (before.next_due, before.held, before.stays) == (done.next_due, done.held, done.stays)
