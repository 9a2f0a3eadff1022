"""A scan is a burst of characters and an end; a hand is never taken for one."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.ui.shell.wedge import ENDS, GAP_S, LEAST, MOST, Wedge

LABELS = st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=LEAST, max_size=MOST)


def typed(wedge: Wedge, text: str, *, gap_s: float = 0.004, start_s: float = 10.0) -> list[str]:
    found = [wedge.feed(key, start_s + n * gap_s) for n, key in enumerate(text)]
    return [scan for scan in found if scan is not None]


@given(LABELS, st.sampled_from(sorted(ENDS)), st.floats(0, GAP_S * 0.98))
def test_a_burst_and_an_end_are_a_scan(label, end, gap_s):
    assert typed(Wedge(), label + end, gap_s=gap_s) == [label]


@given(LABELS, st.floats(GAP_S * 1.02, 2))
def test_a_hand_is_no_scanner(label, gap_s):
    assert typed(Wedge(), label + "\r", gap_s=gap_s) == []


def test_two_scans_follow_each_other():
    assert typed(Wedge(), "MR-0001\rMR-0002\t") == ["MR-0001", "MR-0002"]


@pytest.mark.parametrize("text", ["abc\r", "\r", "   ab \r", "x" * (MOST + 1) + "\r", "abcdef"])
def test_too_short_too_long_or_without_end_is_none(text):
    assert typed(Wedge(), text) == []


def test_what_a_hand_typed_before_is_no_part_of_the_scan():
    wedge = Wedge()
    assert typed(wedge, "ab", start_s=1.0) == []
    assert typed(wedge, "MR-0001\r", start_s=1.2) == ["MR-0001"]


def test_return_after_a_pause_is_no_end():
    wedge = Wedge()
    typed(wedge, "MR-0001", start_s=1.0)
    assert wedge.feed("\r", 1.2) is None


def test_shift_between_two_characters_does_not_part_them():
    wedge = Wedge()
    keys = ["M", "", "R", "", "4", "6", "\r"]
    assert [wedge.feed(key, n * 0.003) for n, key in enumerate(keys)][-1] == "MR46"


def test_a_key_that_is_held_is_no_scan():
    wedge = Wedge()
    for n in range(8):
        wedge.feed("a", n * 0.03, repeat=n > 0)
    assert wedge.text == ""
    assert wedge.feed("\r", 8 * 0.03) is None


@pytest.mark.parametrize("key", ["\x1b", "\x08", "\x00"])
def test_a_control_character_ends_what_was_begun(key):
    assert typed(Wedge(), f"MR-00{key}01\r") == []


def test_a_clock_that_jumps_back_begins_anew():
    wedge = Wedge()
    typed(wedge, "MR-0001", start_s=10.0)
    assert wedge.feed("\r", 9.0) is None


def test_cleared_is_forgotten():
    wedge = Wedge()
    typed(wedge, "MR-0001")
    wedge.clear()
    assert wedge.feed("\r", 10.03) is None
