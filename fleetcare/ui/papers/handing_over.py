"""The PDF itself to the system's print queue, where there is one that takes PDF: letters and lines stay what they are.

That is CUPS (`lp`), found on Linux and macOS.  What the person chose in the dialog goes along.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

from PySide6.QtGui import QPageSize
from PySide6.QtPrintSupport import QPrintEngine, QPrinter

_OPTIONS = QPrintEngine.PrintEnginePropertyKey(0xFE00)
"""Under this key Qt's engine for CUPS keeps what its dialog adds (pages on a sheet, odd or even pages, trays)."""
_LONGEST_S = 60
"""How long the queue may take to copy the file."""
_SIDES = {
    QPrinter.DuplexMode.DuplexNone: "one-sided",
    QPrinter.DuplexMode.DuplexLongSide: "two-sided-long-edge",
    QPrinter.DuplexMode.DuplexShortSide: "two-sided-short-edge",
    QPrinter.DuplexMode.DuplexAuto: "two-sided-long-edge",
}


def handed_over(printer: QPrinter, path: Path, title: str) -> bool:
    """True when the queue took the file at `path`; False where there is no such queue or it did not take it."""
    command = shutil.which("lp")
    chosen = printer.printEngine().property(_OPTIONS)
    if command is None or not isinstance(chosen, list) or printer.outputFileName() or not printer.printerName():
        return False
    words = [command, "-d", printer.printerName(), "-t", title, *_asked(printer, chosen), str(path.absolute())]
    try:
        done = subprocess.run(words, capture_output=True, timeout=_LONGEST_S, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def _asked(printer: QPrinter, chosen: list[str]) -> list[str]:
    """Copies, pages, paper and the dialog's own options, as words for the command."""
    words = ["-n", str(max(1, printer.copyCount()))]
    if printer.toPage():
        words += ["-P", f"{max(1, printer.fromPage())}-{printer.toPage()}"]
    options = dict(zip(chosen[::2], chosen[1::2], strict=False))
    options |= {
        "print-scaling": "none",
        "media": _paper(printer.pageLayout().pageSize()),
        "sides": _SIDES[printer.duplex()],
    }
    if printer.copyCount() > 1:
        options["collate"] = "true" if printer.collateCopies() else "false"
    if printer.colorMode() is QPrinter.ColorMode.GrayScale:
        options["print-color-mode"] = "monochrome"
    if printer.pageOrder() is QPrinter.PageOrder.LastPageFirst:
        options["outputorder"] = "reverse"
    return [*words, *(word for name, value in options.items() if value for word in ("-o", f"{name}={value}"))]


def _paper(size: QPageSize) -> str:
    """The paper by its name, or by its measures in points."""
    if size.id() in (QPageSize.PageSizeId.A4, QPageSize.PageSizeId.Letter):
        return "A4" if size.id() is QPageSize.PageSizeId.A4 else "Letter"
    points = size.sizePoints()
    return f"Custom.{points.width()}x{points.height()}"
