"""Answering an alarm: acknowledging it, and muting its sound for a while."""

from dataclasses import dataclass

from benchstation.bench.messages import Message, Severity
from benchstation.bench.outputs.mute import MUTE_S, unacknowledged
from benchstation.bench.session import BenchSession, Command
from benchstation.domain.events import AlarmMuted
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.notation import fixed


@dataclass(frozen=True, slots=True)
class Mute(Command):
    """Mute what rings now, by whoever is signed in; it is on record before it is silent."""

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        ringing = unacknowledged(session.watch.snapshot())
        if not ringing:
            raise NotAllowedError("no alarm sounds.", where="Mute")
        why_not = session.outputs.mute.why_not(ringing)
        if why_not:
            raise NotAllowedError(f"{why_not}.", where="Mute")
        session.journal([AlarmMuted(session.on_bench.unit_id(), ringing, MUTE_S)])
        session.outputs.mute.mute(session.clock.seconds(), ringing)
        said = f"Muted for {fixed(MUTE_S, 0)} s by {session.person.name}. A new alarm is heard."
        return Message(said, Severity.ATTENTION)


@dataclass(frozen=True, slots=True)
class Acknowledge(Command):
    """Acknowledge an alarm by whoever is signed in; the high limit wants a reason."""

    episode: str
    reason: str

    def __call__(self, session: BenchSession) -> Message:
        assert session.person is not None
        session.watch.acknowledge(session.person.person_id, self.reason, self.episode)
        return Message("Acknowledged.")
