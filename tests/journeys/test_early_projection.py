"""A pack that still passes but whose projection comes near its limit: the bench asks, one key decides."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QThreadPool
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fleetcare.app import App
from fleetcare.domain.decisions import Choice, Kind
from fleetcare.domain.wording import say
from fleetcare.services import decisions, record, summary
from fleetcare.services.overview import overview, replacing, waiting
from fleetcare.services.renewal import renewal
from fleetcare.settings import Settings
from fleetcare.ui.main_window import MainWindow
from tests.kestrel import K36, MONDAY, SITE, D, Kestrel, build
from tests.window_fixtures import Typist

ENTER = Qt.Key.Key_Return
SAGS = ("1.04", "1.08", "1.11", "1.16", "1.19", "1.23", "1.28")
STEADY = ("1.06", "1.05", "1.07", "1.06", "1.06", "1.05", "1.07")


@pytest.fixture
def kestrel(tmp_path: Path) -> Iterator[Kestrel]:
    """P-1005's resistance rose by 0.005 Ω a week for seven weeks; every check of it passed.  P-1006 stays where it was."""
    made = build(tmp_path / "early.fleet", checked_days_ago=58)
    begun = MONDAY - dt.timedelta(days=57)
    by_ratio = replace(
        SITE, resistance_watch_ohm=None, resistance_pull_ohm=None, resistance_load_a=None, resistance_hold_s=None
    )
    model = replace(K36, baseline_resistance_ohm=D("0.132"), baseline_c=D("25"))
    record.put_things(made.store, lambda: begun, made.author("ORMOND"), ("site_rules", by_ratio), ("pack_model", model))
    for number, sags in enumerate(zip(SAGS, STEADY, strict=True)):
        at = MONDAY - dt.timedelta(days=7 * (len(SAGS) - number))
        for pack, vehicle, sag in zip(("P-1005", "P-1006"), ("EB-15", "EB-16"), sags, strict=True):
            made.check(pack, "41.60", loaded=str(D("41.60") - D(sag)), at=at, vehicle=vehicle, bench="25")
    yield made
    made.store.close()


@pytest.fixture
def app(kestrel: Kestrel) -> App:
    """The depot as an open program would have it."""
    return App(kestrel.store, kestrel.clock, "BENCH-1", Settings())


def test_an_early_projection_asks_at_the_bench_and_is_decided_there(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    hands("B-01", ENTER, "25", ENTER)
    bench = window.bench
    panel = bench.work.decision

    def check(vehicle: str, pack: str, loaded: str) -> None:
        hands(vehicle, ENTER, pack, ENTER)
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_F8)
        hands("3", "41.60", ENTER, loaded, ENTER, ENTER)
        qtbot.waitUntil(lambda: f"{pack}, pass" in bench.work.verdict.text(), timeout=10_000)

    check("EB-15", "P-1005", "40.28")
    qtbot.waitUntil(panel.isVisible, timeout=30_000)
    told = panel.question.text()
    assert told.startswith("P-1005 may reach its limit (Loaded resistance) from ") and "80 % range begins" in told
    assert bench.work.scan.edit.hasFocus(), "the next scan goes on as ever"
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1005")
    assert page.decision is not None and page.decision.question is not None
    assert say(page.decision.question.statement) == told, "bench and pack page ask the same"
    qtbot.keyClick(bench.work.scan.edit, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    assert not panel.isVisible() and "Decided about P-1005: carry on until" in bench.work.verdict.text()
    early = decisions.early_edges(kestrel.store, kestrel.clock)
    with kestrel.store.view() as view:
        assert "P-1005" not in {one.pack for one in decisions.undecided(view, kestrel.now, early)}
        (made,) = [
            one for one in decisions.standing_decisions(view, kestrel.now, early) if one.decision.pack == "P-1005"
        ]
    assert made.decision.kind is Kind.EARLY and made.decision.choice is Choice.CARRY_ON and made.person == "Dunn"

    check("EB-16", "P-1006", "40.54")
    qtbot.waitUntil(lambda: QThreadPool.globalInstance().activeThreadCount() == 0, timeout=30_000)
    QApplication.processEvents()
    assert not panel.isVisible(), "a pack that does not decline asks nothing"


def test_what_waits_because_of_a_projection_leads_the_managers_page_too(
    window: MainWindow, hands: Typist, kestrel: Kestrel, qtbot: QtBot
) -> None:
    kestrel.check("P-1005", "41.60", loaded="40.28", vehicle="EB-15", bench="25")
    hands("B-05", ENTER)
    window.go("overview")
    card = window.overview.cards["decisions"]
    qtbot.waitUntil(lambda: any("P-1005 may reach its limit" in one for one in card.texts), timeout=60_000)
    assert card.title.text() == "Waiting for a decision: 1"


def test_the_list_of_the_overview_waits_for_the_projections(kestrel: Kestrel) -> None:
    kestrel.check("P-1005", "41.60", loaded="40.28", vehicle="EB-15", bench="25")
    found = renewal(kestrel.store, kestrel.clock)
    assert [pack for pack, _ in found.early] == ["P-1005"]
    (line,) = waiting(kestrel.store, kestrel.clock, dict(found.early)).lines
    assert line.subject == ("pack", "P-1005") and "may reach its limit" in say(line.text)
    quick = {one.name: one for one in overview(kestrel.store, kestrel.clock).sections}
    assert [say(one.text) for one in quick["decisions"].lines] == [
        "Every watch and pull is decided; the projections are being read …"
    ]
    assert replacing(found).lines
