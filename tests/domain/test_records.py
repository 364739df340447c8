"""Canonical bytes: frozen for good, and read back as what was written."""

import datetime as dt
from dataclasses import dataclass, replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import (
    absences,
    attendance,
    away,
    bays,
    chargers,
    checks,
    decisions,
    disposing,
    extensions,
    fault_tree,
    fuses,
    hire_return,
    identity,
    incidents,
    inspection_plans,
    inspections,
    intake,
    laying_up,
    packs,
    paper_sheets,
    parts,
    procedures,
    proving,
    quarantine,
    recalls,
    records,
    replacing,
    reset_job,
    trips,
    vans,
    verdicts,
    water,
)
from fleetcare.domain.added_later import added_later
from fleetcare.domain.oldrows import OldReading
from fleetcare.domain.packs import Charger, Chemistry, PackModel
from fleetcare.domain.records import (
    BODY_CLASSES,
    BatchVoided,
    CheckCorrected,
    CheckJudged,
    FingerprintLodged,
    FleetFounded,
    ImportBatch,
    LabelPrinted,
    ParkedSettled,
    PolicyCondition,
    Record,
    RowParked,
    SheetImport,
    ThingPut,
    Told,
    decode,
    encode,
)
from fleetcare.domain.wording import msg

AT = dt.datetime(2026, 10, 25, 1, 50, tzinfo=dt.timezone(dt.timedelta(hours=1)))
D = Decimal
CHECK = checks.VoltageCheck(
    "P-1002", checks.CheckKind.RESTED_FULL, checks.RestBand.HOURS_1_3, D("41.380"), AT, "M-01", "EB-12", D("39.78"), D("8"), 10,
    D("18"), "L-08", "noted",
)  # fmt: skip
VERDICT = verdicts.Verdict(
    verdicts.VerdictLevel.WATCH, msg("headline.watch"),
    (verdicts.Finding("rested_v", verdicts.VerdictLevel.PASS, msg("full.pass", rested_v=D("41.380"), pass_v=D("41.0")),
                      "rested_full_pass", D("41.0"), "proposal", 0.0125),),
    msg("next.watch"), "K36-A-1", D("0.2"), D("1.600"),
)  # fmt: skip
JUDGED = CheckJudged(
    CHECK, VERDICT, msg("meter_state.due", due_date=dt.date(2026, 11, 3)), (checks.LookItem.LATCH_LOOSE,)
)
BODIES = {
    "fleet_founded": FleetFounded("Kestrel Wharf", True),
    "thing": ThingPut("pack", packs.Pack("P-1002", "K36-A", "2403-0502", dt.date(2025, 1, 2))),
    "voltage_check": JUDGED,
    "look_over": checks.LookOver("P-1002", AT, None, (checks.LookItem.SMELL,), "sweet"),
    "trip": checks.Trip("P-1002", "EB-12", AT, checks.TripCause.UNKNOWN, False),
    "hold": checks.Hold("vehicle", "CB-06", checks.HoldClass.FAULT, AT, msg("ground.by_person"), "front brake"),
    "release": checks.Release("0" * 32, AT, "mended"),
    "found_in": checks.FoundIn("P-1002", "EB-12", AT),
    "check_corrected": CheckCorrected("0" * 32, "digits swapped", JUDGED),
    "import_batch": ImportBatch("old.csv", "ab" * 32, 5, 1, 2),
    "batch_voided": BatchVoided("0" * 32, "wrong file"),
    "told": Told("pack", "P-1002", "sheet", msg("projection.too_few", have=3, need=6)),
    "label_issued": identity.LabelIssued("P-1011", 2, AT, "worn off", "2403-0612"),
    "twin_found": identity.TwinFound("P-1011", "U-001", "2405-0101", AT, "rack 4"),
    "commissioned": identity.Commissioned(
        "P-1015",
        AT,
        ("EN 62133-2",),
        "INV-7",
        dt.date(2028, 1, 15),
        "not for hire use",
        "C-36-1",
        ("ab" * 32,),
        "",
        "0" * 32,
    ),
    "read_twice": identity.ReadTwice("P-1002", "rested_v", D("14.30"), D("41.30"), AT, msg("ask.too_high")),
    "clock_answered": identity.ClockAnswered(AT, AT, AT, identity.ClockAnswer.CORRECTED),
    "pin_changed": identity.PinChanged("DUNN", True),
    "name_withheld": identity.NameWithheld("DUNN", True, "left in May, asked in writing"),
    "meter_proof": proving.MeterProof(
        "M-02", AT, "standard", D("41.00"), D("0.01"), D("41.45"), dt.date(2027, 11, 2), "warm"
    ),
    "meter_found_out": proving.MeterFoundOut(
        "M-02", AT, AT, "reads high", D("0.45"), D("41.00"), D("0.01"), "0" * 32, ("P-1002",)
    ),
    "sheets_issued": paper_sheets.SheetsIssued(("S2611020630-01",)),
    "sheet_line": paper_sheets.SheetLine(
        "S2611020630-01", 2, "P-1002", "PIKE", AT, "EB-12", (paper_sheets.Figure.RESTED,), "4?.38"
    ),
    "report": intake.Report(
        "P-1002",
        "EB-12",
        AT,
        intake.Story.CUT_OUT_HILL,
        where="Mill Hill",
        hill=True,
        pack_c=D("4"),
        charge_level=intake.ChargeLevel.LOW,
        charger="C-36-2",
        trip="0" * 32,
    ),
    "trip_judged": trips.TripJudged(
        "0" * 32, "P-1002", "EB-12", AT, checks.TripCause.OVER_CURRENT, True, "DUNN", "steep"
    ),
    "reset": trips.Reset("P-1002", "0" * 32, AT, "press the button", True),
    "quarantine_look": quarantine.QuarantineLook("P-1002", AT, False, "Q-2"),
    "collected": quarantine.Collected(
        "P-1002", AT, "Carrier", "C-77", tuple((head.value, "not_found") for head in quarantine.TransportHead), D("2.9")
    ),
    "fuse": fuses.FuseWork(
        "P-1002",
        "EB-12",
        AT,
        fuses.Position.DISCHARGE,
        True,
        "lead pinched",
        False,
        fuses.FuseSpec(D("30"), D("58"), fuses.Body.TYPE_C, "FB-30", "green"),
    ),
    "walk": fault_tree.FaultWalk(
        "P-1002", None, AT, (("r1", "woke"),), fault_tree.Outcome.SLEPT, "", (("r1", D("37.9")),)
    ),
    "guided_job": reset_job.GuidedJob(
        "P-1002", None, AT, (("prepare", 6),), reset_job.JobOutcome.STOPPED, reset_job.Stop.SPARK
    ),
    "charged_on": chargers.ChargedOn("P-1002", "C-36-2", AT, "shed"),
    "output_test": chargers.OutputTest(
        "C-36-2", AT, "M-01", D("42.1"), D("41.58"), D("42.42"), chargers.OutputState.GOOD
    ),
    "fingerprint_lodged": FingerprintLodged(7, "ab" * 32, "mail", "broker", AT, "sent"),
    "label_printed": LabelPrinted("pack", "P-1002", 2, 2, AT),
    "policy_condition": PolicyCondition("C1", "weekly checks", "12-3", dt.date(2026, 1, 2), None, "checks"),
    "sheet_import": SheetImport(
        "old.ods",
        "2024",
        "ab" * 32,
        900,
        (("pack", "Battery"),),
        (("order", "day_first"),),
        (("checks", 5), ("kept", 2)),
    ),
    "old_reading": OldReading("P-1002", AT, rested_v=D("41.380"), remark="noted", why=msg("oldsheet.lacks_rest")),
    "row_parked": RowParked(OldReading("P-77", AT, rested_v=D("41.4"), meter="M-01")),
    "parked_settled": ParkedSettled("P-77", "P-1002", "old label"),
    "at_work": attendance.AtWork(dt.date(2026, 11, 2), ("DUNN", "PIKE"), AT),
    "incident_opened": incidents.IncidentOpened(
        "I-2026-001", "smoke", "shed", AT, (("pack", "P-1002"), ("vehicle", "EB-12")), ("PIKE",), "the rider"
    ),
    "incident_widened": incidents.IncidentWidened("0" * 32, "I-2026-001", (("charger", "C-36-2"),), "beside it", AT),
    "incident_closed": incidents.IncidentClosed("0" * 32, "I-2026-001", (("pack", "P-1002"),), "seen", AT),
    "recall_notice": recalls.RecallNotice(
        "R-26/7",
        ("K36-A",),
        "2403-0500",
        "2403-0899",
        AT,
        "",
        "",
        "maker",
        "K36",
        "may ignite",
        "replacement",
        dt.date(2026, 10, 20),
    ),
    "recall_cleared": recalls.RecallCleared("R-26/7", "P-1002", "replaced", "M-1", AT),
    "recall_ruled_out": recalls.RecallRuledOut("R-26/7", "P-1002", "2403-0901", "", AT),
    "recall_withdrawn": recalls.RecallWithdrawn("R-26/7", "typed wrongly", AT),
    "decision": decisions.Decision(
        "P-1002",
        decisions.Kind.WATCH,
        decisions.Choice.CARRY_ON,
        dt.date(2026, 11, 9),
        AT,
        msg("decision.ask_watch", pack="P-1002"),
        "0" * 32,
        "new contacts ordered",
    ),
    "due_extended": extensions.DueExtended(
        "P-1002", dt.date(2026, 11, 18), dt.date(2026, 11, 9), dt.date(2026, 11, 16), AT, AT, "mechanic ill"
    ),
    "inspection": inspections.Inspected("vehicle", "CB-06", AT, True, "brake cable new", "Licensed Repairs 12-7"),
    "part_moved": parts.PartMoved(
        "S-01", parts.StockMove.BOOKED_OUT, 1, AT, "0" * 32, "P-1002", None, "fuse change", part_number="FB-30"
    ),
    "part_replaced": replacing.PartReplaced(
        "P-1002",
        "EB-12",
        AT,
        replacing.Replaced.CONNECTOR,
        (replacing.FittedPart("S-05", "CN-K2-P"), replacing.FittedPart("S-06", "CN-K2-V")),
        "SL-9",
        D("41.30"),
        D("41.31"),
        "M-01",
        D("180"),
        D("22"),
        D("8"),
    ),
    "wetted": water.Wetted("P-1002", "EB-12", AT, water.WaterKind.IMMERSION, False, "ford", "Q-2"),
    "dried": water.Dried("P-1002", AT, "towel"),
    "hire_return": hire_return.HireReturn(
        "P-1002",
        "EB-12",
        AT,
        (),
        hire_return.Damage.KNOWN,
        hire_return.Warmth.COOL,
        ("ab" * 32,),
        damage_what="dent",
        damage_since="Sunday, rider",
        charger="C-36-1",
    ),
    "looked_again": hire_return.LookedAgain("P-1002", AT, False),
    "went_missing": away.WentMissing(None, "EB-12", away.Missing.STOLEN, AT, "Mill Hill", "CR-1", "CL-2", "lock cut"),
    "missing_noted": away.MissingNoted("P-1002", None, AT, insurer="CL-2"),
    "recovered": away.Recovered("P-1002", None, AT, "rack 4", (checks.LookItem.CRACK,)),
    "sent_to_maker": away.SentToMaker(
        "P-1002", AT, "maker", "RMA-7", "carrier", dt.date(2026, 11, 20), "C-1", "display"
    ),
    "came_back": away.CameBack("P-1002", AT, away.BackAs.REPLACED, "REP-3", "", "P-1050", "2610-0001"),
    "van_loaded": vans.VanLoaded(
        "V-0001", "KW", "HY", "Pike", AT, (vans.VanLine("P-1002"), vans.VanLine("P-1003", "EB-13")), ("EB-13",), True
    ),
    "van_arrived": vans.VanArrived("V-0001", AT, ("P-1003",), ("EB-13",), ("P-1002",), "rack 1"),
    "disposed": disposing.Disposed("P-1002", AT, "carrier", "C-77", D("2.90"), "R-5", "plant", "WT-9"),
    "bay_cover": bays.BayCover("CB-06", 2, AT, True),
    "pack_stuck": bays.PackStuck("P-1002", "EB-12", AT, bays.Stuck.NO_KEY),
    "laid_up": laying_up.LaidUp("P-1011", "W-1", AT, "Rack 9", D("36.00"), D("38.50"), "proposal", 60),
    "lay_up_ended": laying_up.LayUpEnded("P-1011", "W-1", AT, "spring"),
    "absence": absences.Absence("DUNN", "KW", dt.date(2026, 11, 4), dt.date(2026, 11, 5), AT, "off sick"),
    "away": absences.Away("EB-12", dt.date(2026, 11, 4), dt.date(2026, 11, 9), AT, "on hire"),
    "inspection_done": inspection_plans.InspectionDone("yearly", None, "EB-12", AT, "brake worn"),
    "edge_seen": inspection_plans.EdgeSeen("P-1010", "resistance_ohm", AT, dt.date(2027, 2, 20), 8, "e1"),
    "misfit_seen": inspection_plans.MisfitSeen("P-1010", AT, "2" * 32, dt.date(2026, 11, 2), "e1"),
}


