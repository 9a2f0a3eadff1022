"""Found units as a list of large rows: serial and family, who and when, decision and state."""

from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.records import RecordRow
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import BODY_PX, LARGE_PX, SMALL_PX, Palette
from benchstation.ui.widgets.lists.row_list import LARGE_ROW_PX, RowList, draw_line, lines_of
from benchstation.ui.widgets.readout.mark import paint_mark

RIGHT_PART = 0.30


def _say(row: RecordRow) -> str:
    parts = (row.serial, row.family, row.title, row.filed, row.technician)
    return ", ".join(part for part in (*parts, row.decision, row.state) if part)


def _draw(painter: QPainter, box: QRect, row: RecordRow, palette: Palette, quiet: str) -> None:
    """Draw two lines; large text gives the unit the whole width, and takes three."""
    if text_scale.is_large():
        first, decision, below = lines_of(box, 3)
        decision.setLeft(decision.left() + px(32))
    else:
        first, below = lines_of(box, 2)
        right = max(px(150), round(RIGHT_PART * box.width()))
        decision = first.adjusted(box.width() - right + px(32), 0, 0, 0)
        for line in (first, below):
            line.setRight(line.right() - right - 12)
    # Families differ by a word in the middle: front or rear.
    cut = Qt.TextElideMode.ElideMiddle
    ink = palette.text
    draw_line(painter, first, row.serial, LARGE_PX, ink, bold=True, rest=row.family, cut=cut)
    parts = (row.filed, row.technician, row.title)
    draw_line(painter, below, "   ".join(part for part in parts if part), SMALL_PX, quiet)
    mark = QRectF(decision.left() - px(32), decision.top() + 2, px(22), px(22))
    paint_mark(painter, mark, row.tone, palette)
    ink = palette.tone(row.tone).ink
    used = draw_line(painter, decision, row.decision, BODY_PX, ink, bold=True)
    beside = text_scale.is_large()
    state = decision.adjusted(used, 0, 0, 0) if beside else decision.translated(0, first.height())
    draw_line(painter, state, row.state, SMALL_PX, quiet)


class RecordList(RowList):
    """The list of records found."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("records found", _say, _draw, large=LARGE_ROW_PX, parent=parent)
