"""The quarter review, with its exact figures, and that what is recorded later changes no earlier answer."""

import datetime as dt
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.wording import say
from fleetcare.services import record, summary, warranty
from fleetcare.services.as_of import as_of
from fleetcare.services.renewal import Renewal, pair_told, renewal
from tests.kestrel import MONDAY, Kestrel, build
from tests.quarter import FIRST, SAGS, build_quarter, loaded

BARE_DATE = re.compile(r"\b\d{1,2} [A-Z][a-z]{2} \d{4}\b")


@pytest.fixture(scope="module")
def quarter(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kestrel]:
    made = build_quarter(tmp_path_factory.mktemp("quarter") / "quarter.fleet")
    yield made
    made.store.close()


@pytest.fixture(scope="module")
def review(quarter: Kestrel) -> Renewal:
    return renewal(quarter.store, quarter.clock)


def resistance(kestrel: Kestrel, pack: str):  # type: ignore[no-untyped-def]
    page = summary.pack_summary(kestrel.store, kestrel.clock, pack)
    return next(p for p in page.projections if p.quantity == "resistance_ohm")


def test_a_rising_resistance_is_a_range_with_its_readings_and_never_a_bare_date(quarter: Kestrel) -> None:
    found = resistance(quarter, "P-1010")
    told = say(found.sentence)
    assert Decimal(SAGS[-1]) / 8 == Decimal("0.2275") and "last reading 0.2275 Ω" in told
    assert found.limit == 0.300 and found.comparable_checks == 8 and "8 comparable checks" in told
    assert found.crossing_p10 and found.crossing_p50
    weeks = [(MONDAY.date() + dt.timedelta(weeks=n)) for n in (17, 22)]
    assert found.crossing_p10 < weeks[0] and (found.crossing_p90 is None or found.crossing_p90 > weeks[1])
    assert weeks[0] - dt.timedelta(days=7) <= found.crossing_p50 <= weeks[1]
    assert f"around {found.crossing_p50:%b %Y}, 80 % range" in told and "80 % range" in told
    assert len(BARE_DATE.findall(told)) in (1, 2) and ("open end" in told or len(BARE_DATE.findall(told)) == 2)


def test_the_chart_shows_the_range_that_is_told_and_no_resistance_that_falls(tmp_path: Path) -> None:
    kestrel = build(tmp_path / "scatter.fleet", checked_days_ago=430)
    scatter = np.random.default_rng(1).normal(0, 0.05, 60)
    for week in range(60):
        at = MONDAY - dt.timedelta(days=7 * (60 - week))
        loaded(kestrel, "P-1005", f"{1.05 + 0.006 * week + scatter[week]:.2f}", at, "41.65")
    found = resistance(kestrel, "P-1005")
    band = {day: (low, middle, high) for day, low, middle, high in found.fan}
    told = next(one for one in found.horizons if one.days == 28)
    kestrel.store.close()
    assert band[28] == pytest.approx((told.p10, told.p50, told.p90), rel=1e-6)
    assert all(low >= band[0][0] * (1 - 1e-9) for low, _, _ in band.values())


def test_three_checks_are_not_enough_and_no_line_is_drawn(quarter: Kestrel) -> None:
    found = resistance(quarter, "P-1014")
    assert say(found.sentence) == "not enough comparable checks (3 of 6)"
    assert not found.projected and found.fan == () and found.crossing_p50 is None and len(found.used) == 3


def test_the_budget_is_whole_packs_times_the_price_with_the_packs_named(review: Renewal) -> None:
    need = next(one for one in review.needs if one.code == "K36-A")
    for quarter_need in need.quarters:
        assert 0 <= quarter_need.low <= quarter_need.likely <= quarter_need.high
        told = say(quarter_need.told(need.price, need.currency))
        assert "£420" in told and f"£{420 * quarter_need.likely}" in told
        assert len(quarter_need.named) >= quarter_need.high, "every number has its names"
    named = {pack.code for one in need.quarters for pack in one.named}
    assert named == {"P-1010"}
    assert need.unknown == need.packs - 1


def test_a_pack_most_likely_needed_in_neither_quarter_is_most_likely_needed_in_one_of_the_two(review: Renewal) -> None:
    """P-1010 reaches its limit around March: the month that stands on its page may not read "most likely 0" on the budget."""
    need = next(one for one in review.needs if one.code == "K36-A")
    assert [one.likely for one in need.quarters] == [0, 0]
    both = need.together
    assert both is not None and (both.low, both.likely, both.high) == (0, 1, 1)
    assert (both.from_date, both.to_date) == (need.quarters[0].from_date, need.quarters[1].to_date)
    assert need.together_told is not None and say(need.together_told) == (
        "K36-A, both quarters together, to 3 May 2027: 0 to 1 pack, most likely 1, at £420 each: £0 to £420, most likely £420."
    )
    assert all(one.together is None for one in review.needs if one.none)