def record(kind: str) -> Record:
    return Record("f" * 32, "1" * 32, kind, AT, AT, "DUNN", "may_release", "BENCH-1", "typed", BODIES[kind], 7)


def test_every_kind_of_record_has_an_example_here() -> None:
    assert BODIES.keys() == BODY_CLASSES.keys()


@pytest.mark.parametrize("kind", sorted(BODIES))
def test_a_record_reads_back_as_what_was_written(kind: str) -> None:
    again = decode(encode(record(kind)))
    assert again == record(kind)
    assert encode(again) == encode(record(kind))


def test_the_bytes_of_a_check_are_frozen() -> None:
    assert encode(record("voltage_check")).decode() == (
        '{"batch":"","body":{"check":{"bench_c":"18","done_at":"2026-10-25T01:50:00+01:00","hold_s":10,'
        '"kind":"rested_full","load_a":"8","loaded_v":"39.78","meter":"M-01","pack":"P-1002","questioned":[],'
        '"remark":"noted","rest":"hours_1_3","rested_v":"41.380","test_load":"L-08","vehicle":"EB-12"},'
        '"look_over":["latch_loose"],"meter_state":{"key":"meter_state.due","values":{"due_date":{"y":"2026-11-03"}}},'
        '"verdict":{"findings":[{"chance_beyond":"0.0125","level":"pass","limit":"41.0","limit_name":"rested_full_pass",'
        '"quantity":"rested_v","source":"proposal","statement":{"key":"full.pass","values":{"pass_v":{"d":"41.0"},'
        '"rested_v":{"d":"41.380"}}}}],"headline":{"key":"headline.watch","values":{}},"hold_class":null,'
        '"hold_reason":null,"level":"watch","limits_id":"K36-A-1","next_step":{"key":"next.watch","values":{}},'
        '"resistance_ohm":"0.2","sag_v":"1.600","valid":true}},"by":"DUNN","done":"2026-10-25T01:50:00+01:00",'
        '"entered":"2026-10-25T01:50:00+01:00","f":1,"fleet":"ffffffffffffffffffffffffffffffff",'
        '"id":"11111111111111111111111111111111","kind":"voltage_check","level":"may_release","seen":7,'
        '"source":"typed","station":"BENCH-1"}'
    )


