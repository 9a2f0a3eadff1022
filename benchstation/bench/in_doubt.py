"""What an instrument that failed, or was found to have moved, says of units measured with it.

The unit was judged in good faith and its record stands; QA has to see it before anybody else does,
so it is held. What is not filed yet takes the word with it, and its filing holds it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.session import BenchSession
from benchstation.domain.as_found import Effect, Interval, effects, rests_on
from benchstation.domain.calibrating import result_in_force
from benchstation.domain.disposition import HELD, STOPPED, Standing
from benchstation.domain.events import Event, InstrumentRegistered, LearnedLate, UnitDisposed
from benchstation.domain.statement_words import worded
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_record import UnitRecord
from benchstation.quantities.formatter import local_day
from benchstation.store.chain_store import ChainStore
from benchstation.store.queries import get_unit, record_of, units_with_instrument
from benchstation.store.recall import since_good, units_in
from benchstation.store.schema import utc_text
from benchstation.store.trust import SYSTEM


@dataclass(frozen=True, slots=True)
class AsFound:
    """What a calibration found of the one before: how many records rest on that, and its effects.

    ``effects`` is ``None`` where the instrument was adjusted and nobody knows how it came.
    """

    records: int
    effects: tuple[Effect, ...] | None

    @property
    def worse(self) -> tuple[Effect, ...]:
        """Return the results that would have been judged less well."""
        return tuple(effect for effect in self.effects or () if effect.worse)


def as_found(
    store: ChainStore, before: InstrumentRegistered, after: InstrumentRegistered, today: date
) -> AsFound:
    """Return what the error that ``after`` found did to filed units that rest on ``before``."""
    details, left = after.calibration, result_in_force(after)
    found = details.found if details is not None else left
    interval = Interval(
        before.instrument_id,
        before.calibrated_on,
        before.certificate,
        result_in_force(before),
        found or left,
        left,
        date.fromisoformat(after.calibrated_on) if after.calibrated_on else today,
    )
    filed = _records(store, before.instrument_id, before.calibrated_on)
    records = [record for record in filed if rests_on(record, interval)]
    return AsFound(len(records), effects(records, interval) if found is not None else None)


def _records(store: ChainStore, instrument_id: str, since: str) -> Iterator[UnitRecord]:
    """Yield the records of units that rest on an instrument, filed since that day."""
    for row in units_with_instrument(store, instrument_id):
        # Read one by one: those of before cannot name the calibration.
        if row.filed_utc is not None and local_day(row.filed_utc) >= since:
            yield record_of(store, row.unit_id)


def hold_as_found(session: BenchSession, after: InstrumentRegistered) -> int:
    """Hold the units whose result a calibration would have judged less well; gives how many."""
    before = session.instruments.named(after.instrument_id).registered
    words: dict[str, list[str]] = {}
    for effect in as_found(session.store, before, after, session.today).worse:
        said = f"{effect.what} {effect.decision}, as found {effect.decision_now}"
        words.setdefault(effect.unit_id, []).append(said)
    why = f"{after.title}, certificate {after.certificate}"
    return _put(
        session,
        [
            UnitDisposed(unit_id, HELD, f"{why}: {'; '.join(said)}.")
            for unit_id, said in words.items()
            if _at_large(session.store, unit_id)
        ],
    )


def hold_in_doubt(session: BenchSession, fitted: BenchInstrument) -> int:
    """Hold the units measured since the last good check of one that fails; gives how many."""
    what = Statement.of(Code.INSTRUMENT_FAILED, instrument=fitted.registered.title)
    since, now = since_good(session.store, fitted.id), utc_text(session.clock.utc())
    found: list[Event] = []
    for unit_id in units_in(session.store, fitted.id, since):
        state = get_unit(session.store, unit_id).state
        if state == "filed" and _at_large(session.store, unit_id):
            found.append(UnitDisposed(unit_id, HELD, f"{worded(what)}."))
        elif state in ("open", "aside"):
            found.append(LearnedLate(unit_id, what, now))
    return _put(session, found)


def held_in_words(units: int) -> str:
    """Return what is said of so many units that were held; empty for none."""
    if not units:
        return ""
    return f" {units} {'unit' if units == 1 else 'units'} measured with it: on hold for QA."


def _at_large(store: ChainStore, unit_id: str) -> bool:
    standing = get_unit(store, unit_id).standing
    return bool(standing) and Standing(standing) not in STOPPED


def _put(session: BenchSession, found: Sequence[Event]) -> int:
    # No person's word: the program says it before the fact that it follows from.
    if found:
        session.on_bench.journal(found, SYSTEM, session.clock.utc())
    return sum(isinstance(event, UnitDisposed) for event in found)
