"""Specifications: opened, moved, written with a live check, kept, approved, never lost."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog, QWidget

from benchstation.ui.widgets.readout.alarm_banner import KEY
from tests.ui.fake_moments import WARNING, pour, sign_in
from tests.ui.fake_specifications import DRAFT, IN_FORCE, OTHER, ROWS, source
from tests.ui.fake_station import REFUSED
from tests.ui.waiting import comes_and_stays

PAUSE_MS = 60
"""Shorter than in earnest, for the tests' own sake; test_specification_editor waits in earnest."""


@pytest.fixture
def opened(open_bench, qtbot):
    def open_it(*, rows=ROWS, size=(1280, 800), **changes):
        bench = open_bench(sign_in(), size=size)
        bench.station.specifications = list(rows)
        for name, value in changes.items():
            setattr(bench.station, name, value)
        bench.key("F5")
        bench.page = bench.window.made["specifications"]
        bench.page.editor._timer.setInterval(PAUSE_MS)
        if rows and not bench.station.later and bench.station.failure is None:
            qtbot.waitUntil(lambda: bench.page.opened is not None, timeout=1000)
        else:
            qtbot.wait(20)
        return bench

    return open_it


def choose(bench, qtbot, row: int) -> None:
    page = bench.page
    place = page.list.visualRect(page.list.rows.index(row, 0)).center()
    QTest.mouseClick(page.list.viewport(), Qt.MouseButton.LeftButton, pos=place)
    wanted = page.list.rows.rows[row].key
    qtbot.waitUntil(lambda: page.opened.row.key == wanted, timeout=1000)


def write(bench, qtbot, row: int = 1) -> None:
    """Begin a draft from a revision."""
    choose(bench, qtbot, row)
    bench.key("Ctrl+N")
    qtbot.waitUntil(lambda: bench.page._checked is not None, timeout=1000)


def put(bench, text: str) -> None:
    """Type a whole text over the one that stands there."""
    bench.page.editor.area.selectAll()
    bench.page.editor.area.insertPlainText(text)


def settled(bench, qtbot) -> None:
    qtbot.waitUntil(lambda: bench.page.editor.checked.text().startswith("checked"), timeout=1500)


# --- looking ---------------------------------------------------------------------------------


def test_the_first_is_open_at_once(opened):
    bench = opened()
    page = bench.page
    assert bench.station.opened == [("k3", 0.0, "reference")]
    assert page.figures.state.text() == "revision 3, draft"
    assert page.terms.title.text() == "Changes against the revision in force"
    assert page.list.currentIndex().row() == 0
    assert bench.window.focusWidget() is page.list
    bench.key("Down")
    assert page.list.currentIndex().row() == 1


def test_one_click_opens_another(opened, qtbot):
    bench = opened()
    choose(bench, qtbot, 3)
    assert bench.page.figures.title.text() == OTHER.family
    assert "first revision" in bench.page.terms.same.text()
    choose(bench, qtbot, 1)
    assert bench.page.terms.title.text() == "Changes against revision 1"


def test_the_knobs_draw_what_is_open_anew(opened, qtbot):
    bench = opened()
    bench.key("Ctrl+3")
    bench.key("Alt+Right")
    qtbot.waitUntil(lambda: bench.station.opened[-1] == ("k3", 0.1, "hot"), timeout=1000)
    shown = bench.page.figures.damper
    qtbot.waitUntil(lambda: shown.shown.caption.startswith("15.0 mm of travel, hot"), timeout=1000)
    choose(bench, qtbot, 1)
    assert bench.station.opened[-1] == ("k2", 0.1, "hot")


def test_dragging_asks_one_question_at_a_time(opened, qtbot):
    bench = opened()
    bench.station.later = True
    asked = len(bench.station.opened)
    for value in range(1, 60):
        bench.page.figures.travel.setValue(value)
    assert len(bench.station.opened) == asked + 1
    bench.station.later = False
    bench.station.settle()
    qtbot.waitUntil(lambda: bench.station.opened[-1][1] == 0.59, timeout=1000)
    assert len(bench.station.opened) == asked + 2


def test_without_any_it_teaches(opened):
    bench = opened(rows=())
    assert "on record yet" in bench.page.nothing.text()
    assert "Ctrl+O" in bench.page.figures.empty.text()
    assert "Start from the example (Ctrl+N)" in bench.page.figures.empty.text()
    bench.key("Ctrl+E")
    assert bench.said == "Write TOML file: choose a revision first"


