"""The pages: they take the height there is, and scroll rather than cut."""

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from benchstation.ui.pages.page import Page
from benchstation.ui.shell.pages import Pages


class Tall(Page):
    """A page that needs this much height."""

    def __init__(self, least: int) -> None:
        super().__init__()
        self.block = QWidget()
        self.block.setMinimumHeight(least)
        box = QVBoxLayout(self)
        box.setContentsMargins(0, 0, 0, 0)
        box.addWidget(self.block)


@pytest.fixture
def pages(shown):
    made = shown(Pages(), size=(400, 200))
    made.low, made.tall = Tall(120), Tall(300)
    for page in (made.low, made.tall):
        made.add(page)
    return made


def test_a_page_that_fits_has_all_the_room_and_does_not_scroll(pages, qtbot):
    pages.show_page(pages.low)
    qtbot.waitUntil(lambda: pages.low.height() == 200)
    assert pages.low.width() == 400
    assert not pages.verticalScrollBar().isVisible()


def test_a_page_that_does_not_fit_keeps_its_height_and_scrolls(pages, qtbot):
    pages.show_page(pages.tall)
    qtbot.waitUntil(lambda: pages.tall.height() == 300)
    assert pages.verticalScrollBar().maximum() == 100
    pages.verticalScrollBar().setValue(100)
    pages.show_page(pages.low)
    qtbot.waitUntil(lambda: pages.low.height() == 200)
    assert pages.verticalScrollBar().value() == 0


def test_what_a_page_comes_to_need_is_followed(pages, qtbot):
    pages.show_page(pages.low)
    pages.low.block.setMinimumHeight(260)
    qtbot.waitUntil(lambda: pages.verticalScrollBar().maximum() == 60)
    pages.low.block.setMinimumHeight(10)
    qtbot.waitUntil(lambda: pages.low.height() == 200)


def test_keys_are_the_windows_and_tab_brings_into_sight(pages, qtbot):
    low = QPushButton("last", pages.tall)
    low.setGeometry(0, 260, 80, 30)
    low.show()
    pages.show_page(pages.tall)
    qtbot.waitUntil(lambda: pages.verticalScrollBar().maximum() == 100)
    for key in (Qt.Key.Key_Down, Qt.Key.Key_PageDown, Qt.Key.Key_Right):
        event = QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier)
        pages.keyPressEvent(event)
        assert not event.isAccepted()
    assert pages.verticalScrollBar().value() == 0
    pages.setFocus()
    qtbot.keyClick(pages, Qt.Key.Key_Tab)
    assert pages.window().focusWidget() is low
    assert pages.verticalScrollBar().value() > 50


def test_nothing_asks_the_window_for_height(pages):
    pages.show_page(pages.tall)
    assert pages.sizeHint().height() == pages.minimumSizeHint().height() == 0
    assert not pages.hasHeightForWidth()
