"""Revisions and drafts as large rows: family, then revision and state, then by whom."""

from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.specifications import SpecificationRow
from benchstation.ui.shell.labels import fitting_px
from benchstation.ui.shell.text_scale import px
from benchstation.ui.shell.theme import BODY_PX, SMALL_PX, Palette
from benchstation.ui.widgets.lists.row_list import RowList, draw_line
from benchstation.ui.widgets.readout.mark import paint_mark

MARK, ROW_PX = 22, 88
SIZES = (17, BODY_PX, 15, 14, 13, 12)
BY_SIZES = (SMALL_PX, 13, 12, 11)
DRAFT = "draft"
"""The state, in the station's word, of what can be approved."""


def said(row: SpecificationRow) -> str:
    """Return revision and state in words."""
    return f"revision {row.revision}, {row.state}"


def _say(row: SpecificationRow) -> str:
    return ", ".join(part for part in (row.family, said(row), row.title, row.by) if part)


def _draw(
    painter: QPainter, box: QRect, row: SpecificationRow, palette: Palette, quiet: str
) -> None:
    third = box.height() // 3
    place = QRect(box.left(), box.top(), box.width(), third)
    font, room = painter.font(), place.width()
    size = fitting_px(row.family, room, font, SIZES, bold=True, one_line_from=0, most_lines=1)
    # Families differ by a word in the middle or at the end: front or rear.
    cut = Qt.TextElideMode.ElideMiddle
    draw_line(painter, place, row.family, size, palette.text, bold=True, cut=cut)
    paint_mark(
        painter, QRectF(box.left(), box.top() + third + 3, px(MARK), px(MARK)), row.tone, palette
    )
    place = place.translated(px(MARK) + 10, third + 3).adjusted(0, 0, -px(MARK) - 10, 0)
    words = said(row)
    size = fitting_px(words, place.width(), painter.font(), SIZES[1:], bold=True, one_line_from=0)
    draw_line(painter, place, words, size, palette.tone(row.tone).ink, bold=True)
    size = fitting_px(row.by, place.width(), painter.font(), BY_SIZES, one_line_from=0)
    draw_line(painter, place.translated(0, third), row.by, size, quiet)


class SpecificationList(RowList):
    """The list of revisions and drafts."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("revisions and drafts", _say, _draw, height=ROW_PX, parent=parent)

    def choose(self, wanted: SpecificationRow | None) -> None:
        """Choose the row with this key, else that of the same revision, else the first."""
        rows: list[SpecificationRow] = self.rows.rows
        fits = [place for place, row in enumerate(rows) if wanted and row.key == wanted.key]
        fits += [place for place, row in enumerate(rows) if wanted and _same(row, wanted)]
        self.setCurrentIndex(self.rows.index(fits[0] if fits else 0, 0))


def _same(one: SpecificationRow, other: SpecificationRow) -> bool:
    """Return True when a draft was approved as the other, or a text kept as it."""
    return (one.family, one.title, one.revision) == (other.family, other.title, other.revision)
