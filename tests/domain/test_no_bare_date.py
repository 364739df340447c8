"""No sentence of a projection holds one bare date: it is a range, or it says that the end is open."""

import re

import pytest

from fleetcare.domain.wording import _WORDS

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
