"""Typed text becomes an exact decimal, or a sentence that asks; nothing is ever converted."""

from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.units import parse_amp_hours, parse_amps, parse_celsius, parse_ohms, parse_volts


@pytest.mark.parametrize(
    ("typed", "value"), [("41.38", "41.38"), ("41,38", "41.38"), (" 54.6 ", "54.6"), ("0", "0"), (".5", "0.5")]
)
def test_point_and_comma_are_both_the_decimal_sign(typed: str, value: str) -> None:
    assert parse_volts(typed, field="rested_v") == Decimal(value)


def test_the_digits_stay_as_they_were_typed() -> None:
    assert str(parse_volts("41.380", field="rested_v")) == "41.380"


@pytest.mark.parametrize(
    "typed", ["", " ", "twelve", "nan", "inf", "-inf", "1e3", "4 1", "41.3.8", "41,3,8", "--4", "٤١", "0x1f", "1_0"]
)
def test_what_is_no_number_is_refused_and_names_the_field(typed: str) -> None:
    with pytest.raises(EntryRefused) as refused:
        parse_volts(typed, field="rested_v")
    assert refused.value.field == "rested_v"


@pytest.mark.parametrize(
    ("parse", "told"),
    [(parse_volts, "type the volts."), (parse_amps, "type the amps."), (parse_celsius, "type the degrees Celsius."),
     (parse_ohms, "type the ohms."), (parse_amp_hours, "type the ampere-hours.")],
)  # fmt: skip
def test_an_empty_field_says_as_a_person_would_what_belongs_there(parse: Callable[..., Decimal], told: str) -> None:
    with pytest.raises(EntryRefused) as refused:
        parse("  ", field="rested_v")
    assert str(refused.value) == f"Nothing is typed here yet: {told}"


def test_a_typed_unit_is_asked_about_with_its_value_and_not_converted() -> None:
    with pytest.raises(EntryRefused, match=r"41380 mV.*41\.38"):
        parse_volts("41380 mV", field="rested_v")


def test_a_unit_of_another_kind_is_refused() -> None:
    with pytest.raises(EntryRefused, match="another unit"):
        parse_volts("8 A", field="rested_v")


@pytest.mark.parametrize("typed", ["41,380.0", "1.234,5", "41 380"])
def test_a_thousands_separator_is_refused(typed: str) -> None:
    with pytest.raises(EntryRefused, match="thousands"):
        parse_volts(typed, field="rested_v")


def test_a_minus_sign_asks_whether_the_leads_are_reversed() -> None:
    with pytest.raises(EntryRefused, match="leads reversed"):
        parse_volts("-41.2", field="rested_v")


def test_a_load_of_zero_amps_is_refused_and_a_bench_may_be_below_zero() -> None:
    with pytest.raises(EntryRefused, match="above zero"):
        parse_amps("0", field="load_a")
    assert parse_celsius("-5", field="bench_c") == Decimal(-5)
    with pytest.raises(EntryRefused, match="−40 to 60"):
        parse_celsius("180", field="bench_c")


@given(st.decimals(min_value=0, max_value=1000, places=3, allow_nan=False, allow_infinity=False), st.booleans())
def test_printing_and_parsing_again_is_identity(value: Decimal, comma: bool) -> None:
    text = str(value).replace(".", ",") if comma else str(value)
    assert parse_volts(text, field="rested_v") == value


@given(st.text(max_size=20))
def test_any_text_is_taken_exactly_or_refused_in_words(text: str) -> None:
    try:
        value = parse_volts(text, field="rested_v")
    except EntryRefused as refused:
        assert str(refused)
    else:
        assert value == Decimal(text.strip().replace(",", ".").replace("\u2212", "-"))
