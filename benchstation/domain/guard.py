"""The guarded high-pressure warning, judged on every reading. It only watches and warns.

Pure: readings and times come in as arguments, changes go out as :class:`Transition`; nothing is
opened, drawn or locked here. Call it from the one thread that receives the readings.

States and terms follow IEC 62682 (ISA-18.2). With A to D as in its state diagram::

    A normal --condition--> B active, unacknowledged --acknowledge--> C active, acknowledged
       ^                       |         ^                               |
       |                  returned   condition                       returned
       |                       v         |                               |
       +---acknowledge--- D returned, unacknowledged       A normal <----+

Every kind latches: it goes back to normal only when its condition has gone *and* a person has
acknowledged it. The high limit also wants a reason. A reading that is missing, faulted, not a
number or implausibly fast is an alarm by itself and never proves that the pressure has fallen.
Gauge pressures in Pa, times in seconds of one clock that does not go back.
"""

import math
import uuid
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from benchstation.domain.guard_limits import GuardError, GuardLimits
from benchstation.domain.standing_digits import Filling, StandingDigits
from benchstation.quantities.notation import significant

LEAST_GAUGE_PA = -20_000.0
"""A reading below this is implausible: nothing at the bench draws a vacuum, and a zero that is so
far off tells no pressure."""


class AlarmState(StrEnum):
    """The states of IEC 62682 that are used here."""

    NORMAL = "normal"
    ACTIVE_UNACKNOWLEDGED = "active, unacknowledged"
    ACTIVE_ACKNOWLEDGED = "active, acknowledged"
    RETURNED_UNACKNOWLEDGED = "returned, unacknowledged"

    @property
    def active(self) -> bool:
        """Return True when the alarm condition is true, or not known to have gone."""
        return self is AlarmState.ACTIVE_UNACKNOWLEDGED or self is AlarmState.ACTIVE_ACKNOWLEDGED

    @property
    def unacknowledged(self) -> bool:
        """Return True when a person has yet to acknowledge."""
        return self in (AlarmState.ACTIVE_UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED)


class AlarmKind(StrEnum):
    """What an alarm is about, the worst first."""

    HIGH_LIMIT = "high limit"
    SIGNAL_FAULT = "signal fault"
    SIGNAL_LOST = "signal lost"
    FROZEN = "gauge frozen"
    IMPLAUSIBLE_RATE = "implausible rate"
    HIGH_WARNING = "high warning"

    @property
    def of_signal(self) -> bool:
        """Return True when it is about the instrument rather than the pressure."""
        return self in _SIGNAL_KINDS

    @property
    def wants_reason(self) -> bool:
        """Return True when it is acknowledged only with what happened, in words."""
        return self in _WANTS_REASON


_SIGNAL_KINDS = (
    AlarmKind.SIGNAL_FAULT,
    AlarmKind.SIGNAL_LOST,
    AlarmKind.FROZEN,
    AlarmKind.IMPLAUSIBLE_RATE,
)
_WANTS_REASON = (AlarmKind.HIGH_LIMIT,)


@dataclass(frozen=True, slots=True)
class Transition:
    """One change of state. Pressures are gauge; ``None`` where there is none."""

    at: float
    kind: AlarmKind
    episode: str
    old: AlarmState
    new: AlarmState
    gauge_pa: float | None
    peak_gauge_pa: float | None
    threshold_gauge_pa: float | None
    person: str = ""
    reason: str = ""
    detail: str = ""
    gauge: str = ""
    """The gauge that it was judged on, by its id."""


@dataclass(frozen=True, slots=True)
class AlarmView:
    """One alarm that is not normal. ``since`` is the start of its episode."""

    kind: AlarmKind
    state: AlarmState
    episode: str
    since: float
    peak_gauge_pa: float | None
    threshold_gauge_pa: float | None
    acknowledged_by: str
    reason: str
    detail: str
    gauge: str = ""
    gauge_pa: float | None = None
    """What its gauge reads now; ``None`` while that is not known."""


@dataclass(frozen=True, slots=True)
class GuardSnapshot:
    """The guard at one moment: open alarms, the worst first."""

    alarms: tuple[AlarmView, ...]
    worst: AlarmView | None
    capture_locked: bool
    """No quality result may be captured: the limit is open, or the pressure is not known."""
    gauge_pa: float | None
    """Last good reading; ``None`` before the first and while the signal is faulted or lost."""
    at: float | None
    """When the last frame of any kind arrived."""


