"""Shapes by kind and meter, labels at their lines, the crossing range with its dates."""

import datetime as dt
import itertools
from dataclasses import replace

import pytest

from fleetcare.domain.projection.answer import LeftOut, Projection, Reading
from fleetcare.domain.wording import msg
from fleetcare.reports.chart import OUTLINES, SHAPES, Line, Marker, Text, _box, _overlap, projection_chart
from tests.reports.test_chart import AS_OF, projection

AT = dt.datetime(2026, 10, 1, 8, tzinfo=dt.UTC)


def reading(number: int, meter: str, kind: str = "rested_full", value: float = 0.21) -> Reading:
    return Reading(f"{meter}{kind}{number}", AT + dt.timedelta(days=number), value, kind, "hours_1_3", meter)


def texts(made: Projection) -> list[str]:
    return [one.text for one in projection_chart(made, 900, 300, 10).primitives if isinstance(one, Text)]


def test_kind_and_meter_have_a_shape_each_and_left_out_readings_are_hollow() -> None:
    used = (reading(0, "M-01"), reading(1, "M-02"), reading(2, "M-01", "stored"))
    out = (LeftOut(reading(3, "M-02", value=0.29), msg("projection.far_off", off="7")),)
    made = replace(projection([0.2] * 8), used=used, left_out=out)
    chart = projection_chart(made, 900, 300, 10)
    marks = [one for one in chart.primitives if isinstance(one, Marker)]
    on_chart, legend = marks[:4], marks[4:]
    assert len({mark.shape for mark in on_chart}) == 3 and [mark.hollow for mark in on_chart] == [
        True,
        False,
        False,
        False,
    ]
    assert len(legend) == 4 and legend[-1].hollow
    assert {"rested full, M-01", "rested full, M-02", "stored, M-01", "not used"} <= set(texts(made))


def test_ten_kinds_and_meters_have_ten_shapes() -> None:
    used = tuple(reading(n, f"M-{n:02d}") for n in range(10))
    chart = projection_chart(replace(projection([0.2] * 8), used=used), 900, 300, 10)
    assert len({one.shape for one in chart.primitives if isinstance(one, Marker)}) == 10


def test_every_shape_can_be_drawn() -> None:
    assert set(SHAPES) == set(OUTLINES) | {"disc"}


@pytest.mark.parametrize(
    ("late", "said"),
    [(AS_OF + dt.timedelta(days=300), "80 %: 20 Feb 2027 to 29 Aug 2027"), (None, "80 %: 20 Feb 2027 to open end")],
)
def test_the_crossing_range_is_marked_with_its_dates(late: dt.date | None, said: str) -> None:
    made = replace(projection([0.20, 0.205, 0.21, 0.215, 0.22, 0.225, 0.23, 0.235]), crossing_p90=late)
    assert said in texts(made)
    lines = [
        one
        for one in projection_chart(made, 900, 300, 10).primitives
        if isinstance(one, Line) and one.role == "crossing"
    ]
    assert len(lines) == 3 and (len(lines[-1].points) == 3) is (late is None)


def test_the_likely_day_is_marked_within_the_range() -> None:
    made = replace(projection([0.20, 0.205, 0.21, 0.215, 0.22, 0.225, 0.23, 0.235]), crossing_p90=None)
    parts = projection_chart(made, 900, 300, 10).primitives
    (tick,) = (one for one in parts if isinstance(one, Line) and one.role == "likely")
    span = next(one for one in parts if isinstance(one, Line) and one.role == "crossing")
    (left, y), (right, _) = span.points
    assert left < tick.points[0][0] < right and tick.points[0][1] < y < tick.points[1][1]
    assert "likely" in texts(made)
    assert "likely" not in texts(replace(made, crossing_p50=None))


