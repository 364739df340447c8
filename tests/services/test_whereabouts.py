"""Where packs are: found, missed, and asked about by day."""

import datetime as dt

import pytest

from fleetcare.domain.checks import FoundIn
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import say
from fleetcare.services import record, summary, whereabouts
from tests.kestrel import MONDAY, Kestrel


def found(kestrel: Kestrel, *moves: FoundIn) -> None:
    record.record_found_in(kestrel.store, kestrel.clock, kestrel.author(), *moves)


def test_a_pack_found_elsewhere_leaves_a_vehicle_that_may_not_go_out(kestrel: Kestrel) -> None:
    found(kestrel, FoundIn("P-1004", None, MONDAY, shelf="Store"), FoundIn("P-1003", "EB-14", MONDAY))
    line = next(v for v in summary.fleet_summary(kestrel.store, kestrel.clock).vehicles if v.vehicle.code == "EB-13")
    assert line.status.state is BoardState.GROUNDED
    assert "P-1003 was recorded here and was since found in EB-14" in say(line.status.reasons[0].text)
    assert line.status.reasons[0].hold_class.value == "unknown"


def test_whoever_must_be_somewhere_else_is_on_the_list_to_find(kestrel: Kestrel) -> None:
    assert whereabouts.to_find(kestrel.store) == ()
    found(kestrel, FoundIn("P-1012", "EB-13", MONDAY))
    (line,) = whereabouts.to_find(kestrel.store)
    assert (line.pack, say(line.last_place)) == ("P-1003", "last found in EB-13")
    assert line.last_at is not None and line.last_at < MONDAY
    found(kestrel, FoundIn("P-1003", None, MONDAY, shelf="Rack 2"))
    assert whereabouts.to_find(kestrel.store) == ()


def test_which_pack_on_that_day_is_answered_with_or_unknown(kestrel: Kestrel) -> None:
    found(kestrel, FoundIn("P-1012", "EB-13", MONDAY))

    def told(days_ago: int) -> list[str]:
        day = (MONDAY - dt.timedelta(days=days_ago)).date()
        return [
            say(one) for one in whereabouts.answer_words(whereabouts.on_day(kestrel.store, kestrel.clock, "EB-13", day))
        ]

    assert told(3)[0] == "EB-13 on 30 Oct 2026: P-1003, found in it that day."
    assert told(1)[0] == "EB-13 on 1 Nov 2026: P-1003, P-1012, or unknown."
    assert told(0)[0] == "EB-13 on 2 Nov 2026: P-1012, found in it that day."
    assert told(20)[0] == "EB-13 on 13 Oct 2026: P-1003, or unknown."
    assert told(100)[0] == "EB-13 on 25 Jul 2026: P-1003, or unknown."
    with pytest.raises(EntryRefused, match="still to come"):
        told(-1)


def test_a_corrected_check_says_nothing_about_where_a_pack_was(kestrel: Kestrel) -> None:
    line = summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").checks[0]
    record.correct_check(kestrel.store, kestrel.clock, kestrel.author(), line.record_id, "it was another pack", None)
    answer = whereabouts.on_day(kestrel.store, kestrel.clock, "EB-13", line.done_at.date())
    assert answer.seen == () or all(c.before is not None for c in answer.candidates)


def test_an_entry_made_late_says_where_the_pack_was_then_and_moves_nothing_now(kestrel: Kestrel) -> None:
    found(kestrel, FoundIn("P-1004", None, MONDAY, shelf="Store"), FoundIn("P-1003", "EB-14", MONDAY))
    kestrel.check("P-1003", "41.50", at=MONDAY - dt.timedelta(days=1), vehicle="EB-13")
    assert summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").vehicle == "EB-14"
    window = whereabouts.windows_of(kestrel.store, "P-1003")[-1]
    assert (window.left, window.reached, window.last_seen) == ("EB-13", "EB-14", MONDAY - dt.timedelta(days=1))
    assert kestrel.store.verify().good


def test_the_history_prints_the_window_and_invents_no_date(kestrel: Kestrel) -> None:
    found(kestrel, FoundIn("P-1004", None, MONDAY, shelf="Store"), FoundIn("P-1003", "EB-14", MONDAY))
    told = [say(event.text) for event in summary.pack_summary(kestrel.store, kestrel.clock, "P-1003").events]
    assert (
        "P-1003 found in EB-14, bay 1; before that last found in EB-13 at 30 Oct 2026 06:30, when it moved is not known"
        in told
    )
