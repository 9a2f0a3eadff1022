"""A list of large rows, each a finger high: arrows move, one click chooses, letters pass on."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QRectF,
    QSize,
    Qt,
)
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QPainter
from PySide6.QtWidgets import QListView, QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.lists import ListRow
from benchstation.ui.shell.labels import fitting_px, palette_of
from benchstation.ui.shell.text_scale import is_large, px
from benchstation.ui.shell.theme import BODY_PX, LARGE_PX, SMALL_PX, Palette
from benchstation.ui.widgets.readout.mark import paint_mark

ROW_PX, GAP_PX = 68, 14
LARGE_ROW_PX, STACKED_ROW_PX = 82, 88
"""A row of three lines in place of two, for large text and for narrow lists."""
MARK, RIGHT_PART, LEAST_RIGHT_PX, LEAST_PART_PX = 22, 0.34, 168, 60
SIZES = (LARGE_PX, 17, BODY_PX, 15, 14, 13, 12)
STATE_SIZES = SIZES[2:]
BELOW_SIZES = (SMALL_PX, 13, 12, 11)
SEPARATOR = "   "
MIDDLE, ENDS = Qt.TextElideMode.ElideMiddle, Qt.TextElideMode.ElideRight
STATE_ALONE_PX = 116
"""Names that are too long still show how they begin and end: front or rear, 46 or 50."""
MOVES = (
    Qt.Key.Key_Up,
    Qt.Key.Key_Down,
    Qt.Key.Key_PageUp,
    Qt.Key.Key_PageDown,
    Qt.Key.Key_Home,
    Qt.Key.Key_End,
)
Index = QModelIndex | QPersistentModelIndex


class RowModel(QAbstractListModel):
    """The rows, each of which has a line to be shown."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.rows: list[Any] = []
        self.noted = False
        """True when a row has a note: then the states of all stand where it has room."""

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own default
        """Count the rows."""
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return a row in words, which is also what a screen reader says."""
        if role != Qt.ItemDataRole.DisplayRole or not 0 <= index.row() < len(self.rows):
            return None
        return self.line(index).words()

    def line(self, index: Index) -> ListRow:
        """Return the line of a row."""
        line: ListRow = self.rows[index.row()].line
        return line

    def replace(self, rows: list[Any]) -> None:
        """Show these rows."""
        self.beginResetModel()
        self.rows = rows
        self.noted = any(row.line.note for row in rows)
        self.endResetModel()

    def append(self, rows: list[Any]) -> None:
        """Show these rows too."""
        if not rows:
            return
        first = len(self.rows)
        self.beginInsertRows(QModelIndex(), first, first + len(rows) - 1)
        self.rows = self.rows + rows
        self.noted = self.noted or any(row.line.note for row in rows)
        self.endInsertRows()


class RowDelegate(QStyledItemDelegate):
    """Draws a row: title, what stands below it, and its state with the mark of its tone."""

    def __init__(self, owner: "RowList") -> None:
        super().__init__(owner)
        self._owner = owner

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Return the height of a finger and a bit, or more."""
        return QSize(200, px(self._owner.row_px()))

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
        draw = _draw_stacked if self._owner.stacked else _draw_beside
        draw(
            _Ink(painter, palette, quiet, model.noted),
            box.adjusted(16, 8, -14, -8),
            model.line(index),
        )
        painter.restore()


@dataclass(frozen=True, slots=True)
class _Ink:
    """What a row is drawn with; ``quiet`` is the colour of what is not said loudly."""

    painter: QPainter
    palette: Palette
    quiet: str
    noted: bool = False

    def mark(self, box: QRect, row: ListRow, down: int = 2) -> QRect:
        """Draw the mark of the row's tone, and return the room beside it."""
        side = px(MARK)
        at = QRectF(box.left(), box.top() + down, side, side)
        paint_mark(self.painter, at, row.tone, self.palette)
        return box.adjusted(side + 10, 0, 0, 0)

    def below(self, box: QRect, parts: tuple[str, ...]) -> None:
        """Draw texts after each other while there is room for them."""
        for part in parts:
            # What tells names apart often stands at their end; a sentence begins with what it says.
            cut = ENDS if part.endswith((".", "?")) else MIDDLE
            used = draw_line(self.painter, box, part, SMALL_PX, self.quiet, cut=cut)
            box = box.adjusted(used, 0, 0, 0)
            if box.width() < px(LEAST_PART_PX):
                return


