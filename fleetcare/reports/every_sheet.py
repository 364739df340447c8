"""Every sheet of one item or of the fleet by its name: what window and command line print, made in one place."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fleetcare.domain.packs import Level, Person
from fleetcare.domain.procedures import Work, versions_in
from fleetcare.domain.wording import msg, say, word
from fleetcare.services import in_force, quarantine, resetting, summary, work_lists
from fleetcare.services.session import Clock
from fleetcare.services.shown import PackSummary
from fleetcare.store.store import Store

KINDS = (
    "pack",
    "blank",
    "round",
    "trip",
    "job",
    "quarantine_pack",
    "tag",
    "quarantine",
    "layup",
    "handover",
    "board",
    "claim",
    "plan",
    "van",
    "recall",
    "renewal",
    "reentry",
)
OF_ONE_PACK = ("pack", "trip", "job", "quarantine_pack", "tag", "claim")
"""Kinds that need the code of a pack."""
OF_ONE_PAPER = ("van", "recall")
"""Kinds that need a number: of a van list, of a maker's notice."""


WHO_MAY = Person("", "", (), Level.MAY_RELEASE)
"""Whoever may reset: a sheet is printed before it is known who does the work."""


@dataclass(frozen=True, slots=True)
class Order:
    """A sheet that is asked for: of which kind, of what, on which paper, printed by whom and when.

    `code` is a pack's, or the number of a van list or notice.  `numbers` are those of blank sheets, which were issued before.
    """

    kind: str
    page: str
    printed_by: str
    printed_at: dt.datetime
    code: str = ""
    numbers: tuple[str, ...] = ()


def write(order: Order, store: Store, clock: Clock, path: Path) -> PackSummary | None:
    """Write the sheet to `path`; returns what a pack's sheet told, to be kept when it is given out."""
    printed: dict[str, Any] = {
        "page": order.page,
        "printed_by": order.printed_by,
        "printed_at": order.printed_at,
    }
    match order.kind:
        case "pack":
            return _pack(order.code, store, clock, path, printed)
        case "job":
            _job(order.code, store, clock, path, printed)
        case "trip":
            _trip(order.code, store, clock, path, printed)
        case "quarantine_pack":
            from fleetcare.reports import quarantine_sheet

            page_of = quarantine.quarantine_page(store, clock, order.code)
            rules = in_force.sheet_rules(store, "quarantine", pack=order.code)
            quarantine_sheet.write(page_of, path, rules=rules, **printed)
        case "board":
            from fleetcare.reports import board_sheet

            board_sheet.write(summary.fleet_summary(store, clock), path, **printed)
        case "blank":
            from fleetcare.reports import blank

            line, _ = _procedure(store, Work.CHECK, "")
            blank.write(store.fleet_name, order.numbers, path, demo=store.demo, procedure=line,
                        stamp=work_lists.stamp(store, clock), **printed)  # fmt: skip
        case "claim":
            from fleetcare.reports import claim_sheet
            from fleetcare.services import claim_file

            rules = in_force.sheet_rules(store, "quarantine", pack=order.code)
            claim_sheet.write(claim_file.claim_file(store, clock, order.code), path, rules=rules, **printed)
        case "plan":
            from fleetcare.reports import plan_sheet
            from fleetcare.services.renewal import pair_told, renewal

            found = renewal(store, clock)
            rules = in_force.sheet_rules(store, "handover")
            plan_sheet.write(found, [pair_told(pair) for pair in found.pairs], path, rules=rules, **printed)
        case "van":
            from fleetcare.reports import van_sheet
            from fleetcare.services import van_lists

            rules = in_force.sheet_rules(store, "transport")
            van_sheet.write(van_lists.van_page(store, clock, order.code), path, rules=rules, **printed)
        case "recall":
            from fleetcare.reports import recall_sheet
            from fleetcare.services import recalling

            rules = in_force.sheet_rules(store, "recall")
            recall_sheet.write(recalling.recall_page(store, clock, order.code), path, rules=rules, **printed)
        case "renewal":
            from fleetcare.reports import renewal_sheet
            from fleetcare.services.renewal_summary import renewal_summary

            renewal_sheet.write(renewal_summary(store, clock), path, **printed)
        case "reentry":
            reentry(store, clock, path, **printed)
        case _:
            from fleetcare.reports import work_sheets

            work_sheets.write(order.kind, store, clock, path, code=order.code, **printed)
    return None


def reentry(
    store: Store, clock: Clock, path: Path, *, page: str, printed_by: str, printed_at: dt.datetime, missing: int = 0
) -> None:
    """Write the re-entry list: what may have been done after the last record; `missing` records at least."""
    from fleetcare.reports import reentry_sheet

    with store.view() as view:
        head = view.head()
        last = view.record_at(head.size)
        latest = view.latest_checks()
        packs = view.codes("pack")
    assert last is not None
    checks = {code: latest[code].done_at if code in latest else None for code in packs}
    reentry_sheet.write(
        summary.fleet_summary(store, clock), last.entered_at, missing, checks, path, page=page,
        fingerprint=head.short, printed_by=printed_by, printed_at=printed_at,
    )  # fmt: skip


def _pack(code: str, store: Store, clock: Clock, path: Path, printed: dict[str, Any]) -> PackSummary:
    from fleetcare.reports import pack_sheet

    page_of = summary.pack_summary(store, clock, code)
    pack_sheet.write(page_of, path, rules=in_force.sheet_rules(store, "check", pack=code), **printed)
    return page_of


def _job(code: str, store: Store, clock: Clock, path: Path, printed: dict[str, Any]) -> None:
    from fleetcare.reports import reset_job_sheet

    with store.view() as view:
        state = resetting.job_state(view, code)
    line, own = _procedure(store, Work.GUIDED_JOB, code)
    reset_job_sheet.write(
        state, path, fleet_name=store.fleet_name, demo=store.demo, stamp=work_lists.stamp(store, clock),
        rules=in_force.sheet_rules(store, "check", pack=code), procedure=line, own=own, **printed,
    )  # fmt: skip


def _trip(code: str, store: Store, clock: Clock, path: Path, printed: dict[str, Any]) -> None:
    from fleetcare.reports import trip_sheet
    from fleetcare.services.trip_facts import pack_trips

    line, own = _procedure(store, Work.RESET, code)
    trip_sheet.write(
        pack_trips(store, clock, code, WHO_MAY), path, stamp=work_lists.stamp(store, clock),
        procedure=in_force.newest(Work.RESET), version=line, own=own,
        rules=in_force.sheet_rules(store, "check", pack=code), **printed,
    )  # fmt: skip


def _procedure(store: Store, work: Work, code: str) -> tuple[str, str]:
    """The line that names the procedure in force, and what the depot adds to it."""
    with store.view() as view:
        depot = in_force.depot_of(view, None, code or None)
        own = in_force.site_text(view, depot, work)
        version = versions_in(in_force.in_force(view, work, None, code or None))[1]
    line = say(msg("procedure.sheet_version", work=word(f"procedure.work_{work.value}"), version=version))
    if own is None or not own.text:
        return line, ""
    return line, say(msg("procedure.sheet_own", depot=depot, text=own.text))
