"""Which packs a notice means: serial ranges by parts, both ends included.

The compare rule is this program's own (no published rule for makers' serials was found); the cases are worked
by hand.
"""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Pack
from fleetcare.domain.recalls import Match, RecallNotice, in_range, match

AT = dt.datetime(2026, 11, 2, 8, 0, tzinfo=dt.UTC)
IN, OUT, UNSURE = Match.MATCHED, Match.OUT, Match.NOT_RULED_OUT


def notice(**change: object) -> RecallNotice:
    values: dict[str, object] = {"models": ("K36-A",), "serial_from": "2403-0500", "serial_to": "2403-0899"}
    return RecallNotice("R-1", done_at=AT, **(values | change))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("serial", "found"),
    [
        ("2403-0499", OUT), ("2403-0500", IN), ("2403-0899", IN), ("2403-0900", OUT), ("2403-0612", IN),
        ("2402-0612", OUT), ("2404-0500", OUT), ("2403-05000", OUT), ("2403-500", IN), ("2403-612", IN),
        (" 2403 - 0612 ", IN), ("2403/0612", IN), ("24030612", IN), ("24030900", OUT), ("2403612", UNSURE),
        ("2403-O612", UNSURE), ("2403-0612B", UNSURE), ("", UNSURE), ("   ", UNSURE), ("2403-0612-1", UNSURE),
        ("---", UNSURE), ("２４０３-0612", UNSURE),
    ],
)  # fmt: skip
def test_serials_against_a_range_of_digits(serial: str, found: Match) -> None:
    assert in_range(serial, "2403-0500", "2403-0899") is found


@pytest.mark.parametrize(
    ("serial", "found"),
    [("AB950", IN), ("ab1200", IN), ("AC0120", IN), ("AC121", OUT), ("AA999999", OUT), ("AB949", OUT), ("A950", UNSURE),
     ("950", UNSURE), ("AB-950", UNSURE)],
)  # fmt: skip
def test_letters_go_by_the_alphabet_and_numbers_by_their_value(serial: str, found: Match) -> None:
    assert in_range(serial, "AB0950", "AC0120") is found


@given(st.integers(0, 99_999), st.integers(0, 99_999), st.integers(0, 99_999), st.sampled_from([0, 4, 5, 6]))
def test_a_range_of_numbers_is_a_range_of_numbers_however_many_zeros_are_written(
    low: int, high: int, asked: int, zeros: int
) -> None:
    low, high = sorted((low, high))
    found = in_range(f"K7-{asked:0{zeros}d}", f"K7-{low:05d}", f"K7-{high:05d}")
    assert found is (IN if low <= asked <= high else OUT)


@given(st.text(max_size=14))
def test_nothing_that_can_be_written_breaks_the_comparison(text: str) -> None:
    assert in_range(text, "2403-0500", "2403-0899") in list(Match)


@given(st.integers(0, 9999))
def test_an_end_of_the_range_belongs_to_it(number: int) -> None:
    serial = f"2403-{number:04d}"
    assert in_range(serial, serial, serial) is IN


@pytest.mark.parametrize(
    ("change", "key"),
    [
        ({"serial_to": ""}, "recall.needs_both"), ({"serial_from": ""}, "recall.needs_both"),
        ({"serial_to": "2403-0499"}, "recall.ends_turned"), ({"serial_to": "2403-0899A"}, "recall.unlike_ends"),
        ({"serial_to": "24030899"}, "recall.unlike_ends"), ({"models": ()}, "recall.needs_model"),
        ({"date_code_from": "W12"}, "recall.needs_both"), ({"serial_from": "-", "serial_to": "-"}, "recall.unlike_ends"),
    ],
)  # fmt: skip
def test_a_notice_that_cannot_be_meant_is_refused_with_its_field(change: dict, key: str) -> None:
    with pytest.raises(EntryRefused) as refused:
        notice(**change)
    assert refused.value.message.key == key and refused.value.field


@pytest.mark.parametrize(
    ("model", "serial", "date_code", "known", "found"),
    [
        ("K36-A", "2403-0612", "2411", True, IN), ("K36-A", "2403-0612", "", True, UNSURE),
        ("K36-A", "2403-0612", "2499", True, OUT), ("K36-A", "", "2411", True, UNSURE),
        ("K36-A", "", "2499", True, OUT), ("K48-B", "2403-0612", "2411", True, OUT), ("K48-B", "", "", True, OUT),
        ("K48-B", "", "", False, UNSURE), ("K48-B", "2403-0612", "2411", False, UNSURE),
        ("K36-A", "2403-0900", "", False, OUT),
    ],
)  # fmt: skip
def test_model_serial_and_date_code_together(
    model: str, serial: str, date_code: str, known: bool, found: Match
) -> None:
    asked = notice(date_code_from="2405", date_code_to="2430")
    assert match(asked, Pack("P-1", model, serial, date_code=date_code), model_known=known) is found


def test_a_notice_without_a_range_means_every_pack_of_the_model() -> None:
    asked = notice(serial_from="", serial_to="")
    assert match(asked, Pack("P-1", "K36-A")) is IN and match(asked, Pack("P-1", "K48-B")) is OUT
