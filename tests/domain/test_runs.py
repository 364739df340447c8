"""The newest readings, or an episode that went back, stand apart: found, and not seen in scatter or in a slow change."""

import datetime as dt

import numpy as np
import pytest

from fleetcare.domain.projection.runs import LONGEST_RUN, episodes, newest_run

START = dt.datetime(2026, 1, 5, 9, tzinfo=dt.UTC)
FULL = [54.30 + 0.02 * ((5 * k) % 7 - 3) / 3 for k in range(40)]


def weekly(values: list[float]) -> list[tuple[dt.datetime, float]]:
    return [(START + dt.timedelta(weeks=week), value) for week, value in enumerate(values)]


@pytest.mark.parametrize("count", [1, 2, 3, 4, 6, LONGEST_RUN])
def test_the_newest_readings_that_fell_are_counted_and_dated(count: int) -> None:
    found = newest_run(weekly([*FULL, *[53.40 + 0.01 * (k % 2) for k in range(count)]]), rises=False, least=0.13)
    assert found is not None and found.count == count and not found.goes_on
    assert found.change == pytest.approx(-0.9, abs=0.03) and found.first_on == (START + dt.timedelta(weeks=40)).date()


def test_a_move_to_the_better_side_and_one_that_is_just_the_least_are_none() -> None:
    assert newest_run(weekly([*FULL, 53.4, 53.4]), rises=True, least=0.13) is None
    level = [54.0] * 20
    assert newest_run(weekly([*level, 53.5, 53.5]), rises=False, least=0.5) is None
    assert newest_run(weekly([*level, 53.5, 53.5]), rises=False, least=0.49) is not None
    assert newest_run(weekly([54.0] * 4 + [53.0]), rises=False, least=0.13) is None, "four say too little"


def test_scatter_and_a_slow_slide_are_none() -> None:
    generator = np.random.default_rng(11)
    for _ in range(300):
        values = list(generator.normal(0.2, 0.006, 60))
        assert newest_run(weekly(values), rises=True, least=0.02) is None and episodes(weekly(values), least=0.02) == ()
    slide = [0.2] * 10 + [0.2 + 0.006 * week for week in range(30)]
    assert newest_run(weekly(slide), rises=True, least=0.02) is None and episodes(weekly(slide), least=0.02) == ()


def test_readings_that_take_no_part_belong_to_the_run_and_not_to_what_it_is_compared_with() -> None:
    values = [*FULL[:30], 53.9, *FULL[30:], 53.4, 53.4]
    fits = [True] * 30 + [False] + [True] * 10 + [False, True]
    found = newest_run(weekly(values), rises=False, least=0.13, fits=fits)
    assert found is not None and found.count == 2


def test_an_episode_that_went_back_is_found_with_its_days() -> None:
    values = [*FULL[:20], *[53.8] * 5, *FULL[20:]]
    (found,) = episodes(weekly(values), least=0.13)
    assert (found.first, found.last, found.count) == (20, 24, 5) and found.change == pytest.approx(-0.5, abs=0.02)
    assert found.ended_on == (START + dt.timedelta(weeks=24)).date()
    assert len(episodes(weekly([*FULL[:20], *[53.8] * 5, *FULL[:3]]), least=0.13)) == 1
    assert episodes(weekly([*FULL[:20], *[53.8] * 5, *FULL[:2]]), least=0.13) == (), "two may be a slip themselves"
    assert episodes(weekly([*FULL, *[53.8] * 5]), least=0.13) == (), "what has not gone back is no episode"
    assert episodes(weekly([*FULL[:20], 53.8, *FULL[20:]]), least=0.13) == (), "nor is a single reading"


def test_a_slide_that_is_seen_before_the_newest_readings_as_well_goes_on() -> None:
    slid = [54.2 - 0.03 * week for week in range(22)]
    values = [*FULL, *slid, *[53.40 - 0.005 * week for week in range(9)]]
    found = newest_run(weekly(values), rises=False, least=0.13)
    assert found is not None and found.goes_on
    level = newest_run(weekly([*FULL, *[53.40 - 0.005 * week for week in range(9)]]), rises=False, least=0.13)
    assert level is not None and not level.goes_on
