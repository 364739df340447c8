"""Row models: columns with display text, sort value and mark apart; contents are injected."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    QTimer,
    Signal,
)
from PySide6.QtGui import QFocusEvent, QFont, QFontMetrics, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from fleetcare.ui.colours import Mark
from fleetcare.ui.theme import large_text
from fleetcare.ui.widgets.badge import MARK_ROLE, BadgeDelegate, badge_width
from fleetcare.ui.widgets.fitting import CELL_AIR, Need, broken, lowest, wrapped_height
from fleetcare.ui.widgets.literal import literal
from fleetcare.ui.widgets.unbroken import unbroken_cell

HEADING_AIR = 18
"""What a heading needs beside its text: the padding of the style sheet and a line."""
ROW_AIR = 0.75
"""Above and below the letters of a row, in their height."""
MOST_WRAPPED = 200
"""A table of more rows keeps one line a row: measuring each would be seen."""
LIST_LINES = 3
"""Lines a row of a list with more rows than that, in large letters, where one line would hold few words."""

SORT_ROLE = Qt.ItemDataRole.UserRole
MOST_ROW_LINES = 6
"""No row of a list is higher, so that some are in sight at once; what is cut off stands in the cell's tip."""
Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class Column:
    """How one column is shown.  `sort` gives a comparable value; `mark` a badge; `struck` a line through.

    `whole` is what a cell leaves out, for its tip and for whoever hears the row; with `tip` alone that is its text.
    """

    heading: str
    text: Callable[[Any], str]
    sort: Callable[[Any], Any] | None = None
    mark: Callable[[Any], Mark | None] | None = None
    right: bool = False
    width: int = 12
    struck: Callable[[Any], bool] | None = None
    tip: bool = False
    whole: Callable[[Any], str] | None = None


@dataclass(frozen=True, slots=True)
class Prepared:
    """Rows with their cell texts, and all words of a row in small letters for the search, made off the GUI thread."""

    rows: list[Any]
    texts: list[tuple[str, ...]]
    told: list[str]


def told_row(columns: Sequence[Column], row: Any) -> tuple[tuple[str, ...], str]:
    """The cells of one row, and what a search looks through: also what a cell leaves out."""
    texts = tuple([column.text(row) for column in columns])
    left_out = [column.whole(row) for column in columns if column.whole is not None]
    return texts, " ".join([*texts, *left_out]).lower()


def prepare(columns: Sequence[Column], rows: Sequence[Any]) -> Prepared:
    """The cell texts of `rows`; thousands of rows take long enough to belong in the background."""
    both = [told_row(columns, row) for row in rows]
    return Prepared(list(rows), [texts for texts, _ in both], [told for _, told in both])


def without_code(text: str, code: str) -> str:
    """A reason in the row of the thing that it is about, which need not be named again."""
    return text.removeprefix(f"{code}: ")


