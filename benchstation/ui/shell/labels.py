"""Labels and frames as everything here uses them: plain text, styled by property."""

import re

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QFont, QFontMetrics, QFontMetricsF, QResizeEvent
from PySide6.QtWidgets import QFrame, QLabel, QSizePolicy, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.text_scale import percent, px
from benchstation.ui.shell.theme import DARK, Palette

MOST_LINES = 5
# Lines break at spaces, and after a hyphen or stroke, but not between a hyphen and a digit.
_PART = re.compile(r"[^\s\u200b\-/]*(?:[\-/]+(?=\d)[^\s\u200b\-/]*)*[\-/]*")
BREAK = "\u200b"
"""Has no width and shows nothing: a line may break there, and no hyphen is added to a number."""


def palette_of(widget: QWidget) -> Palette:
    """Return the colours of the window that a widget stands in."""
    found = getattr(widget.window(), "theme", DARK)
    return found if isinstance(found, Palette) else DARK


class Words(QLabel):
    """A label that breaks a word which is wider than its place, where it may take more lines."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._words, self._named = "", False

    def setText(self, text: str) -> None:
        """Show a text."""
        self._words = text
        self._break()

    def text(self) -> str:
        """Return the text as it was set."""
        return self._words

    def shown(self) -> str:
        """Return the text with the breaks that its place asks for."""
        return super().text()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Break anew for the new width."""
        super().resizeEvent(event)
        self._break()

    def changeEvent(self, event: QEvent) -> None:
        """Break anew for another font."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.FontChange:
            self._break()

    def _break(self) -> None:
        text = self._words
        if self.wordWrap():
            text = broken(text, QFontMetrics(self.font()), self.contentsRect().width())
        self._put(text)

    def _put(self, text: str) -> None:
        if text == super().text():
            return
        super().setText(text)
        # A screen reader would spell a word with breaks in it.
        if (parted := text != self._words) or self._named:
            self.setAccessibleName(self._words if parted else "")
            self._named = parted


def label(text: str = "", role: str = "", *, wrap: bool = False) -> Words:
    """Make a label that never takes its text for rich text."""
    made = Words()
    _prepare(made, text, wrap)
    set_role(made, role)
    return made


def _prepare(made: Words, text: str, wrap: bool) -> None:
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wrap)
    made.setText(text)
    if wrap:
        made.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        made.setMinimumWidth(60)


def sized(font: QFont, pixels: int, *, bold: bool = False) -> QFont:
    """Return a font of the same family in this size, named as it is at 100 % text size."""
    made = QFont(font)
    made.setPixelSize(px(pixels))
    made.setBold(bold)
    return made


def widest_part(text: str, metrics: QFontMetrics) -> int:
    """Return the width of the longest part that a line break cannot divide."""
    parts = _PART.findall(text)
    return max((metrics.horizontalAdvance(part) for part in parts), default=0)


def broken(text: str, metrics: QFontMetrics, room: int) -> str:
    """Return ``text`` with breaks between the letters of every part that is wider than ``room``."""
    # What stands in one line needs no look at its parts.
    if room <= 0 or metrics.horizontalAdvance(text) <= room or widest_part(text, metrics) <= room:
        return text

    def parted(found: re.Match[str]) -> str:
        part = found.group()
        return BREAK.join(part) if metrics.horizontalAdvance(part) > room else part

    return _PART.sub(parted, text)


_FITTED: dict[tuple[object, ...], int] = {}
MOST_FITTED = 5000


def fitting_px(
    text: str,
    room: int,
    font: QFont,
    sizes: tuple[int, ...],
    *,
    bold: bool = False,
    one_line_from: int = 23,
    most_lines: int = MOST_LINES,
) -> int:
    """Return the largest of ``sizes`` (falling) at which ``text`` stands well in ``room`` pixels.

    On one line where that leaves it at ``one_line_from`` real pixels or more, else on few lines
    and with no word cut; the smallest when none will do. It is asked for the same at every frame.
    """
    asked = (text, room, font.key(), px(100), sizes, bold, one_line_from, most_lines)
    found = _FITTED.get(asked)
    if found is None:
        if len(_FITTED) >= MOST_FITTED:
            _FITTED.clear()
        found = _fitting_px(text, room, font, sizes, bold, one_line_from, most_lines)
        _FITTED[asked] = found
    return found


def _fitting_px(
    text: str,
    room: int,
    font: QFont,
    sizes: tuple[int, ...],
    bold: bool,
    one_line_from: int,
    most_lines: int,
) -> int:
    best = 0
    for pixels in sizes:
        metrics = QFontMetrics(sized(font, pixels, bold=bold))
        if px(pixels) >= one_line_from and metrics.horizontalAdvance(text) <= room:
            return pixels
        flags = int(Qt.TextFlag.TextWordWrap)
        high = metrics.boundingRect(0, 0, room, 10_000, flags, text).height()
        fits = widest_part(text, metrics) <= room and high <= most_lines * metrics.lineSpacing()
        if fits and not best:
            best = pixels
    return best or sizes[-1]


class FitLabel(Words):
    """A label that takes a smaller size rather than break a long word, and breaks at the last."""

    def __init__(
        self,
        sizes: tuple[int, ...],
        *,
        bold: bool = True,
        one_line_from: int = 23,
        most_lines: int = MOST_LINES,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._most_lines = most_lines
        self._sizes, self._bold, self._one_line_from = sizes, bold, one_line_from
        self._fitted: tuple[object, ...] = ()
        _prepare(self, "", True)

    def show_text(self, text: str) -> None:
        """Show a text."""
        if text != self.text():
            self.setText(text)

    def set_sizes(self, sizes: tuple[int, ...]) -> None:
        """Choose from other sizes."""
        self._sizes = sizes
        self._fit()

    def rescale(self) -> None:
        """Fit the text anew."""
        self._fit()

    def _break(self) -> None:
        # Asked for by the base before this label is made whole.
        if hasattr(self, "_fitted"):
            self._fit()

    def _fit(self) -> None:
        key = (self.text(), self.width(), self._sizes, percent())
        if key == self._fitted:
            return
        self._fitted = key
        room, font = self.width(), self.font()
        least = QFontMetrics(sized(font, self._sizes[-1], bold=self._bold))
        text = broken(self.text(), least, room)
        pixels = fitting_px(
            text,
            room,
            font,
            self._sizes,
            bold=self._bold,
            one_line_from=self._one_line_from,
            most_lines=self._most_lines,
        )
        weight = "bold" if self._bold else "normal"
        self._put(text)
        set_sheet(self, f"QLabel {{ font-size: {px(pixels)}px; font-weight: {weight}; }}")


class BoxLabel(FitLabel):
    """A label that takes the largest size at which all of it stands in a box of one size."""

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Fit the text to the new box."""
        self._fitted = ()
        super().resizeEvent(event)

    def _fit(self) -> None:
        key = (self.text(), self.width(), self.height(), self._sizes, percent())
        if key == self._fitted:
            return
        self._fitted = key
        room, high, font = self.width(), self.height(), self.font()
        flags = int(Qt.TextFlag.TextWordWrap)
        text = self.text()
        for pixels in self._sizes:
            metrics = QFontMetrics(sized(font, pixels, bold=self._bold))
            need = metrics.boundingRect(0, 0, max(1, room), 10_000, flags, text)
            if need.height() <= high and widest_part(text, metrics) <= room:
                break
        else:
            text = broken(text, metrics, room)
        weight = "bold" if self._bold else "normal"
        self._put(text)
        set_sheet(self, f"QLabel {{ font-size: {px(pixels)}px; font-weight: {weight}; }}")


