"""How far meters are apart that no pack was read with both of: packs of one model are charged alike wherever they are.

What one meter reads beside another on the same packs is seen from those packs.  Where each depot has meters of its own,
no pack compares them, and all packs of a depot would stand too high or too low together.  But a charger leaves a pack at
its set point, less what C/20 drops over the pack's resistance, give or take what chargers differ by: the packs of a model
say, by how far they stand from that, what their meters are off by.
"""

from __future__ import annotations

import numpy as np

from fleetcare.domain.projection.visits import Flags, Floats, Models, Whole, cauchy_weight, group_median, scatter_of

METER_SPREAD_V = 0.1
"""Standard deviation of what a hand meter is off by (proposal; ± 0.5 % of 54 V is 0.27 V at most)."""
PACK_SPREAD_V = 0.02
"""Packs of a model are charged alike to no less than this."""
MODEL_SPREAD_V = 0.1
FLAT_SPREAD_V = 5.0
"""What the packs of a model stand off by together; of a flat chemistry the full voltage says nothing about the charger."""
MOST_V = 0.3
"""A depot that would be further off than three deviations of a hand meter has other chargers or another habit of charging: that is
left in its packs, where it is true."""
POLARISATION = 2.0
"""A charger stops at C/20; the rested pack then lies below its set point by 1.4 to 2.9 times C/20 times the 10 s
resistance (published full-cell models, doi 10.1149/1945-7111/ab9050 and 10.1016/j.electacta.2022.140700)."""
ROUNDS = 6


def meters_apart(
    pack: Whole, meter: Whole, model: Whole, full: Floats, ohm: Floats, use: Flags, models: Models, scatter: float
) -> tuple[Floats, float]:
    """What each meter (0…) is off by beyond what is already taken off `full`, in volts (0 for one that was not used), and
    the standard deviation that this leaves in doubt in where a pack stands among the others (of the middle pack).

    `full` are rested volts of each reading, corrected for temperature, rest and meters as far as packs compare them; `ohm`
    the resistance of each reading at 25 °C (NaN: none); `scatter` the standard deviation of one reading.  Weighted least
    squares with every meter drawn towards the others: within a pack readings are to agree, and between packs of a
    model their distance from the charger is to be alike.
    """
    packs, meters, kinds = int(pack.max()) + 1, int(meter.max()) + 1, len(models)
    count = np.bincount((pack * meters + meter)[use], minlength=packs * meters).reshape(packs, meters).astype(float)
    total = count.sum(1)
    own = np.zeros(packs, dtype=int)
    own[pack] = model
    paired = np.isfinite(ohm)
    below = POLARISATION * models.capacity_ah[own] / 20.0 * group_median(pack[paired], ohm[paired], packs)
    off = group_median(pack[use], full[use], packs) - (models.charger_v[own] - below)
    seen = np.isfinite(off) & (total > 0)
    share = np.where(total[:, None] > 0, count / np.maximum(total, 1.0)[:, None], 0.0)
    within = (np.diag(count.sum(0)) - (share * total[:, None]).T @ share) / scatter**2
    kind = np.eye(kinds)[own] * (total > 0)[:, None]
    columns = np.hstack([share, kind])
    spread = np.where(models.is_lfp, FLAT_SPREAD_V, MODEL_SPREAD_V)
    prior = np.diag(np.concatenate([np.full(meters, METER_SPREAD_V**-2.0), spread**-2.0]))
    prior[:meters, :meters] += within
    found, weight = _solved(columns, off, seen, prior)
    for _ in range(meters):  # a depot left out may uncover another
        far = seen & (np.abs(share @ (found[:meters] - np.median(found[:meters]))) > MOST_V)
        if not far.any():
            break
        seen &= ~far
        found, weight = _solved(columns, off, seen, prior)
    used = count.sum(0) > 0
    moved = np.where(used, found[:meters] - np.median(found[:meters][used]), 0.0)
    beside = share[total > 0] - share[total > 0].mean(0)
    left_open = np.linalg.inv(prior + (columns * weight[:, None]).T @ columns)[:meters, :meters]
    return moved, float(np.median(np.sqrt(np.einsum("pi,ij,pj->p", beside, left_open, beside))))


def _solved(columns: Floats, off: Floats, seen: Flags, prior: Floats) -> tuple[Floats, Floats]:
    """Least squares of `off` on `columns` for the packs that are `seen`, those that stand apart weighed less, and the weights."""
    left, weight = np.where(seen, off, 0.0), np.where(seen, 1.0, 0.0) / METER_SPREAD_V**2
    found = np.zeros(columns.shape[1])
    for _ in range(ROUNDS):
        weighted = columns * weight[:, None]
        found = np.linalg.solve(prior + weighted.T @ columns, weighted.T @ left)
        rest = left - columns @ found
        sd = scatter_of(rest[seen], PACK_SPREAD_V)
        weight = np.where(seen, cauchy_weight(rest, sd), 0.0) / sd**2
    return found, weight
