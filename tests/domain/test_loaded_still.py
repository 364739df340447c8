"""Loaded volts that keep still are as well known as their own readings make them."""

from dataclasses import replace

import numpy as np
import pytest

from fleetcare.domain.projection.calibration import HORIZONS, calibrate
from fleetcare.domain.projection.fleet import learn_fleet, series_ahead, stand, value_ahead, values_ahead
from fleetcare.domain.projection.forecast import project
from fleetcare.domain.projection.visits import Models, Visits

CELL = Models(("C",), ("NMC",), np.array([13.0]), np.array([2.0]), np.array([54.6]), np.array([2.0]))
SCATTER_V, READINGS, LEVEL_V, DROP_V = 0.04, 90, 54.3, 3.0


def cells(fleet: int = 0, *, yearly_v: float = 0.0, many: int = 4, readings: int = READINGS) -> Visits:
    """Cells read every third day, each of the two volts with a scatter of its own; loaded volts fall by `yearly_v` a year."""
    draw = np.random.default_rng([19, fleet])
    days = np.arange(-3.0 * readings, 0.0, 3.0)
    rows = []
    for pack in range(many):
        rested = LEVEL_V + draw.normal(0, SCATTER_V, readings)
        loaded = LEVEL_V - DROP_V - yearly_v * (days - days[0]) / 365 + draw.normal(0, SCATTER_V, readings)
        rows += [
            (pack, 0, 0, d, round(r, 2), round(one, 2), 2.0, 25.0, 60.0)
            for d, r, one in zip(days, rested, loaded, strict=True)
        ]
    return Visits.from_rows(rows)


def test_the_doubt_of_loaded_volts_is_that_of_their_own_readings() -> None:
    # 90 readings of scatter 0.04 V: the mean is known to 0.0042 V, variance 1.8e-5.  Rested volts and load times resistance
    # (its reading scatters by 0.04 times the root of two) added as if independent have three times that variance.
    true = SCATTER_V**2 / READINGS
    stated, apart, errors, belief = [], [], [], []
    for fleet in range(4):
        visits = cells(fleet)
        fit = learn_fleet(visits, CELL, 1)
        assert fit.loaded_v is not None
        belief.append(fit.loaded_v.stillness[0])
        standing = stand(fit, visits, 4)
        assert standing.loaded_v is not None
        own = series_ahead(fit.loaded_v, standing.loaded_v, standing.model, standing.first_day, 0.0)
        stated += list((own.weight * (own.variance + own.mean**2)).sum(0) - (own.weight * own.mean).sum(0) ** 2)
        drop = DROP_V * np.sqrt(standing.log_ohm.covariance[0, 0])
        apart += list(standing.full_v.covariance[0, 0] + drop**2)
        errors += list(value_ahead(fit, standing, "loaded_v", 0.0).quantile(np.full(4, 0.5)) - (LEVEL_V - DROP_V))
    assert np.median(belief) > 0.9
    # that the level may wander a little is in doubt as well, so that more is stated than the mean alone has
    assert true < np.median(stated) < 0.5 * np.median(apart) and np.median(stated) < 3 * true
    assert np.median(apart) > 3 * true
    assert np.mean(np.square(errors)) < 3 * true


def test_the_range_of_loaded_volts_is_narrower_than_of_what_they_are_reckoned_from() -> None:
    visits = cells(2)
    fit = learn_fleet(visits, CELL, 1)
    assert fit.loaded_v is not None and fit.loaded_v.stillness[0] == 1.0
    limit = {"loaded_v": np.full(4, 50.9)}
    found, summed = (
        project(one, calibrate(one, visits), stand(one, visits, 4), "loaded_v", limit["loaded_v"], HORIZONS)
        for one in (fit, replace(fit, loaded_v=None))
    )
    truth = LEVEL_V - DROP_V
    for days in HORIZONS:
        low, _, high = found.quantiles[days]
        assert (low < truth).all() and (truth < high).all()
        assert np.median(high - low) < 0.8 * np.median(summed.quantiles[days][2] - summed.quantiles[days][0])
    assert (found.chance[91] < 0.02).all()


def test_loaded_volts_that_fall_are_reckoned_from_rested_volts_and_resistance() -> None:
    assert learn_fleet(cells(yearly_v=0.6), CELL, 1).loaded_v is None


def test_without_a_known_standard_load_rested_volts_and_resistance_are_learnt_and_loaded_volts_are_not_said() -> None:
    visits = cells()
    unknown = replace(CELL, load_a=np.array([np.nan]))
    fit, usual = learn_fleet(visits, unknown, 1), learn_fleet(visits, CELL, 1)
    assert fit.loaded_v is None and usual.loaded_v is not None
    own, other = stand(fit, visits, 4), stand(usual, visits, 4)
    for quantity in ("rested_full_v", "log_ohm"):
        found = value_ahead(fit, own, quantity, 91.0).quantile(np.full(4, 0.5))
        assert np.isfinite(found).all()
        assert found == pytest.approx(value_ahead(usual, other, quantity, 91.0).quantile(np.full(4, 0.5)), rel=1e-6)
    assert np.isnan(value_ahead(fit, own, "loaded_v", 91.0).mean).all()


@pytest.mark.parametrize(("many", "readings"), [(1, READINGS), (4, 30), (20, 45)])
def test_a_pack_alone_few_readings_and_many_packs_are_not_asked(many: int, readings: int) -> None:
    visits = cells(many=many, readings=readings)
    fit = learn_fleet(visits, CELL, 1)
    assert fit.loaded_v is None and stand(fit, visits, many).loaded_v is None


def test_one_offset_on_rested_and_loaded_moves_loaded_volts_by_it_and_no_resistance() -> None:
    first, second = (cells(), replace(v := cells(), rested_v=v.rested_v + 0.5, loaded_v=v.loaded_v + 0.5))
    a, b = (learn_fleet(one, CELL, 1) for one in (first, second))
    for days in (0.0, 182.0):
        at = np.full(4, 0.3)
        ohm, other = (
            value_ahead(f, stand(f, v, 4), "log_ohm", days).quantile(at) for f, v in ((a, first), (b, second))
        )
        assert other == pytest.approx(ohm, abs=1e-6)
        volts, more = (
            value_ahead(f, stand(f, v, 4), "loaded_v", days).quantile(at) for f, v in ((a, first), (b, second))
        )
        assert more - volts == pytest.approx(np.full(4, 0.5), abs=1e-3)


def test_many_days_at_once_and_chosen_packs_are_each_alone() -> None:
    visits = cells()
    fit = learn_fleet(visits, CELL, 1)
    standing = stand(fit, visits, 4)
    days = np.array([0.0, 91.0, 400.0])
    together = values_ahead(fit, standing.over_days(), ("loaded_v",), days[:, None])["loaded_v"].below(51.2)
    for at, day in enumerate(days):
        alone = value_ahead(fit, standing, "loaded_v", float(day)).below(51.2)
        assert together[at] == pytest.approx(alone, abs=1e-12)
        chosen = value_ahead(fit, standing.of(np.array([2, 0])), "loaded_v", float(day)).below(51.2)
        assert chosen == pytest.approx(alone[[2, 0]], abs=1e-12)
