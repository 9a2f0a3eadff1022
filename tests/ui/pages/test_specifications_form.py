"""The form over a specification's text: typed, moved, confirmed; the text says what it says."""

import tomllib
from datetime import UTC, datetime

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from benchstation.demo import shop as demo
from benchstation.domain.specification_edit import at, comments_in, way_of
from benchstation.screens.specifications.page import Specifications
from benchstation.store.engine import open_store
from benchstation.ui.shell.window import Window
from tests.ui.pages.test_specifications_answers import Answering

NAME, SIZES, OIL, STACKS, ROUTE = 0, 1, 2, 5, 7


class Desk:
    """The page, and hands on it."""

    def __init__(self, window, qtbot) -> None:
        self.window, self.qtbot = window, qtbot
        self.page = window.made["specifications"]
        self.form = self.page.form

    def key(self, key: str) -> None:
        stroke = QKeySequence(key)[0]
        target = self.window.focusWidget() or self.window
        QTest.keyClick(target, stroke.key(), stroke.keyboardModifiers())

    def checked(self) -> None:
        """Wait until the form shows what the text says."""
        page = self.page
        self.qtbot.waitUntil(
            lambda: page._checked is not None and page._checked.source == page.editor.text,
            timeout=3000,
        )
        QApplication.processEvents()

    def begin(self, row: int = 0) -> None:
        self.page.list.setCurrentIndex(self.page.list.rows.index(row, 0))
        key = self.page.list.rows.rows[row].key
        opened = lambda: self.page.opened is not None and self.page.opened.row.key == key  # noqa: E731
        self.qtbot.waitUntil(opened, timeout=3000)
        self.key("Ctrl+N")
        self.qtbot.waitUntil(self.form.isVisible, timeout=3000)

    def row(self, field: str):
        return next(row for row in self.form.rows if row.field.field == field)

    def type(self, field: str, text: str, end: str = "Return") -> None:
        editor = self.row(field).editor
        editor.setFocus(Qt.FocusReason.TabFocusReason)
        editor.selectAll()
        QTest.keyClicks(editor, text)
        self.key(end)
        self.checked()

    def said(self, field: str):
        return at(tomllib.loads(self.page.editor.text), way_of(field))

    def press(self, words: str) -> None:
        """Click the button that says this."""
        QApplication.processEvents()
        buttons = [
            b
            for b in self.form.findChildren(type(self.form.tabs[0]))
            if b.isVisible() and b.action.label == words
        ]
        QTest.mouseClick(buttons[0], Qt.MouseButton.LeftButton)


@pytest.fixture
def desk(qapp, qtbot, tmp_path):
    made = []

    def make(*, founded: bool = True) -> Desk:
        store = open_store(tmp_path / "s.sqlite", demo.BENCH)
        if founded:
            demo.found(store, datetime.now(UTC))
        window = Window(Answering(Specifications(store)))
        window.resize(1280, 800)
        window.show()
        window.start()
        window.switch("specifications")
        page = window.made["specifications"]
        ready = page.list.rows.rowCount if founded else page.none.isVisible
        qtbot.waitUntil(lambda: bool(ready()), timeout=3000)
        made.append((store, window))
        return Desk(window, qtbot)

    yield make
    for store, window in made:
        window.close()
        window.close()
        window.deleteLater()
        store.close()


def test_a_draft_opens_as_a_form_and_the_text_is_one_key_away(desk):
    d = desk()
    d.begin()
    assert d.form.isVisible()
    assert [part.title for part in d.form.parts] == [
        "Name", "Sizes", "Oil", "Gas", "Limits", "Stacks", "Sets", "Route",
    ]  # fmt: skip
    d.key("Ctrl+T")
    assert d.page.editor.isVisible()
    d.key("Ctrl+T")
    d.qtbot.waitUntil(d.form.isVisible, timeout=2000)


