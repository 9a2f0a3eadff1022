"""Whether another instrument may be fitted now; ``refitting`` does it."""

from dataclasses import dataclass

from benchstation.bench.messages import Message
from benchstation.bench.session import LEADS_AND_QA, BenchSession, Command
from benchstation.domain.unit_commands import NotAllowedError


@dataclass(frozen=True, slots=True)
class FitInstrument(Command):
    """Ask whether another instrument may be fitted now; raise while a unit is on the bench."""

    roles = LEADS_AND_QA

    def __call__(self, session: BenchSession) -> Message:
        if session.rebuild is not None and not session.rebuild.ended:
            raise NotAllowedError(
                f"{session.rebuild.opened.serial} is on the bench.",
                advice="File or abandon it first: its evidence rests on the instruments it has.",
            )
        return Message()
