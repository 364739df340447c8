"""The chart's geometry: everything inside its box, readings where they belong."""

import datetime as dt
import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.projection.answer import Projection, Reading
from fleetcare.domain.wording import msg
from fleetcare.reports.chart import LETTER, Area, Line, Marker, Text, month_starts, projection_chart, ticks

AS_OF = dt.date(2026, 11, 2)


def projection(values: list[float], meter: str = "M-01"):  # type: ignore[no-untyped-def]
    at = dt.datetime(2026, 11, 2, 8, tzinfo=dt.UTC)
    readings = [Reading(str(i), at - dt.timedelta(days=7 * (len(values) - i)), v, "rested_full", "hours_1_3", meter)
                for i, v in enumerate(values)]  # fmt: skip
    sentence = msg("projection.too_few", have=len(values), need=6)
    if len(values) < 6:
        return Projection("resistance_ohm", AS_OF, len(values), 6, sentence, "t", 0.3, True, used=tuple(readings))
    fan = tuple(
        (d, values[-1] + d * 1e-4 - 0.01, values[-1] + d * 3e-4, values[-1] + d * 5e-4 + 0.01)
        for d in range(0, 365, 28)
    )
    return Projection(
        "resistance_ohm", AS_OF, len(values), 6, sentence, "t", 0.3, True, True, values[-1], 0.01, fan=fan,
        crossing_p10=AS_OF + dt.timedelta(days=110), crossing_p50=AS_OF + dt.timedelta(days=210), used=tuple(readings),
    )  # fmt: skip


@given(st.lists(st.floats(0.1, 0.5), max_size=12), st.integers(320, 1600), st.integers(160, 500))
def test_everything_is_drawn_inside_the_box(values: list[float], width: int, height: int) -> None:
    chart = projection_chart(projection(values), width, height, 10)
    for one in chart.primitives:
        points = one.points if isinstance(one, (Line, Area)) else (one.at,)
        assert all(-1 <= x <= width + 1 and -1 <= y <= height + 1 for x, y in points)


def test_readings_limit_fan_and_crossing_are_there_and_a_rise_goes_up() -> None:
    chart = projection_chart(projection([0.20, 0.205, 0.21, 0.215, 0.22, 0.225, 0.23, 0.235]), 800, 300, 10)
    *markers, legend = [one for one in chart.primitives if isinstance(one, Marker)]
    assert legend.at[1] < 10 < min(one.at[1] for one in markers), "the legend stands above the chart"
    assert len(markers) == 8 and all(a.at[0] < b.at[0] and a.at[1] > b.at[1] for a, b in itertools.pairwise(markers))
    roles = {one.role for one in chart.primitives if isinstance(one, (Line, Area))}
    assert {"band", "middle", "limit", "crossing", "today"} <= roles
    assert any(isinstance(one, Text) and one.text.startswith("limit 0.300") for one in chart.primitives)


def test_the_range_of_the_crossing_is_written_where_it_hides_no_middle_line() -> None:
    """A pack that creeps up just below its limit: below the arrow the words would lie over the line."""
    asked = projection([0.26] * 8)
    fan = tuple((d, 0.25, 0.262 + d * 6e-5, 0.27 + d * 4e-4) for d in range(0, 365, 28))
    chart = projection_chart(replace(asked, fan=fan, crossing_p50=None), 1000, 160, 12)
    label = next(one for one in chart.primitives if isinstance(one, Text) and one.text.startswith("80 %: "))
    middle = next(one for one in chart.primitives if isinstance(one, Line) and one.role == "middle")
    width = 12 * LETTER * len(label.text)
    under = [y for x, y in middle.points if abs(x - label.at[0]) < width / 2]
    assert under and all(abs(y - label.at[1]) > 12 * 0.7 for y in under)
    crossing = next(one for one in chart.primitives if isinstance(one, Line) and one.role == "crossing")
    assert label.at[1] < crossing.points[0][1], "it stands above"


def test_an_empty_chart_says_so() -> None:
    chart = projection_chart(projection([]), 400, 200, 10)
    assert [one.text for one in chart.primitives if isinstance(one, Text)] == ["no reading yet"]


@pytest.mark.parametrize(
    ("low", "high", "count", "made"), [(0, 10, 5, [0, 2, 4, 6, 8, 10]), (0.19, 0.31, 4, [0.2, 0.25, 0.3])]
)
def test_ticks_are_round(low: float, high: float, count: int, made: list[float]) -> None:
    assert ticks(low, high, count) == pytest.approx(made)


def test_months_are_labelled_no_oftener_than_there_is_room() -> None:
    starts = month_starts(dt.date(2025, 11, 20), dt.date(2026, 11, 20), 6)
    assert starts[0] == dt.date(2026, 1, 1) and len(starts) <= 6