def test_models_are_compared_at_equal_age_and_three_young_packs_are_not_ranked(review: Renewal) -> None:
    pair = next(p for p in review.pairs if {p.first.model, p.second.model} == {"K36-A", "L36"})
    told = [say(one) for one in pair_told(pair)]
    assert pair.age_days == pytest.approx(7 * 30.4375, abs=1)
    assert any("K36-A: 100 % not pulled at 7 months" in one and "14 packs" in one for one in told)
    assert told[-1] == "L36 has too few packs to rank: 3 followed to 7 months, 5 are needed."
    assert pair.better is None and not pair.ranked
    lived = next(one for one in review.lives if one.model == "K36-A")
    assert len(lived.ages) == 14 and sum(lived.pulled) == 6
    assert sum(lived.ages) / 14 / 30.4375 == pytest.approx(26, abs=0.6)


def test_a_warranty_says_days_left_clause_and_what_is_missing(review: Renewal) -> None:
    claim = next(one for one in review.claims if one.pack == "P-1012")
    assert say(claim.time_left) == "439 days left, to 15 Jan 2028" and claim.terms.clause == "not for hire use"
    assert claim.terms.speaks_of_hire and claim.finding is None and not claim.worth
    assert say(claim.state) == "missing: invoice, first check, photos, charging record"


def test_nothing_on_the_page_gives_health_in_per_cent(review: Renewal) -> None:
    told = [say(review.total), say(review.kept_told), *(say(m) for p in review.pairs for m in pair_told(p))]
    assert not any("health" in one.lower() or "capacity" in one.lower() for one in told)


def test_what_is_recorded_later_changes_no_earlier_answer(tmp_path: Path) -> None:
    made = build_quarter(tmp_path / "later.fleet")
    made.now = MONDAY + dt.timedelta(days=1)
    asked = "2026-11-01"

    def then() -> tuple[object, ...]:
        at = as_of(made.store, made.clock, asked)
        page = summary.pack_summary(made.store, at.clock, "P-1010", at.position)
        return renewal(made.store, made.clock, at=at), page

    before = then()
    assert before[0].past and say(before[0].total)  # type: ignore[attr-defined]
    loaded(made, "P-1010", "2.40", MONDAY + dt.timedelta(hours=2))
    late = dt.datetime(2026, 10, 28, 9, tzinfo=dt.UTC)  # done before the day asked, entered after it
    page = summary.pack_summary(made.store, made.clock, "P-1010")
    made.now = MONDAY + dt.timedelta(days=2)
    record.record_check(made.store, made.clock, made.author(), _like(page, made, late), None)
    record.correct_check(made.store, made.clock, made.author(), page.checks[2].record_id, "mistyped", None)
    warranty.record_purchase(made.store, made.clock, made.author("ORMOND"), "P-1010", bought_on="2026-02-01",
                             months="24", clause="later", invoice="", price="")  # fmt: skip
    assert then() == before
    now = renewal(made.store, made.clock)
    assert now != before[0] and any(one.pack == "P-1010" for one in now.claims)
    made.store.close()


def _like(page, made: Kestrel, at: dt.datetime):  # type: ignore[no-untyped-def]
    from dataclasses import replace

    with made.store.view() as view:
        stored = view.check(page.checks[0].record_id)
    assert stored is not None
    return replace(stored.check, done_at=at)


@pytest.mark.parametrize(
    ("typed", "key"),
    [("2 Nov", "date.not_a_date"), ("2026-11-03", "as_of.ahead"), ("2020-01-01", "as_of.before_start")],
)
def test_a_day_that_cannot_be_asked_is_refused_with_its_reason(quarter: Kestrel, typed: str, key: str) -> None:
    with pytest.raises(EntryRefused) as refused:
        as_of(quarter.store, quarter.clock, typed)
    assert refused.value.message.key == key and refused.value.field == "as_of"


def test_only_a_manager_changes_a_purchase_and_slips_are_refused_beside_their_field(quarter: Kestrel) -> None:
    good = {"bought_on": "2026-01-15", "months": "24", "clause": "", "invoice": "", "price": "419,50"}
    with pytest.raises(NotAllowed):
        warranty.record_purchase(quarter.store, quarter.clock, quarter.author("DUNN"), "P-1001", **good)
    for field, typed in (("bought_on", "15.1.26"), ("bought_on", "2027-01-15"), ("months", "0"), ("months", "two"),
                         ("price", "£420"), ("price", "-1")):  # fmt: skip
        with pytest.raises(EntryRefused) as refused:
            warranty.record_purchase(
                quarter.store, quarter.clock, quarter.author("ORMOND"), "P-1001", **(good | {field: typed})
            )
        assert refused.value.field == field


