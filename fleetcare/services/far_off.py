"""Readings that do not fit their pack: found, and set aside, so that a projection is truly made without them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from fleetcare.domain.projection.fleet import FleetFit, Standing, stand
from fleetcare.domain.projection.tracking import State
from fleetcare.domain.projection.visits import Flags, Floats, Visits, Whole

FAR_OFF = 4.0
"""A reading this many standard deviations off what was expected is listed for a second measurement."""
LEAST_OFF_V_PER_GROUP = 0.01
LEAST_OFF_OHM = 0.08
"""A reading nearer than this to its neighbours is never in question: rested volts repeat within 40 to 80 mV by one
meter, a resistance of one visit within some 4 % (proposal from simulated fleets).  A young fleet knows its scatter badly."""
NEIGHBOURS = 3


@dataclass(frozen=True)
class FarOff:
    """Which visits are set aside, for rested volts and for resistance."""

    full: Flags
    ohm: Flags


def far_off(standing: Standing, groups: Sequence[int], ends: Whole) -> FarOff:
    """The readings far from what was expected, and further from their neighbours than the instrument explains.

    Pack i has `groups[i]` cell groups in series; its rows are ends[i] to ends[i + 1].
    """
    prepared = standing.prepared
    full = np.abs(np.nan_to_num(standing.full_distance)) > FAR_OFF
    ohm = np.abs(np.nan_to_num(standing.ohm_distance)) > FAR_OFF
    for i, count in enumerate(groups):
        rows = slice(int(ends[i]), int(ends[i + 1]))
        if full[rows].any():
            room = np.full(rows.stop - rows.start, LEAST_OFF_V_PER_GROUP * count)
            full[rows] &= ~_near(prepared.full_v[rows], prepared.use_v[rows], room)
        if ohm[rows].any():
            value = np.exp(prepared.log_ohm[rows])
            ohm[rows] &= ~_near(value, prepared.use_ohm[rows], LEAST_OFF_OHM * value)
    return FarOff(full & prepared.use_v, ohm & prepared.use_ohm)


def _near(value: Floats, used: Flags, room: Floats) -> Flags:
    """Which values lie within `room` of the middle of those around them."""
    near = np.zeros(len(value), dtype=bool)
    for at in range(len(value)):
        window = slice(max(at - NEIGHBOURS, 0), at + NEIGHBOURS + 1)
        around = value[window][used[window]]
        near[at] = len(around) > 0 and abs(value[at] - np.median(around)) <= room[at]
    return near


def set_aside(fit: FleetFit, visits: Visits, standing: Standing, far: FarOff) -> Standing:
    """`standing` with the packs that have such readings followed again without them.

    What was prepared, and the distances, stay those of all readings: they say why one is set aside.
    """
    packs = np.unique(visits.pack[far.full | far.ohm])
    if not len(packs):
        return standing
    own = np.isin(visits.pack, packs)
    part = visits.where(own)
    part = replace(
        part,
        pack=np.searchsorted(packs, part.pack),
        loaded_v=np.where(far.ohm[own], np.nan, part.loaded_v),
        rest_minutes=np.where(far.full[own], 0.0, part.rest_minutes),  # too short a rest: its volts take no part
    )
    again = stand(fit, part, len(packs))
    full_count, ohm_count = standing.full_count.copy(), standing.ohm_count.copy()
    full_count[packs], ohm_count[packs] = again.full_count, again.ohm_count
    return replace(
        standing,
        full_v=_instead(standing.full_v, packs, again.full_v),
        log_ohm=_instead(standing.log_ohm, packs, again.log_ohm),
        full_count=full_count,
        ohm_count=ohm_count,
    )


def _instead(state: State, packs: Whole, again: State) -> State:
    """`state` with the entries of `packs` taken from `again`; the packs are the last axis of every array."""
    found = {}
    for field in fields(State):
        whole = getattr(state, field.name).copy()
        whole[..., packs] = getattr(again, field.name)
        found[field.name] = whole
    return replace(state, **found)
