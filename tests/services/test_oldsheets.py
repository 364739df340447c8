"""Old spreadsheets: every row has one outcome, the outcomes add up, nothing comes in unasked."""

import datetime as dt
import random
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from fleetcare.domain.errors import EntryRefused, FileRefused, NotAllowed
from fleetcare.domain.oldrows import DateOrder, OldReading
from fleetcare.domain.wording import say
from fleetcare.services import importing, oldsheets, parked, summary, table_files
from fleetcare.services.oldsheets import Brought, Plan, Preview
from fleetcare.services.table_files import Cancelled
from fleetcare.services.telling import entry_note
from tests.campaigns.sheet_files import write_sheet
from tests.kestrel import Kestrel

HEAD = "Battery no;Date;Volts;Rest (min);Meter;Notes\n"


def shown(kestrel: Kestrel, path: Path, **answers: object) -> Preview:
    plan = oldsheets.survey(kestrel.store, path).plan
    return oldsheets.preview(kestrel.store, kestrel.clock, path, replace(plan, **answers))


def bring(kestrel: Kestrel, path: Path, **answers: object) -> Brought:
    return oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown(kestrel, path, **answers))


def written(tmp_path: Path, text: str, name: str = "old.csv") -> Path:
    path = tmp_path / name
    path.write_text(text, "utf-8")
    return path


def mixed_rows(seed: int, size: int) -> tuple[list[str], Counter[str]]:
    """Rows of a shop's own making, with what each must become, counted on the way."""
    rng = random.Random(seed)
    rows: list[str] = []
    expected: Counter[str] = Counter()
    clean: list[str] = []
    for number in range(size):
        day, month, year = rng.randint(1, 28), rng.randint(1, 12), rng.choice((2024, 2025))
        when = f"{day}/{month}/{year} {6 + number % 12:02d}:{number % 60:02d}:{number // 60 % 60:02d}"
        pack = f"P-10{1 + number % 14:02d}"
        volts = f"41,{number % 60:02d}"
        kind = rng.choices(
            ("clean", "no_rest", "no_meter", "unknown", "words", "milli", "unit", "repeat", "bad_date", "slip"),
            (40, 8, 8, 8, 8, 6, 6, 8, 4, 4),
        )[0]
        if kind == "repeat" and clean:
            rows.append(rng.choice(clean))
            expected["repeat"] += 1
            continue
        if kind in ("clean", "repeat"):
            rows.append(f"{pack};{when};{volts};90;M-01;n{number}")
            clean.append(rows[-1])
            expected["checks"] += 1
        elif kind == "no_rest":
            rows.append(f"{pack};{when};{volts};;M-01;n{number}")
            expected["kept"] += 1
        elif kind == "no_meter":
            rows.append(f"{pack};{when};{volts};90;;n{number}")
            expected["kept"] += 1
        elif kind == "unknown":
            rows.append(f"X-{number % 5};{when};{volts};90;M-01;n{number}")
            expected["parked"] += 1
        elif kind == "words":
            rows.append(f"{pack};{when};ok;90;M-01;n{number}")
            expected["kept"] += 1
        elif kind == "milli":
            rows.append(f"{pack};{when};41{100 + number % 800};90;M-01;n{number}")
            expected["checks"] += 1
        elif kind == "unit":
            rows.append(f"{pack};{when};{volts} V;90;M-01;n{number}")
            expected["checks"] += 1
        elif kind == "bad_date":
            rows.append(f"{pack};31/2/{year};{volts};90;M-01;n{number}")
            expected["refused"] += 1
        else:
            rows.append(f"{pack};{when};14,30;90;M-01;n{number}")
            expected["refused"] += 1
    return rows, expected


