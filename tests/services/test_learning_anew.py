"""What was learnt this morning holds until the day ends, or until something is recorded about the days before it."""

from pathlib import Path

import pytest

from fleetcare.domain.projection.answer import Projection
from fleetcare.services import fleet_outlook, importing, oldsheets, summary
from tests.kestrel import Kestrel

HEAD = "Battery no;Date;Rested;Loaded;Amps;Rest (min);Temp;Meter\n"
PACK = "P-1002"


def old_book(tmp_path: Path) -> Path:
    """Fourteen weekly checks of one pack whose resistance rises, all of them before today."""
    rows = [
        f"{PACK};{1 + 7 * (n % 4)}/{6 + n // 4}/2026;41.{70 + n % 3};{41.7 - 8 * (0.15 + 0.003 * n):.2f};8;90;20;M-01\n"
        for n in range(14)
    ]
    path = tmp_path / "old.csv"
    path.write_text(HEAD + "".join(rows), "utf-8")
    return path


def told(kestrel: Kestrel) -> tuple[Projection, ...]:
    return summary.pack_summary(kestrel.store, kestrel.clock, PACK).projections


def told_by_a_new_program(kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch) -> tuple[Projection, ...]:
    with monkeypatch.context() as fresh:
        fresh.setattr(fleet_outlook, "_found", type(fleet_outlook._found)())
        fresh.setattr(fleet_outlook, "_fits", type(fleet_outlook._fits)())
        return told(kestrel)


def test_an_old_book_brought_in_today_is_projected_at_once_and_so_is_its_taking_back(
    kestrel: Kestrel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = told(kestrel)
    plan = oldsheets.survey(kestrel.store, old_book(tmp_path)).plan
    shown = oldsheets.preview(kestrel.store, kestrel.clock, old_book(tmp_path), plan)
    done = oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
    assert done.batch is not None and done.counts["checks"] == 14
    after = told(kestrel)
    assert after == told_by_a_new_program(kestrel, monkeypatch) and after != before
    assert all(one.projected for one in after if one.comparable_checks >= one.needed_checks)
    importing.take_back(kestrel.store, kestrel.clock, kestrel.author(), done.batch, "another depot's book")
    assert told(kestrel) == told_by_a_new_program(kestrel, monkeypatch)


def test_a_check_of_today_teaches_nothing_anew(kestrel: Kestrel, monkeypatch: pytest.MonkeyPatch) -> None:
    told(kestrel)
    learnt: list[object] = []
    monkeypatch.setattr(fleet_outlook, "_learn", lambda *asked: learnt.append(asked))
    kestrel.check(PACK, "41.60")
    told(kestrel)
    assert learnt == []
