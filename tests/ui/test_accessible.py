"""What a screen reader meets: every control has a name and a role, and Tab comes by all of them."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent, QAccessibleInterface
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QScrollArea, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.turn import turn_of
from tests.ui.every_page import EVERY_PAGE
from tests.ui.fake_moments import MOMENTS, SIDE, pour
from tests.ui.fake_station import FakeHand
from tests.ui.fitting import seen

ROLES = {
    "Button": QAccessible.Role.Button,
    "HoldButton": QAccessible.Role.Button,
    "ActionButton": QAccessible.Role.Button,
    "Held": QAccessible.Role.Button,
    "TextField": QAccessible.Role.EditableText,
    "TextArea": QAccessible.Role.EditableText,
    "ChoiceField": QAccessible.Role.ComboBox,
    "CheckField": QAccessible.Role.CheckBox,
    "Answer": QAccessible.Role.RadioButton,
    "QSlider": QAccessible.Role.Slider,
    "RowList": QAccessible.Role.List,
}


def interface(widget: QWidget) -> QAccessibleInterface:
    found = QAccessible.queryAccessibleInterface(widget)
    assert found is not None
    return found


def controls(window: QWidget) -> list[QWidget]:
    return [
        widget
        for widget in seen(window)
        if widget.isEnabled() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus
    ]


def nameless(window: QWidget) -> list[str]:
    return [
        type(widget).__name__
        for widget in controls(window)
        if not interface(widget).text(QAccessible.Text.Name).strip()
    ]


def wrong_roles(window: QWidget) -> list[tuple[str, str]]:
    found = []
    for widget in controls(window):
        wanted, role = ROLES.get(type(widget).__name__), interface(widget).role()
        toggles = (QAccessible.Role.Button, QAccessible.Role.CheckBox)
        if isinstance(widget, QAbstractButton) and wanted is QAccessible.Role.Button:
            # A button that stays down is a check box to Qt.
            fits = role in toggles
        else:
            fits = wanted is None or role == wanted
        if not fits:
            found.append((type(widget).__name__, str(role)))
    return found


def by_tab(window: QWidget, most: int = 120) -> list[QWidget]:
    """Press Tab until it comes round, and give what had the keyboard."""
    window.setFocus()
    met: list[QWidget] = []
    for _ in range(most):
        QTest.keyClick(window.focusWidget() or window, Qt.Key.Key_Tab)
        QApplication.processEvents()
        now = window.focusWidget()
        if now is None or now in met:
            break
        met.append(now)
    return met


def ready(open_bench, page: str, moment: str = "pour"):
    bench = open_bench(MOMENTS[moment](), hand=FakeHand())
    bench.window.switch(page)
    QTest.qWait(60)
    if page == "records":
        opened = bench.window.made["records"]
        opened.list.setCurrentIndex(opened.list.rows.index(3, 0))
        QTest.qWait(60)
    return bench


@pytest.mark.parametrize("page", EVERY_PAGE)
def test_every_control_of_a_page_has_a_name_and_a_fitting_role(open_bench, page):
    window = ready(open_bench, page).window
    assert len(controls(window)) > 10
    assert nameless(window) == []
    assert wrong_roles(window) == []


@pytest.mark.parametrize("moment", MOMENTS)
def test_every_control_of_a_moment_has_a_name_and_a_fitting_role(open_bench, moment):
    window = ready(open_bench, "bench", moment).window
    assert nameless(window) == []
    assert wrong_roles(window) == []


def test_a_question_and_the_writing_of_a_draft_have_names(open_bench):
    bench = ready(open_bench, "bench")
    bench.window.bench.side.choose(SIDE[1])
    assert nameless(bench.window) == []
    bench.key("Esc")
    bench.window.switch("specifications")
    QTest.qWait(60)
    bench.key("Ctrl+N")
    QTest.qWait(60)
    assert nameless(bench.window) == []
    assert wrong_roles(bench.window) == []


@pytest.mark.parametrize("page", EVERY_PAGE)
def test_tab_comes_by_every_control(open_bench, page):
    window = ready(open_bench, page).window
    met = by_tab(window)
    missed = [f"{type(w).__name__} {w.accessibleName()}" for w in controls(window) if w not in met]
    assert missed == []


@pytest.mark.parametrize("moment", ["sign-in", "next-unit", "two-alarms", "undecided"])
def test_tab_goes_from_field_to_field_and_from_left_to_right(open_bench, moment):
    window = ready(open_bench, "bench", moment).window
    met = by_tab(window)
    form = [row.editor.focusProxy() or row.editor for row in window.bench.task.form.rows]
    assert [w for w in met if w in form] == form
    for bar in (window.bench.task.action_bar, window.bench.side):
        shown = [b for b in bar.buttons if b.isVisible() and b.isEnabled()]
        assert [w for w in met if w in shown] == shown
    pages = [w for w in met if w.parentWidget() is window.status_bar]
    places = [w.mapTo(window, QPoint(0, 0)).x() for w in pages]
    assert places == sorted(places)


def test_the_number_is_said_when_what_to_do_changes_and_not_at_every_reading(
    open_bench, monkeypatch
):
    said = []

    def hear(event):
        if isinstance(event, QAccessibleAnnouncementEvent):
            said.append((event.message(), event.politeness()))

    monkeypatch.setattr("benchstation.ui.shell.turn.QAccessible.updateAccessibility", hear)
    bench = open_bench(pour())
    task, polite = pour().task, QAccessible.AnnouncementPoliteness.Polite
    assert said == [(turn_of(pour()), polite)]
    for number in ("34.4", "34.3", "20.0"):
        bench.show(replace(pour(), task=replace(task, big=replace(task.big, number=number))))
    assert len(said) == 1
    stop = replace(task, lines=(("stop", Tone.CAUTION), *task.lines[1:]))
    bench.show(replace(pour(), task=stop))
    assert len(said) == 2
    assert said[1][0].startswith("stop. ")
    assert task.big.number in said[1][0]


def test_a_scroller_that_tab_reaches_says_what_it_scrolls(open_bench):
    window = ready(open_bench, "records").window
    scrollers = [w for w in controls(window) if isinstance(w, QScrollArea)]
    assert scrollers
    assert all(w.accessibleName() for w in scrollers)


def test_the_number_is_said_with_value_and_unit(open_bench):
    window = ready(open_bench, "bench").window
    big = window.bench.task.primary_readout.big
    said = interface(big).text(QAccessible.Text.Description)
    view = pour().task.big
    assert view.number in said
    assert view.unit in said
