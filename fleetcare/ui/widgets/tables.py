"""Row models: columns with display text, sort value and mark apart; contents are injected."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPersistentModelIndex,
    QSortFilterProxyModel,
    Qt,
    Signal,
)
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from fleetcare.ui.colours import Mark
from fleetcare.ui.widgets.badge import MARK_ROLE, BadgeDelegate

SORT_ROLE = Qt.ItemDataRole.UserRole
Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True, slots=True)
class Column:
    """How one column is shown.  `sort` gives a comparable value; `mark` a badge; `struck` a line through."""

    heading: str
    text: Callable[[Any], str]
    sort: Callable[[Any], Any] | None = None
    mark: Callable[[Any], Mark | None] | None = None
    right: bool = False
    width: int = 12
    struck: Callable[[Any], bool] | None = None
    tip: bool = False


class RowModel(QAbstractTableModel):
    """Rows of one kind under a fixed tuple of columns; `data` only looks up."""

    def __init__(self, columns: Sequence[Column], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.columns = tuple(columns)
        self._rows: list[Any] = []
        self._texts: list[tuple[str, ...]] = []
        self._struck_font = QFont()
        self._struck_font.setStrikeOut(True)

    @property
    def rows(self) -> Sequence[Any]:
        """The rows as they were given."""
        return self._rows

    def set_rows(self, rows: Sequence[Any]) -> None:
        """Show `rows` instead."""
        self.beginResetModel()
        self._rows = list(rows)
        self._texts = [self._text_of(row) for row in self._rows]
        self.endResetModel()

    def replace_row(self, number: int, row: Any) -> None:
        """Show a newer state of one row."""
        self._rows[number] = row
        self._texts[number] = self._text_of(row)
        self.dataChanged.emit(self.index(number, 0), self.index(number, len(self.columns) - 1))

    def _text_of(self, row: Any) -> tuple[str, ...]:
        return tuple(column.text(row) for column in self.columns)

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Qt's hook; 0 below a row."""
        return 0 if parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        """Qt's hook; 0 below a row."""
        return 0 if parent.isValid() else len(self.columns)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Qt's hook."""
        if orientation is Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return self.columns[section].heading
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Qt's hook."""
        if not index.isValid():
            return None
        column = self.columns[index.column()]
        text = self._texts[index.row()][index.column()]
        if role == Qt.ItemDataRole.DisplayRole:
            return text
        row = self._rows[index.row()]
        if role == SORT_ROLE:
            return text if column.sort is None else column.sort(row)
        if role == MARK_ROLE:
            return None if column.mark is None else column.mark(row)
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if column.right else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.FontRole and column.struck is not None and column.struck(row):
            return self._struck_font
        if role == Qt.ItemDataRole.ToolTipRole and column.tip:
            return text
        return None


class RowFilter(QSortFilterProxyModel):
    """Sorts by sort value and keeps rows for which `keep` is true."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setSortRole(SORT_ROLE)
        self._keep: Callable[[Any], bool] = lambda _row: True

    def set_keep(self, keep: Callable[[Any], bool]) -> None:
        """Keep only rows for which `keep(row)` is true."""
        self.beginFilterChange()
        self._keep = keep
        self.endFilterChange()

    def filterAcceptsRow(self, number: int, _parent: Index) -> bool:
        """Qt's hook."""
        model = self.sourceModel()
        assert isinstance(model, RowModel)
        return self._keep(model.rows[number])

    def lessThan(self, left: Index, right: Index) -> bool:
        """Qt's hook; unknown values sort last."""
        a, b = left.data(SORT_ROLE), right.data(SORT_ROLE)
        if a is None or b is None:
            return b is None and a is not None
        return bool(a < b)


class Table(QTableView):
    """A table of rows with fixed row height, opened by Enter or double click."""

    opened = Signal(object)

    def __init__(self, model: RowModel, name: str, parent: QWidget | None = None, *, stretch: int = -1) -> None:
        super().__init__(parent)
        self.rows_model = model
        self.filter = RowFilter(self)
        self.filter.setSourceModel(model)
        self.setModel(self.filter)
        self.setAccessibleName(name)
        self.setItemDelegate(BadgeDelegate(self))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setAlternatingRowColors(True)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        metrics = QFontMetrics(self.font())
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setDefaultSectionSize(round(metrics.height() * 1.75))
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        for number, column in enumerate(model.columns):
            self.setColumnWidth(number, metrics.averageCharWidth() * (column.width + 3))
        if stretch >= 0:
            header.setSectionResizeMode(stretch, QHeaderView.ResizeMode.Stretch)
        else:
            header.setStretchLastSection(True)
        self.doubleClicked.connect(self._open)

    def sort_by_headings(self) -> None:
        """Let a click on a heading sort."""
        self.setSortingEnabled(True)
        self.filter.sort(-1)
        self.horizontalHeader().setSortIndicator(-1, Qt.SortOrder.AscendingOrder)

    def row_of(self, index: Index) -> Any:
        """The row shown at `index`."""
        return self.rows_model.rows[self.filter.mapToSource(index).row()]

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
