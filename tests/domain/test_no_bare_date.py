"""No sentence of a projection holds one bare date: it is a range, or it says that the end is open."""

import datetime as dt
import re

import pytest

from fleetcare.domain.wording import _WORDS, Message, brief

AHEAD = r"(projection|storage|review|needs|warranty\.found_ahead|decision\.ask_early|due\.edge|event\.edge)"
TOLD = sorted(key for key in _WORDS if re.match(AHEAD, key))


@pytest.mark.parametrize(
    "key", [key for key in TOLD if re.search(r"early_date|edge_date|late_date|likely", _WORDS[key])]
)
def test_a_date_ahead_is_a_range(key: str) -> None:
    text = _WORDS[key].replace("edge_date", "early_date")
    if "early_date" in text and "late_date" not in text:
        assert "open" in text or "80 % range begins" in text, text
    if "likely_month" in text:
        assert "80 % range" in text and "early_date" in text, text
    assert not ("late_date" in text and "early_date" not in text)


DAY = dt.date(2027, 3, 20)
LATER = dt.date(2027, 8, 9)
DATED = [key for key in TOLD if re.search(r"early_date|edge_date|late_date", _WORDS[key])]


@pytest.mark.parametrize("key", DATED)
def test_in_a_few_words_too(key: str) -> None:
    named = {name: "x" for name in re.findall(r"{(\w+)}", _WORDS[key])}
    dates = {name: LATER if name == "late_date" else DAY for name in named if name.endswith("_date")}
    told = brief(Message(key, tuple((named | dates).items())))
    days = re.findall(r"\b\d{1,2}\W[A-Z][a-z]{2}\b", told)
    assert len(days) != 1 or "80 %" in told or "open" in told, told
