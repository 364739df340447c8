"""Readings in doubt judged once more: what a pack could really be, and the hold where that is a pull."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from fleetcare.domain import competence, proving
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.metering import Decision
from fleetcare.domain.packs import Meter, SiteRules
from fleetcare.domain.proving import MeterFoundOut, MeterProof, Rejudged
from fleetcare.domain.recalls import by_recall
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import msg
from fleetcare.services.writing import Writer
from fleetcare.store.store import Transaction, View
from fleetcare.store.values import StoredCheck, StoredHold

NEWEST_READ = 16
"""Newest checks of a pack that are looked at; older readings in doubt stay marked as such."""


def rejudge(view: View, stored: StoredCheck, found: MeterFoundOut) -> Rejudged | None:
    """`stored` judged once more without the error of its meter; None where the error is not known."""
    check = stored.check
    model = view.thing("pack_model", view.thing("pack", check.pack).model)
    site = view.thing("site_rules", "SITE") or SiteRules()
    load = view.thing("test_load", check.test_load) if check.test_load else None
    return proving.rejudge(check, found, model, site, view.thing("meter", check.meter), load)


def beyond(rejudged: Rejudged | None) -> bool:
    """True where the reading without the error lies beyond a pull or stop limit."""
    return rejudged is not None and rejudged.verdict.level in (VerdictLevel.PULL, VerdictLevel.DANGER)


def hold(
    tx: Transaction, writer: Writer, stored: StoredCheck, found: MeterFoundOut, rejudged: Rejudged, now: dt.datetime
) -> bool:
    """Hold the pack of a reading that would be pulled without the error; False when it is held already.

    The hold is a fault, never a danger: a reading with a good meter and a release end it.
    """
    pack = stored.check.pack
    standing = {held.hold_class for held in tx.open_holds(("pack", pack)) if not by_recall(held.reason)}
    if standing & {HoldClass.FAULT, HoldClass.DANGER}:
        return False
    reason = msg(
        "found.hold", rested_v=stored.check.rested_v, meter=found.meter, change_v=found.error_v,
        good_v=tidy_v(rejudged.check.rested_v), verdict=msg(f"verdict.{rejudged.verdict.level.value}"),
    )  # fmt: skip
    writer.add("hold", Hold("pack", pack, HoldClass.FAULT, now, reason, cause=stored.record_id), now)
    return True


def hold_late_entry(tx: Transaction, writer: Writer, check_id: str, now: dt.datetime) -> None:
    """A reading entered after its meter was found out is in doubt at once: hold its pack where it would be pulled."""
    stored = tx.check(check_id) if tx.found_out() else None
    if stored is None or stored.doubt is None:
        return
    rejudged = rejudge(tx, stored, stored.doubt)
    if rejudged is not None and beyond(rejudged):
        hold(tx, writer, stored, stored.doubt, rejudged, now)


def proofs(view: View, meter: str) -> list[MeterProof]:
    """Proofs of a meter, newest first by when they were done."""
    bodies = [event.body for event in view.events_of("meter", meter)]
    proofs = [body for body in bodies if isinstance(body, MeterProof)]
    return sorted(proofs, key=lambda proof: proof.done_at, reverse=True)


def last_good(view: View, meter: Meter, before: dt.datetime) -> dt.datetime | None:
    """When the newest proof done before `before` showed the meter good; None when none ever did."""
    for proof in proofs(view, meter.code):
        if proof.done_at < before and proving.decide(proof, meter) is Decision.PASS:
            return proof.done_at
    return None


def refuse_contractor_meter(view: View, meter: Meter, at: dt.datetime) -> None:
    """Raises EntryRefused for a contractor's meter that is neither calibrated in date nor proved good lately."""
    if not meter.owner or competence.meter_counts(meter, at.date(), last_good(view, meter, at)):
        return
    raise EntryRefused(
        "entry.contractor_meter", field="meter", code=meter.code, firm=meter.owner, proved_days=competence.PROVED_DAYS
    )


def refuse_change_of_meter(view: View, held: StoredHold) -> None:
    """Raises NotAllowed where a pack was held on one meter's reading and has passed with another only.

    A change of meter is no recovery.  It counts when the first meter was found out, or when a proof
    shows that the second one is good.
    """
    cause = _cause(view, held)
    if cause is None or cause.doubt is not None:
        return
    first = cause.check.meter
    passed = [
        one
        for one in view.checks_of(held.subject, NEWEST_READ)
        if one.void_position is None
        and one.verdict.valid
        and one.check.done_at > held.since
        and one.verdict.level in (VerdictLevel.PASS, VerdictLevel.WATCH)
    ]
    for one in passed:
        meter = view.thing("meter", one.check.meter)
        if meter.code == first or last_good(view, meter, one.check.done_at) is not None:
            return
    if passed:
        raise NotAllowed(
            "release.other_meter", field="reason", subject=held.subject, meter=first, other=passed[0].check.meter,
            rested_v=cause.check.rested_v, other_v=passed[0].check.rested_v,
        )  # fmt: skip


def _cause(view: View, held: StoredHold) -> StoredCheck | None:
    """The check that led to the hold, if one did."""
    record = view.record_at(held.position)
    body = None if record is None else record.body
    return view.check(body.cause) if isinstance(body, Hold) and body.cause is not None else None


def tidy_v(volts: Decimal) -> Decimal:
    """Computed volts for print, to a millivolt."""
    return volts.quantize(Decimal("0.001")).normalize()
