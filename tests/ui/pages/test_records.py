"""Records: found by words, a page at a time; opened by one click; written out and verified."""

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import CheckView, RecordDetail
from tests.ui.fake_moments import pour
from tests.ui.fake_station import REFUSED
from tests.ui.waiting import comes_and_stays


@pytest.fixture
def records(open_bench, qtbot):
    def open_it(**station):
        bench = open_bench(pour(), **station)
        bench.key("F4")
        bench.page = bench.window.made["records"]
        if bench.station.records and not bench.station.later:
            qtbot.waitUntil(lambda: bench.page.list.rows.rowCount() > 0, timeout=1000)
        else:
            qtbot.wait(20)
        return bench

    return open_it


def choose(bench, qtbot, row: int) -> None:
    page = bench.page
    place = page.list.visualRect(page.list.rows.index(row, 0)).center()
    QTest.mouseClick(page.list.viewport(), Qt.MouseButton.LeftButton, pos=place)
    unit = page.list.rows.rows[row].unit_id
    qtbot.waitUntil(
        lambda: page.detail.shown is not None and page.detail.shown.row.unit_id == unit,
        timeout=1000,
    )


def test_the_newest_are_there_at_once(records):
    bench = records()
    assert bench.station.found == [("", "")]
    assert bench.page.list.rows.rowCount() == 50
    assert bench.page.list.rows.rows[0].serial == "MR-2230"


def test_older_ones_come_page_by_page_until_there_are_no_more(records, qtbot):
    bench = records(records=120)
    page = bench.page
    for count in (100, 120):
        bench.key("Ctrl+M")
        qtbot.waitUntil(lambda count=count: page.list.rows.rowCount() == count, timeout=1000)
    assert [before for _, before in bench.station.found] == ["", "key49", "key99"]
    serials = [row.serial for row in page.list.rows.rows]
    assert len(set(serials)) == 120
    bench.key("Ctrl+M")
    assert bench.said == "Show more: all that match are shown"
    assert len(bench.station.found) == 3


def test_words_search_after_a_pause_and_once(records, qtbot):
    bench = records()
    bench.key("Ctrl+F")
    assert bench.window.focusWidget() is bench.page.search
    bench.type("2225")
    qtbot.waitUntil(lambda: bench.page.list.rows.rowCount() == 1, timeout=1500)
    assert bench.station.found == [("", ""), ("2225", "")]
    assert bench.page.list.rows.rows[0].serial == "MR-2225"


def test_enter_searches_at_once_and_goes_into_the_list(records, qtbot):
    bench = records()
    bench.key("Ctrl+F")
    bench.type("technician 12")
    bench.key("Return")
    assert bench.station.found[-1] == ("technician 12", "")
    qtbot.waitUntil(lambda: bench.page.list.rows.rowCount() == 40, timeout=1000)
    assert bench.window.focusWidget() is bench.page.list


def test_only_the_last_question_is_answered(records, qtbot):
    bench = records()
    bench.station.later = True
    bench.page.search.setText("2225")
    bench.page.search_now()
    bench.page.search.setText("2226")
    bench.page.search_now()
    bench.station.waiting.reverse()
    bench.station.settle()
    qtbot.waitUntil(lambda: bench.page.list.rows.rowCount() == 1, timeout=1000)
    comes_and_stays(lambda: bench.page.list.rows.rows[0].serial == "MR-2226", 20)


def test_a_search_that_no_longer_holds_the_open_record_closes_it(records, qtbot):
    bench = records()
    choose(bench, qtbot, 0)
    bench.key("Ctrl+F")
    bench.type("2225")
    qtbot.waitUntil(lambda: bench.page.list.rows.rowCount() == 1, timeout=1500)
    qtbot.waitUntil(lambda: bench.page.detail.shown is None, timeout=1000)
    bench.key("Ctrl+E")
    assert "choose a unit first" in bench.said


def test_nothing_found_and_nothing_filed_teach(records, qtbot):
    bench = records()
    bench.page.search.setText("no such serial")
    bench.page.search_now()
    qtbot.waitUntil(bench.page.none.isVisible, timeout=1000)
    assert "Try fewer letters" in bench.page.nothing.text()
    empty = records(records=0)
    assert empty.page.none.isVisible()
    assert "No unit is filed yet" in empty.page.nothing.text()
    assert not empty.page.list.isVisible()


