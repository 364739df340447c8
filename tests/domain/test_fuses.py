"""Fuses against published figures.

Voltage ratings 32 V and 58 V: ISO 8820-3:2015, types C, E and F.  Opening times: makers' published
sheets of 35/40 A type C and 40 A type E blade fuses.  Colours: makers' colour lists.
"""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import fuses
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.fuses import Body, FuseSpec, Position
from fleetcare.domain.packs import Chemistry, PackModel, ServiceNotes

D = Decimal
NOTES = ServiceNotes("M", fuse_body="type_c")


def model(full_v: str, series: int = 10, fuse_a: str | None = "30") -> PackModel:
    return PackModel("M", "M", Chemistry.NMC, series, 36, D(full_v), D("14"), "K", bms_limit_a=D("20"),
                     fuse_a=None if fuse_a is None else D(fuse_a))  # fmt: skip


def spec(
    amps: str = "30", volts: str | None = "58", body: Body = Body.TYPE_C, part: str = "", colour: str = ""
) -> FuseSpec:
    return FuseSpec(D(amps), None if volts is None else D(volts), body, part, colour)


@pytest.mark.parametrize(("full_v", "refused", "taken"), [
    ("42.0", "32", "58"), ("43.8", "32", "58"), ("54.6", "32", "58"), ("54.75", "32", "58"), ("58.8", "58", "80"), ("58.4", "58", "80"),
])  # fmt: skip
def test_the_volt_rating_must_reach_the_charge_end_voltage(full_v: str, refused: str, taken: str) -> None:
    fuses.refuse_wrong(spec(volts=taken), model(full_v), NOTES)
    with pytest.raises(EntryRefused, match="arc may not go out") as caught:
        fuses.refuse_wrong(spec(volts=refused), model(full_v), NOTES)
    assert full_v in str(caught.value) and caught.value.field == "dc_v"
    fuses.refuse_wrong(spec(volts=full_v), model(full_v), NOTES)


@pytest.mark.parametrize(("fuse", "notes", "field", "words"), [
    (spec("40"), NOTES, "rated_a", "above the maker's 30"),
    (spec("25"), NOTES, "rated_a", "does not state that a lower one is allowed"),
    (spec("20"), ServiceNotes("M", "type_c", next_lower_fuse=True), "rated_a", "that is 25"),
    (spec(body=Body.TYPE_E), NOTES, "body", "another body"),
    (spec(volts=None), NOTES, "dc_v", "Read the DC volt rating"),
    (spec(colour="red"), NOTES, "colour", "red stands for 10"),
    (spec(), ServiceNotes("M"), "rated_a", "not on record"),
    (spec(), None, "rated_a", "not on record"),
])  # fmt: skip
def test_a_wrong_fuse_is_refused_with_the_rule(
    fuse: FuseSpec, notes: ServiceNotes | None, field: str, words: str
) -> None:
    with pytest.raises(EntryRefused, match=words) as caught:
        fuses.refuse_wrong(fuse, model("42.0"), notes)
    assert caught.value.field == field


def test_the_next_lower_rating_where_the_maker_allows_it_and_the_right_colour_are_taken() -> None:
    allowed = ServiceNotes("M", "type_c", next_lower_fuse=True)
    fuses.refuse_wrong(spec("25", colour="clear"), model("42.0"), allowed)
    assert fuses.contradiction(spec("10", colour="red")) is None
    assert fuses.contradiction(spec("50", body=Body.TYPE_E, colour="red")) is None
    assert fuses.contradiction(spec("10", body=Body.TYPE_E, colour="red")) is not None