@pytest.mark.parametrize("kind", sorted(set(BODIES) - {"voltage_check", "check_corrected"}))
def test_the_bytes_of_every_other_kind_are_frozen(kind: str) -> None:
    assert encode(record(kind)).decode() == FROZEN[kind]


def test_a_persons_name_is_not_in_the_leaf() -> None:
    person = packs.Person("DUNN", "Dunn the First", (packs.Role.MECHANIC,), packs.Level.MAY_CHECK)
    data = encode(Record("f", "1", "thing", AT, AT, "DUNN", "", "", "", ThingPut("person", person)))
    assert b"First" not in data


def test_another_format_or_kind_is_refused() -> None:
    data = encode(record("release"))
    with pytest.raises(ValueError, match="format"):
        decode(data.replace(b'"f":1', b'"f":2'))
    with pytest.raises(ValueError, match="kind"):
        decode(data.replace(b'"kind":"release"', b'"kind":"unheard"'))


@given(st.text(max_size=40), st.decimals(min_value=0, max_value=99, places=3))
def test_any_remark_and_any_reading_survive(remark: str, rested: Decimal) -> None:
    check = checks.VoltageCheck(
        "P-1", checks.CheckKind.STORED, checks.RestBand.OVERNIGHT, rested, AT, "M", remark=remark
    )
    made = Record(
        "f", "1", "voltage_check", AT, AT, "D", "", "", "", CheckJudged(check, VERDICT, msg("meter_state.no_date"))
    )
    assert decode(encode(made)) == made


