"""A finished paper to a printer, through the system's own dialog."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QRectF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter, QPrinterInfo
from PySide6.QtWidgets import QWidget

from fleetcare.domain.errors import FileRefused
from fleetcare.reports.raster import POINTS_PER_INCH, Pages
from fleetcare.ui.papers.preview import image_of

MOST_DOTS = 300
"""Resolution at which pages are drawn for a printer, in dots per inch, when it offers more."""


def ask_and_print(parent: QWidget, pages: Pages) -> str | None:
    """Ask which printer and print; returns its name, or None when the person changed their mind.

    FileRefused when no printer is set up or it does not take the pages.
    """
    if not QPrinterInfo.availablePrinterNames():
        raise FileRefused("papers.no_printer")
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    prepare(printer, pages)
    dialog = QPrintDialog(printer, parent)
    dialog.setMinMax(1, len(pages))
    if dialog.exec() != QPrintDialog.DialogCode.Accepted:
        return None
    draw(printer, pages)
    return printer.printerName()


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
        prepare(printer, pages)
        draw(printer, pages)
    finally:
        pages.close()
    return found.printerName()


def prepare(printer: QPrinter, pages: Pages) -> None:
    """Give the printer the paper's own size, upright or wide, without margins of its own."""
    width, height = pages.size(0)
    wide = width > height
    size = QPageSize(QSizeF(min(width, height), max(width, height)), QPageSize.Unit.Point)
    printer.setPageSize(size)
    printer.setPageOrientation(QPageLayout.Orientation.Landscape if wide else QPageLayout.Orientation.Portrait)
    printer.setFullPage(True)


def draw(printer: QPrinter, pages: Pages) -> None:
    """Draw the chosen pages; FileRefused when the printer does not take them."""
    painter = QPainter()
    if not painter.begin(printer):
        raise FileRefused("papers.not_printed", printer=printer.printerName())
    try:
        first = max(printer.fromPage(), 1) - 1
        last = min(printer.toPage() or len(pages), len(pages))
        for number in range(first, last):
            if number > first and not printer.newPage():
                raise FileRefused("papers.not_printed", printer=printer.printerName())
            width, height = (side / POINTS_PER_INCH * printer.resolution() for side in pages.size(number))
            image = image_of(pages.picture(number, min(printer.resolution(), MOST_DOTS)))
            painter.drawImage(QRectF(0, 0, width, height), image)
    finally:
        painter.end()
