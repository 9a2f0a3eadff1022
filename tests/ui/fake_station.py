"""A station without a bench: moments as plain values, futures that settle when a test says so."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import UnitSystem
from benchstation.screens.model.audit import AuditView
from benchstation.screens.model.bench import AlarmBannerView, BenchView
from benchstation.screens.model.elements import (
    ActionView,
    TaskView,
    TermGroup,
    TermView,
    Tone,
    TraceView,
)
from benchstation.screens.model.instruments import InstrumentView
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.proof import FigureView
from benchstation.screens.model.quality import OtherLimitView, QualityQuestion, QualityView
from benchstation.screens.model.queue import QueueView, UnitsRead
from benchstation.screens.model.records import (
    SINCE,
    UNITS_OF,
    UNITS_SINCE,
    CheckView,
    RecordDetail,
    RecordFront,
    RecordRow,
    TimelineRow,
)
from benchstation.screens.model.service import PastView
from benchstation.screens.model.specifications import SpecificationDetail, SpecificationRow
from tests.ui import (
    fake_audit,
    fake_calibrations,
    fake_queue,
    fake_specifications,
    fake_worklist,
)
from tests.ui.fake_moments import GAUGE, SCALE, charge_trace, pour_trace

TECHNICIANS = ("Technician 07", "Technician 12", "Technician 03")


def _lists() -> ModuleType:
    """Import these only when a page asks: they bring the whole bench with them."""
    from tests.ui import fake_lists

    return fake_lists


def _quality() -> Any:
    from tests.ui import fake_quality

    return fake_quality


def _settling() -> ModuleType:
    from tests.ui import fake_settling

    return fake_settling


def _filters() -> ModuleType:
    from tests.ui import fake_filters

    return fake_filters


def record_row(count: int) -> RecordRow:
    """Return the record with this number."""
    held, undecided_row = count % 11 == 3, count % 17 == 5
    tone = Tone.CAUTION if held or undecided_row else Tone.GOOD
    decision = "undecided" if undecided_row else "pass"
    state = "QA hold" if held else "released" if count > 4 else "filed"
    return RecordRow(
        f"u{count}",
        f"MR-{2230 - count}",
        "Rescue sledge, 46 mm",
        ("front left", "front right", "rear left", "rear right")[count % 4],
        f"2026-11-{25 - count % 24:02d} 14:07",
        TECHNICIANS[count % 3],
        decision,
        state,
        tone,
        f"key{count}",
    )


def record_detail(unit: str) -> RecordDetail:
    row = record_row(int(unit[1:]))
    pour_view, charge_view = pour_trace(20_000), charge_trace(15.2)
    done = TermGroup(
        "Oil",
        (
            TermView("Net oil", "218.80 g", "poured 221.9 g, bled 3.1 g"),
            TermView("Deviation", "+0.12 g ± 0.31 g (k = 2)", "JCGM 106: pass"),
            TermView("Oil lot", "L-0417, ISO VG 15", "certificate of the lot"),
        ),
    )
    gas = TermGroup(
        "Gas",
        (
            TermView("Charge, settled", "15.06 bar gauge", "target 15.08 bar at 21.4 °C"),
            TermView("Leak rate", "1.2e-06 Pa m³/s", "pressure change, EN 1779"),
        ),
    )
    who = TermGroup(
        "By whom, with what",
        (
            TermView("Technician", row.technician),
            TermView("Scale", "scale-02, calibrated to 2027-01-15"),
            TermView("Gauge", "gauge-01, calibrated to 2027-03-01"),
        ),
    )
    anchor = f"journal entry 1482 of bench-2, hash {'3f9a' * 16}"
    return RecordDetail(
        row,
        (done, gas, who),
        (from_zero(pour_view), from_zero(charge_view)),
        anchor,
        front=record_front(row),
        steps=tuple(
            TimelineRow(f"{row.filed} CET", title, words, row.technician)
            for title, words in (
                ("Intake", "Condition as found: weeping"),
                ("Release the gas", "as found 13.96 bar gauge, seen to fall, 0.00 bar gauge"),
                ("Oil weigh-in", "net oil 218.8 g, pass"),
            )
        ),
        place="order A-1204   front left   mr-46-front revision 3",
    )


def from_zero(view: TraceView) -> TraceView:
    """Return a trace as a record has it: from its begin on."""
    return replace(view, seconds=view.seconds - view.seconds[0])


def record_front(row: RecordRow) -> RecordFront:
    held = row.tone is not Tone.GOOD
    first, beside = (row.state, f"judged {row.decision}") if held else (row.decision, row.state)
    tone = Tone.QUIET if held else Tone.GOOD
    return RecordFront(
        first,
        beside,
        row.tone,
        ((f"Judged {row.decision}; filed by {row.technician}, {row.filed} CET.", Tone.PLAIN),),
        (
            FigureView(
                *("net oil", "218.80", "g", 218.8, 216.7, 220.7),
                *("U 0.31 g; pass, conforms over 99.99 %", tone, ("216.7", "220.7")),
            ),
            FigureView(
                *("charge at 21.4 °C", "15.06", "bar gauge", 15.06, 14.68, 15.48),
                *("U 0.20 bar; pass, conforms 99.81 %", tone, ("14.68", "15.48")),
            ),
        ),
        (("Hold: the high limit was exceeded", Tone.CAUTION),) if held else (),
        (
            ("Scale, serial S-20418; certificate K-1187 valid to 2027-01-15", Tone.PLAIN),
            ("Gauge, serial G-0093; certificate K-1190 valid to 2027-03-01", Tone.PLAIN),
        ),
    )


def instruments() -> tuple[InstrumentView, ...]:
    scale = InstrumentView(
        "scale",
        "Scale",
        "live on /dev/ttyUSB0, 9600 baud, 10 frames a second",
        Tone.GOOD,
        SCALE,
        (
            TermGroup(
                "Calibration",
                (
                    TermView("Calibrated to", "2027-01-15", "certificate K-1187"),
                    TermView("Check weight", "200.00 g, shown 200.01 g", "today 08:02, limit 0.05"),
                ),
            ),
            TermGroup("Link", (TermView("Frames", "128 402"), TermView("Rejected", "3"))),
        ),
        ("ST,GS,+00187.40  g", "US,GS,+00187.39  g", "rejected: ST,GS,+0018?.40  g"),
        (
            ActionView("check", "Check weight", "W", primary=True),
            ActionView("zero", "Zero", "Z"),
        ),
        id="scale-02",
        recall=(
            ActionView(UNITS_OF, "Records of its units", "Ctrl+R"),
            ActionView(UNITS_SINCE, "Those since the last good check", "Ctrl+D"),
        ),
    )
    gauge = InstrumentView(
        "gauge",
        "Pressure transducer",
        "no answer for 4 s. Check the plug and the supply; it is tried again every 2 s.",
        Tone.DANGER,
        replace(GAUGE, stale=True, age="4.2 s old", tone=Tone.DANGER, words=("no answer",)),
        (TermGroup("Calibration", (TermView("Calibrated to", "2027-03-01", "K-1190"),)),),
        ("+0014.93 bar", "+0014.93 bar"),
        (
            ActionView("zero_check", "Zero check", "Shift+Z", False, "there is no reading"),
            ActionView("override", "Use although overdue", "Ctrl+O", needs_reason=True),
        ),
        id="gauge-01",
    )
    return scale, gauge


class FakeStation:
    """Answers as a station does. Futures settle at once, or when a test says so."""

    def __init__(self, view: BenchView, *, records: int = 120, page: int = 50) -> None:
        self.display = UnitSystem.METRIC
        self.current = view
        self.records = [record_row(count) for count in range(records)]
        self.page = page
        self.charted, self.written = 200, ()
        """How many units are charted, and what was asked to be written last."""
        self.acted: list[tuple[str, dict[str, str]]] = []
        self.judged: list[tuple[str, dict[str, str]]] = []
        self.wrong: dict[str, str] = {}
        self.acknowledged: list[tuple[str, str]] = []
        self.found: list[tuple[str, str]] = []
        self.queue = fake_queue.QUEUE
        self.labels: list[tuple[str, Path]] = []
        self.certificates: list[tuple[str, Path]] = []
        self.lists_read: list[Path] = []
        self.exported: list[tuple[str, Path]] = []
        self.specifications = list(fake_specifications.ROWS)
        self.opened: list[tuple[str, float, str]] = []
        self.checked: list[tuple[str, float, str]] = []
        self.fitted = instruments()
        self.views = self.stirred = self.stopped = 0
        self.check = CheckView("", Tone.QUIET)
        self.batch = CheckView("", Tone.QUIET)
        self.asked_papers = None
        self.held_text: list[bool] = []
        self.bottles: list[dict[str, str]] = []
        self.certificates: list[dict[str, str]] = []
        self.badges: set[str] = set()
        """What is somebody's badge, where something else could be meant."""
        self.failure: Exception | None = None
        self.view_failure: Exception | None = None
        self.later = False
        self.waiting: list[tuple[Future[Any], Any]] = []
        self.callbacks: list[Callable[[], None]] = []

    def view(self) -> BenchView:
        self.views += 1
        if self.view_failure is not None:
            raise self.view_failure
        return self.current

    def alarms(self) -> tuple[AlarmBannerView, ...]:
        return self.current.alarms

    def _answer(self, result: Any) -> Future[Any]:
        future: Future[Any] = Future()
        if self.later:
            self.waiting.append((future, result))
        elif self.failure is not None:
            future.set_exception(self.failure)
        else:
            future.set_result(result)
        return future

    def settle(self) -> None:
        """Answer everything that waits."""
        waiting, self.waiting = self.waiting, []
        for future, result in waiting:
            if self.failure is not None:
                future.set_exception(self.failure)
            else:
                future.set_result(result)

    def act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        self.acted.append((action, dict(fields)))
        if action == "badge" and fields.get("or") and fields["badge"] not in self.badges:
            return self._answer("")
        return self._answer(f"{action}: done.")

    def judge(self, action: str, fields: Mapping[str, str]) -> Future[Mapping[str, str]]:
        self.judged.append((action, dict(fields)))
        return self._answer(self.wrong)

    def acknowledge(self, alarm_id: str, reason: str) -> Future[str]:
        self.acknowledged.append((alarm_id, reason))
        return self._answer("Acknowledged.")

    def listen(self, callback: Callable[[], None]) -> None:
        self.callbacks.append(callback)

    def find_queue(self) -> Future[QueueView]:
        return self._answer(self.queue)

    def read_units(self, path: Path) -> Future[UnitsRead]:
        self.lists_read.append(path)
        return self._answer(UnitsRead("serial,family", "2 units in 1 order.", ("A-9: a, b",)))

    def find_records(self, text: str, before: str = "") -> Future[Sequence[RecordRow]]:
        self.found.append((text, before))
        fitting = [r for r in self.records if text.lower() in f"{r.serial} {r.technician}".lower()]
        keys = [row.page_key for row in fitting]
        start = keys.index(before) + 1 if before in keys else 0
        rows = fitting[start : start + self.page]
        if start + self.page >= len(fitting) and rows:
            rows = [*rows[:-1], replace(rows[-1], page_key="")]
        return self._answer(rows)

    def about_search(self, text: str) -> Future[str]:
        said = {
            "scale-02": "120 units rest on Scale (scale-02, serial number S-20418).",
            "scale-02" + SINCE: "3 units rest on Scale (scale-02, serial number S-20418) since its "
            "last good check, 2026-11-24 08:02; it failed 2026-11-25 08:02.",
        }
        return self._answer(said.get(text, ""))

    def write_list(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        self.exported.append((text, folder))
        return self._answer([folder / "units.csv", folder / "units.pdf"])

    def write_records(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        self.exported.append((text, folder))
        return self._answer([folder / "records.jsonl"])

    def filter_form(self, text: str) -> Future[TaskView]:
        return self._answer(_filters().form(text))

    def open_record(self, unit_id: str) -> Future[RecordDetail]:
        return self._answer(record_detail(unit_id))

    def export_record(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        self.exported.append((unit_id, folder))
        return self._answer([folder / f"{unit_id}.pdf", folder / f"{unit_id}.json"])

    def write_data_sheet(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        return self._answer((folder / f"{unit_id}_data_sheet.pdf",))

    def write_certificate(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        self.certificates.append((unit_id, folder))
        return self._answer([folder / f"{unit_id}.pdf"])

    def write_label(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        self.labels.append((unit_id, folder))
        return self._answer([folder / f"{unit_id}_label.pdf"])

    def verify_journal(self) -> Future[str]:
        words = "Sound: 1482 entries, checked 2026-11-25 14:07:31. Head: entry 1482, 3f9a3f9a..."
        found = CheckView(words, Tone.GOOD)
        if self.later:
            self.check = CheckView("Checking the journal: 512 of 1530 entries.", Tone.QUIET, 0.33)
        elif self.failure is None:
            self.check = found
        future = self._answer(words)
        if self.later:
            future.add_done_callback(lambda _: setattr(self, "check", found))
        return future

    def stop_check(self) -> None:
        self.stopped += 1

    def journal_check(self) -> CheckView:
        return self.check

    def write_papers(self, text, folder):
        self.asked_papers = (text, folder)
        self.batch = CheckView("Writing certificates: 3 of 100.", Tone.QUIET, 0.03)
        return self._answer(())

    def stop_papers(self) -> None:
        self.batch = CheckView("Stopped: no paper was written.", Tone.CAUTION)

    def paper_batch(self) -> CheckView:
        return self.batch

    def find_specifications(self) -> Future[Sequence[SpecificationRow]]:
        return self._answer(list(self.specifications))

    def open_specification(self, key: str, travel: float, at: str) -> Future[SpecificationDetail]:
        self.opened.append((key, travel, at))
        row = next(row for row in self.specifications if row.key == key)
        return self._answer(fake_specifications.opened(row, travel, at))

    def check_specification(
        self, source: str, travel: float, at: str
    ) -> Future[SpecificationDetail]:
        self.checked.append((source, travel, at))
        return self._answer(fake_specifications.checked(source, travel, at))

    def stir(self) -> None:
        self.stirred += 1

    def hold_text(self, held: bool) -> None:
        self.held_text.append(held)

    def audit(self, text: str, before: str = "") -> Future[AuditView]:
        return self._answer(fake_audit.find(text, before))

    def open_entry(self, key: str) -> Future[ListDetail]:
        return self._answer(fake_audit.entry(key))

    def write_audit(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        self.exported.append((text, folder))
        return self._answer([folder / "audit.csv"])

    def worklist(self) -> Future[Sequence[ListRow]]:
        return self._answer([detail.row for detail in fake_worklist.LINES])

    def open_work(self, key: str) -> Future[ListDetail]:
        return self._answer(next(d for d in fake_worklist.LINES if d.row.key == key))

    def people(self) -> Future[Sequence[ListRow]]:
        return self._answer(list(_lists().PEOPLE))

    def open_person(self, key: str) -> Future[ListDetail]:
        return self._answer(_lists().person(key))

    def day(self) -> Future[Sequence[ListRow]]:
        return self._answer(list(_lists().DAY))

    def open_day_line(self, key: str) -> Future[ListDetail]:
        return self._answer(_lists().day_line(key))

    def settings(self) -> Future[Sequence[ListRow]]:
        return self._answer(list(_lists().settings()))

    def open_settings(self, key: str) -> Future[ListDetail]:
        return self._answer(_lists().group_of_settings(key))

    def settling(self) -> Future[Sequence[ListRow]]:
        return self._answer(list(_settling().settling()))

    def open_settling(self, key: str) -> Future[ListDetail]:
        return self._answer(_settling().open_settling(key))

    def quality(self, question: QualityQuestion) -> Future[QualityView]:
        return self._answer(_quality().quality(question, self.display, self.charted))

    def other_limit(self, question: QualityQuestion, typed: str) -> Future[OtherLimitView]:
        view = _quality().other_limit(question, typed, self.display, self.charted)
        return self._answer(view)

    def write_quality(
        self, question: QualityQuestion, typed: str, folder: Path
    ) -> Future[Sequence[Path]]:
        self.written = (question, typed, folder)
        return self._answer((folder / "quality.pdf", folder / "quality.csv"))

    def materials(self) -> Future[Sequence[ListRow]]:
        return self._answer(list(_lists().MATERIALS))

    def open_store(self, key: str) -> Future[ListDetail]:
        return self._answer(_lists().store(key))

    def work_out_bottle(self, fields: Mapping[str, str]) -> Future[ListDetail]:
        self.bottles.append(dict(fields))
        return self._answer(_lists().worked_out())

    def calibrations(self) -> Future[Sequence[ListRow]]:
        return self._answer(list(fake_calibrations.ROWS))

    def open_calibration(self, key: str) -> Future[ListDetail]:
        return self._answer(fake_calibrations.opened(key))

    def work_out_calibration(self, fields: Mapping[str, str]) -> Future[ListDetail]:
        self.certificates.append(dict(fields))
        return self._answer(fake_calibrations.worked_out(fields))

    def instruments(self) -> tuple[InstrumentView, ...]:
        return self.fitted


class FakeHand:
    """Takes note of what the virtual hand does."""

    def __init__(self) -> None:
        self.done: list[tuple[str, Any]] = []
        self.making: PastView | None = None
        self.against = ""

    def past(self) -> PastView | None:
        return self.making

    def open_past(self) -> str:
        self.done.append(("open_past", None))
        return self.against

    def set_pour(self, opening: float) -> None:
        self.done.append(("pour", opening))

    def set_valve(self, opening: float) -> None:
        self.done.append(("valve", opening))

    def set_vent(self, opening: float) -> None:
        self.done.append(("vent", opening))

    def set_regulator(self, gauge_pa: float) -> None:
        self.done.append(("regulator", gauge_pa))

    def take_out(self) -> None:
        self.done.append(("take_out", None))

    def put_on_pan(self, what: str) -> None:
        self.done.append(("pan", what))

    def bleed(self) -> None:
        self.done.append(("bleed", None))

    def state(self) -> Mapping[str, Any]:
        return {"pour": 0.0, "valve": 0.0, "vent": 0.0, "regulator_gauge_pa": 2e6, "on_pan": "body"}


REFUSED = StationError(
    "capture is locked: the scale is stale.",
    where="Oil weigh-in",
    advice="Put that right first; nothing was captured.",
)
