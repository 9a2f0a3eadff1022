"""The rows of a page that lists things: title, then what stands below and its state."""

from PySide6.QtCore import QRect, QRectF
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from benchstation.list_view import ListRow
from benchstation.ui.theme import BODY_PX, LARGE_PX, SMALL_PX, Palette
from benchstation.ui.widgets.mark import paint_mark
from benchstation.ui.widgets.row_list import RowList, draw_line

STATE_SHARE, MARK = 0.43, 22


def _say(row: ListRow) -> str:
    return ", ".join(part for part in (row.title, row.state, row.below) if part)


def _draw(painter: QPainter, box: QRect, row: ListRow, palette: Palette, quiet: str) -> None:
    half = box.height() // 2
    top = QRect(box.left(), box.top(), box.width(), half)
    draw_line(painter, top, row.title, LARGE_PX, palette.text, bold=True)
    low = top.translated(0, half)
    state = round(STATE_SHARE * box.width()) if row.state else 0
    draw_line(painter, low.adjusted(0, 0, -state, 0), row.below, SMALL_PX, quiet)
    if not row.state:
        return
    low.setLeft(box.right() - state + 10)
    paint_mark(painter, QRectF(low.left(), low.top() + 2, MARK, MARK), row.tone, palette)
    low.setLeft(low.left() + MARK + 8)
    draw_line(painter, low, row.state, BODY_PX, palette.tone(row.tone).ink, bold=True)


class Listed(RowList):
    """The list; what is chosen in it opens beside it."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(name, _say, _draw, parent=parent)

    def choose(self, key: str) -> None:
        """Choose the row with this key, else the first."""
        rows: list[ListRow] = self.rows.rows
        place = next((n for n, row in enumerate(rows) if row.key == key), 0)
        self.setCurrentIndex(self.rows.index(place, 0))
