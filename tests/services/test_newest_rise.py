"""Newest readings that stand clearly better than those before are told first: no decline explains them, nor does a sentence
about the years before."""

import datetime as dt

import pytest

from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.wording import say
from fleetcare.services import summary
from fleetcare.services.renewal import renewal
from fleetcare.services.suspects import suspects_of, what_to_do
from tests.kestrel import MONDAY, Kestrel

WEEKS = 30
NOW = MONDAY + dt.timedelta(weeks=WEEKS, days=2)
AMPS = 8


def day_of(ago: int) -> dt.datetime:
    return NOW - dt.timedelta(days=7 * ago - 5)


def history(
    kestrel: Kestrel,
    *,
    rises: dict[int, float] | None = None,
    eased: dict[int, float] | None = None,
    slide: float = 0.0,
) -> None:
    """Thirty weekly checks of P-1002 and of its neighbour.  Its readings so many weeks ago stood so much higher, or had
    so many times the resistance; `slide` is what its rested volts lose a week."""
    kestrel.now = NOW
    for ago in range(WEEKS, 0, -1):
        near = (0.00, 0.02, -0.01, 0.01, -0.02)[ago % 5]
        ohm = 0.150 + (0.001, -0.002, 0.002, 0.000)[ago % 4]
        for pack, vehicle, hours in (("P-1002", "EB-12", 0), ("P-1003", "EB-13", 1)):
            own = pack == "P-1002"
            rested = 41.40 + near + ((rises or {}).get(ago, 0.0) - slide * (WEEKS - ago) if own else 0.0)
            drop = AMPS * ohm * ((eased or {}).get(ago, 1.0) if own else 1.0)
            at = day_of(ago) + dt.timedelta(hours=hours)
            kestrel.check(pack, f"{rested:.2f}", at=at, vehicle=vehicle, loaded=f"{rested - drop:.2f}")


def projected(kestrel: Kestrel, quantity: str, pack: str = "P-1002") -> Projection:
    page = summary.pack_summary(kestrel.store, kestrel.clock, pack)
    return next(p for p in page.projections if p.quantity == quantity)


@pytest.mark.parametrize("newest", [3, 5, 9])
def test_volts_that_rose_lately_are_told_first(kestrel: Kestrel, newest: int) -> None:
    history(kestrel, rises=dict.fromkeys(range(1, newest + 1), 0.4))
    told = say(projected(kestrel, "rested_full_v").sentence)
    day = day_of(newest).date()
    assert told.startswith("Rose by 0.4") or told.startswith("Rose by 0.39"), told
    assert f"about {day.day} {day:%b %Y}: the newest {newest} readings stand at 41.8" in told
    assert "those before at 41.4" in told and "Measure again" not in told, "three alike are the pack's own"
    assert renewal(kestrel.store, kestrel.clock).suspects == ()
    assert say(projected(kestrel, "rested_full_v", "P-1003").sentence).startswith("No decline seen")


@pytest.mark.parametrize("newest", [3, 6])
def test_a_resistance_that_fell_lately_is_told_first(kestrel: Kestrel, newest: int) -> None:
    history(kestrel, eased=dict.fromkeys(range(1, newest + 1), 0.7))
    told = say(projected(kestrel, "resistance_ohm").sentence)
    assert told.startswith("Fell by 0.0"), told
    assert f"the newest {newest} readings stand at 0.10" in told
    assert "No pack's resistance falls so far by itself: was something mended, or is it another pack?" in told


def test_two_that_read_better_are_to_be_measured_again(kestrel: Kestrel) -> None:
    history(kestrel, eased={1: 0.7, 2: 0.7})
    found = projected(kestrel, "resistance_ohm")
    told = say(found.sentence)
    assert "the newest 2 readings stand at 0.10" in told and "Measure again." in told, told
    open_ = [one for one in suspects_of("P-1002", [found]) if one.settled_at is None]
    assert [one.reading.done_at for one in open_] == [day_of(1), day_of(2)]
    assert [one.pack for one in renewal(kestrel.store, kestrel.clock).suspects] == ["P-1002"] * 2
    for left in (*found.in_question, *found.left_out):
        assert say(what_to_do(left, "resistance_ohm")).startswith("Too low, which dirt never makes")


def test_a_slide_that_its_newest_readings_contradict_is_told_after_them(kestrel: Kestrel) -> None:
    """It would reach its limit next year by all its readings; the last three stand where it began."""
    history(kestrel, slide=0.03, rises={1: 0.9, 2: 0.9, 3: 0.9})
    told = say(projected(kestrel, "rested_full_v").sentence)
    assert told.startswith("Rose by 0.") and "the newest 3 readings stand at 41.4" in told, told
    assert "steady since" not in told, "the newest rise contradicts it"


def test_nothing_is_told_of_a_rise_below_what_counts(kestrel: Kestrel) -> None:
    history(kestrel, rises=dict.fromkeys(range(1, 4), 0.06), eased=dict.fromkeys(range(1, 4), 0.95))
    assert "Rose by" not in say(projected(kestrel, "rested_full_v").sentence)
    assert "Fell by" not in say(projected(kestrel, "resistance_ohm").sentence)
