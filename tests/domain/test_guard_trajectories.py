"""Pressures as they come, thousands of them, judged beside the guard by a small judge of its own.

A trajectory is made of ramps, steps, spikes, noise, silence, frames without a pressure, and a gauge
driven past its end. The judge knows nothing of the guard: it looks at the frames one by one and
says which alarm must be open by when, by the guard's published times. Missed is an alarm that did
not come, late one that came after its time, vanished one that was closed though nobody
acknowledged it.
"""

import itertools
import random
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest

from benchstation.domain.guard import AlarmKind, AlarmState, Guard
from benchstation.domain.guard_limits import GuardLimits

BAR = 1e5
WARNING, LIMIT, END = 20 * BAR, 30 * BAR, 60 * BAR
ON_S, OFF_S, STALE_S = 0.2, 0.5, 1.0
OVER, FAULT, SILENT = "over range", "fault", "silent"
Frame = tuple[float, float | str]


def pieces(chance: random.Random) -> Iterator[tuple[float, float | str]]:
    """Return so many seconds to the next frame, and the pressure or what there is in its place."""
    pressure, step_s = 0.0, 1 / chance.choice((5.0, 10.0, 50.0))
    noise = chance.choice((0.0, 0.01, 0.3)) * BAR
    for _ in range(chance.randint(3, 12)):
        kind = chance.choice(("ramp", "step", "hold", "spike", "faults", "silence", "saturated"))
        frames = chance.randint(2, 40)
        target = chance.uniform(0.0, 70.0) * BAR
        if kind == "silence":
            yield chance.uniform(0.5, 4.0), SILENT
            continue
        start = pressure
        for count in range(1, frames + 1):
            if kind == "ramp":
                pressure = start + (target - start) * count / frames
            elif kind == "step":
                pressure = target
            shown = pressure + chance.gauss(0.0, noise)
            if kind == "spike" and count == 1:
                shown = target
            if kind == "saturated":
                shown = END + BAR
            if kind == "faults" and count % chance.choice((1, 2, 3)) == 0:
                yield step_s, FAULT
            else:
                yield step_s, OVER if shown > END else max(shown, -0.1 * BAR)


def trajectory(seed: int) -> list[Frame]:
    """Return the frames of one seed with their times."""
    chance, at, frames = random.Random(seed), 0.0, []
    for seconds, what in pieces(chance):
        at += seconds
        frames.append((at, what))
    return frames


@dataclass
class Judge:
    """Says what must be open, frame by frame."""

    above_since: float | None = None
    heard_at: float = 0.0
    due: dict[AlarmKind, bool] = field(default_factory=dict)

    def see(self, at: float, what: float | str) -> set[AlarmKind]:
        """Return what must be active at this very frame."""
        must = set()
        if at - self.heard_at > STALE_S:
            must.add(AlarmKind.SIGNAL_LOST)
        if what == SILENT:
            return must
        self.heard_at = at
        must.discard(AlarmKind.SIGNAL_LOST)
        if what == FAULT:
            return must | {AlarmKind.SIGNAL_FAULT}
        if what == OVER:
            return must | {AlarmKind.HIGH_LIMIT}
        if what >= LIMIT:
            must.add(AlarmKind.HIGH_LIMIT)
        if what >= WARNING:
            self.above_since = at if self.above_since is None else self.above_since
            if at - self.above_since >= ON_S:
                must.add(AlarmKind.HIGH_WARNING)
        else:
            self.above_since = None
        return must


def judged(seed: int) -> int:
    """Run one trajectory past both; returns how many alarms had to come."""
    limits = GuardLimits(
        WARNING,
        LIMIT,
        "hose",
        hysteresis_pa=BAR,
        warning_hysteresis_pa=BAR,
        warning_on_delay_s=ON_S,
        off_delay_s=OFF_S,
        stale_after_s=STALE_S,
        max_rate_pa_s=1e12,
    )
    count = itertools.count(1)
    guard = Guard(limits, new_episode=lambda: f"{next(count)}")
    guard.judge_time(0.0)
    judge, chance = Judge(), random.Random(seed + 1_000_000)
    latched: dict[AlarmKind, str] = {}
    came = 0
    for at, what in trajectory(seed):
        must = judge.see(at, what)
        if what == SILENT:
            guard.judge_time(at)
        elif what == FAULT:
            guard.judge_fault(at, "frame error")
        elif what == OVER:
            guard.judge_over_range(at, "over range")
        else:
            guard.judge_reading(at, float(what))
        seen = {alarm.kind: alarm for alarm in guard.snapshot().alarms}
        for kind in must:
            assert kind in seen, f"seed {seed}: {kind} missed or late at {at:.3f} s, {what}"
            assert seen[kind].state.active, f"seed {seed}: {kind} shown as gone at {at:.3f} s"
            if seen[kind].state.unacknowledged:
                came += kind not in latched
                latched[kind] = seen[kind].episode
        for kind in latched:
            assert kind in seen, f"seed {seed}: {kind} vanished at {at:.3f} s"
        if AlarmKind.HIGH_LIMIT in latched or what in (FAULT, SILENT, OVER):
            assert guard.snapshot().capture_locked or what == SILENT
        if latched and chance.random() < 0.02:
            kind = chance.choice(list(latched))
            guard.acknowledge(at, "ada", "seen to", episode=latched[kind])
            # An acknowledged alarm may close by itself from now on.
            open_now = {a.kind for a in guard.snapshot().alarms if a.state.unacknowledged}
            latched = {k: e for k, e in latched.items() if k in open_now}
    return came


def test_no_alarm_is_missed_late_or_vanishes():
    assert sum(judged(seed) for seed in range(400)) > 400


@pytest.mark.soak
def test_no_alarm_is_missed_late_or_vanishes_in_ten_thousand():
    assert sum(judged(seed) for seed in range(10_000)) > 10_000


@pytest.mark.parametrize("kind", [AlarmKind.HIGH_LIMIT, AlarmKind.HIGH_WARNING])
def test_the_judge_notices_a_guard_that_lets_go(kind, monkeypatch):
    """The trajectories would find a guard that forgets an alarm, or never raises it."""

    def gone(guard, at, gauge_pa, _usual=Guard.judge_reading):
        changes = _usual(guard, at, gauge_pa)
        guard._alarms[kind].state = AlarmState.NORMAL
        return changes

    monkeypatch.setattr(Guard, "judge_reading", gone)
    with pytest.raises(AssertionError, match=f"{kind} (missed or late|vanished)"):
        sum(judged(seed) for seed in range(400))
