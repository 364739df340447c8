"""The board as tiles: code, state by colour, shape and word, and the reason in a few words; only what is in view is made.

Every tile has the same size, so where each one is follows from its number: nothing is laid out ahead, whether there
are forty or fifty thousand.  Letters are as large as lets all tiles be in view.
"""

from __future__ import annotations

from functools import cache

from PySide6.QtCore import (
    QEvent,
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QPoint,
    QRect,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetrics,
    QFontMetricsF,
    QHelpEvent,
    QKeyEvent,
    QPainter,
    QPaintEvent,
    QPalette,
    QPen,
    QRegion,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QToolTip,
    QWidget,
)

from fleetcare.domain.status import BoardState
from fleetcare.domain.wording import brief, msg, say, show_day, word
from fleetcare.services.shown import VehicleSummary
from fleetcare.ui import colours
from fleetcare.ui.colours import Mark, draw_shape
from fleetcare.ui.theme import current, sized
from fleetcare.ui.widgets.tables import RowModel
from fleetcare.ui.widgets.unbroken import unbroken

GAP = 6
LEFT, TOP, RIGHT, BOTTOM = 8, 3, 5, 3
REASON_LINES = 2
GROWN = (1.6, 1.45, 1.3, 1.15)
"""How much larger the letters may be where all tiles still are in view."""

SHRUNK = (0.9, 0.8)
"""How much smaller they are, where the program's letters are large, before fewer tiles are in view: at 200 % tiles then
have letters as large as those that have grown at 100 %."""

NARROW = 0.92
"""How much smaller the letters of a line may be so that it fits."""

USUAL_CODE = "EB-0000"
"""A code as long as most: shorter ones do not make tiles narrower."""

Index = QModelIndex | QPersistentModelIndex


def tile_words(line: VehicleSummary, *, stale: bool = False) -> tuple[str, str, str]:
    """Code, state word and reason class of a tile; a stale one says what it was."""
    state = word(f"board_state.{line.status.state.value}")
    kind = word(f"hold_class.{line.status.reasons[0].hold_class.value}") if line.status.reasons else ""
    return line.vehicle.code, say(msg("board.was", state=state)) if stale else state, kind


def tile_reason(line: VehicleSummary) -> str:
    """Class and leading reason in a few words, or the day of the next check; the state "check due" is its own class."""
    status = line.status
    if not status.reasons:
        return "" if status.due_on is None else say(msg("board.due_short", due=show_day(status.due_on)))
    reason = brief(status.reasons[0].text)
    if status.state is BoardState.READY_BUT_DUE:
        return reason
    kind = word(f"hold_class.{status.reasons[0].hold_class.value}")
    return say(msg("board.tile_reason", kind=kind, reason=reason))


def tile_told(line: VehicleSummary) -> str:
    """The whole of a tile in sentences, for the pointer that rests on it and for a screen reader."""
    code, state, _kind = tile_words(line)
    reasons = [
        f"{word(f'hold_class.{one.hold_class.value}')}: {say(one.text)} → {say(one.next_step)}"
        for one in line.status.reasons
    ]
    return "\n".join([f"{code}: {state}", *(reasons or [tile_reason(line)])]).strip()


def fitted(text: str, font: QFont, width: float, lines: int) -> list[str]:
    """`text` in at most so many lines, broken between words; what does not fit is left out whole, with "…"."""
    metrics = QFontMetricsF(font)

    def fits(words: list[str]) -> bool:
        return metrics.horizontalAdvance(" ".join(words)) <= width

    found: list[str] = []
    left = text.split(" ")
    while left and len(found) < lines:
        count = 1
        while count < len(left) and fits(left[: count + 1]):
            count += 1
        line, left = left[:count], left[count:]
        if left and len(found) == lines - 1:
            line.append("…")
            while len(line) > 2 and not fits(line):
                del line[-2]
        found.append(" ".join(line))
    return found


