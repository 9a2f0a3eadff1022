"""Scanning the can that oil is poured from."""

from collections.abc import Iterable
from dataclasses import dataclass

from benchstation.bench.judging import tried
from benchstation.bench.messages import Message
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.domain import can_lots
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import require_step
from benchstation.driver_api.errors import StationError

CAN = "can"
"""The form that asks for the lot on the can."""


@dataclass(frozen=True, slots=True)
class AskCan(Command):
    """Ask for the lot that the can says."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        require_step(session.unit(), StepKind.WEIGH, StepKind.BLEED, StepKind.FILE)
        session.work.show_form(CAN)
        return Message("Scan the can, or type its lot.")


@dataclass(frozen=True, slots=True)
class ConfirmLot(Command):
    """Put the lot of the can on record."""

    roles = WORKERS
    lot: str

    def __call__(self, session: BenchSession) -> Message:
        session.journal(can_lots.confirm_lot(session.unit(), self.lot))
        session.work.close_form()
        return Message(f"The can is {self.lot.strip()}, as chosen.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        rebuild, typed = session.rebuild, self.lot.strip()
        if rebuild is None or can_lots.may_become_right(rebuild, typed):
            return ()
        return tried(lambda: can_lots.confirm_lot(rebuild, typed))
