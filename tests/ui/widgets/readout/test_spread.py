"""Words that would like to stand in the same place stand beside each other."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.ui.widgets.readout.spread import spread

WORDS = st.lists(st.tuples(st.floats(0, 500), st.floats(1, 60)), min_size=1, max_size=6)


@given(WORDS)
def test_they_never_overlap_and_keep_their_order_and_the_room(words):
    words.sort()
    wanted, sizes = [w for w, _ in words], [s for _, s in words]
    centres = spread(wanted, sizes, 0.0, 500.0, 5.0)
    edges = [(c - s / 2, c + s / 2) for c, s in zip(centres, sizes, strict=True)]
    for (_, end), (start, _) in itertools.pairwise(edges):
        assert start >= end + 5.0 - 1e-9
    assert edges[-1][1] <= 500.0 + 1e-9
    assert edges[0][0] >= -1e-9, "six words of 60 and their gaps find room in 500"


def test_where_there_is_room_they_stand_where_they_want():
    assert spread([50.0, 150.0], [20.0, 20.0], 0.0, 200.0, 4.0) == [50.0, 150.0]


def test_two_at_one_place_stand_side_by_side():
    assert spread([50.0, 50.0], [20.0, 20.0], 0.0, 200.0, 4.0) == [50.0, 74.0]
    assert spread([195.0, 195.0], [20.0, 20.0], 0.0, 200.0, 4.0) == [166.0, 190.0]


def test_none_need_no_room():
    assert spread([], [], 0.0, 1.0, 1.0) == []


def test_sizes_belong_to_words():
    with pytest.raises(ValueError, match="zip"):
        spread([1.0], [], 0.0, 1.0, 1.0)
