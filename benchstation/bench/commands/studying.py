"""A repeatability run on a scale, begun and ended by whoever puts the weight on."""

from collections.abc import Mapping
from dataclasses import dataclass

from benchstation.bench.capture.repeatability_run import USUAL_TIMES, RepeatabilityRun
from benchstation.bench.commands.parsing import made_from, named, quantity
from benchstation.bench.messages import Message
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.units import Dimension


def _times(form: Mapping[str, str]) -> int:
    """Return how often the weight is to be put on. Raises where it is no whole number."""
    text = form.get("times", "").strip() or str(USUAL_TIMES)
    if not text.isascii() or not text.isdigit() or len(text) > 3:
        raise NotAllowedError(
            f"'{text[:20]}' is no number of times.", advice="Type one such as 10.", field="times"
        )
    return int(text)


@dataclass(frozen=True, slots=True)
class BeginRepeatability(Command):
    """Follow a weight on and off a scale so many times, and keep what its readings scatter by."""

    roles = WORKERS
    nominal_kg: float = quantity("nominal", Dimension.MASS)
    times: int = made_from(_times, default=USUAL_TIMES)
    instrument_id: str = named("instrument", default="")

    def __call__(self, session: BenchSession) -> Message:
        fitted = session.instruments.named(self.instrument_id)
        title = fitted.registered.title
        if fitted.role is not InstrumentRole.SCALE:
            raise NotAllowedError("it is no scale.", where=title)
        if session.work.weighing is not None and session.scale is fitted:
            raise NotAllowedError(
                "a unit is weighed on it.",
                where=title,
                advice="Run it after this weighing, or set the unit aside.",
            )
        if fitted.good_value(session.clock.seconds()) is None:
            raise NotAllowedError(
                "there is no valid reading.", where=title, advice="See its line and health first."
            )
        assert session.person is not None
        who = session.person.person_id
        session.begin_study(RepeatabilityRun(fitted, self.nominal_kg, self.times, who))
        return Message(f"{title}: take everything off and wait; then on and off as you are told.")


@dataclass(frozen=True, slots=True)
class EndRepeatability(Command):
    """Leave a repeatability run; nothing of it is kept."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        if session.study is None:
            raise NotAllowedError("no repeatability run is under way.")
        session.end_study()
        return Message("Repeatability run ended; nothing of it is kept.")
