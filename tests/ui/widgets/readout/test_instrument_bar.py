"""The strip: value, health and age, stale at once, in words as well as in colour."""

from dataclasses import replace

import pytest

from benchstation.screens.model.elements import Tone
from benchstation.ui.shell.theme import DARK
from benchstation.ui.widgets.readout.instrument_bar import InstrumentBar, Reading
from benchstation.ui.widgets.readout.small_reading import SmallReading
from tests.ui.fake_moments import GAUGE, SCALE, STALE_SCALE, pour


def colours(widget) -> set[str]:
    image = widget.grab().toImage()
    return {image.pixelColor(x, y).name() for x in range(image.width()) for y in range(40, 75)}


def reading(shown, view) -> Reading:
    made = shown(Reading(), size=(440, 84))
    made.show_reading(view)
    return made


def test_a_reading_says_everything_in_words(shown):
    made = reading(shown, SCALE)
    assert made.accessibleName() == "Scale"
    assert made.accessibleDescription() == "187.4 g, normal, steady, checked today"


def test_a_stale_reading_says_that_it_is_stale_and_how_old(shown):
    made = reading(shown, STALE_SCALE)
    assert "stale, 4.2 s old" in made.accessibleDescription()
    assert "danger" in made.accessibleDescription()


def test_a_stale_reading_is_faded_and_struck_through(shown):
    fresh, stale = reading(shown, SCALE), reading(shown, STALE_SCALE)
    assert DARK.text in colours(fresh)
    assert DARK.faded not in colours(fresh)
    assert DARK.faded in colours(stale)
    # The line across is unbroken from before the first digit to after the last.
    image = stale.grab().toImage()
    line = max(
        sum(image.pixelColor(x, y).name() == DARK.text for x in range(42, 160))
        for y in range(45, 68)
    )
    assert line >= 115


def test_a_stale_reading_without_an_age_is_still_stale(shown):
    made = reading(shown, replace(STALE_SCALE, age=""))
    assert "stale" in made.accessibleDescription()


@pytest.mark.parametrize("tone", [Tone.DANGER, Tone.CAUTION])
def test_a_reading_in_trouble_takes_its_colour(shown, tone):
    made = reading(shown, replace(GAUGE, tone=tone))
    assert DARK.tone(tone).ink in colours(made)


def test_markup_from_a_device_is_plain_words(shown):
    made = reading(shown, replace(SCALE, words=("<b>steady</b>",)))
    assert "<b>steady</b>" in made.accessibleDescription()
    with_tags = made.grab().toImage()
    made.show_reading(replace(SCALE, words=("steady",)))
    # Obeyed as markup, both would look alike but for the weight; as text one is much longer.
    without = made.grab().toImage()

    def last(image) -> int:
        rows = range(image.height())
        return max(
            x
            for x in range(200, image.width())
            for y in rows
            if image.pixelColor(x, y).name() == DARK.quiet
        )

    assert last(with_tags) > last(without) + 30


def test_the_same_reading_is_not_drawn_again(shown, monkeypatch):
    made = reading(shown, SCALE)
    drawn = []
    monkeypatch.setattr(made, "update", lambda: drawn.append(1))
    made.show_reading(replace(SCALE))
    assert drawn == []
    made.show_reading(replace(SCALE, number="187.5"))
    assert drawn == [1]


def test_the_strip_shows_all_instruments_and_who_stands_there(shown):
    strip = shown(InstrumentBar(), size=(1280, 84))
    strip.show_view(pour())
    assert [r.shown for r in strip.readings] == [SCALE, GAUGE]
    assert strip.person.text() == "Technician 07"
    assert "Bench 2" in strip.place.text()
    assert "1009 hPa" in strip.around.text()
    strip.show_view(replace(pour(), strip=(SCALE,)))
    assert [r.isVisible() for r in strip.readings] == [True, False]


def others(count):
    return tuple(
        replace(SCALE, id=f"t-{n}", title=f"Thermometer, place {n}", number="21.4", unit="°C",
                beside=True)
        for n in range(count)
    )  # fmt: skip


def test_what_the_step_does_not_rest_on_stands_small_beside_it(shown):
    strip = shown(InstrumentBar(), size=(1280, 84))
    strip.show_view(replace(pour(), strip=(SCALE, *others(3), GAUGE)))
    strip.layout().activate()
    assert [r.shown for r in strip.readings] == [SCALE, GAUGE]
    assert [r.accessibleName() for r in strip.beside] == [
        f"Thermometer, place {n}" for n in (0, 1, 2)
    ]
    assert strip.beside[0].accessibleDescription() == "21.4 °C, normal, steady, checked today"
    boxes = [r.geometry() for r in (*strip.readings, *strip.beside)]
    assert not any(a.intersects(b) for n, a in enumerate(boxes) for b in boxes[:n])
    assert all(r.width() >= r.minimumSizeHint().width() for r in strip.readings)
    assert strip.width() == 1280
    strip.show_view(replace(pour(), strip=(SCALE, GAUGE)))
    assert not any(r.isVisible() for r in strip.beside)


def test_a_small_reading_that_is_stale_is_struck_through_and_says_so(shown):
    made = shown(SmallReading(), size=(164, 42))
    made.show_reading(replace(STALE_SCALE, beside=True))
    assert "stale, 4.2 s old" in made.accessibleDescription()
    image = made.grab().toImage()
    assert DARK.faded in {
        image.pixelColor(x, y).name() for x in range(image.width()) for y in range(18, 42)
    }


def test_readings_do_not_overlap(shown):
    strip = shown(InstrumentBar(), size=(1180, 84))
    strip.show_view(pour())
    strip.layout().activate()
    first, second = (r.geometry() for r in strip.readings)
    assert first.right() < second.left()
    assert all(r.width() >= r.minimumSizeHint().width() for r in strip.readings)
