"""The manager's view ahead, on a whole fleet."""

import pytest

from fleetcare.services import summary
from fleetcare.services.renewal import renewal
from tests.kestrel import Kestrel


@pytest.fixture
def ahead(kestrel: Kestrel):  # type: ignore[no-untyped-def]
    return renewal(kestrel.store, kestrel.clock)


def test_what_is_learnt_is_shown_for_each_model_with_checks(ahead) -> None:  # type: ignore[no-untyped-def]
    for row in ahead.learnt:
        assert row.packs > 0 and 5 < row.energy_kj_mol < 45 and row.colder_percent > 0


def test_needs_are_whole_packs_in_order_and_name_those_likely(kestrel: Kestrel, ahead) -> None:  # type: ignore[no-untyped-def]
    assert ahead.needs
    for need in ahead.needs:
        assert 0 <= need.low <= need.likely <= need.high
        assert all(chance >= 0.2 for _, chance in need.named)
    found = dict(summary.fleet_projections(kestrel.store, kestrel.clock))
    total = sum(need.unknown for need in ahead.needs) // 2
    assert total == sum(
        not any(p.projected and p.limit is not None for p in projections) for projections in found.values()
    )


def test_models_are_not_ranked_on_too_few(ahead) -> None:  # type: ignore[no-untyped-def]
    assert {row.sentence.key for row in ahead.lasting} <= {"renewal.not_ranked"}