def test_the_limits_name_stands_at_its_line_and_hides_no_reading() -> None:
    used = tuple(reading(n, "M-01", value=0.297) for n in range(0, 30, 3))
    made = replace(projection([0.2] * 8), used=used, crossing_p10=None, crossing_p50=None)
    chart = projection_chart(made, 900, 300, 10)
    label = next(one for one in chart.primitives if isinstance(one, Text) and one.role == "limit")
    line = next(one for one in chart.primitives if isinstance(one, Line) and one.role == "limit")
    assert abs(label.at[1] - line.points[0][1]) < 12 and label.plate
    wide = 0.72 * 10 * len(label.text)
    left = label.at[0] if label.side == "left" else label.at[0] - wide
    for mark in (one for one in chart.primitives if isinstance(one, Marker)):
        assert not (left <= mark.at[0] <= left + wide and abs(mark.at[1] - label.at[1]) < 8)


def test_the_watch_line_stands_beside_the_limit_and_no_two_names_overlap() -> None:
    made = projection([0.20, 0.205, 0.21, 0.215, 0.22, 0.225, 0.23, 0.235])
    chart = projection_chart(made, 900, 300, 10, 0.28)
    names = [one for one in chart.primitives if isinstance(one, Text) and one.plate]
    assert {one.role for one in names} == {"limit", "watch", "crossing"}
    assert {"limit 0.300 Ω", "watch 0.280 Ω"} <= {one.text for one in names}
    lines = {one.role: one.points[0][1] for one in chart.primitives if isinstance(one, Line)}
    assert lines["watch"] > lines["limit"], "the lower value lies lower"
    boxes = [_box(one, 10) for one in names]
    assert not any(_overlap(a, b) for a, b in itertools.combinations(boxes, 2))


def test_a_limit_far_away_is_named_at_the_edge_and_scatter_is_not_blown_up() -> None:
    made = replace(projection([0.131, 0.134]), limit=0.9)
    assert "limit 0.900 Ω, above this chart" in texts(made)
    chart = projection_chart(replace(made, limit=0.211), 900, 300, 10)
    assert any(isinstance(one, Line) and one.role == "limit" for one in chart.primitives)
    first, second = (one.at[1] for one in chart.primitives if isinstance(one, Marker) and one.at[1] > 10)
    assert first - second < 30, "two readings 0.003 Ω apart stand close together"


def test_the_legend_names_readings_range_and_middle() -> None:
    assert {"rested full, M-01", "80 % range", "middle"} <= set(texts(projection([0.20] * 8)))


def test_a_very_wide_range_does_not_press_the_readings_flat() -> None:
    made = projection([0.20, 0.205, 0.21, 0.215, 0.22, 0.225, 0.23, 0.235])
    wide = replace(made, fan=tuple((day, low, mid, high + day * 0.01) for day, low, mid, high in made.fan))
    *marks, _ = [one.at[1] for one in projection_chart(wide, 900, 300, 10).primitives if isinstance(one, Marker)]
    assert marks[0] - marks[-1] > 20


def test_a_legend_that_does_not_fit_goes_on_in_a_second_line_and_nothing_is_dropped() -> None:
    used = tuple(reading(n, f"M-0{1 + n % 3}", kind) for n, kind in enumerate(("rested_full", "stored") * 3))
    out = (LeftOut(reading(9, "M-02", value=0.29), msg("projection.far_off", off="7")),)
    made = replace(projection([0.2] * 8), used=used, left_out=out)
    told = {f"{kind}, M-0{n}" for kind in ("rested full", "stored") for n in (1, 2, 3)} | {
        "not used",
        "80 % range",
        "middle",
    }
    for width in (360, 640, 1300):
        chart = projection_chart(made, width, 300, 12)
        shown = [one for one in chart.primitives if isinstance(one, Text)]
        assert told <= {one.text for one in shown}, width
        names = [one for one in shown if one.text in told]
        assert not any(_overlap(_box(a, 10), _box(b, 10)) for a, b in itertools.combinations(names, 2))
        plotted = [one.at[1] for one in chart.primitives if isinstance(one, Marker)][:7]
        assert max(one.at[1] for one in names) < min(plotted), "the legend stands above the readings"


@pytest.mark.parametrize("day", range(1, 29, 3))
def test_no_month_is_cut_off_at_the_edge(day: int) -> None:
    made = replace(projection([0.2] * 8), as_of=dt.date(2026, 11, day))
    for one in projection_chart(made, 900, 300, 10).primitives:
        if isinstance(one, Text):
            left, _, right, _ = _box(one, 8)
            assert left >= -1 and right <= 901, one
