"""Labels and frames as everything here uses them: plain text, styled by property."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetricsF
from PySide6.QtWidgets import QFrame, QLabel, QSizePolicy, QWidget

from benchstation.bench_view import Tone
from benchstation.ui.theme import DARK, Palette


def palette_of(widget: QWidget) -> Palette:
    """Give the colours of the window that a widget stands in."""
    found = getattr(widget.window(), "lights", DARK)
    return found if isinstance(found, Palette) else DARK


def label(text: str = "", role: str = "", *, wrap: bool = False) -> QLabel:
    """Make a label that never takes its text for rich text."""
    made = QLabel()
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setText(text)
    made.setWordWrap(wrap)
    if wrap:
        made.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        made.setMinimumWidth(60)
    set_role(made, role)
    return made


def frame(role: str) -> QFrame:
    """Make a frame of this role: panel, bar, card or rule."""
    made = QFrame()
    set_role(made, role)
    if role == "rule":
        made.setFixedHeight(1)
    return made


def set_role(widget: QWidget, role: str) -> None:
    """Choose a widget's role in the style sheet."""
    _set_property(widget, "role", role)


def set_tone(widget: QWidget, tone: Tone | None) -> None:
    """Choose the meaning that a label is coloured by."""
    _set_property(widget, "tone", str(tone) if tone else "")


def set_wash(widget: QWidget, tone: Tone) -> None:
    """Choose the meaning that a frame's ground is coloured by."""
    _set_property(widget, "wash", str(tone))


def _set_property(widget: QWidget, name: str, value: str) -> None:
    if (widget.property(name) or "") == value:
        return
    widget.setProperty(name, value)
    widget.style().unpolish(widget)
    widget.style().polish(widget)


def even_digits(font: QFont) -> QFont:
    """Make all digits of a font equally wide, so that a running number does not shake."""
    font.setFeature(QFont.Tag.fromString("tnum"), 1)
    return font


def digit_font(base: QFont, height_px: float) -> QFont:
    """Give ``base`` in bold at the size at which a digit is ``height_px`` high, in any family."""
    font = even_digits(QFont(base))
    font.setBold(True)
    font.setPixelSize(100)
    digit = QFontMetricsF(font).tightBoundingRect("0").height()
    font.setPixelSize(max(1, round(100 * height_px / digit)) if digit > 0 else round(height_px))
    return font
