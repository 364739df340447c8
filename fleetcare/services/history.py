"""The maintenance history of a vehicle, a pack or the fleet for a period, as an insurer reads it.

Lines of one item are in the order of the work; those of the fleet in the order of entry, and are
read one by one, so that a long history needs little memory.  Nothing is left out: what was
corrected is there, struck; what was missed is there as a gap.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import Hold, Release
from fleetcare.domain.due import Fared
from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.identity import initials
from fleetcare.domain.records import CheckCorrected, CheckJudged, Record
from fleetcare.domain.status import pack_words
from fleetcare.domain.wording import Message, msg, say, word
from fleetcare.services import facts as read
from fleetcare.services import history_changes as changed
from fleetcare.services import owed, policy
from fleetcare.services import proving as lodging
from fleetcare.services.facts import FleetFacts
from fleetcare.services.history_lines import Asked, History, Line, Tally, count, is_late
from fleetcare.services.history_recalls import recall_lines
from fleetcare.services.history_summary import summary_lines
from fleetcare.services.history_words import check_text, gap_text, where_text
from fleetcare.services.identify import near_misses
from fleetcare.services.incidents import KINDS, made_after
from fleetcare.services.session import Clock
from fleetcare.services.telling import event_text
from fleetcare.store import proving
from fleetcare.store.store import Store, View
from fleetcare.store.values import StoredEvent


def subject_of(store: Store, code: str) -> tuple[str, str]:
    """(class, code) of a vehicle or a pack as typed; EntryRefused for anything else."""
    wanted = code.strip().upper()
    if not wanted:
        raise EntryRefused("history.needs_subject", field="code")
    with store.view() as view:
        for subject_class in ("vehicle", "pack"):
            if view.thing(subject_class, wanted) is not None:
                return subject_class, wanted
        near = near_misses(view, wanted, ("vehicle", "pack"))
    if near:
        raise EntryRefused("history.unknown_near", field="code", code=code.strip(), near=", ".join(near))
    raise EntryRefused("history.unknown", field="code", code=code.strip())


class Reading:
    """One history being read: its view, names and stops."""

    def __init__(self, store: Store, clock: Clock, asked: Asked, view: View) -> None:
        if asked.to_date < asked.from_date:
            raise EntryRefused(
                "history.period_backwards", field="to_date", from_date=asked.from_date, to_date=asked.to_date
            )
        self._store, self._view, self._asked = store, view, asked
        self.now = clock()
        self._names = {
            code: initials(name) if code in asked.withheld else name for code, name in view.person_names().items()
        }
        self._facts = read.read_facts(view)
        self._packs = self._packs_of()
        self._stops: list[tuple[str, dt.datetime, int]] = self._find_stops()
        self._breaks = owed.breaks(view)
        self._incidents = changed.incidents_of(view, self._things())
        self._charges: dict[str, list[ChargedOn]] = {}

    def _things(self) -> list[tuple[str, str]] | None:
        """The items that the history is of; None for all."""
        asked = self._asked
        if asked.subject_class == "fleet":
            return None
        return [(asked.subject_class, asked.code), *(("pack", code) for code in self._packs)]

    def _packs_of(self) -> list[str]:
        asked = self._asked
        if asked.subject_class == "pack":
            return [asked.code]
        if asked.subject_class == "vehicle":
            return sorted(
                {*proving.packs_ever_in(self._view, asked.code), *changed.packs_named(self._view, asked.code)}
            )
        return sorted(self._facts.packs)

    def _find_stops(self) -> list[tuple[str, dt.datetime, int]]:
        """(subject, when, position) of every hold for danger on the items, by position."""
        asked, packs = self._asked, set(self._packs)
        return [
            (code, at, position)
            for subject_class, code, at, position in proving.danger_holds(self._view)
            if asked.subject_class == "fleet"
            or (subject_class == "pack" and code in packs)
            or (subject_class, code) == (asked.subject_class, asked.code)
        ]

    @property
    def fleet_id(self) -> str:
        """The identifier of the fleet that is read."""
        return self._store.fleet_id

    # lines

    def lines(self) -> Iterator[Line]:
        """The lines of the period."""
        if self._asked.subject_class == "fleet":
            for position, record in proving.all_records(self._view):
                line = self._line(position, record)
                if self._in_period(line.done_at):
                    yield line
            return
        found: dict[int, Record] = {}
        for position, record in self._touching():
            found[position] = record
        lines = [self._line(position, record) for position, record in sorted(found.items())]
        yield from sorted(
            (line for line in lines if self._in_period(line.done_at)), key=lambda one: (one.done_at, one.position)
        )

    def proofs(self) -> Iterator[tuple[int, bytes, list[bytes]]]:
        """The position, canonical bytes and audit path of every line, in the order of entry."""
        return proving.inclusions(self._view, sorted(line.position for line in self.lines()))

    def _touching(self) -> Iterator[tuple[int, Record]]:
        asked = self._asked
        yield from proving.touching(self._view, asked.subject_class, asked.code)
        if asked.subject_class == "pack":
            return
        for pack in self._packs:
            spans = [
                (one.placement.since, one.until_at)
                for one in proving.places_of(self._view, pack)
                if one.placement.vehicle == asked.code
            ]
            for position, record in proving.touching(self._view, "pack", pack):
                done = _done(record)
                if any(since <= done and (until is None or done <= until) for since, until in spans):
                    yield position, record

    def _in_period(self, moment: dt.datetime) -> bool:
        return self._asked.from_date <= self._view.day(moment) <= self._asked.to_date

    def _line(self, position: int, record: Record) -> Line:
        notes: list[str] = []
        struck = proving.struck_by(self._view, position)
        body = record.body
        done_at, entered_at = self._view.local(_done(record)), self._view.local(record.entered_at)
        if isinstance(body, CheckCorrected):
            first = proving.position_of(self._view, body.of) or 0
            notes.append(
                say(msg("history.corrects" if body.judged else "history.voids", position=first, reason=body.reason))
            )
        judged = body.judged if isinstance(body, CheckCorrected) else body
        if isinstance(judged, CheckJudged):
            text = f"{check_text(judged)}; {say(self._charged(judged))}"
            told = say(msg("history.told", verdict=judged.verdict.headline))
            notes.append(" ".join([f"{told.rstrip('.')}.", *(say(one.statement) for one in judged.verdict.findings)]))
            remark, place = judged.check.remark, ""
        else:
            event = StoredEvent(record.record_id, position, record.kind, done_at, entered_at, record.by, body)
            text = say(event_text(event))
            if isinstance(body, Release):
                text = say(msg("history.released", subject=self._subject(body), told=text))
            remark, place = getattr(body, "remark", ""), getattr(body, "place", "")
        notes += [say(one) for one in changed.photos_gone(self._view, body)]
        if struck is not None:
            notes.insert(0, say(msg("history.struck", position=struck[0], reason=struck[1])))
        for key, value in (("remark", remark), ("place", place)):
            if value:
                notes.append(say(msg(f"history.{key}", **{key: value})))
        stop = self._entered_after(position, done_at)
        incident = None if self._by_incident(record) else made_after(self._incidents, position, done_at)
        if incident is not None:
            notes.insert(0, say(incident))
        if stop is not None:
            notes.insert(0, say(msg("history.entered_after", stop_at=stop)))
        elif is_late(done_at, record.entered_at):
            notes.append(say(msg("history.late_entry", late=_span(record.entered_at - done_at))))
        if record.source not in ("typed", "program"):
            notes.append(say(msg("history.source", source=record.source)))
        return Line(
            position, done_at, entered_at, record.by, self._names.get(record.by, record.by), record.level, text,
            tuple(notes), struck is not None, stop is not None, body,
            changed.procedure_of(body), incident is not None,
        )  # fmt: skip

    def _subject(self, release: Release) -> str:
        """What a release is of: its hold is a record of its own."""
        held = self._view.record_at(proving.position_of(self._view, release.hold) or 0)
        assert held is not None and isinstance(held.body, Hold)
        return held.body.subject

    def _by_incident(self, record: Record) -> bool:
        """True for the records of an incident itself, and the holds that came with it."""
        cause = getattr(record.body, "cause", None)
        return record.kind in KINDS or (cause is not None and any(cause == one.record_id for one in self._incidents))

    def _charged(self, judged: CheckJudged) -> Message:
        """On which charger the pack was charged last before a check, as recorded."""
        pack = judged.check.pack
        if pack not in self._charges:
            found = [one.body for one in self._view.events_of("pack", pack, kind="charged_on")]
            self._charges[pack] = [one for one in found if isinstance(one, ChargedOn)]
        before = [one for one in self._charges[pack] if one.done_at <= judged.check.done_at]
        if not before:
            return msg("history.charged_unknown")
        last = max(before, key=lambda one: one.done_at)
        return msg("history.charged_last", charger=last.charger, at=last.done_at)

    def _entered_after(self, position: int, done_at: dt.datetime) -> dt.datetime | None:
        """The first stop that this entry came after while it speaks of the time before; None when none."""
        for _, at, stopped in self._stops:
            if position > stopped and done_at < at:
                return at
        return None

    # what stands before the lines

    def whole(self, still: Callable[[], None] = lambda: None) -> History:
        """The history without its lines; `still()` is called again and again and may raise to stop."""
        tally = Tally()
        number = 0
        for line in self.lines():
            number += 1
            count(tally, line)
            still()
        dues, gaps = self._dues(still)
        lodged = lodging.lodgings_of(self._view, self.now)
        told = tuple(
            summary_lines(
                self._asked,
                self._facts,
                self._packs,
                self._names,
                tally,
                dues,
                self._view.head(),
                sum(self._in_period(one.done_at) for one in lodged.lines),
                len(self._incidents),
            )
        )
        return History(
            asked=self._asked,
            as_of=self.now,
            head=self._view.head(),
            fleet_name=self._store.fleet_name,
            demo=self._store.demo,
            summary=told,
            conditions=tuple(self._conditions(dict(told))),
            ends=tuple(self._ends()),
            stays=tuple(self._stays()),
            gaps=tuple(gaps),
            lodgings=tuple(self._lodging_line(one) for one in lodged.lines),
            lodging_gaps=lodged.gaps,
            lines=number,
            initials=bool(self._asked.withheld or self._view.withheld()),
            incidents=tuple(changed.incident_lines(self._incidents)),
            recalls=tuple(recall_lines(self._view, self._packs, self._asked.to_date)),
            procedures=(*changed.procedure_lines(tally.used), *changed.text_changes(self._view, self._in_period)),
            texts=tuple(changed.procedure_texts(self._view, tally.used)),
            settings=tuple(
                changed.setting_changes(
                    self._view, (self._facts.packs[code].model for code in self._packs), self._in_period
                )
            ),
        )

    def _conditions(self, told: dict[str, str]) -> Iterator[tuple[Message, Message]]:
        """Each condition in force in the period, and what the summary says of it."""
        for one in policy.conditions_of(self._view):
            if one.in_force(self._asked.from_date, self._asked.to_date):
                shown = one.body.shown_by
                if shown == "nothing":
                    yield one.statement, msg("policy.not_measured")
                else:
                    yield one.statement, msg("policy.shown", told=told[word(f"history.{shown}")])

    def _lodging_line(self, one: lodging.LodgingLine) -> Message:
        return msg(
            "history.lodging_line" if one.right else "history.lodging_wrong", at=one.done_at,
            fingerprint=one.head.short, recipient=one.recipient, means=msg(f"proof.means_{one.means}"),
        )  # fmt: skip

    def _dues(self, still: Callable[[], None]) -> tuple[Counter[Fared], list[Message]]:
        """How the checks that fell due fared, over all packs, and the gaps in the order of their due days."""
        sums: Counter[Fared] = Counter()
        gaps: list[tuple[dt.date, Message]] = []
        rules = owed.rules_by_day(self._view, self._facts.site)
        firsts = owed.first_days(self._view, {code: self._facts.packs[code] for code in self._packs})
        period = (self._asked.from_date, self._asked.to_date)
        for pack in self._packs:
            still()
            valid = [
                self._view.day(one.check.done_at)
                for one in self._view.checks_of(pack)
                if one.void_position is None and one.verdict.valid
            ]
            for span in self._spans(pack, firsts):
                found = list(owed.fell_due(rules, valid, span, period))
                sums.update(one.fared for one in found)
                missed = (one for one in found if one.fared is Fared.MISSED)
                for _, gap in itertools.groupby(missed, key=lambda one: one.done_on):
                    row = list(gap)
                    gaps.append((row[0].due_on, gap_text(pack, row, span[1])))
        return sums, [text for _, text in sorted(gaps, key=lambda g: g[0])]

    def _spans(self, pack: str, firsts: dict[str, dt.date]) -> list[tuple[dt.date, dt.date]]:
        """From when to when `pack` owed checks here: in the vehicle, in service and here, not held for danger."""
        last = min(self._asked.to_date, self._view.day(self.now))
        if self._asked.subject_class == "vehicle":
            spans = [
                (one.placement.since.date(), last if one.until_at is None else min(one.until_at.date(), last))
                for one in proving.places_of(self._view, pack)
                if one.placement.vehicle == self._asked.code
            ]
        else:
            spans = [(firsts[pack], last)] if pack in firsts else []
        away = self._breaks.get(pack, ())
        return [part for start, until in spans if start <= until for part in owed.spans_in_use(start, until, away)]

    def _ends(self) -> Iterator[Message]:
        end = self._asked.to_date
        for pack in self._packs:
            places = [one for one in proving.places_of(self._view, pack) if one.placement.since.date() <= end]
            yield where_text(pack, places)
        for item, state in _states(self._asked, self._facts, self._packs, self.now):
            yield msg("history.state_now", item=item, state=state, at=self.now)

    def _stays(self) -> Iterator[Message]:
        if self._asked.subject_class == "fleet":
            return
        found = []
        for pack in self._packs:
            for one in proving.places_of(self._view, pack):
                placed = one.placement
                if self._asked.subject_class == "vehicle" and placed.vehicle != self._asked.code:
                    continue
                if placed.since.date() > self._asked.to_date:
                    continue
                if one.until_at is not None and one.until_at.date() < self._asked.from_date:
                    continue
                found.append((placed.since, self._stay(one)))
        if self._asked.subject_class == "vehicle":
            placed_in = set(proving.packs_ever_in(self._view, self._asked.code))
            for pack, (first, last) in changed.packs_named(self._view, self._asked.code).items():
                if pack not in placed_in and self._in_period(last):
                    told = msg("history.seen_only", pack=pack, vehicle=self._asked.code, first_at=first, last_at=last)
                    found.append((first, told))
        yield from (told for _, told in sorted(found, key=lambda one: one[0]))

    def _stay(self, one: proving.Placed) -> Message:
        placed = one.placement
        if placed.vehicle is None:
            return where_text(one.pack, [one])
        seen = max(
            (
                check.check.done_at
                for check in self._view.checks_of(one.pack)
                if check.check.vehicle == placed.vehicle
                and placed.since <= check.check.done_at
                and (one.until_at is None or check.check.done_at <= one.until_at)
            ),
            default=placed.since,
        )
        name = one.pack if self._asked.subject_class == "vehicle" else placed.vehicle
        known = {"pack": name, "bay": placed.bay, "since_at": placed.since, "seen_at": seen}
        if one.until_at is None:
            return msg("history.stay_open", **known)
        return msg(
            "history.stay_ended" if one.until_known else "history.stay_displaced", until_at=one.until_at, **known
        )


@contextmanager
def reading(store: Store, clock: Clock, asked: Asked) -> Iterator[Reading]:
    """A history at one position of the record, whatever is recorded meanwhile.

    EntryRefused for a period that ends before it begins.
    """
    with store.view() as view:
        yield Reading(store, clock, asked, view)


def _done(record: Record) -> dt.datetime:
    """When the work was done that a record speaks of: of a corrected check, the check's own time."""
    if isinstance(record.body, CheckCorrected) and record.body.judged is not None:
        return record.body.judged.check.done_at
    return record.done_at


def _span(span: dt.timedelta) -> str:
    hours = int(span.total_seconds() // 3600)
    if hours >= 48:
        return f"{hours // 24} d {hours % 24} h"
    return f"{hours} h {int(span.total_seconds() // 60) % 60} min"


def _states(asked: Asked, facts: FleetFacts, packs: list[str], now: dt.datetime) -> Iterator[tuple[str, Message]]:
    if asked.subject_class == "fleet":
        return
    states = {code: read.pack_status(facts, code, now) for code in packs}
    if asked.subject_class == "vehicle":
        vehicle = facts.vehicles[asked.code]
        inside = tuple(states[code] for code in facts.packs_in(asked.code))
        status = read.vehicle_status(facts, vehicle, inside)
        yield asked.code, msg(f"board_state.{status.state.value}")
    for code, state in states.items():
        yield code, pack_words(state)
