"""Label stock by its measures, and what fits on it.

Measures are millimetres.  The measures of the listed stock are those common in the trade, from
memory, without source; a sheet is measured before its first use.
"""

from __future__ import annotations

from dataclasses import dataclass

from fleetcare.domain.errors import EntryRefused

PAGES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height (ISO 216; ANSI/ASME Y14.1, 8.5 x 11 in)."""

DOT_MM = 0.125
"""Dot of a common label printer (8 dots a millimetre); a module is a whole number of dots (common practice)."""

LEAST_MODULE_MM = 0.375
"""Smallest module that hand scanners read off a worn label (proposal of this program)."""

QUIET_MODULES = 4
"""Clear margin round the code, in modules (ISO/IEC 18004)."""

EDGE_MM = 1.0
"""Nothing is printed nearer to the edge of a label (common practice, no source)."""

UNPRINTED_MM = 4.3
"""What many office printers leave blank at the edge of the paper (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class LabelStock:
    """Labels on a sheet, or, with `page` "", single labels one after another.

    `left_mm` and `top_mm` lead to the first label; the pitches from one label's edge to the next's.
    EntryRefused for labels that lie beyond the page or over one another.
    """

    name: str
    width_mm: float
    height_mm: float
    page: str = ""
    columns: int = 1
    rows: int = 1
    left_mm: float = 0.0
    top_mm: float = 0.0
    pitch_x_mm: float = 0.0
    pitch_y_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.width_mm < 15 or self.height_mm < 10:
            raise EntryRefused(
                "labels.too_small", field="measures", width=f"{self.width_mm:g}", height=f"{self.height_mm:g}"
            )
        if not self.page:
            return
        if self.columns < 1 or self.rows < 1:
            raise EntryRefused("labels.no_rows", field="measures")
        if (self.columns > 1 and self.pitch_x_mm < self.width_mm) or (
            self.rows > 1 and self.pitch_y_mm < self.height_mm
        ):
            raise EntryRefused("labels.overlap", field="measures")
        wide, high = PAGES_MM[self.page]
        needs_x = self.left_mm + (self.columns - 1) * self.pitch_x_mm + self.width_mm
        needs_y = self.top_mm + (self.rows - 1) * self.pitch_y_mm + self.height_mm
        if needs_x > wide + 0.01 or needs_y > high + 0.01:
            raise EntryRefused(
                "labels.beyond_page", field="measures", needs=f"{needs_x:.1f} × {needs_y:.1f}", page=self.page,
                has=f"{wide:g} × {high:g}",
            )  # fmt: skip

    @property
    def per_page(self) -> int:
        """Labels on one page."""
        return self.columns * self.rows if self.page else 1

    @property
    def page_mm(self) -> tuple[float, float]:
        """Size of one page: the sheet, or the label itself."""
        return PAGES_MM[self.page] if self.page else (self.width_mm, self.height_mm)

    @property
    def right_mm(self) -> float:
        """Kept free at the right of each label, so that a sheet's last column is not cut where the printer cannot print."""
        if not self.page:
            return 2 * EDGE_MM
        beyond = PAGES_MM[self.page][0] - self.left_mm - (self.columns - 1) * self.pitch_x_mm - self.width_mm
        return max(2 * EDGE_MM, UNPRINTED_MM - beyond)

    def place_mm(self, number: int) -> tuple[float, float]:
        """Left and top of the label at place `number` (from 0, row by row) of a page."""
        row, column = divmod(number, self.columns)
        return self.left_mm + column * self.pitch_x_mm, self.top_mm + row * self.pitch_y_mm


STOCKS = (
    LabelStock("a4-70x37", 70, 37, "A4", 3, 8, 0, 0.5, 70, 37),
    LabelStock("a4-63x38", 63.5, 38.1, "A4", 3, 7, 7.2, 15.1, 66.0, 38.1),
    LabelStock("a4-99x38", 99.1, 38.1, "A4", 2, 7, 4.6, 15.1, 101.6, 38.1),
    LabelStock("letter-66x25", 66.7, 25.4, "Letter", 3, 10, 4.8, 12.7, 69.8, 25.4),
    LabelStock("single-50x30", 50, 30),
    LabelStock("single-57x32", 57, 32),
)


def module_mm(stock: LabelStock, modules: int) -> float:
    """Side of one module of a code of `modules` a side with its quiet zone, in whole dots.

    The code takes at most 45 % of the label's width.  EntryRefused when it would be too small to scan.
    """
    dots = int(_room_mm(stock) / (modules + 2 * QUIET_MODULES) / DOT_MM)
    if dots * DOT_MM < LEAST_MODULE_MM:
        raise EntryRefused(
            "labels.code_too_small", field="measures", module=f"{dots * DOT_MM:.3f}", least=f"{LEAST_MODULE_MM:g}"
        )
    return dots * DOT_MM


def fits(stock: LabelStock, modules: int, module: float) -> bool:
    """True when `modules` a side, quiet zone included, of `module` mm each have room."""
    return modules * module <= _room_mm(stock)


def _room_mm(stock: LabelStock) -> float:
    return min(stock.height_mm - 2 * EDGE_MM, stock.width_mm * 0.45)
