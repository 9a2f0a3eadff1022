"""Signing out who has left the bench: after a while without key, click or scan, never in a pour."""

import math

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.commands.signing_in import change_person
from benchstation.bench.idle import WARN_S
from benchstation.bench.session import BenchSession
from benchstation.bench.signed_in import TIMED
from benchstation.quantities.formatter import seconds


def occupation(session: BenchSession) -> str:
    """Return what goes on that must not lose its person now; empty: nothing."""
    if session.work.weighing is not None and session.work.weighing.phase is not Phase.NEED_TARE:
        return "a weighing is under way"
    if session.work.charge_wanted or session.work.hold_wanted:
        return "a charge or its hold test is under way"
    if session.work.unit_weighing is not None or session.work.pressure_again is not None:
        return "a unit is weighed or read again"
    if session.signed_in.idle.gas_moves(session.clock.seconds()):
        return "gas is flowing"
    if any(alarm.state.unacknowledged for alarm in session.watch.snapshot().alarms):
        return "an alarm is not acknowledged"
    return "a text is not kept" if session.signed_in.idle.unkept else ""


def sign_out_idle(session: BenchSession) -> None:
    """Sign the person out when the time is up and nothing goes on; else wait."""
    idle, now = session.signed_in.idle, session.clock.seconds()
    if session.instruments.gauges_in_path:
        idle.see_gauge(session.gauge.good_value(now), now)
    here = session.person is not None and bool(idle.after_s)
    occupied = here and bool(occupation(session))
    idle.judge(now, occupied=occupied)
    if here and not occupied and idle.left_s(now) <= 0:
        out = change_person(session, None, TIMED)
        session.say(f"{out} Nobody was here for {seconds(idle.after_s)}.")


def warning(session: BenchSession) -> str:
    """Return the words of the last half minute; empty before."""
    # As of the last judgement: what is held up then must not look near its end a moment later.
    left_s = session.signed_in.idle.left_s(session.signed_in.idle.judged_at)
    if session.person is None or not session.signed_in.idle.after_s or left_s >= WARN_S:
        return ""
    left = math.ceil(max(0.0, left_s))
    return f"{session.person.name} is signed out in {left} s. Press any key to stay."
