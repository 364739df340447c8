"""A finished paper to a printer, through the system's own dialog: the file itself where the system takes it, else its pages drawn.

Qt says that printing went well also where the queue was removed or its server stopped meanwhile, so the system is asked
again, before the first page and after the last.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from PySide6.QtCore import QRectF, QSizeF, Qt
from PySide6.QtGui import QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter, QPrinterInfo
from PySide6.QtWidgets import QProgressDialog, QWidget

from fleetcare.domain.errors import FileRefused
from fleetcare.domain.wording import msg, say, word
from fleetcare.reports.raster import POINTS_PER_INCH, Pages
from fleetcare.ui.papers.handing_over import handed_over
from fleetcare.ui.papers.preview import image_of

MOST_DOTS = 300
"""Resolution at which pages are drawn for a printer, in dots per inch, when it offers more."""


def ask_and_print(parent: QWidget, pages: Pages, title: str) -> str | None:
    """Ask which printer and print; returns what to say, or None when the person changed their mind.

    `title` names the job in the printer's queue.  FileRefused when no printer is set up, when it does not take the
    pages or goes away, and when the person stopped.
    """
    if not QPrinterInfo.availablePrinterNames():
        raise FileRefused("papers.no_printer")
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    prepare(printer, pages, title)
    dialog = QPrintDialog(printer, parent)
    dialog.setMinMax(1, len(pages))
    if dialog.exec() != QPrintDialog.DialogCode.Accepted:
        return None
    with _shown_progress(parent, printer) as go_on:
        drawn_dots = _print(printer, pages, title, go_on)
    if printer.outputFileName():
        return say(msg("screen.written", path=printer.outputFileName()))
    if _stands_still(printer):
        return say(msg("papers.printer_waits", printer=printer.printerName()))
    if drawn_dots is None:
        return say(msg("papers.printed", printer=printer.printerName()))
    return say(msg("papers.printed_drawn", printer=printer.printerName(), dots=drawn_dots))


def print_at_once(path: Path) -> str | None:
    """Print the PDF at `path` on the system's default printer without asking; its name, or None when there is none.

    FileRefused when the printer does not take the pages.
    """
    found = QPrinterInfo.defaultPrinter()
    if found.isNull():
        return None
    pages = Pages(path)
    try:
        printer = QPrinter(found, QPrinter.PrinterMode.HighResolution)
        prepare(printer, pages, path.stem)
        _print(printer, pages, path.stem, lambda _done, _total: True)
    finally:
        pages.close()
    return found.printerName()


def prepare(printer: QPrinter, pages: Pages, title: str) -> None:
    """Give the printer the paper's own size, upright or wide, without margins of its own, and the job its name."""
    width, height = pages.size(0)
    wide = width > height
    size = QPageSize(QSizeF(min(width, height), max(width, height)), QPageSize.Unit.Point)
    printer.setPageSize(size)
    printer.setPageOrientation(QPageLayout.Orientation.Landscape if wide else QPageLayout.Orientation.Portrait)
    printer.setFullPage(True)
    printer.setDocName(title)


def draw(printer: QPrinter, pages: Pages, go_on: Callable[[int, int], bool]) -> None:
    """Draw the chosen pages; FileRefused when the printer does not take them.

    `go_on(drawn, of)` is asked before each page and ends the job where it is False.
    """
    painter = QPainter()
    if not painter.begin(printer):
        raise FileRefused("papers.not_printed", printer=printer.printerName())
    first = max(printer.fromPage(), 1) - 1
    last = min(printer.toPage() or len(pages), len(pages))
    taken, stopped_at = True, None
    for number in range(first, last):
        if not go_on(number - first, last - first):
            stopped_at = number - first
            break
        taken = number == first or printer.newPage()
        if not taken:
            break
        width, height = (side / POINTS_PER_INCH * printer.resolution() for side in pages.size(number))
        image = image_of(pages.picture(number, min(printer.resolution(), MOST_DOTS)))
        painter.drawImage(QRectF(0, 0, width, height), image)
    if not painter.end() or not taken:
        raise FileRefused("papers.not_printed", printer=printer.printerName())
    if stopped_at is not None:
        raise FileRefused("papers.print_stopped", pages=stopped_at, of=last - first, printer=printer.printerName())


def _print(printer: QPrinter, pages: Pages, title: str, go_on: Callable[[int, int], bool]) -> int | None:
    """Hand the file over, else draw its pages; returns at how many dots an inch they were drawn, None where they were not."""
    _refuse_missing(printer, "papers.printer_not_there")
    drawn = not handed_over(printer, pages.path, title)
    if drawn:
        draw(printer, pages, go_on)
    _refuse_missing(printer, "papers.printer_went_away")
    return min(printer.resolution(), MOST_DOTS) if drawn else None


def _refuse_missing(printer: QPrinter, key: str) -> None:
    """Raises FileRefused where the system does not know the printer; one that writes a file is always there."""
    if not printer.outputFileName() and QPrinterInfo.printerInfo(printer.printerName()).isNull():
        raise FileRefused(key, printer=printer.printerName())


def _stands_still(printer: QPrinter) -> bool:
    state = QPrinterInfo.printerInfo(printer.printerName()).state()
    return state in (QPrinter.PrinterState.Error, QPrinter.PrinterState.Aborted)


@contextmanager
def _shown_progress(parent: QWidget, printer: QPrinter) -> Iterator[Callable[[int, int], bool]]:
    """Shows how far a long job is, with a button that stops it; gone when the job is."""
    told = say(msg("papers.printing", printer=printer.printerName() or printer.outputFileName()))
    shown = QProgressDialog(told, word("papers.cancel"), 0, 1, parent)
    shown.setWindowTitle(word("papers.print"))
    shown.setWindowModality(Qt.WindowModality.WindowModal)
    shown.setMinimumDuration(700)

    def go_on(drawn: int, of: int) -> bool:
        shown.setMaximum(of)
        shown.setValue(drawn)
        return not shown.wasCanceled()

    try:
        yield go_on
    finally:
        shown.reset()
        shown.deleteLater()
