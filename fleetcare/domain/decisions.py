"""Decisions: what a watch, a pull or an early projection asks of a named person, and until when the answer stands.

A decision has a date and runs out with it: on the day after, the question is open again, whatever was
read meanwhile.  A stricter finding is a new question.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import SiteRules
from fleetcare.domain.verdicts import VerdictLevel
from fleetcare.domain.wording import Message


class Kind(StrEnum):
    """What asks for a decision, least to most strict."""

    EARLY = "early"
    WATCH = "watch"
    PULL = "pull"

    @property
    def rank(self) -> int:
        """Position in the order of strictness."""
        return list(Kind).index(self)


class Choice(StrEnum):
    """What can be decided."""

    CARRY_ON = "carry_on"
    RECHECK = "recheck"
    PULL = "pull"
    REPLACE = "replace"

    @property
    def dated(self) -> bool:
        """True where the decision needs its date."""
        return self is not Choice.PULL


@dataclass(frozen=True, slots=True)
class Decision:
    """A person decided about `pack`.  `until` is the last day on which it stands; only a pull has none.

    `about` is the record id of the check or hold that asked, "" for a projection; `told` is the question in
    the words of that day.
    """

    pack: str
    kind: Kind
    choice: Choice
    until: dt.date | None
    done_at: dt.datetime
    told: Message
    about: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Question:
    """What asks: its kind, since when, and its sentence; `about` as in `Decision`."""

    pack: str
    kind: Kind
    since: dt.datetime
    statement: Message
    about: str = ""


def stands(decision: Decision, asked: Question, today: dt.date, last_check: dt.datetime | None, *, out: bool) -> bool:
    """Whether `decision` still answers `asked`.

    It does not where it is about something less strict, where its date has passed, where the re-check
    that it wanted was done, or where a pull was decided and the pack is not `out` of use.
    """
    if decision.kind.rank < asked.kind.rank and decision.choice not in (Choice.PULL, Choice.REPLACE):
        return False
    if decision.kind.rank < asked.kind.rank and asked.since > decision.done_at:
        return False
    if decision.until is not None and today > decision.until:
        return False
    if decision.choice is Choice.RECHECK and last_check is not None and last_check > decision.done_at:
        return False
    return out if decision.choice is Choice.PULL else True


def due_by(decision: Decision, last_valid: dt.datetime | None, level: VerdictLevel | None) -> dt.date | None:
    """The day by which the decision wants the next check, or None where it wants none or has had it.

    It only ever tightens the due date.  A passed check answers a decision about a verdict; one about a
    projection is answered on its date.
    """
    if decision.choice not in (Choice.CARRY_ON, Choice.RECHECK) or decision.until is None:
        return None
    if level is VerdictLevel.PASS and decision.kind is not Kind.EARLY:
        return None
    if last_valid is not None:
        if decision.choice is Choice.RECHECK and last_valid > decision.done_at:
            return None
        if decision.choice is Choice.CARRY_ON and last_valid.date() >= decision.until:
            return None
    return decision.until


def open_to(kind: Kind) -> tuple[Choice, ...]:
    """What can be decided where `kind` asks: a pull is not carried on."""
    return tuple(one for one in Choice if not (one is Choice.CARRY_ON and kind is Kind.PULL))


def refuse_wrong(choice: Choice, kind: Kind, until: dt.date | None, today: dt.date, site: SiteRules) -> None:
    """Raises EntryRefused for a decision that the rules do not know: no date, a past one, one too far off."""
    if choice not in open_to(kind):
        raise EntryRefused("decision.no_carry_on", field="choice")
    if not choice.dated:
        return
    if until is None:
        raise EntryRefused("decision.needs_date", field="until")
    if until < today:
        raise EntryRefused("decision.past", field="until", until_date=until)
    last = today + dt.timedelta(days=site.decision_most_days)
    if until > last:
        raise EntryRefused(
            "decision.too_far", field="until", until_date=until, most_days=site.decision_most_days, last_date=last
        )


def suggested(choice: Choice, today: dt.date, site: SiteRules) -> dt.date | None:
    """The date that is offered with one key: tomorrow, the next weekly check, four of them ahead."""
    every = site.check_due_days
    days = {Choice.RECHECK: 1, Choice.CARRY_ON: every, Choice.REPLACE: 4 * every}.get(choice)
    return None if days is None else today + dt.timedelta(days=min(days, site.decision_most_days))
