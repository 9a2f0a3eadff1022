"""The recorded steps through the bench page: by keys and clicks, on a bench whose time stands."""

from concurrent.futures import Future

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from benchstation.demo.picture import demo_png
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from benchstation.ui.shell.window import Window
from tests.stepped_bench import make_bench
from tests.ui.fake_station import FakeStation


class Port(FakeStation):
    """The station's door before a bench that is called at once."""

    def __init__(self, bench) -> None:
        self.bench = bench
        super().__init__(self.now())

    def now(self):
        return bench_view(self.bench.session, QuantityFormatter(UnitSystem.METRIC))

    def view(self):
        return self.now()

    def act(self, action, fields):
        future = Future()
        try:
            future.set_result(self.bench.session.act(action, {**fields, "units": "metric"}))
        except StationError as error:
            future.set_exception(error)
        return future


@pytest.fixture
def stand(qtbot, tmp_path):
    """Return a window standing at a step, of the rear family where no other is named."""
    bench = make_bench(tmp_path)

    def to(step_id, family="mr-46-rear"):
        for _ in bench.technician(family=family).work():
            rebuild = bench.session.rebuild
            if rebuild and rebuild.current and rebuild.current.id == step_id:
                break
            bench.run(0.1)
        bench.run(2.5)
        window = Window(Port(bench))
        qtbot.addWidget(window)
        window.resize(1280, 800)
        window.show()
        window.start()
        qtbot.waitExposed(window)
        return bench, window

    yield to
    bench.store.close()


def focused(window):
    return window.focusWidget()


def type_in(window, *texts):
    for text in texts:
        QTest.keyClicks(focused(window), text)
        QTest.keyClick(focused(window), Qt.Key.Key_Return)


def signature(bench, step_id):
    return bench.session.unit().signatures.get(step_id)


def test_both_stacks_are_entered_compared_and_signed_by_keys(stand, qtbot):
    bench, window = stand("stack_built")
    task = window.bench.task
    alt, control = Qt.KeyboardModifier.AltModifier, Qt.KeyboardModifier.ControlModifier
    first, second = (row.editor for row in task.form.rows)
    assert first.isAncestorOf(focused(window))
    QTest.keyClick(focused(window), Qt.Key.Key_1, control)
    assert second.isAncestorOf(focused(window)), "one key, and the next stack is there"
    for key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
        QTest.keyClick(focused(window), key)
    assert focused(window) is first.rows[0][0]
    QTest.keyClick(focused(window), Qt.Key.Key_Delete, alt)
    qtbot.waitUntil(lambda: any("removed 3 of 40" in line.words.text() for line in marks(first)))
    QTest.keyClick(focused(window), Qt.Key.Key_1, control)
    qtbot.waitUntil(
        lambda: any("as the specification" in line.words.text() for line in marks(first))
    )
    qtbot.waitUntil(lambda: in_sight(task, focused(window)))
    QTest.keyClick(focused(window), Qt.Key.Key_1, control)
    assert signature(bench, "stack_built") is None, "nothing is signed by starting it"
    qtbot.waitUntil(lambda: in_sight(task, second.whole))
    assert focused(window) is second.whole
    QTest.keyClick(focused(window), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: signature(bench, "stack_built") is not None)


def marks(editor):
    return [line for line in editor.words.lines if line.isVisible()]


def in_sight(task, widget):
    port = task.scroller.viewport()
    place = widget.mapTo(port, widget.rect().center())
    return port.rect().contains(place)


LOTS = ["K-88-RS-14", "K-88-WP-14", "K-88-FP-46"]


def test_lots_are_scanned_one_after_the_other(stand, qtbot):
    bench, window = stand("parts")
    qtbot.waitUntil(window.bench.wants_scan)
    for lot in LOTS:
        assert window.bench.take_scan(lot.lower())
    QTest.keyClick(focused(window), Qt.Key.Key_Space)
    QTest.keyClick(focused(window), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: signature(bench, "parts") is not None)
    lots = [part.lot for part in signature(bench, "parts").evidence]
    assert lots == [*LOTS, ""]


def test_a_scan_that_is_not_on_record_opens_the_form_that_receives_it(stand, qtbot):
    bench, window = stand("parts")
    qtbot.waitUntil(window.bench.wants_scan)
    assert window.bench.take_scan(LOTS[0])
    assert window.bench.take_scan("N-9")
    qtbot.waitUntil(lambda: window.bench.task.form.has("supplier"))
    assert window.bench.task.form.values()["lot"] == "N-9"
    assert bench.session.work.typed["lot1"] == LOTS[0], "what was chosen stays"
    bench.session.act("receive_here", {"wanted": "lot2", "lot": "N-9", "supplier": "counter"})
    window.bridge.refresh()
    qtbot.waitUntil(lambda: window.bench.task.form.has("lot2"))
    values = window.bench.task.form.values()
    assert (values["lot1"], values["lot2"]) == (LOTS[0], "N-9")