def set_sheet(widget: QWidget, sheet: str) -> None:
    """Put a style sheet on a widget that has another: Qt works out even the same one again."""
    if widget.styleSheet() != sheet:
        widget.setStyleSheet(sheet)


def frame(role: str) -> QFrame:
    """Make a frame of this role: panel, bar, card or rule."""
    made = QFrame()
    set_role(made, role)
    if role == "rule":
        made.setFixedHeight(1)
    return made


def set_role(widget: QWidget, role: str) -> None:
    """Choose a widget's role in the style sheet."""
    set_property(widget, "role", role)


def set_tone(widget: QWidget, tone: Tone | None) -> None:
    """Choose the meaning that a label is coloured by."""
    set_property(widget, "tone", str(tone) if tone else "")


def set_wash(widget: QWidget, tone: Tone | None) -> None:
    """Choose the meaning that a frame's ground is coloured by."""
    set_property(widget, "wash", str(tone) if tone else "")


def set_property(widget: QWidget, name: str, value: str) -> None:
    """Set what the style sheet looks at, and look again."""
    if (widget.property(name) or "") == value:
        return
    # An empty text would still match a selector that only asks whether there is one.
    widget.setProperty(name, value or None)
    widget.style().unpolish(widget)
    widget.style().polish(widget)


def even_digits(font: QFont) -> QFont:
    """Make all digits of a font equally wide, so that a running number does not shake."""
    font.setFeature(QFont.Tag.fromString("tnum"), 1)
    return font


def digit_font(base: QFont, height_px: float) -> QFont:
    """Return ``base`` in bold at the size at which a digit is ``height_px`` high, in any family."""
    font = even_digits(QFont(base))
    font.setBold(True)
    font.setPixelSize(100)
    digit = QFontMetricsF(font).tightBoundingRect("0").height()
    font.setPixelSize(max(1, round(100 * height_px / digit)) if digit > 0 else round(height_px))
    return font
