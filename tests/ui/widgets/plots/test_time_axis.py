import pytest

from benchstation.ui.widgets.plots.time_axis import STEPS_S, step_for, time_text


@pytest.mark.parametrize(
    ("span", "width", "step"),
    [(18, 280, 5), (66, 280, 20), (3600, 280, 1200), (3600, 560, 600), (0.4, 280, 0.1)],
)
def test_the_step_is_round_and_leaves_room_for_its_words(span, width, step):
    assert step_for(span, width) == step


def test_a_span_longer_than_any_takes_the_longest_step():
    assert step_for(1e9, 100) == STEPS_S[-1]


@pytest.mark.parametrize(
    ("seconds", "step", "words"),
    [
        (0, 5, "0 s"),
        (-40, 20, "−40 s"),
        (0.3, 0.1, "0.3 s"),
        (1200, 600, "20 min"),
        (7200, 3600, "2 h"),
    ],
)
def test_every_mark_names_its_unit(seconds, step, words):
    assert time_text(seconds, step) == words
