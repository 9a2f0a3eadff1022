"""A list of large rows, each a finger high: arrows move, one click chooses, letters pass on."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QSize,
    Qt,
)
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QPainter
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import palette_of
from benchstation.ui.shell.text_scale import is_large, px
from benchstation.ui.shell.theme import BODY_PX, Palette

ROW_PX, GAP_PX = 68, 14
LARGE_ROW_PX = 82
"""A row of three lines in place of two, for large text."""
MOVES = (
    Qt.Key.Key_Up,
    Qt.Key.Key_Down,
    Qt.Key.Key_PageUp,
    Qt.Key.Key_PageDown,
    Qt.Key.Key_Home,
    Qt.Key.Key_End,
)
Index = QModelIndex | QPersistentModelIndex
Draw = Callable[[QPainter, QRect, Any, Palette, str], None]
"""Draws a row into a box: painter, box, row, colours, and the ink of what is quiet there."""


class RowModel(QAbstractListModel):
    """The rows, each of which ``say`` puts into words."""

    def __init__(self, say: Callable[[Any], str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._say = say
        self.rows: list[Any] = []

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Count the rows."""
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return a row in words, which is also what a screen reader says."""
        if role != Qt.ItemDataRole.DisplayRole or not 0 <= index.row() < len(self.rows):
            return None
        return self._say(self.rows[index.row()])

    def replace(self, rows: list[Any]) -> None:
        """Show these rows."""
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def append(self, rows: list[Any]) -> None:
        """Show these rows too."""
        if not rows:
            return
        first = len(self.rows)
        self.beginInsertRows(QModelIndex(), first, first + len(rows) - 1)
        self.rows = self.rows + rows
        self.endInsertRows()


class RowDelegate(QStyledItemDelegate):
    """Draws a row's ground, and has ``draw`` do the rest."""

    def __init__(
        self, draw: Draw, height: Callable[[], int], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._draw, self._height = draw, height

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Return the height of a finger and a bit, or more."""
        return QSize(200, px(self._height()))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one row."""
        model = index.model()
        if not isinstance(model, RowModel):
            return
        palette, box = palette_of(option.widget), QRect(option.rect)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        blue = palette.tone(Tone.MANDATORY)
        if chosen:
            painter.fillRect(box, QColor(blue.wash))
            painter.fillRect(QRect(box.left(), box.top(), 5, box.height()), QColor(blue.fill))
        painter.setPen(QColor(palette.line))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        quiet = palette.text if chosen else palette.quiet
        self._draw(painter, box.adjusted(16, 8, -14, -8), model.rows[index.row()], palette, quiet)
        painter.restore()


def lines_of(box: QRect, count: int) -> tuple[QRect, ...]:
    """Return a box as so many lines of equal height."""
    high = box.height() // count
    return tuple(QRect(box.left(), box.top() + n * high, box.width(), high) for n in range(count))


def draw_line(
    painter: QPainter,
    box: QRect,
    words: str,
    size: int,
    ink: str,
    *,
    bold: bool = False,
    rest: str = "",
    cut: Qt.TextElideMode = Qt.TextElideMode.ElideRight,
) -> int:
    """Draw words on one line, cut where the box ends, and after them what else finds room.

    Gives the width that the words took, with the gap after them.
    """
    font = QFont(painter.font())
    font.setPixelSize(px(size))
    font.setBold(bold)
    painter.setFont(font)
    painter.setPen(QColor(ink))
    metrics = QFontMetrics(font)
    flags = int(Qt.AlignmentFlag.AlignVCenter) | int(Qt.TextFlag.TextSingleLine)
    shown = metrics.elidedText(words, cut, box.width())
    painter.drawText(box, flags, shown)
    used = metrics.horizontalAdvance(shown) + GAP_PX
    if not rest or used > box.width() - 40:
        return used
    font.setBold(False)
    font.setPixelSize(px(BODY_PX))
    painter.setFont(font)
    room = box.adjusted(used, 0, 0, 0)
    shown = QFontMetrics(font).elidedText(rest, cut, room.width())
    painter.drawText(room, flags, shown)
    return used


class RowList(QListView):
    """The list; what is chosen in it opens beside it."""

    def __init__(
        self,
        name: str,
        say: Callable[[Any], str],
        draw: Draw,
        *,
        height: int = ROW_PX,
        large: int = 0,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.rows = RowModel(say, self)
        self.setModel(self.rows)
        self._height, self._large = height, large or height
        self.setItemDelegate(RowDelegate(draw, self.row_px, self))
        self.setUniformItemSizes(True)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setEditTriggers(QListView.EditTrigger.NoEditTriggers)
        self.setAccessibleName(name)
        self.setTabKeyNavigation(False)

    def row_px(self) -> int:
        """Return the height of a row as it is at 100 % text size."""
        return self._large if is_large() else self._height

    def rescale(self) -> None:
        """Lay the rows out anew."""
        self.scheduleDelayedItemsLayout()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move by arrows; all other keys are the page's."""
        plain = not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if plain and event.key() in MOVES:
            super().keyPressEvent(event)
        else:
            event.ignore()
