"""Rows: plain arrows move, every other key is the page's, whoever has the keyboard."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractScrollArea

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.lists import ListRow
from benchstation.ui.widgets.lists.row_list import ROW_PX, RowList


@pytest.fixture
def rows(shown):
    made = shown(RowList("things"), size=(300, 300))
    made.rows.replace([ListRow(name, name, (), "", Tone.QUIET) for name in ("one", "two", "three")])
    made.setCurrentIndex(made.rows.index(0, 0))
    return made


def test_arrows_move(rows):
    QTest.keyClick(rows, Qt.Key.Key_Down)
    assert rows.currentIndex().row() == 1
    QTest.keyClick(rows, Qt.Key.Key_End)
    assert rows.currentIndex().row() == 2


@pytest.mark.parametrize(
    ("key", "modifier"),
    [
        (Qt.Key.Key_Down, Qt.KeyboardModifier.AltModifier),
        (Qt.Key.Key_Right, Qt.KeyboardModifier.AltModifier),
        (Qt.Key.Key_T, Qt.KeyboardModifier.NoModifier),
        (Qt.Key.Key_Space, Qt.KeyboardModifier.NoModifier),
        (Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier),
    ],
)
def test_other_keys_pass_on(rows, monkeypatch, key, modifier):
    heard = []
    monkeypatch.setattr(QAbstractScrollArea, "keyPressEvent", heard.append)
    passed = []
    parent = rows.parentWidget()
    monkeypatch.setattr(
        type(parent), "keyPressEvent", lambda _, e: passed.append(e.key()), raising=False
    )
    QTest.keyClick(rows, key, modifier)
    assert key in passed
    assert rows.currentIndex().row() == 0


def test_a_row_is_as_high_as_asked_and_says_itself(rows):
    assert rows.visualRect(rows.rows.index(0, 0)).height() == ROW_PX
    assert rows.rows.index(1, 0).data() == "two"
    rows.grab()
