"""The guard's alarms."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import Event


@dataclass(frozen=True, slots=True)
class AlarmChanged(Event):
    """One change of state of one alarm episode; ``unit_id`` is the unit on the bench, or empty."""

    kind: ClassVar[str] = "alarm.changed"
    form: ClassVar[int] = 2
    unit_id: str
    episode: str
    alarm: str
    state: str
    gauge_pa: float | None
    peak_gauge_pa: float | None
    threshold_gauge_pa: float | None
    source: str
    reason: str = ""
    gauge_id: str = ""
    """The gauge that was judged; empty in form 1, when a bench had but one."""


@dataclass(frozen=True, slots=True)
class AlarmEpisodeRecorded(Event):
    """A closed episode: start, peak, end, acknowledgement, and its trace."""

    kind: ClassVar[str] = "alarm.recorded"
    unit_id: str
    episode: str
    alarm: str
    started_utc: str
    ended_utc: str
    peak_gauge_pa: float | None
    acknowledged_by: str
    reason: str
    trace_sha256: str


@dataclass(frozen=True, slots=True)
class AlarmMuted(Event):
    """Somebody muted the sound of these episodes for a time; a new alarm is heard all the same."""

    kind: ClassVar[str] = "alarm.muted"
    unit_id: str
    episodes: tuple[str, ...]
    seconds: float


@dataclass(frozen=True, slots=True)
class AlarmResumed(Event):
    """An episode that was open when the program ended is open again; nobody watched in between.

    ``unwatched_since_utc`` is when the journal was last written before, ``unwatched_s`` how long
    ago that was.
    """

    kind: ClassVar[str] = "alarm.resumed"
    unit_id: str
    episode: str
    state: str
    unwatched_since_utc: str
    unwatched_s: float
