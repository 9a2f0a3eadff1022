"""Terms: whole, with their source, on as many lines as they need, and plain."""

from dataclasses import replace

import pytest
from PySide6.QtWidgets import QApplication

from benchstation.screens.model.elements import TermGroup, TermView
from benchstation.ui.widgets.readout.terms import WIDEST_PX, Term, Terms
from tests.ui.fake_moments import OIL_WHY

LONG = TermView("Body rating", "80.00 bar gauge, hot full bump", "the maker's drawing, sheet 3")
ALL = [term for group in OIL_WHY for term in group.terms]
SHORT = TermView("Mass", "222.22 g")


def term(shown, view, width=240) -> Term:
    made = shown(Term(), size=(width, 100))
    made.show_term(view)
    return made


def test_short_ones_share_a_line(shown):
    name, value, source, _ = term(shown, SHORT).boxes(240)
    assert name.top() == value.top()
    assert name.right() < value.left()
    assert source.height() == 0


def test_long_ones_do_not_and_nothing_overlaps(shown):
    made = term(shown, LONG)
    name, value, source, high = made.boxes(160)
    assert name.bottom() < value.top()
    assert value.bottom() < source.top()
    assert source.bottom() < high
    assert made.heightForWidth(160) > made.heightForWidth(600)


def test_a_lot_of_sixty_letters_is_broken_and_not_cut(shown):
    lot = "L" + 50 * "x" + "2026-0417"
    made = term(shown, TermView("Oil lot", lot, lot), 180)
    made.resize(180, made.heightForWidth(180))
    assert made.words_fit()
    assert made.heightForWidth(180) > made.heightForWidth(700)
    assert made.accessibleName() == f"Oil lot: {lot}, {lot}"


def test_in_a_wide_place_the_value_stays_near_its_name(shown):
    made = term(shown, SHORT, 3000)
    name, value, _, high = made.boxes(3000)
    assert value.right() <= WIDEST_PX
    assert name.top() == value.top()
    assert made.heightForWidth(3000) == high


@pytest.mark.parametrize("width", [150, 200, 300, 500])
@pytest.mark.parametrize(
    "view", [t for group in OIL_WHY for t in group.terms], ids=lambda t: t.label
)
def test_no_part_of_any_term_leaves_its_width(shown, view, width):
    made = term(shown, view, width)
    for box in made.boxes(width)[:3]:
        assert box.left() >= 0
        assert box.right() <= width


def test_a_term_speaks_with_its_source(shown):
    assert term(shown, LONG).accessibleName() == (
        "Body rating: 80.00 bar gauge, hot full bump, the maker's drawing, sheet 3"
    )
    assert term(shown, SHORT).accessibleName() == "Mass: 222.22 g"


def test_a_changed_value_keeps_its_row(shown):
    terms = shown(Terms(), size=(240, 900))
    terms.show_groups(OIL_WHY)
    rows = list(terms.terms)
    assert len(rows) == sum(len(group.terms) for group in OIL_WHY)
    first = OIL_WHY[0].terms[0]
    changed = TermGroup("Target", (replace(first, value="263.0 mL"), *OIL_WHY[0].terms[1:]))
    terms.show_groups((changed, *OIL_WHY[1:]))
    assert terms.terms == rows
    assert rows[0].shown.value == "263.0 mL"


def test_other_groups_make_other_rows_and_leave_none_behind(shown):
    terms = shown(Terms(), size=(240, 900))
    terms.show_groups(OIL_WHY)
    terms.show_groups((TermGroup("", (SHORT,)),))
    QApplication.processEvents()
    assert [t.shown for t in terms.terms] == [SHORT]
    assert [w for w in terms.findChildren(Term) if w.isVisible()] == terms.terms
    terms.show_groups(())
    assert terms.terms == []


def test_the_same_term_is_not_drawn_again(shown, monkeypatch):
    made = term(shown, SHORT)
    monkeypatch.setattr(made, "update", lambda: pytest.fail("drawn again"))
    made.show_term(replace(SHORT))
