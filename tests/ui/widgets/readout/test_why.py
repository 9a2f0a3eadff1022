"""Why: terms and standing words, or what would stand there."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchstation.ui.widgets.readout.why import Why
from tests.ui.fake_moments import OIL_WHY, ONLY_WARNS


def test_without_terms_it_teaches(shown):
    why = shown(Why(), size=(260, 600))
    why.show_why((), (ONLY_WARNS,))
    assert why.empty.isVisible()
    assert "checked by hand" in why.empty.text()
    assert why.notes.text() == ONLY_WARNS


def test_with_terms_they_stand_there_and_scroll(shown, qtbot):
    why = shown(Why(), size=(260, 300))
    why.show_why(OIL_WHY, (ONLY_WARNS, "<b>second</b>"))
    assert not why.empty.isVisible()
    assert len(why.terms.terms) == 13
    qtbot.waitUntil(lambda: why.scroller.verticalScrollBar().maximum() > 0, timeout=1000)
    assert why.scroller.horizontalScrollBar().maximum() == 0
    assert why.notes.text().endswith("<b>second</b>")
    assert why.notes.textFormat() is Qt.TextFormat.PlainText


def test_the_standing_words_never_scroll_away(shown):
    why = shown(Why(), size=(260, 300))
    why.show_why(OIL_WHY, (ONLY_WARNS,))
    QApplication.processEvents()
    assert why.notes.isVisible()
    assert why.notes.geometry().bottom() <= why.height()
    assert why.scroller.geometry().bottom() < why.notes.geometry().top() + 1


def test_where_the_height_is_short_the_terms_give_way_to_the_standing_words(shown):
    why = shown(Why(), size=(260, 300))
    why.show_why(OIL_WHY, (ONLY_WARNS,))
    for high, terms in ((why.least_height(), False), (300, True)):
        why.resize(260, high)
        QApplication.processEvents()
        assert why.scroller.isVisible() is why.title.isVisible() is terms
        words = why.notes
        assert words.height() >= words.heightForWidth(words.width())
        assert why.rect().contains(words.geometry())
