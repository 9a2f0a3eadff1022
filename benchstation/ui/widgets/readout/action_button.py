"""One action on a large button: its key stands on it; disabled, it says why on its own face.

In a place of one size it says so elsewhere: there no words make it higher.
"""

from PySide6.QtCore import QEvent, QRect, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetrics,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QWidget

from benchstation.screens.model.elements import ActionView, Tone
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.labels import MOST_LINES, fitting_px, palette_of, sized, widest_part
from benchstation.ui.shell.theme import BODY_PX, LARGE_PX, SMALL_PX, TARGET_PX

SIZES, QUIET_SIZES = (LARGE_PX, 17, 15), (BODY_PX, SMALL_PX, 12, 10, 9)
SLOT_SIZES, SLOT_PAD_PX = (LARGE_PX, 17, 15, 13, 12, 11, 10, 9, 8, 7), 9
QUIET_LINES, SNUG_PX = 2, 13
EDGE_PX, QUIET_EDGE_PX = 17, 11
FACE_PX, LEAST_WIDTH_PX, QUIET_WIDTH_PX, TALLEST = 72, 160, 92, 10_000
MOST_HEIGHTS = 32
WRAP = int(Qt.TextFlag.TextWordWrap)
CENTRE = WRAP | int(Qt.AlignmentFlag.AlignHCenter)
LEFT = WRAP | int(Qt.AlignmentFlag.AlignLeft)


def same_key(pressed: str, key: str) -> bool:
    """Return True when a pressed key is an action's key, however each is spelt."""
    return bool(key) and QKeySequence(pressed) == QKeySequence(key)


def shown_key(key: str) -> str:
    """Return a key's name as this system writes it."""
    if key == "Return":
        return "Enter"
    return QKeySequence(key).toString(QKeySequence.SequenceFormat.NativeText) or key


