"""The fill window in words: its two ends with what limits each, or that no fill fits."""

from benchstation.physics.damper import FillWindow
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.screens.model.elements import TermView

NO_FILL, NO_CHARGE = "no fill fits", "no charge fits"


def fill_terms(window: FillWindow, words: QuantityFormatter) -> tuple[TermView, ...]:
    """Return least and most oil; of a window that is empty one term, which says so."""
    ends = [c.value if c else "nothing" for c in (window.least_closed_by, window.most_closed_by)]
    if window.is_empty:
        return (TermView("Oil", NO_FILL, f"cannot both hold: {ends[0]}; {ends[1]}"),)
    return (
        TermView("Least oil", words.volume(window.least_m3), f"limited by: {ends[0]}"),
        TermView("Most oil", words.volume(window.most_m3), f"limited by: {ends[1]}"),
    )


def window_in_words(window: FillWindow, words: QuantityFormatter) -> str:
    """Return the window in a line, or that no fill fits."""
    if window.is_empty:
        return NO_FILL
    return f"{words.volume(window.least_m3)} to {words.volume(window.most_m3)} fit"
