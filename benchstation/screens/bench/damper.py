"""The living damper: the unit's own drawing with what this step is about, oil and gas as read."""

import math

from benchstation.bench.capture.charging import ChargePhase
from benchstation.bench.session import BenchSession
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification, Step, StepKind
from benchstation.physics.errors import RangeError
from benchstation.physics.oil import Oil
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import percent
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.damper import (
    FLOATING,
    NITROGEN,
    OIL,
    OPEN,
    PISTON,
    ROD,
    SHUT,
    WHOLE,
    LiveDamperView,
)
from benchstation.screens.model.specifications import DrawingView
from benchstation.screens.specifications.detail import drawing

PARTS = {
    StepKind.RELEASE: NITROGEN,
    StepKind.STACK: PISTON,
    StepKind.WEIGH: OIL,
    StepKind.BLEED: OIL,
    StepKind.CHARGE: NITROGEN,
    StepKind.SECOND: NITROGEN,
}
WORDS = (
    ("floating piston", FLOATING),
    ("stack", PISTON),
    ("piston", PISTON),
    ("valve", PISTON),
    ("push", ROD),
    ("function", ROD),
    ("rod", ROD),
    ("bleed", OIL),
    ("seal off", NITROGEN),
    ("pressure", NITROGEN),
    ("gas", NITROGEN),
    ("oil", OIL),
)
"""What a step of the shop's own is about, by its title; the whole unit for any other."""
GAS_STEPS = (StepKind.RELEASE, StepKind.CHARGE, StepKind.SECOND)
"""Where a line may go to the unit: the bottle's valve is shut unless gas is to come in."""
AS_SPECIFIED = "piston by the specified fill"
STEPS = 50
"""A level is drawn in so many steps: what differs by less is not drawn again."""
_drawn: list[tuple[Specification, float, UnitSystem, DrawingView | None]] = []


def living_damper(
    session: BenchSession, words: QuantityFormatter, valve_open: bool
) -> LiveDamperView | None:
    """Return the unit on the bench as it is now; ``None`` without one, or where none can be drawn.

    ``valve_open``: gas is to come in now.
    """
    rebuild = session.rebuild
    if rebuild is None:
        return None
    specified = rebuild.specification.oil.volume
    judged = rebuild.oil_judged(StepKind.BLEED)
    filled = judged.net_volume_ref_m3 if judged is not None else specified
    drawn, rests_on = _drawing_of(rebuild.specification, filled, words), AS_SPECIFIED
    if judged is not None and drawn is not None:
        rests_on = f"piston by {words.volume(filled)} of oil as weighed"
    # An oil that leaves the gas no room has no place for the piston: then as it should be.
    drawn = drawn or _drawing_of(rebuild.specification, specified, words)
    if drawn is None:
        return None
    step = rebuild.current
    lit = about(step) if step is not None else WHOLE
    oil, gauge = _oil(session, rebuild), _gauge(session)
    target = rebuild.specification.gas.gauge_pressure
    gas = 0.0 if math.isnan(gauge) or target <= 0 else gauge / target
    if rebuild.ended == "filed":
        gas = 1.0
    said = ""
    if lit == NITROGEN and not math.isnan(gauge):
        said = words.gauge(gauge)
    elif lit == OIL:
        said = f"{percent(oil)} in"
    at_gas = step is not None and (step.kind in GAS_STEPS or step == rebuild.specification.seal_off)
    valve = (OPEN if valve_open else SHUT) if at_gas else ""
    return LiveDamperView(
        drawn,
        lit,
        _stepped(oil),
        _stepped(gas),
        said,
        valve,
        measured=lit == FLOATING,
        rests_on=rests_on,
    )


def is_filling(session: BenchSession) -> bool:
    """Return True while gas is to come in: the valve should be open."""
    work = session.work
    if work.charging is None or work.charge_target is None or session.watch.snapshot().alarms:
        return False
    if work.charging.phase(session.clock.seconds()) is not ChargePhase.FILLING:
        return False
    gauge = _gauge(session)
    return not math.isnan(gauge) and gauge < work.charge_target.target_gauge_pa


def _drawing_of(s: Specification, volume_m3: float, words: QuantityFormatter) -> DrawingView | None:
    """Return the unit to scale with its rod out and so much oil, worked out once for each."""
    for known, volume, system, view in _drawn:
        if known is s and volume == volume_m3 and system is words.system:
            return view
    try:
        unit = s.charged(Oil(s.oil.typical_rho15), volume_m3)
        view = drawing(s, unit, 0.0, s.oil.reference_temperature, words)
    except RangeError:
        view = None
    _drawn[:] = [(s, volume_m3, words.system, view), *_drawn[:2]]
    return view


def about(step: Step) -> str:
    """Return the part that a step is about; the whole unit where it is about none of its own."""
    if step.kind in PARTS:
        return PARTS[step.kind]
    title = step.title.casefold()
    return next((part for word, part in WORDS if word in title), WHOLE)


def _oil(session: BenchSession, rebuild: Rebuild) -> float:
    """Return how much of the oil is in: what is on the scale, or what was captured."""
    weighing = session.work.weighing
    step = rebuild.current
    sample = session.scale.instrument.latest()
    if step is not None and step.kind is StepKind.WEIGH and weighing is not None:
        goal = rebuild.specification.oil.volume * rebuild.specification.oil.typical_rho15
        if not weighing.tared or sample is None:
            return 0.0
        return min(1.0, max(0.0, weighing.poured_kg(sample.value) / goal))
    return 1.0 if rebuild.oil or rebuild.ended == "filed" else 0.0


def _gauge(session: BenchSession) -> float:
    value = session.gauge.good_value(session.clock.seconds())
    return math.nan if value is None else value


def _stepped(share: float) -> float:
    return round(min(1.0, max(0.0, share)) * STEPS) / STEPS
