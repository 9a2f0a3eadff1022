"""Keeps words apart that would like to stand in the same place."""

from collections.abc import Sequence


def spread(
    wanted: Sequence[float], sizes: Sequence[float], low: float, high: float, gap: float
) -> list[float]:
    """Return the centre of each of some words, near ``wanted`` and ``gap`` apart, in given order.

    They lie between ``low`` and ``high`` where there is room for all of them; where there is not,
    the first go out below ``low``.
    """
    centres: list[float] = []
    end = low
    for centre, size in zip(wanted, sizes, strict=True):
        centres.append(max(centre, end + size / 2))
        end = centres[-1] + size / 2 + gap
    start = high
    for place in reversed(range(len(centres))):
        centres[place] = min(centres[place], start - sizes[place] / 2)
        start = centres[place] - sizes[place] / 2 - gap
    return centres
