"""A thousand pages of history: pages per second against bare reportlab drawing the same text, and memory.

python -m tests.benchmarks.bench_history
"""

from __future__ import annotations

import resource
import tempfile
import time
from pathlib import Path

from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from fleetcare.reports.flow import Flow, Text
from fleetcare.reports.page import Running
from fleetcare.reports.text import REGULAR, register
from tests.kestrel import MONDAY

ROWS = 15_000


def _what(number: int) -> str:
    """A row of its own: pack, volts, ohms and vehicle differ from row to row."""
    return (
        f"P-{1000 + number % 911} check (rested full), rest 1–3 h: rested {41 + number % 97 / 100:.2f} V; loaded "
        f"{39 + number % 89 / 100:.2f} V at 8.0 A, held 10 seconds: 0.{100 + number % 83} Ω; bench {number % 31} °C; meter "
        f"M-01, calibration in date; in EB-{number % 53}; visual inspection: all good"
    )


def ours(path: Path) -> int:
    """The rows of a long history."""
    running = Running("Maintenance history", "fleet", "Kestrel Wharf", False, MONDAY, "0", "Dunn", MONDAY)
    with path.open("wb") as file:
        flow = Flow(file, running, page="A4")
        flow.table((0.07, "No."), (0.20, "Done / entered"), (0.15, "Who"), (0.58, "What"))
        for number in range(ROWS):
            flow.row(
                [Text(str(number))], [Text("30 Oct 2026 06:30"), Text("30 Oct 2026 06:31", 7.5, quiet=True)],
                [Text("Dunn"), Text("may reset and release", 7.5, quiet=True)],
                [Text(_what(number)), Text("Told then: Watch: may go out, look again", 7.5, quiet=True)],
            )  # fmt: skip
        return flow.finish()


def bare(path: Path, pages: int, lines: list[str]) -> None:
    """The same lines as the first page has, on as many pages, with nothing but drawString."""
    register()
    canvas = Canvas(str(path), pageCompression=1, initialFontName=REGULAR)
    for _ in range(pages):
        canvas.setFont(REGULAR, 8)
        for number, line in enumerate(lines):
            canvas.drawString(40, 800 - 9 * number, line)
        canvas.showPage()
    canvas.save()


def main() -> None:
    """Print pages per processor second, ratio and the most memory."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        start = time.process_time()
        pages = ours(folder / "ours.pdf")
        middle = time.process_time()
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
        lines = PdfReader(folder / "ours.pdf").pages[1].extract_text().splitlines()
        begin = time.process_time()
        bare(folder / "bare.pdf", pages, lines)
        end = time.process_time()
    mine, plain = middle - start, end - begin
    print(
        f"{pages} pages, {pages / mine:.0f} a second; bare {pages / plain:.0f} a second; ratio {mine / plain:.2f}; most {most} MB"
    )


if __name__ == "__main__":
    main()