def _draw_beside(ink: _Ink, box: QRect, row: ListRow) -> None:
    """Draw two lines; large text gives the title the whole width, and takes three."""
    columns = bool(row.state) and not is_large()
    right = _right_part(ink, box, row)
    first, state, below = (
        lines_of(box, 3) if row.state and is_large() else _columns(box, right if columns else 0)
    )
    if not row.note:
        # Nothing stands beside it: a sentence has the whole line.
        below.setRight(box.right())
    bold = not row.unnamed
    colour = ink.palette.text if bold else ink.quiet
    draw_line(
        ink.painter, first, row.title, LARGE_PX, colour, bold=bold, rest=row.beside, cut=MIDDLE
    )
    ink.below(below, row.below)
    if not row.state:
        return
    place, tone = ink.mark(state, row), ink.palette.tone(row.tone).ink
    used = _draw_whole(ink, place, row.state, STATE_SIZES, tone, bold=True)
    # The note has no mark before it: it needs the room more than the alignment.
    note = state.translated(0, state.height()) if columns else place.adjusted(used, 0, 0, 0)
    words = row.note if columns else row.short_note or row.note
    loud = row.note_tone is not Tone.QUIET
    colour = ink.palette.tone(row.note_tone).ink if loud else ink.quiet
    draw_line(ink.painter, note, words, SMALL_PX, colour, bold=loud)


def _right_part(ink: _Ink, box: QRect, row: ListRow) -> int:
    """Return the width of state and note: with notes a share of the row, else what it needs."""
    usual = max(px(LEAST_RIGHT_PX), round(RIGHT_PART * box.width()))
    if ink.noted:
        return usual
    font = QFont(ink.painter.font())
    font.setPixelSize(px(BODY_PX))
    font.setBold(True)
    need = px(MARK) + 14 + QFontMetrics(font).horizontalAdvance(row.state)
    return min(usual, max(px(STATE_ALONE_PX), need))


def _columns(box: QRect, right: int) -> tuple[QRect, QRect, QRect]:
    """Return the places of title, state and what stands below on two lines."""
    first, below = lines_of(box, 2)
    state = QRect(first)
    if right:
        state.setLeft(box.right() - right)
        for line in (first, below):
            line.setRight(state.left() - 12)
    return first, state, below


def _draw_stacked(ink: _Ink, box: QRect, row: ListRow) -> None:
    """Draw three lines of the whole width, each as large as it fits."""
    third = box.height() // 3
    place = QRect(box.left(), box.top(), box.width(), third)

    _draw_whole(ink, place, row.title, SIZES, ink.palette.text, bold=True)
    place = place.translated(0, third + 3)
    if row.state:
        tone = ink.palette.tone(row.tone).ink
        _draw_whole(ink, ink.mark(place, row, 0), row.state, STATE_SIZES, tone, bold=True)
        place = place.translated(0, third)
    _draw_whole(ink, place, SEPARATOR.join(row.below[:2]), BELOW_SIZES, ink.quiet, bold=False)


def _draw_whole(
    ink: _Ink, box: QRect, words: str, sizes: tuple[int, ...], colour: str, *, bold: bool
) -> int:
    """Draw words on one line as large as they fit, and return the width that they took."""
    font = ink.painter.font()
    size = fitting_px(words, box.width(), font, sizes, bold=bold, one_line_from=0, most_lines=1)
    return draw_line(ink.painter, box, words, size, colour, bold=bold, cut=MIDDLE)


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
    metrics = QFontMetrics(font)
    # A name of which two letters are left tells nothing.
    if room.width() >= min(px(LEAST_PART_PX), metrics.horizontalAdvance(rest)):
        painter.drawText(room, flags, metrics.elidedText(rest, cut, room.width()))
    return used


class RowList(QListView):
    """The list; what is chosen in it opens beside it. ``stacked``: it is too narrow for columns."""

    def __init__(self, name: str, *, stacked: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.stacked = stacked
        self.rows = RowModel(self)
        self.setModel(self.rows)
        self.setItemDelegate(RowDelegate(self))
        self.setUniformItemSizes(True)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setEditTriggers(QListView.EditTrigger.NoEditTriggers)
        self.setAccessibleName(name)
        self.setTabKeyNavigation(False)

    def choose(self, fits: Callable[[Any], bool], *others: Callable[[Any], bool]) -> None:
        """Choose the first row that fits, by the first of these that any does; else the first."""
        for one in (fits, *others):
            for place, row in enumerate(self.rows.rows):
                if one(row):
                    self.setCurrentIndex(self.rows.index(place, 0))
                    return
        self.setCurrentIndex(self.rows.index(0, 0))

    @property
    def current(self) -> Any:
        """Return the row that is chosen, or ``None``."""
        place = self.currentIndex().row()
        return self.rows.rows[place] if 0 <= place < len(self.rows.rows) else None

    def row_px(self) -> int:
        """Return the height of a row as it is at 100 % text size."""
        if self.stacked:
            return STACKED_ROW_PX
        return LARGE_ROW_PX if is_large() else ROW_PX

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
