"""The station as the window sees it: one thread that owns the bench, and two for slow reading.

The bench's thread does actions in order, moves time on, and builds a view when something changed:
an action, a reading, the guard, at most some sixty times a second, and ten times a second for what
only time changes. The window only ever picks up the last one. Records are read and printed by a
second thread through the store's own read connection, and verified by a third, so that none waits
for another.
"""

import logging
import queue
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar

from benchstation.bench.commands.muting import Acknowledge
from benchstation.bench.judging import wrong_fields
from benchstation.bench.loop import LiveLoop
from benchstation.bench.messages import Severity
from benchstation.domain.events import Event
from benchstation.domain.people import Person
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import fixed
from benchstation.quantities.units import UnitSystem
from benchstation.reports import papers
from benchstation.screens.audit.page import Audit
from benchstation.screens.bench.alarm_panel import banners
from benchstation.screens.bench.page import bench_view, with_alarms
from benchstation.screens.day.page import day_rows, open_day_line
from benchstation.screens.instruments.calibration import Calibrations
from benchstation.screens.instruments.page import instrument_views
from benchstation.screens.materials.page import Materials
from benchstation.screens.model.audit import AuditView
from benchstation.screens.model.bench import AlarmBannerView, BenchView
from benchstation.screens.model.elements import TaskView
from benchstation.screens.model.instruments import InstrumentView
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.quality import OtherLimitView, QualityQuestion, QualityView
from benchstation.screens.model.queue import QueueView, UnitsRead
from benchstation.screens.model.records import CheckView, RecordDetail, RecordRow
from benchstation.screens.model.specifications import SpecificationDetail, SpecificationRow
from benchstation.screens.people.page import open_person, people_rows
from benchstation.screens.quality.page import Quality
from benchstation.screens.queue.page import Queue
from benchstation.screens.records.filter_form import filter_form
from benchstation.screens.records.journal_check import JournalCheck
from benchstation.screens.records.listing import write_list, write_records
from benchstation.screens.records.page import Records
from benchstation.screens.records.paper_batch import PaperBatch
from benchstation.screens.settings.page import open_settings, settings_rows
from benchstation.screens.settling.page import Settling
from benchstation.screens.specifications.page import Specifications
from benchstation.screens.worklist.lines import Desk, WorkLine
from benchstation.screens.worklist.page import open_work, work_rows

log = logging.getLogger(__name__)
FRAME_S = 1 / 60
TIME_SHOWS_S = 0.1
"""How often a view is built when nothing came: ages and times left are shown to a tenth."""
SILENCE_S = 0.1
LONGEST_SILENCE_S = 1.0
STOP_WITHIN_S = 5.0

T = TypeVar("T")
_PARTS = tuple(part.name for part in fields(BenchView))

_Job = tuple[Callable[[], Any], "Future[Any]"]
_Done = tuple["Future[Any]", Any]


