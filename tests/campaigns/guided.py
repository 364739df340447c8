"""Fuzzing that follows the code: inputs are changed so that lines not yet run are run (atheris, libFuzzer).

    python -m tests.campaigns.guided 100000

Each target has an oracle: a number that is taken is exactly the one that was written, a date taken is one
that the text can mean, a record that is read writes itself again to the same bytes, a row becomes a check,
a reading or a refusal, and nothing but a refusal is ever raised.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

ROOT = Path(__file__).parents[2]
PART = "\x1f"
"""Between the parts of a file of several."""
PLAIN = re.compile(r"[+-]?(\d+([.,]\d+)?|[.,]\d+)", re.ASCII)
ZONE = ZoneInfo("Europe/London")
SEEDS = {
    "number": ["41.5", "41,50", "41500 mV", "−41.5", ".5", "1 234,5", "41.5 V", "٤١"],
    "date": ["3/4/2026", "25.3.2026 08:10", "2026-10-05T08:10:00+02:00", "5 Oct 2026 9:15 pm", "29/2/2025", "2026-03-29"],
    "row": ["P-1002\x1f3/4/2026\x1f41,5\x1f39.9\x1f8\x1f90\x1fM-01\x1fEB-12\x1f18\x1fok", "P-9\x1f2026-10-05\x1fok"],
    "table": ["pack,date,volts\nP-1002,3/4/2026,41.5\n", 'a;b\n"x ""y""";41,5\n', "Log\n\npack\tdate\tmV\nP-1\t1/2/2025\t41500\n"],
    "scan": ["P-1002", "P-1002/3*K", "S2611020630-01*4", "1a2b 3c4d 5e6f 7a8b · 3412", "B-01"],
}  # fmt: skip


def _files():  # type: ignore[no-untyped-def]
    """What needs a depot; imported late, since only what a child imports itself is watched."""
    from tests.campaigns import guided_files

    return guided_files


def numbers(text: str) -> None:
    """The typed-number parsers and that of old cells."""
    from fleetcare.domain.errors import EntryRefused
    from fleetcare.domain.oldrows import NotANumber, read_number
    from fleetcare.domain.units import parse_amps, parse_celsius, parse_volts

    for parse in (parse_volts, parse_amps, parse_celsius):
        try:
            value = parse(text, field="f")
        except EntryRefused:
            continue
        typed = text.strip().replace("\u2212", "-")
        assert PLAIN.fullmatch(typed) and value == Decimal(typed.replace(",", ".")), text
    for quantity, powers in (
        ("volt", {"mv": -3}),
        ("amp", {"ma": -3}),
        ("celsius", {}),
        ("second", {}),
        ("minute", {}),
    ):
        try:
            found = read_number(text, quantity)
        except NotANumber:
            continue
        if found is not None:
            figure = re.match(r"[+-]?[\d.,]+", text.strip().replace("\u2212", "-").replace("\u00a0", " "))
            assert figure is not None
            unit = (
                text.strip()[len(figure.group()) :].strip().lower().replace("illivolts", "v").replace("illivolt", "v")
            )
            wanted = Decimal(f"{figure.group().replace(',', '.')}E{powers.get(unit, 0)}")
            assert found[0] == wanted and found[1] is bool(unit), text


def dates(text: str) -> None:
    """Dates of old sheets, and dates and times as typed."""
    from fleetcare.domain.errors import EntryRefused
    from fleetcare.domain.moments import parse_date, parse_moment
    from fleetcare.domain.oldrows import DateOrder, order_shown, read_moment, two_readings

    shown, two = order_shown(text), two_readings(text)
    assert shown is None or two is None, text
    clock, _, rest = text.partition("|")
    for order in (None, *DateOrder):
        try:
            at = read_moment(clock, ZONE, order, rest)
        except EntryRefused:
            continue
        assert at.tzinfo is not None
        if two is not None and order is not None and not rest:
            assert at.date() == two[order is DateOrder.MONTH_FIRST], text
    try:
        day = parse_date(text, field="f")
    except EntryRefused:
        return
    try:
        parse_moment(day, text, ZONE, field="f")
    except EntryRefused:
        return