def test_an_empty_bench_starts_from_an_example(opened, qtbot):
    bench = opened(rows=())
    bench.key("Ctrl+N")
    editor = bench.page.editor
    assert bench.window.focusWidget() is editor.area
    assert editor.text.startswith("# This is an example")
    assert "replace its figures" in bench.said
    bench.type("# mine ")
    bench.key("Esc")
    assert "Ctrl+N continues it" in bench.said
    bench.key("Ctrl+N")
    assert editor.text.startswith("# mine # This is an example")
    bench.key("Esc")
    bench.key("Ctrl+Shift+N")
    assert editor.text.startswith("# This is an example")
    assert "Ctrl+Z" in bench.said
    bench.key("Ctrl+Z")
    assert editor.text.startswith("# mine ")


def test_where_specifications_are_on_record_the_opened_one_is_written_on(opened):
    bench = opened()
    assert "example" not in [b.action.id for b in bench.page.action_bar.buttons if b.isVisible()]


def test_a_failure_is_told(opened, qtbot):
    bench = opened(failure=REFUSED)
    qtbot.waitUntil(lambda: bench.said == str(REFUSED), timeout=1000)


def test_coming_back_keeps_what_is_open_and_looks_anew(opened, qtbot):
    bench = opened()
    choose(bench, qtbot, 2)
    bench.key("F2")
    bench.station.specifications = list(ROWS[1:])
    bench.key("F5")
    qtbot.waitUntil(lambda: bench.page.list.rows.rowCount() == 3, timeout=1000)
    assert bench.page.list.currentIndex().row() == 1
    assert bench.page.opened.row.key == "k1"


def test_a_draft_s_own_author_is_not_offered_its_approval(opened, qtbot):
    bench = opened(rows=(replace(DRAFT, author="t1"), *ROWS[1:]))
    bench.show(replace(pour(), who="t1"))
    (approve,) = (b for b in bench.page.action_bar.buttons if b.action.id == "approve")
    bench.window.setFocus()
    bench.key("Ctrl+Y")
    assert not approve.isEnabled()
    assert bench.said == "Approve: whoever wrote a draft does not approve it"
    bench.show(replace(pour(), who="t2"))
    assert approve.isEnabled()
    bench.key("Ctrl+Y")
    sign(bench)
    assert [action for action, _ in bench.station.acted] == ["approve"]


# --- writing ---------------------------------------------------------------------------------


