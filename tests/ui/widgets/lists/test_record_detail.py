"""A record, open: terms, both traces with few points, and its anchor."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget

from benchstation.ui.shell import text_scale
from benchstation.ui.widgets.lists.record_detail import UNTIL_NOW, Detail
from benchstation.ui.widgets.plots.trace import MOST_POINTS
from tests.ui.fake_station import record_detail


def test_empty_it_teaches(shown):
    detail = shown(Detail(), size=(600, 500))
    assert detail.empty.isVisible()
    assert "by whom" in detail.empty.text()
    assert not detail.title.isVisible()


def test_it_shows_terms_traces_and_anchor(shown):
    detail = shown(Detail(), size=(600, 500))
    record = record_detail("u3")
    detail.show_detail(record)
    QApplication.processEvents()
    assert detail.title.text() == "MR-2227"
    assert not detail.decision.isVisible(), "the front says it"
    assert detail.front.verdict.text() == "QA hold"
    assert detail.front.standing.text() == "judged pass"
    assert detail.front.mark.accessibleName() == "caution"
    assert [t.shown for t in detail.terms.terms] == [t for g in record.groups for t in g.terms]
    assert detail.anchor.text() == record.anchor
    assert [t.isVisible() for t in detail.traces] == [True, True]
    assert all(0 < t.drawn_points <= MOST_POINTS + 2 for t in detail.traces)
    assert not detail.empty.isVisible()


def test_another_record_takes_its_place(shown):
    detail = shown(Detail(), size=(600, 500))
    detail.show_detail(record_detail("u3"))
    detail.show_detail(replace(record_detail("u5"), traces=()))
    assert detail.title.text() == "MR-2225"
    assert not any(t.isVisible() for t in detail.traces)
    detail.show_nothing("gone")
    assert detail.shown is None
    assert detail.empty.text() == "gone"


def test_words_from_people_are_plain(shown):
    detail = shown(Detail(), size=(600, 500))
    record = record_detail("u3")
    row = replace(record.row, serial="<img src=x>", decision="<b>pass</b>")
    detail.show_detail(replace(record, row=row, anchor="<i>a</i>"))
    for part in (detail.title, detail.subtitle, detail.decision, detail.anchor):
        assert part.textFormat() is Qt.TextFormat.PlainText
    assert detail.title.text() == "<img src=x>"


def least_room(detail):
    """Return the lower edge of the last line that says what it was measured with, and the fold."""
    last = [words for words in detail.front.measured_with.words if words.isVisible()][-1]
    fold = detail.scroller.viewport()
    return last.mapTo(fold, last.rect().bottomLeft()).y(), fold.height()


@pytest.mark.parametrize(("percent", "size"), [(100, (622, 626)), (130, (589, 555))])
def test_what_is_looked_for_first_stands_above_the_fold(shown, percent, size):
    """The sizes are those that the page leaves in a window of 1280 x 800."""
    text_scale.choose(percent)
    try:
        detail = shown(Detail(), size=size)
        detail.show_detail(record_detail("u3"))
        text_scale.rescale_all(detail.findChildren(QWidget))
        detail.rescale()
        for _ in range(3):
            QApplication.processEvents()
        bottom, fold = least_room(detail)
        assert 0 < bottom <= fold
        if percent == 100:
            trace = detail.traces[0]
            assert trace.mapTo(detail.scroller.viewport(), trace.rect().bottomLeft()).y() <= fold
    finally:
        text_scale.choose(100)


def test_an_amended_record_says_so_on_its_card(shown):
    detail = shown(Detail(), size=(638, 626))
    record = record_detail("u0")
    detail.show_detail(record)
    assert not detail.front.amended.isVisible()
    amended = replace(record.front, amended="amended, 1 of 1")
    detail.show_detail(replace(record, front=amended))
    assert detail.front.amended.text() == "amended, 1 of 1"
    assert detail.front.amended.isVisible()


def test_a_unit_without_a_record_shows_its_steps_until_now(shown):
    detail = shown(Detail(), size=(638, 626))
    record = record_detail("u0")
    detail.show_detail(record)
    none = replace(record, front=None, traces=(), groups=(), anchor="", no_record="No record yet.")
    detail.show_detail(none)
    assert detail.steps.heading.text() == UNTIL_NOW
    assert detail.steps.isVisible()
    assert detail.empty.text() == "No record yet."
    assert not detail.front.isVisible()
    assert detail.decision.text() == record.row.state
