"""The route: every step with its state in shape and words, and its evidence."""

import itertools
from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from benchstation.screens.model.elements import StepState, Tone
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.theme import DARK
from benchstation.ui.widgets.readout.route import Route
from tests.ui.fake_moments import MOMENTS, moment, pour, steps
from tests.ui.fitting import problems_now


def route(shown, view, size=(240, 600)) -> Route:
    made = shown(Route(), size=size)
    made.show_view(view)
    return made


def test_steps_stand_with_their_state_and_evidence(shown):
    made = route(shown, pour())
    assert [row.title.text() for row in made.rows][:2] == ["Intake", "Release the gas"]
    assert made.rows[0].evidence.text() == "weeping at the wiper"
    assert made.rows[0].mark.accessibleName() == "done"
    assert made.rows[4].mark.accessibleName() == "now"
    assert made.rows[4].property("wash") == "mandatory"
    assert made.rows[5].mark.accessibleName() == "waiting"


def test_a_hold_point_says_so_until_it_is_done(shown):
    made = route(shown, pour())
    assert made.rows[6].evidence.text() == "hold point"
    assert "hold point" not in made.rows[1].evidence.text()


def test_a_step_to_be_done_again_says_so(shown):
    made = route(shown, replace(pour(), steps=steps("oil", redo="strip")))
    assert made.rows[2].evidence.text().startswith("to be done again")
    assert made.rows[2].mark.accessibleName() == StepState.REDO


def test_without_a_unit_it_teaches(shown):
    made = route(shown, MOMENTS["sign-in"]())
    assert made.title.text() == "No unit on the bench"
    assert made.empty.isVisible()
    assert made.rows == []


def test_what_it_teaches_is_whole_or_not_there(shown, qtbot):
    made = route(shown, MOMENTS["sign-in"](), size=(240, 120))
    assert not made.empty.isVisible()
    made.resize(240, 400)
    qtbot.waitUntil(made.empty.isVisible)


def test_rows_are_kept_from_step_to_step(shown):
    made = route(shown, pour())
    rows = list(made.rows)
    made.show_view(moment(pour().task, steps=steps("gas")))
    assert made.rows == rows
    assert made.rows[6].property("wash") == "mandatory"
    assert made.rows[4].property("wash") is None


@pytest.mark.parametrize("high", [640, 460, 380])
@pytest.mark.parametrize("now", ["intake", "oil", "file"])
@pytest.mark.parametrize("percent", [100, 125, 150])
def test_every_step_is_there_however_little_room_there_is(shown, high, now, percent):
    """The one at hand and its neighbours have words; each of the others at least its mark."""
    text_scale.choose(percent)
    made = route(shown, replace(pour(), steps=steps(now)), size=(225, high))
    QTest.qWait(20)
    inside = made.rect()
    for row in made.rows:
        assert row.isVisible()
        assert row.mark.isVisible()
        assert inside.contains(row.geometry())
    for one, other in itertools.combinations(made.rows, 2):
        assert not one.geometry().intersects(other.geometry())
    place = next(n for n, row in enumerate(made.rows) if row.now)
    near = made.rows[max(0, place - 1) : place + 2]
    assert all(row.title.isVisible() and row.title.height() > 0 for row in near)
    assert problems_now(made) == []


def test_signing_a_step_moves_no_other(shown):
    made = route(shown, replace(pour(), steps=steps("release")), size=(224, 560))
    before = [row.geometry() for row in made.rows]
    intake, signed, now, *others = steps("strip")
    signed = replace(signed, evidence="0.00 bar gauge")
    made.show_view(replace(pour(), steps=(intake, signed, now, *others)))
    assert [row.geometry() for row in made.rows] == before


def test_twenty_steps_stand_in_a_small_window(shown):
    many = tuple(replace(step, id=f"{step.id}{n}") for n in range(3) for step in steps("oil"))[:20]
    made = route(shown, replace(pour(), steps=many), size=(200, 600))
    assert len(made.rows) == 20
    assert all(made.rect().contains(row.geometry()) for row in made.rows)
    assert all(row.title.isVisible() for row in made.rows)


def test_what_differs_is_no_plain_tick(shown):
    differs = list(steps("gas"))
    differs[4] = replace(differs[4], state=StepState.DIFFERS)
    made = route(shown, replace(pour(), steps=tuple(differs)))
    assert made.rows[4].mark.accessibleName() == StepState.DIFFERS
    image = made.rows[4].mark.grab().toImage()
    inks = {image.pixelColor(x, y).name() for x in range(20) for y in range(20)}
    assert DARK.tone(Tone.CAUTION).fill in inks
    done = made.rows[3].mark.grab().toImage()
    inks = {done.pixelColor(x, y).name() for x in range(20) for y in range(20)}
    assert DARK.tone(Tone.GOOD).fill not in inks


def test_long_names_are_whole_and_markup_is_plain(shown):
    made = route(shown, MOMENTS["german-lengths"]())
    assert made.title.text().startswith("SN-000123456789-ABCDEFG")
    made.show_view(replace(pour(), unit_title="<b>x</b>"))
    assert made.title.text() == "<b>x</b>"
    assert made.title.textFormat() is Qt.TextFormat.PlainText
