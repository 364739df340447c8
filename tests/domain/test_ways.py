"""The ways in which few packs keep still are weighed by their readings, and together say what is ahead."""

import numpy as np
import pytest

from fleetcare.domain.projection.fleet import learn_fleet, stand, value_ahead
from fleetcare.domain.projection.habits import SeriesFit
from fleetcare.domain.projection.visits import Floats, Models, Visits

CELL = Models(("C",), ("NMC",), np.array([13.0]), np.array([2.0]), np.array([54.6]), np.array([2.0]))
SCATTER_V, DAYS = 0.02, 300.0
LEVEL_V = 54.2


def cells(number: int, *, yearly_v: float = 0.0, walk_v: float = 0.0, many: int = 4) -> tuple[Visits, Floats]:
    """Rested volts read every third day for 300 days, and where each cell truly stands at the end.

    `walk_v` is the standard deviation of what a level walks over all 300 days.
    """
    draw = np.random.default_rng([29, number])
    days = np.arange(-DAYS, 0.0, 3.0)
    rows, stands = [], []
    for pack in range(many):
        walked = np.cumsum(draw.normal(0, walk_v * np.sqrt(3.0 / DAYS), len(days)))
        true = LEVEL_V + walked - yearly_v * (days + DAYS) / 365.0
        rows += [
            (pack, 0, 0, day, round(v, 2), np.nan, 2.0, 25.0, 60.0)
            for day, v in zip(days, true + draw.normal(0, SCATTER_V, len(days)), strict=True)
        ]
        stands.append(true[-1])
    return Visits.from_rows(rows), np.array(stands)


def ahead(visits: Visits, days: float, p: float = 0.5, many: int = 4) -> Floats:
    fit = learn_fleet(visits, CELL, 1)
    return value_ahead(fit, stand(fit, visits, many), "rested_full_v", days).quantile(np.full(many, p))


def share_of(series: SeriesFit, *, sinks: bool) -> float:
    """How much of the belief in stillness is in ways that sink, or in those that do not."""
    return float(sum(way.share[0] for way in series.ways if (way.curves[0].per_year < 0) == sinks))


def test_what_sinks_a_little_is_followed_down_and_not_sent_to_its_limit() -> None:
    # 0.04 V in 300 days is twice the scatter of a reading: too little for a decline, too steady for stillness
    errors, fell, told = [], [], []
    for number in range(4):
        visits, stands = cells(number, yearly_v=0.0487)
        told.append(share_of(learn_fleet(visits, CELL, 1).full_v, sinks=True))
        errors += list(ahead(visits, 182.0) - (stands - 0.0487 * 182 / 365))
        fell += list(ahead(visits, 0.0) - ahead(visits, 182.0))
    assert np.median(told) > 0.9
    assert np.median(fell) == pytest.approx(0.0243, abs=0.012)  # 182 days of 0.0487 V a year
    assert np.abs(np.median(errors)) < 0.5 * SCATTER_V and np.max(np.abs(errors)) < 2 * SCATTER_V


def test_cells_that_only_scatter_hardly_sink() -> None:
    fell, told = [], []
    for number in range(4):
        visits, _ = cells(number)
        fit = learn_fleet(visits, CELL, 1)
        assert fit.full_v.stillness[0] == 1.0
        told.append(share_of(fit.full_v, sinks=False))
        fell += list(ahead(visits, 0.0) - ahead(visits, 182.0))
    assert np.median(told) > 0.5 and np.median(fell) < 0.25 * SCATTER_V


def test_shares_sum_to_one_and_the_state_to_the_belief() -> None:
    visits, _ = cells(1, walk_v=0.03)
    fit = learn_fleet(visits, CELL, 1)
    assert len(fit.full_v.ways) > 1
    assert sum(way.share[0] for way in fit.full_v.ways) == pytest.approx(1.0)
    standing = stand(fit, visits, 4)
    assert standing.full_v.chance.sum(0) == pytest.approx(np.ones(4))
    assert standing.full_v.chance[3:].sum(0) == pytest.approx(np.full(4, fit.full_v.stillness[0]))


def test_the_range_is_as_wide_as_the_walk_that_was_planted() -> None:
    # after 91 days a level that walks 0.08 V in 300 days lies within 0.044 V (standard deviation) of where it stood
    held, width = [], []
    for number in range(6):
        visits, stands = cells(number, walk_v=0.08)
        draw = np.random.default_rng([31, number])
        later = stands + draw.normal(0, 0.08 * np.sqrt(91 / DAYS), 4)
        low, high = (ahead(visits, 91.0, p) for p in (0.1, 0.9))
        held += list((low <= later) & (later <= high))
        width += list(high - low)
    assert 0.6 <= np.mean(held) <= 1.0
    assert np.median(width) == pytest.approx(2 * 1.2816 * 0.08 * np.sqrt(91 / DAYS), rel=0.4)


def test_readings_in_another_order_give_the_same_ways() -> None:
    visits, _ = cells(2, walk_v=0.03)
    rows = list(
        zip(visits.pack, visits.model, visits.meter, visits.day, visits.rested_v, visits.loaded_v, visits.load_a,
            visits.temperature_c, visits.rest_minutes, strict=True)
    )  # fmt: skip
    turned = Visits.from_rows(rows[::-1])
    one, other = (learn_fleet(v, CELL, 1).full_v for v in (visits, turned))
    assert [way.share[0] for way in one.ways] == [way.share[0] for way in other.ways]
