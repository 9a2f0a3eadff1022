"""One step on the pedal is one press, whatever the contact does."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from benchstation.ui.shell.pedal import REST_S, Pedal


def test_a_press_counts_once_until_the_foot_is_lifted_and_rested():
    pedal = Pedal()
    assert pedal.press(1.0)
    assert not pedal.press(2.0)
    pedal.release()
    assert pedal.press(3.0)


def test_a_key_that_repeats_is_no_press():
    pedal = Pedal()
    assert pedal.press(1.0)
    assert not any(pedal.press(1.0 + n * 0.033, repeat=True) for n in range(1, 60))


def test_a_bounce_is_no_second_press():
    pedal = Pedal()
    assert pedal.press(1.0)
    pedal.release()
    assert not pedal.press(1.0 + REST_S - 0.001)
    pedal.release()
    assert pedal.press(1.0 + 3 * REST_S)


@given(st.lists(st.floats(0.001, 1.0), max_size=60))
def test_two_presses_that_count_are_never_nearer_than_the_rest(gaps):
    pedal, now, counted = Pedal(), 0.0, []
    for gap in gaps:
        now += gap
        if pedal.press(now):
            counted.append(now)
        pedal.release()
    assert all(b - a >= REST_S * 0.999 for a, b in itertools.pairwise(counted))
