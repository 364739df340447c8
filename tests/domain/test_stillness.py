"""Models that keep still are told from those that decline, and what two meters share is doubted."""

from dataclasses import replace

import numpy as np
import pytest

from fleetcare.domain.projection.calibration import HORIZONS, calibrate
from fleetcare.domain.projection.fleet import learn_fleet, stand, value_ahead, values_ahead
from fleetcare.domain.projection.forecast import NEVER, project
from fleetcare.domain.projection.habits import SeriesFit, learn_series
from fleetcare.domain.projection.preparation import apply_corrections
from fleetcare.domain.projection.visits import Models, Visits
from fleetcare.domain.projection.ways import Way
from tests.simulated_fleet import MODELS, OFFSET_V, simulate

CELL = Models(("C",), ("NMC",), np.array([13.0]), np.array([2.0]), np.array([54.6]), np.array([2.0]))
SCATTER_V = 0.03


def cells(yearly_v: float, *, many: int = 4, meters: int = 1, apart_v: float = 0.0) -> Visits:
    """Rested volts of cells, one reading in three days for a year, falling by `yearly_v` a year."""
    draw = np.random.default_rng(8)
    days = np.arange(-365.0, 0.0, 3.0)
    rows = []
    for pack in range(many):
        level = 54.2 + draw.normal(0, 0.05)
        meter = draw.integers(0, meters, len(days))
        read = level - yearly_v * (days + 365) / 365 + apart_v * meter + draw.normal(0, SCATTER_V, len(days))
        rows += [
            (pack, 0, m, d, round(v, 2), np.nan, 2.0, 25.0, 60.0) for m, d, v in zip(meter, days, read, strict=True)
        ]
    return Visits.from_rows(rows)


def likeliest_way(series: SeriesFit) -> Way:
    """The way of keeping still that has the greatest share, of the first model."""
    return max(series.ways, key=lambda way: float(way.share[0]))


def test_cells_that_keep_still_are_averaged_and_not_sent_to_their_limit() -> None:
    visits = cells(0.0)
    fit = learn_fleet(visits, CELL, 1)
    assert fit.full_v.stillness[0] == 1.0
    standing = stand(fit, visits, 4)
    found = project(fit, calibrate(fit, visits), standing, "rested_full_v", np.full(4, 53.9), HORIZONS)
    low, middle, high = found.quantiles[182]
    mean = np.array([visits.rested_v[visits.pack == pack].mean() for pack in range(4)])
    assert middle == pytest.approx(mean, abs=0.4 * SCATTER_V)
    assert (low < mean).all() and (mean < high).all() and np.median(high - low) < 1.2816 * 2 * SCATTER_V
    assert (found.crossing[1] == NEVER).all() and (found.chance[91] < 0.02).all()


def test_cells_that_decline_are_not_taken_to_keep_still() -> None:
    visits = cells(0.3)
    fit = learn_fleet(visits, CELL, 1)
    assert fit.full_v.stillness[0] == 0.0
    later = value_ahead(fit, stand(fit, visits, 4), "rested_full_v", 182.0).quantile(np.full(4, 0.5))
    truth = [visits.rested_v[(visits.pack == p) & (visits.day > -40)].mean() - 0.3 * 202 / 365 for p in range(4)]
    assert later == pytest.approx(np.array(truth), abs=0.06)


def test_cells_that_rose_early_keep_still_from_then_on() -> None:
    # 0.10 V within the first two months (63 % in 20 days), as cells do whose resistance falls over the first cycles
    visits = cells(0.0)
    risen = replace(visits, rested_v=visits.rested_v + (0.10 * -np.expm1(-(visits.day + 365) / 20)).round(2))
    fit = learn_fleet(risen, CELL, 1)
    rose = [way for way in fit.full_v.ways if way.curves[0].change[-1] > 0]
    share = np.array([way.share[0] for way in rose])
    assert fit.full_v.stillness[0] > 0.9 and share.sum() > 0.5
    assert all(way.curves[0].per_year == 0.0 for way in rose)
    change = np.array([way.curves[0].change[-1] for way in rose])
    assert share @ change / share.sum() == pytest.approx(0.10, abs=0.02)
    later = value_ahead(fit, stand(fit, risen, 4), "rested_full_v", 182.0).quantile(np.full(4, 0.5))
    mean = np.array([risen.rested_v[(risen.pack == pack) & (risen.day > -250)].mean() for pack in range(4)])
    assert later == pytest.approx(mean, abs=0.4 * SCATTER_V)


