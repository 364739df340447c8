"""Every sentence that is asked for by its key is on record, and is given the values that it names."""

import ast
import datetime as dt
import string
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest

import fleetcare
from fleetcare.domain import wording
from fleetcare.domain.wording import msg, say, show_value

MAKERS = {"msg", "message", "EntryRefused", "NotAllowed", "FileRefused"}


def _keys(node: ast.expr) -> Iterator[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _keys(node.body)
        yield from _keys(node.orelse)


def _asked() -> Iterator[tuple[str, str, set[str], bool]]:
    """(place, key, names of the values, whether others may be among them) of every sentence asked for in the program."""
    root = Path(fleetcare.__file__).parent
    for path in sorted(root.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
            if name not in MAKERS:
                continue
            given = {one.arg for one in node.keywords if one.arg is not None}
            for key in _keys(node.args[0]):
                yield (
                    f"{path.relative_to(root)}:{node.lineno}",
                    key,
                    given,
                    any(one.arg is None for one in node.keywords),
                )


def _named(key: str) -> set[str]:
    return {field for _, field, _, _ in string.Formatter().parse(wording._WORDS[key]) if field}


def test_every_sentence_is_given_the_values_that_it_names() -> None:
    asked = list(_asked())
    assert len(asked) > 1000
    unknown = [(place, key) for place, key, _, _ in asked if key not in wording._WORDS]
    assert unknown == []
    lacking = [
        (place, key, _named(key) - given) for place, key, given, more in asked if not more and _named(key) - given
    ]
    assert lacking == []


def test_a_sentence_without_its_value_is_a_fault_of_the_program() -> None:
    with pytest.raises(KeyError):
        say(msg("fuse.unusual", rated_a=45))


@pytest.mark.parametrize(
    ("name", "value", "shown"),
    [
        ("change_v", -0.004, "0.00 V"), ("change_v", 0.004, "0.00 V"), ("change_v", -0.006, "−0.01 V"),
        ("change_ohm", 0.00006, "+0.0001 Ω"), ("change_ohm", 0.00004, "0.0000 Ω"), ("level_v", -0.0, "0.00 V"),
        ("change_ohm", 0.01, "+0.0100 Ω"), ("change_ohm", 0.0016, "+0.0016 Ω"),
    ],
)  # fmt: skip
def test_what_rounds_to_nothing_has_no_sign(name: str, value: float, shown: str) -> None:
    assert show_value(name, value) == shown


@pytest.mark.parametrize("name", ["resistance_ohm", "read_ohm", "last_ohm", "newest_ohm"])
@pytest.mark.parametrize(("ohm", "shown"), [("0.2", "0.2000 Ω"), ("0.185", "0.1850 Ω"), ("0.18125", "0.1812 Ω")])
def test_a_resistance_that_was_read_has_as_many_digits_in_a_sentence_as_in_a_column(
    name: str, ohm: str, shown: str
) -> None:
    """Columns of readings print four places; a limit keeps the digits it was set with."""
    assert show_value(name, Decimal(ohm)) == shown
    assert show_value("limit_ohm", Decimal("0.200")) == "0.200 Ω"


def test_values_that_run_from_right_to_left_are_set_apart_and_others_are_untouched() -> None:
    """Isolates of Unicode Annex 9 (X5a to X6a); a marked sentence is one whose value has letters of class R or AL."""
    told = say(msg("screen.draft", person="שלום", subject="P-1312", at=dt.datetime(2026, 11, 2, 6, 30)))
    assert told.count("\u2067שלום\u2069") == 1 and "\u2066" not in told
    assert wording.apart("Dana שלום") == "\u2066Dana שלום\u2069"
    for text in ("Dunn", "Žižek", "李小龍", "", "10 °C"):
        assert wording.apart(text) == text
    assert wording.apart(told) == told, "a sentence that is a value of another one is set apart already"
    assert wording.apart("\u202eabc") == "[U+202E]abc" and wording.apart("\u2069שלום") == "\u2066[U+2069]שלום\u2069"
    assert wording.listed(("שלום", "Pike")) == "\u2067שלום\u2069, Pike"
    assert show_value("why_sentence", "שלום.") == "\u2067שלום.\u2069" and show_value("why_sentence", "a") == "a."
