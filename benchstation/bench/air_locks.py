"""What stands against a result that rests on the air: a figure that is old, unfit or not read."""

from benchstation.bench.session import BenchSession
from benchstation.domain.air_evidence import AirQuantity
from benchstation.domain.inputs.quantity import Measure
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification, Step, StepKind

BOTH = (AirQuantity.TEMPERATURE, AirQuantity.PRESSURE)


def rests_on(specification: Specification, step: Step) -> tuple[AirQuantity, ...]:
    """Return what of the air a step's result rests on; empty: nothing that matters."""
    if step.kind in (StepKind.CHARGE, StepKind.SECOND) or computes_force(step):
        return BOTH
    oil = step.kind in (StepKind.WEIGH, StepKind.BLEED)
    return (AirQuantity.TEMPERATURE,) if oil and specification.oil.basis == "as poured" else ()


def computes_force(step: Step) -> bool:
    """Return True when a step compares with a push force that is computed here and now."""
    return any(isinstance(a.input, Measure) and bool(a.input.reference) for a in step.asked)


def air_locked(session: BenchSession, rebuild: Rebuild, step: Step) -> str:
    """Return why the air allows no result at this step now; empty: nothing against it.

    A deviation signed at the step accepts it.
    """
    if rebuild.deviated(step.id):
        return ""
    now, known = session.moment(), session.known_air
    for quantity in rests_on(rebuild.specification, step):
        evidence = known.evidence(quantity, session.instruments, now)
        why = evidence.why_not(now.utc, known.limits)
        if why:
            return why
    return ""
