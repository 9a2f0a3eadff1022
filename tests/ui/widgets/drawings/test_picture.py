"""A picture has a number on every part that is seen, and none on what is not."""

from PySide6.QtGui import QColor
from PySide6.QtWidgets import QLabel, QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.theme import DARK
from benchstation.ui.widgets.drawings.picture import picture_of


def page_of(shown, qapp):
    page = shown(QWidget(), size=(400, 200))
    left, right = QLabel("left", page), QLabel("right", page)
    left.setGeometry(0, 0, 200, 200)
    right.setGeometry(200, 0, 200, 200)
    left.show()
    right.show()
    return page, left, right


def test_every_part_has_its_number_and_a_frame(shown, qapp):
    page, left, right = page_of(shown, qapp)
    picture = picture_of(page, ((left, "the left"), (right, "the right")), 800)
    assert picture.words == ("the left", "the right")
    assert (picture.pixmap.width(), picture.pixmap.height()) == (800, 400)
    blue = QColor(DARK.tone(Tone.MANDATORY).fill)
    image = picture.pixmap.toImage()
    assert image.pixelColor(1, 200) == blue
    assert image.pixelColor(401, 200) == blue
    assert image.pixelColor(200, 200) != blue


def test_what_is_hidden_gets_none(shown, qapp):
    page, left, right = page_of(shown, qapp)
    left.hide()
    assert picture_of(page, ((left, "the left"), (right, "the right")), 400).words == ("the right",)
    right.hide()
    assert picture_of(page, ((left, "the left"), (right, "the right")), 400) is None
