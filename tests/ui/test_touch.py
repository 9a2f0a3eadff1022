"""Nothing needs a double click, a drag or a right click."""

import re
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractItemView, QSlider

import benchstation.ui
from tests.ui.fake_moments import pour
from tests.ui.fake_station import FakeHand

NEEDS_MORE_THAN_A_CLICK = re.compile(
    r"doubleClick|DoubleClick|activated\.connect\(self\._open|customContextMenu|contextMenuEvent"
    r"|RightButton|QDrag|dragEnterEvent|setDragEnabled|swipe|QGesture"
)
SOURCES = sorted(Path(benchstation.ui.__path__[0]).rglob("*.py"))


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_no_source_waits_for_more_than_a_click(path):
    assert NEEDS_MORE_THAN_A_CLICK.findall(path.read_text("utf-8")) == []


@pytest.mark.parametrize("page", ["records", "specifications"])
def test_one_click_opens_a_row(open_bench, qtbot, page):
    bench = open_bench(pour())
    bench.window.switch(page)
    made = bench.window._made[page]
    qtbot.waitUntil(lambda: made.list.rows.rowCount() > 1)
    row = made.list.visualRect(made.list.rows.index(1, 0)).center()
    QTest.mouseClick(made.list.viewport(), Qt.MouseButton.LeftButton, pos=row)
    assert made.list.currentIndex().row() == 1
    assert made.list.dragDropMode() is QAbstractItemView.DragDropMode.NoDragDrop


def test_every_slider_moves_by_keys_and_by_a_click(open_bench):
    bench = open_bench(pour(), hand=FakeHand())
    bench.window.switch("specifications")
    QTest.qWait(60)
    sliders = [s for s in bench.window.findChildren(QSlider) if s.isVisible()]
    assert len(sliders) == 3
    for slider in sliders:
        slider.setValue(50)
        QTest.keyClick(slider, Qt.Key.Key_PageUp)
        by_key = slider.value()
        assert by_key != 50
        end = QPoint(slider.width() - 4, slider.height() // 2)
        QTest.mouseClick(slider, Qt.MouseButton.LeftButton, pos=end)
        assert slider.value() > by_key