_HEAD = '{"batch":"","body":'
_TAIL = (
    ',"by":"DUNN","done":"2026-10-25T01:50:00+01:00","entered":"2026-10-25T01:50:00+01:00","f":1,'
    '"fleet":"ffffffffffffffffffffffffffffffff","id":"11111111111111111111111111111111","kind":"KIND",'
    '"level":"may_release","seen":7,"source":"typed","station":"BENCH-1"}'
)
_AT = '"2026-10-25T01:50:00+01:00"'
_BODIES = {
    "fleet_founded": '{"demo":true,"fleet_name":"Kestrel Wharf"}',
    "thing": '{"thing":{"code":"P-1002","in_service_on":"2025-01-02","model":"K36-A","note":"","serial":"2403-0502",'
    '"shelf":"","standing":"in_service"},"thing_class":"pack"}',
    "look_over": '{"done_at":' + _AT + ',"found":["smell"],"pack":"P-1002","remark":"sweet","vehicle":null}',
    "trip": '{"cause":"unknown","done_at":' + _AT + ',"explained":false,"pack":"P-1002","remark":"","vehicle":"EB-12"}',
    "hold": '{"cause":null,"done_at":' + _AT + ',"hold_class":"fault","place":"","reason":{"key":"ground.by_person",'
    '"values":{}},"remark":"front brake","subject":"CB-06","subject_class":"vehicle"}',
    "release": '{"done_at":' + _AT + ',"hold":"00000000000000000000000000000000","reason":"mended"}',
    "found_in": '{"bay":1,"done_at":' + _AT + ',"pack":"P-1002","shelf":"","vehicle":"EB-12"}',
    "import_batch": '{"file_name":"old.csv","rows_known":2,"rows_refused":1,"rows_taken":5,"sha256":"'
    + "ab" * 32
    + '"}',
    "batch_voided": '{"batch":"00000000000000000000000000000000","reason":"wrong file"}',
    "told": '{"statement":{"key":"projection.too_few","values":{"have":{"i":3},"need":{"i":6}}},"subject":"P-1002",'
    '"subject_class":"pack","what":"sheet"}',
    "label_issued": '{"done_at":' + _AT + ',"issue":2,"pack":"P-1011","reason":"worn off","serial_seen":"2403-0612"}',
    "twin_found": '{"done_at":' + _AT + ',"other":"U-001","pack":"P-1011","remark":"rack 4","serial_read":"2405-0101"}',
    "commissioned": '{"baseline":"00000000000000000000000000000000","charger":"C-36-1","done_at":'
    + _AT
    + ',"invoice":"INV-7",'
    '"marks":["EN 62133-2"],"no_photo_reason":"","pack":"P-1015","photos":["'
    + "ab" * 32
    + '"],"warranty_clause":"not for hire use","warranty_end":"2028-01-15"}',
    "read_twice": '{"done_at":' + _AT + ',"first_v":"14.30","pack":"P-1002","quantity":"rested_v",'
    '"question":{"key":"ask.too_high","values":{}},"second_v":"41.30"}',
    "clock_answered": '{"answer":"corrected","last_at":' + _AT + ',"shown_at":' + _AT + ',"true_at":' + _AT + "}",
    "pin_changed": '{"is_set":true,"person":"DUNN"}',
    "name_withheld": '{"person":"DUNN","reason":"left in May, asked in writing","withheld":true}',
    "meter_proof": '{"calibration_due":"2027-11-02","done_at":' + _AT + ',"meter":"M-02","read_v":"41.45",'
    '"reference":"standard","reference_error_v":"0.01","reference_v":"41.00","remark":"warm"}',
    "meter_found_out": '{"done_at":' + _AT + ',"error_v":"0.45","last_good_at":' + _AT + ',"meter":"M-02",'
    '"packs":["P-1002"],"proof":"00000000000000000000000000000000","reason":"reads high","reference_error_v":"0.01",'
    '"reference_v":"41.00"}',
    "sheets_issued": '{"checks_a_sheet":3,"numbers":["S2611020630-01"]}',
    "sheet_line": '{"as_written":"4?.38","check":null,"done_at":' + _AT + ',"done_by":"PIKE","line":2,"pack":"P-1002",'
    '"queried":"","remark":"","sheet":"S2611020630-01","unreadable":["rested_v"],"vehicle":"EB-12"}',
    "report": '{"charge_level":"low","charged_where":"","charger":"C-36-2","dangers":[],"done_at":'
    + _AT
    + ',"heavy_load":false,'
    '"hill":true,"knock":false,"pack":"P-1002","pack_c":"4","place":"","rain":false,"remark":"","story":"cut_out_hill",'
    '"trip":"00000000000000000000000000000000","vehicle":"EB-12","where":"Mill Hill","works_again":false}',
    "trip_judged": '{"cause":"over_current","done_at":'
    + _AT
    + ',"explained":true,"found_outside":"","judged_by":"DUNN",'
    '"pack":"P-1002","reason":"steep","trip":"00000000000000000000000000000000","vehicle":"EB-12"}',
    "reset": '{"done_at":' + _AT + ',"method":"press the button","pack":"P-1002","remark":"",'
    '"trip":"00000000000000000000000000000000","worked":true}',
    "quarantine_look": '{"changed":false,"done_at":' + _AT + ',"pack":"P-1002","place":"Q-2","remark":""}',
    "collected": '{"carrier":"Carrier","consignment":"C-77","done_at":'
    + _AT
    + ',"heads":[["acute_hazard","not_found"],'
    '["misuse","not_found"],["physical_damage","not_found"],["short_circuit","not_found"],["safety_features","not_found"],'
    '["internal_parts","not_found"]],"pack":"P-1002","receipt":"","remark":"","weight_kg":"2.9"}',
    "fuse": '{"blown":true,"cause":"lead pinched","done_at":'
    + _AT
    + ',"fitted":{"body":"type_c","colour":"green","dc_v":"58",'
    '"part_number":"FB-30","rated_a":"30"},"not_found":false,"pack":"P-1002","position":"discharge","remark":"",'
    '"vehicle":"EB-12"}',
    "walk": '{"charger":"","done_at":'
    + _AT
    + ',"outcome":"slept","pack":"P-1002","readings":[["r1","37.9"]],"remark":"",'
    '"steps":[["r1","woke"]],"vehicle":null}',
    "guided_job": '{"display_lit":null,"done_at":'
    + _AT
    + ',"load_a":null,"loaded_v":null,"meter":"","outcome":"stopped",'
    '"pack":"P-1002","remark":"","rested_v":null,"stop":"spark","ticks":[["prepare",6]],"vehicle":null}',
    "charged_on": '{"charger":"C-36-2","done_at":' + _AT + ',"pack":"P-1002","where":"shed"}',
    "output_test": '{"charger":"C-36-2","done_at":' + _AT + ',"high_v":"42.42","low_v":"41.58","measured_v":"42.1",'
    '"meter":"M-01","remark":"","state":"good"}',
    "fingerprint_lodged": '{"done_at":'
    + _AT
    + ',"means":"mail","recipient":"broker","remark":"sent","root_hex":"'
    + "ab" * 32
    + '","size":7}',
    "policy_condition": '{"code":"C1","from_date":"2026-01-02","policy":"12-3","shown_by":"checks","text":"weekly checks",'
    '"to_date":null}',
    "label_printed": '{"code":"P-1002","copies":2,"done_at":' + _AT + ',"issue":2,"thing_class":"pack"}',
    "sheet_import": '{"answers":[["order","day_first"]],"counts":[["checks",5],["kept",2]],"file_name":"old.ods",'
    '"mapping":[["pack","Battery"]],"sha256":"' + "ab" * 32 + '","sheet":"2024","size_bytes":900}',
    "old_reading": '{"bench_c":null,"done_at":' + _AT + ',"hold_s":null,"kind":"rested_full","load_a":null,'
    '"loaded_v":null,"meter":"","pack":"P-1002","remark":"noted","rest":"unknown","rested_v":"41.380","vehicle":"",'
    '"why":{"key":"oldsheet.lacks_rest","values":{}}}',
    "row_parked": '{"reading":{"bench_c":null,"done_at":' + _AT + ',"hold_s":null,"kind":"rested_full","load_a":null,'
    '"loaded_v":null,"meter":"M-01","pack":"P-77","remark":"","rest":"unknown","rested_v":"41.4","vehicle":"",'
    '"why":null}}',
    "parked_settled": '{"pack":"P-1002","reason":"old label","written":"P-77"}',
    "at_work": '{"day":"2026-11-02","done_at":' + _AT + ',"people":["DUNN","PIKE"]}',
    "incident_opened": '{"code":"I-2026-001","done_at":' + _AT + ',"items":[["pack","P-1002"],["vehicle","EB-12"]],'
    '"others":"the rider","persons":["PIKE"],"what":"smoke","where":"shed"}',
    "incident_widened": '{"code":"I-2026-001","done_at":' + _AT + ',"incident":"' + "0" * 32 + '",'
    '"items":[["charger","C-36-2"]],"reason":"beside it"}',
    "incident_closed": '{"code":"I-2026-001","done_at":' + _AT + ',"incident":"' + "0" * 32 + '",'
    '"items":[["pack","P-1002"]],"reason":"seen"}',
    "recall_notice": '{"date_code_from":"","date_code_to":"","done_at":' + _AT + ',"hazard":"may ignite",'
    '"issued_on":"2026-10-20","maker":"maker","model_text":"K36","models":["K36-A"],"number":"R-26/7",'
    '"remedy":"replacement","serial_from":"2403-0500","serial_to":"2403-0899"}',
    "recall_cleared": '{"done_at":' + _AT + ',"number":"R-26/7","pack":"P-1002","reference":"M-1","remedy":"replaced"}',
    "recall_ruled_out": '{"date_code_read":"","done_at":' + _AT + ',"number":"R-26/7","pack":"P-1002","remark":"",'
    '"serial_read":"2403-0901"}',
    "recall_withdrawn": '{"done_at":' + _AT + ',"number":"R-26/7","reason":"typed wrongly"}',
    "decision": '{"about":"' + "0" * 32 + '","choice":"carry_on","done_at":' + _AT + ',"kind":"watch","pack":"P-1002",'
    '"reason":"new contacts ordered","told":{"key":"decision.ask_watch","values":{"pack":{"s":"P-1002"}}},'
    '"until":"2026-11-09"}',
    "due_extended": '{"done_at":' + _AT + ',"due_on":"2026-11-09","good_through":"2026-11-16","last_valid":' + _AT + ","
    '"pack":"P-1002","reason":"mechanic ill","until":"2026-11-18"}',
    "inspection": '{"authority":"Licensed Repairs 12-7","done_at":'
    + _AT
    + ',"good":true,"looked_at":"brake cable new",'
    '"subject":"CB-06","subject_class":"vehicle"}',
    "part_moved": '{"before":null,"done_at":'
    + _AT
    + ',"job":"00000000000000000000000000000000","move":"booked_out","pack":"P-1002","part":"S-01","part_nu'
    'mber":"FB-30","pieces":1,"reason":"fuse change","supplier":"","vehicle":null}',
    "part_replaced": '{"after_v":"41.31","before_v":"41.30","done_at":'
    + _AT
    + ',"drop_after_mv":"22","drop_before_mv":"180","load_a":"8","meter":"M-01","pack":"P-1002",'
    + '"parts":[{"part":"S-05","part_number":"CN-K2-P","pieces":1},{"part":"S-06","part_number":"CN-K2-V",'
    + '"pieces":1}],"remark":"","seal":"SL-9","tried_good":false,"vehicle":"EB-12","what":"connector"}',
    "wetted": '{"done_at":'
    + _AT
    + ',"inside":false,"kind":"immersion","pack":"P-1002","place":"Q-2","remark":"","vehicle":"EB-12",'
    + '"where":"ford"}',
    "dried": '{"done_at":' + _AT + ',"pack":"P-1002","remark":"towel"}',
    "hire_return": '{"charged_where":"","charger":"C-36-1","cleaned_first":false,"damage":"known",'
    + '"damage_since":"Sunday, rider","damage_what":"dent","dangers":[],"done_at":'
    + _AT
    + ',"no_photo_reason":"","pack":"P-1002",'
    + '"photos":["abababababababababababababababababababababababababababababababab"],"place":"",'
    + '"remark":"","vehicle":"EB-12","warmth":"cool"}',
    "looked_again": '{"done_at":' + _AT + ',"pack":"P-1002","remark":"","still_warm":false}',
    "went_missing": '{"done_at":'
    + _AT
    + ',"insurer":"CL-2","kind":"stolen","last_place":"Mill Hill","pack":null,"police":"CR-1",'
    + '"remark":"lock cut","vehicle":"EB-12"}',
    "missing_noted": '{"done_at":' + _AT + ',"insurer":"CL-2","pack":"P-1002","police":"","remark":"","vehicle":null}',
    "recovered": '{"dangers":["crack"],"done_at":'
    + _AT
    + ',"pack":"P-1002","place":"rack 4","remark":"","vehicle":null}',
    "sent_to_maker": '{"carrier":"carrier","consignment":"C-1","done_at":'
    + _AT
    + ',"expected_on":"2026-11-20","heads":[],"maker":"maker","pack":"P-1002","reason":"display",'
    + '"return_number":"RMA-7"}',
    "came_back": '{"done_at":'
    + _AT
    + ',"outcome":"replaced","pack":"P-1002","remark":"","replacement":"P-1050",'
    + '"replacement_serial":"2610-0001","report":"REP-3","work":""}',
    "van_loaded": '{"contacts_covered":true,"done_at":'
    + _AT
    + ',"driver":"Pike","from_depot":"KW","lines":[{"pack":"P-1002","vehicle":""},{"pack":"P-1003",'
    + '"vehicle":"EB-13"}],"number":"V-0001","remark":"","to_depot":"HY","vehicles":["EB-13"]}',
    "van_arrived": '{"done_at":'
    + _AT
    + ',"missing":["P-1002"],"number":"V-0001","packs":["P-1003"],"remark":"","shelf":"rack 1",'
    + '"vehicles":["EB-13"]}',
    "disposed": '{"carrier":"carrier","consignment":"C-77","done_at":'
    + _AT
    + ',"pack":"P-1002","plant":"plant","receipt":"R-5","remark":"","waste_chain":"WT-9",'
    + '"weight_kg":"2.90"}',
    "bay_cover": '{"bay":2,"covered":true,"done_at":' + _AT + ',"vehicle":"CB-06"}',
    "pack_stuck": '{"done_at":' + _AT + ',"pack":"P-1002","remark":"","vehicle":"EB-12","why":"no_key"}',
    "laid_up": '{"band_source":"proposal","done_at":' + _AT + ',"group":"W-1","high_v":"38.50","look_days":60,'
    '"low_v":"36.00","pack":"P-1011","remark":"","shelf":"Rack 9"}',
    "lay_up_ended": '{"done_at":' + _AT + ',"group":"W-1","pack":"P-1011","remark":"spring"}',
    "absence": '{"depot":"KW","done_at":' + _AT + ',"from_date":"2026-11-04","person":"DUNN","reason":"off sick",'
    '"to_date":"2026-11-05","withdrawn":false}',
    "away": '{"back_date":"2026-11-09","done_at":' + _AT + ',"from_date":"2026-11-04","reason":"on hire",'
    '"vehicle":"EB-12","withdrawn":false}',
    "inspection_done": '{"done_at":' + _AT + ',"found":"brake worn","kind":"yearly","pack":null,"remark":"",'
    '"vehicle":"EB-12"}',
    "edge_seen": '{"checks":8,"done_at":' + _AT + ',"early_date":"2027-02-20","engine":"e1","pack":"P-1010",'
    '"quantity":"resistance_ohm"}',
    "misfit_seen": '{"check":"' + "2" * 32 + '","done_at":' + _AT + ',"engine":"e1","pack":"P-1010",'
    '"read_on":"2026-11-02"}',
}
FROZEN = {kind: _HEAD + body + _TAIL.replace("KIND", kind) for kind, body in _BODIES.items()}


