"""What the last digit of a meter leaves in doubt: all of it where nothing else moves a reading, nothing where enough does."""

from dataclasses import replace

import numpy as np
import pytest

from fleetcare.domain.projection.fleet import learn_fleet, stand, value_ahead
from fleetcare.domain.projection.visits import Models, Visits

CELL = Models(("C",), ("NMC",), np.array([13.0]), np.array([2.0]), np.array([54.6]), np.array([2.0]))
STEP_V = 0.01


def cells(scatter_v: float, level_v: float, number: int = 0) -> Visits:
    """Four cells at one level, read every third day with a meter of 0.01 V."""
    draw = np.random.default_rng([31, number])
    rows = [
        (pack, 0, 0, float(day), round(level_v + draw.normal(0, scatter_v), 2), np.nan, 2.0, 25.0, 60.0)
        for pack in range(4)
        for day in range(-180, 0, 3)
    ]
    return Visits.from_rows(rows)


@pytest.mark.parametrize("share_of_step", [0.0, 0.2, 0.4, 0.6, 1.0, 2.0])
def test_never_less_is_doubted_than_the_mean_of_many_rounded_readings_is_off(share_of_step: float) -> None:
    # The mean of so many readings that their scatter no longer counts, against the level itself, wherever that lies
    # between two displayed values: by simulation, which is independent of the series that the rule rests on.
    draw = np.random.default_rng(5)
    levels = STEP_V * (np.arange(50) + 0.5) / 50
    scattered = levels[:, None] + draw.normal(0, share_of_step * STEP_V, (50, 40_000))
    off = (np.round(scattered / STEP_V) * STEP_V).mean(1) - levels
    mean_square = float((off**2).mean())
    fit = learn_fleet(cells(0.02, 54.3), CELL, 1).full_v
    # a reading's scatter as it is seen holds that of the digit as well
    seen = np.hypot(share_of_step * STEP_V, STEP_V / np.sqrt(12))
    told = replace(fit, step=STEP_V, track=replace(fit.track, scatter=np.array([seen]))).rounding_variance[0]
    chance_v2 = (share_of_step**2 + 1 / 12) * STEP_V**2 / 40_000
    assert mean_square <= told + 3 * chance_v2
    assert told <= STEP_V**2 / 12


def test_a_level_between_two_digits_that_nothing_moves_stays_within_the_range() -> None:
    for level_v in (54.301, 54.3025, 54.304):
        visits = cells(0.0, level_v)
        fit = learn_fleet(visits, CELL, 1)
        ahead = value_ahead(fit, stand(fit, visits, 4), "rested_full_v", 28.0)
        low, high = (ahead.quantile(np.full(4, at)) for at in (0.05, 0.95))
        assert (low < level_v).all() and (level_v < high).all()
        assert fit.full_v.rounding_variance[0] == pytest.approx(fit.full_v.step**2 / 12)


def test_where_readings_scatter_by_more_than_the_digit_their_mean_is_known_better_than_it() -> None:
    errors, stated = [], []
    for number in range(6):
        visits = cells(0.02, 54.3037, number)
        fit = learn_fleet(visits, CELL, 1)
        ahead = value_ahead(fit, stand(fit, visits, 4), "rested_full_v", 28.0)
        low, middle, high = (ahead.quantile(np.full(4, at)) for at in (0.1, 0.5, 0.9))
        stated += list((high - low) / 2.563)
        errors += list(middle - 54.3037)
        assert fit.full_v.rounding_variance[0] < 1e-9
    # 60 readings of scatter 0.02 V: 0.0026 V
    assert np.sqrt(np.mean(np.square(errors))) < 0.004
    assert 0.0024 < np.median(stated) < 0.006
