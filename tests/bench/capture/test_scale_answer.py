"""What shows that a scale at rest is alive: its digits, or how they answer a touch."""

import pytest

from benchstation.bench.capture.scale_answer import ScaleAnswer
from benchstation.domain.scale_alive import Alive

SAME_KG = 2e-4


def rested(*rests_kg: float) -> ScaleAnswer:
    """Return a display that rested here and there, one after the other."""
    answer = ScaleAnswer(SAME_KG)
    for rest in rests_kg:
        answer.take(rest, None)
        answer.take(rest, rest)
    return answer


@pytest.mark.parametrize(
    ("window", "alive"),
    [
        ([0.2] * 20, Alive.NOT_SHOWN),
        ([0.19998, 0.19999] + [0.2] * 18, Alive.NOT_SHOWN),  # the last of its way to the rest
        ([0.2, 0.20001] + [0.2] * 18, Alive.DIGITS),
        ([], Alive.NOT_SHOWN),
    ],
    ids=["stands", "settles", "flickers", "nothing"],
)
def test_digits_that_go_back_and_forth_show_it(window, alive):
    assert rested(0.2).alive(window) is alive


@pytest.mark.parametrize(
    ("rests_kg", "alive"),
    [
        ([0.1, 0.2], Alive.NOT_SHOWN),  # oil came
        ([0.2, 0.2001], Alive.NOT_SHOWN),  # a drop
        ([0.2, 0.21, 0.2], Alive.NOT_SHOWN),  # oil came and was taken out
    ],
    ids=["poured", "dripped", "taken out"],
)
def test_what_comes_to_rest_elsewhere_is_oil(rests_kg, alive):
    assert rested(*rests_kg).alive([rests_kg[-1]] * 9) is alive


def test_a_display_that_left_its_place_and_came_back_was_touched():
    answer = rested(0.2)
    answer.take(0.21, None)
    answer.take(0.2, None)
    assert answer.alive([0.2] * 9) is Alive.NOT_SHOWN, "it has not come to rest"
    answer.take(0.2, 0.2)
    assert answer.alive([0.2] * 9) is Alive.TOUCH
    answer.take(0.205, None)
    answer.take(0.205, 0.205)
    assert answer.alive([0.205] * 9) is Alive.NOT_SHOWN, "oil came since"


def test_a_touch_that_ends_elsewhere_tells_nothing_of_what_was_hidden():
    """A scale that hung, and is touched when it is alive again, shows what came meanwhile."""
    answer = rested(0.2)
    answer.take(0.24, None)
    answer.take(0.23, None)
    answer.take(0.23, 0.23)
    assert answer.alive([0.23] * 9) is Alive.NOT_SHOWN


def test_what_was_just_put_on_the_scale_moved_it():
    answer = rested(0.0)
    answer.put_on()
    answer.take(1.2, 1.2)
    assert answer.alive([1.2] * 9) is Alive.TOUCH
    answer.begin()
    answer.take(0.0, 0.0)
    assert answer.alive([0.0] * 9) is Alive.NOT_SHOWN
