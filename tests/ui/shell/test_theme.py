"""Contrast as WCAG 2.2 defines it, and the size that can be read from two metres."""

import math

import pytest

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.theme import (
    DARK,
    DIGIT_HEIGHT_PX,
    LIGHT,
    TARGET_PX,
    contrast,
    style_sheet,
)

READING, TEXT, MARK = 7.0, 4.5, 3.0
PALETTES = pytest.mark.parametrize("palette", [DARK, LIGHT], ids=lambda p: p.name)
TONES = pytest.mark.parametrize("tone", list(Tone))
# 24 inches in 16:9 are 531.3 mm wide; 1920 pixels on it are 0.2767 mm apart.
PITCH_MM = 24 * 25.4 * 16 / math.hypot(16, 9) / 1920


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [
        # WCAG 2.2, definition of contrast ratio: 21 for black on white, 1 for equal colours.
        ("#000000", "#ffffff", 21.0),
        ("#123456", "#123456", 1.0),
        # WCAG's relative luminance of the primaries: 0.2126, 0.7152, 0.0722.
        ("#ff0000", "#000000", (0.2126 + 0.05) / 0.05),
        ("#00ff00", "#000000", (0.7152 + 0.05) / 0.05),
        ("#0000ff", "#ffffff", 1.05 / (0.0722 + 0.05)),
        # The usual example of the least grey that passes 4.5:1 on white.
        ("#767676", "#ffffff", 4.54),
    ],
)
def test_contrast_is_that_of_wcag(one, other, ratio):
    assert contrast(one, other) == pytest.approx(ratio, abs=0.005)
    assert contrast(other, one) == contrast(one, other)


@PALETTES
def test_a_reading_in_any_tone_has_seven_to_one(palette):
    for ground in (palette.panel,):
        assert contrast(palette.text, ground) >= READING
        for tone in (Tone.PLAIN, Tone.GOOD, Tone.CAUTION, Tone.DANGER, Tone.MANDATORY):
            assert contrast(palette.tone(tone).ink, ground) >= READING, tone


@PALETTES
def test_all_other_text_has_four_and_a_half_to_one(palette):
    pairs = [
        (palette.quiet, palette.panel),
        (palette.quiet, palette.ground),
        (palette.quiet, palette.well),
        (palette.text, palette.raised),
        (palette.text, palette.pressed),
        (palette.text, palette.well),
        (palette.text, palette.ground),
        (palette.faded, palette.panel),
    ]
    for ink, ground in pairs:
        assert contrast(ink, ground) >= TEXT, (ink, ground)


@PALETTES
@TONES
def test_text_on_a_wash_and_signs_on_a_mark_can_be_read(palette, tone):
    colours = palette.tone(tone)
    assert contrast(palette.text, colours.wash) >= READING
    assert contrast(palette.quiet, colours.wash) >= TEXT
    assert contrast(colours.sign, colours.fill) >= TEXT


@PALETTES
@TONES
def test_marks_stand_out_by_fill_or_edge(palette, tone):
    # WCAG 2.2, 1.4.11: 3:1 for graphics. A mark is drawn with an edge in its ink.
    colours = palette.tone(tone)
    best = max(contrast(colours.ink, palette.panel), contrast(colours.fill, palette.panel))
    assert best >= MARK


@PALETTES
@TONES
def test_words_and_marks_of_a_chosen_row_can_be_read(palette, tone):
    # A chosen row and the step at hand stand on the wash of what is to be done.
    wash, colours = palette.tone(Tone.MANDATORY).wash, palette.tone(tone)
    assert contrast(colours.ink, wash) >= TEXT
    assert contrast(palette.quiet, wash) >= TEXT
    assert contrast(colours.ink, colours.wash) >= TEXT


@PALETTES
@TONES
def test_a_mark_is_known_by_its_edge_wherever_it_stands(palette, tone):
    colours = palette.tone(tone)
    for ground in (palette.panel, palette.ground, colours.wash, palette.tone(Tone.MANDATORY).wash):
        assert contrast(colours.ink, ground) >= MARK, ground


@PALETTES
def test_what_is_entered_or_moved_has_an_edge_that_is_seen(palette):
    # A banner holds a field too.
    banners = (palette.tone(tone).wash for tone in (Tone.DANGER, Tone.CAUTION))
    for ground in (palette.panel, palette.well, palette.ground, palette.raised, *banners):
        assert contrast(palette.edge, ground) >= MARK, ground


@PALETTES
def test_buttons_say_what_they_are_in_every_state(palette):
    blue = palette.tone(Tone.MANDATORY)
    for ink, ground in (
        (palette.text, palette.raised),
        (palette.text, palette.pressed),
        (blue.sign, blue.fill),
        (palette.quiet, palette.panel),
        (palette.text, palette.panel),
    ):
        assert contrast(ink, ground) >= TEXT, (ink, ground)
    # The ring of the keyboard lies between button and page.
    assert max(contrast(palette.focus, g) for g in (palette.ground, palette.raised)) >= MARK
    assert contrast(palette.focus, palette.well) >= MARK


@PALETTES
def test_drawn_parts_stand_out_from_what_they_lie_on(palette):
    # The parts of the damper have an edge in the colour of text; the stack has none.
    assert contrast(palette.text, palette.panel) >= MARK
    assert contrast(palette.metal, palette.panel) >= MARK
    assert contrast(palette.tone(Tone.PLAIN).fill, palette.panel) >= MARK
    assert contrast(palette.oil_ink, palette.oil) >= MARK
    assert contrast(palette.quiet, palette.gas) >= MARK


@PALETTES
def test_a_faded_reading_does_not_look_like_a_good_one(palette):
    assert contrast(palette.faded, palette.text) >= 2.0


@PALETTES
def test_focus_and_trace_can_be_seen(palette):
    assert contrast(palette.focus, palette.panel) >= MARK
    assert contrast(palette.trace, palette.panel) >= MARK


@PALETTES
@pytest.mark.parametrize(
    ("tone", "strongest"),
    # IEC 60073: red danger, yellow caution, green normal, blue mandatory.
    [(Tone.DANGER, "r"), (Tone.CAUTION, "rg"), (Tone.GOOD, "g"), (Tone.MANDATORY, "b")],
)
def test_colours_mean_what_the_standard_says(palette, tone, strongest):
    fill = palette.tone(tone).fill
    parts = dict(zip("rgb", (int(fill[k : k + 2], 16) for k in (1, 3, 5)), strict=True))
    weakest_of_strong = min(parts[name] for name in strongest)
    assert all(parts[name] < weakest_of_strong for name in parts if name not in strongest)


def test_digits_are_a_sixtieth_of_two_metres():
    assert DIGIT_HEIGHT_PX * PITCH_MM >= 2000 / 60


def test_targets_are_fifteen_millimetres():
    assert TARGET_PX * PITCH_MM >= 15


@PALETTES
def test_the_sheet_names_every_tone(palette):
    sheet = style_sheet(palette)
    for tone in Tone:
        assert f'QLabel[tone="{tone}"] {{ color: {palette.tone(tone).ink}; }}' in sheet
