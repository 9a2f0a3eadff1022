"""The drawing at the bench: levels, what is lit, open or shut, and no more drawing than changes."""

from dataclasses import replace

import pytest
from PySide6.QtGui import QColor

from benchstation.screens.model.damper import (
    BODY,
    FLOATING,
    NITROGEN,
    OIL,
    OPEN,
    ROD,
    SHUT,
    WHOLE,
    LiveDamperView,
)
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.specifications import DrawingView
from benchstation.ui.shell.theme import DARK, LIGHT
from benchstation.ui.widgets.drawings.live_damper import LiveDamper
from tests.ui.waiting import settled

UNIT = DrawingView("", 0.046, 0.32, 0.014, 0.08, 0.1, 0.26, 0.276, 0.15)
LIVE = LiveDamperView(UNIT, OIL, 0.5, 0.0, "50 % in")


def drawn(shown, live, theme=DARK):
    made = shown(LiveDamper(), size=(700, 90), theme=theme)
    made.show_live(live)
    made.show()
    return made


def inks(made, box) -> set[str]:
    image = made.grab().toImage()
    left, top = round(box.left()) + 3, round(box.top()) + 3
    wide, high = round(box.width()) - 6, round(box.height()) - 6
    return {image.pixelColor(left + x, top + y).name() for x in range(wide) for y in range(high)}


@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
def test_oil_stands_as_high_as_its_share(shown, theme):
    made = drawn(shown, LIVE, theme)
    box = made.parts()[OIL]
    upper, lower = (
        box.adjusted(0, 0, 0, -box.height() * 0.6),
        box.adjusted(0, box.height() * 0.6, 0, 0),
    )
    assert theme.oil in inks(made, lower)
    assert theme.oil not in inks(made, upper)


def test_gas_is_known_without_colour_by_its_dots(shown):
    made = drawn(shown, replace(LIVE, lit=NITROGEN, gas=0.0))
    empty = len(inks(made, made.parts()[NITROGEN]))
    made.show_live(replace(LIVE, lit=NITROGEN, gas=1.0))
    assert len(inks(made, made.parts()[NITROGEN])) > empty


@pytest.mark.parametrize("size", [(700, 80), (1100, 120), (560, 100)])
@pytest.mark.parametrize("lit", [NITROGEN, OIL, FLOATING])
def test_all_of_it_stays_inside_and_keeps_its_proportions(shown, size, lit):
    made = drawn(shown, replace(LIVE, lit=lit))
    made.resize(*size)
    for name, box in made.parts().items():
        assert made.rect().toRectF().adjusted(-1, -1, 1, 1).contains(box), name
    body = made.parts()[BODY]
    assert body.width() / body.height() == pytest.approx(UNIT.length / UNIT.bore)


def test_open_and_shut_differ_in_shape_and_word(shown):
    made = drawn(shown, replace(LIVE, lit=NITROGEN, valve=OPEN))
    opened = made.grab().toImage()
    assert OPEN in made.accessibleDescription()
    made.show_live(replace(LIVE, lit=NITROGEN, valve=SHUT))
    assert SHUT in made.accessibleDescription()
    assert made.grab().toImage() != opened
    blue = DARK.tone(Tone.MANDATORY).ink
    line = [opened.pixelColor(x, round(made.middle)).name() for x in range(40, 60)]
    assert blue in line


def test_it_is_drawn_only_when_something_changed(shown, monkeypatch):
    made = drawn(shown, LIVE)
    asked = []
    monkeypatch.setattr(made, "update", lambda: asked.append(1))
    made.show_live(replace(LIVE))
    assert asked == []
    made.show_live(replace(LIVE, oil=0.52))
    assert asked == [1]


def test_it_is_drawn_again_only_when_something_changed(shown, monkeypatch):
    drawings = []
    paint = LiveDamper.paintEvent

    def counted(self, event):
        drawings.append(self.live)
        paint(self, event)

    monkeypatch.setattr(LiveDamper, "paintEvent", counted)
    made = drawn(shown, LIVE)
    settled()
    before = len(drawings)
    assert before >= 1
    for _ in range(50):
        made.show_live(replace(LIVE))
        settled()
    assert len(drawings) == before
    for count in range(3):
        made.show_live(replace(LIVE, oil=0.6 + count / 10))
        settled()
    assert len(drawings) == before + 3


def test_the_whole_unit_is_lit_as_tube_and_rod(shown):
    made = drawn(shown, replace(LIVE, lit=WHOLE, lit_words=""))
    blue = QColor(DARK.tone(Tone.MANDATORY).ink).name()
    image = made.grab().toImage()
    for box in (made.parts()[BODY], made.parts()[ROD]):
        edge = image.pixelColor(round(box.center().x()), round(box.bottom()) - 1)
        assert edge.name() == blue


def test_what_the_piston_s_place_rests_on_is_said(shown):
    made = drawn(shown, replace(LIVE, rests_on="piston by the specified fill"))
    assert "piston by the specified fill" in made.accessibleDescription()
