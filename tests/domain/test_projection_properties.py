"""What must not matter to a projection, drawn at random: a meter's offset, the order of rows, a hotter day."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fleetcare.domain.projection.calibration import HORIZONS, calibrate
from fleetcare.domain.projection.fleet import learn_fleet, stand
from fleetcare.domain.projection.forecast import Forecast, project
from fleetcare.domain.projection.visits import Visits
from tests.domain.test_projection import ONE, one_pack

SLIDE = [1.60, 1.64, 1.62, 1.66, 1.70, 1.69, 1.72, 1.74, 1.77, 1.79]


@cache
def plain() -> Forecast:
    """The projection of the slide as it is."""
    return resistance(one_pack(SLIDE))


def resistance(visits: Visits) -> Forecast:
    """What is projected for one pack's resistance, its limit 0.300 ohm."""
    learnt = learn_fleet(visits, ONE, 1)
    known = calibrate(learnt, visits, ("log_ohm",))
    return project(learnt, known, stand(learnt, visits, 1), "log_ohm", np.array([math.log(0.3)]), HORIZONS)


def alike(one: Forecast, other: Forecast, atol: float) -> bool:
    """Level, ranges, chances and crossings of both are the same within `atol`."""
    return all(np.allclose(one.quantiles[d], other.quantiles[d], atol=atol) for d in one.quantiles) and all(
        np.allclose(one.chance[d], other.chance[d], atol=max(atol, 1e-9)) for d in one.chance
    )


@settings(deadline=None, max_examples=8)
@given(st.floats(-2.0, 2.0))
def test_an_identical_offset_on_rested_and_loaded_changes_no_resistance(offset_v: float) -> None:
    moved = resistance(one_pack(SLIDE, offset=offset_v))
    assert alike(plain(), moved, 1e-7) and np.array_equal(plain().crossing, moved.crossing)


@settings(deadline=None, max_examples=8)
@given(st.permutations(range(len(SLIDE))))
def test_rows_in_any_order_give_the_same_projection_to_the_bit(order: list[int]) -> None:
    visits = one_pack(SLIDE)
    rows = list(zip(*(getattr(visits, name) for name in Visits.__dataclass_fields__), strict=True))
    assert alike(plain(), resistance(Visits.from_rows([rows[n] for n in order])), 0.0)


@settings(deadline=None, max_examples=8)
@given(st.floats(8.0, 20.0), st.floats(22.0, 36.0), st.integers(0, 1000))
@example(8.0, 22.0, 166)
def test_a_hotter_day_is_no_recovery_and_a_colder_one_no_decline(usual_c: float, hot_c: float, seed: int) -> None:
    """One reading at another bench temperature, of a pack whose resistance at one temperature keeps still: it counts for as much as
    one at the usual bench at most and for nothing at least, so that the projection lies between those two, or hardly beside."""
    noise = np.exp(np.random.default_rng(seed).normal(0, 0.015, 20))
    steady = one_pack((1.6 * noise).tolist(), bench=usual_c)
    other = replace(steady, loaded_v=steady.loaded_v.copy(), temperature_c=steady.temperature_c.copy())
    ratio = math.exp(18_000 / 8.314462618 * (1 / (hot_c + 273.15) - 1 / (usual_c + 273.15)))
    other.loaded_v[-1] = other.rested_v[-1] - (steady.rested_v[-1] - steady.loaded_v[-1]) * ratio
    other.temperature_c[-1] = hot_c
    unread = Visits(*(getattr(steady, name)[:-1] for name in Visits.__dataclass_fields__))
    whole, none, after = resistance(steady), resistance(unread), resistance(other)
    room = 0.02 + 0.1 * abs(math.log(ratio))
    for days in (0, 91):
        either = sorted((whole.quantiles[days][1, 0], none.quantiles[days][1, 0]))
        assert either[0] - room < after.quantiles[days][1, 0] < either[1] + room
