"""A disk that is full, a printer that is not there: what was there stays, and a plain sentence says why."""

from collections.abc import Callable
from pathlib import Path

import pypdf
import pytest
from PySide6.QtPrintSupport import QPrintDialog, QPrinter, QPrinterInfo
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from fleetcare.domain.errors import FileRefused
from fleetcare.domain.label_stock import STOCKS
from fleetcare.domain.wording import say
from fleetcare.reports import archive, every_sheet, history_sheet, label, label_sheet, slip
from fleetcare.reports.every_sheet import KINDS, Order
from fleetcare.reports.raster import Pages
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


class Queue:
    """A printer as the system tells of it: there or not, running or standing still."""

    def __init__(self, there: bool, state: QPrinter.PrinterState = QPrinter.PrinterState.Idle) -> None:
        self._there, self._state = there, state

    def isNull(self) -> bool:
        return not self._there

    def state(self) -> QPrinter.PrinterState:
        return self._state


THERE, GONE = Queue(there=True), Queue(there=False)
PAUSED = Queue(there=True, state=QPrinter.PrinterState.Error)


@pytest.mark.parametrize(
    ("told", "drawn", "said"),
    [
        ([THERE, THERE, THERE], True, "Sent to"),
        ([GONE], False, "no longer there. Nothing was printed"),
        ([THERE, GONE], True, "went away while the pages were sent"),
        ([THERE, THERE, PAUSED], True, "reports a fault or is paused: the pages wait in its queue"),
    ],
)
def test_a_printer_that_is_missing_or_goes_away_is_said_plainly(
    busy: Kestrel,
    tmp_path: Path,
    qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
    told: list[Queue],
    drawn: bool,
    said: str,
) -> None:
    """Qt reports success in all of these; seen with a real queue that was removed, and whose server was stopped."""
    path, drawings = tmp_path / "s.pdf", []
    writer(busy, "round")(path)
    answers = iter(told)
    monkeypatch.setattr(QPrinterInfo, "availablePrinterNames", lambda: ["office"])
    monkeypatch.setattr(QPrinterInfo, "printerInfo", lambda _name: next(answers))
    monkeypatch.setattr(QPrintDialog, "exec", lambda _dialog: QPrintDialog.DialogCode.Accepted)
    monkeypatch.setattr(printing, "draw", lambda *_all: drawings.append(1))
    monkeypatch.setattr(QPrinter, "outputFileName", lambda _printer: "")
    pages, parent = Pages(path), QWidget()
    qtbot.addWidget(parent)
    try:
        answer = printing.ask_and_print(parent, pages, "round")
    except FileRefused as error:
        answer = say(error.message)
    assert answer is not None and said in answer and bool(drawings) is drawn
    pages.close()


def test_a_job_is_stopped_between_pages_and_a_refused_page_is_said(busy: Kestrel, tmp_path: Path, qtbot: QtBot) -> None:
    path = tmp_path / "h.pdf"
    numbers = tuple(f"S2611020630-0{n}" for n in range(1, 5))
    every_sheet.write(Order("blank", "A4", "Dunn", busy.now, "", numbers), busy.store, busy.clock, path)
    pages = Pages(path)
    assert len(pages) == 4

    def to_file(made: QPrinter, name: str) -> QPrinter:
        made.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        made.setOutputFileName(str(tmp_path / name))
        printing.prepare(made, pages, "history")
        return made

    asked: list[tuple[int, int]] = []

    def go_on(drawn: int, of: int) -> bool:
        asked.append((drawn, of))
        return drawn < 2

    with pytest.raises(FileRefused, match=f"Stopped: 2 of {len(pages)} pages went to"):
        printing.draw(to_file(QPrinter(), "two.pdf"), pages, go_on)
    assert asked == [(n, len(pages)) for n in (0, 1, 2)] and len(pypdf.PdfReader(tmp_path / "two.pdf").pages) == 2

    class Jammed(QPrinter):
        def newPage(self) -> bool:
            return False

    with pytest.raises(FileRefused, match="did not take the pages"):
        printing.draw(to_file(Jammed(), "one.pdf"), pages, lambda _drawn, _of: True)
    pages.close()


def test_an_archive_that_does_not_fit_names_the_file_that_was_asked_for(
    busy: Kestrel, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_all: object, **_more: object) -> int:
        raise FileRefused("paper.not_written", path="/tmp/inner", why="No space left on device")

    monkeypatch.setattr(history_sheet, "write", full)
    with pytest.raises(FileRefused, match=r"h\.zip cannot be written: No space left on device"):
        writer(busy, "archive")(tmp_path / "h.zip")
    assert list(tmp_path.glob("h*")) == []
