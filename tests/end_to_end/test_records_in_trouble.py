"""The records cannot be written for a while: said in words, and done once when asked again.

Another program that ignores the lock holds the database, or the disk is full, in the middle of a
unit at the real window.
"""

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.domain.events import (
    MassCaptured,
    StepSigned,
    TareProven,
    UnitFiled,
)
from benchstation.domain.specification import StepKind
from tests.end_to_end.conftest import window_at
from tests.end_to_end.hands import pour, sign_in, start_unit, tare
from tests.store_troubles import full, locked, pragma

pytestmark = pytest.mark.timeout(120)


TROUBLES = pytest.mark.parametrize("trouble", [locked, full], ids=["locked", "full"])


def count(person, kind) -> int:
    return len(person.session.store.entries(kind=kind.kind))


@TROUBLES
def test_a_step_is_signed_when_it_is_asked_for_again(person, trouble):
    start_unit(person)
    with trouble(person.session.store) as words:
        person.confirm_all(note1="weeping at wiper")
        person.until(lambda: words in person.told)
        assert person.task.step_id == "intake"
        assert count(person, StepSigned) == 0
    # What was ticked and typed is still there: one click does it.
    person.click("sign")
    person.until_step("release")
    assert count(person, StepSigned) == 1
    assert person.session.store.verify().ok


@TROUBLES
def test_a_mass_that_could_not_be_kept_is_captured_when_it_is_asked_for_again(at_pour, trouble):
    person = at_pour
    tare(person, "body")
    pour(person)
    with trouble(person.session.store) as words:
        person.key("Space")
        person.until(lambda: words in person.told)
        assert person.weighs(Phase.POURING), "it is not tried behind anybody's back"
        assert count(person, MassCaptured) == 0
        assert person.task.step_id == "oil"
    person.key("Space")
    person.until_step("bleed")
    assert count(person, MassCaptured) == 1


@TROUBLES
def test_a_tare_that_could_not_be_kept_is_none(at_pour, trouble):
    person = at_pour
    person.hand.put_on_pan("body")
    person.until(lambda: person.can("tare"))
    with trouble(person.session.store) as words:
        person.key("T")
        person.until(lambda: words in person.told)
        assert person.weighs(Phase.NEED_TARE)
        assert not person.can("capture")
    tare(person, "body")
    assert count(person, TareProven) == 1


def test_a_unit_is_filed_once_however_often_it_is_asked_for(qtbot, middle):
    bench, path = middle(StepKind.FILE)
    with window_at(qtbot, path, bench) as person:
        sign_in(person)
        person.until_step("file")
        with locked(person.session.store) as words:
            for _ in range(3):
                person.key("Return")
                person.until(lambda: words in person.told)
                person.window.status_bar.line.clear()
            assert person.task.step_id == "file"
            assert count(person, UnitFiled) == 0
        person.key("Return")
        person.key("Return")
        person.until_step("filed")
        person.qtbot.wait(200)
        assert count(person, UnitFiled) == 1
        assert person.session.store.verify().ok


def test_while_the_records_are_held_for_long_the_readings_do_not_pass_for_new(at_pour):
    """The bench waits for the other program: the window says that it does not answer."""
    person = at_pour
    with locked(person.session.store):
        pragma(person.session.store, "busy_timeout=2500")
        tare_key = next(a.key for a in person.task.actions if a.id == "tare")
        person.hand.put_on_pan("body")
        person.until(lambda: person.can("tare"))
        person.key(tare_key)
        person.until(lambda: "the bench has not answered" in person.told, 10)
        assert person.refused.startswith("The readings no longer hold.")
    person.until(lambda: not any(reading.stale for reading in person.window.view.strip), 10)
    person.until(lambda: "no longer hold" not in person.told, 10)
