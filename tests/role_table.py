"""Who may do what: every deed of the services, by role and level.

One line a deed.  A new deed fails `tests/services/test_roles.py` until it has a line here: its name, what it is
in words, who may, how to do it once, and what must be on record before.  `python -m tests.role_table`
writes docs/roles.md from the same lines.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

from fleetcare import services
from fleetcare.domain.chargers import ChargedOn
from fleetcare.domain.checks import (
    CheckKind,
    FoundIn,
    Hold,
    HoldClass,
    LookItem,
    LookOver,
    Release,
    RestBand,
    Trip,
    TripCause,
    VoltageCheck,
)
from fleetcare.domain.fault_tree import FaultWalk, Outcome
from fleetcare.domain.fuses import Body, FuseSpec, FuseWork, Position
from fleetcare.domain.intake import Report, Story
from fleetcare.domain.packs import Depot, Level, Pack, PackStanding, Person, Role, ServiceNotes
from fleetcare.domain.proving import MeterProof
from fleetcare.domain.quarantine import Collected, QuarantineLook, TransportHead
from fleetcare.domain.reset_job import STEPS, Pause, Stop
from fleetcare.domain.wording import msg
from fleetcare.services import (
    charging,
    commissioning,
    describing,
    drafts,
    fault_finding,
    fusing,
    importing,
    label_sheets,
    labelling,
    measured,
    meters,
    oldsheets,
    parked,
    people,
    policy,
    proving,
    quarantine,
    record,
    reporting,
    resetting,
    setting_up,
    sheets,
    summary,
    vehicle_lists,
)
from fleetcare.services.session import Author
from tests.kestrel import K36, MONDAY, PEOPLE, SITE, Kestrel
from tests.role_cases import CASES, looked_over
from tests.role_kinds import BADGE, BY_ITSELF, COMMAND_LINE_ONLY, EVERYBODY, SET_UP, Deed, Ready, Who, both
from tests.role_life import LIFE
from tests.role_plan import PLAN

D = Decimal


# what must be on record before


def _written(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, "utf-8")
    return path


def _shown(made: Kestrel, folder: Path, pack: str = "P-1004") -> oldsheets.Preview:
    path = _written(folder, f"{pack}.csv", f"pack,date,volts\n{pack},2026-09-01,41.5\n")
    return oldsheets.preview(*both(made), path, oldsheets.survey(made.store, path).plan)


def _brought(made: Kestrel, folder: Path) -> str | None:
    return oldsheets.bring_in(*both(made), made.author(), _shown(made, folder, "P-77")).batch


def _first_check(made: Kestrel, _folder: Path) -> str:
    return summary.pack_summary(*both(made), "P-1003").checks[0].record_id


def _grounded(made: Kestrel, _folder: Path) -> str:
    brake = Hold("vehicle", "CB-06", HoldClass.FAULT, MONDAY, msg("ground.by_person"), "brake")
    record.set_hold(*both(made), made.author(), brake)
    with made.store.view() as view:
        held = view.open_holds(("vehicle", "CB-06"))[0].hold_id
    looked_over(made)
    return held


def _smelt(made: Kestrel, _folder: Path) -> None:
    found = LookOver("P-1009", MONDAY, None, (LookItem.SMELL,))
    record.record_look_over(*both(made), made.author(), found, (), "Q-2")


def _fuses(made: Kestrel, _folder: Path) -> None:
    model = replace(K36, reset_note="Draw the fuse, wait a minute, re-seat it.", fuse_a=D("30"), fuse_dc_v=D("58"))
    notes = ServiceNotes("K36-A", fuse_body="type_c", reset_by_fuse=True)
    record.put_things(*both(made), made.author("ORMOND"), ("pack_model", model), ("service_notes", notes))


def _tripped(made: Kestrel, folder: Path) -> str:
    _fuses(made, folder)
    told = Report("P-1002", "EB-12", MONDAY, Story.CUT_OUT_HILL, charger="C-36-1")
    steep = reporting.Judgement(TripCause.OVER_CURRENT, True, "steep ramp")
    reporting.record_report(*both(made), made.author(), told, steep)
    with made.store.view() as view:
        return view.trips()[-1].record_id


def _by_button(made: Kestrel, folder: Path) -> str:
    """Tripped, of a model whose maker resets by another way than a fuse, so that no guided job ticks the steps."""
    trip = _tripped(made, folder)
    record.put_things(*both(made), made.author("ORMOND"),
                      ("service_notes", ServiceNotes("K36-A", fuse_body="type_c", reset_by_fuse=False)))  # fmt: skip
    return trip


def _begun(made: Kestrel, folder: Path) -> resetting.JobState:
    _tripped(made, folder)
    state, _ = resetting.begin_job(*both(made), made.author(), "P-1002")
    return state


def _ticked(made: Kestrel, folder: Path) -> resetting.JobState:
    state = _begun(made, folder)
    for pause in Pause:
        state = resetting.keep_ticks(*both(made), made.author(), state, pause, STEPS[pause])
    return state


def _draft(made: Kestrel, _folder: Path) -> str:
    with made.store.transaction() as tx:
        tx.save_draft("draft-1", "PIKE", "BENCH-1", "P-1002", MONDAY, "{}")
    return "draft-1"


def _issued(made: Kestrel, _folder: Path) -> str:
    return sheets.issue(*both(made), 1, made.author(), "BENCH-1")[0]


def _other_place(made: Kestrel, _folder: Path) -> dict[str, str]:
    return setting_up.form_page(made.store, "vehicle", "EB-12").typed | {"bay_place": "row 7"}


CELLS = """cell_id,cycle,elapsed_days,check_kind,volts,temperature_c,load_a,rest_h,load_s,note
K1,1,0,rested_full,4.18,24,,4,,
K1,2,30,rested_full,4.17,24,,4,,
"""


# the deeds


def _check(made: Kestrel, author: Author, _ready: Ready) -> object:
    check = VoltageCheck("P-1002", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.50"), MONDAY, "M-01", "EB-12")
    return record.record_check(*both(made), author, check, LookOver("P-1002", MONDAY, "EB-12"))


def _hold(made: Kestrel, author: Author, _ready: Ready) -> object:
    hold = Hold("pack", "P-1005", HoldClass.FAULT, MONDAY, msg("ground.by_person"), "loose latch")
    return record.set_hold(*both(made), author, hold)


def _line(made: Kestrel, author: Author, number: Ready) -> object:
    entry = sheets.SheetEntry(
        number, 1, "P-1003", "PIKE", MONDAY, "M-01", RestBand.HOURS_1_3, D("41.38"), look_found=()
    )
    return sheets.enter_line(*both(made), author, entry)


def _fuse(fitted: bool) -> Callable[[Kestrel, Author, Ready], object]:
    def deed(made: Kestrel, author: Author, _ready: Ready) -> object:
        spec = FuseSpec(D("30"), D("58"), Body.TYPE_C, "FB-30-58") if fitted else None
        work = FuseWork("P-1008", "EB-18", MONDAY, Position.DISCHARGE, True, "lead pinched", False, spec)
        return fusing.record_fuse(*both(made), author, work, author.person.badge)

    return deed


def _walk(outcome: Outcome, *steps: tuple[str, str], volts: str | None = None) -> Callable[..., object]:
    def deed(made: Kestrel, author: Author, _ready: Ready) -> object:
        readings = () if volts is None else ((steps[-1][0], D(volts)),)
        walk = FaultWalk("P-1002", "EB-12", MONDAY, steps, outcome, "", readings)
        return fault_finding.record_walk(*both(made), author, walk)

    return deed


def _commission(made: Kestrel, author: Author, _ready: Ready) -> object:
    new = commissioning.NewPack(
        "P-1015", "K36-A", "2609-0001", ("EN 62133-2",), "INV-2211", None, "none", "C-36-1", (), "camera broken"
    )
    first = VoltageCheck("P-1015", CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("41.70"), MONDAY, "M-01", None,
                         D("40.50"), D("8"), 10, D("20"))  # fmt: skip
    return commissioning.commission(*both(made), author, new, first, LookOver("P-1015", MONDAY))


def _collect(made: Kestrel, author: Author, _ready: Ready) -> object:
    heads = tuple((head.value, "found") for head in TransportHead)
    collected = Collected("P-1009", MONDAY, carrier="Northfield Carriers", consignment="NC-4410", heads=heads)
    return quarantine.record_collection(*both(made), author, author.person.badge, collected)


def _lodge(made: Kestrel, author: Author, _ready: Ready) -> object:
    with made.store.view() as view:
        head = view.head()
    return proving.lodge(*both(made), author, head, proving.MEANS[0], "the broker")


def _condition(made: Kestrel, author: Author, _ready: Ready) -> object:
    return policy.record_condition(
        *both(made), author, text="Inspect weekly.", policy="FL-1", from_date=MONDAY.date(), to_date=None,
        shown_by=next(iter(policy.SHOWN_BY)),
    )  # fmt: skip


def _finish(made: Kestrel, author: Author, state: Ready) -> object:
    readings = resetting.JobReadings(D("41.40"), True, "M-01", D("39.90"), D("8"))
    return resetting.finish_job(*both(made), author, state, readings, author.person.badge)


def _put(thing_class: str, thing: Any) -> Callable[[Kestrel, Author, Ready], object]:
    return lambda made, author, _ready: record.put_things(*both(made), author, (thing_class, thing))


def _told(made: Kestrel, author: Author, _ready: Ready) -> object:
    return record.record_told(*both(made), author, "pack sheet", summary.pack_summary(*both(made), "P-1002"))


TABLE: tuple[Deed, ...] = (
    Deed("record.record_check", "save a check", Who.MAY_CHECK, _check),
    Deed("record.correct_check", "correct a check", Who.MAY_CHECK,
         lambda m, a, of: record.correct_check(*both(m), a, of, "slip", None), _first_check),
    Deed("record.record_look_over", "record a visual inspection that finds nothing", Who.MAY_CHECK,
         lambda m, a, _r: record.record_look_over(*both(m), a, LookOver("P-1006", MONDAY))),
    Deed("record.record_look_over", "report a danger seen", Who.ANYONE,
         lambda m, a, _r: record.record_look_over(*both(m), a, LookOver("P-1007", MONDAY, None, (LookItem.SMELL,)))),
    Deed("record.record_trip", "record a trip", Who.MAY_CHECK,
         lambda m, a, _r: record.record_trip(*both(m), a, Trip("P-1008", None, MONDAY, TripCause.OVER_CURRENT, True))),
    Deed("record.set_hold", "ground a vehicle, hold a pack or charger", Who.ANYONE, _hold),
    Deed("record.release_hold", "release what is grounded or held", Who.MAY_RELEASE,
         lambda m, a, hold: record.release_hold(*both(m), a, Release(hold, MONDAY, "mended")), _grounded,
         note="a reason, in the window badge or PIN; a pack also a passed check since, a vehicle an inspection; a pack's danger never"),
    Deed("record.record_found_in", "note where a pack was found", Who.ANYONE,
         lambda m, a, _r: record.record_found_in(*both(m), a, FoundIn("P-1009", None, MONDAY))),
    Deed("record.put_things", "change the standing, purchase or pairing rule of one on record", Who.MANAGER,
         _put("pack", Pack("P-1002", "K36-A", "2403-0502", standing=PackStanding.RETIRED)),
         note="or the deed that is made for it"),
    Deed("record.put_things", "add or change a pack, vehicle, charger, meter or depot", Who.ANYONE,
         _put("depot", Depot("KW", "Kestrel Wharf East")), note="every change is on record"),
    Deed("record.put_things", "add or change a pack model", Who.MANAGER, _put("pack_model", replace(K36, wake_note="x")),
         note=SET_UP),
    Deed("record.put_things", "change what the maker describes for the workshop", Who.MANAGER,
         _put("service_notes", ServiceNotes("K36-A", reset_by_fuse=True)), note=SET_UP),
    Deed("record.put_things", "change the site's settings", Who.MANAGER, _put("site_rules", replace(SITE, name="K")),
         note=SET_UP),
    Deed("record.put_things", "keep what a pack's note says", Who.ANYONE, _put("pack", Pack("P-1002", "K36-A", note="x"))),
    Deed("record.record_told", "keep what a printed sheet said", Who.ANYONE, _told),
    Deed("people.put_person", "add a person, change roles, level or badge", Who.MANAGER,
         lambda m, a, _r: people.put_person(*both(m), a, Person("NEW", "New", (Role.MECHANIC,), badge="B-900")),
         note="never the own level or roles"),
    Deed("people.set_pin", "set the own PIN", Who.ANYONE,
         lambda m, a, _r: people.set_pin(*both(m), a, a.person.code, "4711")),
    Deed("people.set_pin", "set or take away another's PIN", Who.MANAGER,
         lambda m, a, _r: people.set_pin(*both(m), a, "PIKE", None)),
    Deed("reporting.record_report", "report what a rider tells", Who.ANYONE,
         lambda m, a, _r: reporting.record_report(*both(m), a, Report("P-1002", "EB-12", MONDAY, Story.CUT_OUT_HILL))),
    Deed("reporting.record_report", "judge a trip while reporting it", Who.MAY_RELEASE,
         lambda m, a, _r: reporting.record_report(
             *both(m), a, Report("P-1002", "EB-12", MONDAY, Story.CUT_OUT_HILL),
             reporting.Judgement(TripCause.OVER_CURRENT, True, "steep"))),
    Deed("reporting.judge_trip", "say why a trip happened", Who.MAY_RELEASE,
         lambda m, a, trip: reporting.judge_trip(
             *both(m), a, trip, reporting.Judgement(TripCause.OVER_CURRENT, True, "steep")), _tripped),
    Deed("reporting.record_reset", "note a reset", Who.MAY_RELEASE,
         lambda m, a, _r: reporting.record_reset(*both(m), a, "P-1002", a.person.badge, True), _by_button, note=BADGE),
    Deed("resetting.begin_job", "begin a guided reset", Who.MAY_RELEASE,
         lambda m, a, _r: resetting.begin_job(*both(m), a, "P-1002"), _tripped),
    Deed("resetting.keep_ticks", "tick the steps of a guided reset", Who.MAY_RELEASE,
         lambda m, a, state: resetting.keep_ticks(*both(m), a, state, Pause.PREPARE, 1), _begun, keeps_record=False),
    Deed("resetting.finish_job", "finish a guided reset", Who.MAY_RELEASE, _finish, _ticked, note=BADGE),
    Deed("resetting.stop_job", "stop a guided reset", Who.ANYONE,
         lambda m, a, state: resetting.stop_job(*both(m), a, state, Stop.SPARK), _begun),
    Deed("fusing.record_fuse", "note what a fuse looks like", Who.MAY_CHECK, _fuse(fitted=False), _fuses),
    Deed("fusing.record_fuse", "change a fuse", Who.MAY_RELEASE, _fuse(fitted=True), _fuses, note=BADGE),
    Deed("fault_finding.record_walk", "keep a fault-finding walk that holds", Who.MAY_CHECK,
         _walk(Outcome.PULL, ("r2", "collapses"), volts="12.4")),
    Deed("charging.record_charge", "note which charger a pack is on", Who.ANYONE,
         lambda m, a, _r: charging.record_charge(*both(m), a, ChargedOn("P-1002", "C-36-1", MONDAY))),
    Deed("charging.record_output", "test a charger's output", Who.MAY_CHECK,
         lambda m, a, _r: charging.record_output(*both(m), a, "C-36-1", "M-01", D("42.0"))),
    Deed("quarantine.record_look", "note the daily look at a quarantined pack", Who.ANYONE,
         lambda m, a, _r: quarantine.record_look(*both(m), a, QuarantineLook("P-1009", MONDAY, False)), _smelt),
    Deed("quarantine.record_collection", "hand a pack to a carrier and write it off", Who.RELEASE_OR_MANAGER, _collect,
         _smelt, note=BADGE),
    Deed("commissioning.commission", "take a new pack into service", Who.MAY_CHECK, _commission),
    Deed("labelling.reissue_label", "make the next label of a pack", Who.MAY_CHECK,
         lambda m, a, _r: labelling.reissue_label(*both(m), a, "P-1003", "worn")),
    Deed("labelling.report_twin", "report two packs with one label", Who.ANYONE,
         lambda m, a, _r: labelling.report_twin(*both(m), a, "P-1003", "", "K36-A")),
    Deed("labelling.take_in_unknown", "take in a pack nobody knows", Who.ANYONE,
         lambda m, a, _r: labelling.take_in_unknown(*both(m), a, "K36-A")),
    Deed("label_sheets.record_labels", "print labels", Who.CHECK_OR_MANAGER,
         lambda m, a, _r: label_sheets.record_labels(*both(m), a, label_sheets.labels_for(m.store, "pack", ["P-1003"]), 1)),
    Deed("meters.record_proof", "prove a meter", Who.MAY_CHECK,
         lambda m, a, _r: meters.record_proof(
             *both(m), a, MeterProof("M-02", MONDAY, "voltage standard", D("41.00"), D("0.01"), D("41.05"), None))),
    Deed("meters.mark_found_out", "mark a meter as found out", Who.MAY_CHECK,
         lambda m, a, _r: meters.mark_found_out(*both(m), a, "M-02", "dropped")),
    Deed("sheets.issue", "print paper sheets", Who.ANYONE,
         lambda m, a, _r: sheets.issue(*both(m), 1, a, "BENCH-1"), note="without signing in, too"),
    Deed("sheets.enter_line", "enter a line of a paper sheet", Who.MAY_CHECK, _line, _issued,
         note="whoever did the check must have been allowed on that day"),
    Deed("drafts.discard", "throw away a colleague's draft", Who.MAY_RELEASE,
         lambda m, a, draft: drafts.discard(*both(m), a, draft), _draft, note="the own one: anyone", keeps_record=False),
    Deed("importing.import_checks", "import a table of checks", Who.MAY_CHECK,
         lambda m, a, path: importing.import_checks(*both(m), a, path),
         lambda _m, f: _written(f, "t.csv", "pack,done_at,rested_v,meter,rest min\nP-1002,2026-09-01,41.5,M-01,90\n")),
    Deed("importing.take_back", "take an import back", Who.MAY_CHECK,
         lambda m, a, batch: importing.take_back(*both(m), a, batch, "wrong"), _brought),
    Deed("oldsheets.bring_in", "bring in an old spreadsheet", Who.MAY_CHECK,
         lambda m, a, shown: oldsheets.bring_in(*both(m), a, shown), _shown),
    Deed("parked.settle", "settle parked rows", Who.MAY_CHECK,
         lambda m, a, _r: parked.settle(*both(m), a, "P-77", "P-1010"), _brought),
    Deed("measured.import_measured", "import measured cell histories", Who.MAY_CHECK,
         lambda m, a, path: measured.import_measured(*both(m), a, path, series=10),
         lambda _m, f: _written(f, "cells.csv", CELLS), note="they bring a pack model of their own"),
    Deed("describing.import_fleet", "import a description of the fleet", Who.MANAGER,
         lambda m, a, path: describing.import_fleet(*both(m), a, path),
         lambda _m, f: _written(f, "f.toml", VEHICLE)),
    Deed("setting_up.record_thing", "set up a depot, pack model, vehicle, charger, meter, test load or the settings", Who.MANAGER,
         lambda m, a, typed: setting_up.record_thing(*both(m), a, "vehicle", typed, "EB-12"), _other_place),
    Deed("vehicle_lists.record_list", "record a list of vehicles", Who.MANAGER,
         lambda m, a, shown: vehicle_lists.record_list(*both(m), a, shown),
         lambda m, _f: vehicle_lists.read_text(*both(m), "EB-99, e-bike, KW, WX1", "K36-A")),
    Deed("proving.lodge", "record a lodged fingerprint", Who.MANAGER, _lodge),
    Deed("policy.record_condition", "record a condition of the policy", Who.MANAGER, _condition),
    *(Deed(function, words, Who[who], do, prepare, note) for function, words, who, do, prepare, note in CASES),
    *LIFE,
    *PLAN,
)  # fmt: skip

VEHICLE = """
[[vehicle]]
code = "EB-98"
kind = "e_bike"
depot = "KW"
voltage_class_v = 36
connector = "K2"
"""

MODEL = """
[[pack_model]]
code = "L36"
name = "L36"
chemistry = "NMC"
series_count = 10
voltage_class_v = 36
full_v = "42.0"
capacity_ah = "15"
connector = "K2"
"""


MAKES_A_FILE = {"demo.build"}
"""What writes into a file that nobody has opened yet, for nobody."""


def deeds_in_services() -> set[str]:
    """The deeds: every public function or method of the services that takes an author, or writes without one."""
    found = set()
    for module in pkgutil.iter_modules(services.__path__):
        loaded = importlib.import_module(f"fleetcare.services.{module.name}")
        for name, one in vars(loaded).items():
            if name.startswith("_") or getattr(one, "__module__", "") != loaded.__name__:
                continue
            if inspect.isclass(one):
                found |= {f"{module.name}.{name}.{method}" for method in _methods(one)}
            elif inspect.isfunction(one):
                wanted = inspect.signature(one).parameters
                if {"store", "author"} <= wanted.keys() or ".transaction(" in inspect.getsource(one):
                    found.add(f"{module.name}.{name}")
    return found - MAKES_A_FILE


def _methods(cls: type) -> Iterator[str]:
    for name, one in vars(cls).items():
        if inspect.isfunction(one) and not name.startswith("_") and "author" in inspect.signature(one).parameters:
            yield name


def with_everybody(made: Kestrel) -> Kestrel:
    """The depot with one person of every role and level on record."""
    record.put_things(*both(made), made.author("ORMOND"), *[("person", p) for p in EVERYBODY])
    made.people |= {person.code: person for person in EVERYBODY} | PEOPLE
    return made


def page() -> str:
    """docs/roles.md."""
    marks = {True: "yes", False: "–"}
    columns = {
        "anyone": Person("", "", (Role.MECHANIC,)),
        "may check": Person("", "", (Role.MECHANIC,), Level.MAY_CHECK),
        "may reset and release": Person("", "", (Role.MECHANIC,), Level.MAY_RELEASE),
        "dispatcher": Person("", "", (Role.DISPATCHER,)),
        "manager": Person("", "", (Role.MANAGER,)),
    }
    lines = [
        "# Who may do what", "",
        "Levels are held by a person on a day (*People*), roles are what a person does; one may hold several. Whoever may "
        "reset and release may check as well. What a person may do is read from the record at the moment of the deed, "
        "so a level taken away counts at once. Reading, printing and backing up are open to everybody.", "",
        f"| deed | {' | '.join(columns)} | also asked |", f"|---|{'---|' * len(columns)}---|",
    ]  # fmt: skip
    for deed in TABLE:
        said = " | ".join(marks[deed.who.allows(person)] for person in columns.values())
        where = "at the command line" if deed.words in COMMAND_LINE_ONLY else BY_ITSELF.get(deed.words, "")
        note = "; ".join(filter(None, (deed.note if deed.note not in where else "", where)))
        lines.append(f"| {deed.words} | {said} | {note} |")
    lines += [
        "", "“Anyone” is anyone who is signed in. The table is `tests/role_table.py`, and every line of it is tried with every "
        "role and every level, in the program and at the window or the command line; this page is made from it by "
        "`python -m tests.role_table`.", "",
    ]  # fmt: skip
    return "\n".join(lines)


if __name__ == "__main__":
    (Path(__file__).parents[1] / "docs" / "roles.md").write_text(page(), "utf-8")
