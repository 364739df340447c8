"""A meter that stands apart from the others on the same packs is listed for the mechanic, with what to do."""

import datetime as dt
from dataclasses import replace
from decimal import Decimal

from fleetcare.domain.packs import Meter
from fleetcare.domain.wording import say
from fleetcare.services.meter_suspects import meters_apart
from fleetcare.services.renewal import renewal
from tests.kestrel import MONDAY, Kestrel

ACCURATE = Meter("M-1", "one", Decimal("0.3"), 2, Decimal("0.01"))
"""Allows 0.146 V at 42.00 V: 0.3 % and two digits."""


def known(*codes: str) -> dict[str, Meter]:
    return {code: replace(ACCURATE, code=code) for code in codes}


def test_of_three_meters_the_one_beyond_its_makers_limit_is_named_and_at_the_limit_it_is_not() -> None:
    offsets = (("M-1", 0.05), ("M-2", 0.0), ("M-3", -0.87))
    (found,) = meters_apart(offsets, known("M-1", "M-2", "M-3"), Decimal("42.0"))
    assert found.meter == "M-3"
    assert say(found.why) == (
        "reads 0.87 V below the middle of the fleet's meters on the same packs and others of their models; its maker allows 0.15 V"
    )
    assert "Prove M-3 on a known source before it is used again" in say(found.what_to_do)
    assert "reads 0.20 V above" in say(
        meters_apart((("M-1", 0.2), ("M-2", 0.0), ("M-3", 0.0)), known("M-1", "M-2", "M-3"), Decimal("42.0"))[0].why
    )
    at_limit = (("M-1", 0.146), ("M-2", 0.0), ("M-3", 0.0))
    assert meters_apart(at_limit, known("M-1", "M-2", "M-3"), Decimal("42.0")) == ()


def test_of_two_meters_neither_is_blamed_and_both_are_to_be_proved() -> None:
    (found,) = meters_apart((("M-1", 0.3), ("M-2", -0.3)), known("M-1", "M-2"), Decimal("42.0"))
    assert found.meter == "M-1, M-2"
    assert (
        say(found.why)
        == "read 0.60 V apart on the same packs; their makers allow 0.29 V together: one of the two is off"
    )
    assert "Prove both on a known source" in say(found.what_to_do)
    assert meters_apart((("M-1", 0.146), ("M-2", -0.146)), known("M-1", "M-2"), Decimal("42.0")) == ()


def test_one_meter_a_meter_found_out_and_an_unknown_one_say_nothing() -> None:
    assert meters_apart((("M-1", 0.9),), known("M-1"), Decimal("42.0")) == ()
    refused = known("M-1", "M-2", "M-3") | {"M-3": replace(ACCURATE, code="M-3", refused_from=dt.date(2026, 10, 1))}
    offsets = (("M-1", 0.0), ("M-2", 0.0), ("M-3", -0.9))
    assert meters_apart(offsets, refused, Decimal("42.0")) == ()
    assert meters_apart(offsets, known("M-1", "M-2"), Decimal("42.0")) == ()


def test_a_bad_meter_is_on_the_fleets_list(kestrel: Kestrel) -> None:
    third = Meter("M-09", "borrowed", Decimal("0.3"), 2, Decimal("0.01"))
    from fleetcare.services import record

    record.put_things(
        kestrel.store, lambda: MONDAY - dt.timedelta(days=200), kestrel.author("ORMOND"), ("meter", third)
    )
    for week in range(16):
        for number, pack in enumerate(("P-1001", "P-1002", "P-1003")):
            at = MONDAY - dt.timedelta(days=7 * (16 - week), hours=number)
            meter = ("M-01", "M-02", "M-09")[(week + number) % 3]
            volts = Decimal("41.60") + Decimal(week * 7 % 3 - 1) / 100 - (Decimal("0.90") if meter == "M-09" else 0)
            kestrel.check(pack, str(volts), at=at, meter=meter)
    found = renewal(kestrel.store, kestrel.clock)
    assert [one.meter for one in found.meter_suspects] == ["M-09"]
    assert "below the middle of the fleet's meters" in say(found.meter_suspects[0].why)
    told = replace(found, meters=(("M-01", -0.004), ("M-02", 0.031), ("M-09", -0.87))).meters_told
    assert told is not None and ": M-01 0.00 V, M-02 +0.03 V, M-09 −0.87 V. " in say(told)
