"""What of a record rests on somebody's word, or was seen by no instrument, as lines of its own."""

from collections.abc import Callable, Iterator

from benchstation.domain.air_evidence import AirSource
from benchstation.domain.body_temperature import BodySource
from benchstation.domain.inputs.zero import UNIT, ZeroRead
from benchstation.domain.recorded_inputs import of_kind
from benchstation.domain.recorded_parts import Condition
from benchstation.domain.unit_record import UnitRecord
from benchstation.domain.virtual_words import no_device_words
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.reports.condition_words import source_words, value_words
from benchstation.reports.evidence_words import BY_WORD, NOT_SEEN
from benchstation.reports.oil_words import by_hand_lines
from benchstation.reports.remarks import approved_words, emptied_lines

NONE = "None: nothing here rests on a word in place of evidence, and the gauge saw what it was to."
TITLE = "By word, or not seen by an instrument"
_BY_WORD = (
    AirSource.TYPED,
    AirSource.ALTITUDE,
    AirSource.SET_UP,
    BodySource.IN_ROOM,
    BodySource.NOT_KNOWN,
)


def doubt_lines(
    record: UnitRecord, words: QuantityFormatter, when: Callable[[str], str]
) -> list[str]:
    """Return each declaration that stood in for evidence, and what no instrument saw."""
    return [
        *_instruments(record),
        *_gas(record),
        *(f"{what}: {said}; {by}" for what, said, by in emptied_lines(record, when)),
        *by_hand_lines(record, words),
        *_conditions(record, words, when),
        *_restarts(record, when),
        *_people(record),
    ]


def _instruments(record: UnitRecord) -> Iterator[str]:
    for one in record.instruments:
        if one.virtual:
            yield f"Measured by no instrument, {one.title}: {no_device_words(one.virtual)}"


def _gas(record: UnitRecord) -> Iterator[str]:
    for step in record.steps:
        for read in of_kind(step.evidence, ZeroRead):
            signed = f"{step.name}, {step.title}"
            if read.gauge_pa is None:
                yield f"{BY_WORD}: {read.doubt or 'no gauge reading'}; {signed}"
            elif read.seen is False:
                what = NOT_SEEN if read.label == UNIT else "the fill line was not seen to fall"
                yield f"{what[:1].upper()}{what[1:]}; {signed}"
            elif read.doubt:
                yield f"{read.label}: {read.doubt}; {signed}"


def _conditions(
    record: UnitRecord, words: QuantityFormatter, when: Callable[[str], str]
) -> Iterator[str]:
    for one in record.charge.conditions:
        if by_word(one):
            said = source_words(one, when)
            yield f"At the charge, {one.quantity} {value_words(one, words)} (U, k = 2): {said}"


def _restarts(record: UnitRecord, when: Callable[[str], str]) -> Iterator[str]:
    titles = {step.id: step.title for step in record.steps}
    for one in record.restarts:
        at = titles.get(one.step, one.step)
        what = f"The program was started again at '{at}', {when(one.utc)}"
        yield f"{what}: until then it watched nothing"


def by_word(one: Condition) -> bool:
    """Return True for a figure of the air or the unit that no instrument of the bench gave."""
    return one.source in _BY_WORD or not one.instrument_id


def _people(record: UnitRecord) -> Iterator[str]:
    if not record.specification.independent:
        yield f"Specification {approved_words(record.specification)}"
