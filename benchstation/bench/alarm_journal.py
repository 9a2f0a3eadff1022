"""The guard's changes as events for the journal, and each closed episode with its trace."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from benchstation.bench.capture.tracing import trace_of, utc_of
from benchstation.clock import Clock
from benchstation.devices.instrument import Sample
from benchstation.domain.events import AlarmChanged, AlarmEpisodeRecorded, Event
from benchstation.domain.guard import AlarmState, Transition
from benchstation.domain.guard_limits import GuardLimits
from benchstation.domain.record import stamp
from benchstation.store.traces import Trace

BEFORE_S = 10.0
MOST_SAMPLES = 40_000


@dataclass(slots=True)
class AlarmKeeper:
    """Keeps the pressure of the last while, so that an episode's trace can be stored."""

    clock: Clock
    _recent: dict[str, deque[tuple[float, float]]] = field(default_factory=dict)
    """By the id of the gauge."""
    _started: dict[str, float] = field(default_factory=dict)
    _units: dict[str, str] = field(default_factory=dict)

    def take(self, gauge: str, sample: Sample) -> None:
        """Keep one reading of a gauge."""
        kept = self._recent.setdefault(gauge, deque(maxlen=MOST_SAMPLES))
        kept.append((sample.at, sample.value))

    def resume(self, episode: str, started: float, unit_id: str) -> None:
        """Go on with an episode that began before this program did."""
        self._started[episode], self._units[episode] = started, unit_id

    def events(
        self, changes: Sequence[Transition], unit_id: str, limits: GuardLimits
    ) -> tuple[list[Event], list[Trace]]:
        """Return what the journal takes of these changes, oldest first."""
        events: list[Event] = []
        traces: list[Trace] = []
        for change in changes:
            self._started.setdefault(change.episode, change.at)
            # An episode stays with the unit it began at, whichever is on the bench at its end.
            unit = self._units.setdefault(change.episode, unit_id)
            events.append(
                AlarmChanged(
                    unit,
                    change.episode,
                    change.kind.value,
                    change.new.value,
                    change.gauge_pa,
                    change.peak_gauge_pa,
                    change.threshold_gauge_pa,
                    limits.limit_source,
                    change.reason or change.detail,
                    change.gauge,
                )
            )
            if change.new is AlarmState.NORMAL:
                recorded, trace = self._record(change, unit)
                events.append(recorded)
                traces.append(trace)
        return events, traces

    def _record(self, change: Transition, unit_id: str) -> tuple[AlarmEpisodeRecorded, Trace]:
        started = self._started.pop(change.episode)
        self._units.pop(change.episode)
        recent = self._recent.get(change.gauge, ())
        part = [(t, p) for t, p in recent if started - BEFORE_S <= t <= change.at]
        samples = np.array(part, dtype=np.float64).reshape(-1, 2)
        trace = trace_of(
            self.clock, samples[:, 0], samples[:, 1], name="gauge_pa", unit="Pa", note="alarm"
        )
        return AlarmEpisodeRecorded(
            unit_id,
            change.episode,
            change.kind.value,
            stamp(utc_of(self.clock, started)),
            stamp(utc_of(self.clock, change.at)),
            change.peak_gauge_pa,
            change.person,
            change.reason,
            trace.sha256,
        ), trace