class _Letters:
    """The fonts of a tile at one size, and the least room that they need."""

    def __init__(self, scale: float) -> None:
        self.code, self.word = sized(1.4 * scale, bold=True), sized(0.92 * scale, bold=True)
        self.quiet = sized(0.92 * scale)
        self.big, self.bold, self.small = (QFontMetrics(one) for one in (self.code, self.word, self.quiet))
        self.shape = self.big.ascent() * 0.85

    def least(self, longest_code: str, *, narrow: bool = False) -> QSize:
        """The smallest tile, its gap included, whose code and words fit; the state a little `narrow` when asked."""
        states = (word(f"board_state.{one.value}") for one in BoardState)
        widths = [round(self.bold.horizontalAdvance(text) * (NARROW if narrow else 1)) for text in states]
        widths.append(round(self.shape) + 7 + self.big.horizontalAdvance(longest_code))
        height = self.big.height() + self.bold.height() + REASON_LINES * self.small.height()
        return QSize(max(widths) + LEFT + RIGHT + GAP, height + TOP + BOTTOM + GAP)


class TileDelegate(QStyledItemDelegate):
    """Paints one tile.  A ready one is outlined, all others are filled, so that they stand out without colour."""

    def __init__(self, parent: QWidget, scale: float = 1.0) -> None:
        super().__init__(parent)
        self.stale = False
        self._scale = scale
        self._made = cache(_Letters)
        self.letters = self._made(scale)

    def grow(self, factor: float) -> _Letters:
        """Use letters so much larger than usual."""
        self.letters = self._made(self._scale * factor)
        return self.letters

    def renew(self) -> None:
        """The program's font is another."""
        self._made.cache_clear()
        self.letters = self._made(self._scale)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Qt's hook."""
        model = index.model()
        assert isinstance(model, RowModel)
        line: VehicleSummary = model.shown_row(index.row())
        selected = bool(option.state & QStyle.StateFlag.State_Selected)  # type: ignore[attr-defined]
        box = QRectF(option.rect).adjusted(GAP / 2, GAP / 2, -GAP / 2, -GAP / 2)  # type: ignore[attr-defined]
        self._tile(painter, box, line, option.palette, selected=selected)  # type: ignore[attr-defined]

    def helpEvent(
        self, event: QHelpEvent, view: QAbstractItemView, _option: QStyleOptionViewItem, index: Index
    ) -> bool:
        """Qt's hook: the whole reason where the pointer rests."""
        if event.type() is not QEvent.Type.ToolTip or not index.isValid():
            return False
        model = index.model()
        assert isinstance(model, RowModel)
        QToolTip.showText(event.globalPos(), tile_told(model.shown_row(index.row())), view)
        return True

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
        self._words(painter, box.adjusted(LEFT, TOP, -RIGHT, -BOTTOM), mark, line, ink, inked=filled)
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
        code, state, _kind = tile_words(line, stale=self.stale)
        made = self.letters
        big, small, size = made.big, made.small, made.shape
        draw_shape(painter, mark, QRectF(box.x(), box.y() + (big.height() - size) / 2, size, size), inked=inked)
        painter.setPen(ink)
        left = box.x() + size + 7
        self._put(painter, made.code, QRectF(left, box.y(), box.right() - left, big.height()), code)
        y, width = box.y() + big.height(), int(box.width())
        room = int((box.bottom() - y - made.bold.height() + 1) // small.height())
        told = [state] if made.bold.horizontalAdvance(state) <= width / NARROW else fitted(state, made.word, width, 2)
        rows = [(made.word, made.bold, one) for one in told]
        rows += [
            (made.quiet, small, one)
            for one in fitted(unbroken(tile_reason(line)), made.quiet, width, max(room + 1 - len(told), 1))
        ]
        for font, metrics, text in rows:
            self._put(painter, font, QRectF(box.x(), y, width, metrics.height()), text)
            y += metrics.height()

    @staticmethod
    def _put(painter: QPainter, font: QFont, room: QRectF, text: str) -> None:
        """One line, in letters a little smaller where it must be; only a word that is much wider than the tile is cut."""
        wide = QFontMetricsF(font).horizontalAdvance(text)
        if room.width() + 3 < wide <= room.width() / NARROW:
            font = QFont(font)
            font.setPointSizeF(font.pointSizeF() * room.width() / wide)
        painter.setFont(font)
        if QFontMetricsF(font).horizontalAdvance(text) > room.width() + 3:
            text = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, room.width())
        flags = Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextSingleLine | Qt.TextFlag.TextDontClip
        painter.drawText(room, flags, text)


