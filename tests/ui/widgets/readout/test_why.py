"""Why: the terms of a step, and nothing where there are none."""

from benchstation.ui.widgets.readout.why import Why
from tests.ui.fake_moments import OIL_WHY


def test_without_terms_it_is_empty(shown):
    why = shown(Why(), size=(260, 600))
    why.show_why(())
    assert why.is_empty
    why.show_why(OIL_WHY)
    assert not why.is_empty


def test_with_terms_they_stand_there_and_scroll(shown, qtbot):
    why = shown(Why(), size=(260, 300))
    why.show_why(OIL_WHY)
    assert len(why.terms.terms) == 13
    qtbot.waitUntil(lambda: why.scroller.verticalScrollBar().maximum() > 0, timeout=1000)
    assert why.scroller.horizontalScrollBar().maximum() == 0
