"""What is ticked at the release lives only while the gauge shows that the gas is out."""

from collections.abc import Mapping

from benchstation.bench.session import BenchSession
from benchstation.domain.inputs.given import YES
from benchstation.domain.specification import StepKind


def _at_release(session: BenchSession) -> bool:
    step = session.rebuild.current if session.rebuild is not None else None
    return step is not None and step.kind is StepKind.RELEASE


def gas_out_pa(session: BenchSession) -> float | None:
    """Return what the gauge shows while it stands in the zero band, else ``None``."""
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    band = session.unit().specification.gas.release_zero_band
    return gauge_pa if gauge_pa is not None and abs(gauge_pa) <= band else None


def note_ticks(session: BenchSession, form: Mapping[str, str]) -> None:
    """Take note of what is ticked at the release, with what the gauge shows."""
    if _at_release(session):
        zero_pa = gas_out_pa(session)
        session.work.note_ticks(form, zero_pa, holds=zero_pa is not None)


def without_early(session: BenchSession, form: Mapping[str, str]) -> dict[str, str]:
    """Return a form without the ticks that were made before the gas was out."""
    return {k: v for k, v in form.items() if k not in session.work.early or v != YES}


def follow_ticks(session: BenchSession) -> None:
    """Clear what was ticked at the release as soon as the gauge leaves its zero band."""
    if session.work.ticks and _at_release(session) and gas_out_pa(session) is None:
        session.work.void_ticks()
