"""What happens by itself in a repeatability run: each rest is kept, and at the end the study."""

from benchstation.bench.capture.repeatability_run import RepeatabilityRun
from benchstation.bench.messages import Severity
from benchstation.bench.session import BenchSession
from benchstation.quantities.units import Dimension


def move_on(session: BenchSession) -> None:
    """Keep what rests on the scale; put the study on record once the weight was on often enough."""
    run = session.study
    if run is None:
        return
    ended = _ended_by(session, run)
    if ended:
        session.end_study()
        session.say(f"Repeatability run ended, nothing kept: {ended}.", Severity.ATTENTION)
        return
    now = session.clock.seconds()
    if not run.move_on(now):
        return
    session.signed_in.idle.stir(now)
    title = run.fitted.registered.title
    if not run.done:
        said = "put the weight on" if run.wants_load else "take the weight off"
        session.say(f"{title}: {len(run.loaded)} of {run.times} kept; now {said}.")
        return
    measured = run.measured()
    session.end_study()
    session.journal([measured])
    run.fitted.repeatability = measured
    std = session.words.uncertainty(measured.std, Dimension.MASS)
    session.say(f"{title}: {run.times} loads scatter by {std}, {measured.dof} degrees of freedom.")


def _ended_by(session: BenchSession, run: RepeatabilityRun) -> str:
    """Return in words what came between; empty: nothing."""
    if session.person is None or session.person.person_id != run.person_id:
        return "whoever began it is signed out"
    if run.fitted not in tuple(session.instruments):
        return "the scale has left the bench"
    weighed_on = session.work.weighing is not None or session.work.unit_weighing is not None
    if weighed_on and session.scale is run.fitted:
        return "a unit is weighed on this scale"
    return ""