def test_the_charge_fuse_is_never_judged_by_the_discharge_fuse() -> None:
    """Usual layout: a charge fuse of 5 to 10 A beside a discharge fuse of 30 to 40 A (common practice, no source)."""
    with pytest.raises(EntryRefused, match=r"maker's charge fuse for M .* is not on record"):
        fuses.refuse_wrong(spec("30"), model("42.0"), NOTES, Position.CHARGE)
    both = ServiceNotes("M", "type_c", charge_fuse_a=D("10"), charge_fuse_body="type_c", next_lower_fuse=True)
    for amps, words in (("30", "30 A is above the maker's 10 A"), ("15", "15 A is above"), ("5", "that is 7.5 A")):
        with pytest.raises(EntryRefused, match=words):
            fuses.refuse_wrong(spec(amps), model("42.0"), both, Position.CHARGE)
    fuses.refuse_wrong(spec("10", colour="red"), model("42.0"), both, Position.CHARGE)
    fuses.refuse_wrong(spec("7.5", colour="brown"), model("42.0"), both, Position.CHARGE)
    with pytest.raises(EntryRefused, match=r"32 V DC is below the pack's charge-end voltage of 42\.0"):
        fuses.refuse_wrong(spec("10", "32"), model("42.0"), both, Position.CHARGE)


@pytest.mark.parametrize(("maker_a", "lower"), [("40", "35"), ("35", "30"), ("30", "25"), ("7.5", "5"), ("10", "7.5")])
def test_the_next_lower_rating_is_that_of_the_standard_row(maker_a: str, lower: str) -> None:
    """Ratings of types C and F: 1, 2, 3, 4, 5, 7.5, 10, 15, 20, 25, 30, 35, 40 A (makers' colour lists)."""
    allowed = ServiceNotes("M", "type_c", next_lower_fuse=True)
    fuses.refuse_wrong(spec(lower), model("54.6", 13, maker_a), allowed)
    with pytest.raises(EntryRefused, match="does not state that a lower one is allowed"):
        fuses.refuse_wrong(spec(lower), model("54.6", 13, maker_a), NOTES)
    with pytest.raises(EntryRefused, match=r"58 V DC is below .* 58\.8"):
        fuses.refuse_wrong(spec(maker_a), model("58.8", 14, maker_a), allowed)


def test_45_amps_is_no_standard_value_and_needs_its_part_number() -> None:
    strange = model("42.0", fuse_a="45")
    with pytest.raises(EntryRefused, match=r"45(\.0)? A is no standard blade value"):
        fuses.refuse_wrong(spec("45"), strange, NOTES)
    fuses.refuse_wrong(spec("45", part="X-45-58"), strange, NOTES)


@pytest.mark.parametrize(("amps", "type_c", "type_e"), [
    ("20", (None, None), (None, None)), ("35", (None, None), (None, None)), ("40", ("360000", None), ("360000", None)),
    ("54", ("0.75", "600"), ("60", "1800")), ("60", ("0.15", "600"), ("2", "1800")), ("80", ("0.15", "5"), ("2", "50")),
    ("140", ("0.08", "0.5"), ("0.2", "7")), ("240", ("0", "0.15"), ("0.04", "1")),
])  # fmt: skip
def test_the_opening_time_of_a_40_a_fuse_is_the_published_bracket(
    amps: str, type_c: tuple[str | None, str | None], type_e: tuple[str | None, str | None]
) -> None:
    for body, expected in ((Body.TYPE_C, type_c), (Body.TYPE_E, type_e)):
        found = fuses.opening(body, D("40"), D(amps))
        assert (found.least_s, found.most_s) == tuple(None if v is None else D(v) for v in expected)


@given(st.decimals("40", "600", places=1), st.decimals("40", "600", places=1))
def test_more_current_never_opens_a_fuse_later(a: Decimal, b: Decimal) -> None:
    low, high = (fuses.opening(Body.TYPE_C, D("40"), x) for x in sorted((a, b)))
    assert low.least_s is not None and high.least_s is not None and high.least_s <= low.least_s
    if low.most_s is not None:
        assert high.most_s is not None and high.most_s <= low.most_s


def test_between_the_limit_and_the_fuse_only_the_battery_management_acts() -> None:
    found = fuses.coordination(model("42.0", fuse_a="40"), NOTES)
    acts = {row.current_a: why.key for row, why in found.rows}
    assert acts[D("20")] == "fuse.normal" and acts[D("40")] == "fuse.only_bms" and acts[D("80")] == "fuse.both"
    assert found.gap.key == "fuse.gap"
    with pytest.raises(EntryRefused, match="No published opening times"):
        fuses.coordination(model("42.0"), ServiceNotes("M", "type_f"))
