"""A scroller scrolls by plain arrows and passes on what may be an action's key."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

from benchstation.ui.shell.scroller import Scroller


@pytest.fixture
def scroller(shown):
    inner = QWidget()
    inner.setMinimumHeight(2000)
    return shown(Scroller(inner, "many things"), size=(300, 200))


def test_plain_arrows_scroll(scroller):
    QTest.keyClick(scroller, Qt.Key.Key_Down)
    assert scroller.verticalScrollBar().value() > 0


@pytest.mark.parametrize("modifier", ["AltModifier", "ControlModifier"])
def test_arrows_with_alt_or_ctrl_pass_on(scroller, monkeypatch, modifier):
    heard = []
    monkeypatch.setattr(QWidget, "keyPressEvent", lambda _, event: heard.append(event.key()))
    QTest.keyClick(scroller, Qt.Key.Key_Down, Qt.KeyboardModifier[modifier])
    assert Qt.Key.Key_Down in heard
    assert scroller.verticalScrollBar().value() == 0


def test_tab_reaches_it_and_it_has_a_name(scroller):
    assert scroller.focusPolicy() is Qt.FocusPolicy.TabFocus
    assert scroller.accessibleName() == "many things"
