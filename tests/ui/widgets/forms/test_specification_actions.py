"""What can be done with a specification, and why something cannot."""

from dataclasses import replace

import pytest

from benchstation.ui.widgets.forms.specification_actions import (
    ANEW,
    APPROVE,
    EXAMPLE,
    KEEP,
    NEW,
    WRITE,
    reading_actions,
    writing_actions,
)
from tests.ui.fake_specifications import DRAFT, IN_FORCE, opened

IN_USE, PROPOSED = (opened(row, 0.0, "reference") for row in (IN_FORCE, DRAFT))


def reading(detail, *, who="", empty=False, unkept=False, approving=False):
    actions = reading_actions(detail, who=who, empty=empty, unkept=unkept, approving=approving)
    return {action.id: action for action in actions}


@pytest.mark.parametrize(
    ("detail", "approving", "why"),
    [
        (None, False, "open a draft first"),
        (IN_USE, False, "open a draft first"),
        (replace(PROPOSED, problems=("x",)), False, "correct what is wrong first"),
        (PROPOSED, True, "it is being approved"),
        (PROPOSED, False, ""),
    ],
)
def test_only_a_draft_without_problems_can_be_approved(detail, approving, why):
    approve = reading(detail, approving=approving)[APPROVE]
    assert (approve.enabled, approve.why_not) == (not why, why)
    assert approve.primary is approve.enabled


def test_an_own_draft_is_approved_by_somebody_else():
    own = replace(PROPOSED, row=replace(PROPOSED.row, author="robin"))
    assert not reading(own, who="robin")[APPROVE].enabled
    assert reading(own, who="robin")[APPROVE].why_not
    assert reading(own, who="kim")[APPROVE].enabled


def test_an_empty_bench_starts_from_an_example():
    assert EXAMPLE in reading(None, empty=True)
    assert EXAMPLE not in reading(None)


def test_nothing_open_says_so():
    for name in (WRITE, NEW):
        assert reading(None)[name].why_not == "choose a revision first"


def test_a_text_that_waits_can_be_gone_on_with_or_left_for_another():
    waits = reading(IN_USE, unkept=True)
    assert waits[NEW].label == "Continue writing"
    assert waits[ANEW].enabled
    assert ANEW not in reading(IN_USE)
    assert reading(None, unkept=True)[NEW].enabled


def test_every_action_has_its_own_key_and_a_disabled_one_says_why():
    for actions in (
        reading(None, unkept=True).values(),
        reading(PROPOSED, unkept=True).values(),
        reading(None, empty=True).values(),
        reading(None, empty=True, unkept=True).values(),
        writing_actions(("x",), keeping=False),
        writing_actions((), keeping=True),
    ):
        keys = [action.key for action in actions]
        assert len(set(keys)) == len(keys)
        assert all(keys)
        assert all(action.enabled or action.why_not for action in actions)


def test_a_text_is_kept_when_nothing_is_wrong_with_it():
    (keep,) = (a for a in writing_actions((), keeping=False) if a.id == KEEP)
    assert keep.enabled
    assert keep.key == "Ctrl+S"
