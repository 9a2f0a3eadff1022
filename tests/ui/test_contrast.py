"""Contrast as it is really drawn: every word of every page and step, in both themes.

WCAG 2.1, success criterion 1.4.3: 4.5:1 for text. Ink is what the style gives a label; the ground
is the colour that most of the grabbed label has.
"""

from collections import Counter

import pytest
from PySide6.QtCore import QPoint, QRect
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.theme import contrast
from benchstation.ui.widgets.readout.action_button import ActionButton
from benchstation.ui.widgets.readout.big_number import BigNumberView
from benchstation.ui.widgets.readout.hold_button import HoldButton
from benchstation.ui.widgets.readout.instrument_bar import Reading
from benchstation.ui.widgets.readout.terms import Term
from tests.ui.every_page import ASIDE
from tests.ui.fake_moments import MOMENTS, pour
from tests.ui.fake_station import FakeHand

TEXT, STEP = 4.5, 2
PAINTED = (ActionButton, HoldButton, Term, Reading, BigNumberView)
BOTH = pytest.mark.parametrize("dark", [True, False], ids=["dark", "light"])


def colours(image: QImage, place: QRect) -> Counter[str]:
    """Count the colours of every second pixel of a place."""
    place = place.intersected(image.rect())
    return Counter(
        image.pixelColor(x, y).name()
        for x in range(place.left(), place.right() + 1, STEP)
        for y in range(place.top(), place.bottom() + 1, STEP)
    )


def seen_of(widget: QWidget, window: QWidget) -> QRect:
    """Return the part of a widget that no scroller hides, in the window."""
    seen = widget.visibleRegion().boundingRect()
    return seen.translated(widget.mapTo(window, QPoint(0, 0)))


def faint(window: QWidget) -> list[str]:
    """Name every word that has not the contrast."""
    image, found = window.grab().toImage(), []
    for widget in window.findChildren(QWidget):
        place = seen_of(widget, window)
        elsewhere = not widget.isVisible() or widget.window() is not window
        if elsewhere or place.width() < 8 or place.height() < 8:
            continue
        if isinstance(widget, QLabel) and widget.text():
            ground = colours(image, place).most_common(1)[0][0]
            ink = widget.palette().color(widget.foregroundRole()).name()
            ratio = contrast(ink, ground)
            words = widget.text()
        elif isinstance(widget, PAINTED) and place.size() == widget.size():
            found_here = colours(image, place)
            ground = found_here.most_common(1)[0][0]
            ratio = max(contrast(ink, ground) for ink in found_here)
            words = widget.accessibleName()
        else:
            continue
        if words.strip() and ratio < TEXT:
            found.append(f"{type(widget).__name__} {words[:40]!r} on {ground}: {ratio:.2f}")
    return found


@BOTH
def test_every_word_of_every_step_can_be_read(open_bench, dark):
    bench = open_bench(pour(), hand=FakeHand(), dark=dark)
    found = []
    for name, moment in MOMENTS.items():
        bench.show(moment())
        QTest.qWait(30)
        found += [f"{name}: {words}" for words in faint(bench.window)]
    assert found == []


@BOTH
@pytest.mark.parametrize("page", ASIDE)
def test_every_word_of_every_page_can_be_read(open_bench, qtbot, dark, page):
    bench = open_bench(pour(), dark=dark)
    bench.window.switch(page)
    made = bench.window.made[page]
    if hasattr(made, "list"):
        qtbot.waitUntil(lambda: made.list.rows.rowCount() > 2)
        made.list.setCurrentIndex(made.list.rows.index(2, 0))
    QTest.qWait(60)
    assert faint(bench.window) == []


@BOTH
@pytest.mark.parametrize("tone", list(Tone))
def test_the_foots_word_can_be_read_in_every_tone(open_bench, dark, tone):
    bench = open_bench(pour(), dark=dark)
    bench.window.tell(Message("Capture is locked: the scale is stale.", tone))
    QTest.qWait(20)
    assert faint(bench.window.status_bar) == []


def test_what_is_too_faint_is_found(open_bench):
    bench = open_bench(pour())
    title = bench.window.bench.why.title
    title.setStyleSheet("QLabel { color: #2b333a; font-size: 20px; }")
    QTest.qWait(20)
    assert any("Why this target" in words for words in faint(bench.window))