def test_one_click_opens_a_record(records, qtbot):
    bench = records()
    choose(bench, qtbot, 3)
    assert bench.page.detail.title.text() == "MR-2227"


def test_a_unit_without_a_record_says_why_and_writes_nothing(records, qtbot, monkeypatch):
    bench = records()
    page = bench.page
    choose(bench, qtbot, 3)
    why = "No record: abandoned 2026-11-20 14:07 by Technician 07.\n\nReason: scored"
    none = RecordDetail(bench.station.records[4], (), (), "", no_record=why)
    filed = bench.station.open_record
    monkeypatch.setattr(
        bench.station,
        "open_record",
        lambda unit: bench.station._answer(none) if unit == "u4" else filed(unit),
    )
    choose(bench, qtbot, 4)
    assert page.detail.empty.text() == why
    assert page.detail.title.text() == "MR-2226"
    for part in (page.detail.terms, page.detail.anchor, *page.detail.traces):
        assert not part.isVisible()
    assert bench.said == "", "it is no failure"
    bench.key("Ctrl+E")
    assert bench.said == "Write PDF and JSON: it has no record"
    assert bench.station.exported == []
    choose(bench, qtbot, 3)
    assert page.detail.terms.isVisible()
    assert page.into.isVisible()
    assert not page.detail.empty.isVisible()


def test_arrows_open_too_and_a_late_answer_does_not_overtake(records, qtbot):
    bench = records()
    page = bench.page
    bench.station.later = True
    page.list.setFocus()
    page.list.setCurrentIndex(page.list.rows.index(0, 0))
    QTest.keyClick(page.list, Qt.Key.Key_Down)
    bench.station.waiting.reverse()
    bench.station.settle()
    qtbot.waitUntil(lambda: page.detail.shown is not None, timeout=1000)
    comes_and_stays(lambda: page.detail.shown.row.serial == "MR-2229", 20)


def test_coming_back_keeps_the_record_open_and_looks_for_new_ones(records, qtbot):
    bench = records()
    choose(bench, qtbot, 3)
    bench.key("F2")
    bench.key("F4")
    qtbot.waitUntil(lambda: len(bench.station.found) == 2, timeout=1000)
    qtbot.waitUntil(lambda: bench.page.list.currentIndex().row() == 3, timeout=1000)
    assert bench.page.detail.shown.row.serial == "MR-2227"


def test_a_record_is_written_into_the_folder_that_is_named(records, qtbot, tmp_path):
    bench = records()
    bench.key("Ctrl+E")
    assert bench.said == "Write PDF and JSON: choose a unit first"
    choose(bench, qtbot, 3)
    bench.page.folder.setText(f" {tmp_path} ")
    bench.key("Ctrl+E")
    qtbot.waitUntil(lambda: bench.said.startswith("Written"), timeout=1000)
    assert bench.station.exported == [("u3", Path(tmp_path))]
    assert "u3.pdf and u3.json" in bench.said
    assert str(tmp_path) in bench.said


def test_without_a_folder_it_asks_for_one(records, qtbot):
    bench = records()
    choose(bench, qtbot, 3)
    bench.page.folder.clear()
    bench.key("Ctrl+E")
    assert bench.station.exported == []
    assert "which folder" in bench.said
    assert bench.window.focusWidget() is bench.page.folder


def test_long_work_shows_that_it_runs_and_is_not_started_twice(records, qtbot):
    bench = records()
    choose(bench, qtbot, 3)
    bench.station.later = True
    bench.key("Ctrl+E")
    bench.key("Ctrl+E")
    assert bench.said == "Write PDF and JSON: it is being written"
    assert len(bench.station.exported) == 1
    bench.station.settle()
    qtbot.waitUntil(lambda: bench.said.startswith("Written"), timeout=1000)
    assert all(b.isEnabled() for b in bench.page.out.buttons)


def verify_button(bench):
    return next(b for b in bench.page.out.buttons if b.action.id == "verify")


