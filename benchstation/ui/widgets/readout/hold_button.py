"""A button that must be held: a deliberate act, not a touch in passing."""

from PySide6.QtCore import QElapsedTimer, QEvent, QRectF, QSize, Qt, QTimer, Signal, Slot
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QFont,
    QFontMetrics,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractButton, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import palette_of, sized
from benchstation.ui.shell.theme import BODY_PX, TARGET_PX

HOLD_MS = 1500
KEEP = "Too short: keep holding"
SIZES, MOST_LINES, EDGES_PX = (BODY_PX + 1, 15, 13, 12), 3, 24
WRAP = int(Qt.TextFlag.TextWordWrap)
FRAME_MS = 25
PRESSES = (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter)


class HoldButton(QAbstractButton):
    """Fills while it is held, by mouse, finger or key; ``held`` when it is full.

    A button to a screen reader; a click alone does nothing.
    """

    held = Signal()
    let_go = Signal()
    """Released too early: nothing was done."""

    def __init__(self, hold_ms: int = HOLD_MS, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.hold_ms = hold_ms
        self._text, self._tone, self._early = "", Tone.DANGER, False
        self._clock = QElapsedTimer()
        self._timer = QTimer(self)
        self._timer.setInterval(FRAME_MS)
        self._timer.timeout.connect(self._on_frame)
        # By Tab only: a click must not take the keyboard away from the page.
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setMinimumHeight(TARGET_PX)

    def show_text(self, text: str, tone: Tone) -> None:
        """Show what holding does."""
        if (text, tone) != (self._text, self._tone):
            self._text, self._tone = text, tone
            self.setAccessibleName(text)
            self.fit(self.width())
            self.updateGeometry()
            self.update()

    @property
    def progress(self) -> float:
        """Return how far it has filled, 0 to 1."""
        if not self._timer.isActive():
            return 0.0
        return min(1.0, self._clock.elapsed() / max(1, self.hold_ms))

    @property
    def words(self) -> str:
        """Return what stands on it."""
        return KEEP if self._early else self._text

    def press(self) -> None:
        """Begin to hold."""
        if not self._timer.isActive():
            self._early = False
            self._clock.start()
            self._timer.start()
            self.update()

    def release(self) -> None:
        """End holding; before it is full nothing happens but a word."""
        if self._timer.isActive():
            self._timer.stop()
            self._early = True
            self.let_go.emit()
            self.update()

    @Slot()
    def _on_frame(self) -> None:
        if self.progress >= 1.0:
            self._timer.stop()
            self._early = False
            self.held.emit()
        self.update()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Hold by mouse or finger."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.press()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Release the button."""
        self.release()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Release the button when the pointer slides off."""
        if not self.rect().contains(event.position().toPoint()):
            self.release()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Hold by key."""
        if event.key() in PRESSES:
            if not event.isAutoRepeat():
                self.press()
            return
        super().keyPressEvent(event)

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """Release the key."""
        if event.key() in PRESSES:
            if not event.isAutoRepeat():
                self.release()
            return
        super().keyReleaseEvent(event)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Release the button when the focus leaves."""
        self.release()
        super().focusOutEvent(event)

    def hideEvent(self, event: QEvent) -> None:
        """Release the button silently when it is hidden."""
        self.forget()

    def forget(self) -> None:
        """End holding without a word: what it would have done is no longer there."""
        self._timer.stop()
        self._early = False
        self.update()

    def _bold(self, width: int = 0) -> QFont:
        """Return the largest font in which the words take few lines in this, or its own, width."""
        wide = max(60, (width or self.width()) - EDGES_PX)
        for pixels in SIZES:
            font = sized(self.font(), pixels, bold=True)
            metrics = QFontMetrics(font)
            high = metrics.boundingRect(0, 0, wide, 10_000, WRAP, self._longest()).height()
            if high <= MOST_LINES * metrics.lineSpacing():
                break
        return font

    def _longest(self) -> str:
        return max(self._text, KEEP, key=len)

    def sizeHint(self) -> QSize:
        """Ask for room for the words."""
        font = self._bold()
        self.ensurePolished()
        width = QFontMetrics(font).horizontalAdvance(self._text) // 2
        return QSize(width + 60, self._need(self.width()))

    def _need(self, width: int) -> int:
        """Return the height in which the longest words stand in this width."""
        metrics = QFontMetrics(self._bold(width))
        wide = max(60, width - EDGES_PX)
        high = metrics.boundingRect(0, 0, wide, 10_000, WRAP, self._longest()).height()
        return max(TARGET_PX, high + 14)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take the height that the words need in the new width."""
        super().resizeEvent(event)
        self.fit(self.width())

    def fit(self, width: int) -> None:
        """Take the height that the words need in this width."""
        need = self._need(max(60, width))
        if need != self.minimumHeight():
            self.setFixedHeight(need)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw ground, filling and words."""
        painter, palette = QPainter(self), palette_of(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colours = palette.tone(self._tone)
        box = QRectF(self.rect()).adjusted(2, 2, -2, -2)
        shape = QPainterPath()
        shape.addRoundedRect(box, 8, 8)
        painter.setPen(QPen(QColor(palette.focus if self.hasFocus() else colours.ink), 3))
        painter.fillPath(shape, QColor(palette.panel))
        done = QRectF(box)
        done.setWidth(box.width() * self.progress)
        painter.save()
        painter.setClipPath(shape)
        painter.fillRect(done, QColor(colours.fill))
        painter.restore()
        painter.drawPath(shape)
        painter.setFont(self._bold())
        align = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        inner = box.adjusted(10, 0, -10, 0)
        painter.setPen(QColor(palette.text))
        painter.drawText(inner, align, self.words)
        # The same words over the filled part, in the colour that can be read on it.
        painter.setClipRect(done)
        painter.setPen(QColor(colours.sign))
        painter.drawText(inner, align, self.words)