def test_a_purchase_that_says_nothing_new_is_not_recorded(quarter: Kestrel) -> None:
    nothing = {"bought_on": "", "months": "", "clause": "", "invoice": "", "price": ""}
    good = nothing | {"bought_on": "2026-01-15", "price": "419,50"}
    for typed, again in ((nothing, nothing), (good, good | {"price": "419.50"})):
        if typed is good:
            warranty.record_purchase(quarter.store, quarter.clock, quarter.author("ORMOND"), "P-1001", **typed)
        with quarter.store.view() as view:
            before = view.position
        with pytest.raises(EntryRefused) as refused:
            warranty.record_purchase(quarter.store, quarter.clock, quarter.author("ORMOND"), "P-1001", **again)
        assert refused.value.message.key == "warranty.nothing_new" and refused.value.field == "bought_on"
        with quarter.store.view() as view:
            assert view.position == before, "Enter in an empty form writes nothing"


@pytest.mark.parametrize("days", [(47,), (20,), (20, 27), (20, 27, 47), (35, 42, 47)])
def test_a_young_fleets_level_never_leaves_its_readings(kestrel: Kestrel, days: tuple[int, ...]) -> None:
    rows = [("P-1010", sag, FIRST + dt.timedelta(days=7 * n)) for n, sag in enumerate(SAGS)]
    rows += [("P-1014", "1.60", FIRST + dt.timedelta(days=day)) for day in days]
    for pack, sag, at in rows:
        loaded(kestrel, pack, sag, at)
    found = resistance(kestrel, "P-1010")
    if found.projected:
        assert found.level == pytest.approx(0.22, abs=0.025)
    else:
        assert (
            found.sentence.key in ("projection.disagrees", "projection.too_few", "projection.vague")
            and found.crossing_p50 is None
        )


def test_packs_read_once_do_not_make_others_look_wild(quarter: Kestrel) -> None:
    """Thirty-seven packs with one reading each leave no scatter; P-1010's rested volts are flat and must stay so."""
    page = summary.pack_summary(quarter.store, quarter.clock, "P-1010")
    found = next(one for one in page.projections if one.quantity == "rested_full_v")
    assert found.crossing_p10 is None or found.crossing_p10 > MONDAY.date() + dt.timedelta(days=365)
    assert all(h.p10 > 41.0 and h.p90 < 42.2 for h in found.horizons)


def test_a_projection_that_could_be_anything_is_refused_in_words(kestrel: Kestrel) -> None:
    """Eight good checks of one pack and a single loaded one of another taught the engine nothing it could say."""
    rows = [("P-1010", sag, FIRST + dt.timedelta(days=7 * n)) for n, sag in enumerate(SAGS)]
    for pack, sag, at in [*rows, ("P-1014", "1.60", FIRST + dt.timedelta(days=47))]:
        loaded(kestrel, pack, sag, at)
    found = resistance(kestrel, "P-1010")
    for one in found.horizons[:1]:
        assert one.p90 < 2 * one.p10
    if not found.projected:
        assert say(found.sentence) == (
            "not projected: too few packs of this fleet were read often enough to tell from this pack's own 8 readings how it will go on"
        )


def test_what_is_typical_is_not_told_from_two_packs(review: Renewal) -> None:
    row = next(one for one in review.learnt if one.model == "K36-A")
    assert row.ohm_packs == 2 and not row.knows_ohm


def test_how_long_a_model_lasts_is_a_range_and_is_refused_on_too_few_pulls(review: Renewal) -> None:
    told = [say(one) for one in review.half_lives_told]
    (old,) = (one for one in told if one.startswith("K36-A: half of its packs are pulled at an age of about "))
    assert re.search(r"about \d+ months \(80 % range \d+ months to \d+ months; 6 of 14 pulled so far", old), old
    months = [int(one) for one in re.findall(r"(\d+) months", old)]
    assert months[1] < months[0] < months[2]
    assert 24 <= months[0] <= 40, "six were pulled at 20 to 30 months, eight go on"
    assert told[-1].startswith("Too few to say how long packs last: ") and "L36" in told[-1]
    assert told[-1].endswith(". It takes 5 packs of a model, 3 of them pulled.")
