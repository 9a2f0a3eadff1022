"""Records that were rolled back are answered for in the window at the start, by a lead's PIN."""

from datetime import UTC, datetime

import pytest
from PySide6.QtCore import Qt

from benchstation import app
from benchstation.bench.accepting import Accepting
from benchstation.config.settings import Settings
from benchstation.domain.events import LossAccepted, PersonEnrolled, PinRefused
from benchstation.domain.people import hash_pin
from benchstation.screens.not_whole import NotWholeScreens
from benchstation.store.engine import open_store
from benchstation.store.errors import BehindError
from benchstation.store.trust import trust_at
from benchstation.ui.shell.first_start import FirstStartWindow
from tests.end_to_end.hands import Hands
from tests.set_up_hands import PIN

NOW = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)


def enrolled(name, role):
    return PersonEnrolled(name, name.title(), (role,), hash_pin(PIN))


@pytest.fixture
def rolled_back(tmp_path, monkeypatch):
    """The records of a bench, put back to an older copy of themselves."""
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    file = tmp_path / "data" / app.STORE_FILE
    with open_store(file, "bench-1", trust=trust_at(tmp_path)) as store:
        store.append([enrolled("lea", "lead"), enrolled("ada", "qa")], person="set-up", utc=NOW)
    older = file.read_bytes()
    with open_store(file, "bench-1", trust=trust_at(tmp_path)) as store:
        store.append([enrolled("tom", "technician")], person="set-up", utc=NOW)
    file.write_bytes(older)
    return file


class Lead(Hands):
    """Somebody who is asked before the bench opens."""

    def said(self) -> str:
        message = self.window.status_bar.line.message
        return self.window.steps.refusal or (message.text if message else "")

    def answer(self, **values: str) -> None:
        rows = {row.field.id: row.editor for row in self.window.steps.form.rows}
        for name, text in values.items():
            rows[name].setFocus()
            rows[name].clear()
            self.qtbot.keyClicks(rows[name], text)
        buttons = self.window.steps.action_bar.buttons
        button = next(b for b in buttons if b.action.id == "answer")
        self.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)


def asked_at_start(qtbot, monkeypatch, hands) -> None:
    """Show the window that the start shows, and let ``hands`` answer it."""

    def show(port, *, dark):
        window = FirstStartWindow(port, dark=dark)
        qtbot.addWidget(window)
        window.resize(1280, 800)
        window.show()
        person = Lead(qtbot, window)
        person.until(lambda: window.steps.shown is not None)
        hands(person)
        window.close()

    monkeypatch.setattr(app, "run_first_start", show)


def test_a_lead_answers_in_the_window_and_the_bench_opens(rolled_back, qtbot, monkeypatch):
    def hands(person):
        shown = person.window.steps.shown
        assert "this bench signed" in shown.lines[0][0], "what is missing, and since when"
        for given, why in (
            ({"name": "Lea", "reason": "", "pin": PIN}, "no reason"),
            ({"name": "Ada", "reason": "the disk failed", "pin": PIN}, "is no lead"),
            ({"name": "Lea", "reason": "the disk failed", "pin": "135790"}, "not the PIN"),
        ):
            person.answer(**given)
            person.until(lambda why=why: why in person.said())
        person.answer(name="Lea", reason="the disk failed", pin=PIN)
        person.until(lambda: not person.window.isVisible())

    asked_at_start(qtbot, monkeypatch, hands)
    with app._opened(rolled_back, Settings()) as store:
        (said,) = store.entries(kind=LossAccepted.kind)
        assert (said.person, said.event.reason) == ("lea", "the disk failed")
        assert [e.event.tries for e in store.entries(kind=PinRefused.kind)] == [1]
    with open_store(rolled_back, "bench-1", read_only=True) as store:
        assert store.verify(known=trust_at(rolled_back.parents[1]).known).ok


def test_a_window_that_is_closed_opens_nothing(rolled_back, qtbot, monkeypatch):
    before = rolled_back.read_bytes()
    asked_at_start(qtbot, monkeypatch, lambda person: None)
    with pytest.raises(BehindError):
        app._opened(rolled_back, Settings())
    assert rolled_back.read_bytes() == before


def test_wrong_pins_are_counted_while_nothing_can_be_put_on_record(rolled_back):
    asked = Accepting(rolled_back, "bench-1", lambda: trust_at(rolled_back.parents[1]), "lost")
    screens = NotWholeScreens(asked)
    fields = {"name": "Lea", "reason": "the disk failed", "pin": "135790"}
    for _ in range(5):
        assert "not the PIN" in str(screens.adding_act("answer", fields).exception())
    later = screens.adding_act("answer", {**fields, "pin": PIN})
    assert "too many wrong PINs" in str(later.exception())
    assert screens.adding() is not None
    screens.adding_act("leave", {})
    assert screens.adding() is None
