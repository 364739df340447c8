"""What a release of a vehicle, charger or meter asks for, and the inspection that answers it."""

from __future__ import annotations

from fleetcare.domain.chargers import OutputState, OutputTest
from fleetcare.domain.checks import Hold, HoldClass
from fleetcare.domain.errors import NotAllowed
from fleetcare.domain.inspections import Inspected, SeenSince, missing
from fleetcare.domain.metering import Decision
from fleetcare.domain.packs import Level, SiteRules
from fleetcare.domain.proving import decide
from fleetcare.domain.trips import SECOND_TRIP, Reset, within
from fleetcare.domain.verdicts import Ruling
from fleetcare.domain.wording import Message, msg
from fleetcare.services.doubting import proofs
from fleetcare.services.people import may
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.standing import hold_by_rule, known
from fleetcare.services.trip_facts import trips_seen
from fleetcare.services.writing import Writer
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredHold


def seen_since(view: View, held: StoredHold) -> SeenSince:
    """What was recorded about the held thing after its hold."""
    subject = held.subject_class, held.subject
    looks = [
        e.body for e in view.records_of("inspection", subject) if e.position > held.position and e.done_at >= held.since
    ]
    newest = looks[-1] if looks else None
    assert newest is None or isinstance(newest, Inspected)
    if held.subject_class == "charger":
        tests = [
            e.body
            for e in view.records_of("output_test", subject)
            if e.position > held.position and e.done_at >= held.since
        ]
        judged = [t for t in tests if isinstance(t, OutputTest) and t.state is not OutputState.NOT_JUDGED]
        charger = view.thing("charger", held.subject)
        return SeenSince(
            newest,
            judged[-1].state is OutputState.GOOD if judged else None,
            charger.output_waits_for_pack,
            by_output=held.reason.key.startswith("output."),
        )
    if held.subject_class == "meter":
        meter = view.thing("meter", held.subject)
        proof = next(iter(proofs(view, held.subject)), None)
        good = proof is not None and proof.done_at > held.since and decide(proof, meter) is Decision.PASS
        return SeenSince(newest, proved_good=good)
    return SeenSince(newest, brakes=held.reason.key == "report.brakes")


def still_needed(view: View, held: StoredHold) -> Message | None:
    """What a release of a vehicle, charger or meter still needs, as a sentence, or None."""
    key = missing(held.subject_class, held.hold_class, seen_since(view, held))
    return None if key is None else msg(key, subject=held.subject, since_date=held.since.date())


def refuse_unseen(view: View, held: StoredHold) -> None:
    """Raises NotAllowed where the hold's class asks for something that was not seen since."""
    needed = still_needed(view, held)
    if needed is not None:
        raise NotAllowed(needed.key, field="reason", **dict(needed.values))


def refuse_unloaded(view: View, code: str) -> None:
    """Raises NotAllowed where a pack was reset after a second trip and nobody has read it under load since."""
    reset = next((e.body for e in reversed(list(view.records_of("reset", ("pack", code))))), None)
    if not isinstance(reset, Reset):
        return
    mine = [t for t in trips_seen(view) if t.pack == code]
    followed = next(t for t in mine if t.record_id == reset.trip)
    days = (view.thing("site_rules", "SITE") or SiteRules()).trip_window_days
    count = len(within([t for t in mine if t.done_at <= followed.done_at], followed.day, days))
    loaded = any(
        one.check.loaded_v is not None and one.check.done_at >= reset.done_at and one.void_position is None
        for one in view.checks_of(code)
    )
    if count >= SECOND_TRIP and not loaded:
        raise NotAllowed("release.no_loaded", field="reason", subject=code, reset_date=view.day(reset.done_at),
                         count=count, window_days=days)  # fmt: skip


def record_inspection(store: Store, clock: Clock, author: Author, inspected: Inspected) -> Recorded:
    """Note an inspection of a vehicle, charger or meter.  It ends no hold; one that found something sets one.

    Finding something bad is open to anyone; one that finds it good needs the level that may check.
    """
    now = clock()
    with store.transaction() as tx:
        if inspected.good:
            may(tx, author, now, Level.MAY_CHECK)
        known(tx, inspected.subject_class, inspected.subject)
        from fleetcare.services.record import refuse_future

        refuse_future(inspected.done_at, now)
        writer = Writer(tx, author, now)
        made = writer.add("inspection", inspected, inspected.done_at)
        if inspected.good:
            return writer.recorded(msg("record.inspected", subject=inspected.subject))
        ruling = Ruling(HoldClass.FAULT, msg("inspection.found", what=inspected.looked_at))
        hold = Hold(
            inspected.subject_class, inspected.subject, ruling.hold_class, inspected.done_at, ruling.reason, cause=made
        )
        hold_by_rule(tx, writer, ruling, hold)
        return writer.recorded(msg("record.inspected_bad", subject=inspected.subject))