def over_all(snapshots: Sequence[GuardSnapshot]) -> GuardSnapshot:
    """Return the guards of several gauges as one: what is wrong with any is wrong.

    The pressure is the highest of them, and not known while that of one is not.
    """
    if len(snapshots) == 1:
        return snapshots[0]
    order = list(AlarmKind)
    alarms = sorted(
        (alarm for seen in snapshots for alarm in seen.alarms), key=lambda a: order.index(a.kind)
    )
    pressures = [seen.gauge_pa for seen in snapshots]
    known = [pressure for pressure in pressures if pressure is not None]
    heard = [seen.at for seen in snapshots if seen.at is not None]
    return GuardSnapshot(
        alarms=tuple(alarms),
        worst=alarms[0] if alarms else None,
        capture_locked=any(seen.capture_locked for seen in snapshots),
        gauge_pa=max(known, default=None) if len(known) == len(pressures) else None,
        at=min(heard) if heard and len(heard) == len(snapshots) else None,
    )


@dataclass(slots=True)
class _Alarm:
    kind: AlarmKind
    state: AlarmState = AlarmState.NORMAL
    episode: str = ""
    since: float = 0.0
    peak_gauge_pa: float | None = None
    threshold_gauge_pa: float | None = None
    release_gauge_pa: float = math.inf
    acknowledged_by: str = ""
    reason: str = ""
    detail: str = ""
    heard_gauge_pa: float = -math.inf
    """The pressure that was known when it was last raised or acknowledged."""
    acknowledged_at: float = -math.inf
    true_since: float | None = None
    gone_since: float | None = None
    presumed: bool = False
    """Acknowledged after it had returned, while the pressure was not known: a limit that is then
    exceeded is a new event, not the one that was acknowledged."""

    def meet(self, gauge_pa: float, threshold_pa: float, release_pa: float) -> None:
        """Take in a pressure: a new episode starts afresh, an open one keeps its extremes."""
        if self.state is AlarmState.NORMAL and self.true_since is None:
            self.peak_gauge_pa, self.threshold_gauge_pa = gauge_pa, threshold_pa
            self.release_gauge_pa = release_pa
            return
        self.peak_gauge_pa = max(gauge_pa, self.peak_gauge_pa or gauge_pa)
        self.threshold_gauge_pa = min(threshold_pa, self.threshold_gauge_pa or threshold_pa)
        self.release_gauge_pa = min(release_pa, self.release_gauge_pa)

    def view(self, gauge: str, gauge_pa: float | None) -> AlarmView:
        return AlarmView(
            self.kind,
            self.state,
            self.episode,
            self.since,
            self.peak_gauge_pa,
            self.threshold_gauge_pa,
            self.acknowledged_by,
            self.reason,
            self.detail,
            gauge,
            gauge_pa,
        )


@dataclass(slots=True)
class _Signal:
    counted_from: float | None = None
    heard_at: float | None = None
    gauge_pa: float | None = None
    recent: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=64))


