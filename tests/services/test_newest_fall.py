"""A pack whose newest readings fell is told so first, whatever the years before; what does not fit is measured again."""

import datetime as dt

import pytest

from fleetcare.domain.projection.answer import Projection
from fleetcare.domain.wording import say
from fleetcare.services import summary
from fleetcare.services.reasons import reading_lines, reasons
from fleetcare.services.renewal import renewal
from fleetcare.services.suspects import suspects_of
from tests.kestrel import MONDAY, Kestrel

WEEKS = 30
NOW = MONDAY + dt.timedelta(weeks=WEEKS, days=2)


def volts_of(week: int) -> float:
    return 41.60 + (0.00, 0.02, -0.01, 0.01, -0.02)[week % 5]


def day_of(ago: int) -> dt.datetime:
    return NOW - dt.timedelta(days=7 * ago - 5)


def history(kestrel: Kestrel, falls: dict[int, float], *, pack: str = "P-1002") -> None:
    """Thirty weekly checks, of which those so many weeks ago read so much less; one more stands before them."""
    kestrel.now = NOW
    for ago in range(WEEKS, 0, -1):
        volts = volts_of(ago) - falls.get(ago, 0.0)
        kestrel.check(pack, f"{volts:.2f}", at=day_of(ago), vehicle="EB-12")
        kestrel.check("P-1003", f"{volts_of(ago + 2):.2f}", at=day_of(ago) + dt.timedelta(hours=1), vehicle="EB-13")


def full(kestrel: Kestrel, pack: str = "P-1002") -> Projection:
    page = summary.pack_summary(kestrel.store, kestrel.clock, pack)
    return next(p for p in page.projections if p.quantity == "rested_full_v")


@pytest.mark.parametrize("newest", [3, 4, 6, 10])
def test_a_pack_that_fell_lately_is_told_so_first(kestrel: Kestrel, newest: int) -> None:
    history(kestrel, dict.fromkeys(range(1, newest + 1), 0.9))
    told = say(full(kestrel).sentence)
    assert "No decline seen" not in told
    assert told.startswith(("Fell by 0.9", "Fell by 0.8")), told
    day = day_of(newest).date()
    assert f"about {day.day} {day:%b %Y}" in told
    if newest < 5:
        assert f"the newest {newest} readings stand at 40." in told and "those before at 41." in told
    assert renewal(kestrel.store, kestrel.clock).suspects == (), "three alike are the pack's own"
    assert "No decline seen" in say(full(kestrel, "P-1003").sentence)


@pytest.mark.parametrize("fall", [0.4, 0.9])
def test_two_low_readings_are_to_be_measured_again(kestrel: Kestrel, fall: float) -> None:
    history(kestrel, {1: fall, 2: fall})
    found = full(kestrel)
    told = say(found.sentence)
    assert "No decline seen" not in told and "the newest 2 readings stand at" in told and "Measure again." in told
    listed = renewal(kestrel.store, kestrel.clock).suspects
    assert [one.pack for one in listed] == ["P-1002"] * 2 and "measuring again" in " ".join(map(say, reasons(found)))
    assert len([one for one in suspects_of("P-1002", [found]) if one.settled_at is None]) == 2
    kestrel.now = NOW + dt.timedelta(hours=2)
    kestrel.check("P-1002", "41.60", vehicle="EB-12")
    low = [one for one in suspects_of("P-1002", [full(kestrel)]) if float(one.reading.read or 0) < 41.5]
    assert low and all(one.settled_at == kestrel.now for one in low), "it reads as before: they were measured again"
    kestrel.now = NOW + dt.timedelta(days=1)
    kestrel.check("P-1002", "41.61", vehicle="EB-12")
    after = full(kestrel)
    assert renewal(kestrel.store, kestrel.clock).suspects == ()
    assert say(after.sentence).startswith("No decline seen")


def test_readings_used_and_not_are_as_they_were(kestrel: Kestrel) -> None:
    history(kestrel, {1: 0.9, 2: 0.9})
    found = full(kestrel)
    lines = reading_lines(found)
    assert sum(line.used for line in lines) == len(found.used) and len(lines) == WEEKS + 1
    doubted = [line for line in lines if line.suspect]
    assert len(doubted) == 2 and lines[:2] == tuple(doubted)
    assert all(line.what_to_do is not None and line.why is not None for line in doubted)


def test_an_episode_that_came_back_is_listed_as_not_fitting_and_asks_for_nothing(kestrel: Kestrel) -> None:
    history(kestrel, dict.fromkeys(range(9, 14), 0.5))
    found = full(kestrel)
    assert say(found.sentence).startswith("No decline seen")
    episode = [line for line in reading_lines(found) if line.used and line.suspect]
    left = [line for line in reading_lines(found) if not line.used]
    assert len(episode) + len(left) == 5 and episode
    told = say(episode[0].why)  # type: ignore[arg-type]
    assert told.startswith(
        "one of 5 readings from 8 Mar 2027 to 5 Apr 2027 that stand 0.50 V below those before and after"
    )
    assert episode[0].what_to_do is None, "nobody can measure those days again"
    assert renewal(kestrel.store, kestrel.clock).suspects == ()


@pytest.mark.parametrize("fall", [0.35, 0.4])
def test_a_reading_back_where_the_pack_stood_is_not_the_one_that_is_wrong(kestrel: Kestrel, fall: float) -> None:
    # common practice, no source: two low readings are a charge that ended early as often as a fault
    history(kestrel, {1: fall, 2: fall})
    kestrel.now = NOW + dt.timedelta(hours=2)
    kestrel.check("P-1002", "41.61", vehicle="EB-12")
    found = full(kestrel)
    low_since = f"{day_of(2).day} {day_of(2):%b %Y}"
    told = say(found.sentence)
    assert (
        told.startswith("The newest reading, 41.61 V") and "does not fit" not in told and "No decline seen" not in told
    )
    assert f"stands where this pack stood before {low_since}; the 2 lower ones between are as doubtful" in told
    newest = reading_lines(found)[0]
    assert not newest.used and newest.suspect
    assert "the 2 lower ones between" in say(newest.why) and "the next one decides" in say(newest.why)  # type: ignore[arg-type]
    listed = renewal(kestrel.store, kestrel.clock).suspects
    assert [str(one.reading.read) for one in listed] == ["41.61"], "one visit, not three"
    assert "lower ones between" in say(listed[0].why) and "charge fully, rest an hour" in say(listed[0].what_to_do)


@pytest.mark.parametrize(("next_one", "doubted"), [("41.60", ()), ("41.22", ("41.61",))])
def test_the_next_reading_decides_between_them(kestrel: Kestrel, next_one: str, doubted: tuple[str, ...]) -> None:
    history(kestrel, {1: 0.4, 2: 0.4})
    for hours, volts in ((2, "41.61"), (26, next_one)):
        kestrel.now = NOW + dt.timedelta(hours=hours)
        kestrel.check("P-1002", volts, vehicle="EB-12")
    found = full(kestrel)
    assert renewal(kestrel.store, kestrel.clock).suspects == ()
    said = [(str(one.reading.read), say(one.why)) for one in suspects_of("P-1002", [found])]
    high = tuple(read for read, _ in said if float(read) > 41.5)
    assert high == doubted and not any("lower ones between" in why for _, why in said)
