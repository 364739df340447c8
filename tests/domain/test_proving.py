"""Proofs of a meter, and readings without the error that was found."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import judging, proving
from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.metering import Decision
from fleetcare.domain.packs import Meter
from fleetcare.domain.proving import MeterFoundOut, MeterProof
from tests.kestrel import K36, SITE

D = Decimal
AT = dt.datetime(2026, 11, 2, 6, 30, tzinfo=dt.UTC)
REFERENCE = D("41.00")
MAKERS = Meter("M", "600 V range", D("1"), 3, D("0.1"))
volts = st.decimals(min_value=30, max_value=60, places=2)


def proof(read: str, reference: str = "120", error: str = "0") -> MeterProof:
    return MeterProof("M", AT, "standard", D(reference), D(error), D(read))


@pytest.mark.parametrize(
    ("read", "error", "answer"),
    [
        # A maker's worked example: 120 V at ±(1 % + 3 digits of 0.1 V) may be off by 1.5 V.
        ("121.5", "0", Decision.PASS), ("118.5", "0", Decision.PASS), ("121.6", "0", Decision.BEYOND),
        ("118.4", "0", Decision.BEYOND), ("121.5", "0.5", Decision.TOO_NEAR), ("122.5", "0.5", Decision.BEYOND),
        ("120.5", "0.5", Decision.PASS),
    ],
)  # fmt: skip
def test_the_limit_of_error_itself_is_within_and_a_poor_reference_cannot_tell(
    read: str, error: str, answer: Decision
) -> None:
    assert proving.decide(proof(read, error=error), MAKERS) is answer


def test_the_sign_of_an_error_is_reading_minus_reference() -> None:
    # JCGM 200:2012, 2.16: measured value minus reference value.
    assert proof("121.6").error_v == D("1.6") and proof("118.4").error_v == D("-1.6")


@pytest.mark.parametrize(("field", "changes"), [("reference_v", ("41", "0")), ("read_v", ("-1", "120"))])
def test_what_cannot_be_a_comparison_is_refused(field: str, changes: tuple[str, str]) -> None:
    with pytest.raises(EntryRefused) as refused:
        proof(*changes)
    assert refused.value.field == field


def found(error: Decimal, at: Decimal = REFERENCE) -> MeterFoundOut:
    return MeterFoundOut("M", AT, None, "", error, at, D("0.01"))


def check(rested: Decimal, loaded: Decimal | None = None, at: dt.datetime = AT) -> VoltageCheck:
    return VoltageCheck("P", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, rested, at, "M", None, loaded,
                        None if loaded is None else D("8"), None if loaded is None else 10)  # fmt: skip


@given(volts, st.decimals(min_value=-2, max_value=2, places=2))
def test_a_reading_at_the_reference_loses_exactly_the_error_either_way(at: Decimal, error: Decimal) -> None:
    shifted, scaled = proving.without_error(check(at + error), found(error, at))
    assert shifted.rested_v == at and abs(scaled.rested_v - at) <= proving.TENTH_MILLIVOLT


@given(volts, st.decimals(min_value=0, max_value=5, places=2), st.decimals(min_value=0, max_value=2, places=2))
def test_the_sag_stays_when_the_error_is_the_same_everywhere(rested: Decimal, sag: Decimal, error: Decimal) -> None:
    shifted = proving.without_error(check(rested, rested - sag), found(error))[0]
    assert shifted.sag_v == sag


@given(volts, st.decimals(min_value=0, max_value=2, places=2))
def test_a_meter_that_reads_high_never_makes_a_pack_better_at_the_pull_line(rested: Decimal, error: Decimal) -> None:
    meter = Meter("M", "m", D("0.5"), 2, D("0.01"))
    judged = proving.rejudge(check(rested), found(error), K36, SITE, meter, None)
    assert judged is not None
    assert judged.margin_v <= judging.margin_v(check(rested), K36, SITE) + proving.TENTH_MILLIVOLT


def test_readings_are_in_doubt_after_the_last_good_proof_and_up_to_being_found_out() -> None:
    good = AT - dt.timedelta(days=20)
    one = MeterFoundOut("M", AT, good, "")
    moment = dt.timedelta(seconds=1)
    doubted = [one.covers(check(D("41"), at=at)) for at in (good, good + moment, AT, AT + moment)]
    assert doubted == [False, True, True, False]
