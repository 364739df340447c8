"""Lay-up: packs put away, looked at in their own time, and brought back by a full check."""

import datetime as dt
from decimal import Decimal

import pytest

from fleetcare.domain.checks import CheckKind, Hold, HoldClass, RestBand, VoltageCheck
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.inspection_plans import Kind
from fleetcare.domain.laying_up import LaidUp, Standing, band_of, next_look, standing_of
from fleetcare.domain.limits import resolve
from fleetcare.domain.packs import Chemistry, PackModel, SiteRules
from fleetcare.domain.status import PackState, PackStatus
from fleetcare.domain.wording import msg, say
from fleetcare.services import done_due, history, laying_up, record, summary
from fleetcare.services.history_lines import Asked
from fleetcare.services.plan import plan
from tests.kestrel import K36, K48, MONDAY, SITE, Kestrel

TODAY = MONDAY.date()
D = Decimal


def put(kestrel: Kestrel, *packs: str) -> None:
    laying_up.lay_up(kestrel.store, kestrel.clock, kestrel.author(), "winter-1", packs, shelf="Rack 9")


def look(kestrel: Kestrel, pack: str, volts: str, rest: RestBand = RestBand.OVERNIGHT) -> None:
    check = VoltageCheck(pack, CheckKind.STORED, rest, D(volts), kestrel.now, "M-01", bench_c=D("18"))
    laying_up.record_storage_look(kestrel.store, kestrel.clock, kestrel.author(), check)


def status(kestrel: Kestrel, pack: str) -> PackStatus:
    return summary.pack_summary(kestrel.store, kestrel.clock, pack).status


def kinds(kestrel: Kestrel, pack: str) -> set[Kind]:
    return {one.kind for one in plan(kestrel.store, kestrel.clock) if one.subject == pack}


def test_the_band_is_the_makers_else_the_default_per_group_with_its_source() -> None:
    assert (band_of(K36, SITE).low_v, band_of(K36, SITE).high_v) == (D("36.00"), D("38.50"))
    assert (band_of(K48, SITE).low_v, band_of(K48, SITE).high_v) == (D("46.80"), D("50.05"))
    assert band_of(K36, SITE).source == "proposal of this program"
    own = PackModel("X", "X", Chemistry.NMC, 10, 36, D(42), D(14), "K2", storage_low_v=D("37"), storage_high_v=D("39"))
    assert band_of(own, SITE).low_v == D("37") and "maker" in band_of(own, SITE).source
    lfp = PackModel("L", "L", Chemistry.LFP, 12, 38, D("43.8"), D(14), "K2")
    assert band_of(lfp, SITE).low_v is None


@pytest.mark.parametrize(("volts", "standing"), [
    ("38.51", Standing.ABOVE), ("38.50", Standing.IN_BAND), ("36.00", Standing.IN_BAND), ("35.99", Standing.BELOW),
    ("30.00", Standing.BELOW), ("29.99", Standing.LOW), ("25.00", Standing.LOW), ("24.99", Standing.DEEP),
])  # fmt: skip
def test_where_a_storage_reading_lies(volts: str, standing: Standing) -> None:
    assert standing_of(D(volts), band_of(K36, SITE), resolve(K36, SITE)) is standing


def test_a_look_comes_after_sixty_days_and_sooner_for_a_low_or_leaking_pack() -> None:
    away = LaidUp("P-1", "W", MONDAY, "Rack", D("36"), D("38.5"), "s", 60)
    read = MONDAY + dt.timedelta(days=10)
    assert next_look(away, [], SiteRules()).due_on == TODAY + dt.timedelta(days=60)
    assert next_look(away, [(read, D("37"))], SiteRules()).due_on == read.date() + dt.timedelta(days=60)
    low = next_look(away, [(MONDAY, D("37")), (read, D("35.9"))], SiteRules())
    assert low.due_on == read.date() + dt.timedelta(days=7) and "below its band" in say(low.why)
    leaking = next_look(away, [(read, D("37"))], SiteRules(), drains=msg("due.drains", noted_date=TODAY))
    assert leaking.due_on == read.date() + dt.timedelta(days=7) and "faster than is usual" in say(leaking.why)