class RowModel(QAbstractTableModel):
    """Rows of one kind under a fixed tuple of columns; `data` only looks up.

    It keeps its own order and choice of rows, since sorting row by row through a proxy is slow.
    """

    def __init__(self, columns: Sequence[Column], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.columns = tuple(columns)
        self._rows: list[Any] = []
        self._texts: list[tuple[str, ...]] = []
        self._told: list[str] = []
        self._shown: Sequence[int] = []
        self._line_of: dict[int, int] | None = {}
        self._keep: Callable[[Any, str], bool] | None = None
        self._sorted: tuple[int, bool] | None = None
        self._broken: dict[int, str] = {}
        self._struck_font = QFont()
        self._struck_font.setStrikeOut(True)

    @property
    def rows(self) -> Sequence[Any]:
        """All rows as they were given, shown or not."""
        return self._rows

    def shown_row(self, number: int) -> Any:
        """The row shown at line `number`."""
        return self._rows[self._shown[number]]

    def text(self, line: int, column: int) -> str:
        """What the cell of a shown line reads."""
        return self._texts[self._shown[line]][column]

    def has_badge(self, line: int, column: int) -> bool:
        """Whether the cell of a shown line is drawn as a badge, whose word does not wrap."""
        mark = self.columns[column].mark
        return mark is not None and mark(self._rows[self._shown[line]]) is not None

    def line_of(self, first_text: str) -> int | None:
        """The line whose first cell reads `first_text`, or None."""
        texts = self._texts
        return next((line for line, n in enumerate(self._shown) if texts[n][0] == first_text), None)

    def break_headings(self, broken: dict[int, str]) -> None:
        """Show these columns' headings in several lines."""
        if broken != self._broken:
            self._broken = broken
            self.headerDataChanged.emit(Qt.Orientation.Horizontal, 0, len(self.columns) - 1)

    def set_rows(self, rows: Sequence[Any]) -> None:
        """Show `rows` instead."""
        self.set_prepared(prepare(self.columns, rows))

    def set_prepared(self, prepared: Prepared) -> None:
        """Show rows whose texts were made elsewhere."""
        self.beginResetModel()
        self._rows, self._texts, self._told = prepared.rows, prepared.texts, prepared.told
        self._arrange()
        self.endResetModel()

    def replace_row(self, number: int, row: Any) -> None:
        """Show a newer state of row `number` of `rows`; its line stays where it is."""
        self._rows[number] = row
        self._texts[number], self._told[number] = told_row(self.columns, row)
        line = self._line_of.get(number) if self._line_of is not None else number
        if line is not None and line < len(self._shown):
            self.dataChanged.emit(self.index(line, 0), self.index(line, len(self.columns) - 1))

    def set_keep(self, keep: Callable[[Any, str], bool] | None) -> None:
        """Show only rows for which `keep(row, its text in small letters)` is true; None shows all."""
        self.beginResetModel()
        self._keep = keep
        self._arrange()
        self.endResetModel()

    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Qt's hook: sort by a column's sort value, unknown values last; -1 keeps the given order."""
        self.beginResetModel()
        self._sorted = None if column < 0 else (column, order == Qt.SortOrder.DescendingOrder)
        self._arrange()
        self.endResetModel()

    def _arrange(self) -> None:
        shown = range(len(self._rows))
        if self._keep is not None:
            keep, rows, told = self._keep, self._rows, self._told
            self._shown = [n for n in shown if keep(rows[n], told[n])]
        else:
            self._shown = shown
        if self._sorted is not None:
            number, backwards = self._sorted
            column = self.columns[number]
            values = {
                n: self._texts[n][number] if column.sort is None else column.sort(self._rows[n]) for n in self._shown
            }
            known = sorted((n for n in self._shown if values[n] is not None), key=values.__getitem__, reverse=backwards)
            self._shown = known + [n for n in self._shown if values[n] is None]
        self._line_of = None if isinstance(self._shown, range) else {n: line for line, n in enumerate(self._shown)}

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Qt's hook; 0 below a row."""
        return 0 if parent.isValid() else len(self._shown)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Qt's hook; 0 below a row."""
        return 0 if parent.isValid() else len(self.columns)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Qt's hook."""
        if orientation is Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return self._broken.get(section, self.columns[section].heading)
        if orientation is Qt.Orientation.Horizontal and role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(self.columns[section])
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Qt's hook."""
        if not index.isValid():
            return None
        column = self.columns[index.column()]
        number = self._shown[index.row()]
        text = self._texts[number][index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return text
        row = self._rows[number]
        if role == SORT_ROLE:
            return text if column.sort is None else column.sort(row)
        if role == MARK_ROLE:
            return None if column.mark is None else column.mark(row)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return _alignment(column)
        if role == Qt.ItemDataRole.FontRole and column.struck is not None and column.struck(row):
            return self._struck_font
        if role == Qt.ItemDataRole.ToolTipRole and (column.tip or column.whole is not None):
            return literal(text if column.whole is None else column.whole(row))
        if role == Qt.ItemDataRole.AccessibleTextRole and column.whole is not None:
            return column.whole(row)
        return None


def _pieces(text: str, *, whole: bool) -> list[str]:
    """What a cell may be broken into: its words; of a column of numbers only what has no number in it."""
    return [text] if whole and any(one.isdigit() for one in text) else text.split(" ")


def _alignment(column: Column) -> Qt.AlignmentFlag:
    """Numbers stand to the right, under a heading that stands there as well."""
    side = Qt.AlignmentFlag.AlignRight if column.right else Qt.AlignmentFlag.AlignLeft
    return side | Qt.AlignmentFlag.AlignVCenter


class Table(QTableView):
    """A table of rows, opened by Enter or double click.

    Columns are as wide as what stands in them; one takes the room that is left.  Where the room is too small, words wrap
    and rows grow, up to MOST_WRAPPED rows; only where even single words do not fit does the table scroll sideways.

    A list (`wraps` false) keeps one line a row and cuts text off, which then stands in its tip.  With large text it wraps
    like any other; one of more than MOST_WRAPPED rows has LIST_LINES lines for each, and cuts off what is longer than
    these or MOST_ROW_LINES.

    With the focus there is always a current row; it stays the same one, by its first cell, when rows are read again.
    """

    opened = Signal(object)

    def __init__(
        self, model: RowModel, name: str, parent: QWidget | None = None, *, stretch: int = -1, wraps: bool = True
    ) -> None:
        super().__init__(parent)
        self.rows_model = model
        self.setModel(model)
        self.setAccessibleName(name)
        self.setItemDelegate(BadgeDelegate(self))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setAlternatingRowColors(True)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self._row_lines = LIST_LINES if not wraps else 1
        wraps = wraps or large_text()
        self.setWordWrap(wraps)
        self._wraps, self._fitting, self._by_hand, self._lines = wraps, False, False, 0
        texts = [n for n, column in enumerate(model.columns) if not column.right]
        self._stretch = stretch if stretch >= 0 else texts[-1] if texts else len(model.columns) - 1
        self._uneven = False
        """Whether rows have heights of their own, which they keep when others are shown in their lines."""
        self._measure()
        if wraps:
            self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
            self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
            header.sectionResized.connect(self._dragged)
            self._soon = QTimer(self)
            self._soon.setSingleShot(True)
            self._soon.timeout.connect(self._fit)
            model.modelReset.connect(self._fit)
            model.dataChanged.connect(self._soon.start)
        elif stretch >= 0:
            header.setSectionResizeMode(stretch, QHeaderView.ResizeMode.Stretch)
        else:
            header.setStretchLastSection(True)
        self.doubleClicked.connect(self._open)
        self._current: str | None = None
        model.modelAboutToBeReset.connect(self._remember)
        model.modelReset.connect(self._find_again)

    def setFont(self, font: QFont | str | Sequence[str]) -> None:
        """Qt's hook: rows and columns grow with the letters."""
        super().setFont(font)
        self._fitting = True  # nobody draws these columns by hand
        self._measure()
        self._fitting = False
        self._fit()

    def _measure(self) -> None:
        metrics = QFontMetrics(self.font())
        self._set_usual_height(metrics.height() + round(metrics.height() * ROW_AIR))
        self._widest = [metrics.averageCharWidth() * (column.width + 3) for column in self.rows_model.columns]
        for number, width in enumerate(self._widest):
            self.setColumnWidth(number, width)

    def _set_usual_height(self, height: int) -> None:
        """The height of a row that was given none of its own."""
        if self.verticalHeader().defaultSectionSize() != height:
            self.verticalHeader().setDefaultSectionSize(height)

    def _dragged(self) -> None:
        """Whoever draws a column wider or narrower means it: from then on only rows follow."""
        self._by_hand = self._by_hand or not self._fitting

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Qt's hook: columns follow the room."""
        super().resizeEvent(event)
        self._fit()

    def keep_lines(self, rows: int) -> None:
        """Be as high as the headings and `rows` rows; what is more scrolls inside."""
        self._lines = rows
        self._fit()

    def _fit(self) -> None:
        if self._fitting:
            return
        self._fitting = True
        try:
            if self._wraps:
                self._fit_columns()
                self._fit_rows()
            if self._lines:
                heights = [self.rowHeight(n) for n in range(min(self._lines, self.rows_model.rowCount()))]
                lacking = (self._lines - len(heights)) * self.verticalHeader().defaultSectionSize()
                sideways = self.horizontalScrollBar()
                bar = sideways.sizeHint().height() if sideways.maximum() and sideways.isVisible() else 0
                self.setFixedHeight(self.horizontalHeader().sizeHint().height() + sum(heights) + lacking + bar + 6)
        finally:
            self._fitting = False

    def _fit_columns(self) -> None:
        if self._by_hand:
            return
        metrics, model = self.fontMetrics(), self.rows_model
        needs, least = [], []
        headings = self._heading_widths()
        lines = range(min(model.rowCount(), MOST_WRAPPED))
        for number, column in enumerate(model.columns):
            heading, longest = headings[number]
            cells = [(unbroken_cell(model.text(line, number)), model.has_badge(line, number)) for line in lines]
            texts = {text for text, badge in cells if not badge}
            pieces = {piece for text in texts for piece in _pieces(text, whole=column.right)}
            badges = max((badge_width(metrics, text) for text, badge in set(cells) if badge), default=0)
            advances = {text: metrics.horizontalAdvance(text) for text in texts}
            few = max((metrics.horizontalAdvance(one) for one in pieces), default=0)
            pixels = [0 if badge else advances[text] + CELL_AIR for text, badge in cells]
            needs.append(
                Need(["" if badge else text for text, badge in cells], pixels, max(heading, badges + CELL_AIR))
            )
            least.append(max(longest, few + CELL_AIR, badges + CELL_AIR))
        room = self.viewport().width()
        widths = lowest(metrics, needs, least, self._widest, room, self._stretch)
        for number, width in enumerate(widths):
            self.setColumnWidth(number, width)
        bold, air = self._heading_letters()
        model.break_headings({
            number: broken(bold, model.columns[number].heading, width - air)
            for number, (width, (whole, _)) in enumerate(zip(widths, headings, strict=True))
            if width < whole
        })  # fmt: skip

    def _heading_letters(self) -> tuple[QFontMetrics, int]:
        """The measures of a heading's letters, and what it needs beside them."""
        font = QFont(self.font())
        font.setBold(True)
        metrics = QFontMetrics(font)
        arrow = metrics.height() + 8 if self.horizontalHeader().isSortIndicatorShown() else 0
        return metrics, HEADING_AIR + arrow

    def _heading_widths(self) -> list[tuple[int, int]]:
        """Pixels for each heading in one line, and for its longest word."""
        metrics, air = self._heading_letters()
        found = []
        for column in self.rows_model.columns:
            words = column.heading.split() or [""]
            longest = max(metrics.horizontalAdvance(one) for one in words)
            found.append((metrics.horizontalAdvance(column.heading) + air, longest + air))
        return found

    def _fit_rows(self) -> None:
        """Each row as high as its longest cell, wrapped in its column."""
        model, metrics = self.rows_model, self.fontMetrics()
        many = model.rowCount() > MOST_WRAPPED
        air = round(metrics.height() * ROW_AIR)
        self._set_usual_height(metrics.height() * (self._row_lines if many else 1) + air)
        self.setWordWrap(not many or self._row_lines > 1)
        if many:
            for line in range(MOST_WRAPPED if self._uneven else 0):
                self.setRowHeight(line, self.verticalHeader().defaultSectionSize())
            self._uneven = False
            return
        self._uneven = True
        widths = [self.columnWidth(number) - CELL_AIR for number in range(len(model.columns))]
        for line in range(model.rowCount()):
            height = metrics.height()
            for number in range(len(model.columns)):
                text = unbroken_cell(model.text(line, number))
                if metrics.horizontalAdvance(text) > widths[number] and not model.has_badge(line, number):
                    height = max(height, wrapped_height(metrics, text, widths[number]))
            if self._row_lines > 1:
                height = min(height, MOST_ROW_LINES * metrics.lineSpacing())
            self.setRowHeight(line, height + air)

    def _remember(self) -> None:
        index = self.currentIndex()
        if index.isValid():
            self._current = index.siblingAtColumn(0).data()

    def _find_again(self) -> None:
        line = None if self._current is None else self.rows_model.line_of(self._current)
        if line is not None:
            self.setCurrentIndex(self.rows_model.index(line, 0))
        elif self.hasFocus():
            self.choose_first()

    def choose_first(self) -> None:
        """Choose a row where none is: what buttons beside the table are about is then seen."""
        if not self.selectionModel().hasSelection() and self.rows_model.rowCount():
            self.selectRow(max(self.currentIndex().row(), 0))

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Qt's hook: Enter has something to open."""
        super().focusInEvent(event)
        self.choose_first()

    def sort_by_headings(self) -> None:
        """Let a click on a heading sort."""
        self.horizontalHeader().setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        self.setSortingEnabled(True)

    def row_of(self, index: Index) -> Any:
        """The row shown at `index`."""
        return self.rows_model.shown_row(index.row())

    def selected_row(self) -> Any:
        """The selected row, or None."""
        chosen = self.selectionModel().selectedRows()
        return self.row_of(chosen[0]) if chosen else None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: Enter opens the row."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self._open(self.currentIndex())
            return
        super().keyPressEvent(event)

    def _open(self, index: Index) -> None:
        if index.isValid():
            self.opened.emit(self.row_of(index))
