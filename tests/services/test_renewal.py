"""The manager's view ahead, on a whole fleet."""

import pytest

from fleetcare.domain.wording import say
from fleetcare.services import summary
from fleetcare.services.renewal import Renewal, pair_told, renewal
from tests.kestrel import Kestrel


@pytest.fixture
def ahead(kestrel: Kestrel) -> Renewal:
    return renewal(kestrel.store, kestrel.clock)


def test_what_is_learnt_is_shown_for_each_model_in_use_and_says_what_it_rests_on(ahead: Renewal) -> None:
    assert {row.model for row in ahead.learnt} == {"K36-A", "S36-F", "K48-B"}
    for row in ahead.learnt:
        assert 5 < row.energy_kj_mol < 45 and row.colder_percent > 0
        assert say(row.rests_on) == "its own packs" if row.packs >= 5 else say(row.rests_on)


def test_needs_are_whole_packs_in_order_and_name_those_likely(kestrel: Kestrel, ahead: Renewal) -> None:
    assert ahead.needs
    for model in ahead.needs:
        for quarter in model.quarters:
            assert 0 <= quarter.low <= quarter.likely <= quarter.high
            assert all(one.chance >= 0.2 for one in quarter.named)
        assert model.quarters[0].to_date < model.quarters[1].from_date
    found = dict(summary.fleet_projections(kestrel.store, kestrel.clock))
    assert sum(model.unknown for model in ahead.needs) == sum(
        not any(p.projected and p.limit is not None for p in projections) for projections in found.values()
    )


def test_a_pack_that_its_newest_check_pulled_is_needed_now(kestrel: Kestrel) -> None:
    kestrel.check("P-1004", "38.10", vehicle="EB-14")
    found = renewal(kestrel.store, kestrel.clock)
    need = next(model for model in found.needs if model.code == "K36-A")
    assert [(one.code, one.chance) for one in need.quarters[0].named] == [("P-1004", 1.0)]
    assert need.quarters[0].low == 1 and need.quarters[1].high == 0
    assert say(found.total).startswith("In the next 91 days") and "1 pack to replace" in say(found.total)


def test_models_are_not_ranked_on_too_few(ahead: Renewal) -> None:
    assert len(ahead.pairs) == 3 and not any(pair.ranked for pair in ahead.pairs)
    assert all("need" in say(pair_told(pair)[-1]) for pair in ahead.pairs)


def test_without_a_past_nothing_is_claimed_for_earlier_projections(ahead: Renewal) -> None:
    assert ahead.kept == () and "can be checked yet" in say(ahead.kept_told)
    assert "No warranty is on record" in say(ahead.claims_told)
