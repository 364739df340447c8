"""A due check put off: only lateness, only where the site says so, and with a name."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused, FleetcareError, NotAllowed
from fleetcare.domain.extensions import refuse_extension
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.status import BoardState, PackState, PackStatus
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import msg, say
from fleetcare.services import extending, record, summary
from tests.kestrel import MONDAY, Kestrel

DAY = dt.timedelta(days=1)
LAST_GOOD = (MONDAY - 3 * DAY + 14 * DAY).date()


def allow(kestrel: Kestrel, days: int = 3) -> None:
    extending.set_rule(kestrel.store, kestrel.clock, kestrel.author("ORMOND"), allowed=True, most_days=days)


def extend(
    kestrel: Kestrel, until: dt.date, by: str = "DUNN", reason: str = "mechanic ill", pack: str = "P-1002"
) -> None:
    extending.extend_due(kestrel.store, kestrel.clock, kestrel.author(by), pack, until, reason)


def line(kestrel: Kestrel) -> summary.VehicleSummary:
    return next(v for v in summary.fleet_summary(kestrel.store, kestrel.clock).vehicles if v.vehicle.code == "EB-12")


def test_without_the_site_s_rule_nothing_is_put_off(kestrel: Kestrel) -> None:
    with pytest.raises(NotAllowed, match="allow no due date"):
        extend(kestrel, LAST_GOOD + DAY)
    with pytest.raises(NotAllowed):
        extending.set_rule(kestrel.store, kestrel.clock, kestrel.author(), allowed=True, most_days=3)


def test_it_stays_due_shows_name_and_reason_and_lapses_after_its_day(kestrel: Kestrel) -> None:
    allow(kestrel)
    until = LAST_GOOD + 3 * DAY
    extend(kestrel, until)
    kestrel.now = dt.datetime.combine(LAST_GOOD + DAY, dt.time(7), dt.UTC)
    shown = line(kestrel)
    assert shown.status.state is BoardState.READY_BUT_DUE
    told = say(shown.status.reasons[0].text)
    assert "Dunn put it off until 16 Nov 2026: mechanic ill" in told and "good until 13 Nov 2026" in told
    kestrel.now = dt.datetime.combine(until, dt.time(23), dt.UTC)
    assert line(kestrel).status.state is BoardState.READY_BUT_DUE
    kestrel.now = dt.datetime.combine(until + DAY, dt.time(1), dt.UTC)
    assert line(kestrel).status.state is BoardState.GROUNDED


def test_the_next_check_ends_it(kestrel: Kestrel) -> None:
    allow(kestrel)
    extend(kestrel, LAST_GOOD + 3 * DAY)
    kestrel.check("P-1002", "41.60", vehicle="EB-12")
    kestrel.now = MONDAY + 15 * DAY
    assert line(kestrel).status.state is BoardState.GROUNDED
    with pytest.raises(NotAllowed, match="too far"):
        extend(kestrel, MONDAY.date() + 18 * DAY)


def test_who_may_and_how_far(kestrel: Kestrel) -> None:
    allow(kestrel)
    for by in ("FARROW", "HALE"):
        with pytest.raises(NotAllowed):
            extend(kestrel, LAST_GOOD + DAY, by=by)
    with pytest.raises(NotAllowed, match="at most 3 days after its last good day 13 Nov 2026, so 16 Nov 2026"):
        extend(kestrel, LAST_GOOD + 4 * DAY)
    for until in (LAST_GOOD, LAST_GOOD - DAY):
        with pytest.raises(EntryRefused, match="puts nothing off"):
            extend(kestrel, until)
    with pytest.raises(EntryRefused):
        extend(kestrel, LAST_GOOD + DAY, reason=" ")
    extend(kestrel, LAST_GOOD + DAY, by="ORMOND")


@pytest.mark.parametrize("volts", ["39.10", "40.02", "42.90"])
def test_a_pull_a_reading_too_near_and_an_over_charge_are_never_put_off(kestrel: Kestrel, volts: str) -> None:
    allow(kestrel)
    kestrel.check("P-1002", volts, vehicle="EB-12")
    level = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").status.level
    assert level in (VerdictLevel.PULL, VerdictLevel.TOO_NEAR, VerdictLevel.DANGER)
    with pytest.raises(NotAllowed):
        extend(kestrel, (MONDAY + 15 * DAY).date())


def test_what_is_held_is_never_put_off(kestrel: Kestrel) -> None:
    allow(kestrel)
    for kind in (HoldClass.ACTION_DUE, HoldClass.DANGER):
        hold = Hold("pack", "P-1002", kind, kestrel.now, msg("hold.by_person"), "latch")
        record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
        with pytest.raises(NotAllowed, match="released, never put off"):
            extend(kestrel, LAST_GOOD + DAY)


@given(
    state=st.sampled_from(list(PackState)), level=st.sampled_from([None, *VerdictLevel]), days=st.integers(-3, 9),
    most=st.integers(1, 14), allowed=st.booleans(),
)  # fmt: skip
def test_only_lateness_within_the_rule_is_ever_put_off(
    state: PackState, level: VerdictLevel | None, days: int, most: int, allowed: bool
) -> None:
    today = MONDAY.date()
    status = PackStatus("P-1", state, False, today - 7 * DAY, level)
    site = SiteRules(extension_allowed=allowed, extension_most_days=most)
    may = (
        allowed
        and state in (PackState.READY, PackState.DUE, PackState.OVERDUE)
        and level not in (VerdictLevel.TOO_NEAR, VerdictLevel.PULL, VerdictLevel.DANGER)
        and 1 <= days <= most
    )
    if may:
        refuse_extension(status, today, today + days * DAY, "ill", site, today)
        return
    with pytest.raises(FleetcareError):
        refuse_extension(status, today, today + days * DAY, "ill", site, today)
