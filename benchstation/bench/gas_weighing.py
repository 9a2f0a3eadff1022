"""The gas by its mass at the bench: the unit weighed before the charge and after the seal-off."""

from benchstation.bench.gas_ticks import gas_out_pa
from benchstation.bench.session import BenchSession
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import UnitWeighed
from benchstation.domain.gas_mass import force_is_measured, gain, sealed
from benchstation.domain.inputs.second_reading import MASS
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.second_reading import due
from benchstation.domain.specification import StepKind

USUAL_STEP_KG = 1e-4


def wanted(session: BenchSession, rebuild: Rebuild) -> bool:
    """Return True when the unit should be weighed now for the gas in it."""
    step, again = rebuild.current, rebuild.specification.second_reading
    if step is None:
        return False
    if again is not None and MASS in again.by and sealed(rebuild):
        return rebuild.unit_after is None or second_due(session, rebuild)
    if force_is_measured(rebuild.specification):
        return False
    if sealed(rebuild):
        return rebuild.unit_before is not None and rebuild.unit_after is None
    empty = rebuild.charge is None and gas_out_pa(session) is not None
    return step.kind is StepKind.CHARGE and rebuild.unit_before is None and empty


def scales_here(session: BenchSession) -> tuple[tuple[float, float], ...]:
    """Return standard uncertainty of calibration and last digit of each scale, kg.

    The digit of one that has not read yet is not known, and is held against nobody: 0.
    """
    scales = session.instruments.of(InstrumentRole.SCALE)
    return tuple((s.registered.u_calibration, s.resolution(0.0)) for s in scales)


def second_due(session: BenchSession, rebuild: Rebuild) -> bool:
    """Return True when the unit waited long enough to be weighed again, and is not weighed yet."""
    step = rebuild.current
    at = due(rebuild, step) if step is not None else None
    if at is None or rebuild.unit_second is not None:
        return False
    return session.clock.utc() >= at


def move_on(session: BenchSession) -> None:
    """Put the unit's mass on record once it rests on the scale."""
    weighing, rebuild = session.work.unit_weighing, session.rebuild
    step = rebuild.current if rebuild is not None else None
    if weighing is None or rebuild is None or step is None:
        return
    found = weighing.mass(session.clock.seconds())
    if found is None:
        return
    scale, after, air = session.scale, sealed(rebuild), session.air()
    second = step.kind is StepKind.SECOND and rebuild.unit_after is not None
    session.work.end_unit_weighing()
    session.journal(
        [
            UnitWeighed(
                rebuild.unit_id,
                step.id,
                after,
                scale.registered.instrument_id,
                calibration_of(scale.registered),
                scale.registered.u_calibration,
                found.shown_kg,
                found.steady.std_kg,
                found.steady.count,
                found.steady.resolution_kg or scale.resolution(USUAL_STEP_KG),
                found.steady.raw,
                second,
                air.air_density_kg_m3(),
                air.air_density_kg_m3() * air.u_density_rel(),
            )
        ]
    )
    gained = gain(session.unit())
    said = f"The unit is weighed: {session.words.mass(found.shown_kg)}."
    if gained is not None and not second:
        said += (
            f" It gained {session.words.mass(gained.gain_kg)}; the charge is "
            f"{session.words.mass(gained.expected_kg)}: {gained.decision}."
        )
    session.say(said)