def test_weekly_checks_are_suspended_visibly_and_no_laid_up_pack_is_offered(kestrel: Kestrel) -> None:
    put(kestrel, "P-1011", "P-1012")
    kestrel.now += dt.timedelta(days=30)
    found = status(kestrel, "P-1011")
    assert found.state is PackState.LAID_UP and not found.usable
    assert "weekly checks suspended; next look 1 Jan 2027" in say(found.reasons[0].text)
    assert kinds(kestrel, "P-1011") == {Kind.LAY_UP_LOOK}
    assert "P-1011" not in {one.pack for one in summary.round_list(kestrel.store, kestrel.clock)}
    kestrel.now = MONDAY + dt.timedelta(days=60)
    assert "a look is due since 1 Jan 2027" in say(status(kestrel, "P-1011").reasons[0].text)


def test_a_return_needs_a_full_check_that_passes_before_anything_else(kestrel: Kestrel) -> None:
    put(kestrel, "P-1011")
    kestrel.now += dt.timedelta(days=5)
    laying_up.take_out(kestrel.store, kestrel.clock, kestrel.author(), ["P-1011"])
    found = status(kestrel, "P-1011")
    assert found.state is PackState.OVERDUE and not found.usable and found.due_on == kestrel.now.date()
    assert "no full check passed since" in say(found.reasons[0].text)
    kestrel.now += dt.timedelta(hours=1)
    kestrel.check("P-1011", "40.00")
    assert not status(kestrel, "P-1011").usable
    kestrel.now += dt.timedelta(hours=3)
    kestrel.check("P-1011", "41.50")
    assert status(kestrel, "P-1011").state is PackState.READY


def test_storage_readings_never_mix_with_full_charge_trends(kestrel: Kestrel) -> None:
    put(kestrel, "P-1011")
    for number, volts in enumerate(("37.40", "37.38", "37.36", "37.35")):
        kestrel.now = MONDAY + dt.timedelta(days=14 * number)
        look(kestrel, "P-1011", volts)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1011")
    full = next(one for one in page.projections if one.quantity == "rested_full_v")
    assert all(reading.kind == "rested_full" for reading in (*full.used, *(one.reading for one in full.left_out)))
    stored = next(one for one in page.projections if one.quantity == "stored_v")
    assert len(stored.used) + len(stored.left_out) == 4
    line = page.checks[0]
    assert not any(one.quantity == "jump_v" for one in line.verdict.findings)


def test_a_pack_that_leaks_faster_than_the_fleet_is_looked_at_sooner(kestrel: Kestrel) -> None:
    packs = [f"P-10{n:02d}" for n in range(11, 15)]
    shelved = [("pack", summary.pack_summary(kestrel.store, kestrel.clock, p).pack) for p in packs]
    assert len(shelved) == 4
    others = [f"P-100{n}" for n in range(1, 9)]
    put(kestrel, *packs, *others)
    falling = {code: 0.002 for code in (*packs, *others)} | {"P-1014": 0.030}
    for week in range(8):
        kestrel.now = MONDAY + dt.timedelta(days=7 * week)
        for code, a_day in falling.items():
            look(kestrel, code, f"{37.60 - a_day * 7 * week:.2f}")
    line = next(one for one in laying_up.laid_up_lines(kestrel.store, kestrel.clock) if one.pack.code == "P-1014")
    assert line.stored is not None and line.stored.leaks
    assert line.next_look == kestrel.now.date() + dt.timedelta(days=7) and "faster than is usual" in say(line.why)
    calm = next(one for one in laying_up.laid_up_lines(kestrel.store, kestrel.clock) if one.pack.code == "P-1012")
    assert calm.next_look == kestrel.now.date() + dt.timedelta(days=60)


