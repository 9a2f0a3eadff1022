"""What the Instruments page shows of one instrument, as plain frozen values."""

from collections.abc import Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Protocol

from benchstation.screens.model.bench import ReadingView
from benchstation.screens.model.elements import ActionView, FieldView, TermGroup, Tone
from benchstation.screens.model.lists import ListDetail, ListRow

CALIBRATE, WORK_OUT, EDIT = "calibrate", "work_out_calibration", "edit_calibration"
"""The actions of a new calibration: sign it, work out what is typed, change that."""
BEGIN_STUDY, END_STUDY = "begin_study", "end_study"


@dataclass(frozen=True, slots=True)
class InstrumentView:
    """One instrument on the Instruments page."""

    role: str
    title: str
    link: str
    """The link's state in words, with advice when it is not live."""
    tone: Tone
    reading: ReadingView
    groups: tuple[TermGroup, ...]
    raw_lines: tuple[str, ...]
    """The last frames as printable text, newest last; rejected ones are marked."""
    actions: tuple[ActionView, ...] = ()
    fields: tuple[FieldView, ...] = ()
    """What the actions take, such as the check weight's nominal."""
    id: str = ""
    """By this name the records know it; empty for what measures nothing."""
    recall: tuple[ActionView, ...] = ()
    """Actions that go to the records of its units."""


class CalibrationsService(Protocol):
    """Calibrations of what is fitted. Signing one goes by ``act``."""

    def calibrations(self) -> Future[Sequence[ListRow]]:
        """Return what is fitted, with how its calibration stands."""

    def open_calibration(self, key: str) -> Future[ListDetail]:
        """Open one instrument, with what whoever is signed in may do."""

    def work_out_calibration(self, fields: Mapping[str, str]) -> Future[ListDetail]:
        """Work out a typed certificate, and what the error as found did to units."""