def test_a_draft_begins_with_the_open_text_and_the_next_revision(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    editor = bench.page.editor
    assert editor.text == source(3, 262)
    assert editor.isVisible()
    assert bench.window.focusWidget() is editor.area
    assert bench.page.figures.state.text() == "being written"
    assert bench.page.figures.damper.isVisible()
    assert bench.page.terms.terms.isVisible()


def test_a_draft_of_a_draft_keeps_its_revision(opened, qtbot):
    bench = opened()
    write(bench, qtbot, 0)
    assert bench.page.editor.text == source(3, 263)


def test_typing_is_checked_once_and_its_effect_is_seen(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    before = len(bench.station.checked)
    bench.type("# more")
    bench.type(" oil ")
    put(bench, source(3, 270))
    assert len(bench.station.checked) == before
    settled(bench, qtbot)
    assert [text for text, _, _ in bench.station.checked[before:]] == [source(3, 270)]
    said = [term.shown.value for term in bench.page.terms.terms.terms]
    assert "270.0 mL ± 2.0 mL" in said
    assert bench.page.terms.changes.shown[0] == ("oil.volume", "0.000262", "0.00027")


def test_only_the_last_questions_answer_is_shown(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.station.later = True
    asked = len(bench.station.checked)
    put(bench, source(3, 300))
    qtbot.waitUntil(lambda: len(bench.station.checked) == asked + 1, timeout=1500)
    put(bench, source(3, 264))
    qtbot.wait(2 * PAUSE_MS)
    bench.station.settle()
    qtbot.waitUntil(lambda: len(bench.station.checked) == asked + 2, timeout=1000)
    assert not bench.page.editor.problems.isVisible(), "300 mL is not what stands there"
    bench.station.settle()
    settled(bench, qtbot)
    assert "264.0 mL ± 2.0 mL" in [t.shown.value for t in bench.page.terms.terms.terms]


def test_problems_stand_above_and_the_last_figures_stay(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    put(bench, source(3, 300))
    settled(bench, qtbot)
    page = bench.page
    assert "300 mL is outside" in page.editor.problems.words.text()
    assert page.figures.damper.isVisible()
    assert page.figures.subtitle.text().startswith("Drawn from the last text")
    assert page.terms.old.isVisible()
    bench.key("Ctrl+S")
    assert bench.said == "Save draft: correct what is wrong first"
    assert bench.station.acted == []
    put(bench, source(3, 264))
    settled(bench, qtbot)
    assert not page.editor.problems.isVisible()
    assert not page.terms.old.isVisible()


def test_the_rod_moves_while_writing(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.key("Alt+Right")
    bench.key("Ctrl+1")
    wanted = (source(3, 262), 0.1, "cold")
    qtbot.waitUntil(lambda: bench.station.checked[-1] == wanted, timeout=1000)
    assert bench.page.editor.text == source(3, 262)


def test_a_kept_draft_is_sent_and_opened(opened, qtbot):
    bench = opened(rows=ROWS[1:])
    write(bench, qtbot, 0)
    put(bench, source(3, 265))
    settled(bench, qtbot)
    bench.station.specifications = list(ROWS)
    bench.key("Ctrl+S")
    assert bench.station.acted == [("draft", {"source": source(3, 265)})]
    qtbot.waitUntil(lambda: bench.page.opened.row.key == "k3", timeout=1000)
    assert bench.said == "draft: done."
    assert bench.page.unkept() == ""
    assert bench.page.list.isVisible()
    assert bench.page.figures.state.text() == "revision 3, draft"
    comes_and_stays(lambda: bench.page.opened.row.key == "k3", 2 * PAUSE_MS)
    assert bench.station.opened[-1][0] == "k3"


def test_a_key_faster_than_the_check_keeps_what_is_typed(opened, qtbot):
    bench = opened(rows=ROWS[1:])
    write(bench, qtbot, 0)
    put(bench, source(3, 266))
    bench.station.specifications = list(ROWS)
    bench.key("Ctrl+S")
    qtbot.waitUntil(lambda: bench.page.opened.row.key == "k3", timeout=1000)
    assert bench.station.acted == [("draft", {"source": source(3, 266)})]


def test_a_key_faster_than_the_check_keeps_nothing_wrong(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    put(bench, source(3, 300))
    bench.key("Ctrl+S")
    qtbot.waitUntil(bench.page.editor.problems.isVisible, timeout=1000)
    put(bench, source(3, 264))
    settled(bench, qtbot)
    assert bench.station.acted == []
    assert bench.page.writing


def test_what_is_typed_while_it_is_kept_is_not_lost(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.station.later = True
    bench.key("Ctrl+S")
    bench.key("Ctrl+S")
    assert bench.said == "Save draft: it is being saved"
    bench.type("# late ")
    bench.station.later = False
    bench.station.settle()
    qtbot.waitUntil(lambda: bench.said == "draft: done.", timeout=1000)
    assert bench.page.writing
    assert bench.page.unkept().startswith("# late ")
    assert len(bench.station.acted) == 1


def test_a_refused_draft_stays_where_it_is(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.type("# mine")
    settled(bench, qtbot)
    bench.station.failure = REFUSED
    bench.key("Ctrl+S")
    qtbot.waitUntil(lambda: bench.said == str(REFUSED), timeout=1000)
    assert bench.page.editor.text.startswith("# mine")
    assert bench.page.editor.isVisible()


def test_leaving_keeps_the_text_and_so_does_another_page(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.type("# mine")
    bench.key("Esc")
    assert "waits here" in bench.said
    assert not bench.page.editor.isVisible()
    bench.key("F4")
    bench.key("F5")
    choose(bench, qtbot, 3)
    (go_on,) = (b for b in bench.page.action_bar.buttons if b.action.id == "new")
    assert go_on.action.label == "Continue writing"
    bench.key("Ctrl+N")
    assert bench.page.editor.text.startswith("# mine")


def test_a_page_in_between_leaves_the_writer_writing(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.type("# mine")
    bench.key("F2")
    bench.key("F5")
    comes_and_stays(lambda: bench.page.editor.isVisible(), 20)
    assert bench.window.focusWidget() is bench.page.editor.area
    assert bench.page.editor.text.startswith("# mine")
    assert bench.page.figures.state.text() == "being written"


def test_an_untouched_text_does_not_wait(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.key("Esc")
    assert bench.page.unkept() == ""
    choose(bench, qtbot, 3)
    bench.key("Ctrl+N")
    assert bench.page.editor.text == source(2, 262)


def test_starting_anew_can_be_undone(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.type("# mine")
    mine = bench.page.editor.text
    bench.key("Esc")
    choose(bench, qtbot, 0)
    bench.key("Ctrl+Shift+N")
    assert bench.page.editor.text == source(3, 263)
    assert "comes back with Ctrl+Z" in bench.said
    bench.key("Ctrl+Z")
    assert bench.page.editor.text == mine


def sign(bench) -> None:
    bench.type("246810")
    bench.key("Return")


# --- approving -------------------------------------------------------------------------------


def test_an_open_draft_is_approved_and_then_shown_in_force(opened, qtbot):
    bench = opened()
    in_force = [r for r in ROWS if r is not DRAFT]
    bench.station.later = True
    bench.key("Ctrl+Y")
    assert bench.station.acted == []
    sign(bench)
    assert bench.station.acted == [("approve", {"key": "k3", "signature": "246810"})]
    bench.key("Ctrl+Y")
    assert bench.said == "Approve: it is being approved"
    approved = replace(DRAFT, key="k4", state="in force", tone=IN_FORCE.tone)
    bench.station.specifications = [approved, *in_force]
    bench.station.later = False
    bench.station.settle()
    qtbot.waitUntil(lambda: bench.page.opened.row.key == "k4", timeout=1000)
    assert bench.said == "approve: done."
    assert bench.page.figures.state.text() == "revision 3, in force"


def test_a_refusal_is_told_in_the_stations_words(opened, qtbot):
    bench = opened()
    bench.station.failure = REFUSED
    bench.key("Ctrl+Y")
    sign(bench)
    qtbot.waitUntil(lambda: bench.said == str(REFUSED), timeout=1000)
    assert bench.page.opened.row.key == "k3"


def test_what_is_no_draft_cannot_be_approved(opened, qtbot):
    bench = opened()
    choose(bench, qtbot, 1)
    bench.key("Ctrl+Y")
    assert bench.said == "Approve: open a draft first"
    assert bench.station.acted == []


# --- files -----------------------------------------------------------------------------------


def test_the_shown_text_is_written_and_read_back(opened, qtbot, tmp_path):
    bench = opened()
    page = bench.page
    page.place.setText(f" {tmp_path} ")
    bench.key("Ctrl+E")
    path = tmp_path / "sledge-46-revision-3.toml"
    assert bench.said == f"Written: {path.name} in {tmp_path}"
    assert path.read_text("utf-8") == page.opened.source
    path.write_text(source(3, 271), "utf-8")
    page.place.setText(str(path))
    bench.key("Ctrl+O")
    assert page.editor.text == source(3, 271)
    assert page.unkept() == source(3, 271)
    settled(bench, qtbot)
    assert "271.0 mL ± 2.0 mL" in [t.shown.value for t in page.terms.terms.terms]


def test_while_writing_the_text_that_is_written_goes_to_the_file(opened, qtbot, tmp_path):
    bench = opened()
    write(bench, qtbot)
    bench.type("# mine")
    bench.page.place.setText(str(tmp_path))
    bench.key("Ctrl+E")
    (path,) = tmp_path.iterdir()
    assert path.read_text("utf-8").startswith("# mine")
    assert bench.page.unkept(), "a file is no draft"


def test_reading_over_a_text_can_be_undone(opened, qtbot, tmp_path):
    bench = opened()
    write(bench, qtbot)
    bench.type("# mine")
    mine = bench.page.editor.text
    (tmp_path / "a.toml").write_text("# theirs", "utf-8")
    bench.page.place.setText(str(tmp_path / "a.toml"))
    bench.key("Ctrl+O")
    assert "comes back with Ctrl+Z" in bench.said
    assert bench.page.editor.text == "# theirs"
    bench.key("Ctrl+Z")
    assert bench.page.editor.text == mine


def test_a_first_specification_comes_from_a_file(opened, qtbot, tmp_path):
    bench = opened(rows=())
    (tmp_path / "a.toml").write_text(source(1), "utf-8")
    bench.page.place.setText(str(tmp_path / "a.toml"))
    bench.key("Ctrl+O")
    settled(bench, qtbot)
    assert bench.page.figures.damper.isVisible()
    bench.key("Esc")
    qtbot.waitUntil(lambda: bench.page.none.isVisible(), timeout=1000)
    bench.key("Ctrl+N")
    assert bench.page.editor.text == source(1)


@pytest.mark.parametrize("key", ["Ctrl+O", "Ctrl+E"])
def test_a_bad_place_is_told_and_nothing_changes(opened, tmp_path, key):
    bench = opened()
    (tmp_path / "file").write_text("x")
    bench.page.place.setText(str(tmp_path / "file" / "missing"))
    bench.key(key)
    assert bench.said.startswith("TOML file: ")
    assert not bench.page.writing
    assert bench.window.focusWidget() is bench.page.place


def test_without_a_typed_path_the_systems_dialogs_ask(opened, qtbot, tmp_path, monkeypatch):
    bench = opened()
    assert bench.page.place.text() == ""
    path = tmp_path / "chosen.toml"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(path), ""))
    bench.key("Ctrl+E")
    assert path.read_text("utf-8") == bench.page.opened.source
    path.write_text(source(3, 271), "utf-8")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(path), ""))
    bench.key("Ctrl+O")
    assert bench.page.editor.text == source(3, 271)
    bench.type("# mine ")
    bench.key("Ctrl+E")
    assert path.read_text("utf-8").startswith("# mine "), "the dialog asked before it replaced it"


def test_a_dialog_that_is_left_does_nothing(opened, monkeypatch):
    bench = opened()
    for name in ("getSaveFileName", "getOpenFileName"):
        monkeypatch.setattr(QFileDialog, name, lambda *_: ("", ""))
    said = bench.said
    bench.key("Ctrl+E")
    bench.key("Ctrl+O")
    assert not bench.page.writing
    assert bench.said == said


# --- the page as a whole ---------------------------------------------------------------------


def test_everything_that_takes_the_keyboard_has_a_name_while_writing(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    nameless = [
        widget
        for widget in bench.window.findChildren(QWidget)
        if widget.focusPolicy() & Qt.FocusPolicy.TabFocus
        and widget.isVisible()
        and not widget.accessibleName()
    ]
    assert nameless == []


@pytest.mark.parametrize("size", [(1180, 720), (1600, 900)])
@pytest.mark.parametrize("writing", [False, True])
def test_nothing_is_wider_than_its_place(opened, qtbot, size, writing):
    bench = opened(size=size)
    if writing:
        write(bench, qtbot)
    QApplication.processEvents()
    page = bench.page
    for part in (page.figures.scroller, page.terms.scroller):
        qtbot.waitUntil(lambda s=part: s.widget().width() <= s.viewport().width(), timeout=500)
    for term in page.terms.terms.terms:
        assert term.height() >= term.heightForWidth(term.width())


def test_an_alarm_is_acknowledged_by_its_key_out_of_the_text(opened, qtbot):
    bench = opened()
    write(bench, qtbot)
    bench.show(replace(pour(), alarms=(WARNING,)))
    bench.down(KEY)
    qtbot.waitUntil(lambda: bool(bench.station.acknowledged), timeout=1500)
    bench.up(KEY)
    assert bench.station.acknowledged == [(WARNING.id, "")]
    assert bench.page.editor.text == source(3, 262)


def test_keys_of_the_bench_do_nothing_here(opened):
    bench = opened()
    bench.key("T")
    bench.key("Space")
    assert bench.station.acted == []


def test_words_from_people_are_plain(opened, qtbot):
    bench = opened(rows=[replace(IN_FORCE, family="<b>x</b>", title="<i>y</i>")])
    page = bench.page
    assert page.figures.title.text() == "<b>x</b>"
    for part in (page.figures.title, page.figures.subtitle, page.figures.caption, page.nothing):
        assert part.textFormat() is Qt.TextFormat.PlainText