def test_the_check_shows_how_far_it_is_and_keeps_what_it_found(records, qtbot):
    bench = records()
    page, station = bench.page, bench.station
    assert not page.check.isVisible()
    station.later = True
    bench.key("Ctrl+J")
    assert page.check.notice.words.text() == "Checking the journal: 512 of 1530 entries."
    assert page.check.bar.isVisible()
    assert page.check.bar.value() == 330
    station.check = replace(station.check, share=0.8)
    qtbot.waitUntil(lambda: page.check.bar.value() == 800, timeout=1000)
    page.search_now()
    assert station.found[-1] == ("", ""), "the page works on"
    station.settle()
    qtbot.waitUntil(lambda: page.check.notice.words.text().startswith("Sound"), timeout=1000)
    assert "Head: entry 1482, 3f9a" in page.check.notice.words.text()
    assert page.check.notice.mark.accessibleName() == "pass"
    assert not page.check.bar.isVisible()
    bench.key("Esc")
    bench.key("F2")
    bench.key("F4")
    assert page.check.notice.isVisible(), "it does not go with the status bar's message"


def test_a_check_under_way_is_stopped_by_the_same_key(records, qtbot):
    bench = records()
    bench.station.later = True
    assert verify_button(bench).action.label == "Verify the journal"
    bench.key("Ctrl+J")
    assert verify_button(bench).action.label == "Stop the check"
    assert bench.station.stopped == 0
    bench.key("Ctrl+J")
    assert bench.station.stopped == 1
    bench.station.settle()
    qtbot.waitUntil(lambda: verify_button(bench).action.label == "Verify the journal", timeout=1000)


def test_a_journal_that_is_not_sound_says_so_on_the_page(records, qtbot):
    bench = records()
    bench.station.failure = REFUSED
    bench.station.check = CheckView("NOT SOUND, checked now: entry 7 was altered.", Tone.DANGER)
    bench.key("Ctrl+J")
    qtbot.waitUntil(lambda: bench.said == str(REFUSED), timeout=1000)
    assert bench.page.check.notice.words.text().startswith("NOT SOUND")
    assert bench.page.check.notice.mark.accessibleName() == "danger"


def test_a_failure_is_told_and_can_be_tried_again(records, qtbot):
    bench = records()
    choose(bench, qtbot, 3)
    bench.station.failure = REFUSED
    for key in ("Ctrl+E", "Ctrl+J"):
        bench.key(key)
        qtbot.waitUntil(lambda: bench.said == str(REFUSED), timeout=1000)
    bench.page.search_now()
    qtbot.wait(20)
    bench.station.failure = None
    bench.key("Ctrl+J")
    qtbot.waitUntil(lambda: "1482 entries" in bench.said, timeout=1000)


def test_keys_of_the_bench_do_nothing_here(records):
    bench = records()
    bench.key("T")
    bench.key("Space")
    assert bench.station.acted == []


def test_filters_are_chosen_by_keys_alone_and_emptied_by_one(records, qtbot):
    bench = records()
    page = bench.page
    page.search.setText("mr")
    bench.key("Ctrl+T")
    qtbot.waitUntil(page.filters.isVisible, timeout=1000)
    assert not page.detail.isVisible()
    qtbot.waitUntil(lambda: page.filters.action_bar.height() >= 44, timeout=1000)
    form = page.filters.form
    row = next(row for row in form.rows if row.field.id == "filed")
    row.editor.setFocus()
    bench.type("Ben")
    bench.key("Return")
    for _ in form.rows:
        if page.filters.isVisible():
            bench.key("Return")
    qtbot.waitUntil(lambda: bench.station.found[-1] == ("mr filed:ben", ""), timeout=1000)
    assert page.search.text() == "mr filed:ben"
    qtbot.waitUntil(page.none.isVisible, timeout=1000)
    assert page.nothing.text().startswith("Nothing is found for “mr”, filed by ben.")
    bench.key("Ctrl+U")
    assert bench.station.found[-1] == ("", "")
    qtbot.waitUntil(page.list.isVisible, timeout=1000)
    assert page.search.text() == ""


