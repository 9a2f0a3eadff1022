"""How large text is, in percent of its usual size: one for the process, as there is one window.

Sizes stand in the code as they are at 100 %; whoever draws or lays out takes them by :func:`px`.
A widget that keeps a size has a method ``rescale``, which the window calls after a change.
"""

from typing import Any, Final

PERCENTS: Final = (100, 115, 130, 150)
LARGE_ABOVE: Final = 115


class _Chosen:
    percent = 100


def percent() -> int:
    """Return the text size in force."""
    return _Chosen.percent


def is_large() -> bool:
    """Return True when text is so large that lines have to be laid out in another way."""
    return percent() > LARGE_ABOVE


def choose(wanted: int) -> None:
    """Take another text size; a number that is not offered counts as the nearest that is."""
    _Chosen.percent = min(PERCENTS, key=lambda offered: abs(offered - wanted))


def stepped(by: int) -> int:
    """Return the text size so many steps from the one in force, as far as there are any."""
    place = PERCENTS.index(_Chosen.percent) + by
    return PERCENTS[max(0, min(place, len(PERCENTS) - 1))]


def px(pixels: float) -> int:
    """Return a size in pixels, named as it is at 100 %, at the text size in force."""
    return round(pixels * _Chosen.percent / 100)


def soft(pixels: float) -> int:
    """Return a size that grows half as much as words do: of rows that share a fixed height."""
    return round(pixels * (1 + (_Chosen.percent - 100) / 200))


def rescale_all(widgets: Any) -> None:
    """Rescale every widget that keeps a size, from the innermost out."""
    for widget in reversed(list(widgets)):
        again = getattr(widget, "rescale", None)
        if again is not None:
            again()
        widget.updateGeometry()
