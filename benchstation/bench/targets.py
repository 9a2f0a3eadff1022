"""What the unit on the bench must reach here and now."""

from benchstation.bench.capture.oil import PourStatus, mixed, pour_status
from benchstation.bench.session import BenchSession
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
