"""The audit trail: searched by words, page after page, written, and reached from a record."""

import pytest

from tests.ui.fake_moments import pour


@pytest.fixture
def audit(open_bench, qtbot):
    bench = open_bench(pour())
    bench.key("Shift+F7")
    bench.page = bench.window.made["audit"]
    qtbot.waitUntil(lambda: bench.page.opened is not None, timeout=1000)
    return bench


def test_older_entries_come_by_a_key_and_words_narrow_them(audit, qtbot):
    page = audit.page
    assert page.list.rows.rowCount() == 5
    audit.key("Ctrl+M")
    qtbot.waitUntil(lambda: page.list.rows.rowCount() == 10, timeout=1000)
    audit.key("Ctrl+M")
    assert audit.said == "Show older: there are no older ones"
    audit.key("Ctrl+F")
    audit.type("none")
    audit.key("Return")
    qtbot.waitUntil(page.none.isVisible, timeout=1000)
    assert page.said.text() == "No kind of entry is called “none”."
    audit.key("Ctrl+U")
    qtbot.waitUntil(page.list.isVisible, timeout=1000)
    audit.key("Ctrl+I")
    assert audit.station.exported[-1][0] == ""
    qtbot.waitUntil(lambda: "audit.csv" in audit.said, timeout=1000)


def test_the_trail_of_a_unit_is_reached_from_its_record(audit, qtbot):
    audit.key("F4")
    records = audit.window.made["records"]
    qtbot.waitUntil(lambda: records.list.rows.rowCount() > 0, timeout=1000)
    records.list.choose(lambda row: True)
    qtbot.waitUntil(lambda: records.detail.shown is not None, timeout=1000)
    audit.key("Ctrl+Y")
    assert audit.window.page == "audit"
    assert audit.page.search.text() == f"unit:{records.detail.shown.row.unit_id}"
