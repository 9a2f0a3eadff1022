"""The page Quality by keys and mouse: choose, look at points, open, try a limit, write."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from benchstation.screens.model.quality import QualityQuestion
from benchstation.screens.model.records import words_for_unit
from benchstation.store.figures import By
from benchstation.ui.pages.quality import BYS
from tests.ui.fake_moments import pour
from tests.ui.fake_quality import FAMILIES

FAMILY = QualityQuestion(family=FAMILIES[1])


@pytest.fixture
def bench(open_bench):
    return open_bench(pour())


@pytest.fixture
def page(bench):
    bench.window.switch("quality")
    return bench.window.made["quality"]


@pytest.fixture
def charted(page, qtbot):
    page.ask(FAMILY)
    qtbot.waitUntil(lambda: page.view is not None and page.view.question == FAMILY)
    return page


def test_each_sort_of_group_that_is_kept_can_be_chosen():
    kept = {value for name, value in vars(By).items() if name.isupper()}
    assert [by for by, _ in BYS] == list(dict.fromkeys(by for by, _ in BYS))
    assert {by for by, _ in BYS} == kept


def test_it_opens_on_its_key_with_all_families(bench, qtbot):
    QTest.keyClick(bench.window, Qt.Key.Key_F5, Qt.KeyboardModifier.ShiftModifier)
    assert bench.window.page == "quality"
    page = bench.window.made["quality"]
    qtbot.waitUntil(lambda: page.view is not None)
    assert page.view.question == QualityQuestion()
    assert "% of the tolerance" in page.values.title.text()


def test_choosing_asks_for_that_chart(page, qtbot):
    qtbot.waitUntil(lambda: page.view is not None)
    page.family.setCurrentIndex(2)
    page.family.activated.emit(2)
    page.by.setCurrentIndex(1)
    page.by.activated.emit(1)
    qtbot.waitUntil(lambda: page.view.question.by == "technician")
    assert page.view.question == QualityQuestion(family=FAMILIES[1], by="technician", name="p1")
    assert page.named.currentText() == "Alex Sample"
    assert page.named.isVisible()


def test_checks_have_an_instrument_and_no_family(page, qtbot):
    page.ask(QualityQuestion("check"))
    qtbot.waitUntil(lambda: page.view is not None and page.view.question.quantity == "check")
    assert page.named.currentText() == "gauge-1 at bench-1"
    assert not page.family.isVisible()
    assert not page.trying.isVisible()


def test_arrows_go_from_point_to_point(charted):
    assert charted.values.place == 199
    QTest.keyClick(charted.values, Qt.Key.Key_Left)
    assert (charted.values.place, charted.ranges.place) == (198, 198)
    assert charted.point.text().startswith("199: MR-1198")
    QTest.keyClick(charted.values, Qt.Key.Key_Home)
    QTest.keyClick(charted.values, Qt.Key.Key_PageDown)
    assert charted.values.place == 10
    QTest.keyClick(charted.values, Qt.Key.Key_End)
    QTest.keyClick(charted.values, Qt.Key.Key_Right)
    assert charted.values.place == 199


def test_a_click_chooses_the_nearest_point(charted, qtbot):
    charted.window().resize(1280, 800)
    QTest.qWait(30)
    places = [charted.values.place_at(x) for x in range(0, charted.values.width(), 20)]
    assert places == sorted(places)
    assert (places[0], places[-1]) == (0, 199)
    at = QPoint(charted.values.width() // 2, charted.values.height() // 2)
    QTest.mouseClick(charted.values, Qt.MouseButton.LeftButton, pos=at)
    assert charted.values.place == charted.values.place_at(at.x())


@pytest.mark.parametrize("how", ["key", "enter"])
def test_a_point_opens_its_record(charted, bench, qtbot, how):
    charted.choose(3)
    if how == "key":
        charted.press_key("Ctrl+O")
    else:
        QTest.keyClick(charted.values, Qt.Key.Key_Return)
    assert bench.window.page == "records"
    records = bench.window.made["records"]
    assert records.search.text() == "MR-1003"


def test_the_unit_that_is_wanted_opens_among_those_of_its_serial(bench, qtbot):
    bench.window.switch("records")
    records = bench.window.made["records"]
    records.search_for(words_for_unit("MR-22", "u7"))
    qtbot.waitUntil(lambda: records.detail.shown is not None)
    assert records.detail.shown.row.unit_id == "u7"


def test_a_row_of_a_rule_marks_its_point(charted):
    assert charted.list.rows.rows
    last = len(charted.list.rows.rows) - 1
    charted.list.setCurrentIndex(charted.list.rows.index(last, 0))
    assert charted.view.points[charted.values.place].unit_id == charted.list.current.key


def test_another_limit_is_tried_and_left(charted, qtbot):
    assert charted.found.text().endswith("fired, the newest first")
    charted.limit.setText("0.1")
    charted.press_key("Ctrl+T")
    qtbot.waitUntil(lambda: charted.other is not None)
    assert charted.found.text().startswith("With ± 0.100 g")
    assert all(row.note.startswith("judged") for row in charted.list.rows.rows)
    charted.press_key("Ctrl+T")
    assert charted.other is None
    assert charted.found.text().endswith("fired, the newest first")


def test_a_limit_is_not_taken_along_to_another_quantity(charted, qtbot):
    charted.limit.setText("0.1")
    seen = charted.view
    charted.look()
    qtbot.waitUntil(lambda: charted.view is not seen)
    assert charted.limit.text() == "0.1"
    charted.ask(replace(charted.view.question, quantity="charge"))
    qtbot.waitUntil(lambda: charted.view.question.quantity == "charge")
    assert charted.limit.text() == "", "0.1 would be bar now"


def test_an_empty_limit_is_asked_for(charted):
    charted.press_key("Ctrl+T")
    assert charted.refusal == "Type another limit first."
    assert charted.limit.hasFocus()


def test_it_is_written_with_the_limit_that_is_shown(charted, bench, qtbot, tmp_path):
    charted.folder.setText(str(tmp_path))
    charted.limit.setText("0.1")
    charted.press_key("Ctrl+E")
    assert bench.station.written == (FAMILY, "", tmp_path), "it was typed, and is not shown"
    charted.press_key("Ctrl+T")
    qtbot.waitUntil(lambda: charted.other is not None)
    charted.press_key("Ctrl+E")
    assert bench.station.written == (FAMILY, "0.1", tmp_path)
    qtbot.waitUntil(lambda: "quality.csv" in bench.window.status_bar.line.message.text)


def test_too_few_units_are_said_in_the_charts_place(page, bench, qtbot):
    bench.station.charted = 2
    page.ask(FAMILY)
    qtbot.waitUntil(lambda: "and has 2" in page.nothing.text())
    assert page.empty.isVisible()
    assert not page.charts.isVisible()
    page.press_key("Ctrl+E")
    assert bench.station.written == ()


class NoPrinters:
    def names(self):
        return []


def test_without_a_printer_the_chart_is_written_and_offered(charted, bench, qtbot, tmp_path):
    charted.printing.printers = NoPrinters()
    charted.folder.setText(str(tmp_path))
    charted.press_key("Ctrl+P")
    assert bench.station.written == (FAMILY, "", tmp_path)
    qtbot.waitUntil(lambda: "quality.pdf" in charted.refusal)
