"""What the window asks of the station; every page's own questions are part of it."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.audit import AuditService
from benchstation.screens.model.bench import AlarmBannerView, BenchView
from benchstation.screens.model.day import DayService
from benchstation.screens.model.instruments import CalibrationsService, InstrumentView
from benchstation.screens.model.materials import MaterialsService
from benchstation.screens.model.people import PeopleService
from benchstation.screens.model.quality import QualityService
from benchstation.screens.model.queue import QueueService
from benchstation.screens.model.records import RecordDetail, RecordRow, RecordsService
from benchstation.screens.model.settings import SettingsService
from benchstation.screens.model.settling import SettlingService
from benchstation.screens.model.specifications import SpecificationDetail, SpecificationRow
from benchstation.screens.model.worklist import WorklistService


class StationService(
    QueueService,
    PeopleService,
    MaterialsService,
    CalibrationsService,
    DayService,
    RecordsService,
    QualityService,
    SettingsService,
    SettlingService,
    WorklistService,
    AuditService,
    Protocol,
):
    """What the window asks of the station. Every method returns at once."""

    display: UnitSystem

    def view(self) -> BenchView:
        """Build the present moment; cheap enough for 30 times a second."""

    def alarms(self) -> tuple[AlarmBannerView, ...]:
        """Return the alarms as the guard has them now, also while there is no present moment."""

    def act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action; the result is a sentence, a failure is a ``StationError``."""

    def judge(self, action: str, fields: Mapping[str, str]) -> Future[Mapping[str, str]]:
        """Judge a form that is being filled in by the rules of this action; nothing is done.

        The result says by field what is wrong with what stands there.
        """

    def acknowledge(self, alarm_id: str, reason: str) -> Future[str]:
        """Acknowledge an alarm after the button was held."""

    def listen(self, callback: Callable[[], None]) -> None:
        """Call ``callback`` (from any thread) whenever a state changes that cannot wait."""

    def find_records(self, text: str, before: str = "") -> Future[Sequence[RecordRow]]:
        """Find units, newest first, a page at a time."""

    def open_record(self, unit_id: str) -> Future[RecordDetail]:
        """Open one record with its traces."""

    def write_certificate(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write a filed unit's record as PDF alone into a folder; return its file."""

    def export_record(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the record as PDF and JSON; gives the paths."""

    def find_specifications(self) -> Future[Sequence[SpecificationRow]]:
        """Return all revisions and open drafts, by family, the newest first."""

    def open_specification(self, key: str, travel: float, at: str) -> Future[SpecificationDetail]:
        """Open one, drawn at a share of its travel (0..1) and ``cold``, ``reference``, ``hot``."""

    def check_specification(
        self, source: str, travel: float, at: str
    ) -> Future[SpecificationDetail]:
        """Check a text that is being written, in the same way. Problems are words, not errors."""

    def stir(self) -> None:
        """Note that a key, a click or a scan came; cheap enough for each."""

    def hold_text(self, held: bool) -> None:
        """Note whether the window holds a text that is not saved: it delays the sign-out."""

    def instruments(self) -> tuple[InstrumentView, ...]:
        """Build the Instruments page."""


@dataclass(frozen=True, slots=True)
class PastView:
    """How far the demonstration's past is made."""

    words: str
    share: float = 0.0
    """0 to 1."""
    ready: bool = False


class DemoHand(Protocol):
    """The virtual jug and bottle of the demonstration, for a panel of the window."""

    def set_pour(self, opening: float) -> None:
        """Tip the jug: 0 upright, 1 fully tipped."""

    def set_valve(self, opening: float) -> None:
        """Open the bottle valve, 0..1."""

    def set_vent(self, opening: float) -> None:
        """Open the vent, 0..1."""

    def set_regulator(self, gauge_pa: float) -> None:
        """Set the regulator."""

    def take_out(self) -> None:
        """Take a little oil out with the syringe."""

    def put_on_pan(self, what: str) -> None:
        """Put ``body``, ``jug``, ``unit``, a tray, ``check weight`` or ``nothing`` on the scale."""

    def bleed(self) -> None:
        """Bleed the surplus into the tray."""

    def state(self) -> Mapping[str, Any]:
        """Return the controls as they stand: pour, valve, vent, regulator_gauge_pa, on_pan."""

    def past(self) -> PastView | None:
        """Return how far the shop's past is made; ``None`` where it is on record already."""

    def open_past(self) -> str:
        """Ask for the past when the window has closed; return what is against it, or nothing."""