class Station:
    """Runs a bench. ``view`` and ``instruments`` may be called from any thread."""

    def __init__(self, live: LiveLoop, records: Records, *, hint: str = "", note: str = "") -> None:
        self.live = live
        self._records = records
        self._specifications = Specifications(records.store)
        session = live.session
        self._queue = Queue(records.store, session.shop.current_specifications, session.clock.utc)
        self._materials = Materials(records.store, session.shop, session.air, lambda: session.today)
        self._calibrations = Calibrations(records.store, session)
        self._settling = Settling(records.store)
        self._audit = Audit(records.store)
        self._work_kept: dict[str, tuple[object, Sequence[WorkLine]]] = {}
        self._quality = Quality(records.store, session.clock.utc)
        self._hint, self._note = hint, note
        self._jobs: queue.SimpleQueue[_Job] = queue.SimpleQueue()
        self._wake = threading.Event()
        self._stop = threading.Event()
        self._listeners: list[Callable[[], None]] = []
        self._failure = ""
        self._answered_at = self._built_at = time.monotonic()
        self._stamp: tuple[object, ...] = ()
        self._usual_units = self.display
        self._who: Person | None = None
        self._shown = self._build(), session.watch.changed
        """The last view built, and how often the guard had changed then."""
        self._newer: tuple[tuple[BenchView, int], BenchView] | None = None
        self._thread = threading.Thread(target=self._run, name="bench", daemon=True)
        self._silence = threading.Thread(target=self._judge_silence, name="silence", daemon=True)
        self._slow = ThreadPoolExecutor(1, thread_name_prefix="records")
        self._check = JournalCheck(records.store, session.clock.utc)
        self._verifier = ThreadPoolExecutor(1, thread_name_prefix="verifier")
        self._batch = PaperBatch(records)
        self._papers = ThreadPoolExecutor(1, thread_name_prefix="papers")

    @property
    def display(self) -> UnitSystem:
        """Return the units that are shown."""
        return self.live.session.display

    @display.setter
    def display(self, system: UnitSystem) -> None:
        self.live.session.show_in(system)

    def start(self) -> None:
        """Start the bench's thread."""
        self._usual_units = self.display
        self._thread.start()
        self._silence.start()

    def close(self) -> None:
        """End all threads; raises ``TimeoutError`` when the bench does not end."""
        self._stop.set()
        self._wake.set()
        self._check.stop()
        self._batch.stop()
        for pool in (self._slow, self._verifier, self._papers):
            pool.shutdown(wait=True, cancel_futures=True)
        if self._thread.ident is not None:
            self._thread.join(STOP_WITHIN_S)
            self._silence.join(STOP_WITHIN_S)
            if self._thread.is_alive():
                raise TimeoutError("the bench does not end")

    def wake(self) -> None:
        """Wake the thread at once, since the guard changed its state. From any thread."""
        self._wake.set()
        self._tell_listeners()

    def report(self, words: str) -> None:
        """Show in the status line what went wrong elsewhere in the program."""
        self._put(lambda: self.live.session.say(words, Severity.ATTENTION))

    def ask(self, job: Callable[[], str]) -> Future[str]:
        """Return the future of a job done in the bench's thread."""
        return self._put(job)

    # --- the port --------------------------------------------------------------------------------

    def view(self) -> BenchView:
        """Return the last view built. Raises when that is too long ago to be the present moment."""
        silent = time.monotonic() - self._answered_at
        if silent > LONGEST_SILENCE_S and self._thread.ident is not None:
            raise StationError(
                f"the bench has not answered for {fixed(silent, 1)} s.",
                advice="Treat pressure and weight as unknown; close the bottle valve.",
            )
        return self._with_alarms(*self._shown)

    def _with_alarms(self, view: BenchView, changed: int) -> BenchView:
        """Return the view with the guard's state now, which waits for no bench that is at work."""
        session = self.live.session
        key = view, session.watch.changed
        if key[1] == changed:
            return view
        if self._newer is None or self._newer[0] != key:
            self._newer = key, with_alarms(session, view, QuantityFormatter(self.display))
        return self._newer[1]

    def alarms(self) -> tuple[AlarmBannerView, ...]:
        """Return the alarms as the guard has them now; may be called from any thread."""
        return banners(self.live.session, QuantityFormatter(self.display))

    def instruments(self) -> tuple[InstrumentView, ...]:
        """Return the Instruments page as of now; its readings are those of the last view."""
        session = self.live.session
        return instrument_views(session, self._shown[0].strip)

    def act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action in the bench's thread."""
        copied = dict(fields)
        return self._put(lambda: self._act(action, copied))

    def judge(self, action: str, fields: Mapping[str, str]) -> Future[Mapping[str, str]]:
        """Return what is wrong with a form that is being filled in, in the bench's thread."""
        typed = {**fields, "units": self.display.value}
        return self._put(lambda: wrong_fields(self.live.session, action, typed))

    def acknowledge(self, alarm_id: str, reason: str) -> Future[str]:
        """Acknowledge an alarm as the person who is signed in."""
        return self._put(lambda: self.live.session.do(Acknowledge(alarm_id, reason)))

    def stir(self) -> None:
        """Take note of a key, a click or a scan."""
        self.live.session.signed_in.idle.stir(self.live.session.clock.seconds())

    def hold_text(self, held: bool) -> None:
        """Take note whether the window holds a text that is not kept."""
        self.live.session.signed_in.idle.hold_text(held)

    def people(self) -> Future[Sequence[ListRow]]:
        """Return everyone enrolled."""
        return self._slow.submit(people_rows, self._records.store)

    def open_person(self, key: str) -> Future[ListDetail]:
        """Open one of them, as who is signed in may see it."""
        return self._slow.submit(open_person, self._records.store, key, self.live.session.person)

    def day(self) -> Future[Sequence[ListRow]]:
        """Return the lines of the start of the day."""
        return self._slow.submit(day_rows, self.live.session)

    def open_day_line(self, key: str) -> Future[ListDetail]:
        """Open one of them."""
        return self._slow.submit(open_day_line, self.live.session, key)

    def settings(self) -> Future[Sequence[ListRow]]:
        """Return the groups of settings."""
        settings = self.live.session.settings
        return self._slow.submit(settings_rows, settings, QuantityFormatter(self.display))

    def open_settings(self, key: str) -> Future[ListDetail]:
        """Open one of them, as who is signed in may change it."""
        session, words = self.live.session, QuantityFormatter(self.display)
        return self._slow.submit(
            open_settings,
            key,
            session.settings,
            session.person,
            words,
            self._records.store,
            session.shop,
        )

    def settling(self) -> Future[Sequence[ListRow]]:
        """Return what waits to be settled."""
        return self._slow.submit(self._settling.rows)

    def open_settling(self, key: str) -> Future[ListDetail]:
        """Open one of them."""
        person, words = self.live.session.person, QuantityFormatter(self.display)
        return self._slow.submit(self._settling.open, key, person, words)

    def audit(self, text: str, before: str = "") -> Future[AuditView]:
        """Return entries of the journals."""
        return self._slow.submit(self._audit.find, text, before, QuantityFormatter(self.display))

    def open_entry(self, key: str) -> Future[ListDetail]:
        """Open one of them."""
        return self._slow.submit(self._audit.open, key, QuantityFormatter(self.display))

    def write_audit(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        """Write all that are found as CSV."""
        now = self.live.session.clock.utc()
        return self._slow.submit(self._audit.write, text, folder, now)

    def worklist(self) -> Future[Sequence[ListRow]]:
        """Return what waits for somebody."""
        return self._slow.submit(lambda: work_rows(self._desk()))

    def open_work(self, key: str) -> Future[ListDetail]:
        """Open one line of it."""
        return self._slow.submit(lambda: open_work(self._desk(), key))

    def _desk(self) -> Desk:
        store, session = self._records.store, self.live.session
        names = {key: person.name for key, person in store.people().items()}
        return Desk(store, session.shop, session.today, names, self._work_kept)

    def materials(self) -> Future[Sequence[ListRow]]:
        """Return oil lots and bottle."""
        return self._slow.submit(self._materials.rows, QuantityFormatter(self.display))

    def open_store(self, key: str) -> Future[ListDetail]:
        """Open one of them."""
        person, words = self.live.session.person, QuantityFormatter(self.display)
        return self._slow.submit(self._materials.open, key, person, words)

    def work_out_bottle(self, fields: Mapping[str, str]) -> Future[ListDetail]:
        """Work out how many charges a bottle still gives."""
        person, words = self.live.session.person, QuantityFormatter(self.display)
        return self._slow.submit(self._materials.work_out, dict(fields), person, words)

    def calibrations(self) -> Future[Sequence[ListRow]]:
        """Return what is fitted, with how its calibration stands."""
        return self._slow.submit(self._calibrations.rows, QuantityFormatter(self.display))

    def open_calibration(self, key: str) -> Future[ListDetail]:
        """Open one instrument."""
        person, words = self.live.session.person, QuantityFormatter(self.display)
        return self._slow.submit(self._calibrations.open, key, person, words)

    def work_out_calibration(self, fields: Mapping[str, str]) -> Future[ListDetail]:
        """Work out a typed certificate."""
        person, words = self.live.session.person, QuantityFormatter(self.display)
        return self._slow.submit(self._calibrations.work_out, dict(fields), person, words)

    def listen(self, callback: Callable[[], None]) -> None:
        """Call back, in the bench's thread, when a state changed that cannot wait."""
        self._listeners.append(callback)

    def find_specifications(self) -> Future[Sequence[SpecificationRow]]:
        """Return all revisions and open drafts."""
        return self._slow.submit(self._specifications.rows)

    def open_specification(self, key: str, travel: float, at: str) -> Future[SpecificationDetail]:
        """Open one."""
        words = QuantityFormatter(self.display)
        return self._slow.submit(self._specifications.open, key, travel, at, words)

    def check_specification(
        self, source: str, travel: float, at: str
    ) -> Future[SpecificationDetail]:
        """Check a text that is being written."""
        words = QuantityFormatter(self.display)
        return self._slow.submit(self._specifications.check, source, travel, at, words)

    def find_queue(self) -> Future[QueueView]:
        """Return the queue."""
        return self._slow.submit(self._queue.find, QuantityFormatter(self.display))

    def read_units(self, path: Path) -> Future[UnitsRead]:
        """Read a list of units."""
        return self._slow.submit(self._queue.read, path)

    def find_records(self, text: str, before: str = "") -> Future[Sequence[RecordRow]]:
        """Find units."""
        return self._slow.submit(self._records.find, text, before)

    def about_search(self, text: str) -> Future[str]:
        """Return which instrument a search names."""
        return self._slow.submit(self._records.about, text)

    def filter_form(self, text: str) -> Future[TaskView]:
        """Return the form of a search's filters."""
        store, person = self._records.store, self.live.session.person
        return self._slow.submit(filter_form, store, person, text)

    def open_record(self, unit_id: str) -> Future[RecordDetail]:
        """Open one record."""
        return self._slow.submit(self._records.open, unit_id, QuantityFormatter(self.display))

    def export_record(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write one record as PDF and JSON."""
        return self._slow.submit(self._written, self._records.export, unit_id, folder)

    def write_certificate(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write one record as PDF alone."""
        return self._slow.submit(self._written, self._records.certificate, unit_id, folder)

    def write_label(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write one unit's label."""
        return self._slow.submit(self._written, self._records.label, unit_id, folder)

    def write_data_sheet(self, unit_id: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the data sheet of a unit's last shipment."""
        return self._slow.submit(self._written, self._records.data_sheet, unit_id, folder)

    def write_list(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        """Write all that a search finds as CSV and PDF, and put on record that it was."""
        return self._slow.submit(self._write_list, text, folder)

    def _write_list(self, text: str, folder: Path) -> Sequence[Path]:
        session = self.live.session
        person = session.person.name if session.person else "nobody signed in"
        now = session.clock.utc()
        made = write_list(
            self._records, text, folder, shop=session.shop.name, person=person, now=now
        )

        def note() -> str:
            session.note(made.fact)
            return ""

        self._put(note)
        return made.paths

    def write_papers(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the certificates of all that a search finds, beside all other work."""
        self._batch.begin()
        now, note = self.live.session.clock.utc(), self._noted
        return self._papers.submit(self._batch.run, text, folder, self.display, now, note)

    def _noted(self, facts: Sequence[Event]) -> None:
        def note() -> str:
            self.live.session.note(*facts)
            return ""

        self._put(note)

    def stop_papers(self) -> None:
        """Stop writing soon; nothing of it is left."""
        self._batch.stop()

    def paper_batch(self) -> CheckView:
        """Return how far the writing of papers is, or what it came to."""
        return self._batch.view()

    def write_records(self, text: str, folder: Path) -> Future[Sequence[Path]]:
        """Write the whole records of all that a search finds as JSON lines."""
        now = self.live.session.clock.utc()
        return self._slow.submit(lambda: (write_records(self._records, text, folder, now),))

    def quality(self, question: QualityQuestion) -> Future[QualityView]:
        """Return a chart of the process."""
        return self._slow.submit(self._quality.view, question, self.display)

    def other_limit(self, question: QualityQuestion, typed: str) -> Future[OtherLimitView]:
        """Return what another limit would do."""
        return self._slow.submit(self._quality.other_limit, question, typed, self.display)

    def write_quality(
        self, question: QualityQuestion, typed: str, folder: Path
    ) -> Future[Sequence[Path]]:
        """Write a chart as PDF and CSV."""
        return self._slow.submit(self._quality.write, question, typed, folder, self.display)

    def _written(
        self, write: Callable[[str, Path, UnitSystem], Sequence[Path]], unit_id: str, folder: Path
    ) -> Sequence[Path]:
        """Write papers of a unit, and put on record what was written."""
        paths = write(unit_id, folder, self.display)
        facts = [papers.written(unit_id, path) for path in paths]

        def note() -> str:
            self.live.session.note(*facts)
            return ""

        self._put(note)
        return paths

    def verify_journal(self) -> Future[str]:
        """Verify the journal, beside all other reading."""
        self._check.begin()
        return self._verifier.submit(self._check.run)

    def stop_check(self) -> None:
        """Stop the check soon."""
        self._check.stop()

    def journal_check(self) -> CheckView:
        """Return how far the check is, or what it found."""
        return self._check.view()

    # --- the bench's thread -----------------------------------------------------------------------

    def _put(self, job: Callable[[], T]) -> "Future[T]":
        future: Future[T] = Future()
        self._jobs.put((job, future))
        self._wake.set()
        return future

    def _act(self, action: str, fields: Mapping[str, str]) -> str:
        # A number without a unit is meant in the units that are shown.
        return self.live.session.act(action, {**fields, "units": self.display.value})

    def _follow_person(self) -> None:
        """Show what the person who came likes to read in."""
        before, person = self._who, self.live.session.person
        self._who = person
        if person is None or (before is not None and before.preferences == person.preferences):
            return
        self.display = UnitSystem(person.preferences.units or self._usual_units)

    def _run(self) -> None:
        while not self._stop.is_set():
            urgent, now = self._wake.wait(FRAME_S), time.monotonic()
            self._wake.clear()
            if urgent or self._is_due(now):
                self._move_on(urgent, now)
            elif not self._failure:
                self._answered_at = now

    def _is_due(self, now: float) -> bool:
        """Return True when something came, or enough time passed to be seen."""
        return self.live.stamp() != self._stamp or now - self._built_at >= TIME_SHOWS_S

    def _move_on(self, urgent: bool, now: float) -> None:
        """Do what is asked, take what came, and build the view."""
        rang = self._shown[0].rings
        self._stamp, self._built_at = self.live.stamp(), now
        done = self._do_jobs()
        failed = self._guarded(self.live.take)
        if self._guarded(self._show) is None and failed is None:
            self._failure = ""
            self._answered_at = time.monotonic()
        if done and failed is not None:
            # What was asked for last is what could not be done to its end.
            done[-1] = done[-1][0], failed
        for future, result in done:
            _settle(future, result)
        # A mute that ends by itself wakes nobody else.
        if urgent or self._shown[0].rings is not rang:
            self._tell_listeners()
        # Last, since a disk may take its time: what is seen and heard waits for no write.
        self._guarded(self.live.write)

    def _show(self) -> None:
        """Build the view."""
        self._follow_person()
        changed = self.live.session.watch.changed
        self._shown = unchanged_kept(self._shown[0], self._build()), changed

    def _guarded(self, work: Callable[[], None]) -> Exception | None:
        """Do a part of the work; what goes wrong is said and returned, and ends no thread."""
        try:
            work()
        except StationError as error:
            self._say(str(error))
            return error
        except Exception as error:
            log.exception("the bench failed")
            self._say(f"A fault in this program: {error!r}. Nothing was lost; see the log.")
            return error
        return None

    def _judge_silence(self) -> None:
        """Judge a gauge that says nothing, whatever the bench's thread waits for."""
        while not self._stop.wait(SILENCE_S):
            self.live.session.watch.check()

    def _tell_listeners(self) -> None:
        for listener in self._listeners:
            try:
                listener()
            except Exception:  # whatever a listener does, the bench goes on
                log.exception("a listener of the station failed")

    def _say(self, words: str) -> None:
        if words != self._failure:
            log.error("%s", words)
        self._failure = self.live.session.say(words, Severity.ATTENTION)

    def _do_jobs(self) -> list[_Done]:
        """Do what is waiting. Results are given only after the view shows them."""
        done: list[_Done] = []
        while True:
            try:
                job, future = self._jobs.get_nowait()
            except queue.Empty:
                return done
            if not future.set_running_or_notify_cancel():
                continue
            try:
                done.append((future, job()))
            except Exception as error:
                if not isinstance(error, StationError):
                    log.exception("an action failed")
                done.append((future, error))

    def _build(self) -> BenchView:
        words, session = QuantityFormatter(self.display), self.live.session
        return bench_view(session, words, hint=self._hint, note=self._note)


def unchanged_kept(before: BenchView, now: BenchView) -> BenchView:
    """Return this moment with the very parts of the one before where they are equal.

    So whoever shows it sees at once what is to be drawn; where all is equal it is the one before.
    """
    same = {name: old for name in _PARTS if (old := getattr(before, name)) == getattr(now, name)}
    return before if len(same) == len(_PARTS) else replace(now, **same)


def _settle(future: "Future[Any]", result: object) -> None:
    if isinstance(result, Exception):
        future.set_exception(result)
    else:
        future.set_result(result)
