"""Serials that look like others are refused, by one rule wherever a serial comes in."""

import random
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.domain.serials import LONGEST_SERIAL, serial_problem

GOOD = [
    *("MR-2231", "T-1", "R 12/7", "0815", "SN:44_B", "(A)12.5", "a" * LONGEST_SERIAL),
    *("Größe-Ä1", "A\u0308-7", "Łódź-9", "Ø-12", "İzmir-4"),
    *("ДЖ-2231", "Ωλ-12", "试样-7", "テスト-9", "試料A-7", "시험-3", "א-12"),
]
BAD = [
    ("ＭＲ-2231", "wide or joined"),
    ("MR-２２３１", "wide or joined"),
    ("MR\u20112231", "looks like another|wide or joined"),  # non-breaking hyphen
    ("ﬁ-12", "wide or joined"),
    ("\U0001d40c\U0001d411-1", "wide or joined"),  # mathematical bold
    ("МR-2231", "mixes letters"),
    ("MΡ-2231", "mixes letters"),
    ("МР-2231", "look like Latin"),
    ("ΑΒ-12", "look like Latin"),
    ("ꓡꓢ-12", "passes for another"),  # Lisu
    ("ᎪᏴ-12", "passes for another"),  # Cherokee
    ("MR\u200b-2231", "cannot be seen"),  # zero width space
    ("\u202eMR-2231", "cannot be seen"),  # right to left override
    ("MR\u2066-1", "cannot be seen"),
    ("MR\ufeff-1", "cannot be seen"),
    ("MR\u00ad-1", "cannot be seen"),  # soft hyphen
    ("MR\u3164-1", "cannot be seen"),  # Hangul filler
    ("MR\u2800-1", "cannot be seen"),
    ("MR\ufe0f-1", "marks"),
    ("MR\u0338-1", "marks"),
    ("M\u0332R-1", "marks"),
    ("MR\u20132231", "U\\+2013, en dash"),
    ("MR\u22122231", "U\\+2212, minus sign"),
    ("MR-\u0661", "U\\+0661"),  # an Arabic digit
    ("mın-1", "dotless i"),
    ("\u0261-1", "U\\+0261"),  # script g
    ("=1+1", "formula"),
    ("+49", "formula"),
    ("-12", "formula"),
    ("@SUM(A1)", "formula"),
    ("A" * (LONGEST_SERIAL + 1), "longer than"),
    ("A\tB", "cannot be seen"),
    ("A\u00a0B", "cannot be seen|wide"),
]


@pytest.mark.parametrize("serial", GOOD)
def test_what_people_write_is_taken(serial):
    assert serial_problem(serial) == ""


@pytest.mark.parametrize(("serial", "said"), BAD)
def test_what_looks_like_another_is_refused_in_words(serial, said):
    import re

    assert re.search(said, serial_problem(serial)), serial_problem(serial)


@given(st.text(max_size=30))
def test_no_two_serials_that_are_taken_differ_by_what_cannot_be_seen(text):
    """What is taken is its own plain form, and shows each of its characters."""
    if serial_problem(text):
        return
    composed = unicodedata.normalize("NFC", text)
    assert unicodedata.normalize("NFKC", composed) == composed
    assert all(c.isascii() or c.isalpha() for c in composed)
    assert not text.startswith(("=", "+", "-", "@"))


LOOKALIKES = {"M": "М", "P": "Р", "A": "Α", "O": "О", "e": "е", "-": "‐", "1": "１"}


def test_a_serial_with_a_look_alike_anywhere_is_never_taken():
    chance = random.Random(1)
    for _ in range(500):
        serial = "".join(chance.choice("MPAOe-1XYZ") for _ in range(8)).lstrip("-")
        places = [n for n, c in enumerate(serial) if c in LOOKALIKES]
        if not places or not any(c in "XYZ" for c in serial):
            continue
        at = chance.choice(places)
        changed = serial[:at] + LOOKALIKES[serial[at]] + serial[at + 1 :]
        assert serial_problem(serial) == ""
        assert serial_problem(changed), (serial, changed)
