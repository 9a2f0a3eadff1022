"""What the guard is told of the charge: that gas may be let in, and whether the valve is shut."""

from benchstation.bench.commands.capturing import moved_since_captured
from benchstation.bench.session import BenchSession
from benchstation.domain.specification import StepKind
from benchstation.domain.standing_digits import Filling


def tell_filling(session: BenchSession) -> None:
    """Tell the guard whether gas may be let in now, and what its gauge's digits are."""
    session.watch.set_filling(session.gauge.id, _filling(session))


def _filling(session: BenchSession) -> Filling | None:
    work, rebuild = session.work, session.rebuild
    step = rebuild.current if rebuild is not None else None
    if rebuild is None or step is None or step.kind is not StepKind.CHARGE:
        return None
    if work.charge_target is None or work.charging is None or work.charging.holding:
        return None
    captured = rebuild.charge is not None and not moved_since_captured(session)
    return Filling(
        work.charge_target.target_gauge_pa,
        session.gauge.resolution(0.0),
        work.charge_wanted or captured,
    )
