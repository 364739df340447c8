"""What was reported about a pack, a vehicle and its last charge, before anybody measured.

The danger gate comes first: one item of it and nothing else is asked.  Whether a story is a trip is
a rule here: a charge refused in the cold is none, lost regeneration is a matter of the brakes.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from fleetcare.domain.checks import HoldClass, LookItem, TripCause
from fleetcare.domain.packs import Charger, PackModel
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg


class Story(StrEnum):
    """What happened, in the words of riders and workshops."""

    CUT_OUT_HILL = "cut_out_hill"
    CUT_OUT_BUMPS = "cut_out_bumps"
    CUT_OUT_DOWNHILL = "cut_out_downhill"
    CUT_OUT_STANDSTILL = "cut_out_standstill"
    CUT_OUT_AGAIN = "cut_out_again"
    CUT_OUT_OTHER = "cut_out_other"
    BRAKING_LOST = "braking_lost"
    CHARGE_STOPPED = "charge_stopped"
    CHARGE_REFUSED = "charge_refused"
    NO_DISPLAY = "no_display"
    NOTHING_AT_CONTACTS = "nothing_at_contacts"
    RANGE_DOWN = "range_down"
    CONTACTS_BURNT = "contacts_burnt"
    FUSE_BLOWN = "fuse_blown"
    WORKS_HERE = "works_here"


_TRIPS: dict[Story, TripCause] = {
    Story.CUT_OUT_HILL: TripCause.OVER_CURRENT,
    Story.CUT_OUT_BUMPS: TripCause.CONNECTOR,
    Story.CUT_OUT_DOWNHILL: TripCause.REGENERATION,
    Story.CUT_OUT_STANDSTILL: TripCause.SHORT_CIRCUIT,
    Story.CUT_OUT_AGAIN: TripCause.SHORT_CIRCUIT,
    Story.CUT_OUT_OTHER: TripCause.UNKNOWN,
    Story.BRAKING_LOST: TripCause.REGENERATION,
    Story.CHARGE_STOPPED: TripCause.OVER_VOLTAGE_CHARGE,
}


class ChargeLevel(StrEnum):
    """How full the pack was, as the rider or the display said."""

    FULL = "full"
    MIDDLE = "middle"
    LOW = "low"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Report:
    """One report of a fault, as told.  `dangers` are the items of the gate; with one, the rest stays empty.

    `pack_c` is the temperature of pack or air when it happened, or None.  `charger` is the code of the
    last charger, or "" when nobody knows it.  `trip` is the record of the trip that the report gave
    rise to, or None.  `place` is the quarantine place, with a danger.  `works_again` says whether the pack works without anybody having reset it.
    """

    pack: str
    vehicle: str | None
    done_at: dt.datetime
    story: Story
    dangers: tuple[LookItem, ...] = ()
    where: str = ""
    heavy_load: bool = False
    hill: bool = False
    rain: bool = False
    knock: bool = False
    pack_c: Decimal | None = None
    charge_level: ChargeLevel = ChargeLevel.UNKNOWN
    charger: str = ""
    charged_where: str = ""
    works_again: bool = False
    trip: str | None = None
    remark: str = ""
    place: str = ""


def trip_cause(report: Report) -> TripCause | None:
    """The likely cause of the trip that a report tells of, or None where it is no trip.

    A cut-out at standstill or at once again counts as a short circuit, and so does one with water in
    play that nothing else explains.  A charge that was refused is never a trip.
    """
    cause = _TRIPS.get(report.story)
    if cause is TripCause.UNKNOWN and report.rain:
        return TripCause.SHORT_CIRCUIT
    return cause


def refused_in_the_cold(report: Report, model: PackModel) -> bool:
    """True when a charge was refused below the model's charge window; at its edge charging is allowed."""
    cold = report.pack_c is not None and report.pack_c < model.charge_min_c
    return report.story is Story.CHARGE_REFUSED and cold