def test_two_thousand_rows_of_every_sort_add_up_and_come_in_as_counted(kestrel: Kestrel, tmp_path: Path) -> None:
    rows, expected = mixed_rows(8, 2000)
    path = written(tmp_path, HEAD + "\n".join(rows) + "\n")
    with kestrel.store.view() as view:
        before = view.head()
    asked = shown(kestrel, path)
    assert [q.about for q in asked.questions] == ["millivolts"] and asked.order is DateOrder.DAY_FIRST
    assert asked.rows == 2000 and asked.counts["asked"] > 0
    with pytest.raises(FileRefused, match="wait for your answer"):
        oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), asked)
    answered = shown(kestrel, path, millivolts=True)
    assert answered.rows == 2000 == sum(expected.values())
    assert {k: v for k, v in answered.counts.items() if v} == dict(expected)
    with kestrel.store.view() as view:
        assert view.head() == before
    done = bring(kestrel, path, millivolts=True)
    with kestrel.store.view() as view:
        added = view.position - before.size
        holds = len(view.open_holds())
    assert added == 1 + expected["checks"] + expected["kept"] + expected["parked"] + holds
    assert done.counts == answered.counts
    assert kestrel.store.verify().good
    again = bring(kestrel, path, millivolts=True)
    assert again.batch is None and again.counts["known"] == answered.taken


@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_the_same_mix_in_a_spreadsheet_has_the_same_outcomes(kestrel: Kestrel, tmp_path: Path, kind: str) -> None:
    rows, expected = mixed_rows(9, 300)
    path = tmp_path / f"old.{kind}"
    write_sheet(path, [HEAD.strip().split(";"), *(row.split(";") for row in rows)])
    with kestrel.store.view() as view:
        before = view.head()
    asked = shown(kestrel, path)
    assert [q.about for q in asked.questions] == ["millivolts"] and asked.order is DateOrder.DAY_FIRST
    answered = shown(kestrel, path, millivolts=True)
    assert {k: v for k, v in answered.counts.items() if v} == dict(expected) and answered.rows == 300
    with kestrel.store.view() as view:
        assert view.head() == before
    done = bring(kestrel, path, millivolts=True)
    assert done.counts == answered.counts and done.batch is not None
    with kestrel.store.view() as view:
        sources = {view.record_at(n).source for n in range(before.size + 2, view.position + 1)}  # type: ignore[union-attr]
    assert f"file:old.{kind}[log]:2" in sources
    parked.save_source(kestrel.store, done.batch, tmp_path / "again")
    assert (tmp_path / "again").read_bytes() == path.read_bytes()
    again = bring(kestrel, path, millivolts=True)
    assert again.batch is None and again.counts["known"] == answered.taken
    importing.take_back(kestrel.store, kestrel.clock, kestrel.author(), done.batch, "wrong depot")
    assert kestrel.store.verify().good


def test_every_digit_of_a_figure_in_millivolts_is_kept(kestrel: Kestrel, tmp_path: Path) -> None:
    digits = "41380." + "3" * 30
    bring(kestrel, written(tmp_path, HEAD + f"P-1002;2026-10-01;{digits} mV;90;M-01;\n"))
    line = next(c for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks if c.source != "typed")
    assert str(line.rested_v) == "41.380" + "3" * 30


def test_a_reading_without_rest_or_meter_feeds_no_verdict_and_no_projection(kestrel: Kestrel, tmp_path: Path) -> None:
    before = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    text = HEAD + "".join(f"P-1002;2026-10-{d:02d};{30 + d / 10:.2f};;;low\n" for d in range(1, 29))
    done = bring(kestrel, written(tmp_path, text))
    assert done.counts["kept"] == 28 and done.counts.get("checks", 0) == 0
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert (page.checks, page.projections, page.status) == (before.checks, before.projections, before.status)
    told = [say(event.text) for event in page.events]
    assert any("old.csv, row 2" in one and "30.10 V" in one and "rest not known" in one for one in told)


def test_each_check_says_that_it_was_imported_with_file_and_row(kestrel: Kestrel, tmp_path: Path) -> None:
    bring(kestrel, written(tmp_path, HEAD + "P-1002;2026-10-05;41,52;90;M-01;\n"))
    line = next(c for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks if c.source != "typed")
    assert line.source == "file:old.csv:2" and "imported from old.csv, row 2" in entry_note(line)


