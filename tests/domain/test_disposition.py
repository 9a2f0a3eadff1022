"""Where a filed unit stands, from the record's hold and every later fact."""

import pytest

from benchstation.domain.disposition import (
    ALONE,
    AT_CUSTOMER,
    FIRST,
    RELEASES,
    STOPPED,
    Course,
    Notice,
    Standing,
    course_of,
    may_look_good,
    meaning_of,
    notice_text,
    standing_in,
    standing_of,
)
from benchstation.domain.events import (
    CustomerTold,
    UnitAmended,
    UnitDisposed,
    UnitReturned,
    UnitShipped,
)
from tests.samples import sample_of

SHIPPED = sample_of(UnitShipped)
BACK = UnitReturned("u", "knocks")
TOLD = CustomerTold("u", "by letter")


def word(text):
    return UnitDisposed("u", text, "seen")


def amended(decision=""):
    return UnitAmended("u", "order", "A", "B", "typed wrong", "quin", decision)


@pytest.mark.parametrize("word", ["", "released", "held", "rejected"])
def test_a_unit_that_was_rebuilt_again_is_superseded_whatever_was_said(word):
    course = Course(word, out=word == "released")
    standing = standing_in(course, qa_hold=True, superseded=True)
    assert standing is Standing.SUPERSEDED
    assert standing in STOPPED
    assert standing not in RELEASES | AT_CUSTOMER
    assert not may_look_good("pass", standing)


@pytest.mark.parametrize(
    ("qa_hold", "words", "standing"),
    [
        (False, (), Standing.NOT_RELEASED),
        (True, (), Standing.ON_HOLD),
        (True, ("",), Standing.ON_HOLD),
        (True, ("released",), Standing.RELEASED),
        (False, ("released", "held"), Standing.ON_HOLD),
        (False, ("released", "rejected"), Standing.REJECTED),
        (True, ("rejected", "released"), Standing.RELEASED),
        (False, (FIRST,), Standing.AWAITS_SECOND),
        (True, (FIRST, "released"), Standing.RELEASED),
        (False, (FIRST, "held"), Standing.ON_HOLD),
        (False, ("a word of a later program",), Standing.ON_HOLD),
    ],
)
def test_the_last_word_of_qa_rules_and_without_one_the_records_hold(qa_hold, words, standing):
    assert standing_of(qa_hold=qa_hold, words=words) is standing


@pytest.mark.parametrize(
    ("events", "standing", "notices"),
    [
        ((word("released"), SHIPPED), Standing.SHIPPED, ""),
        ((word(f"released{ALONE}"), SHIPPED), Standing.SHIPPED_ALONE, ""),
        ((word("released"), SHIPPED, word("held")), Standing.SHIPPED_HELD, "on hold"),
        # The bench did not know what the shop's desk had said.
        ((word("released"), word("held"), SHIPPED), Standing.SHIPPED_HELD, "on hold"),
        ((word("released"), SHIPPED, word("rejected")), Standing.SHIPPED_REJECTED, "rejected"),
        ((SHIPPED,), Standing.SHIPPED_UNRELEASED, "release withdrawn"),
        ((word("released"), SHIPPED, word("held"), word("released")), Standing.SHIPPED, ""),
        ((word("released"), SHIPPED, word("rejected"), TOLD), Standing.SHIPPED_REJECTED, ""),
        ((word("released"), SHIPPED, amended()), Standing.SHIPPED, "amended"),
        ((word("released"), SHIPPED, amended("fail")), Standing.SHIPPED_HELD, "amended, on hold"),
        ((word("released"), amended(), SHIPPED), Standing.SHIPPED, ""),
        ((word("released"), amended("pass")), Standing.ON_HOLD, ""),
        ((word("rejected"), amended("pass")), Standing.REJECTED, ""),
        ((word("released"), SHIPPED, BACK), Standing.RETURNED, ""),
        ((word("released"), SHIPPED, BACK, word("held")), Standing.ON_HOLD, ""),
        ((word("released"), SHIPPED, BACK, word("released")), Standing.RELEASED, ""),
        ((word("released"), SHIPPED, BACK, word("released"), SHIPPED), Standing.SHIPPED, ""),
    ],
)
def test_what_left_what_came_back_and_what_its_customer_is_to_be_told(events, standing, notices):
    course = course_of(events)
    assert standing_in(course, qa_hold=False) is standing
    assert notice_text(course.notices) == notices


def test_amendments_are_counted_and_those_that_touch_no_verdict_leave_it():
    course = course_of((word("released"), amended(), amended()))
    assert (course.amended, standing_in(course, qa_hold=True)) == (2, Standing.RELEASED)


def test_only_a_released_unit_in_the_shop_may_be_shipped():
    for standing in RELEASES:
        assert standing not in STOPPED | AT_CUSTOMER
    assert Standing.AWAITS_SECOND not in RELEASES
    assert Standing.RETURNED not in RELEASES


@pytest.mark.parametrize("decision", ["pass", "deviation", "fail"])
@pytest.mark.parametrize("standing", Standing)
def test_only_a_released_pass_may_look_good(decision, standing):
    released_pass = decision == "pass" and standing in (Standing.RELEASED, Standing.SHIPPED)
    assert may_look_good(decision, standing) is released_pass


def test_each_word_has_a_meaning_in_words():
    for plain in ("released", FIRST, "held", "rejected"):
        assert meaning_of(plain)
    assert "first of two" in meaning_of(FIRST)
    assert meaning_of(f"released{ALONE}").startswith(meaning_of("released"))
    assert "worked on it myself" in meaning_of(f"released{ALONE}")
    assert meaning_of("a word of a later program") == ""


def test_every_notice_has_its_place_in_the_text():
    assert notice_text(Notice) == ", ".join(Notice)
    assert notice_text(Course().notices) == ""
