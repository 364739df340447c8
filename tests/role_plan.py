"""The deeds of plan, lay-up, rules and board for the table of who may do what."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path

from fleetcare.domain.absences import Absence, Away
from fleetcare.domain.checks import CheckKind, RestBand, VoltageCheck
from fleetcare.domain.inspection_plans import EdgeSeen, InspectionDone
from fleetcare.domain.packs import InspectionPlan, Level, Pack, Roster
from fleetcare.domain.procedures import RuleSet, Work
from fleetcare.services import (
    absences,
    attendance,
    drafts,
    edges,
    inspecting,
    laying_up,
    passports,
    plan_settings,
    record,
    since_seen,
    site_texts,
    warranty,
)
from fleetcare.services.clock import TrustedClock
from fleetcare.services.conditions import STORED
from fleetcare.services.session import Author
from fleetcare.services.writing import Writer
from tests.kestrel import MONDAY, Kestrel
from tests.role_kinds import Deed, Ready, Who, both

D = Decimal
TODAY = MONDAY.date()
TYPED = drafts.Typed("P-1002", None, "rested_full", None, "41.5", "", "", "", None, "M-01", None, None)


def _stored(pack: str, volts: str, at: dt.datetime) -> VoltageCheck:
    return VoltageCheck(pack, CheckKind.STORED, RestBand.OVERNIGHT, D(volts), at, "M-01", bench_c=D("18"))


def _laid_up(made: Kestrel, _folder: Path) -> None:
    laying_up.lay_up(*both(made), made.author(), "winter", ("P-1011",))


def _not_leaking_now(made: Kestrel, _folder: Path) -> None:
    """A stored pack whose loss was noted once, and whose readings since say nothing of the kind."""
    record.put_things(*both(made), made.author("ORMOND"), ("pack", Pack("P-1030", "K36-A", shelf="Store")))
    for week in range(6, -1, -1):
        check = _stored("P-1030", str(D("38.10") + D("0.03") * week), MONDAY - dt.timedelta(days=7 * week))
        record.record_check(*both(made), made.author(), check)
    with made.store.transaction() as tx:
        seen = EdgeSeen("P-1030", STORED, MONDAY, TODAY, 3, "storage-1")
        Writer(tx, made.author(), MONDAY).add("edge_seen", seen, MONDAY)


def _inspected(found: str = "", kind: str = "yearly") -> object:
    done = InspectionDone(kind, None, "CB-01", MONDAY, found)
    return lambda m, a, _r: inspecting.record_inspection(*both(m), a, done)


def _strict_plan(made: Kestrel, _folder: Path) -> None:
    plan = InspectionPlan("YEARLY", "yearly", every_days=365, source="the maker", level=Level.MAY_RELEASE)
    plan_settings.put_plan(*both(made), made.author("ORMOND"), plan)


def _absent(own: bool) -> object:
    def deed(made: Kestrel, author: Author, _ready: Ready) -> object:
        person = author.person.code if own else "PIKE"
        absence = Absence(person, "", TODAY, TODAY, MONDAY, "leave")
        return absences.record_absence(*both(made), author, absence)

    return deed


def _purchase(made: Kestrel, author: Author, _ready: Ready) -> object:
    return warranty.record_purchase(
        *both(made), author, "P-1011", bought_on="2026-01-05", months="24", clause="", invoice="INV-1", price="410"
    )


def _clock(made: Kestrel) -> TrustedClock:
    return TrustedClock(made.store, made.clock)


PLAN: tuple[Deed, ...] = (
    Deed("absences.record_absence", "note the own absence, or take it back", Who.ANYONE, _absent(own=True)),
    Deed("absences.record_absence", "note another's absence or a depot's closing days", Who.RELEASE_OR_DESK,
         _absent(own=False), note="a reason"),
    Deed("absences.record_away", "note that a vehicle is away", Who.RELEASE_OR_DESK,
         lambda m, a, _r: absences.record_away(*both(m), a, Away("EB-12", TODAY, TODAY, MONDAY, "on hire")),
         note="a reason"),
    Deed("attendance.record_at_work", "note who is at work today", Who.ANYONE,
         lambda m, a, _r: attendance.record_at_work(*both(m), a, TODAY, ("DUNN",))),
    Deed("since_seen.mark_seen", "tick off what changed on the board", Who.ANYONE,
         lambda m, a, _r: since_seen.mark_seen(*both(m), a.person.code, 5), note="each for themselves",
         keeps_record=False),
    Deed("plan_settings.put_plan", "change an inspection plan", Who.MANAGER,
         lambda m, a, _r: plan_settings.put_plan(
             *both(m), a, InspectionPlan("YEARLY", "yearly", every_days=180, source="the maker")), note="its source"),
    Deed("plan_settings.put_hours", "change a person's hours for checks", Who.MANAGER,
         lambda m, a, _r: plan_settings.put_hours(*both(m), a, Roster("DUNN", "KW", (60,) * 5 + (0, 0)))),
    Deed("plan_settings.put_calendar", "choose whose public holidays hold at a depot", Who.MANAGER,
         lambda m, a, _r: plan_settings.put_calendar(*both(m), a, "KW", "GB", "ENG")),
    Deed("edges.read_edges", "read the projections into the plan", Who.MAY_CHECK,
         lambda m, a, _r: edges.read_edges(*both(m), a)),
    Deed("edges.note_storage", "note whether a stored pack loses more than is usual", Who.MAY_CHECK,
         lambda m, a, _r: edges.note_storage(*both(m), a, "P-1030"), _not_leaking_now,
         note="with the look at it, by itself"),
    Deed("inspecting.record_inspection", "keep an inspection of a plan that finds nothing", Who.MAY_CHECK,
         _inspected(), note="the level that its plan asks for, where that is another"),
    Deed("inspecting.record_inspection", "keep one whose plan asks for more", Who.MAY_RELEASE, _inspected(),
         _strict_plan),
    Deed("inspecting.record_inspection", "keep one that finds something", Who.ANYONE, _inspected("brake cable frayed"),
         _strict_plan, note="it holds it"),
    Deed("laying_up.lay_up", "lay packs up", Who.MAY_CHECK,
         lambda m, a, _r: laying_up.lay_up(*both(m), a, "winter", ("P-1011", "P-1012"))),
    Deed("laying_up.record_storage_look", "look at a laid-up pack", Who.MAY_CHECK,
         lambda m, a, _r: laying_up.record_storage_look(*both(m), a, _stored("P-1011", "37.20", MONDAY)), _laid_up),
    Deed("laying_up.take_out", "take packs out of lay-up", Who.MAY_CHECK,
         lambda m, a, _r: laying_up.take_out(*both(m), a, ("P-1011",)), _laid_up,
         note="none goes out before a full check"),
    Deed("site_texts.record_rules", "choose the rules that a depot follows", Who.MANAGER,
         lambda m, a, _r: site_texts.record_rules(*both(m), a, "KW", RuleSet.UK, "")),
    Deed("site_texts.record_site_text", "add the depot's own text to a procedure", Who.MANAGER,
         lambda m, a, _r: site_texts.record_site_text(*both(m), a, "KW", Work.CHECK, "Gloves lie in drawer 1.")),
    Deed("warranty.record_purchase", "record the purchase of a pack", Who.MANAGER, _purchase),
    Deed("passports.record_passport", "keep the passport code of a pack", Who.MAY_CHECK,
         lambda m, a, _r: passports.record_passport(*both(m), a, "P-1011", "https://passport.example/P-1011")),
    Deed("drafts.keep", "keep what is typed and not saved", Who.ANYONE,
         lambda m, a, _r: drafts.keep(m.store, a.person.code, a.station, "draft-9", MONDAY, TYPED),
         keeps_record=False),
    Deed("drafts.forget", "throw the own draft away", Who.ANYONE, lambda m, _a, _r: drafts.forget(m.store, "draft-9"),
         keeps_record=False),
    Deed("clock.TrustedClock.answer_right", "say that this PC's clock is right", Who.ANYONE,
         lambda m, a, _r: _clock(m).answer_right(a)),
    Deed("clock.TrustedClock.answer_corrected", "correct this PC's clock", Who.ANYONE,
         lambda m, a, _r: _clock(m).answer_corrected(a, MONDAY), note="every record made by it says so"),
)  # fmt: skip
