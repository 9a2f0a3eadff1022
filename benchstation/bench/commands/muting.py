"""Muting the alarm's sound for a while."""

from collections.abc import Mapping

from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.events import AlarmMuted
from benchstation.bench.session import Desk
from benchstation.bench.outputs.mute import MUTE_S, unacknowledged


def mute(desk: Desk, fields: Mapping[str, str]) -> str:
    """Mute what rings now, by whoever is signed in; it is on record before it is silent."""
    assert desk.person is not None
    ringing = unacknowledged(desk.watch.snapshot())
    if not ringing:
        raise NotAllowedError("no alarm sounds.", where="Mute")
    desk.journal([AlarmMuted(desk.unit_id(), ringing, MUTE_S)])
    desk.mute.until = desk.clock.seconds() + MUTE_S
    desk.worry = True
    return f"Muted for {MUTE_S:.0f} s by {desk.person.name}. A new alarm is heard."