def test_days_in_lay_up_owe_no_weekly_check_in_history_and_count(kestrel: Kestrel) -> None:
    put(kestrel, "P-1011")
    kestrel.now += dt.timedelta(days=40)
    last = kestrel.now.date()
    found = done_due.done_due(kestrel.store, kestrel.clock, TODAY, last)
    assert "P-1011" not in {one.pack for one in found.missed} and "P-1012" in {one.pack for one in found.missed}
    for pack, gaps in (("P-1011", 0), ("P-1012", 1)):
        with history.reading(kestrel.store, kestrel.clock, Asked("pack", pack, TODAY, last)) as told:
            assert len(told.whole().gaps) == gaps


@pytest.mark.parametrize(("change", "words"), [
    (lambda k: put(k, "P-1011") or put(k, "P-1011"), "laid up already, in WINTER-1"),
    (lambda k: laying_up.lay_up(k.store, k.clock, k.author(), " ", ["P-1011"]), "Name the group"),
    (lambda k: laying_up.lay_up(k.store, k.clock, k.author(), "W", []), "Scan the packs"),
    (lambda k: laying_up.lay_up(k.store, k.clock, k.author(), "W", ["P-1002"]), "recorded in EB-12"),
    (lambda k: laying_up.take_out(k.store, k.clock, k.author(), ["P-1011"]), "not laid up"),
    (lambda k: look(k, "P-1011", "37.4"), "not laid up"),
])  # fmt: skip
def test_what_is_refused(kestrel: Kestrel, change, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(EntryRefused, match=words):
        change(kestrel)


def test_a_held_pack_goes_the_way_of_its_hold_and_a_dispatcher_lays_nothing_up(kestrel: Kestrel) -> None:
    hold = Hold("pack", "P-1011", HoldClass.FAULT, MONDAY, msg("hold.by_person"), "latch")
    record.set_hold(kestrel.store, kestrel.clock, kestrel.author(), hold)
    with pytest.raises(EntryRefused, match="goes the way of its hold"):
        put(kestrel, "P-1011")
    with pytest.raises(NotAllowed):
        laying_up.lay_up(kestrel.store, kestrel.clock, kestrel.author("HALE"), "W", ["P-1012"])


def test_a_fixed_pack_is_laid_up_with_its_vehicle(kestrel: Kestrel) -> None:
    laying_up.lay_up(kestrel.store, kestrel.clock, kestrel.author(), "W", ["P-1021"])
    line = next(v for v in summary.fleet_summary(kestrel.store, kestrel.clock).vehicles if v.vehicle.code == "SC-31")
    assert line.status.state.value == "grounded" and "laid up in W" in say(line.status.reasons[0].text)


def test_a_held_pack_in_lay_up_keeps_its_look_and_a_quarantined_one_is_looked_at_daily(kestrel: Kestrel) -> None:
    put(kestrel, "P-1011", "P-1012")
    look(kestrel, "P-1011", "29.00")
    look(kestrel, "P-1012", "24.20")
    assert kinds(kestrel, "P-1011") == {Kind.LAY_UP_LOOK} and kinds(kestrel, "P-1012") == {Kind.QUARANTINE_LOOK}
    days = {one.pack.code: one.next_look for one in laying_up.laid_up_lines(kestrel.store, kestrel.clock)}
    planned = {one.subject: one.due_on for one in plan(kestrel.store, kestrel.clock) if one.subject in days}
    assert days == planned == {"P-1011": TODAY + dt.timedelta(days=7), "P-1012": TODAY + dt.timedelta(days=1)}


def test_a_deep_discharged_find_is_said_to_be_in_quarantine(kestrel: Kestrel) -> None:
    put(kestrel, "P-1012")
    check = VoltageCheck("P-1012", CheckKind.STORED, RestBand.OVERNIGHT, D("24.20"), MONDAY, "M-01", bench_c=D("18"))
    done = laying_up.record_storage_look(kestrel.store, kestrel.clock, kestrel.author(), check)
    assert say(done.message).startswith("P-1012 is held in quarantine: 24.20 V is 2.42 V per group on average")
    out = laying_up.take_out(kestrel.store, kestrel.clock, kestrel.author(), ("P-1012",))
    assert say(out.message).endswith("What held them in lay-up holds them still: P-1012.")
    with kestrel.store.view() as view:
        assert [one.hold_class for one in view.open_holds(("pack", "P-1012"))] == [HoldClass.DANGER]
