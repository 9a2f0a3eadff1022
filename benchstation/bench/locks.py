"""What stands against signing or capturing now: pressure, guard, instrument or lot."""

from benchstation.bench.air_locks import air_locked
from benchstation.bench.gas_weighing import scales_here
from benchstation.bench.session import BenchSession
from benchstation.domain.events import OilLotClosed
from benchstation.domain.gas_mass import why_never_proven
from benchstation.domain.materials import USED_UP
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.statement_words import withdrawn
from benchstation.domain.unit_commands import NotAllowedError


def unsafe_pressure_pa(session: BenchSession) -> float | None:
    """Return the gauge pressure when there is some where the gas must be out, else ``None``.

    That is from the release to the charge. A gauge that is not connected proves nothing.
    """
    rebuild = session.rebuild
    step = rebuild.current if rebuild else None
    if rebuild is None or step is None:
        return None
    kinds = [s.kind for s in rebuild.specification.steps]
    place = [s.id for s in rebuild.specification.steps].index(step.id)
    if not kinds.index(StepKind.RELEASE) < place < kinds.index(StepKind.CHARGE):
        return None
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    return gauge_pa if rebuild.specification.gas.under_pressure(gauge_pa) else None


def require_no_pressure(session: BenchSession, where: str) -> None:
    """Raise while a gauge shows pressure where the gas must be out: nothing is signed then."""
    pressure = unsafe_pressure_pa(session)
    if pressure is not None:
        raise NotAllowedError(
            f"the gauge shows {session.words.pressure(pressure)}, and the gas must be out.",
            where=where,
            advice="Do not open the unit. Go back to the release, and let the gas out.",
        )


def pressure_locked(session: BenchSession) -> str:
    """Return why the pressure or the guard allows no result at this step, however it is read."""
    rebuild = session.rebuild
    step = rebuild.current if rebuild else None
    if step is not None and step.kind is StepKind.CHARGE:
        snapshot = session.watch.snapshot()
        if snapshot.capture_locked:
            return snapshot.worst.kind.value if snapshot.worst else "no pressure reading"
    if unsafe_pressure_pa(session) is not None:
        return "there is pressure where the gas must be out"
    return ""


def no_instrument(session: BenchSession, step: Step) -> str:
    """Return why no deviation opens this capture: what speaks there is no instrument."""
    fitted = session.gauge if step.kind is StepKind.CHARGE else session.scale
    return fitted.unfit(session.today) if fitted.barred else ""


def capture_locked(session: BenchSession) -> str:
    """Return why nothing may be captured at this step now; empty: nothing against it."""
    rebuild = session.rebuild
    step = rebuild.current if rebuild else None
    if rebuild is None or step is None:
        return ""
    if session.to_write.problem:
        return f"what happened is not on record yet: {session.to_write.problem}"
    locked = pressure_locked(session)
    if locked or rebuild.deviated(step.id):
        return locked or no_instrument(session, step)
    air = air_locked(session, rebuild, step)
    if step.kind is StepKind.CHARGE:
        unfit = session.gauge.unfit(session.today)
        return unfit or air or seen_locked(session, rebuild)
    unfit = session.scale.unfit(session.today)
    return unfit or lot_locked(session) or can_locked(session) or air


def seen_locked(session: BenchSession, rebuild: Rebuild) -> str:
    """Return what this gauge did not see of the charge that is read on it; empty: it saw all.

    Nor is a charge begun that nothing could prove once the screw is closed.
    """
    gauge, rose = session.gauge.registered.instrument_id, rebuild.gas_rose
    never = why_never_proven(rebuild.specification, scales_here(session))
    zero = never or zero_locked(session, rebuild)
    if zero or (rose is not None and rose.instrument_id == gauge):
        return zero
    if rose is None:
        return "fill first: the gauge has not risen yet"
    return "this gauge was not seen to rise while gas went in"


def zero_locked(session: BenchSession, rebuild: Rebuild) -> str:
    """Return why the charge is locked: the gauge's zero was not seen before it; empty: it was."""
    zero = rebuild.zero_before
    if zero is not None and zero.instrument_id == session.gauge.registered.instrument_id:
        return ""
    band = session.words.pressure(rebuild.specification.gas.release_zero_band)
    return f"the gauge was not within ± {band} of zero before the gas"


def lot_locked(session: BenchSession) -> str:
    """Return why the lot being weighed in may not be used: withdrawn or expired; empty: it may."""
    closed = lot_withdrawn(session)
    if closed is not None:
        return withdrawn(closed.lot, closed.reason)
    lot = lot_poured(session)
    why = session.shop.why_closed(lot, session.today) if lot else ""
    # One that is used up is in the can of this pour still.
    if why and why != USED_UP:
        return f"lot {lot} is {why}"
    return ""


def can_locked(session: BenchSession) -> str:
    """Return why nothing poured is captured: nobody read the lot off the can; empty: it was."""
    lot, unit = lot_poured(session), session.rebuild
    if not lot or unit is None or lot in unit.lots_confirmed:
        return ""
    return f"the can of {lot} is not scanned yet"


def lot_withdrawn(session: BenchSession) -> OilLotClosed | None:
    """Return how the lot that is weighed in was withdrawn meanwhile; ``None``: it was not."""
    lot = lot_poured(session)
    return session.shop.withdrawn(lot) if lot else None


def lot_poured(session: BenchSession) -> str:
    """Return the lot that is weighed in; empty: none is, or a deviation at the step accepts it."""
    rebuild, plan = session.rebuild, session.work.weighing.plan if session.work.weighing else None
    step = rebuild.current if rebuild else None
    if rebuild is None or step is None or plan is None or rebuild.deviated(step.id):
        return ""
    return plan.lot if plan.purpose.adds and not plan.wants_before else ""


def gas_in_unit(session: BenchSession) -> bool:
    """Return True when the unit must be taken to hold gas: charged, or not proven empty."""
    rebuild = session.rebuild
    if rebuild is None:
        return False
    if rebuild.charge is not None or rebuild.gas_unproven:
        return True
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    band = rebuild.specification.gas.release_zero_band
    charging = session.work.charging
    return charging is not None and (gauge_pa is None or charging.highest_pa > band)
