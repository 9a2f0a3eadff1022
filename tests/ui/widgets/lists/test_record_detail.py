"""A record, open: terms, both traces with few points, and its anchor."""

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication

from benchstation.ui.widgets.lists.record_detail import Detail
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
    assert detail.decision.text() == "pass, QA hold"
    assert detail.mark.accessibleName() == "caution"
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
