"""What the guard found, on its way to the journal: kept and tried again until it is on record.

Alarms are kept beside the records too, so that they outlive the program that waits.
"""

import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from benchstation.domain.events import AlarmChanged, Event
from benchstation.driver_api.errors import StationError
from benchstation.store.reserve import Reserve, Unwritten
from benchstation.store.traces import Trace

AGAIN_AFTER_S = 1.0


@dataclass(frozen=True, slots=True)
class WaitingFacts:
    """Facts of one moment, with who stood at the bench then: a later write changes neither."""

    events: Sequence[Event]
    traces: Sequence[Trace]
    person: str
    utc: datetime


@dataclass(slots=True)
class FactsToWrite:
    """Facts that are written in their order; ``problem`` says why they are not yet, or is empty."""

    append: Callable[[WaitingFacts], None]
    reserve: Reserve
    problem: str = ""
    _waiting: deque[WaitingFacts] = field(default_factory=deque)
    _again_at: float = -math.inf

    def __bool__(self) -> bool:
        """Return whether any wait."""
        return bool(self._waiting)

    def keep(self, facts: WaitingFacts) -> None:
        """Keep facts until they are written."""
        if not facts.events:
            return
        self._waiting.append(facts)
        if self.problem:
            self._keep_beside()

    def _keep_beside(self) -> None:
        self.reserve.keep(
            [
                Unwritten(event, facts.person, facts.utc)
                for facts in self._waiting
                for event in facts.events
                if isinstance(event, AlarmChanged)
            ]
        )

    def write(self) -> None:
        """Write all that wait; raises ``StationError``, and then what is left goes on waiting."""
        while self._waiting:
            try:
                self.append(self._waiting[0])
            except StationError as error:
                self.problem = error.what.partition(";")[0]
                self._keep_beside()
                raise
            self._waiting.popleft()
        self.problem = ""
        self.reserve.clear()

    def write_when_due(self, now: float) -> StationError | None:
        """Write all that wait, a second after a failure again; return what stood against it."""
        if not self._waiting or now < self._again_at:
            return None
        try:
            self.write()
        except StationError as error:
            self._again_at = now + AGAIN_AFTER_S
            return error
        return None
