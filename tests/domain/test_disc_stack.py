import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.domain import disc_stack
from benchstation.domain.disc_stack import (
    DiscRow,
    Mark,
    as_text,
    compared,
    differences_in_words,
    merged,
    parsed_stack,
    same,
)
from benchstation.domain.refusals import NotAllowedError

DISCS = st.builds(
    DiscRow,
    outer_m=st.integers(12_000, 45_000).map(lambda um: um * 1e-6),
    thickness_m=st.integers(100, 500).map(lambda um: um * 1e-6),
    count=st.integers(1, 5),
)
STACKS = st.lists(DISCS, max_size=12).map(tuple)


def disc(outer, thickness, count=1):
    return DiscRow(outer * 1e-3, thickness * 1e-3, count)


A, B, C = disc(40, 0.2, 2), disc(36, 0.15), disc(30, 0.25)


@given(STACKS)
def test_the_editors_text_gives_the_same_stack(stack):
    again = parsed_stack(as_text(stack), "it")
    assert same(stack, again)
    assert [d.count for d in again] == [d.count for d in stack]


@given(STACKS, STACKS)
def test_a_comparison_holds_every_disc_of_both_in_their_order(was, now):
    rows = compared(was, now)
    assert tuple(r.was for r in rows if r.was) == merged(was)
    assert tuple(r.now for r in rows if r.now) == merged(now)
    for row in rows:
        assert (row.mark is Mark.ADDED) == (row.was is None)
        assert (row.mark is Mark.REMOVED) == (row.now is None)
    assert same(was, now) == (differences_in_words(was, now) == [])


@given(STACKS)
def test_a_stack_is_the_same_as_itself_however_its_rows_are_cut(stack):
    single = tuple(replace(d, count=1) for d in stack for _ in range(d.count))
    assert same(stack, single)
    assert disc_stack.height_m(single) == pytest.approx(disc_stack.height_m(stack))


@pytest.mark.parametrize(
    ("now", "words"),
    [
        ([A, B, C], []),
        ([A, C], ["removed 1 of 36 × 0.15 mm"]),
        ([A, B, disc(34, 0.15), C], ["added 1 of 34 × 0.15 mm"]),
        ([disc(40, 0.2, 3), B, C], ["3 of 40 × 0.2 mm instead of 2 of 40 × 0.2 mm"]),
        ([A, disc(36, 0.2), C], ["1 of 36 × 0.2 mm instead of 1 of 36 × 0.15 mm"]),
        ([B, A, C], ["added 1 of 36 × 0.15 mm", "removed 1 of 36 × 0.15 mm"]),
        ([A, disc(36.0004, 0.15), C], []),
    ],
)
def test_differences_are_said_disc_by_disc(now, words):
    assert differences_in_words([A, B, C], now) == words


def test_any_unit_is_taken_and_a_number_is_mm():
    text = json.dumps([["1.5 in", "0,2", "2"], ["", "", ""], ["36", "0.15 mm", " 1 "]])
    assert [round(d.outer_m, 7) for d in parsed_stack(text, "it")] == [0.0381, 0.036]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("[", "no list of discs"),
        ('{"a": 1}', "no list of discs"),
        ("[[1, 2, 3]]", "no list of discs"),
        ('[["40", "0.2"]]', "no list of discs"),
        (json.dumps([["40", "0.2", "1"]] * 61), "more than 60 rows"),
        ("[" * 30_000, "no list of discs"),
        ('[["40", "0.2", "1"], ["40", "", "1"]]', "row 2 of it"),
        ('[["40", "0.2", "0"]]', "row 1 of it: count"),
        ('[["40", "0.2", "1.5"]]', "no whole number"),
        ('[["40", "0.2", "²"]]', "no whole number"),
        ('[["40", "0.2", "999999999"]]', "row 1 of it: count"),
        ('[["400", "0.2", "1"]]', "row 1 of it: outer"),
        ('[["40", "-0.2", "1"]]', "row 1 of it: thickness"),
        ('[["40 bar", "0.2", "1"]]', "is not a length"),
    ],
)
def test_a_text_that_is_no_stack_is_refused_by_its_row(text, word):
    with pytest.raises(NotAllowedError, match=word):
        parsed_stack(text, "it")


@given(st.text(max_size=200))
def test_any_text_is_a_stack_or_refused(text):
    try:
        parsed_stack(text, "it")
    except NotAllowedError:
        return
