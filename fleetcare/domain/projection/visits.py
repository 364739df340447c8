"""Visits of a fleet as arrays: what was read, on which pack, by which meter; and what each pack model is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]

REFERENCE_C = 25.0
"""Resistance and rested volts are brought to this temperature."""
WIDEST_TABLE = 4
"""Grouped medians are taken from a table with a row a group while it is at most so many times the readings."""


@dataclass(frozen=True)
class Visits:
    """One row per visit, sorted by pack and then by time; NaN where nothing was noted.

    `day` counts days from the as-of date (negative is past); `rested_v` and `loaded_v` were read at the
    same visit with the same meter; `load_a` is the test load.  `pack`, `model` and `meter` are indices.
    """

    pack: Whole
    model: Whole
    meter: Whole
    day: Floats
    rested_v: Floats
    loaded_v: Floats
    load_a: Floats
    temperature_c: Floats
    rest_minutes: Floats

    def __len__(self) -> int:
        return len(self.pack)

    def where(self, chosen: Flags | Whole | slice) -> Visits:
        """The chosen rows, with packs keeping their indices."""
        return replace(self, **{f.name: getattr(self, f.name)[chosen] for f in fields(self)})

    @classmethod
    def from_rows(cls, rows: Sequence[tuple[float, ...]]) -> Visits:
        """Visits from rows in the order of the fields, sorted here; equal rows in any order give equal visits."""
        table = np.array(rows, dtype=float).reshape(len(rows), len(fields(cls)))
        return cls(*(table[:, i].astype(int) if i < 3 else table[:, i] for i in range(table.shape[1]))).in_order()

    def in_order(self) -> Visits:
        """Sorted by pack and day (then by every reading, so that the order of entry never matters)."""
        return self.where(np.lexsort((self.loaded_v, self.rested_v, self.meter, self.day, self.pack)))


@dataclass(frozen=True)
class Models:
    """One entry per pack model; `load_a` is the standard test load."""

    names: tuple[str, ...]
    chemistry: tuple[str, ...]
    series: Floats
    capacity_ah: Floats
    charger_v: Floats
    load_a: Floats

    def __len__(self) -> int:
        return len(self.names)

    @property
    def is_lfp(self) -> Flags:
        """Which models are of the flat lithium iron phosphate kind."""
        return np.array(["LFP" in name.upper() for name in self.chemistry], dtype=bool)


def group_median(key: Whole, value: Floats, groups: int) -> Floats:
    """Median of `value` for each key 0…groups-1; NaN for a key without values."""
    counts = np.bincount(key, minlength=groups)
    longest = int(counts.max()) if len(key) else 0
    start = np.concatenate(([0], np.cumsum(counts)[:-1]))
    out = np.full(groups, np.nan)
    has = counts > 0
    low, high = (counts[has] - 1) // 2, counts[has] // 2
    if longest * groups <= WIDEST_TABLE * len(key) and not np.any(key[1:] < key[:-1]):
        table = np.full((groups, longest), np.inf)  # one short row a group sorts far faster than one long column
        table[key, np.arange(len(key)) - start[key]] = value
        table.sort(axis=1)
        out[has] = 0.5 * (table[has, low] + table[has, high])
    else:
        ordered = value[np.lexsort((value, key))]
        out[has] = 0.5 * (ordered[start[has] + low] + ordered[start[has] + high])
    return out


def run_medians(value: Floats, start: Whole, size: Whole) -> Floats:
    """Median of each run of `value` that begins at `start` and has `size` values, one or more."""
    out = np.empty(len(start))
    for length in np.flatnonzero(np.bincount(size)):  # runs of like size together are put in order fastest
        own = np.flatnonzero(size == length)
        table = value[start[own, None] + np.arange(length)]
        table.sort(axis=1)
        out[own] = 0.5 * (table[:, (length - 1) // 2] + table[:, length // 2])
    return out


def scatter_of(residual: Floats, least: float = 0.0) -> float:
    """Robust standard deviation: 1.4826 times the median absolute residual (normal consistency)."""
    return max(1.4826 * float(np.median(np.abs(residual))), least) if len(residual) else least


def cauchy_weight(residual: Floats, scatter: float) -> Floats:
    """Weights of a robust fit: 1 for a small residual, falling with its square."""
    return 1.0 / (1.0 + (residual / (2.0 * scatter)) ** 2)
