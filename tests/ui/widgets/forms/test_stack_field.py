"""A disc stack is entered, changed and moved by keys and by buttons alone."""

import json
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import DiscView, FieldKind, FieldView, StackView, Tone
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.forms.stack_field import StackField

START = json.dumps([["40", "0.2", "3"], ["36", "0.15", "1"], ["30", "0.25", "1"]])
OTHER = json.dumps([["38", "0.2", "2"]])
VIEW = StackView((DiscView(0.04, 0.0002, 3),), 0.046, 0.012, (("3 discs", Tone.PLAIN),))
FIELD = FieldView(
    "as_built_rebound",
    "Rebound stack",
    FieldKind.STACK,
    choices=((START, "as specified"), (OTHER, "as found")),
    stack=VIEW,
)


@pytest.fixture
def field(shown):
    made = shown(StackField(), size=(760, 420))
    made.show_field(FIELD)
    QApplication.processEvents()
    return made


def rows(field):
    return json.loads(field.text() or "[]")


def type_in(field, *texts):
    for text in texts:
        QTest.keyClicks(field.window().focusWidget(), text)
        QTest.keyClick(field.window().focusWidget(), Qt.Key.Key_Return)


def test_rows_are_typed_with_enter_alone(field):
    field.rows[0][0].setFocus()
    type_in(field, "40", "0,2", "3", "36 mm", "0.15", "1")
    assert rows(field) == [["40", "0,2", "3"], ["36 mm", "0.15", "1"]]
    left = []
    field.finished.connect(lambda: left.append(True))
    QTest.keyClick(field.window().focusWidget(), Qt.Key.Key_Return)
    assert left, "Enter in an empty row goes on"


def test_rows_are_typed_in_one_line_and_the_next_follows(field):
    field.rows[0][0].setFocus()
    type_in(field, "40 x 0.2 x 2", "2 of 36 × 0.15; 30 x 0.25")
    assert rows(field) == [["40", "0.2", "2"], ["36", "0.15", "2"], ["30", "0.25", ""]]
    assert field.rows[2][2].hasFocus(), "the count is still missing"
    type_in(field, "1", "22 x 0.3 x 1")
    assert rows(field)[-1] == ["22", "0.3", "1"]
    left = []
    field.finished.connect(lambda: left.append(True))
    QTest.keyClick(field.window().focusWidget(), Qt.Key.Key_Return)
    assert left


def test_one_line_in_the_middle_replaces_its_row_and_moves_the_rest(field):
    field.setText(START)
    field.rows[0][0].setFocus()
    field.rows[0][0].clear()
    type_in(field, "44 x 0.2 x 1; 40 x 0.2 x 3")
    assert [row[0] for row in rows(field)] == ["44", "40", "36", "30"]
    assert field.rows[2][0].hasFocus()


def test_keys_add_remove_and_move_the_row_that_is_worked_on(field):
    edits = []
    field.edited.connect(lambda: edits.append(field.text()))
    field.setText(START)
    field.rows[1][0].setFocus()
    alt = Qt.KeyboardModifier.AltModifier
    QTest.keyClick(field.rows[1][0], Qt.Key.Key_Up, alt)
    assert [row[0] for row in rows(field)] == ["36", "40", "30"]
    assert field.window().focusWidget() is field.rows[0][0]
    QTest.keyClick(field.rows[0][0], Qt.Key.Key_Up, alt)
    assert [row[0] for row in rows(field)] == ["36", "40", "30"], "the first stays first"
    QTest.keyClick(field.rows[0][0], Qt.Key.Key_Down, alt)
    QTest.keyClick(field.rows[1][0], Qt.Key.Key_Delete, alt)
    assert [row[0] for row in rows(field)] == ["40", "30"]
    QTest.keyClick(field.window().focusWidget(), Qt.Key.Key_Insert)
    QTest.keyClicks(field.window().focusWidget(), "22")
    assert [row[0] for row in rows(field)] == ["40", "30", "22"]
    assert edits[-1] == field.text()


def test_buttons_do_the_same_under_a_finger(field):
    field.setText(START)
    field.rows[2][1].setFocus()
    add, remove, up, down = field.buttons
    for button, order in (
        (up, ["40", "30", "36"]),
        (down, ["40", "36", "30"]),
        (remove, ["40", "36"]),
    ):
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)
        assert [row[0] for row in rows(field)] == order
    QTest.mouseClick(add, Qt.MouseButton.LeftButton)
    assert len(field.rows) == 3
    for _ in range(5):
        QTest.mouseClick(remove, Qt.MouseButton.LeftButton)
    assert len(field.rows) == 1, "there is always a row to type into"
    assert field.text() == ""


def test_arrows_step_through_rows_and_stay_in_their_column(field):
    field.setText(START)
    field.rows[0][1].setFocus()
    QTest.keyClick(field.rows[0][1], Qt.Key.Key_Down)
    assert field.window().focusWidget() is field.rows[1][1]
    QTest.keyClick(field.rows[1][1], Qt.Key.Key_Up)
    assert field.window().focusWidget() is field.rows[0][1]


