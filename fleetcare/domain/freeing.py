"""Which spare packs free the most grounded vehicles, solved for the whole fleet together.

A spare fits only where charge-end voltage, chemistry and connector are all equal: 13 and 14 groups are both
sold as "48 V".  A vehicle that lacks two packs is freed by two or not at all.  First the number of vehicles
freed is made as large as it can be; among all such answers the one with the least transfer between depots is
taken, where a transfer over a distance that nobody recorded counts as longer than every recorded one; among
those the freshest packs.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from fleetcare.domain.packs import Chemistry, Depot, PackModel


@dataclass(frozen=True, slots=True)
class Fit:
    """What must be equal before a pack may go into a vehicle."""

    full_v: Decimal
    chemistry: Chemistry
    connector: str


def fit_of(model: PackModel) -> Fit:
    """The fit of all packs of a model."""
    return Fit(model.full_v.normalize(), model.chemistry, model.connector)


@dataclass(frozen=True, slots=True)
class Lack:
    """A vehicle that would be free with `packs` more usable packs.

    `only` are the spares that its maker's pairing rule allows beside the pack that stays in it; None: all that fit.
    """

    vehicle: str
    fit: Fit
    depot: str
    packs: int = 1
    only: frozenset[str] | None = None

    def takes(self, pack: str) -> bool:
        """True where the pairing rule allows this spare."""
        return self.only is None or pack in self.only


@dataclass(frozen=True, slots=True)
class Spare:
    """A passed pack in date on a known shelf; `depot` "" where nobody recorded at which one."""

    pack: str
    fit: Fit
    depot: str
    full_at: dt.datetime


@dataclass(frozen=True, slots=True)
class Carry:
    """One spare for one vehicle; `km` is None where the distance between the depots is not recorded."""

    pack: str
    vehicle: str
    from_depot: str
    to_depot: str
    km: Decimal | None


Distance = Callable[[str, str], Decimal | None]


def distances(depots: dict[str, Depot]) -> Distance:
    """Kilometres between two depots as either of them states it; None where neither does."""
    known: dict[tuple[str, str], Decimal] = {}
    for depot in depots.values():
        for other, km in depot.distances_km:
            known.setdefault((other, depot.code), km)
    for depot in depots.values():
        for other, km in depot.distances_km:
            known[depot.code, other] = km

    def between(one: str, other: str) -> Decimal | None:
        if one and one == other:
            return Decimal(0)
        return known.get((one, other))

    return between


def solve(lacks: Sequence[Lack], spares: Sequence[Spare], between: Distance) -> tuple[Carry, ...]:
    """The carries that free the most of `lacks`, with the least transfer; earlier lacks win where all else is equal."""
    by_fit: dict[Fit, list[Spare]] = defaultdict(list)
    for spare in spares:
        by_fit[spare.fit].append(spare)
    wanted: dict[Fit, list[Lack]] = defaultdict(list)
    for lack in lacks:
        if lack.fit in by_fit and lack.packs > 0:
            wanted[lack.fit].append(lack)
    found: list[Carry] = []
    for fit, asking in wanted.items():
        found += _solve_one(asking, by_fit[fit], between)
    return tuple(sorted(found, key=lambda one: (one.vehicle, one.pack)))


def _solve_one(lacks: list[Lack], spares: list[Spare], between: Distance) -> list[Carry]:
    """One fit: vehicles of one depot, need and pairing are alike, and so are spares of one depot that the same of them
    take; so whole numbers are solved.
    """
    asking: dict[tuple[str, int, frozenset[str] | None], list[Lack]] = defaultdict(list)
    for lack in lacks:
        asking[lack.depot, lack.packs, lack.only].append(lack)
    choosy = list(dict.fromkeys(lack.only for lack in lacks if lack.only is not None))
    lying: dict[tuple[str, tuple[bool, ...]], list[Spare]] = defaultdict(list)
    for spare in sorted(spares, key=lambda one: (one.full_at, one.pack), reverse=True):
        lying[spare.depot, tuple(spare.pack in only for only in choosy)].append(spare)
    wants, places = list(asking), list(lying)
    counts, supply = [(len(asking[want]), want[1]) for want in wants], [len(lying[place]) for place in places]
    costs = _costs([want[0] for want in wants], [place[0] for place in places], between, len(spares))
    allowed = [[want[2] is None or place[1][choosy.index(want[2])] for place in places] for want in wants]
    freed, carried = _all_at_home(counts, supply, costs, choosy) or _whole_numbers(counts, supply, costs, allowed)
    found = []
    for number, want in enumerate(wants):
        chosen = asking[want][: freed[number]]
        taken = [(place, lying[place].pop(0)) for n, place in enumerate(places) for _ in range(carried[number][n])]
        for at, lack in enumerate(chosen):
            for place, spare in taken[at * lack.packs : (at + 1) * lack.packs]:
                found.append(Carry(spare.pack, lack.vehicle, place[0], lack.depot, between(place[0], lack.depot)))
    return found


def _costs(depots: list[str], places: list[str], between: Distance, carries: int) -> list[list[float]]:
    """Kilometres of each carry; one over an unknown distance costs more than all that is known together."""
    known = [[between(place, depot) for place in places] for depot in depots]
    far = max((float(km) for row in known for km in row if km is not None), default=0.0)
    unknown = far * carries + 1
    return [[unknown if km is None else float(km) for km in row] for row in known]


def _all_at_home(
    wants: list[tuple[int, int]], supply: list[int], costs: list[list[float]], choosy: list[frozenset[str]]
) -> tuple[list[int], list[list[int]]] | None:
    """The answer where every want is met by what lies at its own depot: all freed, nothing carried away; else None.

    No other answer can be better, and most mornings it is this one.
    """
    if choosy:
        return None
    left = list(supply)
    carried = []
    for number, (count, packs) in enumerate(wants):
        row = [0] * len(supply)
        need = count * packs
        for place, km in enumerate(costs[number]):
            if km == 0:
                row[place] = min(left[place], need)
                left[place] -= row[place]
                need -= row[place]
        if need:
            return None
        carried.append(row)
    return [count for count, _ in wants], carried


def _whole_numbers(
    wants: list[tuple[int, int]], supply: list[int], costs: list[list[float]], allowed: list[list[bool]]
) -> tuple[list[int], list[list[int]]]:
    """How many vehicles of each want are freed, and how many packs go from each place to it: exact, in two steps."""
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp  # SciPy: not before it is asked for

    n, m = len(wants), len(supply)
    variables = n + n * m
    # unknowns: freed vehicles f_0..f_n-1, then packs x_00..x_0m-1, x_10.. carried to each want
    equal = np.zeros((n, variables))
    limit = np.zeros((m, variables))
    for i, (_, packs) in enumerate(wants):
        equal[i, i] = -packs
        equal[i, n + i * m : n + (i + 1) * m] = 1
        for j in range(m):
            limit[j, n + i * m + j] = 1
    upper = np.array(
        [count for count, _ in wants] + [supply[j] * allowed[i][j] for i in range(n) for j in range(m)], dtype=float
    )
    rules = [LinearConstraint(equal, 0, 0), LinearConstraint(limit, -np.inf, np.array(supply, dtype=float))]
    most = np.zeros(variables)
    most[:n] = -1
    exact = {"mip_rel_gap": 0.0}
    first = milp(most, constraints=rules, bounds=Bounds(0, upper), integrality=np.ones(variables), options=exact)
    best = round(-first.fun)
    cost = np.zeros(variables)
    cost[n:] = [one for row in costs for one in row]
    total = np.zeros((1, variables))
    total[0, :n] = 1
    second = milp(
        cost, constraints=[*rules, LinearConstraint(total, best, best)], bounds=Bounds(0, upper),
        integrality=np.ones(variables), options=exact,
    )  # fmt: skip
    whole = np.rint(second.x).astype(int)
    return [int(one) for one in whole[:n]], [[int(one) for one in whole[n + i * m : n + (i + 1) * m]] for i in range(n)]