def test_day_and_month_are_asked_on_real_rows_unless_the_file_proves_them(kestrel: Kestrel, tmp_path: Path) -> None:
    path = written(tmp_path, HEAD + "P-1002;3/4/2026;41,5;90;M-01;\nP-1002;5/5/2026;41,5;90;M-01;\n")
    asked = shown(kestrel, path)
    assert asked.counts == {"asked": 1, "checks": 1}
    assert "“3/4/2026” is 3 Apr 2026 (day first) or 4 Mar 2026 (month first)" in say(asked.questions[0].examples[0])
    bring(kestrel, path, order=DateOrder.MONTH_FIRST)
    days = {c.done_at.date().isoformat() for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks}
    assert "2026-03-04" in days
    proved = written(tmp_path, HEAD + "P-1003;3/4/2026;41,5;90;M-01;\nP-1003;4/25/2026;41,5;90;M-01;\n", "us.csv")
    assert shown(kestrel, proved).order is DateOrder.MONTH_FIRST and not shown(kestrel, proved).questions


def test_units_in_heading_or_cell_are_obeyed_exactly(kestrel: Kestrel, tmp_path: Path) -> None:
    text = "pack,date,volts (mV),rest min,meter\nP-1002,2026-10-01,41380,90,M-01\nP-1002,2026-10-02,41.38 V,90,M-01\n"
    done = bring(kestrel, written(tmp_path, text))
    assert done.counts["checks"] == 2
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert [str(c.rested_v) for c in page.checks if c.source != "typed"] == ["41.38", "41.380"]


@pytest.mark.parametrize(
    ("heading", "typed", "taken"),
    [
        ("Rest (h)", "2", "hours_1_3"), ("Rest h", "1,5", "hours_1_3"), ("Hours rested", "2", "hours_1_3"),
        ("Rest (min)", "90", "hours_1_3"), ("RestMinutes", "90", "hours_1_3"), ("Rest mins", "2", "under_15_min"),
        ("Rest", "90", "unknown"), ("Rest (h or min)", "2", "unknown"), ("Rest", "2 h", "hours_1_3"),
        ("Rest (h)", "90 min", "hours_1_3"),
    ],
)  # fmt: skip
def test_a_rest_is_in_the_unit_of_its_heading_or_cell(
    kestrel: Kestrel, tmp_path: Path, heading: str, typed: str, taken: str
) -> None:
    row = _one_row(kestrel, tmp_path, {heading: typed}, {"rest": heading})
    assert row.rest.value == taken
    assert row.remark == ("" if taken != "unknown" else f"rest written: “{typed}”")


@pytest.mark.parametrize(
    ("heading", "typed", "field", "taken", "kept"),
    [
        ("Amps (mA)", "8000", "load_a", "8.000", ""), ("Current mA", "8 A", "load_a", "8", ""),
        ("Load (W)", "300", "load_a", None, "load amps written: “300 W”"), ("Load (W)", "8 A", "load_a", "8", ""),
        ("Temp (°C)", "18", "bench_c", "18", ""), ("Temp (°F)", "55", "bench_c", None, "temperature written: “55 °F”"),
        ("Temp F", "55", "bench_c", None, "temperature written: “55 F”"), ("Temp [in F]", "55 C", "bench_c", "55", ""),
        ("Temp", "72", "bench_c", None, "temperature written: “72”"), ("Held (min)", "1", "hold_s", None, "seconds held written: “1 min”"),
        ("Held", "0", "hold_s", None, "seconds held written: “0”"), ("Held (s)", "10", "hold_s", "10", ""),
        ("Volts (%)", "98", "rested_v", None, "rested volts written: “98 %”"), ("Volts (V)", "41.5", "rested_v", "41.5", ""),
        ("Volts (at rest)", "41.5", "rested_v", "41.5", ""), ("Volts (A)", "41.5", "rested_v", "41.5", ""),
        ("Volts (min)", "41.5", "rested_v", "41.5", ""),
    ],
)  # fmt: skip
def test_a_figure_of_another_unit_is_kept_as_it_is_written_and_never_taken_for_the_fields_own(
    kestrel: Kestrel, tmp_path: Path, heading: str, typed: str, field: str, taken: str | None, kept: str
) -> None:
    row = _one_row(kestrel, tmp_path, {heading: typed}, {field: heading})
    value = getattr(row, field)
    assert (None if value is None else str(value)) == taken
    assert (kept in row.remark) if kept else not row.remark, row.remark


