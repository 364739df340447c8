"""The text of a pack's EU battery passport."""

from pathlib import Path

import pypdf
import pytest

from fleetcare.cli import commands
from fleetcare.domain.errors import EntryRefused, NotAllowed
from fleetcare.domain.packs import Pack
from fleetcare.domain.records import ThingPut, to_plain
from fleetcare.reports import every_sheet
from fleetcare.services import passports
from tests.kestrel import Kestrel

TEXT = "https://id.example/01/09506000134352/21/AB-12?x=1&y=<2>"


def keep(kestrel: Kestrel, code: str, text: str, by: str = "DUNN") -> None:
    passports.record_passport(kestrel.store, kestrel.clock, kestrel.author(by), code, text)


def test_the_text_is_kept_printed_and_belongs_to_one_pack(kestrel: Kestrel, tmp_path: Path) -> None:
    keep(kestrel, "p-1002", f" {TEXT} ")
    with kestrel.store.view() as view:
        assert passports.passport_of(view, "P-1002") == TEXT
    path = tmp_path / "s.pdf"
    order = every_sheet.Order("pack", "A4", "Dunn", kestrel.now, "P-1002")
    every_sheet.write(order, kestrel.store, kestrel.clock, path)
    assert TEXT in "".join("".join(p.extract_text() for p in pypdf.PdfReader(path).pages).split())
    with pytest.raises(EntryRefused, match="P-1002 carries this passport already"):
        keep(kestrel, "P-1003", TEXT)
    with pytest.raises(EntryRefused, match="kept with P-1002 already"):
        keep(kestrel, "P-1002", TEXT)
    with pytest.raises(EntryRefused, match="501 signs, 500 fit"):
        keep(kestrel, "P-1003", "x" * 501)
    for wrong in ("a\x07b", "a\nb"):
        with pytest.raises(EntryRefused, match="control signs"):
            keep(kestrel, "P-1003", wrong)
    with pytest.raises(NotAllowed):
        keep(kestrel, "P-1003", "other", by="HALE")
    keep(kestrel, "P-1002", "")
    keep(kestrel, "P-1003", TEXT)
    assert kestrel.store.verify().good


def test_a_pack_without_a_passport_keeps_its_older_bytes() -> None:
    assert "passport" not in to_plain(ThingPut("pack", Pack("P-1", "K36-A")))["thing"]  # type: ignore[index]


def test_the_text_from_the_command_line(kestrel: Kestrel, capsys: pytest.CaptureFixture[str]) -> None:
    fleet = ["--fleet", str(kestrel.store.path)]
    assert commands.run(["passport", "p-1002", *fleet]) == 0 and capsys.readouterr().out == "—\n"
    assert commands.run(["passport", "p-1002", *fleet, "--text", TEXT, "--as", "dunn"]) == 0
    capsys.readouterr()
    assert commands.run(["passport", "p-1002", *fleet]) == 0 and capsys.readouterr().out == f"{TEXT}\n"
    assert commands.run(["passport", "Z-1", *fleet]) == 2
