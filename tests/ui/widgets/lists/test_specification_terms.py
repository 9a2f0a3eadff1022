"""Figures and changes of one specification."""

from dataclasses import replace

import pytest

from benchstation.ui.widgets.lists.specification_terms import FIRST, SAME, SpecificationTerms
from tests.ui.fake_specifications import DRAFT, IN_FORCE, OLDER, OTHER, opened


def detail(row):
    return opened(row, 0.0, "reference")


@pytest.fixture
def terms(shown):
    return shown(SpecificationTerms(), size=(300, 500))


def test_empty_it_teaches(terms):
    assert "window that the oil must lie in" in terms.empty.text()
    assert not terms.terms.isVisible()


def test_changes_stand_above_the_figures(terms):
    terms.show_detail(detail(DRAFT), "the revision in force")
    assert terms.title.text() == "Changes against the revision in force"
    assert terms.changes.shown == detail(DRAFT).changes
    assert terms.changes.geometry().bottom() < terms.terms.geometry().top()
    groups = detail(DRAFT).groups
    assert [t.shown for t in terms.terms.terms] == [t for g in groups for t in g.terms]
    assert not terms.same.isVisible()


@pytest.mark.parametrize(("row", "words"), [(OLDER, FIRST), (OTHER, FIRST)])
def test_the_first_revision_says_so(terms, row, words):
    terms.show_detail(detail(row), "revision 0")
    assert terms.same.text() == words
    assert not terms.changes.isVisible()


def test_no_difference_is_said(terms):
    terms.show_detail(replace(detail(IN_FORCE), changes=()), "revision 1")
    assert terms.same.text() == SAME


def test_figures_of_an_older_text_say_so_until_new_ones_come(terms):
    terms.show_old()
    assert not terms.old.isVisible(), "nothing stands here that could be old"
    terms.show_detail(detail(DRAFT), "the revision in force")
    terms.show_old()
    assert terms.old.isVisible()
    assert terms.terms.isVisible()
    terms.show_detail(detail(DRAFT), "the revision in force")
    assert not terms.old.isVisible()


def test_nothing_again(terms):
    terms.show_detail(detail(DRAFT), "the revision in force")
    terms.show_nothing()
    assert terms.empty.isVisible()
    assert not terms.terms.isVisible()
