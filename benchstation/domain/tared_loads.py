"""What stood on the scale at each tare of a unit: the weights that the next tare is held against.

A tare hides the load. It is remembered as the load was shown then, counted on from the scale's
tares before, so that it can be compared with what the scale shows before the next one: with "the
oil was taken out", or with nothing having been moved. All of it is facts, and so outlives a
restart, a time aside and another unit on the scale.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from benchstation.domain.oil_balance import Purpose
from benchstation.domain.specification import Method, Specification, StepKind


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
    oil_kg: float = 0.0
    """The oil that was captured into the unit before: with it a body is not empty."""

    @property
    def expected_kg(self) -> float:
        """Return the load now, when nothing was moved but what was captured."""
        return self.load_kg + (-self.captured_kg if self.on is OnScale.JUG else self.captured_kg)


def with_capture(
    loads: tuple[TaredLoad, ...], instrument_id: str, moved_kg: float
) -> tuple[TaredLoad, ...]:
    """Return the loads after a capture on a scale: ``moved_kg`` since its last tare."""
    if not loads or loads[-1].instrument_id != instrument_id:
        return loads
    return (*loads[:-1], replace(loads[-1], captured_kg=moved_kg))


def with_tray(
    loads: tuple[TaredLoad, ...], instrument_id: str, load_kg: float
) -> tuple[TaredLoad, ...]:
    """Return the loads after the tray was weighed with its oil, without a tare of its own."""
    places = [
        place
        for place, one in enumerate(loads)
        if (one.instrument_id, one.on) == (instrument_id, OnScale.TRAY)
    ]
    if not places:
        return loads
    last = loads[places[-1]]
    weighed = replace(last, captured_kg=load_kg - last.load_kg)
    return (*loads[: places[-1]], weighed, *loads[places[-1] + 1 :])


def given_up(loads: tuple[TaredLoad, ...], on: OnScale) -> tuple[TaredLoad, ...]:
    """Return the loads after oil that was captured is to be where it came from: ``on`` is empty.

    The first tare shows its empty weight, where no oil was in it yet. A jug may hold anything.
    """
    kept = []
    for one in loads:
        first = next(o for o in loads if (o.instrument_id, o.on) == (one.instrument_id, one.on))
        if one.on is not on:
            kept.append(one)
        elif on is OnScale.TRAY or (on is OnScale.BODY and not first.oil_kg):
            kept.append(replace(one, captured_kg=first.load_kg - one.load_kg))
    return tuple(kept)


def taken_back(loads: tuple[TaredLoad, ...], on: OnScale, kg: float) -> tuple[TaredLoad, ...]:
    """Return the loads after captured oil of this mass is to be where it came from.

    What was captured besides, such as another lot's part, stays. A jug may hold anything then.
    """
    if on is OnScale.JUG:
        return tuple(one for one in loads if one.on is not on)
    last = max((place for place, one in enumerate(loads) if one.on is on), default=None)
    if last is None:
        return loads
    less = replace(loads[last], captured_kg=loads[last].captured_kg - kg)
    return (*loads[:last], less, *loads[last + 1 :])


def without_fill(loads: tuple[TaredLoad, ...]) -> tuple[TaredLoad, ...]:
    """Return the loads after the whole fill was given up: only the empty body still tells."""
    empty = given_up(loads, OnScale.BODY)
    return tuple(one for one in empty if one.on is OnScale.BODY)


def loads_left(
    loads: tuple[TaredLoad, ...], specification: Specification, step_id: str, gone: Collection[str]
) -> tuple[TaredLoad, ...]:
    """Return the loads after the way back to a step, by which the steps ``gone`` are done anew."""
    weigh, bleed = (specification.step_of(k).id for k in (StepKind.WEIGH, StepKind.BLEED))
    if weigh not in gone:
        return given_up(loads, OnScale.TRAY) if bleed in gone else loads
    # Gone back further, a part of the body may be exchanged.
    return without_fill(loads) if step_id == weigh else ()


def contradiction_kg(
    loads: Sequence[TaredLoad],
    instrument_id: str,
    on: OnScale,
    shown_kg: float,
    standing_kg: float,
    least_kg: float,
) -> float | None:
    """Return what is on the scale beside what should be, kg; ``None``: all is as it should be.

    ``standing_kg`` is the load at which the scale shows zero, that of its last tare. It may have
    been switched off and on since, and then shows the whole load. What fits either way is believed.
    A jug that is heavier was filled up, and says nothing.
    """
    mine = [one for one in loads if (one.instrument_id, one.on) == (instrument_id, on)]
    if not mine or on is OnScale.UNIT:
        return None
    expected = mine[-1].expected_kg
    found = min((load - expected for load in (shown_kg + standing_kg, shown_kg)), key=abs)
    if abs(found) <= least_kg or (on is OnScale.JUG and found > 0.0):
        return None
    return found
