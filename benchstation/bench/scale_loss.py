"""A scale that no longer will do before anything is tared: another one of the bench takes over."""

from benchstation.bench.capture.oil import weighing_for
from benchstation.bench.capture.weighing import Phase
from benchstation.bench.messages import Severity
from benchstation.bench.session import BenchSession
from benchstation.domain.instrument_roles import InstrumentRole

GIVEN_UP_S = 3.0
"""A reading may come late; after so long without one the scale is lost, or its load too heavy."""


def take_another_scale(session: BenchSession, now: float) -> None:
    """Weigh on another scale where this one is lost or unfit.

    Not while a tare holds, and not where the unit was weighed before the pour: a difference of two
    scales is no mass of oil, so a person decides.
    """
    if len(session.instruments.of(InstrumentRole.SCALE)) < 2:
        return
    weighing, rebuild, scale = session.work.weighing, session.unit(), session.scale
    step = rebuild.current
    if weighing is None or weighing.phase is not Phase.NEED_TARE or step is None:
        return
    plan = weighing.plan
    if plan.before_kg is not None:
        return
    sample = scale.instrument.latest()
    heard = sample is not None and now - sample.at <= GIVEN_UP_S * session.clock.pace
    unfit = scale.unfit(session.today)
    if heard and not unfit and step.id in (rebuild.scales or {}):
        return
    session.choose_scale(plan.purpose)
    if session.scale is scale:
        return
    session.work.weigh(weighing_for(session.unit(), step, session.scale, plan.purpose, plan.again))
    why = unfit or ("" if heard else f"{scale.registered.title} gives no reading")
    said = f"This is weighed on {session.scale.registered.title}."
    session.say(f"{why}. {said}" if why else said, Severity.ATTENTION)