def test_it_starts_from_a_known_stack_by_key_or_button(field):
    assert [b.action.label for b in field.start_buttons] == ["Start as specified", "Start as found"]
    QTest.mouseClick(field.start_buttons[1], Qt.MouseButton.LeftButton)
    assert field.text() == OTHER
    QTest.keyClick(field.rows[0][0], Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    assert rows(field) == json.loads(START)
    QTest.keyClick(field.rows[0][0], Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    assert rows(field) == json.loads(START), "there is no third"


def a_form(shown, *ids):
    form = shown(Form(), size=(760, 900))
    form.show_fields("step", tuple(replace(FIELD, id=name, label=name) for name in ids))
    QApplication.processEvents()
    form.focus_first()
    return form


def press(widget, key, modifier=Qt.KeyboardModifier.NoModifier):
    QTest.keyClick(widget.window().focusWidget(), key, modifier)


def test_two_known_stacks_take_one_key_each_and_enter_goes_on(shown):
    form = a_form(shown, "compression", "rebound")
    sent = []
    form.submitted.connect(lambda: sent.append(form.values()))
    first, second = (row.editor for row in form.rows)
    press(form, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    assert form.window().focusWidget() is second.rows[0][0]
    press(form, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    assert form.window().focusWidget() is second.whole
    assert not sent, "the last one is started, not sent"
    press(form, Qt.Key.Key_Return)
    assert [json.loads(text) for text in sent[0].values()] == [json.loads(START)] * 2
    assert first.text() == second.text()


def test_enter_on_a_stack_that_stands_walks_through_no_cell(shown):
    form = a_form(shown, "compression", "rebound")
    first, second = (row.editor for row in form.rows)
    first.setText(START)
    first.setFocus()
    assert form.window().focusWidget() is first.whole
    press(form, Qt.Key.Key_Return)
    assert form.window().focusWidget() is second.rows[0][0]


def test_arrows_lead_into_a_stack_that_stands_and_back(shown):
    form = a_form(shown, "compression", "rebound")
    first, second = (row.editor for row in form.rows)
    press(form, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    press(form, Qt.Key.Key_Up)
    assert form.window().focusWidget() is first.whole
    press(form, Qt.Key.Key_Down)
    press(form, Qt.Key.Key_Down)
    QTest.keyClicks(form.window().focusWidget(), "35")
    assert rows(first)[1][0] == "35"
    press(form, Qt.Key.Key_Up)
    press(form, Qt.Key.Key_Up)
    assert form.window().focusWidget() is first.whole
    press(form, Qt.Key.Key_Up)
    assert form.window().focusWidget() is first.whole, "there is no field before the first"
    QTest.mouseClick(second.start_buttons[1], Qt.MouseButton.LeftButton)
    assert second.text() == OTHER


def test_other_keys_on_a_stack_that_stands_are_the_pages(field, monkeypatch):
    field.setText(START)
    field.setFocus()
    passed = []
    monkeypatch.setattr(
        type(field), "keyPressEvent", lambda _, e: passed.append(e.key()), raising=False
    )
    press(field, Qt.Key.Key_Escape)
    press(field, Qt.Key.Key_Space)
    assert passed == [Qt.Key.Key_Escape, Qt.Key.Key_Space]
    assert field.text() == json.dumps(json.loads(START))


def test_a_stack_that_is_emptied_wants_its_first_cell_again(field):
    field.setText(START)
    assert field.whole.isVisible()
    field.setFocus()
    field.setText("")
    assert not field.whole.isVisible()
    field.setFocus()
    assert field.window().focusWidget() is field.rows[0][0]


def test_a_text_that_is_none_leaves_one_empty_row(field):
    for text in ("", "[", "3", '{"a": 1}', "[[1]]"):
        field.setText(text)
        assert len(field.rows) >= 1
    assert all(cell.accessibleName() for row in field.rows for cell in row)


def test_what_the_station_says_is_drawn_and_written(field):
    assert field.words.lines[0].isVisible()
    assert "3 discs" in field.drawing.accessibleDescription()
    (place,) = field.drawing.places()
    assert place[0].outer == 0.04


def test_in_a_form_what_is_typed_stays_and_is_told(shown):
    form = shown(Form(), size=(760, 500))
    told = []
    form.edited.connect(lambda: told.append(form.values()))
    form.show_fields("step", (FIELD,))
    QApplication.processEvents()
    editor = form.rows[0].editor
    editor.rows[0][0].setFocus()
    QTest.keyClicks(editor.rows[0][0], "40")
    assert json.loads(told[-1]["as_built_rebound"]) == [["40", "", ""]]
    changed = StackView((), 0.046, 0.012, (("row 1 is not read", Tone.CAUTION),))
    form.show_fields("step", (replace(FIELD, value=told[-1]["as_built_rebound"], stack=changed),))
    assert form.rows[0].editor is editor
    assert editor.rows[0][0].text() == "40"
    assert editor.words.lines[0].isVisible()


def test_what_is_specified_stands_beside_the_rows(field):
    beside = (DiscView(0.04, 0.0002, 2), DiscView(0.038, 0.00015, 1))
    field.show_field(replace(FIELD, choices=(), stack=replace(VIEW, specified=beside)))
    assert [one.text() for one in field.specified] == [
        "specified",
        "2 of 40 × 0.20",
        "1 of 38 × 0.15",
    ]
    assert field.text() == "", "it is shown, and filled in nowhere"
    assert not any(button.isVisible() for button in field.start_buttons)


@pytest.mark.parametrize(("width", "beside"), [(760, True), (420, False)])
def test_the_drawing_stands_below_the_rows_where_there_is_no_room_beside(shown, width, beside):
    made = shown(StackField(), size=(width, 900))
    made.show_field(FIELD)
    QApplication.processEvents()
    right = made.drawing.mapTo(made, made.drawing.rect().topLeft())
    assert (right.x() > width / 3) is beside
    assert made.drawing.mapTo(made, made.drawing.rect().topRight()).x() <= width
