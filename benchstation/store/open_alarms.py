"""Alarm episodes that were not closed when the program ended."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import bindparam, select

from benchstation.domain.events import AlarmChanged
from benchstation.domain.guard import AlarmState
from benchstation.store.chain_store import ChainStore
from benchstation.store.newest import newest_of
from benchstation.store.schema import alarm_episode, journal, utc_from

_STARTED = select(alarm_episode.c.started_utc).where(
    alarm_episode.c.bench == bindparam("own"), alarm_episode.c.episode == bindparam("this")
)


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
    found = []
    for entry in newest_of(store, AlarmChanged):
        event = entry.event
        if isinstance(event, AlarmChanged) and event.state != AlarmState.NORMAL.value:
            with store.reading() as connection:
                this = {"own": store.bench, "this": event.episode}
                started = connection.execute(_STARTED, this).scalar() or entry.utc
            found.append(OpenAlarm(event, started, entry.person))
    return tuple(sorted(found, key=lambda one: one.started_utc))


def last_written(store: ChainStore) -> datetime | None:
    """Return when the journal was last written to; ``None`` when it is empty."""
    mine = select(journal.c.utc).where(journal.c.bench == store.bench)
    with store.reading() as connection:
        text = connection.execute(mine.order_by(journal.c.seq.desc()).limit(1)).scalar()
    return None if text is None else utc_from(text)