def _one_row(kestrel: Kestrel, tmp_path: Path, cells: dict[str, str], named: dict[str, str]) -> OldReading:
    plain = {"Battery no": "P-1002", "Date": "2026-10-05", "Volts": "41.50", "Meter": "M-01"}
    if "rested_v" in named:
        del plain["Volts"]
    plain |= cells
    path = written(tmp_path, ";".join(plain) + "\n" + ";".join(plain.values()) + "\n")
    plan = oldsheets.with_columns(oldsheets.survey(kestrel.store, path).plan, named)
    shown = oldsheets.preview(kestrel.store, kestrel.clock, path, replace(plan, millivolts=False))
    assert shown.taken == 1, shown.examples
    ((_row, reading),) = oldsheets._staged(shown, lambda: None)
    shown.close()
    return reading


def test_taking_back_strikes_everything_and_leaves_a_trace(kestrel: Kestrel, tmp_path: Path) -> None:
    path = written(
        tmp_path,
        HEAD + "P-1002;2026-10-05;41,52;90;M-01;\nP-1002;2026-10-06;41,52;;M-01;\nP-77;2026-10-06;41;90;M-01;\n",
    )
    with kestrel.store.view() as view:
        latest = view.latest_checks()
    done = bring(kestrel, path)
    assert done.batch is not None and parked.parked_rows(kestrel.store) == [("P-77", 1)]
    importing.take_back(kestrel.store, kestrel.clock, kestrel.author(), done.batch, "wrong depot")
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert all(c.struck for c in page.checks if c.source != "typed")
    said = [say(event.text) for event in page.events]
    assert any("taken back with its import" in one for one in said)
    assert any("wrong depot" in one for one in said)
    with kestrel.store.view() as view:
        assert view.latest_checks() == latest
    assert parked.parked_rows(kestrel.store) == [] and kestrel.store.verify().good
    with pytest.raises(EntryRefused, match="already"):
        importing.take_back(kestrel.store, kestrel.clock, kestrel.author(), done.batch, "twice")
    assert bring(kestrel, path).counts["checks"] == 1


def test_the_very_same_file_is_read_as_before_or_not_at_all(kestrel: Kestrel, tmp_path: Path) -> None:
    text = HEAD + "P-1002;3/4/2026;41,5;90;M-01;one\nP-1002;5/6/2026;41380;90;M-01;two\n"
    path = written(tmp_path, text)
    done = bring(kestrel, path, order=DateOrder.DAY_FIRST, millivolts=False)
    assert done.counts["checks"] == 1 and done.counts["refused"] == 1
    again = shown(kestrel, path)
    assert again.counts == {"known": 1, "refused": 1} and all(one.answered for one in again.questions)
    with pytest.raises(FileRefused) as refused:
        shown(kestrel, path, order=DateOrder.MONTH_FIRST)
    assert "by DUNN, read as: day first. Now it would be read as: month first." in say(refused.value.message)
    plan = oldsheets.survey(kestrel.store, path).plan
    for named, was, now in (
        ({"remark": ""}, "remark from “Notes”", "no remark"),
        ({"rested_v": "Notes"}, "rested volts from “Volts”", "rested volts from “Notes”"),
    ):
        with pytest.raises(FileRefused) as refused:
            oldsheets.preview(kestrel.store, kestrel.clock, path, oldsheets.with_columns(plan, named))
        assert f"read as: {was}. Now it would be read as: {now}." in say(refused.value.message)
    copy = written(tmp_path, text, "copy.csv")
    rest = bring(kestrel, copy, millivolts=True)
    assert rest.counts["checks"] == 1 and rest.counts["known"] == 1, "rows that were left out may come in later"
    changed = written(tmp_path, text + "P-1002;7/8/2026;41,3;90;M-01;three\n", "longer.csv")
    assert [one.about for one in shown(kestrel, changed).questions if not one.answered] == ["order", "millivolts"]
    for batch in (done.batch, rest.batch):
        assert batch is not None
        importing.take_back(kestrel.store, kestrel.clock, kestrel.author(), batch, "month was first")
    assert bring(kestrel, path, order=DateOrder.MONTH_FIRST, millivolts=True).counts["checks"] == 2


