"""The route: every step with its state in shape and words, and its evidence."""

from dataclasses import replace

from PySide6.QtCore import Qt

from benchstation.screens.model.elements import StepState
from benchstation.ui.widgets.readout.route import Route
from tests.ui.fake_moments import MOMENTS, moment, pour, steps


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
    assert not made.scroller.isVisible()


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


def test_the_step_at_hand_is_in_view_on_a_small_screen(shown, qtbot):
    made = route(shown, replace(pour(), steps=steps("file")), size=(240, 300))
    last = made.rows[-1]

    def seen() -> bool:
        view = made.scroller.viewport()
        top = last.mapTo(view, last.rect().topLeft()).y()
        return top >= 0 and top + last.height() <= view.height()

    qtbot.waitUntil(seen, timeout=1000)


def parts(made) -> tuple[bool, bool, str]:
    return made.isVisible(), made.scroller.isVisible(), made.subtitle.text()


def test_with_little_room_the_unit_stays_and_its_steps_go(shown):
    made = route(shown, pour())
    made.fit(240, 600)
    whole = made.subtitle.text()
    assert parts(made) == (True, True, whole)
    made.fit(240, 130)
    assert parts(made) == (True, False, "step 5 of 9")
    assert "MR-2231" in made.title.text()
    made.show_view(moment(pour().task, steps=steps("gas")))
    assert parts(made) == (True, False, "step 7 of 9"), "another moment leaves it brief"
    made.fit(240, 600)
    assert parts(made) == (True, True, whole)
    made.fit(240, 40)
    assert not made.isVisible()


def test_the_step_at_hand_stays_in_view_when_the_one_before_is_signed(shown, qtbot):
    view = replace(pour(), steps=steps("release"))
    made = route(shown, view, size=(224, 210))
    qtbot.wait(60)
    intake, signed, now, *others = steps("strip")
    signed = replace(signed, evidence="0.00 bar gauge, rod stays in")
    now = replace(now, title=f"{now.title} and look once more")
    made.show_view(replace(view, steps=(intake, signed, now, *others)))
    # What had been brought into view too early would not come back.
    qtbot.wait(60)
    port, row = made.scroller.viewport(), made.rows[2]
    top = row.mapTo(port, row.rect().topLeft()).y()
    assert top >= 0
    assert top + row.height() <= port.height()


def test_long_names_are_whole_and_markup_is_plain(shown):
    made = route(shown, MOMENTS["german-lengths"]())
    assert made.title.text().startswith("SN-000123456789-ABCDEFG")
    made.show_view(replace(pour(), unit_title="<b>x</b>"))
    assert made.title.text() == "<b>x</b>"
    assert made.title.textFormat() is Qt.TextFormat.PlainText