def test_a_scan_into_a_text_is_chosen_where_a_field_offers_it(stand, qtbot):
    _, window = stand("screw")
    qtbot.waitUntil(window.bench.wants_scan)
    assert not window.bench.chooses("8.1"), "no wrench of that name"
    assert window.bench.chooses("tw-07")
    assert window.bench.task.form.values()["torque1_tool"] == "TW-07"


def test_a_picture_is_added_by_its_path_and_signed(stand, qtbot, tmp_path):
    bench, window = stand("pictures")
    path = tmp_path / "p.png"
    path.write_bytes(demo_png(6))
    type_in(window, "both stacks")
    QTest.keyClicks(focused(window), str(path))
    QTest.keyClick(focused(window), Qt.Key.Key_P, Qt.KeyboardModifier.ControlModifier)
    editor = window.bench.task.form.rows[1].editor
    qtbot.waitUntil(lambda: len(editor.shelf.thumbnails) == 1)
    assert not editor.shelf.thumbnails[0].picture.pixmap().isNull()
    window.setFocus()
    QTest.keyClick(window, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: signature(bench, "pictures") is not None)
    (photographed,) = signature(bench, "pictures").evidence
    assert [p.caption for p in photographed.pictures] == ["both stacks"]


def test_a_caption_belongs_to_one_picture(stand, qtbot, tmp_path):
    bench, window = stand("pictures")
    caption, photo = (row.editor for row in window.bench.task.form.rows)
    for count, words in enumerate(("both stacks", "", "the rod"), 1):
        path = tmp_path / f"{count}.png"
        path.write_bytes(demo_png(count))
        caption.setFocus()
        QTest.keyClicks(caption, words)
        photo.path.setFocus()
        QTest.keyClicks(photo.path, str(path))
        QTest.keyClick(photo.path, Qt.Key.Key_P, Qt.KeyboardModifier.ControlModifier)
        qtbot.waitUntil(lambda count=count: len(photo.shelf.thumbnails) == count)
        assert (caption.text(), photo.text()) == ("", "")
    taken = [e.event for e in bench.store.entries(kind="photo.taken")]
    assert [event.caption for event in taken] == ["both stacks", "", "the rod"]
    caption.setFocus()
    QTest.keyClicks(caption, "the next")
    window.bridge.refresh()
    assert caption.text() == "the next", "only a new picture takes it away"


def test_a_note_takes_lines_and_ctrl_enter_signs(stand, qtbot):
    bench, window = stand("remarks")
    type_in(window, "first", "second")
    QTest.keyClick(focused(window), Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: signature(bench, "remarks") is not None)
    assert signature(bench, "remarks").evidence[0].text == "first\nsecond"


def test_what_was_typed_stands_there_after_another_person_signed_in(stand, qtbot):
    bench, window = stand("screw")
    QTest.keyClicks(focused(window), "9.4")
    QTest.keyClick(focused(window), Qt.Key.Key_Return)
    window.bench.take_scan("TW-07")
    QTest.keyClick(focused(window), Qt.Key.Key_L, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.view.task.step_id == "sign-in")
    bench.sign_in("oberhauser")
    qtbot.waitUntil(lambda: window.view.task.step_id == "screw")
    assert window.bench.task.form.values() == {"torque1": "9.4", "torque1_tool": "TW-07"}


def test_what_was_typed_outlives_a_signing_out_that_nobody_asked_for(qtbot, stand):
    bench, window = stand("strip")
    row = next(r for r in window.bench.task.form.rows if r.field.id == "note1")
    row.editor.setFocus()
    QTest.keyClicks(row.editor, "seal swollen")
    assert bench.session.work.typed.get("note1", "") == ""
    bench.session.signed_in.idle.after_s = 60.0
    bench.run(61.0)
    assert bench.session.person is None
    qtbot.waitUntil(lambda: bench.session.work.typed.get("note1") == "seal swollen")
    bench.sign_in()
    qtbot.waitUntil(
        lambda: any(
            r.field.id == "note1" and r.value() == "seal swollen"
            for r in window.bench.task.form.rows
        )
    )


def test_a_photograph_and_a_height_are_entered_and_signed_by_keys(stand, qtbot, tmp_path):
    bench, window = stand("seat", family="carrier-50")
    path = tmp_path / "seat.png"
    path.write_bytes(demo_png(4))
    type_in(window, "lip", str(path))
    QTest.keyClicks(focused(window), "2,43 mm")
    QTest.keyClick(focused(window), Qt.Key.Key_P, Qt.KeyboardModifier.ControlModifier)
    rows = {row.field.id: row for row in window.bench.task.form.rows}
    qtbot.waitUntil(lambda: len(rows["photo"].editor.shelf.thumbnails) == 1)
    assert rows["value1"].value() == "2,43 mm", "what is typed stays beside the picture"
    QTest.keyClick(focused(window), Qt.Key.Key_Return)
    QTest.keyClick(focused(window), Qt.Key.Key_Space)
    QTest.keyClick(focused(window), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: signature(bench, "seat") is not None)
    photographed, measured, confirmed = signature(bench, "seat").evidence
    assert [p.caption for p in photographed.pictures] == ["lip"]
    assert round(measured.value, 6) == 0.00243
    assert confirmed.input == "confirm1"