def test_a_search_is_saved_found_again_and_removed(records, qtbot):
    bench = records()
    page = bench.page

    def field(name):
        return next(row for row in page.filters.form.rows if row.field.id == name)

    bench.key("Ctrl+T")
    qtbot.waitUntil(page.filters.isVisible, timeout=1000)
    field("qa").put("released")
    field("save_as").put("to ship")
    page.filters.action_bar.press_primary()
    saved = ("save_search", {"name": "to ship", "question": "qa:released"})
    assert saved in bench.station.acted
    bench.key("Ctrl+T")
    qtbot.waitUntil(page.filters.isVisible, timeout=1000)
    field("qa").put("")
    field("saved").put('qa:"on hold"')
    bench.key("Ctrl+D")
    assert bench.station.acted[-1] == ("save_search", {"name": "on hold", "question": ""})
    qtbot.waitUntil(page.filters.isVisible, timeout=1000)
    field("saved").put('qa:"on hold"')
    page.filters.action_bar.press_primary()
    assert page.search.text() == 'qa:"on hold"'
    bench.key("Ctrl+T")
    qtbot.waitUntil(page.filters.isVisible, timeout=1000)
    bench.key("Esc")
    bench.key("Esc")
    assert not page.filters.isVisible()
    assert page.search.text() == 'qa:"on hold"', "cancelled, nothing changes"


def test_all_that_is_found_is_written_and_a_notice_is_about_the_open_unit(records, qtbot, tmp_path):
    bench = records()
    page = bench.page
    page.folder.setText(str(tmp_path))
    bench.key("Ctrl+N")
    assert "choose a unit first" in bench.said
    page.search.setText("technician 12")
    bench.key("Ctrl+I")
    qtbot.waitUntil(lambda: "units.csv and units.pdf" in bench.said, timeout=1000)
    bench.key("Ctrl+G")
    qtbot.waitUntil(lambda: "records.jsonl" in bench.said, timeout=1000)
    assert bench.station.exported == [("technician 12", tmp_path)] * 2
    choose(bench, qtbot, 0)
    bench.key("Ctrl+N")
    bench.type("the customer, by letter")
    bench.key("Return")
    unit = page.detail.shown.row.unit_id
    said = {"unit": unit, "question": "technician 12", "reason": "the customer, by letter"}
    assert bench.station.acted[-1] == ("give_notice", said)


def test_what_is_open_follows_what_is_put_on_record(records, qtbot):
    bench = records()
    choose(bench, qtbot, 1)
    asked, page, port = [], bench.page, bench.station
    read, opened = port.find_records, port.open_record
    port.find_records = lambda text, before="": asked.append("rows") or read(text, before)
    port.open_record = lambda unit: asked.append(unit) or opened(unit)
    shown = page.detail.shown.row.unit_id
    bench.show(replace(bench.station.current, written=4))
    bench.show(replace(bench.station.current, clock="09:01"))
    assert asked == [], "what was known when it was read is not newer"
    for count in (5, 6):
        bench.show(replace(bench.station.current, written=count))
    qtbot.waitUntil(lambda: asked == [shown, "rows"], timeout=2000)


def test_a_page_that_is_not_seen_reads_nothing_again(records, qtbot):
    bench = records()
    bench.show(replace(bench.station.current, written=4))
    bench.key("F2")
    asked = []
    bench.station.find_records = lambda text, before="": asked.append(text)
    bench.show(replace(bench.station.current, written=5))
    comes_and_stays(lambda: asked == [], 400)


def test_certificates_of_all_that_is_found_show_how_far_they_are_and_stop(records, qtbot, tmp_path):
    bench = records()
    page = bench.page
    page.folder.setText(str(tmp_path))
    bench.key("Ctrl+W")
    qtbot.waitUntil(lambda: page.batch.shown.share == 0.03, timeout=1000)
    assert bench.station.asked_papers == ("", tmp_path)
    assert page.batch.isVisible()
    assert page.batch.bar.isVisible()
    bench.key("Ctrl+W")
    qtbot.waitUntil(lambda: page.batch.shown.share is None, timeout=1000)
    assert page.batch.shown.words == "Stopped: no paper was written."
    assert not page.batch.bar.isVisible()
