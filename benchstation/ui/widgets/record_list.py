"""Found units as a list of large rows: serial and family, who and when, decision and state."""

from PySide6.QtCore import QRect, QRectF
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from benchstation.bench_view import RecordRow
from benchstation.ui.text_scale import px
from benchstation.ui.theme import BODY_PX, LARGE_PX, SMALL_PX, Palette
from benchstation.ui.widgets.mark import paint_mark
from benchstation.ui.widgets.row_list import RowList, draw_line

RIGHT_PART = 0.30


def _say(row: RecordRow) -> str:
    parts = (row.serial, row.family, row.title, row.filed, row.technician)
    return ", ".join(part for part in (*parts, row.decision, row.state) if part)


def _draw(painter: QPainter, box: QRect, row: RecordRow, palette: Palette, quiet: str) -> None:
    right = max(px(150), round(RIGHT_PART * box.width()))
    half = box.height() // 2
    place = QRect(box.left(), box.top(), box.width() - right - 12, half)
    draw_line(painter, place, row.serial, LARGE_PX, palette.text, bold=True, rest=row.family)
    place.translate(0, half)
    below = "   ".join(part for part in (row.filed, row.technician, row.title) if part)
    draw_line(painter, place, below, SMALL_PX, quiet)
    at = box.right() - right
    paint_mark(painter, QRectF(at, box.top() + 2, px(22), px(22)), row.tone, palette)
    place = QRect(at + px(32), box.top(), right - px(32), half)
    draw_line(painter, place, row.decision, BODY_PX, palette.tone(row.tone).ink, bold=True)
    place.translate(0, half)
    draw_line(painter, place, row.state, SMALL_PX, quiet)


class RecordList(RowList):
    """The list of records found."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("records found", _say, _draw, parent=parent)
