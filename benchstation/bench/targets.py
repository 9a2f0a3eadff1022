"""What the unit on the bench must reach here and now."""

from benchstation.bench.capture.charging import SettledCharge
from benchstation.bench.capture.judgement import captured_charge
from benchstation.bench.capture.oil import PourStatus, mixed, pour_status
from benchstation.bench.session import BenchSession
from benchstation.bench.step_work import charge_target_of
from benchstation.domain.events import ChargeCaptured
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.recorded_parts import ReadByHand
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.weigh_in import (
    oil_target,
)
from benchstation.physics.oil import Oil


def oil_in_unit(session: BenchSession) -> Oil:
    """Return the oil in the open unit: of its lot, or what its lots mixed to."""
    return mixed(session.unit(), session.shop.lots).oil


def present_pour(session: BenchSession) -> PourStatus:
    """Return what the weighing at hand must show, and what counts beside it."""
    rebuild = session.unit()
    assert rebuild.current is not None
    assert session.work.weighing is not None
    return pour_status(
        rebuild,
        rebuild.current,
        session.work.weighing,
        session.shop.lots,
        session.scale,
        session.air(),
    )


def present_oil_target(session: BenchSession) -> OilTarget:
    """Return the oil target of the open unit, here and now."""
    return oil_target(session.unit().specification, oil_in_unit(session), session.air())


SHIFT_K, SHIFT_PA = 0.005, 2.0
"""Less than this changes no target that anybody could see."""


def aim_now(session: BenchSession, rebuild: Rebuild) -> None:
    """Make the charge's target anew, of the unit's temperature and the barometer of now."""
    around = session.around_unit(rebuild)
    session.work.aim_at(charge_target_of(rebuild, session.shop, around), around)


def charge_here(
    session: BenchSession,
    rebuild: Rebuild,
    settled: SettledCharge,
    *,
    trace_sha256: str = "",
    by_hand: ReadByHand | None = None,
    raw: tuple[str, ...] = (),
) -> ChargeCaptured:
    """Return a settled charge, judged against the target of here and now."""
    aim_now(session, rebuild)
    assert session.work.charge_target is not None
    assert session.work.around is not None
    return captured_charge(
        rebuild,
        settled,
        target=session.work.charge_target,
        around=session.work.around,
        conditions=session.conditions(rebuild),
        gauge=session.gauge,
        trace_sha256=trace_sha256,
        by_hand=by_hand,
        raw=raw,
    )


def follow_temperature(session: BenchSession, rebuild: Rebuild) -> None:
    """Move the charge's target with the unit's temperature and the barometer as they are known."""
    before, now = session.work.around, session.around_unit(rebuild)
    if before is None or _moved(before, now):
        aim_now(session, rebuild)


def _moved(before: Surroundings, now: Surroundings) -> bool:
    return (
        abs(now.temperature_k - before.temperature_k) > SHIFT_K
        or abs(now.u_temperature_k - before.u_temperature_k) > SHIFT_K
        or abs(now.pressure_pa - before.pressure_pa) > SHIFT_PA
        or abs(now.u_pressure_pa - before.u_pressure_pa) > SHIFT_PA
    )
