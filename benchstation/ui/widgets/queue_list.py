"""The queue as a list of large rows: which unit, of which order, when due, where it stands."""

from PySide6.QtCore import QRect, QRectF
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from benchstation.bench_view import Tone
from benchstation.queue_view import QueueRow
from benchstation.ui import text_scale
from benchstation.ui.theme import BODY_PX, LARGE_PX, SMALL_PX, Palette
from benchstation.ui.widgets.mark import paint_mark
from benchstation.ui.widgets.row_list import RowList, draw_line

RIGHT_PART = 0.36
BLANK = "not scanned yet"


def due_words(row: QueueRow) -> str:
    """Say when it is due, and whether that day is past."""
    if not row.due:
        return ""
    return f"overdue {row.due}" if row.late else f"due {row.due}"


def _say(row: QueueRow) -> str:
    parts = (row.serial or BLANK, row.position, row.family, f"order {row.order}", due_words(row))
    return ", ".join(part for part in (*parts, row.matched, row.state, row.reason) if part)


def _draw(painter: QPainter, box: QRect, row: QueueRow, palette: Palette, quiet: str) -> None:
    right = max(176, round(RIGHT_PART * box.width()))
    half = box.height() // 2
    place = QRect(box.left(), box.top(), box.width() - right - 12, half)
    ink = palette.text if row.serial else quiet
    name = row.serial or BLANK
    draw_line(painter, place, name, LARGE_PX, ink, bold=bool(row.serial), rest=row.position)
    place.translate(0, half)
    order = f"order {row.order}" if row.order else "in no order"
    below = "   ".join(part for part in (order, row.matched, row.family) if part)
    draw_line(painter, place, below, SMALL_PX, quiet)
    at = box.right() - right
    paint_mark(painter, QRectF(at, box.top() + 2, 22, 22), row.tone, palette)
    place = QRect(at + 32, box.top(), right - 32, half)
    draw_line(painter, place, row.state, BODY_PX, palette.tone(row.tone).ink, bold=True)
    # The lower line has no mark before it: it needs the room more than the alignment.
    place = QRect(at, box.top() + half, right, half)
    # Large text leaves no room for the year, which is the least of a date.
    due = due_words(row).replace(row.due, row.due[5:] if text_scale.percent() > 115 else row.due)
    if row.late:
        draw_line(painter, place, due, SMALL_PX, palette.tone(Tone.CAUTION).ink, bold=True)
    else:
        draw_line(painter, place, row.reason or due, SMALL_PX, quiet)


class QueueList(RowList):
    """The list of units that wait, are worked, or were filed lately."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("units in the queue", _say, _draw, parent=parent)

    def choose(self, wanted: QueueRow | None) -> None:
        """Choose the same unit as before, else the first that can be started, else the first."""
        rows: list[QueueRow] = self.rows.rows
        same = [n for n, row in enumerate(rows) if wanted and _key(row) == _key(wanted)]
        waits = [n for n, row in enumerate(rows) if row.state == "waiting"]
        self.setCurrentIndex(self.rows.index((same + waits + [0])[0], 0))


def _key(row: QueueRow) -> str:
    return row.key or row.unit_id
