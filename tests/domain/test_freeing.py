"""Spares to grounded vehicles: as many freed as any choice could free, then the least transfer; wrong packs never."""

import datetime as dt
import itertools
from collections.abc import Sequence
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain.freeing import Carry, Distance, Fit, Lack, Spare, distances, solve
from fleetcare.domain.packs import Chemistry, Depot

D = Decimal
NMC13 = Fit(D("54.6"), Chemistry.NMC, "K4")
NMC14 = Fit(D("58.8"), Chemistry.NMC, "K4")
LFP13 = Fit(D("54.6"), Chemistry.LFP, "K4")
FITS = (NMC13, NMC14, LFP13)
AT = dt.datetime(2026, 11, 2, 6, 30, tzinfo=dt.UTC)
DEPOTS = {
    "A": Depot("A", "A", distances_km=(("B", D("3.5")), ("C", D("12")))),
    "B": Depot("B", "B", distances_km=(("C", D("9.2")),)),
    "C": Depot("C", "C"),
}
BETWEEN = distances(DEPOTS)

lacks = st.lists(st.tuples(st.sampled_from(FITS), st.sampled_from("ABC"), st.integers(1, 2)), max_size=4).map(
    lambda rows: [Lack(f"V{n}", *row) for n, row in enumerate(rows)]
)
spares = st.lists(st.tuples(st.sampled_from(FITS), st.sampled_from(["A", "B", "C", ""])), max_size=5).map(
    lambda rows: [Spare(f"P{n}", fit, depot, AT + dt.timedelta(hours=n)) for n, (fit, depot) in enumerate(rows)]
)


def brute_force(asking: Sequence[Lack], lying: Sequence[Spare], between: Distance) -> tuple[int, int, float]:
    """(vehicles freed, carries over an unknown way, kilometres) of the best of all choices, tried one by one."""
    best = (0, 0, 0.0)
    choices = [None, *range(len(asking))]
    for choice in itertools.product(choices, repeat=len(lying)):
        given_to = [[lying[s] for s, v in enumerate(choice) if v == n] for n in range(len(asking))]
        if any(
            len(g) not in (0, v.packs) or any(s.fit != v.fit for s in g) for v, g in zip(asking, given_to, strict=True)
        ):
            continue
        ways = [between(s.depot, v.depot) for v, g in zip(asking, given_to, strict=True) for s in g]
        score = (-sum(bool(g) for g in given_to), sum(w is None for w in ways), float(sum(w or 0 for w in ways)))
        if score < (-best[0], best[1], best[2]):
            best = (-score[0], score[1], score[2])
    return best


def scored(found: Sequence[Carry]) -> tuple[int, int, float]:
    return (
        len({one.vehicle for one in found}),
        sum(one.km is None for one in found),
        float(sum(one.km or 0 for one in found)),
    )


@given(lacks, spares)
def test_no_choice_frees_more_or_carries_less(asking: list[Lack], lying: list[Spare]) -> None:
    found = solve(asking, lying, BETWEEN)
    wanted = {one.vehicle: one for one in asking}
    kept = {one.pack: one for one in lying}
    assert len({one.pack for one in found}) == len(found)
    for vehicle in {one.vehicle for one in found}:
        assert sum(one.vehicle == vehicle for one in found) == wanted[vehicle].packs
    for one in found:
        assert kept[one.pack].fit == wanted[one.vehicle].fit
        assert one.km == BETWEEN(kept[one.pack].depot, wanted[one.vehicle].depot)
    freed, unknown, km = brute_force(asking, lying, BETWEEN)
    got = scored(found)
    assert got[:2] == (freed, unknown) and abs(got[2] - km) < 1e-9


@given(
    st.lists(st.sampled_from("ABC"), min_size=1, max_size=6), st.lists(st.sampled_from("ABC"), min_size=1, max_size=6)
)
def test_single_packs_agree_with_the_assignment_of_a_reference_library(standing: list[str], lying: list[str]) -> None:
    # scipy.optimize.linear_sum_assignment: a published solver of the rectangular assignment problem.
    import numpy as np
    from scipy.optimize import linear_sum_assignment

    asking = [Lack(f"V{n}", NMC13, depot) for n, depot in enumerate(standing)]
    have = [Spare(f"P{n}", NMC13, depot, AT) for n, depot in enumerate(lying)]
    costs = np.array([[float(BETWEEN(s.depot, v.depot) or 0) for s in have] for v in asking])
    rows, columns = linear_sum_assignment(costs)
    found = solve(asking, have, BETWEEN)
    assert len(found) == len(rows)
    assert abs(float(sum(one.km or 0 for one in found)) - costs[rows, columns].sum()) < 1e-9


def test_equal_voltage_class_is_not_enough() -> None:
    lack = [Lack("CB-1", NMC13, "A")]
    assert solve(lack, [Spare("P-14", NMC14, "A", AT), Spare("P-LFP", LFP13, "A", AT)], BETWEEN) == ()


def test_two_singles_are_freed_before_one_double_and_the_freshest_pack_goes_first() -> None:
    asking = [Lack("CB-1", NMC13, "A", 2), Lack("CB-2", NMC13, "A"), Lack("CB-3", NMC13, "A")]
    lying = [Spare("P-1", NMC13, "A", AT), Spare("P-2", NMC13, "A", AT + dt.timedelta(days=1))]
    found = solve(asking, lying, BETWEEN)
    assert [(one.vehicle, one.pack) for one in found] == [("CB-2", "P-2"), ("CB-3", "P-1")]


def test_a_way_that_nobody_recorded_is_taken_last_and_said() -> None:
    lack = [Lack("CB-1", NMC13, "A")]
    found = solve(lack, [Spare("P-X", NMC13, "", AT), Spare("P-C", NMC13, "C", AT)], BETWEEN)
    assert [(one.pack, one.km) for one in found] == [("P-C", D("12"))]
    assert solve(lack, [Spare("P-X", NMC13, "", AT)], BETWEEN)[0].km is None


def test_a_distance_stated_by_one_depot_holds_both_ways() -> None:
    assert BETWEEN("B", "A") == D("3.5") and BETWEEN("A", "A") == 0 and BETWEEN("", "A") is None
    assert BETWEEN("", "") is None
