"""The command line along a pack's life: parts, away, vans and disposal agree with the window's read models."""

import csv
import datetime as dt
import io
from pathlib import Path

import pypdf
import pytest

from fleetcare.__main__ import main
from fleetcare.domain.away import Missing, SentToMaker, WentMissing
from fleetcare.domain.disposing import Disposed
from fleetcare.domain.packs import Depot
from fleetcare.domain.spare_parts import Part, PartKind
from fleetcare.services import disposal, going_missing, maker_returns, record, stock, van_lists
from fleetcare.services.van_lists import ToLoad
from tests.kestrel import D, Kestrel


def run(capsys: pytest.CaptureFixture[str], kestrel: Kestrel, *words: object) -> tuple[int, str, str]:
    code = main([str(word) for word in (*words, "--fleet", kestrel.store.path)])
    out = capsys.readouterr()
    return code, out.out, out.err


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_each_says_in_words_when_there_is_nothing(capsys: pytest.CaptureFixture[str], kestrel: Kestrel) -> None:
    for command, words in (
        ("parts", "No part"),
        ("elsewhere", "Nothing is lost"),
        ("vans", "No van"),
        ("disposal", "No pack"),
    ):
        code, out, _ = run(capsys, kestrel, command)
        assert code == 0 and words in out
    assert "Nothing to order" in run(capsys, kestrel, "parts", "--order")[1]


def test_parts_are_listed_booked_in_and_counted(capsys: pytest.CaptureFixture[str], kestrel: Kestrel) -> None:
    part = Part("S-01", PartKind.FUSE, "blade fuse", "FB-30", reorder_level=2, price=D("2.40"), currency="GBP")
    stock.put_part(kestrel.store, kestrel.clock, kestrel.author(), part)
    (line,) = rows(run(capsys, kestrel, "parts", "--order", "--format", "csv")[1])
    assert (line["part"], line["on hand"], line["order"], line["cost"]) == ("S-01", "0", "4", "9.60 GBP")
    code, out, _ = run(capsys, kestrel, "parts", "--in", "s-01", "--pieces", 5, "--as", "DUNN")
    assert code == 0 and "5 on hand" in out
    code, _, err = run(capsys, kestrel, "parts", "--count", "S-01", "--pieces", 4, "--as", "DUNN")
    assert code == 2 and "why the count differs" in err
    run(capsys, kestrel, "parts", "--count", "S-01", "--pieces", 4, "--reason", "one found bent", "--as", "DUNN")
    assert rows(run(capsys, kestrel, "parts", "--format", "csv")[1])[0]["on hand"] == "4"


def test_what_is_away_is_listed_and_the_board_adds_up(
    capsys: pytest.CaptureFixture[str], kestrel: Kestrel, tmp_path: Path
) -> None:
    store, clock = kestrel.store, kestrel.clock
    record.put_things(store, clock, kestrel.author("ORMOND"), ("depot", Depot("HY", "Heron Yard")))
    gone = WentMissing(None, "EB-14", Missing.STOLEN, kestrel.now, "Mill Hill", "CR-1")
    going_missing.record_missing(store, clock, kestrel.author(), gone)
    sent = SentToMaker("P-1011", kestrel.now, "Northfield", "RN-1", "carrier", dt.date(2026, 11, 20))
    maker_returns.record_sent(store, clock, kestrel.author(), sent)
    items = (van_lists.listed(store, "P-1012", "KW", ()),)
    van_lists.record_loaded(store, clock, kestrel.author(), ToLoad("KW", "HY", "Pike", items, True))
    given = Disposed("P-1013", kestrel.now, "Northfield", "NC-1", D("2.9"))
    disposal.record_disposed(store, clock, kestrel.author("ORMOND"), "B-05", given)
    listed = rows(run(capsys, kestrel, "elsewhere", "--format", "csv")[1])
    assert {(one["what"], one["state"]) for one in listed} == {
        ("EB-14", "stolen"), ("P-1004", "stolen"), ("P-1011", "at the maker"), ("P-1012", "on the way between depots"),
    }  # fmt: skip
    assert {one["who"] for one in listed} == {"Dunn"}
    board = run(capsys, kestrel, "board")[1]
    assert "23 vehicles = " in board and "23 here and 1 away (EB-14 stolen) = 24 on record" in board
    (van,) = rows(run(capsys, kestrel, "vans", "--format", "csv")[1])
    assert van["what"] == "P-1012" and van["goes as"].startswith("UN 3480")
    path = tmp_path / "van.pdf"
    assert run(capsys, kestrel, "vans", "--number", "v-0001", "--output", path)[0] == 0
    assert "UN 3480" in pypdf.PdfReader(path).pages[0].extract_text()
    assert run(capsys, kestrel, "vans", "--number", "V-9999")[0] == 2
    (line,) = rows(run(capsys, kestrel, "disposal", "--format", "csv")[1])
    assert (line["pack"], line["kg"], line["still open"]) == ("P-1013", "2.9", "receipt, waste-chain reference")