def test_cells_that_rose_early_and_then_decline_are_not_taken_to_keep_still() -> None:
    visits = cells(0.3)
    risen = replace(visits, rested_v=visits.rested_v + (0.10 * -np.expm1(-(visits.day + 365) / 20)).round(2))
    fit = learn_fleet(risen, CELL, 1)
    assert fit.full_v.stillness[0] == 0.0
    later = value_ahead(fit, stand(fit, risen, 4), "rested_full_v", 182.0).quantile(np.full(4, 0.5))
    truth = [risen.rested_v[(risen.pack == p) & (risen.day > -40)].mean() - 0.3 * 202 / 365 for p in range(4)]
    assert later == pytest.approx(np.array(truth), abs=0.06)


def test_packs_that_were_read_nine_times_are_not_asked_how_they_keep_still() -> None:
    # the same early rise of 0.10 V, of which nine readings a pack cannot tell a slide that follows
    visits = cells(0.0)
    risen = replace(visits, rested_v=visits.rested_v + (0.10 * -np.expm1(-(visits.day + 365) / 20)).round(2))
    rows = np.arange(len(risen))
    few = risen.where(rows % 14 == 0)
    assert np.bincount(few.pack).max() == 9
    fit = learn_fleet(few, CELL, 1)
    assert not any(curve.is_settled for way in fit.full_v.ways for curve in way.curves)
    assert not any(way.track.strays[0] for way in fit.full_v.ways) and fit.full_v.track.strays[0] == 0.0


def test_what_moves_to_and_fro_together_is_no_decline() -> None:
    # one bench, one charger: all four go up and down by 0.06 V together, twice in the year, and end where they began
    visits = cells(0.0)
    swung = replace(visits, rested_v=(visits.rested_v + 0.06 * np.sin(4 * np.pi * (visits.day + 365) / 365)).round(2))
    fit = learn_fleet(swung, CELL, 1)
    assert fit.full_v.stillness[0] == 1.0
    later = value_ahead(fit, stand(fit, swung, 4), "rested_full_v", 182.0).quantile(np.full(4, 0.5))
    mean = np.array([swung.rested_v[swung.pack == pack].mean() for pack in range(4)])
    assert later == pytest.approx(mean, abs=0.06)


def test_a_level_that_strays_is_expected_to_fall_back() -> None:
    # a stationary first-order autoregression of 0.08 V that falls back within 30 days, read with the scatter of the rest
    visits = cells(0.0)
    draw, strayed = np.random.default_rng(3), np.zeros(len(visits))
    for pack in range(4):
        off = 0.0
        for at in np.flatnonzero(visits.pack == pack):
            off = off * np.exp(-3.0 / 30.0) + 0.08 * np.sqrt(1 - np.exp(-6.0 / 30.0)) * draw.normal()
            strayed[at] = off
    moved = replace(visits, rested_v=(visits.rested_v + strayed).round(2))
    fit = learn_fleet(moved, CELL, 1)
    track = likeliest_way(fit.full_v).track
    assert fit.full_v.stillness[0] > 0.9
    assert track.strays[0] == pytest.approx(0.08, rel=0.5) and 10 < track.return_days[0] < 60
    standing = stand(fit, moved, 4)
    mean = np.array([moved.rested_v[moved.pack == pack].mean() for pack in range(4)])
    now, late = (value_ahead(fit, standing, "rested_full_v", days).quantile(np.full(4, 0.5)) for days in (0.0, 182.0))
    assert (now < mean - 0.03).all()  # all four stand low today
    assert ((now < late) & (late < mean)).all()


