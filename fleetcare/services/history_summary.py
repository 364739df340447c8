"""The first page of a maintenance history: each line with its number, in the order an adjuster asks."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from fleetcare.domain.due import Fared
from fleetcare.domain.fingerprint import Head
from fleetcare.domain.packs import Person
from fleetcare.domain.wording import msg, say, word
from fleetcare.services.facts import FleetFacts
from fleetcare.services.history_lines import Asked, Tally
from fleetcare.services.telling import LATE_MINUTES


def summary_lines(
    asked: Asked,
    facts: FleetFacts,
    packs: Sequence[str],
    names: Mapping[str, str],
    tally: Tally,
    dues: Mapping[Fared, int],
    head: Head,
    lodged: int,
    incidents: int,
) -> Iterator[tuple[str, str]]:
    """(name, what is told) of every summary line.

    `dues` counts the checks that fell due by how they fared; `lodged` the lodgings of the fingerprint in
    the period, `incidents` those that name one of the items.
    """
    people = [
        _person(names.get(code, code), ", ".join(sorted(levels)), facts.people.get(code), asked)
        for code, levels in sorted(tally.people.items())
    ]
    yield word("history.item"), _identity(asked, facts)
    yield word("history.for_period"), say(msg("history.period", from_date=asked.from_date, to_date=asked.to_date))
    if asked.subject_class == "vehicle":
        yield word("history.packs_in"), ", ".join(packs) or word("history.none")
    told = (
        ("checks", {"done": tally.checks, "due": sum(dues.values()), **{one.value: dues.get(one, 0) for one in Fared}}),
        ("corrections", {"struck": tally.struck}),
        ("entered_late", {"late": tally.late, "limit_minutes": LATE_MINUTES, "after": tally.after_stop}),
        ("trips", {"count": tally.trips, "unexplained": tally.unexplained}),
        ("holds", {"set": tally.holds, "released": tally.releases}),
        ("incidents", {"count": incidents, "after": tally.after_incident}),
        ("inspections", {"count": tally.inspections, "found": tally.findings}),
        ("meters", {"count": tally.checks, "doubtful": tally.doubtful_meter}),
    )
    for name, values in told:
        yield word(f"history.{name}"), say(msg(f"history.{name}_told", **values))
    yield word("history.people"), "; ".join(people) or word("history.none")
    yield word("history.lodgings"), say(msg("history.lodgings_told", count=lodged))
    yield word("history.record"), say(msg("history.record_told", count=head.size, root=head.root_hex))


def _person(name: str, levels: str, person: Person | None, asked: Asked) -> str:
    """A person with the levels held when entries were made, and the day on which the level ran out in the period."""
    until = None if person is None else person.level_until
    if until is not None and asked.from_date <= until <= asked.to_date:
        return say(msg("history.person_until", person=name, levels=levels, until_date=until))
    return say(msg("history.person_told", person=name, levels=levels))


def _identity(asked: Asked, facts: FleetFacts) -> str:
    if asked.subject_class == "vehicle":
        vehicle = facts.vehicles[asked.code]
        frame = say(msg("list.frame", serial=vehicle.serial)) if vehicle.serial else ""
        return f"{asked.code} · {word(f'vehicle_kind.{vehicle.kind.value}')} · {vehicle.voltage_class_v} V{frame}"
    if asked.subject_class == "pack":
        pack = facts.packs[asked.code]
        model = facts.models[pack.model]
        passport = f" · {word('passport.on_paper')}: {pack.passport}" if pack.passport else ""
        return f"{pack.code} · {model.name} · {model.chemistry.value} · {pack.serial or '—'}{passport}"
    return say(asked.title)
