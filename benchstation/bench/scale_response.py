"""Learns at the bench how far a scale's display lags behind the hand, and puts it on record."""

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.session import BenchSession
from benchstation.domain.events import ScaleResponded
from benchstation.domain.pour_delay import KEPT, response_s

NEWS_SHARE = 0.1
"""A lag that differs by less than this from the one on record is no news."""


def learn(session: BenchSession, scale: BenchInstrument, poured_s: float | None = None) -> None:
    """Put on record what the last steps, and a pour that just ended, show of a scale's lag."""
    known = scale.responded
    pours = known.pours_s if known else ()
    if poured_s is not None:
        pours = (*pours, poured_s)[-KEPT:]
    step_s = scale.steps.delay_s
    if step_s is None and known is not None:
        step_s = known.step_s
    if step_s is None and not pours:
        return
    now_s = response_s(step_s, pours)
    told = known is not None and (poured_s is None or pours == known.pours_s)
    if told and known is not None and abs(now_s - known.response_s) <= NEWS_SHARE * now_s:
        return
    found = ScaleResponded(scale.id, step_s, pours, now_s)
    session.journal([found])
    scale.responded = found
