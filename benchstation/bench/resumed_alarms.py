"""Alarms that were open when the program ended are open still; nobody watched in between."""

from datetime import timedelta

from benchstation.bench.alarm_journal import AlarmKeeper
from benchstation.bench.messages import Severity
from benchstation.bench.session import BenchSession
from benchstation.bench.waiting_facts import WaitingFacts
from benchstation.domain.events import AlarmChanged, AlarmResumed
from benchstation.domain.guard import AlarmKind, AlarmState, AlarmView
from benchstation.domain.record import stamp
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import local_clock, seconds
from benchstation.store.open_alarms import OpenAlarm, last_written, open_alarms


def resume_alarms(session: BenchSession, keeper: AlarmKeeper) -> None:
    """Open the alarms again that the journal has open, and put on record how long nobody watched.

    Capture stays locked by them as before; each is closed when its condition has gone and somebody
    has acknowledged it.
    """
    _take_up(session)
    alarms = open_alarms(session.store)
    since = last_written(session.store)
    if not alarms or since is None:
        return
    now, utc = session.clock.seconds(), session.clock.utc()
    gap_s = max(0.0, (utc - since).total_seconds())
    unwatched = f"nobody watched for {seconds(gap_s)} up to {local_clock(utc)}"
    for alarm in alarms:
        event = alarm.changed
        start = now - max(0.0, (utc - alarm.started_utc) / timedelta(seconds=1))
        session.watch.resume(_view(alarm, start, unwatched))
        keeper.resume(event.episode, start, event.unit_id)
    session.keep(
        [
            AlarmResumed(a.changed.unit_id, a.changed.episode, a.changed.state, stamp(since), gap_s)
            for a in alarms
        ],
        (),
    )
    kinds = ", ".join(alarm.changed.alarm.upper() for alarm in alarms)
    session.say(f"Still open from before: {kinds}; {unwatched}.", Severity.ATTENTION)


def _take_up(session: BenchSession) -> None:
    """Put alarms on record that were found while nothing could be written, before the end."""
    reserve, kept = session.to_write.reserve, session.to_write.reserve.read()
    entries = session.store.entries(kind=AlarmChanged.kind) if kept else []
    known = [(entry.event, entry.utc) for entry in entries]
    for one in kept:
        # The program may have ended between writing it and forgetting it.
        if (one.event, one.utc) not in known:
            session.to_write.keep(WaitingFacts([one.event], (), one.person, one.utc))
    reserve.take_room()
    try:
        session.to_write.write()
    except StationError as error:
        session.say(f"Not on record yet: {error.what}", Severity.ATTENTION)


def _view(alarm: OpenAlarm, since: float, detail: str) -> AlarmView:
    event = alarm.changed
    state = AlarmState(event.state)
    by = alarm.person if state is AlarmState.ACTIVE_ACKNOWLEDGED else ""
    return AlarmView(
        AlarmKind(event.alarm),
        state,
        event.episode,
        since,
        event.peak_gauge_pa,
        event.threshold_gauge_pa,
        by,
        event.reason if by else "",
        detail,
        event.gauge_id,
        None,
    )
