"""The shape of codes and their check character."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.labels import check_character, is_code, normalise, verify_check, with_check


@pytest.mark.parametrize("text", ["EB-12", "P-1002", "C-36-2", "M-01", "B-01", "p-1002", "SC33"])
def test_codes_start_with_a_letter_and_have_a_digit(text: str) -> None:
    assert is_code(text)


@pytest.mark.parametrize("text", ["", "41.38", "12", "Dunn", "-P1", "P--1", "P-1002 X", "4P", "ß-1"])
def test_numbers_and_names_are_no_codes(text: str) -> None:
    assert not is_code(text)


def test_the_published_example_of_the_check_character() -> None:
    # ISO 7064 MOD 37,36, example of an open-source reference library's documentation: A12425GABC1234002 -> M.
    assert check_character("A12425GABC1234002") == "M"


CODES = st.from_regex(r"[A-Z]{1,2}-[0-9]{1,5}", fullmatch=True)


@given(CODES)
def test_a_label_with_its_check_character_reads_back_as_the_code(code: str) -> None:
    assert verify_check(with_check(code)) and normalise(with_check(code)) == code


@given(CODES, st.data())
def test_one_changed_digit_is_noticed(code: str, data: st.DataObject) -> None:
    place = data.draw(st.sampled_from([i for i, c in enumerate(code) if c.isdigit()]))
    other = data.draw(st.sampled_from([c for c in "0123456789" if c != code[place]]))
    slipped = code[:place] + other + code[place + 1 :]
    assert not verify_check(f"{slipped}*{check_character(code)}")


@pytest.mark.parametrize("text", ["P 1002*K", "P_1002*K", "\ufffd*4", "ß*S", "x'; --*1", "*", "**", "P-1002*"])
def test_what_is_no_code_has_no_right_check_character(text: str) -> None:
    assert not verify_check(text) and normalise(text) == text.strip().upper()
