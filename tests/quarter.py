"""A depot at the end of a quarter: a pack whose resistance rises, one with few checks, an old model and a new one."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from fleetcare.domain.checks import CheckKind, LookOver, RestBand, VoltageCheck
from fleetcare.domain.packs import Chemistry, Pack, PackModel, PackStanding
from fleetcare.services import record, warranty
from tests.kestrel import K36, MONDAY, D, Kestrel, build

SAGS = ("1.60", "1.64", "1.66", "1.70", "1.73", "1.75", "1.80", "1.82")
RESTED = ("41.60", "41.62", "41.59", "41.61", "41.58", "41.60", "41.61", "41.60")
FIRST = dt.datetime(2026, 9, 14, 6, tzinfo=dt.UTC)
PULLED = {"K-01": 20, "K-02": 22, "K-03": 24, "K-04": 25, "K-05": 27, "K-06": 30}
"""Packs of the old model that were pulled, and the months after which they were."""
NEW = PackModel("L36", "L36", Chemistry.NMC, 10, 36, D("42.0"), D("14"), "K2", price=D("430"), currency="GBP")


def loaded(kestrel: Kestrel, pack: str, sag: str, at: dt.datetime, rested: str = "41.60") -> None:
    """One rested and loaded check at 8 A, by the same meter and in the same rest band."""
    check = VoltageCheck(
        pack, CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D(rested), at, "M-01", None, D(rested) - D(sag), D("8"), 10,
        D("20"), "L-08",
    )  # fmt: skip
    record.record_check(kestrel.store, lambda: at, kestrel.author(), check, LookOver(pack, at))


def months_ago(months: float) -> dt.date:
    """The day so many months before the review."""
    return MONDAY.date() - dt.timedelta(days=round(months * 30.4375))


def build_quarter(path: Path) -> Kestrel:
    """The depot on 2 Nov 2026: 14 old packs of mean age 26 months of which 6 are pulled, 3 new ones of 7 months."""
    made = build(path, checked_days_ago=58)
    manager = made.author("ORMOND")
    begun = MONDAY - dt.timedelta(days=57)
    put = [("pack_model", replace(K36, price=D("420"), currency="GBP")), ("pack_model", NEW)]
    with made.store.view() as view:
        old = {code: view.thing("pack", code) for code in view.codes("pack") if code.startswith("P-10")}
    # eight of the depot's own packs stay, the others belong to another story; six older ones were pulled
    staying = ("P-1001", "P-1002", "P-1003", "P-1005", "P-1007", "P-1010", "P-1012", "P-1014")
    for number, code in enumerate(staying):
        put.append(("pack", replace(old[code], in_service_on=months_ago(23.5 + number))))
    for code in sorted(old.keys() - set(staying)):
        if old[code].model == "K36-A":
            put.append(("pack", replace(old[code], model="S36-F")))
    for code, months in PULLED.items():
        since = months_ago(months + 2)
        put.append(("pack", Pack(code, "K36-A", f"2401-{code[2:]}", since, shelf="Rack 9")))
    put += [("pack", Pack(f"L-0{n}", "L36", f"2604-{n}", months_ago(7), shelf="Store")) for n in (1, 2, 3)]
    record.put_things(made.store, lambda: begun, manager, *put)
    for code, months in PULLED.items():
        with made.store.view() as view:
            since = view.thing("pack", code).in_service_on
        at = dt.datetime.combine(since + dt.timedelta(days=round(months * 30.4375)), dt.time(8), dt.UTC)
        check = VoltageCheck(code, CheckKind.RESTED_FULL, RestBand.HOURS_1_3, D("38.10"), at, "M-01")
        record.record_check(made.store, lambda: begun, made.author(), check, LookOver(code, at))
        retired = Pack(code, "K36-A", f"2401-{code[2:]}", since, PackStanding.RETIRED, "Rack 9")
        record.put_things(made.store, lambda: begun, manager, ("pack", retired))
    rows = [("P-1010", sag, FIRST + dt.timedelta(days=7 * n), RESTED[n]) for n, sag in enumerate(SAGS)]
    few = ("1.58", "1.60", "1.57")
    rows += [("P-1014", sag, FIRST + dt.timedelta(days=20 + 7 * n), RESTED[-n - 1]) for n, sag in enumerate(few)]
    new = [(f"L-0{number}", "", MONDAY - dt.timedelta(days=6), "41.70") for number in (1, 2, 3)]
    for pack, sag, at, rested in sorted([*rows, *new], key=lambda row: row[2]):
        if sag:
            loaded(made, pack, sag, at, rested)
        else:
            made.check(pack, rested, at=at)
    warranty.record_purchase(
        made.store, made.clock, manager, "P-1012", bought_on="2026-01-15", months="24", clause="not for hire use",
        invoice="", price="420",
    )  # fmt: skip
    return made