def test_a_bare_number_takes_the_unit_shown_and_any_other_is_kept(desk):
    d = desk()
    d.begin()
    d.form.turn_to(OIL)
    before = comments_in(d.page.editor.text)
    d.type("oil.bleed_allowance", "2.25")
    assert d.said("oil.bleed_allowance") == "2.25 mL"
    assert d.row("oil.bleed_allowance").text() == "2.25 mL"
    d.type("oil.volume", "0,1285 L")
    assert d.said("oil.volume") == "0,1285 L"
    assert d.row("oil.volume").follows.text().startswith("= 128.5 mL")
    assert comments_in(d.page.editor.text) == before
    assert d.page._checked.problems == ()


def test_what_is_wrong_stands_at_its_field_and_save_leads_there(desk):
    d = desk()
    d.begin()
    d.form.turn_to(SIZES)
    d.type("geometry.bore", "46 bar")
    row = d.row("geometry.bore")
    assert row.problem.isVisible()
    assert "not a length" in row.problem.text()
    assert row.editor.property("fault") == "yes"
    assert d.form.tabs[SIZES].action.label.startswith("▲ ")
    d.form.turn_to(NAME)
    d.key("Ctrl+S")
    assert d.form.section == SIZES
    assert d.window.focusWidget() is d.row("geometry.bore").editor
    d.type("geometry.bore", "36 mm")
    assert not d.row("geometry.bore").problem.isVisible()


def test_a_contradiction_is_mended_by_one_button(desk):
    d = desk()
    d.begin()
    d.form.turn_to(OIL)
    d.type("oil.volume", "136")
    d.key("Ctrl+S")
    step = d.form.step
    assert d.form.section == ROUTE
    assert step is not None
    row = d.row(f"steps.{step}.measure.nominal")
    assert "sizes and fill give" in row.problem.text()
    QTest.mouseClick(row.take, Qt.MouseButton.LeftButton)
    d.checked()
    assert d.page._checked.problems == ()
    assert d.said(row.field.field) == row.field.take


def test_the_keyboard_stays_and_what_is_typed_is_not_taken_away(desk):
    d = desk()
    d.begin()
    d.form.turn_to(SIZES)
    editor = d.row("geometry.stroke").editor
    editor.setFocus()
    editor.selectAll()
    QTest.keyClicks(editor, "10")
    d.qtbot.waitUntil(lambda: d.said("geometry.stroke") == "10 mm", timeout=2000)
    d.checked()
    assert editor.text() == "10", "no unit is put in while somebody types"
    QTest.keyClicks(editor, "0")
    d.key("Tab")
    d.checked()
    assert d.said("geometry.stroke") == "100 mm"
    assert editor.text() == "100 mm"


def test_a_figure_shows_from_where_to_where_it_goes(desk):
    d = desk()
    d.begin()
    d.form.turn_to(SIZES)
    d.row("geometry.internal_length").editor.setFocus()
    shown = d.page.figures.damper.dimension
    assert (shown.mark, shown.words) == ("length", "Internal length 210.00 mm")
    d.row("geometry.hardware_volume").editor.setFocus()
    assert d.page.figures.damper.dimension is None


def test_steps_are_added_moved_and_dropped_by_buttons(desk):
    d = desk()
    d.begin()
    d.form.turn_to(ROUTE)
    titles = [step["title"] for step in d.said("steps")]
    QTest.mouseClick(d.form.step_buttons[2], Qt.MouseButton.LeftButton)
    d.key("Alt+Up")
    d.press("Add a step…")
    d.press("Torque")
    d.checked()
    assert d.form.step == 3
    assert [s["title"] for s in d.said("steps")] == [*titles[:3], "Torque", *titles[3:]]
    d.type("steps.3.torque.nominal", "8.1 Nm")
    assert d.page._checked.problems == ()
    d.key("Alt+Up")
    up = next(b for b in d.form.findChildren(type(d.form.tabs[0])) if b.action.id == "up, 4")
    QTest.mouseClick(up, Qt.MouseButton.LeftButton)
    d.checked()
    assert d.said("steps.2.title") == "Torque"
    drop = next(
        b
        for b in d.form.findChildren(type(d.form.tabs[0]))
        if b.isVisible() and b.action.id == "drop, 3"
    )
    QTest.mouseClick(drop, Qt.MouseButton.LeftButton)
    d.checked()
    assert [s["title"] for s in d.said("steps")] == titles