class ActionButton(QAbstractButton):
    """One action. Disabled it cannot be pressed, and says why.

    The key stands in a frame beside the label where both fit, else under it. Quiet buttons are
    smaller and have it always under the label.
    """

    def __init__(self, *, quiet: bool = False, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._action = ActionView("", "", "")
        self._quiet, self._pad = quiet, 5 if quiet else 14
        self._slot = 0
        self._heights: dict[tuple[int, int], int] = {}
        """By width and text size: asked for at every view, and seldom another."""
        # By Tab only: a click must not take the keyboard away from the page.
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.setMinimumHeight(TARGET_PX)

    def set_slot(self, wide: int, high: int) -> None:
        """Take a place of one size: words fit into it, and why not stands elsewhere."""
        if high != self._slot:
            self._slot = high
            self._heights.clear()
        self.setMinimumHeight(min(TARGET_PX, high))
        self.setFixedSize(wide, high)

    @property
    def action(self) -> ActionView:
        """Return what it does."""
        return self._action

    def show_action(self, action: ActionView) -> None:
        """Show an action; does nothing when it is the one that stands there."""
        if action == self._action:
            return
        other = (action.label, action.key) != (self._action.label, self._action.key)
        self._action = action
        self._heights.clear()
        self.setEnabled(action.enabled)
        key = f", key {shown_key(action.key)}" if action.key else ""
        self.setAccessibleName(f"{action.label}{key}")
        self.setAccessibleDescription(action.why_not)
        self._fit()
        if other:
            # A running figure in the words why not asks for no layout of the page.
            self.updateGeometry()
        self.update()

    def rescale(self) -> None:
        """Fit the words anew."""
        self._fit()
        self.update()

    def words_width(self) -> int:
        """Return the width at which no word is cut, at the smallest size."""
        sizes = SLOT_SIZES if self._slot else QUIET_SIZES if self._quiet else SIZES
        font = sized(self.font(), sizes[-1], bold=not self._quiet)
        word = widest_part(self._action.label, QFontMetrics(font))
        why = 0 if self._slot else widest_part(self._action.why_not, QFontMetrics(self._small()))
        pad = SLOT_PAD_PX if self._slot else self._pad
        return max(word, why, self._key_width()) + 2 * pad

    def snug_width(self) -> int:
        """Return the width in which a quiet button stands closely, its label still well read."""
        font = sized(self.font(), SNUG_PX)
        label = QFontMetrics(font).horizontalAdvance(self._action.label)
        return max(TARGET_PX, max(label, self._key_width()) + 2 * self._pad + 2)

    def least_width(self) -> int:
        """Return the width below which it is not made: no word is cut, and a hand finds it."""
        least = QUIET_WIDTH_PX if self._quiet else LEAST_WIDTH_PX
        return max(least, self.words_width())

    def _small(self) -> QFont:
        if not self._slot:
            return sized(self.font(), SMALL_PX)
        font = QFont(self.font())
        font.setPixelSize(text_scale.soft(SMALL_PX))
        return font

    def _label_font(self, room: int) -> QFont:
        sizes, bold = (QUIET_SIZES if self._quiet else SIZES), not self._quiet
        lines = QUIET_LINES if self._quiet else MOST_LINES
        pixels = fitting_px(
            self._action.label, room, self.font(), sizes, bold=bold, most_lines=lines
        )
        return sized(self.font(), pixels, bold=bold)

    def _key_width(self) -> int:
        if not self._action.key:
            return 0
        room = 2 if self._quiet else 16
        return QFontMetrics(self._small()).horizontalAdvance(shown_key(self._action.key)) + room

    def _slot_faces(self, width: int) -> tuple[QFont, QRect, QRect, QRect]:
        """Return the largest label that stands in the place with its key, beside or under it."""
        pad = SLOT_PAD_PX
        room, key, high = max(40, width - 2 * pad), self._key_width(), self._slot - 8
        chip_high = min(high, QFontMetrics(self._small()).height() + (0 if self._quiet else 4))
        label, font = self._action.label, sized(self.font(), SLOT_SIZES[-1], bold=not self._quiet)
        for pixels in SLOT_SIZES:
            font = sized(self.font(), pixels, bold=not self._quiet)
            widest = widest_part(label, QFontMetrics(font))
            beside = room - key - 8
            if not self._quiet and widest <= beside and self._high(font, beside, label) <= high:
                return (
                    font,
                    QRect(pad, 0, beside, max(chip_high, self._high(font, beside, label))),
                    QRect(pad + room - key, 0, key, chip_high if key else 0),
                    QRect(),
                )
            if widest <= room and self._high(font, room, label) + chip_high + 2 <= high:
                break
        tall = self._high(font, room, label)
        left = pad + (room - key) // 2 if self._quiet else pad
        chip = QRect(left, tall + 2, key, chip_high if key else 0)
        return font, QRect(pad, 0, room, tall), chip, QRect()

    def faces(self, width: int) -> tuple[QFont, QRect, QRect, QRect]:
        """Return the label's font and the places of label, key and why not, from the top down."""
        if self._slot:
            font, words, key_box, nothing = self._slot_faces(width)
            if key_box.top() == 0 and words.height() > key_box.height():
                key_box.moveTop((words.height() - key_box.height()) // 2)
            return font, words, key_box, nothing
        room = max(40, width - 2 * self._pad)
        key, small = self._key_width(), QFontMetrics(self._small())
        key_high = small.height() + (0 if self._quiet else 8)
        beside = room - key - 10
        font = self._label_font(beside)
        if self._quiet or widest_part(self._action.label, QFontMetrics(font)) > beside:
            font = self._label_font(room)
            high = self._high(font, room, self._action.label)
            label = QRect(self._pad, 0, room, high)
            left = self._pad + (room - key) // 2 if self._quiet else self._pad
            chip = QRect(left, high + (0 if self._quiet else 4), key, key_high if key else 0)
        else:
            high = max(key_high, self._high(font, beside, self._action.label))
            label = QRect(self._pad, 0, beside, high)
            chip = QRect(self._pad + room - key, (high - key_high) // 2, key, key_high)
        low = max(label.bottom(), chip.bottom()) + 1
        why = "" if self._action.enabled or self._slot else self._action.why_not
        high = self._high(self._small(), room, why) + 3 if why else 0
        return font, label, chip, QRect(self._pad, low + (3 if why else 0), room, high)

    @staticmethod
    def _high(font: QFont, room: int, words: str) -> int:
        return QFontMetrics(font).boundingRect(0, 0, room, TALLEST, WRAP, words).height()

    def height_for(self, width: int) -> int:
        """Return the height in this width: words may need more, a finger never less."""
        asked = width, text_scale.percent()
        high = self._heights.get(asked)
        if high is None:
            if len(self._heights) >= MOST_HEIGHTS:
                self._heights.clear()
            high = self._heights[asked] = self._height_in(width)
        return high

    def _height_in(self, width: int) -> int:
        if self._slot:
            _, words, chip, _ = self.faces(width)
            return max(words.bottom(), chip.bottom()) + 4
        need = self.faces(max(width, QUIET_WIDTH_PX))[3].bottom() + (
            QUIET_EDGE_PX if self._quiet else EDGE_PX
        )
        return max(TARGET_PX if self._quiet else FACE_PX, need)

    def _fit(self) -> None:
        if self._slot:
            return
        least = self.height_for(self.width())
        if least != self.minimumHeight():
            self.setMinimumHeight(least)

    def changeEvent(self, event: QEvent) -> None:
        """Measure the words anew in another font."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange):
            self._heights.clear()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the words to the new width."""
        self._fit()

    def sizeHint(self) -> QSize:
        """Ask for label and key on one line."""
        font = sized(self.font(), BODY_PX if self._quiet else LARGE_PX, bold=not self._quiet)
        width = QFontMetrics(font).horizontalAdvance(self._action.label)
        width = max(width, self._key_width()) if self._quiet else width + self._key_width() + 12
        return QSize(width + 2 * self._pad + 2, self.minimumHeight())

    def minimumSizeHint(self) -> QSize:
        """Return a width in which the words wrap."""
        least = QUIET_WIDTH_PX if self._quiet else LEAST_WIDTH_PX
        return QSize(least, self.minimumHeight())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw face, label, key, and why not."""
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        action, blue = self._action, palette.tone(Tone.MANDATORY)
        strong = action.primary and action.enabled and not self.isDown()
        face = blue.fill if strong else palette.raised if action.enabled else palette.panel
        if self.isDown() or (self.underMouse() and action.enabled and not strong):
            face = palette.pressed
        ink = blue.sign if strong else palette.text if action.enabled else palette.quiet
        edge = QPen(QColor(face if action.enabled else palette.line), 2)
        if not action.enabled:
            edge.setStyle(Qt.PenStyle.DashLine)
        if self.hasFocus():
            edge = QPen(QColor(palette.focus), 3)
        painter.setPen(edge)
        painter.setBrush(QColor(face))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5), 8, 8)
        font, label, chip, why = self.faces(self.width())
        low = max(label.bottom(), chip.bottom(), why.bottom() if why.height() else 0) + 1
        top = (self.height() - low) // 2
        for box in (label, chip, why):
            box.translate(0, top)
        painter.setPen(QColor(ink))
        painter.setFont(font)
        middle = int(Qt.AlignmentFlag.AlignVCenter)
        painter.drawText(label, (CENTRE if self._quiet else LEFT) | middle, action.label)
        self._draw_key(painter, chip, ink)
        if why.height():
            painter.setFont(self._small())
            painter.setPen(QColor(palette.text))
            painter.drawText(why, CENTRE if self._quiet else LEFT, action.why_not)

    def _draw_key(self, painter: QPainter, chip: QRect, ink: str) -> None:
        if not self._action.key:
            return
        painter.setFont(self._small())
        if not self._quiet:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(ink), 1.2))
            painter.drawRoundedRect(QRectF(chip), 5, 5)
        painter.drawText(chip, Qt.AlignmentFlag.AlignCenter, shown_key(self._action.key))
