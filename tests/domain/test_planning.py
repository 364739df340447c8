"""How many packs will be needed, and how long they lasted, against published numbers."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fleetcare.domain.projection.planning import count_range, kaplan_meier


def test_kaplan_meier_of_the_nist_handbook() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.1.5 (numbers from memory): 20 units, 6 failures,
    # four removed, ten still running at 200 hours; R = 0.95, 0.90, 0.85, 0.79, 0.74, 0.67.
    failed, removed = [10, 32, 56, 98, 122, 181], [50, 100, 125, 150] + [200] * 10
    found = kaplan_meier(failed + removed, [True] * 6 + [False] * 14)
    assert found.share == pytest.approx([0.95, 0.90, 0.85, 0.79, 0.74, 0.67], abs=0.006)
    assert found.at_risk == (20, 19, 17, 16, 14, 11)
    assert found.at(9) == 1.0 and found.at(10) == pytest.approx(0.95)


@given(st.lists(st.tuples(st.floats(1, 50), st.booleans()), min_size=1, max_size=30))
def test_survival_only_falls_and_without_removals_is_the_plain_share(pairs: list[tuple[float, bool]]) -> None:
    ages, pulled = [a for a, _ in pairs], [p for _, p in pairs]
    found = kaplan_meier(ages, pulled)
    assert all(b <= a for a, b in itertools.pairwise((1.0, *found.share)))
    plain = kaplan_meier(ages, [True] * len(ages))
    assert plain.at(25.0) == pytest.approx(sum(a > 25.0 for a in ages) / len(ages), abs=1e-9)


@given(st.integers(1, 40), st.floats(0.01, 0.99))
def test_equal_chances_give_the_binomial_distribution(n: int, p: float) -> None:
    assert count_range([p] * n) == tuple(int(stats.binom.ppf(q - 1e-12, n, p)) for q in (0.1, 0.5, 0.9))


def test_certain_and_impossible_packs_are_counted_as_such() -> None:
    assert count_range([1.0, 1.0, 0.0]) == (2, 2, 2) and count_range([]) == (0, 0, 0)
