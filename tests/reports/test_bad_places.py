"""A disk that is full, a printer that is not there: what was there stays, and a plain sentence says why."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtPrintSupport import QPrinter, QPrinterInfo
from pytestqt.qtbot import QtBot

from fleetcare.domain.errors import FileRefused
from fleetcare.domain.label_stock import STOCKS
from fleetcare.reports import archive, every_sheet, history_sheet, label, label_sheet, slip
from fleetcare.reports.every_sheet import KINDS, Order
from fleetcare.services import history, label_sheets, labelling, proving, work_lists
from fleetcare.services.writing_files import write_whole
from fleetcare.ui.papers import printing
from tests.kestrel import MONDAY, Kestrel
from tests.reports.test_every_sheet import busy, code_of, number_papers
from tests.services.test_history import YEAR

__all__ = ["busy"]
COMMON = {"page": "A4", "printed_by": "Dunn", "printed_at": MONDAY}
OTHERS = ("history", "archive", "labels", "label", "slip", "copy")


def writer(kestrel: Kestrel, kind: str) -> Callable[[Path], object]:
    """What writes one kind of paper to a path."""
    store, clock = kestrel.store, kestrel.clock
    if kind in KINDS:
        if kind in ("van", "recall"):
            number_papers(kestrel)
        numbers = ("S2611020630-01",) if kind == "blank" else ()
        return lambda path: every_sheet.write(
            Order(kind, "A4", "Dunn", kestrel.now, code_of(kind), numbers), store, clock, path
        )
    if kind in ("history", "archive"):
        write = history_sheet.write if kind == "history" else archive.write

        def whole(path: Path) -> object:
            with history.reading(store, clock, YEAR) as reading:
                return write(reading, reading.whole(), path, **COMMON)

        return whole
    if kind == "labels":
        labels = label_sheets.labels_for(store, "pack", ["P-1002"])
        return lambda path: label_sheet.write(labels, STOCKS[0], path, copies=2, fleet_name="K", demo=False)
    if kind == "label":
        one, stamp = labelling.label_of(store, "P-1002"), work_lists.stamp(store, clock)
        return lambda path: label.write(one, path, stamp=stamp, **COMMON)
    if kind == "slip":
        known = proving.lodgings(store, clock)
        return lambda path: slip.write("K", "id", known.head, path, as_of=known.as_of, demo=False, **COMMON)
    return lambda path: write_whole(path, b"x" * 100_000)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a disk that is always full")
@pytest.mark.parametrize("kind", [*KINDS, *OTHERS])
def test_on_a_full_disk_the_old_paper_stays(busy: Kestrel, tmp_path: Path, kind: str) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    path = folder / "paper.pdf"
    path.write_bytes(b"old")
    (folder / "paper.pdf.new").symlink_to("/dev/full")
    with pytest.raises(
        FileRefused, match=r"cannot be written: No space left on device\. An older file there is unchanged"
    ):
        writer(busy, kind)(path)
    assert path.read_bytes() == b"old" and [one.name for one in folder.iterdir()] == ["paper.pdf"]


@pytest.mark.qt_log_ignore(r"QPainter::begin\(\): Returned false", extend=True)
def test_the_quarantine_sheet_goes_to_the_printer_at_once_or_says_why_not(
    busy: Kestrel, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "q.pdf"
    writer(busy, "quarantine_pack")(path)
    monkeypatch.setattr(QPrinterInfo, "defaultPrinter", QPrinterInfo)
    assert printing.print_at_once(path) is None

    class Office:
        def isNull(self) -> bool:
            return False

        def printerName(self) -> str:
            return "office"

    def to_file(_info: object, mode: QPrinter.PrinterMode) -> QPrinter:
        made = QPrinter(mode)
        made.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        made.setOutputFileName(str(tmp_path / where / "printed.pdf"))
        return made

    monkeypatch.setattr(QPrinterInfo, "defaultPrinter", Office)
    monkeypatch.setattr(printing, "QPrinter", to_file)
    to_file.PrinterMode = QPrinter.PrinterMode  # type: ignore[attr-defined]
    where = "."
    assert printing.print_at_once(path) == "office" and (tmp_path / "printed.pdf").stat().st_size > 1000
    where = "gone"
    with pytest.raises(FileRefused, match="did not take the pages"):
        printing.print_at_once(path)


def test_an_archive_that_does_not_fit_names_the_file_that_was_asked_for(
    busy: Kestrel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_all: object, **_more: object) -> int:
        raise FileRefused("paper.not_written", path="/tmp/inner", why="No space left on device")

    monkeypatch.setattr(history_sheet, "write", full)
    with pytest.raises(FileRefused, match=r"h\.zip cannot be written: No space left on device"):
        writer(busy, "archive")(tmp_path / "h.zip")
    assert list(tmp_path.glob("h*")) == []
