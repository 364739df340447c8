"""The board as tiles: code, state by colour, shape and word, and the class of reason; only what is in view is painted."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, QPersistentModelIndex, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetrics, QKeyEvent, QPainter, QPalette, QPen, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import msg, say, show_day, word
from fleetcare.services.shown import VehicleSummary
from fleetcare.ui import colours
from fleetcare.ui.colours import Mark, draw_shape
from fleetcare.ui.theme import current, sized
from fleetcare.ui.widgets.tables import RowModel

GAP = 6
Index = QModelIndex | QPersistentModelIndex


def tile_words(line: VehicleSummary, *, stale: bool = False) -> tuple[str, str, str]:
    """Code, state word and reason class of a tile; a stale one says what it was."""
    state = word(f"board_state.{line.status.state.value}")
    kind = word(f"hold_class.{line.status.reasons[0].hold_class.value}") if line.status.reasons else ""
    return line.vehicle.code, say(msg("board.was", state=state)) if stale else state, kind


def _fourth(line: VehicleSummary) -> str:
    """Where a tile has room for one line more: the leading reason, or the day of the next check."""
    if line.status.reasons:
        return say(line.status.reasons[0].text)
    return "" if line.status.due_on is None else say(msg("board.due_short", due=show_day(line.status.due_on)))


class TileDelegate(QStyledItemDelegate):
    """Paints one tile.  A ready one is outlined, all others are filled, so that they stand out without colour."""

    def __init__(self, parent: QWidget, scale: float = 1.0) -> None:
        super().__init__(parent)
        self.stale = False
        self.size = QSize()
        self._code = sized(1.55 * scale, bold=True)
        self._word = sized(0.95 * scale, bold=True)
        self._quiet = sized(0.95 * scale)

    def least(self) -> QSize:
        """The smallest tile whose words fit."""
        code, state = QFontMetrics(self._code), QFontMetrics(self._word)
        longest = max(state.horizontalAdvance(word(f"board_state.{one.value}")) for one in BoardState)
        return QSize(longest + 20, code.height() + 2 * state.height() + 14)

    def sizeHint(self, _option: QStyleOptionViewItem, _index: Index) -> QSize:
        """Qt's hook: every tile fills its place in the grid."""
        return self.size

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Qt's hook."""
        model = index.model()
        assert isinstance(model, RowModel)
        line: VehicleSummary = model.shown_row(index.row())
        selected = bool(option.state & QStyle.StateFlag.State_Selected)  # type: ignore[attr-defined]
        box = QRectF(option.rect).adjusted(GAP / 2, GAP / 2, -GAP / 2, -GAP / 2)  # type: ignore[attr-defined]
        self._tile(painter, box, line, option.palette, selected=selected)  # type: ignore[attr-defined]

    def _tile(self, painter: QPainter, box: QRectF, line: VehicleSummary, palette: QPalette, *, selected: bool) -> None:
        mark = colours.UNKNOWN if self.stale else colours.of_vehicle(line.status)
        filled = self.stale or line.status.state is not BoardState.READY
        if not filled and current() == "dark":
            mark = colours.on_dark(mark)
        ink = QColor(mark.ink) if filled else palette.color(QPalette.ColorRole.Text)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(mark.fill), 2))
        painter.setBrush(QColor(mark.fill) if filled else palette.color(QPalette.ColorRole.Base))
        painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), 5, 5)
        self._words(painter, box.adjusted(10, 4, -8, -5), mark, line, ink, inked=filled)
        if selected:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(palette.color(QPalette.ColorRole.Base), 2))
            painter.drawRoundedRect(box.adjusted(3, 3, -3, -3), 4, 4)
            painter.setPen(QPen(palette.color(QPalette.ColorRole.WindowText), 3))
            painter.drawRoundedRect(box.adjusted(0, 0, 0, 0), 6, 6)
        painter.restore()

    def _words(
        self, painter: QPainter, box: QRectF, mark: Mark, line: VehicleSummary, ink: QColor, *, inked: bool
    ) -> None:
        code, state, kind = tile_words(line, stale=self.stale)
        big, small = QFontMetrics(self._code), QFontMetrics(self._word)
        size = big.ascent() * 0.85
        draw_shape(painter, mark, QRectF(box.x(), box.y() + (big.height() - size) / 2, size, size), inked=inked)
        painter.setPen(ink)
        painter.setFont(self._code)
        left = box.x() + size + 7
        room = int(box.right() - left)
        painter.drawText(QRectF(left, box.y(), room, big.height()), Qt.AlignmentFlag.AlignVCenter,
                         big.elidedText(code, Qt.TextElideMode.ElideRight, room))  # fmt: skip
        y = box.y() + big.height()
        for font, text in ((self._word, state), (self._quiet, kind), (self._quiet, _fourth(line))):
            if not text:
                continue
            if y + small.height() > box.bottom() + 2:
                break
            painter.setFont(font)
            shown = QFontMetrics(font).elidedText(text, Qt.TextElideMode.ElideRight, int(box.width()))
            painter.drawText(QRectF(box.x(), y, box.width(), small.height()), Qt.AlignmentFlag.AlignVCenter, shown)
            y += small.height()


