"""Loaded volts that keep still, followed as a series of their own.

Loaded volts are rested volts less load times resistance, and both of these rest on the same rested reading: what that is off
by goes into the one and into the other and is not in the loaded volts.  Where a few packs have been read often enough to say
that their loaded volts keep still, they are therefore followed by their own readings (decision 263).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fleetcare.domain.projection.habits import (
    FLEET_PACKS,
    UNLIKELY,
    SeriesFit,
    column_of,
    learn_series,
    well_read,
)
from fleetcare.domain.projection.preparation import Prepared
from fleetcare.domain.projection.visits import Models
from fleetcare.domain.projection.ways import expected_curves

NAME = "loaded_v"


def as_loaded(prepared: Prepared, models: Models) -> Prepared:
    """`prepared` with the loaded volts of each visit, at the model's standard load and 25 °C, in the place of its rested
    ones, and what the temperature leaves in doubt in volts.  Of a model whose standard load is not known no reading is used:
    its loaded volts at any one load cannot be said."""
    drop = models.load_a[prepared.visits.model] * np.exp(prepared.log_ohm)
    use = prepared.use_v & prepared.use_ohm & np.isfinite(drop)
    return replace(prepared, full_v=prepared.full_v - drop, use_v=use, extra=drop * prepared.extra)


def learn_loaded(prepared: Prepared, models: Models) -> SeriesFit | None:
    """How loaded volts move where they keep still, and by model the belief that they do (`stillness`; 0: not asked, or
    it is not so).  None where no model is asked: many packs, or few readings."""
    own = as_loaded(prepared, models)
    visits, n = own.visits, len(models)
    _, use, _ = column_of(NAME, own)
    if not use.any() or not (often := well_read(NAME, visits, use, n)).any():
        return None
    seen = np.unique(visits.pack[use])
    if len(seen) >= FLEET_PACKS:
        return None
    found = learn_series(NAME, own, models)
    several = np.array([curve.sharing > 1 for curve in found.curves])
    belief = np.where(often & several, found.stillness, 0.0)
    if not (belief > UNLIKELY).any():
        return None
    return replace(found, curves=expected_curves(found.ways), stillness=belief)
