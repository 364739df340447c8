"""How a deed writes: one author, one moment, one transaction, and a tally of what it touched."""

from __future__ import annotations

import datetime as dt

from fleetcare.domain.bays import PackStuck, Stuck
from fleetcare.domain.checks import FoundIn, Hold, HoldClass, VoltageCheck
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.inspection_plans import refuse_setting
from fleetcare.domain.packs import Meter, Pack, PackStanding, Person, Thing
from fleetcare.domain.records import CheckCorrected, CheckJudged, ThingPut
from fleetcare.domain.verdicts import Verdict
from fleetcare.domain.wording import Message, msg
from fleetcare.services import incidents, recall_watch
from fleetcare.services.in_force import with_procedure
from fleetcare.services.session import Author
from fleetcare.services.shown import Recorded
from fleetcare.services.summary import meter_state
from fleetcare.store.store import Transaction

WITH_PACK = "bay.vehicle_with_pack"
"""Reason of a vehicle that is quarantined with the pack in it."""


class Writer:
    """Appends records for one author and remembers which packs and vehicles they touch."""

    def __init__(self, tx: Transaction, author: Author, now: dt.datetime) -> None:
        self._tx = tx
        self._author = author
        self.now = now
        shown = author.person.level_on(now.date())
        kept: Person | None = tx.thing("person", author.person.code)
        recorded = shown if kept is None else kept.level_on(now.date())
        self._level = (shown if recorded.covers(shown) else recorded).value
        self._first = tx.position
        self._ids: list[str] = []
        self.check_id = ""
        self.position = tx.position

    @property
    def last_id(self) -> str:
        """The id of the newest record this writer appended."""
        return self._ids[-1]

    def add(self, kind: str, body: object, done_at: dt.datetime) -> str:
        """Append one record and return its id; a job keeps the procedure in force."""
        author = self._author
        appended = self._tx.append(
            kind,
            with_procedure(self._tx, body),
            done_at=done_at,
            entered_at=self.now,
            by=author.person.code,
            level=self._level,
            station=author.station,
            source=author.source,
            seen=author.seen_position,
        )
        self._ids.append(appended.record_id)
        self.position = appended.position
        danger = isinstance(body, Hold) and body.subject_class == "pack" and body.hold_class is HoldClass.DANGER
        if isinstance(body, Hold) and danger and not body.reason.key.startswith("recall."):
            self.hold_vehicle_of(body.subject, done_at)
        return appended.record_id

    def hold_vehicle_of(self, code: str, at: dt.datetime) -> Message | None:
        """Quarantine the whole vehicle of a pack that cannot be taken out of it; the sentence, or None where it can.

        A pack cannot be taken out when its model is fixed, or somebody noted it as jammed or without its key.
        """
        tx = self._tx
        pack: Pack | None = tx.thing("pack", code)
        placed = tx.placement_of(code)
        if pack is None or placed is None or placed.vehicle is None:
            return None
        noted = tx.records_of("pack_stuck", ("pack", code))
        newest: PackStuck | None = noted[-1].body if noted else None  # type: ignore[assignment]
        if tx.thing("pack_model", pack.model).fixed:
            why = msg("bay.why_fixed")
        elif newest is not None and newest.vehicle == placed.vehicle and newest.why is not Stuck.FREE:
            why = msg(f"bay.why_{newest.why.value}")
        else:
            return None
        if any(h.reason.key == WITH_PACK for h in tx.open_holds(("vehicle", placed.vehicle))):
            return None
        reason = msg(WITH_PACK, pack=code, why=why)
        self.add("hold", Hold("vehicle", placed.vehicle, HoldClass.DANGER, at, reason), at)
        return msg("record.grounded", subject=placed.vehicle, reason=reason)

    def add_check(self, judged: CheckJudged) -> str:
        """Append a judged check."""
        self.check_id = self.add("voltage_check", judged, judged.check.done_at)
        return self.check_id

    def correct(self, of: str, reason: str, judged: CheckJudged | None) -> str:
        """Append a correction of the check `of`."""
        after = None if judged is None else with_procedure(self._tx, judged)
        return self.add("check_corrected", CheckCorrected(of, reason, after), self.now)

    def add_thing(self, thing_class: str, thing: Thing) -> str:
        """Append a new or changed thing; a pack that was written off never comes back."""
        if isinstance(thing, Pack) and thing.standing is not PackStanding.WRITTEN_OFF:
            known: Pack | None = self._tx.thing("pack", thing.code)
            if known is not None and known.standing is PackStanding.WRITTEN_OFF:
                raise EntryRefused("entry.never_returns", field="pack", pack=thing.code)
        refuse_setting(thing)
        if not isinstance(thing, Pack):
            return self.add("thing", ThingPut(thing_class, thing), self.now)
        before = self._tx.thing(thing_class, thing.code)
        incidents.refuse_identity_change(self._tx, thing_class, before, thing)
        record_id = self.add("thing", ThingPut(thing_class, thing), self.now)
        recall_watch.hold_if_recalled(self._tx, self.add, thing, before, self.now)
        return record_id

    def move(self, move: FoundIn) -> str:
        """Append where a pack was found."""
        return self.add("found_in", move, move.done_at)

    def recorded(
        self,
        message: Message,
        *,
        verdict: Verdict | None = None,
        next_due: dt.date | None = None,
        meanwhile: tuple[Message, ...] = (),
        held: bool = False,
        stays: Message | None = None,
    ) -> Recorded:
        """The result of the deed: position, ids and everything its records touched."""
        if self._author.draft_id:
            self._tx.delete_draft(self._author.draft_id)
        touched = self._tx.touched_since(self._first)
        return Recorded(
            self.position,
            tuple(self._ids),
            touched.packs,
            touched.vehicles,
            message,
            verdict,
            next_due,
            meanwhile,
            held,
            stays,
        )


def judged(check: VoltageCheck, verdict: Verdict, meter: Meter, look_over: tuple | None) -> CheckJudged:
    """A check with its verdict and the meter's state on its day, ready to append."""
    return CheckJudged(check, verdict, meter_state(meter, check.done_at.date()), look_over)
