"""Alarm episodes that were not closed when the program ended."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select

from benchstation.domain.events import AlarmChanged
from benchstation.domain.guard import AlarmState
from benchstation.store.chain_store import ChainStore
from benchstation.store.schema import alarm_episode, journal, utc_from


@dataclass(frozen=True, slots=True)
class OpenAlarm:
    """An open episode: its last change, when it began, and who changed it last."""

    changed: AlarmChanged
    started_utc: datetime
    person: str


def open_alarms(store: ChainStore) -> tuple[OpenAlarm, ...]:
    """Return the newest episode of each gauge and kind that is open, oldest first.

    One that a later episode of its kind has overtaken was left open by a program that did not
    resume alarms; it tells nothing of now.
    """
    with store.reading() as connection:
        open_now = select(func.count()).where(
            alarm_episode.c.bench == store.bench, alarm_episode.c.state != AlarmState.NORMAL.value
        )
        if not connection.execute(open_now).scalar_one():
            return ()
    begun: dict[str, datetime] = {}
    newest: dict[tuple[str, str], OpenAlarm] = {}
    for entry in store.entries(kind=AlarmChanged.kind):
        event = entry.event
        assert isinstance(event, AlarmChanged)
        started = begun.setdefault(event.episode, entry.utc)
        # Earlier forms named no gauge: there was but one.
        newest.pop(("", event.alarm), None)
        newest[event.gauge_id, event.alarm] = OpenAlarm(event, started, entry.person)
    found: Sequence[OpenAlarm] = sorted(newest.values(), key=lambda one: one.started_utc)
    return tuple(one for one in found if one.changed.state != AlarmState.NORMAL.value)


def last_written(store: ChainStore) -> datetime | None:
    """Return when the journal was last written to; ``None`` when it is empty."""
    mine = select(journal.c.utc).where(journal.c.bench == store.bench)
    with store.reading() as connection:
        text = connection.execute(mine.order_by(journal.c.seq.desc()).limit(1)).scalar()
    return None if text is None else utc_from(text)