def test_inputs_of_a_step_are_added_and_filled_in(desk):
    d = desk()
    d.begin()
    d.form.turn_to(ROUTE)
    QTest.mouseClick(d.form.step_buttons[0], Qt.MouseButton.LeftButton)
    d.press("Add an input…")
    d.press("Measured value")
    d.checked()
    d.type("steps.0.inputs.0.label", "Length as it came")
    assert d.said("steps.0.inputs") == [{"type": "quantity", "label": "Length as it came"}]
    assert d.page._checked.problems == ()


def test_the_field_that_the_keyboard_is_in_is_in_sight(desk):
    d = desk(founded=False)
    d.key("Ctrl+N")
    d.qtbot.waitUntil(d.form.isVisible, timeout=3000)
    d.form.turn_to(ROUTE)
    d.form._open(5)

    def in_sight() -> None:
        focus = d.window.focusWidget()
        place = focus.mapTo(d.form.scroller.viewport(), focus.rect().center())
        assert d.form.scroller.viewport().rect().contains(place)
        assert d.row("steps.5.parts.0.number").editor is focus

    d.qtbot.waitUntil(in_sight, timeout=2000)


def test_an_example_is_made_ones_own_without_seeing_its_text(desk):
    d = desk(founded=False)
    d.key("Ctrl+N")
    d.qtbot.waitUntil(d.form.isVisible, timeout=3000)
    QApplication.processEvents()
    assert d.row("family").problem.isVisible()
    d.type("family", "Our 46")
    d.type("id", "our-46")
    assert d.page._checked.problems == ()
    d.form.turn_to(SIZES)
    assert d.form.legend.isVisible()
    assert d.form.tabs[SIZES].action.label == "Sizes ◆ 8"
    d.key("Return")
    d.checked()
    d.qtbot.waitUntil(lambda: d.form.tabs[SIZES].action.label == "Sizes ◆ 7", timeout=2000)
    assert d.window.focusWidget() is d.row("geometry.rod").editor
    d.type("geometry.rod", "14.5")
    d.qtbot.waitUntil(lambda: d.form.tabs[SIZES].action.label == "Sizes ◆ 6", timeout=2000)
    d.form.turn_to(STACKS)
    d.press("Right")
    d.checked()
    left = [one.example for one in d.form.parts[STACKS].lists]
    assert d.said("example").keys() >= {one for one in left if one}


def test_a_name_that_is_not_known_is_told_at_its_part(desk):
    d = desk()
    d.begin()
    d.page.editor.replace(d.page.editor.text.replace("[oil]", "[oil]\ncolour = 1"))
    d.page._ask()
    d.checked()
    d.key("Ctrl+S")
    assert d.form.section == OIL
    QApplication.processEvents()
    assert d.form.problem.isVisible()
    assert "oil.colour" in d.form.problem.words.text()


def test_a_text_that_cannot_be_read_stays_the_text(desk):
    d = desk()
    d.begin()
    d.key("Ctrl+T")
    d.page.editor.area.insertPlainText("[half")
    d.qtbot.waitUntil(lambda: d.page.editor.problems.isVisible(), timeout=3000)
    d.key("Ctrl+T")
    d.checked()
    assert d.page.editor.isVisible()
    assert d.page.editor.text.startswith("[half")


def test_what_the_form_changed_is_undone_in_the_text(desk):
    d = desk()
    d.begin()
    before = d.page.editor.text
    d.form.turn_to(SIZES)
    d.type("geometry.rod", "11")
    d.key("Ctrl+T")
    d.key("Ctrl+Z")
    assert d.page.editor.text == before
