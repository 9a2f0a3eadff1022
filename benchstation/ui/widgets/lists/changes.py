"""Two revisions side by side: each field that differs, as it was and as it is."""

from PySide6.QtCore import QRect, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchstation.ui.shell.labels import palette_of, sized, widest_part
from benchstation.ui.shell.theme import BODY_PX, SMALL_PX

GAP, ROOM, TALLEST = 12, 6, 10_000
WRAP = int(Qt.TextFlag.TextWordWrap)
HEADS, VALUE_SIZES = ("was", "is"), (BODY_PX, SMALL_PX, 12, 11, 10)


class Changes(QWidget):
    """A table of three: the field on a line of its own, below it ``was`` and ``is``."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shown: tuple[tuple[str, str, str], ...] = ()
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_changes(self, changes: tuple[tuple[str, str, str], ...]) -> None:
        """Show these fields."""
        if changes == self.shown:
            return
        self.shown = changes
        said = "; ".join(f"{name} was {was}, is {now}" for name, was, now in changes)
        self.setAccessibleName("what changed")
        self.setAccessibleDescription(said)
        self.updateGeometry()
        self.update()

    def boxes(self, width: int) -> tuple[list[tuple[QRect, QRect, QRect]], int]:
        """Return the places of field, was and is for every row in this width, and the height."""
        names = QFontMetrics(sized(self.font(), SMALL_PX))
        half = (width - GAP) // 2
        values = QFontMetrics(self._values_font(half))
        top, rows = names.lineSpacing() + ROOM, []
        for name, was, now in self.shown:
            high = names.boundingRect(0, 0, width, TALLEST, WRAP, _breaking(name)).height()
            field = QRect(0, top, width, high)
            tall = max(
                values.boundingRect(0, 0, half, TALLEST, WRAP, words).height()
                for words in (was, now)
            )
            low = field.bottom() + 1
            rows.append((field, QRect(0, low, half, tall), QRect(half + GAP, low, half, tall)))
            top = low + tall + ROOM
        return rows, top if rows else 0

    def _values_font(self, half: int) -> QFont:
        """Return the largest font in which no value is cut in half the width."""
        words = " ".join(word for _, was, now in self.shown for word in (was, now))
        for size in VALUE_SIZES:
            font = sized(self.font(), size)
            if widest_part(words, QFontMetrics(font)) <= half:
                break
        return font

    def hasHeightForWidth(self) -> bool:
        """Return True: long words take more lines."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height in this width."""
        return self.boxes(width)[1]

    def sizeHint(self) -> QSize:
        """Ask for a usual width."""
        return QSize(240, self.heightForWidth(max(self.width(), 160)))

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw heads and rows."""
        painter, palette = QPainter(self), palette_of(self)
        rows, _ = self.boxes(self.width())
        if not rows:
            return
        small = sized(self.font(), SMALL_PX)
        body = self._values_font(rows[0][1].width())
        painter.setPen(QColor(palette.quiet))
        painter.setFont(sized(self.font(), SMALL_PX, bold=True))
        _, was_box, is_box = rows[0]
        for head, box in zip(HEADS, (was_box, is_box), strict=True):
            painter.drawText(QRect(box.left(), 0, box.width(), was_box.top()), 0, head)
        for boxes, texts in zip(rows, self.shown, strict=True):
            for place, (box, words) in enumerate(zip(boxes, texts, strict=True)):
                painter.setFont(body if place else small)
                painter.setPen(QColor(palette.text if place == 2 else palette.quiet))
                painter.drawText(box, WRAP, words if place else _breaking(words))
            painter.setPen(QColor(palette.line))
            middle = boxes[2].left() - GAP // 2
            painter.drawLine(middle, boxes[2].top(), middle, boxes[2].bottom())


def _breaking(field: str) -> str:
    """Return a long name with breaks after its stops."""
    return field.replace(".", ".\u200b")
