"""Nothing needs a double click, a drag or a right click; all that is touched is large enough."""

import re
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QSlider,
    QWidget,
)

import benchstation.ui
from benchstation.screens.model.elements import FieldKind, FieldView
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.bridge import Message
from benchstation.ui.shell.theme import FINE_TARGET_PX, TARGET_PX
from benchstation.ui.widgets.forms.form import Form
from tests.ui.every_page import ASIDE
from tests.ui.fake_moments import MOMENTS, SIDE, pour
from tests.ui.fake_station import REFUSED, FakeHand
from tests.ui.widgets.forms.test_stack_field import FIELD as STACK

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
    made = bench.window.made[page]
    qtbot.waitUntil(lambda: made.list.rows.rowCount() > 1)
    row = made.list.visualRect(made.list.rows.index(1, 0)).center()
    QTest.mouseClick(made.list.viewport(), Qt.MouseButton.LeftButton, pos=row)
    assert made.list.currentIndex().row() == 1
    assert made.list.dragDropMode() is QAbstractItemView.DragDropMode.NoDragDrop


def test_every_slider_moves_by_keys_and_by_a_click(open_bench, qtbot):
    bench = open_bench(pour(), hand=FakeHand())
    bench.window.switch("specifications")
    found = bench.window.findChildren
    qtbot.waitUntil(lambda: sum(s.isVisible() for s in found(QSlider)) == 3)
    sliders = [s for s in found(QSlider) if s.isVisible()]
    for slider in sliders:
        slider.setValue(50)
        QTest.keyClick(slider, Qt.Key.Key_PageUp)
        by_key = slider.value()
        assert by_key != 50
        end = QPoint(slider.width() - 4, slider.height() // 2)
        QTest.mouseClick(slider, Qt.MouseButton.LeftButton, pos=end)
        assert slider.value() > by_key


LEAST_PX = 44
"""CSS pixels of a target, each way: WCAG 2.1, success criterion 2.5.5."""
TOUCHED = (QAbstractButton, QLineEdit, QComboBox, QSlider, QPlainTextEdit)
FORMS = {
    "people": ("Ctrl+P", "Ctrl+N"),
    "materials": ("Ctrl+B",),
    "queue": ("Ctrl+N", "Ctrl+E"),
    "specifications": ("Ctrl+N",),
    "settings": ("Ctrl+E",),
    "settling": ("Ctrl+K", "Ctrl+O"),
    "day": ("Ctrl+E",),
}
"""Pages whose keys open a form or a question."""


def touched(window: QWidget) -> list[QWidget]:
    """Return all that is shown and takes a press, without the parts inside of it."""
    found = [w for w in window.findChildren(QWidget) if w.isVisible() and isinstance(w, TOUCHED)]
    return [w for w in found if w.isEnabled() and not isinstance(w.parentWidget(), TOUCHED)]


def too_low(window: QWidget) -> list[str]:
    """Name every control that is lower than a finger, and every list whose rows are."""
    found = [
        f"{type(w).__name__} {w.accessibleName()!r}: {w.height()} px"
        for w in touched(window)
        if w.height() < LEAST_PX
    ]
    for rows in window.findChildren(QAbstractItemView):
        if rows.isVisible() and 0 <= rows.sizeHintForRow(0) < LEAST_PX:
            found.append(f"rows of {rows.accessibleName()!r}: {rows.sizeHintForRow(0)} px")
    return found


def test_the_theme_makes_no_target_smaller():
    assert LEAST_PX <= FINE_TARGET_PX <= TARGET_PX


@pytest.mark.parametrize("percent", [100, 150])
def test_every_step_and_its_prompts_can_be_touched(open_bench, percent):
    bench = open_bench(pour(), hand=FakeHand(), text_percent=percent)
    found, kinds = [], set()
    for name, moment in MOMENTS.items():
        bench.show(moment())
        QTest.qWait(40)
        kinds |= {type(w).__name__ for w in touched(bench.window)}
        found += [f"{name}: {low}" for low in too_low(bench.window)]
    assert {"ActionButton", "HoldButton", "TextField", "Answer", "CheckField"} <= kinds
    bench.show(pour())
    bench.window.bench.side.choose(SIDE[1])
    bench.window.tell(Message(str(REFUSED) * 4, bench.window.view.said_tone))
    bench.key("Shift+F1")
    QTest.qWait(40)
    assert bench.task.action_bar.question.isVisible()
    assert bench.window.status_bar.line.show_all.isVisible()
    found += [f"question: {low}" for low in too_low(bench.window)]
    assert found == []


@pytest.mark.parametrize("percent", [100, 150])
@pytest.mark.parametrize("page", ASIDE)
def test_every_page_and_its_forms_can_be_touched(open_bench, qtbot, percent, page):
    bench = open_bench(pour(), text_percent=percent)
    bench.window.switch(page)
    made = bench.window.made[page]
    least = {"settings": 1, "worklist": 1, "day": 2}.get(page, 3)
    qtbot.waitUntil(lambda: len(touched(made)) >= least)
    if page == "materials":
        made.list.setCurrentIndex(made.list.rows.index(1, 0))
        QTest.qWait(30)
    assert too_low(bench.window) == []
    for key in FORMS.get(page, ()):
        before = set(touched(made))
        made.press_key(key)
        qtbot.waitUntil(lambda before=before: set(touched(made)) != before)
        QTest.qWait(30)
        assert too_low(bench.window) == []
        made.press_key("Esc")
        QTest.qWait(30)


@pytest.mark.parametrize("percent", [100, 150])
@pytest.mark.parametrize("kind", list(FieldKind))
def test_every_kind_of_field_can_be_touched(shown, percent, kind):
    text_scale.choose(percent)
    field = STACK if kind is FieldKind.STACK else FieldView("f", "Field", kind, hint="mm")
    form = shown(Form(), size=(900, 700))
    form.show_fields("step", (field,))
    QTest.qWait(30)
    assert touched(form)
    assert too_low(form) == []