def test_two_readings_of_one_file_at_once_do_not_both_come_in(kestrel: Kestrel, tmp_path: Path) -> None:
    path = written(tmp_path, HEAD + "P-1002;3/4/2026;41,5;90;M-01;\n")
    one, other = (shown(kestrel, path, order=order) for order in DateOrder)
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), one)
    with pytest.raises(FileRefused, match="read as: day first"):
        oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), other)


def test_taking_back_is_stopped_whole_and_strikes_every_part(
    kestrel: Kestrel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleetcare.store.heard.LOOK_EVERY", 100)
    monkeypatch.setattr("fleetcare.store.derive.STRUCK_AT_ONCE", 7)
    rows = "".join(
        f"{pack};2026-{1 + n % 9:02d}-{1 + n // 9:02d};41,52;{rest};M-01;\n"
        for n in range(30)
        for pack, rest in (("P-1002", "90"), ("P-1003", ""), ("P-77", "90"))
    )
    done = bring(kestrel, written(tmp_path, HEAD + rows))
    assert done.batch is not None and done.counts["checks"] == done.counts["kept"] == done.counts["parked"] == 30
    late = bring(kestrel, written(tmp_path, HEAD + "P-1002;2026-10-06;41,52;90;M-01;\n", "late.csv"))
    parked.settle(kestrel.store, kestrel.clock, kestrel.author(), "P-77", "P-1004")
    with kestrel.store.view() as view:
        before = view.head()
    asked = (kestrel.store, kestrel.clock, kestrel.author(), done.batch, "wrong depot")
    told: list[int] = []
    with pytest.raises(Cancelled):
        importing.take_back(*asked, lambda n, _of: told.append(n), lambda: len(told) == 3)
    with kestrel.store.view() as view:
        assert view.head() == before and len(told) == 3
    assert kestrel.store.verify().good
    importing.take_back(*asked, lambda n, _of: told.append(n))
    assert len(told) > 10 and kestrel.store.verify().good
    with kestrel.store.view() as view:
        assert view.packs_of_batch(done.batch) == [] and view.packs_of_batch(late.batch or "") == ["P-1002"]
    assert parked.parked_rows(kestrel.store) == []


def test_settling_many_parked_rows_tells_and_is_stopped_whole(kestrel: Kestrel, tmp_path: Path) -> None:
    rows = "".join(
        f"P-77;2025-{1 + n % 12:02d}-{1 + n // 12 % 28:02d} {n // 336:02d}:00;41,52;90;M-01;\n" for n in range(500)
    )
    bring(kestrel, written(tmp_path, HEAD + rows))
    asked = (kestrel.store, kestrel.clock, kestrel.author(), "P-77", "P-1004", "")
    told: list[tuple[int, int]] = []
    with pytest.raises(Cancelled):
        parked.settle(*asked, None, lambda: True)
    assert parked.parked_rows(kestrel.store) == [("P-77", 500)]
    parked.settle(*asked, lambda *one: told.append(one))
    assert told == [(200, 500), (400, 500)] and parked.parked_rows(kestrel.store) == []
    assert (
        len([c for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1004").checks if c.source != "typed"])
        == 500
    )


def test_parked_rows_are_settled_by_a_person_and_go_back_with_their_import(kestrel: Kestrel, tmp_path: Path) -> None:
    text = HEAD + "P-77;2026-10-05;41,52;90;M-01;\nP-77;2026-10-06;14,30;90;M-01;\nP-78;2026-10-06;41;90;M-01;\n"
    path = written(tmp_path, text)
    done = bring(kestrel, path)
    with pytest.raises(EntryRefused, match="no pack P-999"):
        parked.settle(kestrel.store, kestrel.clock, kestrel.author(), "P-77", "P-999")
    parked.settle(kestrel.store, kestrel.clock, kestrel.author(), "P-77", "P-1002")
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert [str(c.rested_v) for c in page.checks if c.source != "typed"] == ["41.52"]
    assert any("14.30 V" in say(e.text) for e in page.events)
    with pytest.raises(EntryRefused):
        parked.settle(kestrel.store, kestrel.clock, kestrel.author(), "P-78", None)
    parked.settle(kestrel.store, kestrel.clock, kestrel.author(), "P-78", None, "sold in 2023")
    assert parked.parked_rows(kestrel.store) == [] and bring(kestrel, path).batch is None
    assert done.batch is not None
    importing.take_back(kestrel.store, kestrel.clock, kestrel.author(), done.batch, "no")
    assert all(
        c.struck for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks if c.source != "typed"
    )
    kestrel.store.rebuild()
    assert kestrel.store.verify().good


def test_the_source_is_kept_byte_for_byte(kestrel: Kestrel, tmp_path: Path) -> None:
    path = tmp_path / "old.csv"
    path.write_bytes(b"\xef\xbb\xbf" + (HEAD + 'P-1002;2026-10-05;41,52;90;M-01;"a ""q"""\r\n').encode())
    done = bring(kestrel, path)
    assert done.batch is not None
    parked.save_source(kestrel.store, done.batch, tmp_path / "again.csv")
    assert (tmp_path / "again.csv").read_bytes() == path.read_bytes()
    with pytest.raises(FileRefused, match="nothing was overwritten"):
        parked.save_source(kestrel.store, done.batch, tmp_path / "again.csv")


@pytest.mark.parametrize(("name", "engine"), [("old.xlsx", "openpyxl"), ("old.ods", "odf")])
def test_spreadsheets_of_several_sheets_written_by_other_libraries(
    kestrel: Kestrel, tmp_path: Path, name: str, engine: str
) -> None:
    path = tmp_path / name
    with pd.ExcelWriter(path, engine=engine) as writer:  # type: ignore[call-overload]
        pd.DataFrame({"nothing": ["here"]}).to_excel(writer, sheet_name="Cover", index=False)
        pd.DataFrame(
            {
                "Pack": ["P-1002", "P-1003"], "Date": [dt.datetime(2026, 10, 5, 8, 10), dt.datetime(2026, 10, 6)],
                "Volts": [41.52, 41.38], "Rest min": [90, 120], "Meter": ["M-01", "M-01"],
            }
        ).to_excel(writer, sheet_name="2026", index=False)  # fmt: skip
    assert table_files.sheet_names(path) == ("Cover", "2026")
    plan = oldsheets.survey(kestrel.store, path, "2026").plan
    made = oldsheets.preview(kestrel.store, kestrel.clock, path, plan)
    assert made.counts == {"checks": 2}, [say(e.reason) for e in made.examples]
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), made)
    line = next(c for c in summary.pack_summary(kestrel.store, kestrel.clock, "P-1002").checks if c.source != "typed")
    assert (str(line.rested_v), f"{line.done_at:%Y-%m-%d %H:%M}", line.source) == (
        "41.52", "2026-10-05 08:10", f"file:{name}[2026]:2",
    )  # fmt: skip


def test_quoted_cells_are_read_as_rfc_4180_writes_them(tmp_path: Path) -> None:
    # RFC 4180, section 2: rules 5 to 7 (quoted fields, line breaks within them, doubled quotes); its examples.
    path = tmp_path / "rfc.csv"
    path.write_bytes(b'aaa,bbb,ccc\r\n"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx\r\n"aaa","b""bb","ccc"')
    assert [cells for _, cells in table_files.rows(path)] == [
        ["aaa", "bbb", "ccc"], ["aaa", "b\r\nbb", "ccc"], ["zzz", "yyy", "xxx"], ["aaa", 'b"bb', "ccc"],
    ]  # fmt: skip


def test_stopping_writes_nothing_and_a_changed_file_is_refused(kestrel: Kestrel, tmp_path: Path) -> None:
    rows = "".join(
        f"P-1002;2025-01-01 00:{n // 60 % 60:02d}:{n % 60:02d};41,{n % 90:02d};90;M-01;{n}\n" for n in range(5000)
    )
    path = written(tmp_path, HEAD + rows)
    plan: Plan = oldsheets.survey(kestrel.store, path).plan
    with pytest.raises(Cancelled):
        oldsheets.preview(kestrel.store, kestrel.clock, path, plan, None, lambda: True)
    made = oldsheets.preview(kestrel.store, kestrel.clock, path, plan)
    with kestrel.store.view() as view:
        before = view.head()
    steps: list[tuple[int, int]] = []
    with pytest.raises(Cancelled):
        oldsheets.bring_in(
            kestrel.store,
            kestrel.clock,
            kestrel.author(),
            made,
            lambda n, of: steps.append((n, of)),
            lambda: bool(steps),
        )
    assert steps == [(oldsheets.CHUNK, 5000)]
    with kestrel.store.view() as view:
        assert view.head() == before
    path.write_text(path.read_text("utf-8") + "P-1002;2025-02-01;41;90;M-01;\n", "utf-8")
    with pytest.raises(FileRefused, match="was changed"):
        oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), made)
    with pytest.raises(NotAllowed):
        oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author("HALE"), made)


