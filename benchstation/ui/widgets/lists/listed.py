"""The rows of a page that lists things: title, state, and what stands below."""

from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.lists import ListRow
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import BODY_PX, LARGE_PX, SMALL_PX, Palette
from benchstation.ui.widgets.lists.row_list import RowList, draw_line
from benchstation.ui.widgets.readout.mark import paint_mark

MARK, ROW_PX = 22, 88
CUT = Qt.TextElideMode.ElideMiddle
"""Names that are too long still show how they begin and end."""


def _say(row: ListRow) -> str:
    return ", ".join(part for part in (row.title, row.state, row.below) if part)


def _draw(painter: QPainter, box: QRect, row: ListRow, palette: Palette, quiet: str) -> None:
    third = box.height() // 3
    place = QRect(box.left(), box.top(), box.width(), third)
    draw_line(painter, place, row.title, LARGE_PX, palette.text, bold=True, cut=CUT)
    if row.state:
        at = QRectF(box.left(), box.top() + third + 3, px(MARK), px(MARK))
        paint_mark(painter, at, row.tone, palette)
        state = place.translated(px(MARK) + 10, third + 3).adjusted(0, 0, -px(MARK) - 10, 0)
        draw_line(painter, state, row.state, BODY_PX, palette.tone(row.tone).ink, bold=True)
    low = place.translated(0, 2 * third + 3 if row.state else third + 3)
    draw_line(painter, low, row.below, SMALL_PX, quiet)


class Listed(RowList):
    """The list; what is chosen in it opens beside it."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(name, _say, _draw, height=ROW_PX, parent=parent)

    def choose(self, key: str) -> None:
        """Choose the row with this key, else the first."""
        rows: list[ListRow] = self.rows.rows
        place = next((n for n, row in enumerate(rows) if row.key == key), 0)
        self.setCurrentIndex(self.rows.index(place, 0))
