import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import FieldKind, FieldView
from benchstation.ui.widgets.forms.form import Form

FIELD = FieldView("text", "Remarks", FieldKind.LINES, value="from before")


@pytest.fixture
def form(shown):
    made = shown(Form(), size=(700, 300))
    made.show_fields("step", (FIELD,))
    QApplication.processEvents()
    return made


def test_several_lines_go_back_as_typed(form):
    editor = form.rows[0].editor
    assert form.values() == {"text": "from before"}
    assert not form.rows[0].touched, "what the station gives is nobody's typing"
    editor.selectAll()
    QTest.keyClicks(editor, "one")
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QTest.keyClicks(editor, "two\u00a0°C")
    assert form.values() == {"text": "one\ntwo\u00a0°C"}
    assert form.rows[0].touched


def test_ctrl_enter_goes_on_tab_leaves_and_page_keys_pass(form):
    sent = []
    form.submitted.connect(lambda: sent.append(True))
    editor = form.rows[0].editor
    editor.setFocus()
    QTest.keyClick(editor, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    assert sent
    QTest.keyClick(editor, Qt.Key.Key_K, Qt.KeyboardModifier.ControlModifier)
    assert editor.text() == "from before"
    QTest.keyClick(editor, Qt.Key.Key_Escape)
    assert not editor.hasFocus()