def rows(text: str) -> None:
    """One old row on the depot's own packs and meters."""
    from fleetcare.domain.checks import VoltageCheck
    from fleetcare.domain.errors import FleetcareError
    from fleetcare.domain.oldrows import DateOrder, OldReading, row_identity
    from fleetcare.domain.records import from_plain, to_plain
    from fleetcare.services.oldrow import Asked, classify, read_row

    names = ("pack", "done_at", "rested_v", "loaded_v", "load_a", "rest", "meter", "vehicle", "bench_c", "remark")
    cells = dict(zip(names, (text.split("\x1f") + [""] * len(names))[: len(names)], strict=True))
    for order, milli in ((None, None), (DateOrder.DAY_FIRST, True), (DateOrder.MONTH_FIRST, False)):
        try:
            reading = read_row(cells, lambda _n: False, order, milli, ZONE, names, lambda _n: "rest min")
            what = classify(_files().depot().bench, reading)
        except Asked:
            assert order is None
            continue
        except FleetcareError as refused:
            assert str(refused)
            continue
        assert isinstance(what, (VoltageCheck, OldReading))
        assert from_plain(OldReading, to_plain(reading)) == reading and len(row_identity(reading)) == 16


def tables(text: str) -> None:
    """A whole CSV file: surveyed, shown and brought in, every row counted, every figure as written."""
    _files().by_reader("table", "guided.csv", text.encode("utf-8", "surrogatepass"))


def spreadsheets(text: str) -> None:
    """The parts of an XLSX file (sheet, then shared texts) or, after an o, the content of an ODS file."""
    if text.startswith("o"):
        _files().by_reader("spreadsheet", "guided.ods", _files().packed({"content.xml": text[1:]}))
        return
    sheet, _, shared = text.partition(PART)
    parts = _files().XLSX_PARTS | {"xl/worksheets/sheet1.xml": sheet, "xl/sharedStrings.xml": shared}
    _files().by_reader("spreadsheet", "guided.xlsx", _files().packed(parts))


def checks(text: str) -> None:
    """A table of checks."""
    _files().by_reader("checks", "guided.csv", text.encode("utf-8", "surrogatepass"))


def cells(text: str) -> None:
    """A table of measured cells."""
    _files().by_reader("cells", "guided.csv", text.encode("utf-8", "surrogatepass"))


def vehicles(text: str) -> None:
    """A list of vehicles."""
    _files().by_reader("vehicles", "guided.csv", text.encode("utf-8", "surrogatepass"))


def described(text: str) -> None:
    """A fleet that is described."""
    _files().by_reader("described", "guided.toml", text.encode("utf-8", "surrogatepass"))


def projected(text: str) -> None:
    """A table to project from: of checks, or after an m of models."""
    name = "models" if text.startswith("m") else "checks"
    _files().by_reader(
        f"projected {name}", f"guided-{name}.csv", text.removeprefix("m").encode("utf-8", "surrogatepass")
    )


def exports(text: str) -> None:
    """An export whose records are others, packed right."""
    whole = dict(_files().depot().kept["export"])
    whole["records.jsonl"] = text
    _files().by_reader("export", "guided.zip", _files().packed(whole))


def records(text: str) -> None:
    """The bytes of a record, good or not."""
    from fleetcare.domain.records import decode, encode

    data = text.encode("utf-8", "surrogatepass")
    try:
        record = decode(data)
        again = encode(record)
    except (ValueError, KeyError, TypeError, AttributeError, ArithmeticError):
        return
    assert encode(decode(again)) == again


