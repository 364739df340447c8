"""Labels: which identities, in which issue, and the record that they were printed."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import dataclass

from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.label_stock import LabelStock
from fleetcare.domain.labels import label_text, with_check
from fleetcare.domain.packs import Level, Person, Role
from fleetcare.domain.records import LabelPrinted
from fleetcare.domain.wording import msg, word
from fleetcare.services.identify import label_issue
from fleetcare.services.people import has_role, level_of
from fleetcare.services.session import Author, Clock
from fleetcare.services.shown import Recorded
from fleetcare.services.writing import Writer
from fleetcare.store import proving
from fleetcare.store.store import Store, View

CLASSES = ("pack", "vehicle", "charger", "meter", "person")
PASSPORT = "passport"
KINDS = (*CLASSES, PASSPORT)
"""What labels are made of: identities, and copies of the code of a pack's EU battery passport, which identify nothing here."""
COPIES = 2
"""Two labels a pack: one where it is seen in the vehicle, one where it is seen on the shelf (common practice)."""


@dataclass(frozen=True, slots=True)
class Label:
    """What is labelled: `text` is what the code holds, `shown` what people read; a copy of a passport's code is no issue (0)."""

    thing_class: str
    code: str
    text: str
    shown: str
    line: str
    issue: int


def labels_for(store: Store, thing_class: str, codes: Sequence[str]) -> tuple[Label, ...]:
    """The labels of `codes`, or of all of the class when none is named, with the issue they carry.

    EntryRefused for a code that is not on record, a person without a badge, a pack without a passport.
    """
    if thing_class == PASSPORT:
        return _passports(store, codes)
    with store.view() as view:
        things = view.people() if thing_class == "person" else view.things(thing_class)
        wanted = [code.strip().upper() for code in codes if code.strip()] or sorted(things)
        what = msg(f"labels.class_{thing_class}")
        if not wanted:
            raise EntryRefused("labels.nothing", field="codes", what=what)
        found = []
        for code in dict.fromkeys(wanted):
            thing = things.get(code)
            if thing is None:
                raise EntryRefused("labels.unknown", field="codes", code=code, what=what)
            marked = thing.badge if isinstance(thing, Person) else code
            if not marked and codes:
                raise EntryRefused("labels.no_badge", field="codes", code=code)
            if marked:
                line = thing.name if isinstance(thing, Person) else word(f"class.{thing_class}")
                issue = issue_to_print(view, thing_class, code)
                text = label_text(code, issue) if thing_class == "pack" else with_check(marked)
                found.append(Label(thing_class, code, text, text, line, issue))
        return tuple(found)


def _passports(store: Store, codes: Sequence[str]) -> tuple[Label, ...]:
    with store.view() as view:
        packs = view.things("pack")
    wanted = [code.strip().upper() for code in codes if code.strip()]
    for code in wanted:
        if code not in packs:
            raise EntryRefused("labels.unknown", field="codes", code=code, what=msg("labels.class_pack"))
        if not packs[code].passport:
            raise EntryRefused("labels.no_passport", field="codes", code=code)
    kept = [one for code in dict.fromkeys(wanted or sorted(packs)) if (one := packs[code]).passport]
    if not kept:
        raise EntryRefused("labels.nothing", field="codes", what=msg("labels.class_passport"))
    return tuple(Label(PASSPORT, one.code, one.passport, one.code, word("labels.passport_line"), 0) for one in kept)


def issue_to_print(view: View, thing_class: str, code: str) -> int:
    """The issue that the next printed label carries.

    A pack has one count: the issue that stands, so that printing again makes a copy and voids nothing; a new
    issue is made, with its reason, where identities are kept.  Of other things each printing is an issue.
    """
    if thing_class == "pack":
        newest = label_issue(view, code)
        return 1 if newest is None else newest.issue
    issues = [
        record.body.issue
        for _, record in proving.touching(view, thing_class, code)
        if isinstance(record.body, LabelPrinted)
    ]
    return max(issues, default=0) + 1


def may_label(author: Author, now: dt.datetime, view: View | None = None) -> None:
    """Raises NotAllowed unless the author is a manager or may check on that day; `view` as in `may_check`."""
    if not has_role(view, author, Role.MANAGER) and not level_of(view, author, now).covers(Level.MAY_CHECK):
        raise NotAllowed("labels.not_allowed", person=author.person.name, on_date=now.date())


def record_labels(store: Store, clock: Clock, author: Author, labels: Sequence[Label], copies: int) -> Recorded:
    """Record that the labels were printed; EntryRefused when another issue was printed meanwhile."""
    now = clock()
    with store.transaction() as tx:
        may_label(author, now, tx)
        writer = Writer(tx, author, now)
        for one in labels:
            if one.thing_class == PASSPORT:
                continue
            if issue_to_print(tx, one.thing_class, one.code) != one.issue:
                raise EntryRefused("labels.issue_moved", field="codes", code=one.code)
            writer.add("label_printed", LabelPrinted(one.thing_class, one.code, one.issue, copies, now), now)
        return writer.recorded(msg("labels.recorded", count=len(labels)))


def parse_copies(typed: str) -> int:
    """How many labels of each, 1 to 20; EntryRefused for anything else."""
    if not typed.strip().isdecimal() or not 1 <= int(typed) <= 20:
        raise EntryRefused("labels.copies_wrong", field="copies", typed=typed[:20])
    return int(typed)


def parse_first(typed: str, stock: LabelStock) -> int:
    """The first free place on a sheet, from 1; EntryRefused for a place that is not on it."""
    if not typed.strip().isdecimal() or not 1 <= int(typed) <= stock.per_page:
        raise EntryRefused("labels.first_wrong", field="first", typed=typed[:20], most=stock.per_page)
    return int(typed)


def parse_measures(typed: str) -> LabelStock:
    """Stock by measures as typed; EntryRefused with the form that is wanted.

    "50x30" are single labels; "70x37, 3x8, 0, 0.5, 70, 37, A4" a sheet: size, columns x rows, left,
    top, pitch across, pitch down, page.
    """
    parts = [one.strip() for one in typed.replace("×", "x").split(",")]
    try:
        width, height = (_measure(side) for side in re.split(r"\s*x\s*", parts[0].lower()))
        if len(parts) == 1:
            return LabelStock("own", width, height)
        if len(parts) != 7:
            raise ValueError(typed)
        columns, rows = (int(count) for count in re.split(r"\s*x\s*", parts[1].lower()))
        left, top, across, down = (_measure(one) for one in parts[2:6])
        page = {"a4": "A4", "letter": "Letter"}[parts[6].lower()]
    except (ValueError, KeyError, IndexError):
        raise EntryRefused("labels.not_measures", field="measures", typed=typed[:60]) from None
    return LabelStock("own", width, height, page, columns, rows, left, top, across, down)


def _measure(text: str) -> float:
    number = float(text)
    if not 0 <= number < 1000:
        raise ValueError(text)
    return number
