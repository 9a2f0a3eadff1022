"""Plain text, whatever it holds, and sizes that cut no word."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtGui import QFont, QFontMetrics, QFontMetricsF
from PySide6.QtWidgets import QWidget

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.labels import (
    BREAK,
    FitLabel,
    broken,
    digit_font,
    fitting_px,
    label,
    palette_of,
    set_tone,
    sized,
    widest_part,
)
from benchstation.ui.shell.theme import DARK, DIGIT_HEIGHT_PX, LIGHT

SIZES = (30, 23, 17, 14)


def test_markup_is_shown_and_not_obeyed(qapp):
    made = label("<b>bold</b> &amp; <img src='x'>")
    assert made.textFormat() is Qt.TextFormat.PlainText
    plain = label("x" * len(made.text()))
    # Obeyed, the tags would take no room at all.
    assert made.sizeHint().width() > plain.sizeHint().width() / 2
    made.deleteLater()
    plain.deleteLater()


@pytest.mark.parametrize("family", ["DejaVu Sans", "DejaVu Serif", "DejaVu Sans Mono"])
def test_digits_are_as_high_as_asked_in_any_family(qapp, family):
    font = digit_font(QFont(family), DIGIT_HEIGHT_PX)
    high = QFontMetricsF(font).tightBoundingRect("0").height()
    # One pixel of font size is about 0.73 of a pixel of digit.
    assert high == pytest.approx(DIGIT_HEIGHT_PX, abs=1.0)


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("slow down", "slow"),
        ("Nachlaufmenge entnehmen", "Nachlaufmenge"),
        ("SN-000123-ABC", "SN-000123-"),
        ("a well-known word", "known"),
        ("g/mL and so on", "and"),
        ("", ""),
    ],
)
def test_the_widest_part_is_what_a_line_break_leaves_whole(qapp, text, part):
    metrics = QFontMetrics(QFont("DejaVu Sans Mono"))
    assert widest_part(text, metrics) == metrics.horizontalAdvance(part)


@given(st.text("abcdefgh -/0123456789", max_size=60), st.integers(60, 500))
def test_the_size_is_one_of_those_given_and_cuts_no_word_if_any_does(text, room):
    font = QFont("DejaVu Sans")
    pixels = fitting_px(text, room, font, SIZES)
    assert pixels in SIZES
    if widest_part(text, QFontMetrics(sized(font, SIZES[-1]))) <= room and pixels != SIZES[-1]:
        assert widest_part(text, QFontMetrics(sized(font, pixels))) <= room


def test_a_fit_label_shrinks_for_a_long_word_and_grows_back(shown):
    made = shown(FitLabel(SIZES), size=(230, 80))
    made.show_text("stop")
    assert "font-size: 30px" in made.styleSheet()
    made.show_text("Restmengenbestimmung")
    small = made.styleSheet()
    assert "font-size: 30px" not in small
    made.resize(600, 80)
    assert "font-size: 30px" in made.styleSheet()


LONG = "Stickstoffdruckpruefvorrichtungsbeauftragte"


@given(st.text("abcdefghij -/0123456789", max_size=60), st.integers(30, 500))
def test_breaks_change_no_letter_and_leave_no_part_wider_than_its_place(text, room):
    metrics = QFontMetrics(QFont("DejaVu Sans"))
    found = broken(text, metrics, room)
    assert found.replace(BREAK, "") == text
    assert widest_part(found, metrics) <= room
    if widest_part(text, metrics) <= room:
        assert found == text


@pytest.mark.parametrize("make", [lambda: label("", "title", wrap=True), lambda: FitLabel(SIZES)])
def test_a_word_wider_than_its_place_takes_more_lines_and_is_told_whole(shown, make):
    made = shown(make(), size=(150, 200))
    made.setText(f"{LONG} 0417")
    assert made.text() == made.accessibleName() == f"{LONG} 0417"
    metrics = made.fontMetrics()
    assert widest_part(made.shown(), metrics) <= 150
    assert made.heightForWidth(150) >= 3 * metrics.height()
    made.resize(1500, 200)
    assert made.shown() == made.text()
    assert made.accessibleName() == ""


def test_a_label_on_one_line_is_left_as_it_is(shown):
    made = shown(label(), size=(50, 40))
    made.setText(LONG)
    assert made.shown() == LONG


def test_a_widget_has_the_colours_of_its_window(qapp, qtbot):
    window = QWidget()
    inner = QWidget(window)
    qtbot.addWidget(window)
    assert palette_of(inner) is DARK
    window.theme = LIGHT
    assert palette_of(inner) is LIGHT


def test_a_tone_is_a_property_that_the_sheet_asks_for(qapp):
    made = label("x")
    set_tone(made, Tone.DANGER)
    assert made.property("tone") == "danger"
    set_tone(made, None)
    assert made.property("tone") is None
    made.deleteLater()
