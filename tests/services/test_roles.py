"""Every deed by every person: allowed or refused as the table says, and a refused one leaves nothing."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fleetcare.domain.checks import FoundIn, Hold, HoldClass, LookItem, LookOver, Release, Trip, TripCause
from fleetcare.domain.errors import NotAllowed
from fleetcare.domain.inspections import Inspected
from fleetcare.domain.wording import msg
from fleetcare.services import importing, oldsheets, parked, record, releasing, summary
from tests.kestrel import MONDAY, SUNDAY, Kestrel

CHECKERS, RELEASERS, ALL = "DUNN PIKE FARROW", "DUNN PIKE", "DUNN PIKE FARROW HALE ORMOND"


def sheet(kestrel: Kestrel, folder: Path, pack: str) -> oldsheets.Preview:
    path = folder / f"{pack}.csv"
    path.write_text(f"pack,date,volts\n{pack},2026-09-01,41.5\n", "utf-8")
    plan = oldsheets.survey(kestrel.store, path).plan
    return oldsheets.preview(kestrel.store, kestrel.clock, path, plan)


def deeds(kestrel: Kestrel, folder: Path) -> dict[str, tuple[str, Callable[[str], object]]]:
    """Who may, and the deed, by name; each is ready to be done once."""
    store, clock, author = kestrel.store, kestrel.clock, kestrel.author
    brake = Hold("vehicle", "CB-06", HoldClass.FAULT, SUNDAY, msg("ground.by_person"), "brake")
    record.set_hold(store, clock, author(), brake)
    kept = oldsheets.bring_in(store, clock, author(), sheet(kestrel, folder, "P-77"))
    assert kept.batch is not None
    batch = kept.batch
    with store.view() as view:
        held = view.open_holds(("vehicle", "CB-06"))[0].hold_id
    old = summary.pack_summary(store, clock, "P-1003").checks[0].record_id
    shown = sheet(kestrel, folder, "P-1004")
    hold = Hold("pack", "P-1005", HoldClass.FAULT, MONDAY, msg("ground.by_person"), "loose latch")
    good, danger = LookOver("P-1006", MONDAY), LookOver("P-1007", MONDAY, None, (LookItem.SMELL,))
    trip = Trip("P-1008", None, MONDAY, TripCause.OVER_CURRENT, True)
    looked = Inspected("vehicle", "CB-06", MONDAY, True, "brake cable new, ridden round the yard")
    broken = Inspected("charger", "C-36-1", MONDAY, False, "lead chafed")
    releasing.record_inspection(store, clock, author(), looked)
    return {
        "check": (CHECKERS, lambda who: kestrel.check("P-1002", "41.50", by=who)),
        "visual inspection that clears": (CHECKERS, lambda who: record.record_look_over(store, clock, author(who), good)),
        "danger reported": (ALL, lambda who: record.record_look_over(store, clock, author(who), danger)),
        "trip": (CHECKERS, lambda who: record.record_trip(store, clock, author(who), trip)),
        "hold": (ALL, lambda who: record.set_hold(store, clock, author(who), hold)),
        "release": (
            RELEASERS, lambda who: record.release_hold(store, clock, author(who), Release(held, MONDAY, "mended"))
        ),
        "inspection that clears": (CHECKERS, lambda who: releasing.record_inspection(store, clock, author(who), looked)),
        "inspection that finds something": (
            ALL, lambda who: releasing.record_inspection(store, clock, author(who), broken)
        ),
        "move": (ALL, lambda who: record.record_found_in(store, clock, author(who), FoundIn("P-1009", None, MONDAY))),
        "correction": (CHECKERS, lambda who: record.correct_check(store, clock, author(who), old, "slip", None)),
        "import": (CHECKERS, lambda who: oldsheets.bring_in(store, clock, author(who), shown)),
        "parked rows settled": (CHECKERS, lambda who: parked.settle(store, clock, author(who), "P-77", "P-1010")),
        "import taken back": (CHECKERS, lambda who: importing.take_back(store, clock, author(who), batch, "wrong")),
    }  # fmt: skip


@pytest.mark.parametrize("who", ALL.split())
def test_every_deed_is_allowed_or_refused_as_the_table_says(kestrel: Kestrel, tmp_path: Path, who: str) -> None:
    for name, (allowed, deed) in deeds(kestrel, tmp_path).items():
        with kestrel.store.view() as view:
            before = view.position
        if who in allowed.split():
            deed(who)
            with kestrel.store.view() as view:
                assert view.position > before, name
        else:
            with pytest.raises(NotAllowed):
                deed(who)
            with kestrel.store.view() as view:
                assert view.position == before, name
