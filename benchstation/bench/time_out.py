"""Signing out who has left the bench: after a while without key, click or scan, never in a pour."""

import math

from benchstation.bench.commands.signing_in import hand_over
from benchstation.bench.session import Desk
from benchstation.bench.idle import WARN_S
from benchstation.bench.capture.weighing import Phase
from benchstation.quantities.formatter import seconds


def occupation(desk: Desk) -> str:
    """Say what goes on that must not lose its person now; empty: nothing."""
    if desk.weighing is not None and desk.weighing.phase is not Phase.NEED_TARE:
        return "a weighing is under way"
    if desk.charge_wanted or desk.hold_wanted:
        return "a charge or its hold test is under way"
    if desk.idle.gas_moves(desk.clock.seconds()):
        return "gas is flowing"
    if any(alarm.state.unacknowledged for alarm in desk.watch.snapshot().alarms):
        return "an alarm is not acknowledged"
    return "a text is not kept" if desk.idle.unkept else ""


def sign_out_idle(desk: Desk) -> None:
    """Sign the person out when the time is up and nothing goes on; else wait."""
    idle, now = desk.idle, desk.clock.seconds()
    idle.judged_at = now
    idle.see_gauge(desk.gauge.good_value(now), now)
    if desk.person is None or not idle.after_s:
        return
    if occupation(desk):
        idle.occupied_at = now
    elif idle.left_s(now) <= 0:
        desk.say(f"{hand_over(desk, None)} Nobody was here for {seconds(idle.after_s)}.")


def warning(desk: Desk) -> str:
    """Give the words of the last half minute; empty before."""
    # As of the last judgement: what is held up then must not look near its end a moment later.
    left_s = desk.idle.left_s(desk.idle.judged_at)
    if desk.person is None or not desk.idle.after_s or left_s >= WARN_S:
        return ""
    left = math.ceil(max(0.0, left_s))
    return f"{desk.person.name} is signed out in {left} s. Press any key to stay."