def test_what_was_recorded_between_preview_and_yes_is_noticed(kestrel: Kestrel, tmp_path: Path) -> None:
    path = written(tmp_path, HEAD + "P-1002;2026-10-05;41,52;90;M-01;\n")
    made, other = shown(kestrel, path), shown(kestrel, path)
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), made)
    late = oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), other)
    assert late.batch is None and late.counts["known"] == 1


def test_the_end_of_writing_is_told_also_where_rows_came_in_meanwhile(kestrel: Kestrel, tmp_path: Path) -> None:
    rows = [f"P-1002;2026-10-{day:02d};41,52;90;M-01;\n" for day in range(5, 11)]
    some = shown(kestrel, written(tmp_path, HEAD + "".join(rows[:3]), "half.csv"))
    late = shown(kestrel, written(tmp_path, HEAD + "".join(rows)))
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), some)
    steps: list[tuple[int, int]] = []
    made = oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), late, lambda n, of: steps.append((n, of)))
    assert made.counts["known"] == 3 and steps[-1] == (3, 3)


def test_a_fleet_made_before_these_tables_opens_and_gets_them(kestrel: Kestrel, tmp_path: Path) -> None:
    import sqlite3

    from fleetcare.store.store import Store

    path = kestrel.store.path
    kestrel.store.close()
    raw = sqlite3.connect(path)
    for table in ("old_reading", "parked_row", "source_part"):
        raw.execute(f"DROP TABLE {table}")
    raw.commit()
    raw.close()
    store = Store.open(path)
    assert store.verify().good
    store.close()


