"""Readings in a file of checks that do not fit their pack: listed with why, so that none is left out silently."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

import numpy as np

from fleetcare.domain.projection.fleet import FleetFit, stand
from fleetcare.domain.projection.preparation import Doubt
from fleetcare.domain.projection.visits import Models, Visits
from fleetcare.domain.wording import Message, msg, say
from fleetcare.services.far_off import far_off
from fleetcare.services.meter_suspects import USUAL, MeterSuspect, meters_apart

if TYPE_CHECKING:
    import pandas as pd

SUSPECT_COLUMNS = ("pack_id", "timestamp", "meter_id", "rested_v", "loaded_v", "used", "why")
BATCH_PACKS = 1_000


@dataclass(frozen=True, slots=True)
class FileSuspect:
    """One visit in question; `used` is "no", "exchanged" (the other way round) or "little" (it hardly moves the level)."""

    pack: str
    at: dt.datetime
    meter: str
    rested_v: float | None
    loaded_v: float | None
    used: str
    why: Message

    @property
    def cells(self) -> tuple[str, ...]:
        """Its row under SUSPECT_COLUMNS."""
        volts = ("" if one is None else f"{one:.2f}" for one in (self.rested_v, self.loaded_v))
        return (self.pack, self.at.isoformat(timespec="seconds"), self.meter, *volts, self.used, say(self.why))


def suspects_in(
    fit: FleetFit, models: Models, visits: Visits, packs: Sequence[str], meters: Sequence[str], day: dt.date
) -> Iterator[FileSuspect]:
    """Visits that do not fit, pack by pack in time; `day` is the as-of day, `packs` and `meters` the names by index."""
    for start in range(0, len(packs), BATCH_PACKS):
        count = min(BATCH_PACKS, len(packs) - start)
        first, last = np.searchsorted(visits.pack, [start, start + count])
        own = visits.where(slice(int(first), int(last)))
        own = replace(own, pack=own.pack - start)
        standing = stand(fit, own, count)
        ends = np.searchsorted(own.pack, np.arange(count + 1))
        far = far_off(standing, [int(models.series[m]) for m in standing.model], ends)
        doubt = standing.prepared.doubt
        unread = np.isfinite(own.loaded_v) & ~standing.prepared.use_ohm & (doubt == Doubt.NONE)
        listed = np.isin(doubt, (Doubt.SWAPPED, Doubt.NOT_THIS_PACK)) | far.full | far.ohm | unread
        for row in np.flatnonzero(listed).tolist():
            used, why = "no", msg(f"projection.doubt_{Doubt(int(doubt[row])).name.lower()}")
            if doubt[row] == Doubt.SWAPPED:
                used = "exchanged"
            elif doubt[row] != Doubt.NOT_THIS_PACK and not unread[row]:
                distances = [
                    d[row] for d, f in ((standing.full_distance, far.full), (standing.ohm_distance, far.ohm)) if f[row]
                ]
                used, why = "little", msg("projection.far_off", off=f"{max(abs(one) for one in distances):.0f}")
            yield FileSuspect(
                packs[start + int(own.pack[row])], _moment(day, float(own.day[row])), meters[int(own.meter[row])],
                float(own.rested_v[row]), float(own.loaded_v[row]) if np.isfinite(own.loaded_v[row]) else None, used, why,
            )  # fmt: skip


def meters_in(fit: FleetFit, models: Models, visits: Visits, meters: Sequence[str]) -> tuple[MeterSuspect, ...]:
    """Meters that read apart from the others on the same packs, by the rule of a fleet's own list, with USUAL for what their
    makers allow, which no such file says; `meters` are the names by index."""
    offsets = fit.corrections.meter_offset_v
    if not offsets.size:
        return ()
    read = [int(one) for one in np.unique(visits.meter)]
    fullest = float(np.max(models.charger_v[np.unique(visits.model)]))
    return meters_apart(
        [(meters[n], float(offsets[n, -1])) for n in read], {meters[n]: replace(USUAL, code=meters[n]) for n in read},
        Decimal(str(fullest)), assumed=True,
    )  # fmt: skip


def meter_cells(one: MeterSuspect) -> tuple[str, ...]:
    """A meter's row under SUSPECT_COLUMNS: no pack and no time, `used` "corrected", since its offset is taken out."""
    return ("", "", one.meter, "", "", "corrected", f"{say(one.why)}. {say(one.what_to_do)}")


def loaded_alone(known: pd.DataFrame, minutes: int) -> Iterator[FileSuspect]:
    """Loaded readings in the table of checks that no rested one of the same pack and meter stands within `minutes` of."""
    import pandas as pd

    known = known.sort_values(["when", "pack_id", "meter_id", "volts", "check_id"])
    rested, loaded = known[known["check_kind"] == "rested_full"], known[known["check_kind"] == "loaded"]
    found = pd.merge_asof(
        loaded, rested[["pack_id", "meter_id", "when"]].rename(columns={"when": "rested_when"}), left_on="when",
        right_on="rested_when", by=["pack_id", "meter_id"], direction="nearest", tolerance=pd.Timedelta(minutes=minutes),
    )  # fmt: skip
    for row in found[found["rested_when"].isna()].itertuples():
        why = msg("projection.loaded_alone", near_minutes=minutes)
        yield FileSuspect(row.pack_id, row.when.to_pydatetime(), row.meter_id, None, float(row.volts), "no", why)


def _moment(day: dt.date, since: float) -> dt.datetime:
    return dt.datetime.combine(day, dt.time()) + dt.timedelta(seconds=round(since * 86_400))