@dataclass(frozen=True)
class _Grown:
    code: str
    note: str = added_later("")


def test_a_field_added_later_leaves_older_bytes_as_they_were() -> None:
    assert records.to_plain(_Grown("P-1")) == {"code": "P-1"}
    assert records.to_plain(_Grown("P-1", "new")) == {"code": "P-1", "note": "new"}
    assert records.from_plain(_Grown, {"code": "P-1"}) == _Grown("P-1")


def test_the_notes_with_a_charge_fuse_have_frozen_bytes_and_older_ones_keep_theirs() -> None:
    notes = packs.ServiceNotes("K36-A", "type_c")
    assert b"charge_fuse" not in records.canonical(records.to_plain(notes))  # type: ignore[arg-type]
    kept = replace(notes, charge_fuse_a=D("10"), charge_fuse_body="type_c", charge_fuse_part="FB-10-58")
    assert records.canonical(records.to_plain(kept)) == (  # type: ignore[arg-type]
        b'{"bleed_note":"","charge_fuse_a":"10","charge_fuse_body":"type_c","charge_fuse_part":"FB-10-58","code":"K36-A",'
        b'"driver":"","fuse_body":"type_c","fuse_part":"","next_lower_fuse":false,"reset_by_fuse":false,"spark_said":false}'
    )
    assert records.from_plain(packs.ServiceNotes, records.to_plain(kept)) == kept


