"""How long packs of each model last, in sentences: the age at which half are pulled, or that too few were."""

from __future__ import annotations

from collections.abc import Sequence

from fleetcare.domain.projection.lasting import MONTH_DAYS, Lived
from fleetcare.domain.projection.planning import LEAST_AT_RISK, LEAST_PULLED
from fleetcare.domain.wearing_out import LEAST_BEYOND, HalfLife, half_life
from fleetcare.domain.wording import Message, msg


def half_lives_told(lives: Sequence[Lived]) -> tuple[Message, ...]:
    """One sentence for each model that enough packs of were pulled (also where half of them lies too far ahead), then one for those of which too few were."""
    found = [half_life(one.model, one.ages, one.pulled) for one in lives]
    told = [_told(one) for one in found if one is not None]
    few = tuple(one.model for one, half in zip(lives, found, strict=True) if half is None)
    if few:
        told.append(msg("lasting.half_few", models=few, need_packs=LEAST_AT_RISK, pulls=LEAST_PULLED))
    return tuple(told)


def _told(one: HalfLife) -> Message:
    if one.too_far:
        return msg(
            "lasting.half_unseen", model=one.model, oldest_months=one.oldest / MONTH_DAYS, pulled=one.pulled,
            packs=one.packs, need_pulls=LEAST_BEYOND,
        )  # fmt: skip
    values = {
        "model": one.model, "likely_months": one.likely / MONTH_DAYS, "early_months": one.early / MONTH_DAYS,
        "pulled": one.pulled, "packs": one.packs,
        "beyond": msg("lasting.beyond_seen", oldest_months=one.oldest / MONTH_DAYS) if one.beyond_seen else "",
    }  # fmt: skip
    if one.late is None:
        return msg("lasting.half_open", **values)
    return msg("lasting.half", late_months=one.late / MONTH_DAYS, **values)
