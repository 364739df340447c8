"""Sheets against bare reportlab drawing the same text: pages per processor second and their ratio, in turn.

python -m tests.benchmarks.bench_reports
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import pypdf
from reportlab.pdfgen.canvas import Canvas

from fleetcare.reports import pack_sheet
from fleetcare.reports.text import REGULAR, register
from fleetcare.services import demo, summary
from fleetcare.store.store import Store
from tests.kestrel import MONDAY

TIMES = 20


def main() -> None:
    """Draw the sheet of one pack again and again, and the same text line by line."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        demo.build(folder / "d.fleet", lambda: MONDAY, lambda _line: None)
        store = Store.open(folder / "d.fleet")
        page_of = summary.pack_summary(store, lambda: MONDAY, "P-1008")
        common = {"page": "A4", "printed_by": "Dunn", "printed_at": MONDAY}
        pack_sheet.write(page_of, folder / "s.pdf", **common)
        pages = [page.extract_text().splitlines() for page in pypdf.PdfReader(folder / "s.pdf").pages]
        register()
        ours = plain = 0.0
        for _ in range(TIMES):
            start = time.process_time()
            pack_sheet.write(page_of, folder / "s.pdf", **common)
            middle = time.process_time()
            canvas = Canvas(str(folder / "p.pdf"), invariant=1)
            for lines in pages:
                canvas.setFont(REGULAR, 8)
                for number, line in enumerate(lines):
                    canvas.drawString(40, 800 - 9 * number, line)
                canvas.showPage()
            canvas.save()
            ours, plain = ours + middle - start, plain + time.process_time() - middle
        count = TIMES * len(pages)
        print(f"sheet: {count / ours:.0f} pages/s, bare drawing {count / plain:.0f} pages/s, ratio {ours / plain:.1f}")
        store.close()


if __name__ == "__main__":
    main()
