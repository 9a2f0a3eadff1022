"""Whether the bench may be changed now: another instrument fitted, a setting changed."""

from dataclasses import dataclass

from benchstation.bench.messages import Message
from benchstation.bench.session import LEADS_AND_QA, BenchSession, Command
from benchstation.domain.unit_commands import NotAllowedError


@dataclass(frozen=True, slots=True)
class FitInstrument(Command):
    """Ask whether another instrument may be fitted now; raise while a unit is on the bench."""

    roles = LEADS_AND_QA

    def __call__(self, session: BenchSession) -> Message:
        require_free_bench(session)
        return Message()


def require_free_bench(session: BenchSession) -> None:
    """Raise while a unit is on the bench: what it rests on stays as it is."""
    if session.rebuild is not None and not session.rebuild.ended:
        raise NotAllowedError(
            f"{session.rebuild.opened.serial} is on the bench.",
            advice="File or abandon it first: its evidence rests on the bench as it is.",
        )
