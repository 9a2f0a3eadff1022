"""A picture of a page as it is now, with numbers on what is to be explained.

Drawn from the page itself, so that it never shows what is no longer there.
"""

from dataclasses import dataclass

from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import palette_of, sized
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import LARGE_PX

Callout = tuple[QWidget, str]
DISC_PX, EDGE_PX, INSET_PX = 34, 2, 8


@dataclass(frozen=True, slots=True)
class Picture:
    """The picture, and the words for its numbers, from 1 on."""

    pixmap: QPixmap
    words: tuple[str, ...]


def picture_of(page: QWidget, callouts: tuple[Callout, ...], width: int) -> Picture | None:
    """Draw a page ``width`` pixels wide; ``None`` when nothing on it is to be explained.

    What is not shown at the moment gets no number.
    """
    shown = [(widget, words) for widget, words in callouts if not _hidden(widget, page)]
    if not shown or page.width() < 1:
        return None
    grabbed = page.grab()
    # Widths of a grabbed picture are the screen's, which may have more of them than the window.
    dots = round(width * grabbed.devicePixelRatio())
    pixmap = grabbed.scaledToWidth(dots, Qt.TransformationMode.SmoothTransformation)
    scale = width / page.width()
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    blue, size = palette_of(page).tone(Tone.MANDATORY), px(DISC_PX)
    painter.setFont(sized(page.font(), LARGE_PX, bold=True))
    for number, (widget, _) in enumerate(shown, 1):
        corner = QPointF(widget.mapTo(page, QPoint(0, 0))) * scale
        box = QRectF(0, 0, widget.width() * scale, widget.height() * scale).translated(corner)
        painter.setPen(QPen(QColor(blue.fill), EDGE_PX))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), 6, 6)
        disc = QRectF(0, 0, size, size)
        disc.moveTopRight(box.topRight() + QPointF(-INSET_PX, INSET_PX))
        painter.setBrush(QColor(blue.fill))
        painter.setPen(QPen(QColor(blue.sign), EDGE_PX))
        painter.drawEllipse(disc)
        painter.drawText(disc, Qt.AlignmentFlag.AlignCenter, str(number))
    painter.end()
    return Picture(pixmap, tuple(words for _, words in shown))


def _hidden(widget: QWidget, page: QWidget) -> bool:
    """Return True when a widget would not be seen if its page were."""
    return not widget.isVisibleTo(page) or widget.width() < 1 or widget.height() < 1
