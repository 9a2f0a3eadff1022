"""What stood on the scale at each tare of a unit: the weights that a person's word is held against.

A tare hides the load. It is remembered as the load was shown then, counted from the unit's first
tare on a scale, so that "the oil was taken out" can be compared with what the scale shows before
the next one. All of it follows from the unit's own facts, and so outlives a restart.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method


class OnScale(StrEnum):
    """What stands on the scale at a weighing."""

    BODY = "body"
    JUG = "jug"
    TRAY = "tray"
    UNIT = "unit"
    """The whole unit, on a scale that was zeroed empty."""


def on_scale(purpose: Purpose, method: Method) -> OnScale:
    """Return what stands on the scale when oil is weighed for a purpose by a method."""
    if not purpose.adds:
        return OnScale.TRAY
    return {Method.GAIN: OnScale.BODY, Method.LOSS: OnScale.JUG}.get(method, OnScale.UNIT)


@dataclass(frozen=True, slots=True)
class TaredLoad:
    """One tare: what stood on which scale, its load, and what was captured on it since, kg."""

    instrument_id: str
    on: OnScale
    load_kg: float
    captured_kg: float = 0.0

    @property
    def expected_kg(self) -> float:
        """Return the load now, when nothing was moved but what was captured."""
        return self.load_kg + (-self.captured_kg if self.on is OnScale.JUG else self.captured_kg)


def standing_kg(loads: Sequence[TaredLoad], instrument_id: str) -> float:
    """Return the load at which a scale shows zero: that of its last tare; 0 before the first."""
    return next((one.load_kg for one in reversed(loads) if one.instrument_id == instrument_id), 0.0)


def with_capture(
    loads: tuple[TaredLoad, ...], instrument_id: str, moved_kg: float
) -> tuple[TaredLoad, ...]:
    """Return the loads after a capture on a scale: ``moved_kg`` since its last tare."""
    if not loads or loads[-1].instrument_id != instrument_id:
        return loads
    return (*loads[:-1], replace(loads[-1], captured_kg=moved_kg))


def contradiction_kg(
    loads: Sequence[TaredLoad], instrument_id: str, on: OnScale, shown_kg: float, least_kg: float
) -> float | None:
    """Return what is on the scale beside what should be, kg; ``None``: nothing against the word.

    The scale may have been switched off and on since its tare: it then shows the whole load. What
    fits either way is believed. A jug that is heavier was filled up, and says nothing.
    """
    mine = [one for one in loads if (one.instrument_id, one.on) == (instrument_id, on)]
    if not mine or on is OnScale.UNIT:
        return None
    expected = mine[-1].expected_kg
    gross = (shown_kg + standing_kg(loads, instrument_id), shown_kg)
    found = min((load - expected for load in gross), key=abs)
    if abs(found) <= least_kg or (on is OnScale.JUG and found > 0.0):
        return None
    return found