def test_a_model_in_doubt_is_both_by_its_belief(monkeypatch: pytest.MonkeyPatch) -> None:
    from fleetcare.domain.projection import habits

    visits = cells(0.0)
    monkeypatch.setattr(habits, "STILL_BEFORE", {"full_v": -5.0, "log_ohm": -5.0})
    fit = learn_fleet(visits, CELL, 1)
    belief = float(fit.full_v.stillness[0])
    assert 0.02 < belief < 0.98 and fit.full_v.ways
    standing = stand(fit, visits, 4)
    assert standing.full_v.chance[3:].sum(0) == pytest.approx(np.full(4, belief))
    assert standing.full_v.chance.sum(0) == pytest.approx(np.ones(4))
    mixture = value_ahead(fit, standing, "rested_full_v", 91.0)
    assert len(mixture.weight) == 3 * (1 + len(fit.full_v.ways)) and mixture.weight.sum(0) == pytest.approx(np.ones(4))
    learnt = learn_series("full_v", apply_corrections(visits, CELL, fit.corrections), CELL)
    assert learnt.stillness == pytest.approx(fit.full_v.stillness)


def test_what_two_meters_share_is_doubted_by_how_far_they_are_apart() -> None:
    one, alike, apart = (
        learn_fleet(cells(0.0, meters=meters, apart_v=volts), CELL, meters).shared_v
        for meters, volts in ((1, 0.0), (2, 0.0), (2, 0.3))
    )
    # a spread of 0.1 V between meters before the readings, half of it for the mean of two; 0.3 V apart: hypot(0.05, 0.106)
    assert one == 0.0 and alike == pytest.approx(0.05, abs=0.005) and apart == pytest.approx(0.117, abs=0.01)


def test_many_days_at_once_are_each_day_alone() -> None:
    fleet = simulate(6, 3)
    fit = learn_fleet(fleet.visits, MODELS, len(OFFSET_V))
    standing = stand(fit, fleet.visits, 6)
    days = np.array([0.0, 28.0, 400.0])
    together = values_ahead(fit, standing.over_days(), ("loaded_v", "rested_full_v", "log_ohm"), days[:, None])
    for quantity, mixture in together.items():
        for at, day in enumerate(days):
            alone = value_ahead(fit, standing, quantity, float(day))
            assert mixture.below(53.0)[at] == pytest.approx(alone.below(53.0), abs=1e-12)
            assert mixture.below(-1.6)[at] == pytest.approx(alone.below(-1.6), abs=1e-12)


def test_every_model_keeps_its_own_likeliest_way_however_many_models_there_are() -> None:
    draw = np.random.default_rng(3)
    days = np.arange(-180.0, 0.0, 3.0)
    many = 9
    models = Models(tuple("ABCDEFGHI"), ("NMC",) * many, *(np.full(many, one) for one in (13.0, 2.0, 54.6, 2.0)))
    rows = []
    for model in range(many):  # from rest to a walk of many times the scatter
        for pack in (2 * model, 2 * model + 1):
            walk = np.cumsum(draw.normal(0, 0.004 * model, len(days)))
            read = 54.2 + walk + draw.normal(0, 0.02, len(days))
            rows += [(pack, model, 0, d, round(v, 2), np.nan, 2.0, 25.0, 60.0) for d, v in zip(days, read, strict=True)]
    visits = Visits.from_rows(rows)
    fit = learn_fleet(visits, models, 1)
    ways = fit.full_v.ways
    assert sum(way.share for way in ways) == pytest.approx(np.ones(many))
    likeliest = [max(ways, key=lambda way: float(way.share[model])) for model in range(many)]
    assert all(way.share[model] > 0.15 for model, way in enumerate(likeliest))
    tracks = [(way.track, model) for model, way in enumerate(likeliest)]
    moves = [float(np.sqrt(90 * t.level_walk[0, m] + t.strays[m] ** 2)) for t, m in tracks]
    assert moves[0] < 0.01 < 0.015 < min(moves[4:])
    ahead = value_ahead(fit, stand(fit, visits, 2 * many), "rested_full_v", 91.0)
    low, high = (ahead.quantile(np.full(2 * many, at)) for at in (0.1, 0.9))
    assert np.isfinite(low).all() and np.isfinite(high).all() and (low < high).all()
