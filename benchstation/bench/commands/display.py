"""What is shown, and in which units."""

from dataclasses import dataclass

from benchstation.bench.commands.enrolment import Prefer
from benchstation.bench.messages import Message
from benchstation.bench.session import BenchSession, Command
from benchstation.quantities.units import next_system


@dataclass(frozen=True, slots=True)
class SwitchUnits(Command):
    """Show values in the next unit system, and keep it as liked."""

    signed_in = False

    def __call__(self, session: BenchSession) -> Message:
        session.show_in(next_system(session.display))
        if session.person is not None:
            Prefer(units=session.display.value)(session)
        return Message(f"Shown in {session.display.value} units; stored values do not change.")


@dataclass(frozen=True, slots=True)
class HideGuide(Command):
    """Put away the words that accompany a first unit."""

    signed_in = False

    def __call__(self, session: BenchSession) -> Message:
        session.guiding.end(session.person.person_id if session.person is not None else "")
        return Message("The words for a first unit are put away.")
