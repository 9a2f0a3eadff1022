"""What is ticked of the gas lives only while the gauge shows what it rests on.

At the release every statement rests on the gauge's zero. At the seal-off the last one does, that
the line is vented; those before it, that the screw is closed, are made while the charge still
stands on the gauge: an emptied unit shows zero too, and one that was vented in part less than its
record. They outlive its fall, and no rise.
"""

from collections.abc import Callable, Mapping
from enum import Enum

from benchstation.bench.session import BenchSession
from benchstation.domain.gas_release import charge_stands
from benchstation.domain.inputs.confirmation import Confirmation
from benchstation.domain.inputs.given import YES
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind


class RestsOn(Enum):
    """What the gauge must show as a statement is ticked."""

    ZERO = "zero"
    PRESSURE = "pressure"
    """That of the charge."""


def rests_on(rebuild: Rebuild, name: str) -> RestsOn | None:
    """Return what a field of the step at hand rests on; ``None``: on nothing of the gauge."""
    step = rebuild.current
    if step is None:
        return None
    if step.kind is StepKind.RELEASE:
        return RestsOn.ZERO
    statements = _statements(rebuild, step)
    if step != rebuild.specification.seal_off or name not in statements:
        return None
    return RestsOn.ZERO if name == statements[-1] else RestsOn.PRESSURE


def _statements(rebuild: Rebuild, step: Step) -> list[str]:
    asked = rebuild.specification.asked_at(step)
    return [one.name for one in asked if isinstance(one.input, Confirmation)]


def gas_out_pa(session: BenchSession) -> float | None:
    """Return what the gauge shows while it stands in the zero band, else ``None``."""
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    band = session.unit().specification.gas.release_zero_band
    return gauge_pa if gauge_pa is not None and abs(gauge_pa) <= band else None


def may_tick(session: BenchSession, name: str) -> bool:
    """Return True when a field may be ticked now, or was ticked while it might.

    At the seal-off a gauge that gives no reading leaves it to the person's word.
    """
    rebuild = session.unit()
    rest = rests_on(rebuild, name)
    if rest is None or name in session.work.ticks:
        return True
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    if gauge_pa is None:
        return rebuild.current is not None and rebuild.current.kind is not StepKind.RELEASE
    if rest is RestsOn.ZERO:
        return gas_out_pa(session) is not None
    return charge_stands(rebuild, gauge_pa, session.gauge.registered.instrument_id)


def note_ticks(session: BenchSession, form: Mapping[str, str]) -> None:
    """Take note of what is ticked and rests on the gauge, with what it shows."""
    rebuild = session.unit()
    followed = {k: v for k, v in form.items() if rests_on(rebuild, k) is not None}
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    session.work.note_ticks(followed, gauge_pa, _holds(session))


def _holds(session: BenchSession) -> Callable[[str], bool]:
    return lambda name: may_tick(session, name)


def without_early(session: BenchSession, form: Mapping[str, str]) -> dict[str, str]:
    """Return a form without the ticks that were made before what they rest on was so."""
    return {k: v for k, v in form.items() if k not in session.work.early or v != YES}


def follow_ticks(session: BenchSession) -> None:
    """Clear what was ticked as soon as the gauge does not show any more what it rests on."""
    rebuild, work = session.rebuild, session.work
    if rebuild is None or not work.ticks:
        return
    gauge_pa = session.gauge.good_value(session.clock.seconds())
    band, zero = rebuild.specification.gas.release_zero_band, gas_out_pa(session) is not None
    low_pa = work.lowest(gauge_pa)
    risen = gauge_pa is not None and low_pa is not None and gauge_pa > low_pa + band
    at_release = rebuild.current is not None and rebuild.current.kind is StepKind.RELEASE
    if gauge_pa is None and not at_release:
        return
    gone = [
        name
        for name in work.ticks
        if (rest := rests_on(rebuild, name)) is not None
        and (risen if rest is RestsOn.PRESSURE else not zero)
    ]
    work.void_ticks(gone)
