"""Found units as a list of large rows: serial and family, who and when, decision and state."""

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QRectF,
    QSize,
    Qt,
)
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from benchstation.bench_view import RecordRow, Tone
from benchstation.ui.theme import BODY_PX, LARGE_PX, SMALL_PX
from benchstation.ui.widgets.labels import palette_of
from benchstation.ui.widgets.mark import paint_mark

ROW_PX = 68
RIGHT_PART = 0.30
Index = QModelIndex | QPersistentModelIndex


class RecordModel(QAbstractListModel):
    """The rows found so far."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows: list[RecordRow] = []

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Count the rows."""
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Give a row in words, which is also what a screen reader says."""
        if role != Qt.ItemDataRole.DisplayRole or not 0 <= index.row() < len(self.rows):
            return None
        row = self.rows[index.row()]
        parts = (row.serial, row.family, row.title, row.filed, row.technician)
        return ", ".join(part for part in (*parts, row.decision, row.state) if part)

    def replace(self, rows: list[RecordRow]) -> None:
        """Show these rows."""
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def append(self, rows: list[RecordRow]) -> None:
        """Show these rows too."""
        if not rows:
            return
        first = len(self.rows)
        self.beginInsertRows(QModelIndex(), first, first + len(rows) - 1)
        self.rows = self.rows + rows
        self.endInsertRows()


class RecordDelegate(QStyledItemDelegate):
    """Draws a row on two lines."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Give the height of a finger and a bit."""
        return QSize(200, ROW_PX)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw one row."""
        model = index.model()
        if not isinstance(model, RecordModel):
            return
        row, palette = model.rows[index.row()], palette_of(option.widget)
        box: QRect = option.rect
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        blue = palette.tone(Tone.MANDATORY)
        if chosen:
            painter.fillRect(box, QColor(blue.wash))
            painter.fillRect(QRect(box.left(), box.top(), 5, box.height()), QColor(blue.fill))
        painter.setPen(QColor(palette.line))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        inner = box.adjusted(16, 8, -14, -8)
        right = max(150, round(RIGHT_PART * inner.width()))
        left = inner.width() - right - 12
        half = inner.height() // 2
        text, quiet = palette.text, palette.text if chosen else palette.quiet
        place = QRect(inner.left(), inner.top(), left, half)
        self._line(painter, place, row.serial, LARGE_PX, text, bold=True, rest=row.family)
        place.translate(0, half)
        below = "   ".join(part for part in (row.filed, row.technician, row.title) if part)
        self._line(painter, place, below, SMALL_PX, quiet)
        at = inner.right() - right
        paint_mark(painter, QRectF(at, inner.top() + 2, 22, 22), row.tone, palette)
        place = QRect(at + 32, inner.top(), right - 32, half)
        self._line(painter, place, row.decision, BODY_PX, palette.tone(row.tone).ink, bold=True)
        place.translate(0, half)
        self._line(painter, place, row.state, SMALL_PX, quiet)
        painter.restore()

    @staticmethod
    def _line(
        painter: QPainter,
        box: QRect,
        words: str,
        size: int,
        ink: str,
        *,
        bold: bool = False,
        rest: str = "",
    ) -> None:
        font = QFont(painter.font())
        font.setPixelSize(size)
        font.setBold(bold)
        painter.setFont(font)
        painter.setPen(QColor(ink))
        metrics = QFontMetrics(font)
        flags = int(Qt.AlignmentFlag.AlignVCenter) | int(Qt.TextFlag.TextSingleLine)
        shown = metrics.elidedText(words, Qt.TextElideMode.ElideRight, box.width())
        painter.drawText(box, flags, shown)
        used = metrics.horizontalAdvance(shown) + 14
        if not rest or used > box.width() - 40:
            return
        font.setBold(False)
        font.setPixelSize(BODY_PX)
        painter.setFont(font)
        room = box.adjusted(used, 0, 0, 0)
        shown = QFontMetrics(font).elidedText(rest, Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, flags, shown)


class RecordList(QListView):
    """The list; arrows move, and what is chosen opens at the right."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows = RecordModel(self)
        self.setModel(self.rows)
        self.setItemDelegate(RecordDelegate(self))
        self.setUniformItemSizes(True)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setEditTriggers(QListView.EditTrigger.NoEditTriggers)
        self.setAccessibleName("records found")
        # Letters are keys of the page, not a search in the list.
        self.setTabKeyNavigation(False)

    def keyboardSearch(self, search: str) -> None:
        """Search by the field above, not by letters typed here."""