def scans(text: str) -> None:
    """Whatever comes from a scanner or is typed where a code or a fingerprint belongs."""
    from fleetcare.domain import fingerprint
    from fleetcare.domain.errors import FleetcareError
    from fleetcare.services import backup, identify, people, sheets

    depot = _files().depot().made
    fingerprint.parse_printed(text)
    for ask in (
        backup.parse_printed, sheets.sheet_number, lambda typed: identify.identify(depot.store, typed),
        lambda typed: people.find_person(depot.store, typed), lambda typed: sheets.known_sheet(depot.store, typed),
    ):  # fmt: skip
        try:
            ask(text)
        except FleetcareError as refused:
            assert str(refused)


TARGETS: dict[str, Callable[[str], None]] = {
    "number": numbers, "date": dates, "row": rows, "record": records, "scan": scans, "table": tables,
    "spreadsheet": spreadsheets, "checks": checks, "cells": cells, "vehicles": vehicles, "described": described,
    "projected": projected, "export": exports,
}  # fmt: skip
SHARE = {"number": 4, "date": 4, "row": 4, "record": 4, "described": 2}
"""Of how many shares; one for every other target."""
BARE = ("number", "date", "record")
"""Targets that need no depot."""
LONGEST = {"record": 2000, "spreadsheet": 2000, "export": 6000, "described": 800, "projected": 2000}


def _child(name: str, runs: int, corpus: Path) -> None:
    """One target in this process; libFuzzer ends the process when it is through."""
    import atheris

    with atheris.instrument_imports(include=["fleetcare"]):
        import fleetcare.domain.moments
        import fleetcare.domain.oldrows
        import fleetcare.domain.records
        import fleetcare.domain.units  # noqa: F401

        if name not in BARE:
            _files()
    target = TARGETS[name]
    if name not in BARE:
        _files().depot()

    def one(data: bytes) -> None:
        target(data.decode("utf-8", "replace"))

    limits = [
        f"-runs={runs}",
        f"-max_len={LONGEST.get(name, 400)}",
        "-timeout=60",
        "-rss_limit_mb=0",
        f"-artifact_prefix={corpus}/found-",
    ]
    atheris.Setup([sys.argv[0], *limits, "-print_final_stats=1", str(corpus)], one)
    atheris.Fuzz()


def run(count: int, only: tuple[str, ...] = tuple(TARGETS)) -> dict[str, tuple[int, int]]:
    """About `count` inputs over all targets; by target how many were run, and how many lines and branches they met."""
    total = sum(SHARE.get(name, 1) for name in TARGETS)
    more = _files().depot().seeds if set(only) - {"number", "date", "row", "scan"} else {}
    seeds = {name: [*SEEDS.get(name, []), *more.get(name, [])] for name in only}
    found = {}
    for name in only:
        share = SHARE.get(name, 1)
        with tempfile.TemporaryDirectory() as place:
            corpus = Path(place)
            for number, seed in enumerate(seeds[name]):
                (corpus / f"seed{number}").write_text(seed, "utf-8")
            done = subprocess.run(
                [sys.executable, "-m", "tests.campaigns.guided", "--child", name, str(count * share // total), place],
                cwd=ROOT, capture_output=True, text=True, errors="replace",
            )  # fmt: skip
            assert done.returncode == 0, f"{name}: {done.stdout[-3000:]}\n{done.stderr[-3000:]}"
            runs = int(re.findall(r"number_of_executed_units:\s*(\d+)", done.stderr)[-1])
            met = int(re.findall(r"cov: (\d+)", done.stderr)[-1])
            found[name] = (runs, met)
    return found


def main() -> None:
    """Run and print, or be the child."""
    if sys.argv[1:2] == ["--child"]:
        _child(sys.argv[2], int(sys.argv[3]), Path(sys.argv[4]))
        return
    found = run(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
    for name, (runs, met) in found.items():
        print(f"{name}: {runs} inputs, {met} places of the code met")
    print(f"{sum(runs for runs, _ in found.values())} inputs: no crash, nothing taken that was not written")


if __name__ == "__main__":
    main()
