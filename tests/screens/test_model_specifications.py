"""What is typed into a form, as the value that the text gets."""

import pytest

from benchstation.screens.model.specifications import SheetField, SheetKind, written

Q, N, T, B = SheetKind.QUANTITY, SheetKind.NUMBER, SheetKind.TEXT, SheetKind.CHECK


@pytest.mark.parametrize(
    ("kind", "typed", "value"),
    [
        (Q, "46", "46 mm"),
        (Q, " 46.5 ", "46.5 mm"),
        (Q, "0,5", "0,5 mm"),
        (Q, "-3", "-3 mm"),
        (Q, "\N{MINUS SIGN}3", "\N{MINUS SIGN}3 mm"),
        (Q, "1.8 in", "1.8 in"),
        (Q, "46 m", "46 m"),
        (Q, "4x", "4x"),
        (Q, "", ""),
        (N, "8", 8),
        (N, "8.5", "8.5"),
        (N, "٣", "٣"),
        (T, " as typed ", " as typed "),
        (B, "yes", True),
        (B, "", False),
    ],
)
def test_a_bare_number_gets_the_unit_and_the_rest_stays_as_typed(kind, typed, value):
    made = written(SheetField("x", "X", kind, unit="mm" if kind is Q else ""), typed)
    assert made == value
    assert type(made) is type(value)


def test_nothing_typed_takes_out_what_may_be_left_out():
    assert written(SheetField("x", "X", Q, unit="mm", left_out=True), " ") is None
