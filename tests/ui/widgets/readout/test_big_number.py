"""The number: high enough, struck through when stale, and never cut off."""

from dataclasses import replace

import pytest

from benchstation.screens.model.elements import BigNumber, Tone
from benchstation.ui.shell.theme import DARK, DIGIT_HEIGHT_PX
from benchstation.ui.widgets.readout.big_number import BigNumberView

TO_GO = BigNumber("to go", "34.5", "g", Tone.PLAIN)
CHARGE = BigNumber("target 15.08 bar gauge", "15.21", "bar gauge", Tone.GOOD)


def fitted(shown, big, comfortable=600, room=700, high=800):
    view = shown(BigNumberView())
    view.show_number(big)
    view.fit(comfortable, room, high)
    return view


def ink(view) -> dict[str, int]:
    image = view.grab().toImage()
    counts: dict[str, int] = {}
    for x in range(0, image.width(), 2):
        for y in range(0, image.height(), 2):
            name = image.pixelColor(x, y).name()
            counts[name] = counts.get(name, 0) + 1
    return counts


@pytest.mark.parametrize("big", [TO_GO, CHARGE, replace(TO_GO, number="187.4")])
def test_digits_keep_their_height_in_the_room_of_a_small_screen(shown, big):
    view = fitted(shown, big, comfortable=430, room=545)
    assert view.digit_height_px >= DIGIT_HEIGHT_PX - 1
    assert view.width() <= 545


def test_digits_grow_with_the_window(shown):
    small = fitted(shown, TO_GO, high=800).digit_height_px
    large = fitted(shown, TO_GO, comfortable=900, room=1000, high=1200).digit_height_px
    assert large > small


def test_only_a_number_that_cannot_be_shown_is_drawn_smaller(shown):
    view = fitted(shown, replace(TO_GO, number="-123456.78"), comfortable=300, room=400)
    assert 48 <= view.digit_height_px < DIGIT_HEIGHT_PX
    assert view.width() <= 400


def test_the_width_does_not_shake_as_digits_go(shown):
    widths = {fitted(shown, replace(TO_GO, number=n)).width() for n in ("187.4", "99.9", "0.3")}
    assert len(widths) == 1


def test_the_unit_moves_into_the_caption_where_there_is_no_room_beside(shown):
    assert fitted(shown, TO_GO, comfortable=900, room=1000).caption() == "to go"
    assert fitted(shown, TO_GO, comfortable=500, room=545).caption() == "to go, g"
    # Not twice.
    narrow = fitted(shown, CHARGE, comfortable=500, room=545)
    assert narrow.caption() == "target 15.08 bar gauge"


def test_a_stale_number_is_faded_struck_through_and_says_so(shown):
    fresh = fitted(shown, replace(TO_GO, tone=Tone.GOOD))
    stale = fitted(shown, replace(TO_GO, tone=Tone.GOOD, stale=True))
    good = DARK.tone(Tone.GOOD).ink
    assert ink(fresh).get(good, 0) > 500
    assert ink(stale).get(good, 0) == 0
    assert ink(stale).get(DARK.faded, 0) > 500
    # The line across goes through the gap between the digits as well.
    image = stale.grab().toImage()
    middle = round(30 + 14 + stale.digit_height_px / 2)
    across = [image.pixelColor(x, middle).name() for x in range(5, 300)]
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
