"""The queue by keys and clicks: choose, start, fetch, place, read a list, withdraw."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog

from benchstation.screens.model.queue import QueueView
from tests.ui.fake_moments import pour
from tests.ui.fake_queue import QUEUE
from tests.ui.fake_station import REFUSED


@pytest.fixture
def queue(open_bench, qtbot):
    def open_it(view=QUEUE):
        bench = open_bench(pour())
        bench.station.queue = view
        bench.key("F3")
        bench.page = bench.window.made["queue"]
        qtbot.waitUntil(lambda: bench.page.view is view, timeout=1000)
        return bench

    return open_it


def choose(bench, row: int) -> None:
    page = bench.page
    place = page.list.visualRect(page.list.rows.index(row, 0)).center()
    QTest.mouseClick(page.list.viewport(), Qt.MouseButton.LeftButton, pos=place)


def test_the_first_that_waits_is_chosen_and_return_starts_it(queue, qtbot):
    bench = queue()
    assert bench.page.chosen.serial == "MR-3201"
    bench.key("Return")
    qtbot.waitUntil(lambda: bench.window.page == "bench", timeout=1000)
    assert bench.station.acted[-1] == ("start_line", {"line": "m1"})


def test_a_unit_that_lies_aside_is_fetched(queue, qtbot):
    bench = queue()
    choose(bench, 0)
    bench.key("Return")
    qtbot.waitUntil(lambda: bench.window.page == "bench", timeout=1000)
    assert bench.station.acted[-1] == ("fetch", {"unit": "u"})


def test_enter_on_a_unit_that_is_started_goes_to_the_bench(queue, qtbot):
    bench = queue()
    choose(bench, 2)
    assert bench.page.chosen.state == "started"
    bench.key("Return")
    qtbot.waitUntil(lambda: bench.window.page == "bench", timeout=1000)
    assert bench.station.acted == [], "it is there already: nothing is asked of the station"


def test_what_cannot_be_started_says_why(queue):
    bench = queue()
    choose(bench, 1)
    bench.key("Return")
    assert bench.said == "Start this unit: it is filed"
    assert bench.station.acted == []


def test_the_set_of_the_chosen_unit_stands_side_by_side(queue, qtbot):
    bench = queue()
    choose(bench, 2)
    table = bench.page.sets[0]
    words: list[str] = []

    def all_shown() -> bool:
        labels = [w for w in table.findChildren(type(bench.page.title)) if w.isVisible()]
        words[:] = [label.text() for label in labels]
        return "does not match" in words

    qtbot.waitUntil(all_shown, timeout=1000)
    for said in ("does not match", "undecided", "matches", "◀ 262.1 mL", "231.7 N"):
        assert said in words
    assert "MR-3101" in " ".join(words)


def test_an_axle_pair_is_placed_by_keys(queue, qtbot):
    bench = queue()
    bench.key("Ctrl+N")
    bench.key("Ctrl+2")
    bench.type("A-9")
    bench.key("Ctrl+S")
    qtbot.waitUntil(lambda: bool(bench.station.acted), timeout=1000)
    action, fields = bench.station.acted[-1]
    assert action == "place_order"
    assert (fields["order"], fields["count"], fields["matched"]) == ("A-9", "2", "yes")
    assert fields["position2"] == "place 2"
    assert bench.page.doing == ""


def test_what_is_typed_stays_when_the_order_is_refused_and_when_units_are_added(queue, qtbot):
    bench = queue()
    bench.key("Ctrl+N")
    bench.type("A-9")
    bench.key("Ctrl+4")
    assert bench.page.unkept() == "A-9"
    bench.station.failure = REFUSED
    bench.key("Ctrl+S")
    qtbot.waitUntil(lambda: "locked" in bench.said, timeout=1000)
    assert bench.page.doing == "place"
    assert bench.page.form.values()["order"] == "A-9"


def test_a_list_is_read_shown_and_then_taken(queue, qtbot):
    bench = queue()
    bench.key("Ctrl+O")
    bench.type("/lists/monday.csv")
    bench.key("Return")
    qtbot.waitUntil(lambda: bench.page.read is not None, timeout=1000)
    assert "A-9: a, b" in bench.page.words.text()
    assert bench.station.acted == []
    bench.key("Return")
    qtbot.waitUntil(lambda: bool(bench.station.acted), timeout=1000)
    assert bench.station.acted[-1] == ("import_units", {"csv": "serial,family"})
    assert [str(path) for path in bench.station.lists_read] == ["/lists/monday.csv"]


def test_another_path_voids_what_was_read(queue, qtbot):
    bench = queue()
    bench.key("Ctrl+O")
    bench.type("/lists/monday.csv")
    bench.key("Return")
    qtbot.waitUntil(lambda: bench.page.read is not None, timeout=1000)
    bench.type("x")
    assert bench.page.read is None
    assert "A-9: a, b" not in bench.page.words.text()
    bench.key("Return")
    qtbot.waitUntil(lambda: bench.page.read is not None, timeout=1000)
    assert bench.station.acted == [], "the other file is read first"
    assert [str(path) for path in bench.station.lists_read][-1] == "/lists/monday.csvx"


def test_a_list_is_chosen_in_the_systems_dialog(queue, qtbot, monkeypatch):
    bench = queue()
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: ("/lists/tuesday.csv", ""))
    bench.key("Ctrl+O")
    bench.key("Ctrl+B")
    qtbot.waitUntil(lambda: bench.page.read is not None, timeout=1000)
    assert bench.page.form.values()["path"] == "/lists/tuesday.csv"


def test_withdrawing_asks_why(queue, qtbot):
    bench = queue()
    bench.key("Ctrl+Del")
    bench.type("sold")
    bench.key("Return")
    qtbot.waitUntil(lambda: bool(bench.station.acted), timeout=1000)
    assert bench.station.acted[-1] == ("withdraw", {"line": "m1", "reason": "sold"})


def test_an_order_is_changed_with_a_reason(queue, qtbot):
    bench = queue()
    bench.key("Ctrl+E")
    page = bench.page
    page.form.rows[-1].editor.setFocus()
    bench.type("the customer waits")
    bench.key("Ctrl+S")
    qtbot.waitUntil(lambda: bool(bench.station.acted), timeout=1000)
    action, fields = bench.station.acted[-1]
    assert (action, fields["order"], fields["reason"]) == (
        "change_order",
        "A-1205",
        "the customer waits",
    )


def test_an_empty_queue_teaches(queue):
    bench = queue(QueueView((), {}, QUEUE.forms, ""))
    assert bench.page.nothing.isVisible()
    assert "scan it" in bench.page.nothing.text()
    bench.key("Return")
    assert bench.said == "Start this unit: nothing is chosen"


def test_esc_leaves_the_form_and_the_keys_come_back(queue):
    bench = queue()
    bench.key("Ctrl+N")
    bench.key("Esc")
    bench.key("Esc")
    assert bench.page.doing == ""
    assert bench.window.focusWidget() is bench.page.list
