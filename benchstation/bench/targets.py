"""What the unit on the bench must reach here and now."""

from benchstation.bench.capture.oil import PourStatus, mixed, pour_status
from benchstation.bench.session import BenchSession
from benchstation.bench.step_work import charge_target_of
from benchstation.domain.oil_target import OilTarget
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


def follow_temperature(session: BenchSession) -> None:
    """Move the charge's target with the unit's temperature and the barometer as they are known."""
    work, rebuild = session.work, session.rebuild
    before = work.around
    if rebuild is None or work.charge_target is None or before is None:
        return
    around = session.around_unit(rebuild)
    moved = (
        abs(around.temperature_k - before.temperature_k) > SHIFT_K
        or abs(around.u_temperature_k - before.u_temperature_k) > SHIFT_K
        or abs(around.pressure_pa - before.pressure_pa) > SHIFT_PA
        or abs(around.u_pressure_pa - before.u_pressure_pa) > SHIFT_PA
    )
    if moved:
        work.aim_at(charge_target_of(rebuild, session.shop, around), around)