class Guard:
    """Judges one gauge. ``armed`` says that there is an instrument, so that silence is an alarm.

    ``gauge`` is the id of that instrument; another one may take its place.
    """

    def __init__(
        self,
        limits: GuardLimits,
        *,
        armed: bool = True,
        gauge: str = "",
        new_episode: Callable[[], str] = lambda: uuid.uuid4().hex,
    ) -> None:
        self.gauge = gauge
        self._limits = limits
        self._armed = armed
        self._new_episode = new_episode
        self._alarms = {kind: _Alarm(kind) for kind in AlarmKind}
        self._signal = _Signal()
        self._digits = StandingDigits()
        self._now = -math.inf

    @property
    def limits(self) -> GuardLimits:
        """Return the limits in force."""
        return self._limits

    def judge_reading(self, at: float, gauge_pa: float | None) -> tuple[Transition, ...]:
        """Judge one reading; one that cannot be a pressure is judged as a fault."""
        if gauge_pa == math.inf:
            return self.judge_over_range(at, "over range")
        if gauge_pa is None or not math.isfinite(gauge_pa):
            return self.judge_fault(at, "the reading is not a number")
        if gauge_pa < LEAST_GAUGE_PA:
            return self.judge_fault(at, "the reading is implausibly low")
        changes = list(self.judge_time(at))
        now = self._heard(at)
        self._signal.gauge_pa = gauge_pa
        plausible = self._judge_rate(now, gauge_pa, changes)
        for kind in (AlarmKind.SIGNAL_LOST, AlarmKind.SIGNAL_FAULT):
            self._gone(self._alarms[kind], now, changes)
        self._judge_digits(now, gauge_pa, changes)
        self._judge_levels(now, gauge_pa, changes, may_return=plausible)
        return tuple(changes)

    def judge_fault(self, at: float, detail: str) -> tuple[Transition, ...]:
        """Judge a frame that gave no pressure: faulted loop, below range, device error."""
        changes = list(self.judge_time(at))
        now = self._heard(at)
        self._pressure_unknown()
        if self._armed:
            self._true(self._alarms[AlarmKind.SIGNAL_FAULT], now, changes, detail=detail)
        return tuple(changes)

    def judge_over_range(self, at: float, detail: str) -> tuple[Transition, ...]:
        """Judge a frame that says only that the pressure is above what the gauge can show.

        The limit counts as exceeded: no gauge that is fit for the path ends below it, and one that
        does would hide it.
        """
        changes = list(self.judge_time(at))
        now = self._heard(at)
        self._pressure_unknown()
        alarm, limits = self._alarms[AlarmKind.HIGH_LIMIT], self._limits
        alarm.meet(
            limits.limit_gauge_pa,
            limits.limit_gauge_pa,
            limits.limit_gauge_pa - limits.hysteresis_pa,
        )
        self._exceeded(alarm, now, math.inf, changes, detail=detail)
        return tuple(changes)

    def judge_time(self, at: float) -> tuple[Transition, ...]:
        """Judge silence. Call it at least every ``stale_after_s``; a reading does it too."""
        now = self._advance(at)
        changes: list[Transition] = []
        if self._signal.counted_from is None:
            self._signal.counted_from = now
        if now - self._signal.counted_from > self._limits.stale_after_s:
            self._pressure_unknown()
            if self._armed:
                alarm = self._alarms[AlarmKind.SIGNAL_LOST]
                words = f"no reading for more than {significant(self._limits.stale_after_s, 6)} s"
                self._true(alarm, now, changes, detail=words)
        return tuple(changes)

    def acknowledge(
        self, at: float, person: str, reason: str, *, episode: str | None = None
    ) -> tuple[Transition, ...]:
        """Acknowledge one episode, or all open ones. Nothing open gives no change.

        An alarm whose condition has gone becomes normal, any other active and acknowledged: so too
        a returned one while the pressure is not known. Raises :class:`GuardError` without a person,
        or for the high limit without a reason; then nothing is acknowledged.
        """
        now = self._advance(at)
        person, reason = person.strip(), reason.strip()
        chosen = [
            alarm
            for alarm in self._alarms.values()
            if alarm.state.unacknowledged and self._is_meant(alarm, episode)
        ]
        if not person:
            raise GuardError(
                "nobody is signed in; the alarm stays unacknowledged.",
                advice="Sign in, then acknowledge.",
            )
        if not reason and any(alarm.kind.wants_reason for alarm in chosen):
            raise GuardError(
                "the high limit is acknowledged with a reason; the alarm stays unacknowledged.",
                advice="Say in a few words what happened.",
            )
        changes: list[Transition] = []
        for alarm in chosen:
            alarm.acknowledged_by, alarm.reason = person, reason
            alarm.acknowledged_at = now
            alarm.heard_gauge_pa = self._signal.gauge_pa or alarm.heard_gauge_pa
            gone = alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED and (
                alarm.kind.of_signal or self._signal.gauge_pa is not None
            )
            alarm.presumed = not gone and alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
            self._change(
                alarm, now, AlarmState.NORMAL if gone else AlarmState.ACTIVE_ACKNOWLEDGED, changes
            )
        return tuple(changes)

    def _is_meant(self, alarm: _Alarm, episode: str | None) -> bool:
        """Return whether an acknowledgement of an episode is one of this alarm.

        Who acknowledges the limit acknowledges the warning that it implies.
        """
        limit = self._alarms[AlarmKind.HIGH_LIMIT]
        implied = alarm.kind is AlarmKind.HIGH_WARNING and limit.state.unacknowledged
        return episode in (None, alarm.episode) or (implied and episode == limit.episode)

    def set_limits(self, at: float, limits: GuardLimits) -> tuple[Transition, ...]:
        """Take new limits and judge the last reading by them.

        An open episode is held to the lowest level that it has met: a higher limit closes nothing.
        """
        now = self._advance(at)
        self._limits = limits
        changes: list[Transition] = []
        if self._signal.gauge_pa is not None:
            self._judge_levels(now, self._signal.gauge_pa, changes, may_return=False)
        return tuple(changes)

    def set_filling(self, filling: Filling | None) -> tuple[Transition, ...]:
        """Judge digits that stand still from now on, as gas is let in, or not: ``None``."""
        self._digits.set_filling(filling)
        return ()

    def set_armed(self, at: float, armed: bool) -> tuple[Transition, ...]:
        """Arm or disarm the loss alarm. Pressure alarms stay as they are either way."""
        now = self._advance(at)
        changes: list[Transition] = []
        if armed and not self._armed:
            self._signal.counted_from = now
        self._armed = armed
        if not armed:
            self._pressure_unknown()
            for kind in _SIGNAL_KINDS:
                self._returned(self._alarms[kind], now, changes)
        return tuple(changes)

    def resume(self, known: AlarmView) -> tuple[Transition, ...]:
        """Open an alarm again that was open when the program ended; no change of state.

        It is held to the level that it had met.
        """
        alarm = self._alarms[known.kind]
        alarm.state, alarm.episode, alarm.since = known.state, known.episode, known.since
        alarm.peak_gauge_pa = known.peak_gauge_pa
        alarm.threshold_gauge_pa = known.threshold_gauge_pa
        alarm.heard_gauge_pa = known.peak_gauge_pa or -math.inf
        alarm.acknowledged_by, alarm.reason = known.acknowledged_by, known.reason
        alarm.acknowledged_at, alarm.detail = known.since, known.detail
        hysteresis = {
            AlarmKind.HIGH_LIMIT: self._limits.hysteresis_pa,
            AlarmKind.HIGH_WARNING: self._limits.warning_hysteresis_pa,
        }
        if known.threshold_gauge_pa is not None and known.kind in hysteresis:
            alarm.release_gauge_pa = known.threshold_gauge_pa - hysteresis[known.kind]
        return ()

    def snapshot(self) -> GuardSnapshot:
        """Return the open alarms and what is known of the pressure."""
        alarms = tuple(
            [
                alarm.view(self.gauge, self._signal.gauge_pa)
                for alarm in self._alarms.values()
                if alarm.state is not AlarmState.NORMAL
            ]
        )
        unknown = self._armed and self._signal.gauge_pa is None
        if not alarms:
            return GuardSnapshot((), None, unknown, self._signal.gauge_pa, self._signal.heard_at)
        limit_open = self._alarms[AlarmKind.HIGH_LIMIT].state is not AlarmState.NORMAL
        signal_bad = any(self._alarms[kind].state.active for kind in _SIGNAL_KINDS)
        return GuardSnapshot(
            alarms=alarms,
            worst=alarms[0] if alarms else None,
            capture_locked=limit_open or signal_bad or unknown,
            gauge_pa=self._signal.gauge_pa,
            at=self._signal.heard_at,
        )

    def _advance(self, at: float) -> float:
        # Two callers may hand in times a little out of order; time itself must not go back.
        self._now = max(self._now, at)
        return self._now

    def _heard(self, at: float) -> float:
        now = self._advance(at)
        self._signal.heard_at = self._signal.counted_from = now
        return now

    def _pressure_unknown(self) -> None:
        self._signal.gauge_pa = None
        self._signal.recent.clear()
        self._digits.interrupt()
        # A frame without a pressure proves no fall; it does not undo what was seen before either.
        for alarm in self._alarms.values():
            alarm.gone_since = None

    def _judge_rate(self, now: float, gauge_pa: float, changes: list[Transition]) -> bool:
        recent, window = self._signal.recent, self._limits.rate_window_s
        while len(recent) > 1 and now - recent[1][0] >= window:
            recent.popleft()
        recent.append((now, gauge_pa))
        then, earlier = recent[0]
        rate = abs(gauge_pa - earlier) / max(now - then, window)
        plausible = rate <= self._limits.max_rate_pa_s
        alarm = self._alarms[AlarmKind.IMPLAUSIBLE_RATE]
        if plausible:
            self._gone(alarm, now, changes)
        elif self._armed:
            self._true(alarm, now, changes, detail="the pressure moved faster than it can")
        return plausible

    def _judge_digits(self, now: float, gauge_pa: float, changes: list[Transition]) -> None:
        alarm, why = self._alarms[AlarmKind.FROZEN], self._digits.take(now, gauge_pa)
        if why and self._armed:
            self._true(alarm, now, changes, detail=why)
        else:
            self._gone(alarm, now, changes)

    def _judge_levels(
        self, now: float, gauge_pa: float, changes: list[Transition], *, may_return: bool
    ) -> None:
        limits = self._limits
        levels = (
            (AlarmKind.HIGH_LIMIT, limits.limit_gauge_pa, limits.hysteresis_pa, 0.0),
            (
                AlarmKind.HIGH_WARNING,
                limits.warning_gauge_pa,
                limits.warning_hysteresis_pa,
                # A limit exceeded implies the warning: one acknowledgement is of both.
                0.0 if gauge_pa >= limits.limit_gauge_pa else limits.warning_on_delay_s,
            ),
        )
        for kind, threshold, hysteresis, delay_s in levels:
            alarm = self._alarms[kind]
            alarm.meet(gauge_pa, threshold, threshold - hysteresis)
            if gauge_pa >= threshold and kind is AlarmKind.HIGH_LIMIT:
                self._exceeded(alarm, now, gauge_pa, changes)
            elif gauge_pa >= threshold:
                self._true(alarm, now, changes, delay_s=delay_s)
            elif gauge_pa < alarm.release_gauge_pa and may_return:
                self._gone(alarm, now, changes)
            else:
                alarm.true_since = alarm.gone_since = None

    def _exceeded(
        self,
        alarm: _Alarm,
        now: float,
        gauge_pa: float,
        changes: list[Transition],
        *,
        detail: str = "",
    ) -> None:
        """Take in that the limit is exceeded; what goes on rising, or lasts, is heard again."""
        before = alarm.state
        self._true(alarm, now, changes, detail=detail)
        if not before.active or before is not alarm.state:
            alarm.heard_gauge_pa = gauge_pa
            return
        risen = gauge_pa - alarm.heard_gauge_pa
        lasts = now - alarm.acknowledged_at >= self._limits.again.after_s
        if risen >= self._limits.again.rise * self._limits.limit_gauge_pa:
            alarm.detail = "it keeps rising"
        elif before is AlarmState.ACTIVE_ACKNOWLEDGED and lasts:
            alarm.detail = f"still exceeded after {significant(self._limits.again.after_s, 6)} s"
        else:
            return
        alarm.heard_gauge_pa = gauge_pa
        alarm.acknowledged_by = alarm.reason = ""
        self._change(alarm, now, AlarmState.ACTIVE_UNACKNOWLEDGED, changes)

    def _true(
        self,
        alarm: _Alarm,
        now: float,
        changes: list[Transition],
        *,
        delay_s: float = 0.0,
        detail: str = "",
    ) -> None:
        alarm.gone_since = None
        if alarm.state.active and not alarm.presumed:
            return
        if alarm.presumed:
            alarm.presumed = False
            alarm.acknowledged_by = alarm.reason = ""
            self._change(alarm, now, AlarmState.ACTIVE_UNACKNOWLEDGED, changes)
            return
        alarm.true_since = now if alarm.true_since is None else alarm.true_since
        if alarm.state is AlarmState.NORMAL:
            if now - alarm.true_since < delay_s:
                return
            alarm.episode, alarm.since = self._new_episode(), now
            alarm.acknowledged_by = alarm.reason = ""
        alarm.detail = detail
        self._change(alarm, now, AlarmState.ACTIVE_UNACKNOWLEDGED, changes)

    def _gone(self, alarm: _Alarm, now: float, changes: list[Transition]) -> None:
        alarm.true_since = None
        if not alarm.state.active:
            return
        alarm.gone_since = now if alarm.gone_since is None else alarm.gone_since
        if now - alarm.gone_since >= self._limits.off_delay_s:
            self._returned(alarm, now, changes)

    def _returned(self, alarm: _Alarm, now: float, changes: list[Transition]) -> None:
        if alarm.state is AlarmState.ACTIVE_UNACKNOWLEDGED:
            self._change(alarm, now, AlarmState.RETURNED_UNACKNOWLEDGED, changes)
        elif alarm.state is AlarmState.ACTIVE_ACKNOWLEDGED:
            self._change(alarm, now, AlarmState.NORMAL, changes)

    def _change(
        self, alarm: _Alarm, now: float, new: AlarmState, changes: list[Transition]
    ) -> None:
        changes.append(
            Transition(
                at=now,
                kind=alarm.kind,
                episode=alarm.episode,
                old=alarm.state,
                new=new,
                gauge_pa=self._signal.gauge_pa,
                peak_gauge_pa=alarm.peak_gauge_pa,
                threshold_gauge_pa=alarm.threshold_gauge_pa,
                person=alarm.acknowledged_by,
                reason=alarm.reason,
                detail=alarm.detail,
                gauge=self.gauge,
            )
        )
        alarm.state = new
        alarm.presumed = alarm.presumed and new is AlarmState.ACTIVE_ACKNOWLEDGED
        alarm.gone_since = None
        alarm.true_since = None
