"""Conditions of the insurer's policy: entered as stated, with their dates; the history shows them against the record."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Role
from fleetcare.domain.records import PolicyCondition
from fleetcare.domain.wording import Message, msg
from fleetcare.services.people import has_role
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store import proving
from fleetcare.store.store import Store, View

SHOWN_BY = ("checks", "inspections", "people", "holds", "nothing")
SUBJECT = "POLICY"


@dataclass(frozen=True, slots=True)
class Condition:
    """A condition as it stands, with the position that recorded it."""

    position: int
    body: PolicyCondition

    def in_force(self, first: dt.date, last: dt.date) -> bool:
        """True when it held on any day from `first` to `last`, its own first and last day included."""
        return self.body.from_date <= last and (self.body.to_date is None or self.body.to_date >= first)

    @property
    def statement(self) -> Message:
        """The condition with its policy and dates."""
        body = self.body
        known = {"text": body.text, "policy": body.policy, "from_date": body.from_date}
        return (
            msg("policy.open", **known) if body.to_date is None else msg("policy.until", to_date=body.to_date, **known)
        )


def conditions(store: Store) -> tuple[Condition, ...]:
    """All conditions as they stand now, by number."""
    with store.view() as view:
        return conditions_of(view)


def conditions_of(view: View) -> tuple[Condition, ...]:
    """`conditions` within a view."""
    newest: dict[str, Condition] = {}
    for position, record in proving.touching(view, "policy", SUBJECT):
        assert isinstance(record.body, PolicyCondition)
        newest[record.body.code] = Condition(position, record.body)
    return tuple(newest.values())


def record_condition(
    store: Store, clock: Clock, author: Author, *, text: str, policy: str, from_date: dt.date,
    to_date: dt.date | None, shown_by: str, code: str = "",
) -> Recorded:  # fmt: skip
    """Record a condition, or with `code` a changed one; managers only.

    EntryRefused without its words or its policy, and when it ends before it begins.
    """
    now = clock()
    if not text.strip():
        raise EntryRefused("policy.needs_text", field="text")
    if not policy.strip():
        raise EntryRefused("policy.needs_policy", field="policy")
    if to_date is not None and to_date < from_date:
        raise EntryRefused("policy.backwards", field="to_date", from_date=from_date, to_date=to_date)
    if shown_by not in SHOWN_BY:
        raise ValueError(shown_by)
    with store.transaction() as tx:
        if not has_role(tx, author, Role.MANAGER):
            raise NotAllowed("policy.manager_only", person=author.person.name)
        known = {one.body.code for one in conditions_of(tx)}
        if code and code not in known:
            raise ValueError(code)
        chosen = code or f"C{len(known) + 1}"
        writer = Writer(tx, author, now)
        writer.add(
            "policy_condition",
            PolicyCondition(chosen, text.strip(), policy.strip(), from_date, to_date, shown_by),
            now,
        )
        return writer.recorded(msg("policy.recorded", code=chosen))
