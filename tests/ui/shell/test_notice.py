"""A notice stands there with mark and words, or not at all."""

from PySide6.QtCore import Qt

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.notice import Notice


def test_words_come_with_a_mark_and_go_without_a_trace(shown):
    made = shown(Notice(), size=(300, 80))
    made.show_words("<b>oil</b>: Field required.", Tone.CAUTION)
    assert made.isVisible()
    assert made.words.textFormat() is Qt.TextFormat.PlainText
    assert made.mark.accessibleName() == "caution"
    assert made.accessibleName() == "<b>oil</b>: Field required."
    made.show_words("", Tone.CAUTION)
    assert not made.isVisible()