class Tiles(QListView):
    """The tiles of the rows that a model shows, in its order; Enter or a double click opens one."""

    opened = Signal(object)
    chosen = Signal(object)
    """The row that is selected now."""

    def __init__(self, model: RowModel, parent: QWidget | None = None, *, scale: float = 1.0) -> None:
        super().__init__(parent)
        self.rows_model = model
        self.setModel(model)
        self.setAccessibleName(word("board.tiles"))
        self.setFlow(QListView.Flow.LeftToRight)
        self.setWrapping(True)
        self.setUniformItemSizes(True)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setMovement(QListView.Movement.Static)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._tile = TileDelegate(self, scale)
        self.setItemDelegate(self._tile)
        self.doubleClicked.connect(lambda index: self.opened.emit(self.rows_model.shown_row(index.row())))
        self.selectionModel().currentChanged.connect(self._chosen)

    def _chosen(self, index: QModelIndex, _before: QModelIndex) -> None:
        self.chosen.emit(self.rows_model.shown_row(index.row()) if index.isValid() else None)

    def set_stale(self, stale: bool) -> None:
        """Draw every tile grey, with what it was."""
        if stale != self._tile.stale:
            self._tile.stale = stale
            self.viewport().update()

    @property
    def stale(self) -> bool:
        """True while the tiles are drawn grey."""
        return self._tile.stale

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Qt's hook: as many columns as fit, of equal width, and rows that use the height where all fit."""
        self.arrange()
        super().resizeEvent(event)

    def arrange(self) -> None:
        """Fit the grid to the room there is."""
        least = self._tile.least()
        bar = self.verticalScrollBar()
        width = self.viewport().width() - (0 if bar.isVisible() else bar.sizeHint().width()) - 1
        columns = max(1, width // (least.width() + GAP))
        height = least.height() + GAP
        rows = -(-self.rows_model.rowCount() // columns)
        room = self.viewport().height()
        if rows and rows * height <= room:
            height = min(room // rows, height + least.height() // 3)
        size = QSize(max(1, width // columns), height)
        if size != self.gridSize():
            self._tile.size = size
            self.setGridSize(size)
            self.scheduleDelayedItemsLayout()

    def dataChanged(self, _first: Index, _last: Index, _roles: object = ()) -> None:
        """Qt's hook: every tile has the same size, so a change asks for paint and not for a new layout."""
        self.viewport().update()

    def choose(self, code: str) -> None:
        """Select the tile of a vehicle, where it is shown."""
        for line in range(self.rows_model.rowCount()):
            if self.rows_model.shown_row(line).vehicle.code == code:
                self.setCurrentIndex(self.rows_model.index(line, 0))
                return

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: Enter opens the tile."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self.opened.emit(self.rows_model.shown_row(self.currentIndex().row()))
            return
        super().keyPressEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        """Qt's hook: another palette or font asks for new tiles."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.StyleChange):
            self.viewport().update()
