"""The bench's fixed grid: its places follow the window and the text size, and nothing else."""

from dataclasses import dataclass

from benchstation.ui.shell.text_scale import percent, px, soft
from benchstation.ui.shell.theme import DIGIT_HEIGHT_PX

EDGE_PX, GAP_PX, PAD_PX, ROW_GAP_PX = 12, 10, 14, 4
LEFT_PX, RIGHT_PX = (200, 320), (280, 440)
LEFT_SHARE, RIGHT_SHARE, WIDE_SHARE = 0.155, 0.22, 0.1
DIGIT, POINT, LEFT_DIGITS, RIGHT_DIGITS = 0.64, 0.26, 4, 2
"""Widths as shares of a digit's height: of a digit and of the point; digits before and after it."""
SHARE_OF_WINDOW, HIGHEST_PX = 0.145, 200.0
BESIDE_PX, BELOW_PX, WORDS_GAP_PX = 190, 58, 16
CAPTION_PX, CAPTION_GAP_PX = 22, 5
HEADING_PX, CAUTION_PX, REASON_PX, ACTIONS_PX, MORE_PX = 42, 24, 24, 62, 92
TOUCH_PX, LOW_PX, LOW_BELOW_PX = 62, 500, 34


@dataclass(frozen=True, slots=True)
class Grid:
    """Widths of the three columns, and sizes of the number and of the rows that stay."""

    left: int
    middle: int
    right: int
    digit: float
    beside: bool
    """True where the words stand beside the number, else below it."""
    readout: int
    heading: int
    caution: int
    reason: int
    actions: int

    @property
    def number(self) -> int:
        """Return the width kept for the number, whatever it is."""
        return number_width(self.digit)

    @property
    def inner(self) -> int:
        """Return the width between the edges of the middle column."""
        return self.middle - 2 * PAD_PX


def number_width(digit: float) -> int:
    """Return the width of the largest usual number in digits of this height."""
    return round(digit * (DIGIT * (LEFT_DIGITS + RIGHT_DIGITS) + POINT)) + 2


def point_at(digit: float) -> float:
    """Return where the decimal point begins, from the left edge of the number's place."""
    return digit * DIGIT * LEFT_DIGITS


def grid_of(width: int, height: int) -> Grid:
    """Return the places of the bench in a window of this size, at the text size in force."""
    # The middle has the number, so the sides grow less than their words do.
    grown = 1 + (percent() - 100) / 400
    left, right = (
        round(grown * max(least, min(max(most, WIDE_SHARE * width), share * width)))
        for (least, most), share in ((LEFT_PX, LEFT_SHARE), (RIGHT_PX, RIGHT_SHARE))
    )
    middle = max(300, width - left - right - 2 * EDGE_PX - 2 * GAP_PX)
    inner = middle - 2 * PAD_PX
    digit = max(float(DIGIT_HEIGHT_PX), min(HIGHEST_PX, SHARE_OF_WINDOW * height))
    while digit > DIGIT_HEIGHT_PX and inner - number_width(digit) < WORDS_GAP_PX + px(BESIDE_PX):
        digit = max(float(DIGIT_HEIGHT_PX), digit - 4)
    beside = inner - number_width(digit) >= WORDS_GAP_PX + px(BESIDE_PX)
    readout = px(CAPTION_PX) + 2 * CAPTION_GAP_PX + round(digit)
    low = height < LOW_PX * percent() / 100
    below = soft(LOW_BELOW_PX if low else BELOW_PX)
    return Grid(
        left=left,
        middle=middle,
        right=right,
        digit=digit,
        beside=beside,
        readout=readout + (0 if beside else below),
        heading=soft(HEADING_PX),
        caution=soft(CAUTION_PX),
        reason=soft(REASON_PX),
        actions=max(TOUCH_PX, soft(ACTIONS_PX)),
    )
