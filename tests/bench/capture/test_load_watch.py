"""What grows like a pour while no tare holds is told from what is put on and lifted."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.bench.capture.load_watch import LoadWatch

LEAST = 9e-4


def fed(values, *, sense: int = 1, step_s: float = 0.1) -> LoadWatch:
    watch = LoadWatch(LEAST, sense)
    for n, value in enumerate(values):
        watch.take(n * step_s, value)
    return watch


def settling(start: float, end: float, count: int = 40, share: float = 0.49) -> list[float]:
    """Follow a load that is put on, as a scale's filter does."""
    values, value = [], start
    for _ in range(count):
        value += (end - value) * share
        values.append(value)
    return values


def test_a_pour_is_told_and_stays_told():
    poured = [0.9 + 0.002 * n for n in range(20)]
    assert fed([*[0.9] * 5, *poured, *[0.9] * 20]).grown


@pytest.mark.parametrize("rate_hz", [5, 10, 50])
@pytest.mark.parametrize("load", [0.11, 0.9, 4.0])
def test_a_body_put_on_or_lifted_is_no_pour(rate_hz, load):
    share = 1 - 2.718281828 ** (-1 / rate_hz / 0.15)
    on, off = settling(0.0, load, 200, share), settling(load, 0.0, 200, share)
    assert not fed([*[0.0] * 9, *on, *off, *on], step_s=1 / rate_hz).grown


def test_a_pour_under_a_body_that_was_just_put_on_is_told():
    on = settling(0.0, 0.9)
    assert fed([*on, *[0.9 + 0.002 * n for n in range(20)]]).grown


def test_the_jug_is_lighter_by_what_is_poured():
    falls = [1.1 - 0.002 * n for n in range(20)]
    assert fed(falls, sense=-1).grown
    assert not fed(falls).grown
    assert not fed(falls[::-1], sense=-1).grown


def test_looked_at_anew_it_begins_from_the_last_load():
    watch = fed([0.9 + 0.002 * n for n in range(20)])
    watch.begin()
    assert not watch.grown
    watch.take(2.0, 0.938)
    assert not watch.grown
    watch.take(5.0, 0.980)
    assert not watch.grown, "it may be a knock"
    watch.take(5.5, 0.980)
    assert watch.grown, "also over a gap in the line"


def test_a_table_that_shakes_is_no_pour():
    assert not fed([0.9 + 0.003 * (n % 2) for n in range(200)]).grown


@given(st.lists(st.floats(-LEAST / 2, LEAST / 2), max_size=80))
def test_noise_is_no_pour(noise):
    assert not fed([0.9 + part for part in noise]).grown


@given(flow=st.floats(0.002, 0.1), seconds=st.floats(1.5, 6.0))
def test_a_pour_at_any_pace_of_a_hand_is_told(flow, seconds):
    values = [0.9 + flow * n / 10 for n in range(round(10 * seconds))]
    assert fed([0.9, *values]).grown
