"""Rows, columns and grounds: margins and spacing as asked, none where none is asked."""

from PySide6.QtWidgets import QWidget

from benchstation.ui.shell.layouts import across, clear, down


def edges(box):
    margins = box.contentsMargins()
    return margins.left(), margins.top(), margins.right(), margins.bottom()


def test_a_row_and_a_column_lay_out_what_they_are_given(qtbot):
    for make in (across, down):
        inside = QWidget()
        qtbot.addWidget(inside)
        box = make(inside, (1, 2, 3, 4), 5)
        assert inside.layout() is box
        assert edges(box) == (1, 2, 3, 4)
        assert box.spacing() == 5


def test_without_a_widget_it_is_for_another_layout_and_has_no_margins(qtbot):
    assert across().parentWidget() is None
    assert edges(down(spacing=0)) == (0, 0, 0, 0)
    assert down(spacing=0).spacing() == 0


def test_a_clear_widget_shows_the_ground_behind_it(qtbot):
    parent = QWidget()
    qtbot.addWidget(parent)
    made = clear(parent)
    assert (made.objectName(), made.parentWidget()) == ("clear", parent)
