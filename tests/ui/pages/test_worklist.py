"""The worklist: by one key, each line leads by one more to the page where the act is done."""

import pytest

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
