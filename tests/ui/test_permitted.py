"""The window shows as not possible what the person may not do, before anything is typed."""

from dataclasses import replace

import pytest

from benchstation.screens.model.elements import ActionView
from tests.ui import fake_station
from tests.ui.fake_moments import pour

QA_ACTIONS = (
    ActionView("released", "QA: release", "Ctrl+R", needs_reason=True, does="dispose"),
    ActionView("held", "QA: hold", "Ctrl+H", needs_reason=True, does="dispose"),
)
WHY = "QA does this"
NAMES = ("dispose", "draft", "approve", "place_order", "change_order", "withdraw", "start_line")
BARRED = replace(pour(), who="t1", barred=dict.fromkeys((*NAMES, "fetch", "import_units"), WHY))


@pytest.fixture
def records(open_bench, qtbot, monkeypatch):
    opened = fake_station.record_detail
    monkeypatch.setattr(
        fake_station, "record_detail", lambda unit: replace(opened(unit), actions=QA_ACTIONS)
    )

    def open_it(view):
        bench = open_bench(view)
        bench.key("F4")
        page = bench.window.made["records"]
        qtbot.waitUntil(lambda: page.list.rows.rowCount() > 0, timeout=1500)
        page.list.setCurrentIndex(page.list.rows.index(0, 0))
        qtbot.waitUntil(lambda: page.detail.shown is not None, timeout=1500)
        bench.window.setFocus()
        return bench, page

    return open_it


@pytest.mark.parametrize("key", ["Ctrl+R", "Ctrl+H"])
def test_who_is_no_qa_is_not_asked_for_a_reason(records, key):
    bench, page = records(BARRED)
    assert not any(button.isEnabled() for button in page.qa.buttons if button.isVisible())
    bench.key(key)
    assert not page.qa.question.isVisible()
    assert bench.said.endswith(f": {WHY}")
    assert bench.station.acted == []


def test_who_comes_next_is_offered_what_they_may(records):
    bench, page = records(BARRED)
    bench.show(replace(pour(), who="qa"))
    bench.key("Ctrl+R")
    assert page.qa.question.isVisible()
    bench.show(BARRED)
    assert not page.qa.question.isVisible(), "it was another's question"


@pytest.mark.parametrize(
    ("page", "keys"),
    [("F3", ("Ctrl+N", "Ctrl+O", "Ctrl+E", "Ctrl+Delete", "Return")), ("F5", ("Ctrl+N", "Ctrl+Y"))],
)
def test_no_form_or_text_is_opened_for_what_would_be_refused(open_bench, qtbot, page, keys):
    bench = open_bench(BARRED)
    bench.key(page)
    qtbot.wait(100)
    made = bench.window.made[bench.window.page]
    bench.window.setFocus()
    for key in keys:
        bench.window.status_bar.line.clear()
        bench.key(key)
        assert bench.said.endswith(f": {WHY}"), key
    assert not getattr(made, "doing", "")
    assert not getattr(made, "writing", False)
    assert bench.station.acted == []