def test_terse_headings_are_recognised_and_a_pack_written_alike_is_hinted_at_only(
    kestrel: Kestrel, tmp_path: Path
) -> None:
    path = tmp_path / "terse.csv"
    path.write_text(
        "Pack,Date,V rested,V load,A,Rest (min),Meter\np1001,2026-10-20,41.50,40.10,8,90,M-01\n"
        "P 1002,2026-10-20,41.40,40.00,8,90,M-01\nP-77,2026-10-20,41.40,40.00,8,90,M-01\n", "utf-8"
    )  # fmt: skip
    plan = oldsheets.survey(kestrel.store, path).plan
    named = {name: plan.heading(name) for name in ("rested_v", "loaded_v", "load_a")}
    assert named == {"rested_v": "V rested", "loaded_v": "V load", "load_a": "A"}
    shown = oldsheets.preview(kestrel.store, kestrel.clock, path, plan)
    assert shown.counts["parked"] == 3, "nothing is taken for a pack that it only resembles"
    told = [say(one.reason) for one in shown.examples]
    assert "written alike: P-1001." in told[0] and "written alike: P-1002." in told[1]
    assert told[2] == "no pack P-77 on record"
    shown.close()
    assert parked.written_alike(kestrel.store, "p 1003") == ("P-1003",)
    assert parked.written_alike(kestrel.store, " - ") == ()
