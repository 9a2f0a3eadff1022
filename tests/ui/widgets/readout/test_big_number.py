"""The number: high enough, its point at one place, struck through when stale, and never cut off."""

from dataclasses import replace

import pytest

from benchstation.screens.model.elements import BigNumber, Tone
from benchstation.ui.shell import text_scale
from benchstation.ui.shell.theme import DARK, DIGIT_HEIGHT_PX
from benchstation.ui.widgets.readout.big_number import BigNumberView
from benchstation.ui.widgets.readout.grid import number_width

TO_GO = BigNumber("to go", "34.5", "g", Tone.PLAIN)
CHARGE = BigNumber("target 15.08 bar gauge", "15.21", "bar gauge", Tone.GOOD)
NUMBERS = ("0.3", "34.5", "−187.4", "+222.1", "15.21", "−0.03", "3512.4", "+1234.5", "218.7")


def fitted(shown, big, digit=float(DIGIT_HEIGHT_PX)):
    view = shown(BigNumberView())
    view.show_number(big)
    view.fit(digit)
    return view


def ink(view) -> dict[str, int]:
    image = view.grab().toImage()
    counts: dict[str, int] = {}
    for x in range(0, image.width(), 2):
        for y in range(0, image.height(), 2):
            name = image.pixelColor(x, y).name()
            counts[name] = counts.get(name, 0) + 1
    return counts


@pytest.mark.parametrize("percent", [100, 125, 150])
@pytest.mark.parametrize("number", [*NUMBERS, "−123456.78"])
def test_whatever_stands_there_is_whole_and_has_the_height_of_the_grid(shown, number, percent):
    text_scale.choose(percent)
    view = fitted(shown, replace(TO_GO, number=number))
    assert view.digit_height_px >= DIGIT_HEIGHT_PX - 1
    assert view.width() == number_width(DIGIT_HEIGHT_PX)
    assert view.fits()


@pytest.mark.parametrize("number", NUMBERS)
def test_the_decimal_point_stands_at_one_x(shown, number):
    view = fitted(shown, replace(TO_GO, number=number))
    point = next(box for words, box, _ in view.pieces() if words.startswith("."))
    assert point.left() == pytest.approx(view.point_x)
    before = [box for words, box, _ in view.pieces() if not words.startswith(".")]
    assert max(box.right() for box in before) == pytest.approx(view.point_x)


def test_a_sign_stands_before_its_digits(shown):
    view = fitted(shown, replace(TO_GO, number="−187.4"))
    whole, sign, rest = view.pieces()
    assert (sign[0], whole[0], rest[0]) == ("−", "187", ".4")
    assert sign[1].right() == pytest.approx(whole[1].left())


def test_digits_are_as_high_as_the_grid_says(shown):
    assert fitted(shown, TO_GO, 160.0).digit_height_px > fitted(shown, TO_GO).digit_height_px


def test_unit_and_uncertainty_stand_above(shown):
    assert fitted(shown, TO_GO).caption() == "to go, g"
    assert fitted(shown, replace(TO_GO, spread="U 0.15 g")).caption() == "to go, g   U 0.15 g"
    # Not twice.
    assert fitted(shown, CHARGE).caption() == "target 15.08 bar gauge"


def test_a_stale_number_is_faded_struck_through_and_says_so(shown):
    fresh = fitted(shown, replace(TO_GO, tone=Tone.GOOD))
    stale = fitted(shown, replace(TO_GO, tone=Tone.GOOD, stale=True))
    good = DARK.tone(Tone.GOOD).ink
    assert ink(fresh).get(good, 0) > 500
    assert ink(stale).get(good, 0) == 0
    assert ink(stale).get(DARK.faded, 0) > 500
    # The line across goes through the gap between the digits as well.
    image = stale.grab().toImage()
    middle = round(stale.base_y - stale.digit_height_px / 2)
    places = [box for _, box, _ in stale.pieces()]
    start = min(box.left() for box in places) + 4
    end = max(box.right() for box in places) - 4
    across = [image.pixelColor(x, middle).name() for x in range(round(start), round(end))]
    assert set(across) == {DARK.text}
    assert "too old" in stale.caption()
    assert "do not rely" in stale.accessibleDescription()


def test_the_same_number_is_not_drawn_again(shown, monkeypatch):
    view = fitted(shown, TO_GO)
    drawn = []
    monkeypatch.setattr(view, "update", lambda: drawn.append(1))
    view.show_number(replace(TO_GO))
    assert drawn == []
    view.show_number(replace(TO_GO, number="34.4"))
    assert drawn == [1]
