"""The worklist: by one key, each line leads by one more to the page where the act is done."""

from dataclasses import replace

import pytest

from benchstation.screens.worklist.page import KINDS
from benchstation.ui.widgets.lists import row_list
from tests.ui.fake_moments import pour
from tests.ui.fake_worklist import LINES


@pytest.fixture
def worklist(open_bench, qtbot):
    bench = open_bench(pour())
    bench.key("Shift+F3")
    bench.page = bench.window.made["worklist"]
    qtbot.waitUntil(lambda: bench.page.opened is not None, timeout=1000)
    return bench


@pytest.mark.parametrize("detail", LINES, ids=[detail.row.key for detail in LINES])
def test_a_line_leads_to_its_act(worklist, qtbot, detail):
    page = worklist.page
    page.list.choose(lambda row: row.key == detail.row.key)
    qtbot.waitUntil(lambda: page.opened == detail, timeout=1000)
    worklist.key("Ctrl+O")
    there, place = detail.fields["page"], detail.fields["place"]
    assert worklist.window.page == there
    if there == "records":
        assert worklist.window.made[there].search.text() == place


def test_a_row_that_another_page_leads_to_is_chosen_once(worklist, qtbot):
    page = worklist.page
    page.go_to(LINES[3].row.key)
    qtbot.waitUntil(lambda: page.opened == LINES[3], timeout=1000)
    assert page.list.current.key == LINES[3].row.key
    page.go_to("none")
    page.look()
    qtbot.waitUntil(lambda: page.list.current.key == LINES[3].row.key, timeout=1000)


def test_what_waits_is_named_whole_in_every_line(worklist, monkeypatch):
    drawn = set()
    whole = row_list.QFontMetrics.elidedText

    def kept(metrics, words, *rest):
        drawn.add(whole(metrics, words, *rest))
        return whole(metrics, words, *rest)

    monkeypatch.setattr(row_list.QFontMetrics, "elidedText", kept)
    first = LINES[0].row
    rows = [replace(first, key=kind.id, state=kind.title) for kind in KINDS]
    worklist.page.list.rows.replace(rows)
    worklist.page.list.grab()
    worklist.page.list.scrollToBottom()
    worklist.page.list.grab()
    assert {row.state for row in rows if row.state not in drawn} == set()