def misfit(charger: Charger, model: PackModel) -> Message | None:
    """Why `charger` does not belong to `model`, or None.

    Charge-end voltage, chemistry and connector must all be equal; where the charger names its models,
    this one must be among them.  Voltage class alone never suffices.  Where both currents are known, the
    charger's rated one must not lie above the most that the pack's maker allows.
    """
    names = {"charger": charger.code, "model": model.name}
    if charger.rated_v != model.full_v:
        return msg("charger.wrong_voltage", charger_v=charger.rated_v, pack_v=model.full_v, **names)
    if charger.chemistry is not model.chemistry:
        return msg("charger.wrong_chemistry", has=charger.chemistry.value, needs=model.chemistry.value, **names)
    if charger.connector != model.connector:
        return msg("charger.wrong_connector", has=charger.connector, needs=model.connector, **names)
    if charger.models and model.code not in charger.models:
        return msg("charger.not_paired", **names)
    if charger.rated_a is not None and model.charge_max_a is not None and charger.rated_a > model.charge_max_a:
        return msg("charger.too_many_amps", charger_a=charger.rated_a, most_a=model.charge_max_a, **names)
    return None


def overcharges(charger: Charger, model: PackModel) -> bool:
    """True when the charger ends above the pack's charge-end voltage, or is for another chemistry."""
    return charger.rated_v > model.full_v or charger.chemistry is not model.chemistry


def rulings(report: Report, model: PackModel, charger: Charger | None) -> dict[str, Ruling]:
    """What a report without a danger asks for, by "pack" and "vehicle".

    The strictest ruling stands: a pack that may have been over-charged is quarantined whatever it
    reads, since resting hides over-charge; an unknown charger, a knock or an unexplained cut-out holds
    it for inspection; a loose contact or lost braking keeps the vehicle in until somebody has looked.
    """
    found: dict[str, Ruling] = {}
    wrong = None if charger is None else misfit(charger, model)
    cause = trip_cause(report)
    if wrong is not None and charger is not None:
        danger = overcharges(charger, model)
        found["pack"] = Ruling(HoldClass.DANGER if danger else HoldClass.UNKNOWN, msg("report.charged_on", why=wrong))
    elif cause is TripCause.SHORT_CIRCUIT:
        found["pack"] = Ruling(HoldClass.FAULT, msg("report.as_short_circuit", story=_story(report)))
    elif report.story is Story.FUSE_BLOWN:
        found["pack"] = Ruling(HoldClass.FAULT, msg("report.fuse_blown"))
    elif report.knock:
        found["pack"] = Ruling(HoldClass.UNKNOWN, msg("report.knocked"))
    elif not report.charger and cause is not None:
        found["pack"] = Ruling(HoldClass.UNKNOWN, msg("report.tripped_unknown_charger", story=_story(report)))
    elif not report.charger:
        found["pack"] = Ruling(HoldClass.UNKNOWN, msg("report.unknown_charger"))
    elif cause is not None and not report.works_again:
        found["pack"] = Ruling(HoldClass.ACTION_DUE, msg("report.tripped", story=_story(report)))
    elif report.story in (Story.NO_DISPLAY, Story.NOTHING_AT_CONTACTS):
        found["pack"] = Ruling(HoldClass.ACTION_DUE, msg("report.find_fault", story=_story(report)))
    if report.vehicle is not None:
        if report.story is Story.BRAKING_LOST:
            found["vehicle"] = Ruling(HoldClass.ACTION_DUE, msg("report.brakes"))
        elif report.story in (Story.CUT_OUT_BUMPS, Story.CONTACTS_BURNT):
            found["vehicle"] = Ruling(HoldClass.FAULT, msg("report.contacts", story=_story(report)))
    return found


def _story(report: Report) -> Message:
    return msg(f"story.{report.story.value}")


def next_steps(report: Report, model: PackModel) -> tuple[Message, ...]:
    """What the person who took the report is told to do next."""
    if refused_in_the_cold(report, model):
        return (msg("report.cold_charge", at_c=report.pack_c, from_c=model.charge_min_c, to_c=model.charge_max_c),)
    steps = []
    if report.story is Story.CHARGE_REFUSED:
        steps.append(msg("report.warm_refusal"))
    if report.story in (Story.CUT_OUT_DOWNHILL, Story.BRAKING_LOST):
        steps.append(msg("report.brief_riders"))
    if trip_cause(report) is TripCause.SHORT_CIRCUIT:
        steps.append(msg("report.find_short"))
    if trip_cause(report) is not None:
        steps.append(msg("report.contacts_first"))
    return tuple(steps)
