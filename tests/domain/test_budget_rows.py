"""Contributions to an uncertainty: their codes, their words, and what older records hold."""

import pytest

from benchstation.domain.budget_rows import WORDS, Row, name_from_words, name_of, row_of, words_of
from benchstation.domain.recorded_parts import BudgetPart


@pytest.mark.parametrize("row", Row)
@pytest.mark.parametrize("of", ["", "L-0417", "scale-2 2026-01-02 C-9"])
def test_every_contribution_has_its_words_and_is_found_by_them(row, of):
    name = name_of(row, of)
    assert words_of(name).startswith(WORDS[row])
    assert words_of(name).endswith(of)
    assert name_from_words(words_of(name)) == name


def test_the_words_differ():
    assert len(set(WORDS.values())) == len(Row)


def test_what_is_not_known_stands_as_it_is():
    assert words_of("moon phase: full") == "moon phase: full"
    assert name_from_words("moon phase") == "moon phase"


def test_a_row_on_record_says_what_it_is():
    part = BudgetPart("oil_density: L-1", "normal", None, 1.0, 1.0, 1.0, None, 1.0)
    assert row_of(part) is Row.OIL_DENSITY