class Tiles(QListView):
    """The tiles of the rows that a model shows, in its order; Enter or a double click opens one."""

    opened = Signal(object)
    chosen = Signal(object)
    """The row that is selected now."""

    def __init__(
        self, model: RowModel, parent: QWidget | None = None, *, scale: float = 1.0, large: bool = False
    ) -> None:
        super().__init__(parent)
        self.rows_model = model
        self._factors = (*GROWN, 1.0, *SHRUNK) if large else (*GROWN, 1.0)
        self._columns, self._size = 1, QSize(1, 1)
        self._tile = TileDelegate(self, scale)
        self.setItemDelegate(self._tile)
        self.setModel(model)
        self.setAccessibleName(word("board.tiles"))
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
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

    def choose(self, code: str) -> None:
        """Select the tile of a vehicle, where it is shown."""
        line = self.rows_model.line_of(code)
        if line is not None:
            self.setCurrentIndex(self.rows_model.index(line, 0))

    # where tiles are

    def arrange(self) -> None:
        """As many columns as fit, of equal width, with the largest letters at which all tiles are in view."""
        count = self.rows_model.rowCount()
        bar = self.verticalScrollBar()
        whole, height = self.viewport().width(), self.viewport().height()
        if bar.isVisible():
            whole += bar.width()
        longest = max((self.rows_model.text(row, 0) for row in _sample(count)), key=len, default="")
        code = longest if len(longest) > len(USUAL_CODE) else USUAL_CODE
        for factor in self._factors:
            least = self._tile.grow(factor).least(code, narrow=factor < 1)
            columns = max(1, whole // least.width())
            rows = -(-count // columns)
            if rows * least.height() <= height:
                tall = min(height // max(rows, 1), least.height() * 4 // 3)
                break
        else:
            columns = max(1, (whole - bar.sizeHint().width()) // least.width())
            whole, tall = whole - bar.sizeHint().width(), least.height()
        self._columns, self._size = columns, QSize(max(1, whole // columns), max(1, tall))
        self.updateGeometries()
        self.viewport().update()

    def doItemsLayout(self) -> None:
        """Qt's hook: nothing is laid out but the grid."""
        self.arrange()

    def updateGeometries(self) -> None:
        """Qt's hook: how far there is to scroll."""
        rows = -(-self.rows_model.rowCount() // self._columns)
        bar, seen = self.verticalScrollBar(), self.viewport().height()
        bar.setSingleStep(max(1, self._size.height() // 2))
        bar.setPageStep(seen)
        bar.setRange(0, max(0, rows * self._size.height() - seen))

    def verticalOffset(self) -> int:
        """Qt's hook."""
        return self.verticalScrollBar().value()

    def horizontalOffset(self) -> int:
        """Qt's hook: there is nothing to the side."""
        return 0

    def scrollContentsBy(self, _dx: int, _dy: int) -> None:
        """Qt's hook."""
        self.viewport().update()

    def visualRect(self, index: Index) -> QRect:
        """Qt's hook: where a tile is, in the viewport."""
        if not index.isValid():
            return QRect()
        row, column = divmod(index.row(), self._columns)
        width, height = self._size.width(), self._size.height()
        return QRect(column * width, row * height - self.verticalOffset(), width, height)

    def indexAt(self, point: QPoint) -> QModelIndex:
        """Qt's hook: the tile at a point of the viewport."""
        column, row = point.x() // self._size.width(), (point.y() + self.verticalOffset()) // self._size.height()
        number = row * self._columns + column
        inside = 0 <= column < self._columns and 0 <= number < self.rows_model.rowCount()
        return self.rows_model.index(number, 0) if inside else QModelIndex()

    def isIndexHidden(self, _index: Index) -> bool:
        """Qt's hook: what the model shows is here."""
        return False

    def scrollTo(
        self, index: Index, hint: QAbstractItemView.ScrollHint = QAbstractItemView.ScrollHint.EnsureVisible
    ) -> None:
        """Qt's hook: bring a tile into view."""
        place, bar, seen = self.visualRect(index), self.verticalScrollBar(), self.viewport().height()
        if not place.isValid():
            return
        if hint is QAbstractItemView.ScrollHint.PositionAtCenter:
            bar.setValue(bar.value() + place.center().y() - seen // 2)
        elif place.top() < 0 or hint is QAbstractItemView.ScrollHint.PositionAtTop:
            bar.setValue(bar.value() + place.top())
        elif place.bottom() >= seen or hint is QAbstractItemView.ScrollHint.PositionAtBottom:
            bar.setValue(bar.value() + place.bottom() + 1 - seen)

    def moveCursor(self, action: QAbstractItemView.CursorAction, _modifiers: Qt.KeyboardModifier) -> QModelIndex:
        """Qt's hook: the tile that a key leads to."""
        count, at = self.rows_model.rowCount(), self.currentIndex()
        if not count:
            return QModelIndex()
        if not at.isValid():
            return self.rows_model.index(0, 0)
        move = QAbstractItemView.CursorAction
        page = max(1, self.viewport().height() // self._size.height()) * self._columns
        steps = {
            move.MoveLeft: -1, move.MovePrevious: -1, move.MoveRight: 1, move.MoveNext: 1, move.MoveUp: -self._columns,
            move.MoveDown: self._columns, move.MovePageUp: -page, move.MovePageDown: page,
            move.MoveHome: -at.row(), move.MoveEnd: count,
        }  # fmt: skip
        wanted = at.row() + steps[action]
        if action in (move.MoveUp, move.MoveDown) and not 0 <= wanted < count:
            wanted = at.row()
        return self.rows_model.index(min(max(wanted, 0), count - 1), 0)

    def setSelection(self, place: QRect, command: QItemSelectionModel.SelectionFlag) -> None:
        """Qt's hook: one tile, where it was pressed."""
        index = self.indexAt(place.topLeft())
        self.selectionModel().select(QItemSelection(index, index) if index.isValid() else QItemSelection(), command)

    def visualRegionForSelection(self, selection: QItemSelection) -> QRegion:
        """Qt's hook."""
        region = QRegion()
        for index in selection.indexes():
            region += self.visualRect(index)
        return region

    # painting and keys

    def paintEvent(self, event: QPaintEvent) -> None:
        """Qt's hook: the tiles in view, and no others."""
        painter = QPainter(self.viewport())
        height, first = self._size.height(), event.rect().top() + self.verticalOffset()
        begin = first // height * self._columns
        end = min(self.rows_model.rowCount(), ((first + event.rect().height()) // height + 1) * self._columns)
        option = QStyleOptionViewItem()
        self.initViewItemOption(option)
        usual = option.state & ~QStyle.StateFlag.State_Selected  # type: ignore[attr-defined]
        for number in range(begin, end):
            index = self.rows_model.index(number, 0)
            option.rect = self.visualRect(index)  # type: ignore[attr-defined]
            chosen = self.selectionModel().isSelected(index)
            option.state = usual | QStyle.StateFlag.State_Selected if chosen else usual  # type: ignore[attr-defined]
            self._tile.paint(painter, option, index)
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Qt's hook."""
        super().resizeEvent(event)
        self.arrange()

    def dataChanged(self, _first: Index, _last: Index, _roles: object = ()) -> None:
        """Qt's hook: every tile has the same size, so a change asks for paint and not for a new grid."""
        self.viewport().update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Qt's hook: Enter opens the tile."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self.opened.emit(self.rows_model.shown_row(self.currentIndex().row()))
            return
        super().keyPressEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        """Qt's hook: another palette or font asks for new tiles."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.PaletteChange, QEvent.Type.StyleChange, QEvent.Type.FontChange):
            self._tile.renew()
            self.arrange()


def _sample(count: int) -> range:
    """Row numbers that show how long codes are: all of a small fleet, some of a large one."""
    return range(0, count, max(1, count // 1000))
