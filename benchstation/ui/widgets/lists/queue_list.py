"""The queue as a list of large rows: which unit, of which order, when due, where it stands."""

from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.queue import QueueRow
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import BODY_PX, LARGE_PX, SMALL_PX, Palette
from benchstation.ui.widgets.lists.row_list import LARGE_ROW_PX, RowList, draw_line, lines_of
from benchstation.ui.widgets.readout.mark import paint_mark

RIGHT_PART, LEAST_RIGHT_PX, LEAST_MATCHED_PX = 0.34, 168, 60
MARK = 22
BLANK = "not scanned yet"


def due_words(row: QueueRow) -> str:
    """Return when it is due, and whether that day is past."""
    if not row.due:
        return ""
    return f"overdue {row.due}" if row.late else f"due {row.due}"


def _say(row: QueueRow) -> str:
    parts = (row.serial or BLANK, row.position, row.family, f"order {row.order}", due_words(row))
    return ", ".join(part for part in (*parts, row.matched, row.state, row.reason) if part)


def _draw(painter: QPainter, box: QRect, row: QueueRow, palette: Palette, quiet: str) -> None:
    """Draw two lines; large text gives the unit the whole width, and takes three."""
    if text_scale.is_large():
        first, state, order = lines_of(box, 3)
        due = state.adjusted(_draw_state(painter, state, row, palette), 0, 0, 0)
    else:
        first, order = lines_of(box, 2)
        right = max(px(LEAST_RIGHT_PX), round(RIGHT_PART * box.width()))
        state = QRect(first)
        state.setLeft(box.right() - right)
        # The lower line has no mark before it: it needs the room more than the alignment.
        due = state.translated(0, order.top() - first.top())
        for line in (first, order):
            line.setRight(state.left() - 12)
        _draw_state(painter, state, row, palette)
    ink = palette.text if row.serial else quiet
    name = row.serial or BLANK
    draw_line(painter, first, name, LARGE_PX, ink, bold=bool(row.serial), rest=row.position)
    _draw_due(painter, due, row, palette, quiet)
    used = draw_line(painter, order, row.order or "no order", SMALL_PX, quiet)
    order.setLeft(order.left() + used)
    # Families differ by a word in the middle: front or rear.
    used = draw_line(painter, order, row.family, SMALL_PX, quiet, cut=Qt.TextElideMode.ElideMiddle)
    order.setLeft(order.left() + used)
    if order.width() > px(LEAST_MATCHED_PX):
        draw_line(painter, order, row.matched, SMALL_PX, quiet)


def _draw_state(painter: QPainter, box: QRect, row: QueueRow, palette: Palette) -> int:
    """Draw mark and state; give the width that they took."""
    side = px(MARK)
    paint_mark(painter, QRectF(box.left(), box.top() + 2, side, side), row.tone, palette)
    place = box.adjusted(side + 10, 0, 0, 0)
    ink = palette.tone(row.tone).ink
    return side + 10 + draw_line(painter, place, row.state, BODY_PX, ink, bold=True)


def _draw_due(painter: QPainter, box: QRect, row: QueueRow, palette: Palette, quiet: str) -> None:
    # Large text leaves no room for the year, which is the least of a date.
    due = due_words(row).replace(row.due, row.due[5:] if text_scale.is_large() else row.due)
    if row.late:
        draw_line(painter, box, due, SMALL_PX, palette.tone(Tone.CAUTION).ink, bold=True)
    else:
        draw_line(painter, box, row.reason or due, SMALL_PX, quiet)


class QueueList(RowList):
    """The list of units that wait, are worked, or were filed lately."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("units in the queue", _say, _draw, large=LARGE_ROW_PX, parent=parent)

    def choose(self, wanted: QueueRow | None) -> None:
        """Choose the same unit as before, else the first that can be started, else the first."""
        rows: list[QueueRow] = self.rows.rows
        same = [n for n, row in enumerate(rows) if wanted and _key(row) == _key(wanted)]
        waits = [n for n, row in enumerate(rows) if row.state == "waiting"]
        self.setCurrentIndex(self.rows.index((same + waits + [0])[0], 0))


def _key(row: QueueRow) -> str:
    return row.key or row.unit_id
