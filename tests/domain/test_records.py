"""Canonical bytes: frozen for good, and read back as what was written."""

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetcare.domain import checks, packs, verdicts
from fleetcare.domain.oldrows import OldReading
from fleetcare.domain.records import (
    BODY_CLASSES,
    BatchVoided,
    CheckCorrected,
    CheckJudged,
    FleetFounded,
    ImportBatch,
    ParkedSettled,
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
    "sheet_import": '{"answers":[["order","day_first"]],"counts":[["checks",5],["kept",2]],"file_name":"old.ods",'
    '"mapping":[["pack","Battery"]],"sha256":"' + "ab" * 32 + '","sheet":"2024","size_bytes":900}',
    "old_reading": '{"bench_c":null,"done_at":' + _AT + ',"hold_s":null,"kind":"rested_full","load_a":null,'
    '"loaded_v":null,"meter":"","pack":"P-1002","remark":"noted","rest":"unknown","rested_v":"41.380","vehicle":"",'
    '"why":{"key":"oldsheet.lacks_rest","values":{}}}',
    "row_parked": '{"reading":{"bench_c":null,"done_at":' + _AT + ',"hold_s":null,"kind":"rested_full","load_a":null,'
    '"loaded_v":null,"meter":"M-01","pack":"P-77","remark":"","rest":"unknown","rested_v":"41.4","vehicle":"",'
    '"why":null}}',
    "parked_settled": '{"pack":"P-1002","reason":"old label","written":"P-77"}',
}
FROZEN = {kind: _HEAD + body + _TAIL.replace("KIND", kind) for kind, body in _BODIES.items()}
