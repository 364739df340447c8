"""What bars a pack from every charger.

Below 2.50 V per group never on a charger, 2.50 to 3.00 only attended: this depot's settings, proposals of this program.
"""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import judging
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import CheckKind, LookItem, LookOver, RestBand, VoltageCheck
from fleetcare.domain.recalls import RecallNotice
from fleetcare.domain.status import PackState
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import say
from fleetcare.services import charging, laying_up, recalling, record, summary
from tests.kestrel import K36, METERS, MONDAY, SITE, D, Kestrel


def warning(kestrel: Kestrel, pack: str, charger: str = "C-36-1") -> str:
    told = charging.charge_warning(kestrel.store, kestrel.clock, pack, charger)
    return "" if told is None else say(told)


def charge(kestrel: Kestrel, pack: str) -> str:
    made = ChargedOn(pack, "C-36-1", kestrel.now)
    return say(charging.record_charge(kestrel.store, kestrel.clock, kestrel.author(), made).message)


def state(kestrel: Kestrel, pack: str) -> PackState:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status.state


def stored(kestrel: Kestrel, pack: str, volts: str) -> str:
    """A pack laid up a while ago and read now."""
    laying_up.lay_up(kestrel.store, kestrel.clock, kestrel.author(), "W-1", [pack], shelf="Rack 9")
    kestrel.now += dt.timedelta(days=2)
    read = VoltageCheck(pack, CheckKind.STORED, RestBand.OVERNIGHT, D(volts), kestrel.now, "M-01")
    done = laying_up.record_storage_look(kestrel.store, kestrel.clock, kestrel.author("FARROW"), read)
    assert done.verdict is not None
    return done.verdict.next_step.key


def test_a_quarantined_and_a_recalled_pack_are_never_put_on_a_charger(kestrel: Kestrel) -> None:
    smell = LookOver("P-1009", kestrel.now, "EB-19", (LookItem.SMELL,))
    record.record_look_over(kestrel.store, kestrel.clock, kestrel.author(), smell)
    notice = RecallNotice("N-7", ("K36-A",), "2403-0611", "2403-0611", kestrel.now)
    recalling.enter_notice(kestrel.store, kestrel.clock, kestrel.author(), notice)
    assert "quarantined and is never put on a charger: Visual inspection" in warning(kestrel, "P-1009")
    assert "no charge before the maker's remedy" in warning(kestrel, "P-1011")
    assert warning(kestrel, "P-1012") == ""
    assert "stays held" in charge(kestrel, "P-1009") and "stays held" in charge(kestrel, "P-1011")
    assert state(kestrel, "P-1009") is PackState.QUARANTINED and state(kestrel, "P-1011") is PackState.HELD
    assert kestrel.store.verify().good


@pytest.mark.parametrize(("volts", "kept", "next_step", "words"), [
    ("24.40", PackState.QUARANTINED, "next.do_not_charge", "never put on a charger: 24.40 V"),
    ("25.04", PackState.HELD, "next.near_do_not_charge", "before it is settled: 25.04 V"),
    ("27.30", PackState.HELD, "next.low_hold", "only attended, by somebody who may reset and release"),
    ("0.00", PackState.LAID_UP, "next.wake_stored", "Never on a charger: P-1011 reads nothing and comes out of storage"),
    ("36.40", PackState.LAID_UP, "next.back_to_work", ""),
])  # fmt: skip
def test_a_pack_out_of_storage_is_charged_by_what_it_read(
    kestrel: Kestrel, volts: str, kept: PackState, next_step: str, words: str
) -> None:
    assert stored(kestrel, "P-1011", volts) == next_step
    assert state(kestrel, "P-1011") is kept
    told = warning(kestrel, "P-1011")
    assert words in told and bool(words) is bool(told)


def test_a_silent_stored_pack_that_was_charged_all_the_same_is_quarantined(kestrel: Kestrel) -> None:
    stored(kestrel, "P-1011", "0.00")
    assert "stays held" in charge(kestrel, "P-1011")
    assert state(kestrel, "P-1011") is PackState.QUARANTINED
    (line,) = laying_up.laid_up_lines(kestrel.store, kestrel.clock)
    assert line.standing is not None and line.standing.value == "silent"


@pytest.mark.parametrize(("days", "barred"), [(27, False), (28, True)])
def test_a_pack_that_reads_nothing_is_charged_only_where_it_was_seen_with_volts_within_thirty_days(
    kestrel: Kestrel, days: int, barred: bool
) -> None:
    """The packs of the depot were checked three days before; both ends of the thirty days are in.  Reading nothing now is not seeing it."""
    for _ in range(days):
        kestrel.now += dt.timedelta(days=1)
        kestrel.check("P-1317", "54.20")
    kestrel.check("P-1012", "0.00")
    assert ("more than 30 days ago" in warning(kestrel, "P-1012")) is barred


@given(st.decimals("20", "32", places=2))
def test_no_reading_within_the_meters_error_of_the_do_not_charge_limit_leads_to_a_charge(volts) -> None:  # type: ignore[no-untyped-def]
    check = VoltageCheck("P-1", CheckKind.AS_FOUND, RestBand.OVERNIGHT, volts, MONDAY, "M-01")
    verdict = judging.judge(check, None, K36, SITE, METERS[0], None)
    if volts < D("25"):
        assert verdict.level in (VerdictLevel.DANGER, VerdictLevel.PULL)
        assert verdict.next_step.key in ("next.do_not_charge", "next.near_do_not_charge")
    if verdict.next_step.key == "next.low_hold":
        assert volts > D("25")


def test_a_bar_hides_nothing_that_the_charge_itself_holds_a_pack_for(kestrel: Kestrel) -> None:
    """P-1011 is low and was put on the charger of another model: when it reads full again, that charge still stands."""
    stored(kestrel, "P-1011", "27.30")
    made = ChargedOn("P-1011", "", kestrel.now, where="in a customer's garage")
    told = say(charging.record_charge(kestrel.store, kestrel.clock, kestrel.author(), made).message)
    assert "stays held" in told and "Held for this charge too: " in told and "garage" in told
    with kestrel.store.view() as view:
        keys = {one.reason.key for one in view.open_holds(("pack", "P-1011"))}
    assert {"low.low_hold", "report.charged_unknown"} <= keys
