"""Text that could be taken for a command is text: in SQL, on paper, in tables, in file names and codes."""

import csv
import io
import zipfile
from pathlib import Path

import pytest
from pypdf import PdfReader

from fleetcare.domain.errors import EntryRefused
from fleetcare.domain.packs import Pack, Person, Role
from fleetcare.reports import pack_sheet
from fleetcare.services import exporting, identify, oldsheets, record, summary
from tests.kestrel import Kestrel

NASTY = (
    "'; DROP TABLE record; --", '"); DELETE FROM hold; --', "<b>bold</b><img src='file:///etc/passwd'/>",
    "<para><font size=99>", "&lt;script&gt;", "=HYPERLINK(\"http://x\")", "@SUM(1)", "../../../x", "{unit} %s %(a)s",
    "\\x00\\n", "\u202eright to left", "<script>alert(1)</script>",
)  # fmt: skip


@pytest.mark.parametrize("text", NASTY)
def test_a_remark_goes_through_store_sheet_and_export_as_it_was_typed(
    kestrel: Kestrel, tmp_path: Path, text: str
) -> None:
    old = tmp_path / "old.csv"
    with old.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows([["pack", "date", "volts", "rest min", "meter", "notes"],
                                   ["P-1002", "2026-10-05", "41.5", "90", "M-01", text]])  # fmt: skip
    shown = oldsheets.preview(kestrel.store, kestrel.clock, old, oldsheets.survey(kestrel.store, old).plan)
    oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
    page = summary.pack_summary(kestrel.store, kestrel.clock, "P-1002")
    assert page.checks[-1].remark == text or any(c.remark == text for c in page.checks)
    pack_sheet.write(page, tmp_path / "p.pdf", page="A4", printed_by=text, printed_at=kestrel.now)
    said = "".join(one.extract_text() for one in PdfReader(tmp_path / "p.pdf").pages).replace("\n", " ")
    if text.isascii():
        assert text.split()[0][:12] in said
    exporting.export_all(kestrel.store, tmp_path / "all.zip")
    with zipfile.ZipFile(tmp_path / "all.zip") as packed:
        rows = list(csv.reader(io.StringIO(packed.read("checks.csv").decode("utf-8"))))
    cells = [row[-1] for row in rows if row[-1].endswith(text)]
    assert cells == ["'" + text if text[0] in "=@" else text]
    assert kestrel.store.verify().good


@pytest.mark.parametrize("text", NASTY)
def test_a_scan_or_badge_of_that_kind_names_nothing(kestrel: Kestrel, text: str) -> None:
    with pytest.raises(EntryRefused):
        identify.identify(kestrel.store, text)
    assert kestrel.store.verify().good


@pytest.mark.parametrize("text", NASTY)
def test_names_and_codes_of_that_kind_are_only_names(kestrel: Kestrel, tmp_path: Path, text: str) -> None:
    person = Person("NASTY", text, (Role.MANAGER,), badge=text)
    record.put_things(
        kestrel.store,
        kestrel.clock,
        kestrel.author("ORMOND"),
        ("person", person),
        ("pack", Pack("P-1002", "K36-A", note=text)),
    )
    with kestrel.store.view() as view:
        assert view.thing("person", "NASTY").name == text and view.thing("pack", "P-1002").note == text
    assert kestrel.store.verify().good


def test_a_file_name_of_that_kind_is_only_a_name(kestrel: Kestrel, tmp_path: Path) -> None:
    old = tmp_path / "'; DROP TABLE record; -- <b>.csv"
    try:
        old.write_text("pack,date,volts\nP-1002,2026-10-05,41.5\n", "utf-8")
    except OSError:
        pytest.skip("this disk takes no such names")
    shown = oldsheets.preview(kestrel.store, kestrel.clock, old, oldsheets.survey(kestrel.store, old).plan)
    done = oldsheets.bring_in(kestrel.store, kestrel.clock, kestrel.author(), shown)
    assert done.file_name == old.name and kestrel.store.verify().good
