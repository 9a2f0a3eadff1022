"""Every meaning has a shape of its own: told apart without colour."""

from PySide6.QtCore import QRectF
from PySide6.QtGui import QImage, QPainter

from benchstation.screens.model.elements import StepState, Tone
from benchstation.ui.shell.theme import DARK
from benchstation.ui.widgets.readout.mark import Mark, paint_mark, paint_step

SIDE = 40


def outline(paint) -> frozenset[tuple[int, int]]:
    """Return the pixels that are painted at all, whatever their colour."""
    image = QImage(SIDE, SIDE, QImage.Format.Format_ARGB32)
    image.fill(0)
    painter = QPainter(image)
    paint(painter, QRectF(0, 0, SIDE, SIDE))
    painter.end()
    return frozenset(
        (x, y) for x in range(SIDE) for y in range(SIDE) if image.pixelColor(x, y).alpha() > 128
    )


def inner_sign(tone: Tone) -> frozenset[tuple[int, int]]:
    """Return the pixels of the sign on the mark: those unlike its fill."""
    image = QImage(SIDE, SIDE, QImage.Format.Format_ARGB32)
    image.fill(0)
    painter = QPainter(image)
    paint_mark(painter, QRectF(0, 0, SIDE, SIDE), tone, DARK)
    painter.end()
    sign = DARK.tone(tone).sign
    return frozenset(
        (x, y) for x in range(SIDE) for y in range(SIDE) if image.pixelColor(x, y).name() == sign
    )


def different(one: frozenset, other: frozenset) -> float:
    return len(one ^ other) / max(1, len(one | other))


def test_danger_caution_and_normal_differ_in_outline(qapp):
    shapes = {
        tone: outline(lambda p, box, tone=tone: paint_mark(p, box, tone, DARK))
        for tone in (Tone.DANGER, Tone.CAUTION, Tone.GOOD, Tone.QUIET)
    }
    assert different(shapes[Tone.DANGER], shapes[Tone.CAUTION]) > 0.25
    assert different(shapes[Tone.CAUTION], shapes[Tone.GOOD]) > 0.25
    assert different(shapes[Tone.GOOD], shapes[Tone.QUIET]) > 0.25
    assert different(shapes[Tone.DANGER], shapes[Tone.GOOD]) > 0.02


def test_normal_and_to_be_done_share_the_disc_and_differ_in_the_sign(qapp):
    assert different(inner_sign(Tone.GOOD), inner_sign(Tone.MANDATORY)) > 0.5


def test_steps_differ_in_outline(qapp):
    shapes = [
        outline(lambda p, box, s=s: paint_step(p, box, s, DARK))
        for s in (StepState.DONE, StepState.NOW, StepState.WAITING, StepState.REDO)
    ]
    for count, shape in enumerate(shapes):
        for other in shapes[count + 1 :]:
            assert different(shape, other) > 0.2


def test_a_mark_says_its_meaning(shown):
    mark = shown(Mark(20), size=(20, 20))
    mark.set_tone(Tone.DANGER)
    assert mark.accessibleName() == "danger"
    mark.set_state(StepState.NOW)
    assert mark.accessibleName() == "now"
    mark.set_drop(7)
    assert (mark.width(), mark.height()) == (20, 27)
