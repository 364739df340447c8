"""What changed the ground a history stands on: written procedures, limits and settings, and incidents."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from fleetcare.domain.incidents import Incident
from fleetcare.domain.loosening import changes
from fleetcare.domain.packs import PackModel, SiteRules
from fleetcare.domain.procedures import SiteText, Work, versions_in
from fleetcare.domain.records import CheckCorrected, CheckJudged, Record, ThingPut
from fleetcare.domain.wording import Message, msg, show_value
from fleetcare.services.in_force import WORK_OF, as_dated, procedures
from fleetcare.services.incidents import all_incidents
from fleetcare.store import proving
from fleetcare.store.store import View

InPeriod = Callable[[dt.datetime], bool]


@dataclass(slots=True)
class Used:
    """How often one version of a procedure was in force, from when to when."""

    count: int
    first: dt.date
    last: dt.date


def note_use(used: dict[tuple[Work, str], Used], body: object, day: dt.date) -> None:
    """Count the procedure that a job kept; kinds without one are passed over."""
    judged = body.judged if isinstance(body, CheckCorrected) else body
    work = WORK_OF.get(type(judged))
    if work is None:
        return
    one = used.setdefault((work, procedure_of(body)), Used(0, day, day))
    one.count += 1
    one.first, one.last = min(one.first, day), max(one.last, day)


def procedure_of(body: object) -> str:
    """What a job kept of the procedure in force, or ""."""
    judged = body.judged if isinstance(body, CheckCorrected) else body
    return str(getattr(judged, "procedure", ""))


def procedure_lines(used: Mapping[tuple[Work, str], Used]) -> Iterator[Message]:
    """Which versions were in force for the jobs of the period."""
    for (work, kept), one in sorted(used.items(), key=lambda item: (list(Work).index(item[0][0]), item[1].first)):
        name = msg(f"procedure.work_{work.value}")
        if kept:
            yield msg("history.procedure_used", work=name, version=versions_in(kept)[1], count=one.count,
                      first_date=one.first, last_date=one.last)  # fmt: skip
        else:
            yield msg("history.procedure_none", work=name, count=one.count)


def procedure_texts(view: View, used: Mapping[tuple[Work, str], Used]) -> Iterator[tuple[Message, tuple[str, ...]]]:
    """The text of every version in force: its heading and its steps, shipped texts first, then the depots'."""
    seen: set[tuple[str, str, int]] = set()
    shipped: list[tuple[Message, tuple[str, ...]]] = []
    own: list[tuple[Message, tuple[str, ...]]] = []
    for (work, kept), _ in sorted(used.items(), key=lambda item: (list(Work).index(item[0][0]), item[0][1])):
        if not kept:
            continue
        _, _, version, depot, added = versions_in(kept)
        name = msg(f"procedure.work_{work.value}")
        if ("", work.value, version) not in seen:
            seen.add(("", work.value, version))
            for one in procedures()[work]:
                if one.version == version:
                    head = msg(
                        "procedure.heading", work=name, version=version, written_date=as_dated(view, one).written
                    )
                    shipped.append((head, (*one.steps, f"({one.source})")))
        if depot and (depot, work.value, added) not in seen:
            seen.add((depot, work.value, added))
            for _, record in proving.touching(view, "site_text", f"{depot}-{work.value}"):
                text = _thing(record)
                if isinstance(text, SiteText) and text.version == added:
                    told = msg("history.procedure_own", work=name, depot=depot, version=added)
                    own.append((told, (text.text,)))
    yield from shipped
    yield from own


def text_changes(view: View, in_period: InPeriod) -> Iterator[Message]:
    """Changes of the depots' own procedure texts in the period."""
    for code in view.codes("site_text"):
        for position, record in proving.touching(view, "site_text", code):
            text = _thing(record)
            if isinstance(text, SiteText) and in_period(record.entered_at):
                key = "history.procedure_changed" if text.text else "history.procedure_taken_back"
                name = msg(f"procedure.work_{text.work}")
                yield msg(
                    key, at=view.local(record.entered_at), depot=text.depot, work=name, version=text.version,
                    position=position,
                )  # fmt: skip


def setting_changes(view: View, models: Iterable[str], in_period: InPeriod) -> Iterator[Message]:
    """Changes of the site's settings and of the models' limits in the period; what was loosened is said."""
    for thing_class, codes in (("site_rules", view.codes("site_rules")), ("pack_model", sorted(set(models)))):
        for code in codes:
            before: SiteRules | PackModel | None = None
            for position, record in proving.touching(view, thing_class, code):
                after = _thing(record)
                if not isinstance(after, (SiteRules, PackModel)):
                    continue
                if before is not None and type(before) is type(after) and in_period(record.entered_at):
                    for one in changes(before, after):
                        key = "history.setting_loosened" if one.loosened else "history.setting_changed"
                        yield msg(
                            f"{key}_sourced" if one.source else key, at=view.local(record.entered_at), what=after.name or code, setting=_words(one.name),
                            before=_value(one.name, one.before), after=_value(one.name, one.after), position=position,
                            source=one.source,
                        )  # fmt: skip
                before = after


def packs_named(view: View, vehicle: str) -> dict[str, tuple[dt.datetime, dt.datetime]]:
    """Packs that any entry names in a vehicle, late ones too: when first and when last, by the time of the work."""
    found: dict[str, tuple[dt.datetime, dt.datetime]] = {}
    for _, record in proving.touching(view, "vehicle", vehicle):
        judged = record.body.judged if isinstance(record.body, CheckCorrected) else record.body
        body = judged.check if isinstance(judged, CheckJudged) else judged
        pack = getattr(body, "pack", None)
        if isinstance(pack, str) and getattr(body, "vehicle", None) == vehicle:
            at = view.local(getattr(body, "done_at", record.done_at))
            first, last = found.get(pack, (at, at))
            found[pack] = (min(first, at), max(last, at))
    return found


def _thing(record: Record) -> object:
    return record.body.thing if isinstance(record.body, ThingPut) else None


def _words(name: str) -> str:
    for unit in ("_v", "_ohm", "_c", "_a"):
        name = name.removesuffix(unit)
    return name.replace("_", " ")


def _value(name: str, value: object) -> str:
    return "—" if value in (None, "") else show_value(name, value)


def photos_gone(view: View, body: object) -> Iterator[Message]:
    """Each picture that a record names and the file does not hold."""
    for digest in getattr(body, "photos", ()):
        if not view.has_photo(digest):
            yield msg("history.photo_gone", digest=digest[:16])


def incidents_of(view: View, things: Iterable[tuple[str, str]] | None) -> tuple[Incident, ...]:
    """Incidents that name one of `things`, or all with None; oldest first."""
    found = all_incidents(view)
    if things is None:
        return found
    named = set(things)
    return tuple(one for one in found if named & set(one.things))


def incident_lines(found: Iterable[Incident]) -> Iterator[Message]:
    """Each incident, and whether the records of its things are held."""
    for one in found:
        known = {"incident": one.code, "happened_at": one.happened_at, "what": one.what, "where": one.where,
                 "items": tuple(code for _, code in one.things)}  # fmt: skip
        if one.open:
            yield msg("history.incident_open", **known)
        else:
            yield msg("history.incident_closed", closed_at=one.closed_at, reason=one.closed_reason, **known)
