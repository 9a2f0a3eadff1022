"""The words of a first unit stand at the top of the right panel, and what hides them stays put."""

from benchstation.ui.widgets.readout.why import Why
from tests.ui.fake_moments import OIL_WHY

SHORT, LONG = ("Tare first.",), ("Tare first. " * 12,)


def test_they_stand_above_the_terms_and_go(shown):
    why = shown(Why(), size=(260, 600))
    why.show_why(OIL_WHY, SHORT)
    assert why.guide.isVisible()
    assert why.guide.words.text() == "Tare first."
    assert why.guide.geometry().bottom() < why.title.geometry().top()
    why.show_why(OIL_WHY)
    assert not why.guide.isVisible()


def test_alone_they_are_something_to_be_shown(shown):
    why = shown(Why(), size=(260, 600))
    why.show_why((), SHORT)
    assert not why.is_empty
    assert not why.title.isVisible()


def test_the_button_keeps_its_place_whatever_the_words_are(shown, qtbot):
    why = shown(Why(), size=(260, 600))
    why.show_why(OIL_WHY, SHORT)
    low = why.guide.height()
    place = why.guide.hide_button.mapTo(why, why.guide.hide_button.rect().topLeft())
    why.show_why(OIL_WHY, LONG)
    qtbot.waitUntil(lambda: why.guide.height() > low, timeout=1000)
    assert why.guide.hide_button.mapTo(why, why.guide.hide_button.rect().topLeft()) == place
