"""What does not fit in a window: widgets outside their parent, words cut, targets too small."""

from itertools import combinations

from PySide6.QtCore import QPoint, QRect
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QComboBox,
    QLabel,
    QLineEdit,
    QScrollBar,
    QWidget,
)

from benchstation.ui.shell.labels import Words
from benchstation.ui.shell.theme import TARGET_PX
from benchstation.ui.widgets.forms.fields import CheckField
from benchstation.ui.widgets.readout.action_button import ActionButton
from benchstation.ui.widgets.readout.big_number import BigNumberView
from benchstation.ui.widgets.readout.hold_button import HoldButton
from benchstation.ui.widgets.readout.instrument_bar import Reading
from benchstation.ui.widgets.readout.terms import Term

SLACK_PX = 1


def _named(widget: QWidget) -> str:
    words = widget.accessibleName() or (widget.text() if isinstance(widget, QLabel) else "")
    return f"{type(widget).__name__} {words[:50]!r} {widget.geometry().getRect()}"


def _is_plot(widget: QWidget) -> bool:
    while widget is not None:
        if type(widget).__module__.startswith("pyqtgraph"):
            return True
        widget = widget.parentWidget()
    return False


def _scrolled(widget: QWidget) -> QAbstractScrollArea | None:
    """Return the scroller whose contents a widget is."""
    viewport = widget.parentWidget()
    area = viewport.parentWidget() if viewport is not None else None
    if isinstance(area, QAbstractScrollArea) and area.viewport() is viewport:
        return area
    return None


def _outside(widget: QWidget) -> bool:
    parent = widget.parentWidget()
    place, room = widget.geometry(), parent.rect()
    if place.isEmpty():
        # A holder of nothing; a button without a height is told as too small to touch.
        return False
    if _scrolled(widget) is not None:
        # A scroller shows what is too high bit by bit, but nothing that is too wide.
        return place.width() > room.width() + SLACK_PX
    return not room.adjusted(-SLACK_PX, -SLACK_PX, SLACK_PX, SLACK_PX).contains(place)


def _cut(widget: QWidget) -> str:
    """Say which words of a widget do not stand whole in it."""
    width, height = widget.width() + SLACK_PX, widget.height() + SLACK_PX
    if isinstance(widget, QLabel) and widget.text():
        if widget.wordWrap():
            metrics, flags = widget.fontMetrics(), 0x1000
            words = widget.shown() if isinstance(widget, Words) else widget.text()
            need = metrics.boundingRect(QRect(0, 0, width, 10_000), flags, words)
            return "words" if need.height() > height or need.width() > width else ""
        return "words" if widget.sizeHint().width() > width else ""
    if isinstance(widget, ActionButton):
        label = widget.height_for(widget.width()) > height or widget.words_width() > width
        return "label" if label else ""
    if isinstance(widget, HoldButton):
        return "words" if widget.sizeHint().height() > height else ""
    if isinstance(widget, Term) and not widget.words_fit():
        return "word"
    if isinstance(widget, CheckField | Term):
        return "words" if widget.heightForWidth(widget.width()) > height else ""
    if isinstance(widget, Reading) and widget.shown is not None:
        return "words" if not widget.words_fit() else ""
    if isinstance(widget, BigNumberView) and widget.shown is not None:
        return "number" if not widget.fits() else ""
    return ""


def _too_small(widget: QWidget) -> bool:
    touched = isinstance(widget, QAbstractButton | HoldButton | QLineEdit | QComboBox)
    return touched and (widget.height() < TARGET_PX or widget.width() < TARGET_PX)


def seen(window: QWidget) -> list[QWidget]:
    """Return every widget of ours that is shown."""
    found = [
        w for w in window.findChildren(QWidget) if w.isVisible() and w.window() is window.window()
    ]
    return [
        w
        for w in found
        if not _is_plot(w)
        and not isinstance(w, QScrollBar)
        and not w.objectName().startswith("qt_")
        and not isinstance(w.parentWidget(), QComboBox | QLineEdit)
    ]


def problems(window: QWidget, patience_ms: int = 1000) -> list[str]:
    """Say everything that does not fit, once the layouts have come to rest."""
    for _ in range(patience_ms // 25):
        if not (found := problems_now(window)):
            break
        QTest.qWait(25)
    return found


def problems_now(window: QWidget) -> list[str]:
    """Say everything that does not fit at this moment."""
    found, widgets = [], seen(window)
    for widget in widgets:
        if _outside(widget):
            found.append(f"outside its parent: {_named(widget)}")
        if cut := _cut(widget):
            found.append(f"{cut} cut: {_named(widget)}")
        if _too_small(widget):
            found.append(f"smaller than 15 mm: {_named(widget)}")
    buttons = [w for w in widgets if isinstance(w, QAbstractButton | HoldButton)]
    for one, other in combinations(buttons, 2):
        places = [QRect(w.mapTo(window, QPoint(0, 0)), w.size()) for w in (one, other)]
        if one.parentWidget() is other.parentWidget() and places[0].intersects(places[1]):
            found.append(f"overlap: {_named(one)} and {_named(other)}")
    return found
