"""A pack that comes back from hire: pictures before cleaning, the gate, the damage and its age, warmth, last charge."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.checks import HoldClass, LookItem
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import msg

COOLING_MINUTES = 60
"""How long a warm return is left alone before it is looked at again (proposal; "still warm after an hour off")."""


class Damage(StrEnum):
    """Whether the pack shows damage, and whether anybody knows since when."""

    NONE = "none"
    KNOWN = "known"
    UNKNOWN = "unknown"


class Warmth(StrEnum):
    """How warm the pack is to the hand."""

    COOL = "cool"
    SUN_OR_RIDE = "sun_or_ride"
    NO_REASON = "no_reason"
    TOO_HOT = "too_hot"


@dataclass(frozen=True, slots=True)
class HireReturn:
    """What was seen when a pack came back.  `dangers` are the items of the gate.

    `photos` are SHA-256 digests of pictures taken before cleaning, kept in the file; without one,
    `no_photo_reason` says why.  `damage_since` is what is known of when it happened.  `charger` is the code of the
    last charger, "" when nobody knows it.
    """

    pack: str
    vehicle: str | None
    done_at: dt.datetime
    dangers: tuple[LookItem, ...]
    damage: Damage
    warmth: Warmth
    photos: tuple[str, ...] = ()
    no_photo_reason: str = ""
    cleaned_first: bool = False
    damage_what: str = ""
    damage_since: str = ""
    charger: str = ""
    charged_where: str = ""
    place: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class LookedAgain:
    """A pack that came back warm was looked at again after it had been left alone."""

    pack: str
    done_at: dt.datetime
    still_warm: bool
    remark: str = ""


def refuse_incomplete(back: HireReturn) -> None:
    """Raises EntryRefused for what is missing: pictures or the reason, what the damage is, since when it is known."""
    if not back.photos and not back.no_photo_reason.strip():
        raise EntryRefused("returns.needs_photo", field="photo")
    if back.damage is not Damage.NONE and not back.damage_what.strip():
        raise EntryRefused("returns.needs_damage", field="damage_what")
    if back.damage is Damage.KNOWN and not back.damage_since.strip():
        raise EntryRefused("returns.needs_since", field="damage_since")


def rulings(back: HireReturn) -> tuple[Ruling, ...]:
    """What a return holds the pack for.  A danger stands alone; otherwise every reason stands.

    An item of the gate, heat without reason, too hot to hold, and damage of unknown age are dangers: an unknown
    time since damage counts as damaged.  Damage of known age waits for inspection, an unknown charger too; a pack
    warm from sun or a ride is let cool and looked at again.
    """
    if back.dangers:
        items = tuple(msg(f"look.{item.value}") for item in back.dangers)
        return (Ruling(HoldClass.DANGER, msg("returns.gate", found=items)),)
    if back.warmth in (Warmth.NO_REASON, Warmth.TOO_HOT):
        return (Ruling(HoldClass.DANGER, msg(f"returns.hot_{back.warmth.value}")),)
    if back.damage is Damage.UNKNOWN:
        return (Ruling(HoldClass.DANGER, msg("returns.unknown_age", what=back.damage_what)),)
    found = []
    if back.damage is Damage.KNOWN:
        found.append(Ruling(HoldClass.FAULT, msg("returns.damaged", what=back.damage_what, since=back.damage_since)))
    if not back.charger:
        found.append(Ruling(HoldClass.UNKNOWN, msg("report.unknown_charger")))
    if back.warmth is Warmth.SUN_OR_RIDE:
        again = back.done_at + dt.timedelta(minutes=COOLING_MINUTES)
        found.append(Ruling(HoldClass.ACTION_DUE, msg("returns.cooling", again_at=again)))
    return tuple(found)


def refuse_early(since: dt.datetime, now: dt.datetime) -> None:
    """Raises EntryRefused before the pack was left alone for COOLING_MINUTES; the last minute itself suffices."""
    minutes = int((now - since).total_seconds() // 60)
    if minutes < COOLING_MINUTES:
        raise EntryRefused("returns.too_early", field="pack", off_minutes=minutes, needed_minutes=COOLING_MINUTES)


def again_ruling(look: LookedAgain) -> Ruling | None:
    """Still warm after an hour off is hot; a cool pack asks for nothing more."""
    return Ruling(HoldClass.DANGER, msg("returns.still_warm")) if look.still_warm else None
