"""A form is judged after a pause in typing; what was asked of an older text says nothing."""

import pytest

from benchstation.screens.model.elements import FieldKind, FieldView
from benchstation.ui.shell.bridge import Bridge
from benchstation.ui.widgets.forms.form import Form
from benchstation.ui.widgets.forms.live_judge import LiveJudge
from tests.ui.fake_moments import pour
from tests.ui.fake_station import FakeStation
from tests.ui.waiting import settled

FIELDS = (
    FieldView("torque", "Torque", FieldKind.QUANTITY),
    FieldView("note", "Note", FieldKind.TEXT),
    FieldView("pin", "PIN", FieldKind.PIN),
)


class Typist:
    def __init__(self, shown):
        self.station = FakeStation(pour())
        self.bridge = Bridge(self.station)
        self.form = shown(Form())
        self.form.show_fields("screw", FIELDS)
        self.action = "sign"
        self.judge = LiveJudge(self.form, self.bridge, lambda: (self.action, {"step": "screw"}))

    def type(self, field, text):
        row = next(r for r in self.form.rows if r.field.id == field)
        row.editor.setText(text)
        row.editor.textEdited.emit(text)

    def judged(self, **wrong):
        self.station.wrong = wrong
        self.judge.judge()
        settled()

    def error(self, field):
        return next(r.error.text() for r in self.form.rows if r.field.id == field)


@pytest.fixture
def typist(shown):
    made = Typist(shown)
    yield made
    made.bridge.close()


def test_what_was_typed_goes_without_its_pin_and_comes_back_at_its_field(typist):
    typist.type("torque", "80 Nm")
    typist.type("pin", "1234")
    typist.judged(torque="allowed 7.5 to 8.5 N m")
    (asked,) = typist.station.judged
    assert asked == ("sign", {"step": "screw", "torque": "80 Nm", "note": ""})
    assert typist.error("torque") == "allowed 7.5 to 8.5 N m"
    assert typist.form.rows[0].editor.property("wrong") == "yes"


def test_what_was_not_touched_is_not_wrong_yet(typist):
    typist.type("note", "x")
    typist.judged(torque="'' is no torque")
    assert typist.error("torque") == ""


def test_it_goes_as_soon_as_it_is_put_right_or_emptied(typist):
    for text in ("8", ""):
        typist.type("torque", "80")
        typist.judged(torque="allowed 7.5 to 8.5 N m")
        assert typist.error("torque")
        typist.type("torque", text)
        assert typist.error("torque") == ""
        typist.judged()
        assert typist.error("torque") == ""


def test_what_the_taking_refused_stays_until_it_is_typed_again(typist):
    typist.type("torque", "8")
    typist.form.show_error("torque", "the scale is not fit")
    typist.judged()
    assert typist.error("torque") == "the scale is not fit"


def test_an_answer_to_an_older_text_says_nothing(typist):
    typist.station.later = True
    typist.type("torque", "80")
    typist.judged(torque="too much")
    typist.type("torque", "8")
    typist.station.settle()
    settled()
    assert typist.error("torque") == ""


def test_a_form_without_an_action_is_not_judged(typist):
    typist.action = ""
    typist.type("torque", "80")
    typist.judged(torque="too much")
    assert typist.station.judged == []


def test_a_judge_that_fails_says_nothing(typist):
    typist.station.failure = ValueError("gone")
    typist.type("torque", "80")
    typist.judged()
    assert typist.error("torque") == ""
