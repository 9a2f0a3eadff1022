"""The certificates of all that a search finds: with progress, to be stopped, all or none."""

import multiprocessing
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from datetime import datetime
from functools import partial
from pathlib import Path

from benchstation.domain.events import PaperWritten
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import file_stamp
from benchstation.quantities.units import UnitSystem
from benchstation.reports import papers
from benchstation.screens.model.elements import Tone
from benchstation.screens.model.records import CheckView
from benchstation.screens.records.long_work import LongWork
from benchstation.screens.records.page import Records
from benchstation.screens.written import writing
from benchstation.store.engine import Store, open_store
from benchstation.store.trust import trust_at

MOST = 2_000
"""More papers than that nobody prints at once; the list and the JSON lines have no limit."""
APART_FROM = 5
"""So many papers are worth the start of another process."""
NICER = 5
"""How far it stands back behind the bench."""
Write = Callable[[str, Path, UnitSystem], PaperWritten]
Note = Callable[[Sequence[PaperWritten]], None]


class PaperBatch(LongWork):
    """Writes papers; it stops after the one that is being written."""

    begins = "Looking for the units."

    def __init__(self, records: Records) -> None:
        super().__init__()
        self._records = records

    def run(
        self, text: str, folder: Path, system: UnitSystem, now: datetime, note: Note
    ) -> Sequence[Path]:
        """Write a folder of certificates and note them; gives their paths, none when stopped."""
        with self._telling("No paper was written"):
            made = self._written(text, folder / f"papers_{file_stamp(now)}", system, note)
        if made:
            words = f"{len(made)} certificates written into {made[0].parent}."
            self._view = CheckView(words, Tone.GOOD)
        else:
            self._view = CheckView("Stopped: no paper was written.", Tone.CAUTION)
        return made

    def _written(self, text: str, target: Path, system: UnitSystem, note: Note) -> tuple[Path, ...]:
        units = [u.unit_id for u in self._records.each(text) if u.filed_seq is not None]
        if not units or len(units) > MOST:
            what = "no filed unit is found" if not units else f"{len(units)} units are found"
            raise StationError(
                f"{what}.", where="Records", advice=f"Search for at most {MOST} units."
            )
        part = target.with_name(f"{target.name}.part")
        facts: list[PaperWritten] = []
        try:
            with _writer(self._records, len(units)) as write:
                for done, unit in enumerate(units):
                    if self._stop.is_set():
                        return ()
                    words = f"Writing certificates: {done} of {len(units)}."
                    self._view = CheckView(words, Tone.QUIET, done / len(units))
                    facts.append(write(unit, part, system))
            with writing(target.parent):
                part.rename(target)
        finally:
            # Stopped or failed, what is there is not all that was wanted.
            shutil.rmtree(part, ignore_errors=True)
        note(facts)
        return tuple(sorted(target.iterdir()))


# --- by another process: the window's own thread waits for no page to be drawn --------------------

_HERE: list[Records] = []
"""In the other process: the records that it reads."""


@contextmanager
def _writer(records: Records, count: int) -> Iterator[Write]:
    """Return what writes one certificate; many are written by a process of their own."""
    store = records.store
    if count < APART_FROM or not isinstance(store, Store):
        yield partial(_write, records)
        return
    home = store.trust.home if store.trust is not None else None
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(1, context, _begin, (store.path, store.bench, home)) as pool:
        yield lambda *paper: pool.submit(_write_here, *paper).result()


def _begin(path: Path, bench: str, home: Path | None) -> None:
    if hasattr(os, "nice"):
        os.nice(NICER)
    trust = trust_at(home) if home is not None else None
    _HERE.append(Records(open_store(path, bench, read_only=True, trust=trust)))


def _write_here(unit: str, folder: Path, system: UnitSystem) -> PaperWritten:
    return _write(_HERE[0], unit, folder, system)


def _write(records: Records, unit: str, folder: Path, system: UnitSystem) -> PaperWritten:
    (path,) = records.certificate(unit, folder, system)
    return papers.written(unit, path)
