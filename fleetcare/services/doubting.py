"""Readings in doubt judged once more: what a pack could really be, and the hold where that is a pull."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from fleetcare.domain import proving
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.proving import MeterFoundOut, Rejudged
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import msg
from fleetcare.services.writing import Writer
from fleetcare.store.store import Transaction, View
from fleetcare.store.values import StoredCheck


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
    standing = {held.hold_class for held in tx.open_holds(("pack", pack))}
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


def tidy_v(volts: Decimal) -> Decimal:
    """Computed volts for print, to a millivolt."""
    return volts.quantize(Decimal("0.001")).normalize()