def test_a_judgement_that_says_what_was_mended_has_frozen_bytes_and_older_ones_keep_theirs() -> None:
    judged = trips.TripJudged("0" * 32, "P-1002", None, AT, checks.TripCause.OVER_CURRENT, True, "DUNN", "steep")
    assert b"mended" not in records.canonical(records.to_plain(judged))  # type: ignore[arg-type]
    kept = replace(judged, mended="belt re-tensioned")
    assert records.canonical(records.to_plain(kept)) == (  # type: ignore[arg-type]
        b'{"cause":"over_current","done_at":"2026-10-25T01:50:00+01:00","explained":true,"found_outside":"",'
        b'"judged_by":"DUNN","mended":"belt re-tensioned","pack":"P-1002","reason":"steep",'
        b'"trip":"00000000000000000000000000000000","vehicle":null}'
    )
    assert records.from_plain(trips.TripJudged, records.to_plain(kept)) == kept


def test_the_bytes_of_procedures_rules_and_passports_are_frozen_and_older_ones_unchanged() -> None:
    text = procedures.SiteText("KW-check", "KW", "check", 2, "Wipe the contacts.")
    assert records.canonical(records.to_plain(ThingPut("site_text", text))) == (  # type: ignore[arg-type]
        b'{"thing":{"code":"KW-check","depot":"KW","text":"Wipe the contacts.","version":2,"work":"check"},'
        b'"thing_class":"site_text"}'
    )
    look = checks.LookOver("P-1002", AT)
    assert b"procedure" not in records.canonical(records.to_plain(look))  # type: ignore[arg-type]
    kept = checks.LookOver("P-1002", AT, procedure="look_over 1 + KW 2")
    assert records.canonical(records.to_plain(kept)) == (  # type: ignore[arg-type]
        b'{"done_at":"2026-10-25T01:50:00+01:00","found":[],"pack":"P-1002","procedure":"look_over 1 + KW 2","remark":"",'
        b'"vehicle":null}'
    )
    assert records.from_plain(checks.LookOver, records.to_plain(kept)) == kept
    depot = packs.Depot("KW", "Kestrel Wharf", rules="UK", rules_text="x")
    assert records.from_plain(packs.Depot, records.to_plain(depot)) == depot
    assert "rules" not in records.to_plain(packs.Depot("KW", "Kestrel Wharf"))  # type: ignore[operator]


def test_amps_of_chargers_and_models_were_added_later_and_leave_older_bytes_alone() -> None:
    charger = Charger("C-36-1", "36 V charger", D("42.0"), D("1"), "K2", Chemistry.NMC)
    assert records.to_plain(charger) == {
        "chemistry": "NMC", "code": "C-36-1", "connector": "K2", "models": [], "name": "36 V charger",
        "output_waits_for_pack": False, "rated_v": "42.0", "tolerance_percent": "1",
    }  # fmt: skip
    assert records.to_plain(replace(charger, rated_a=D("4.0")))["rated_a"] == "4.0"
    model = PackModel("K36-A", "K36-A", Chemistry.NMC, 10, 36, D("42.0"), D("14"), "K2")
    assert "charge_max_a" not in records.to_plain(model)
    assert records.to_plain(replace(model, charge_max_a=D("7")))["charge_max_a"] == "7"
