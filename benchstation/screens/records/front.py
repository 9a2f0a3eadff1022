"""What a record answers first: is it good, who says so, measured with what, and what is open."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from benchstation.domain.disposition import Amendment, Return, Shipment, Standing, notice_text
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.domain.recorded_inputs import of_kind
from benchstation.domain.statement_words import worded
from benchstation.domain.statements import Code
from benchstation.domain.unit_record import RecordedInstrument, UnitRecord
from benchstation.domain.virtual_words import no_device_words
from benchstation.quantities.formatter import QuantityFormatter, local_day, local_time
from benchstation.reports.amended_words import (
    amendable,
    amendment_words,
    return_words,
    shipment_words,
)
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.reports.export import FiledRecord
from benchstation.reports.hold_words import hold_lines
from benchstation.reports.oil_words import by_hand_lines
from benchstation.reports.paper import verdict
from benchstation.reports.remarks import approved_words, checked_line, emptied_lines
from benchstation.screens.model.elements import Tone, TraceView
from benchstation.screens.model.records import RecordFront
from benchstation.screens.records.figures import charge_figure, oil_figure, traces_of

Line = tuple[str, Tone]
NOTHING_OPEN: Line = ("No hold, no deviation, no word in place of evidence.", Tone.QUIET)
WAITS = "QA has said nothing yet: it waits for release."
OWN_HOLD = "QA has said nothing yet: it was filed on hold."
TO_SETTLE = "Two words of QA contradict each other and wait in To settle; the stricter stands."


def when(utc: str) -> str:
    """Return a recorded time as the people of this place read it."""
    return local_time(datetime.fromisoformat(utc))


def place_of(filed: FiledRecord) -> str:
    """Return order and position, and the specification that the unit was built by."""
    order, position = filed.place
    built = f"{filed.record.specification.id} revision {filed.record.specification.revision}"
    return "   ".join(part for part in (order and f"order {order}", position, built) if part)


def front_of(
    filed: FiledRecord, tone: Tone, words: QuantityFormatter, *, to_settle: bool
) -> RecordFront:
    """Return what stands at the top of a filed unit's record; ``tone`` is that of its standing."""
    record = filed.record
    first, beside = verdict(filed.decision, filed.disposition.standing)
    figures = (oil_figure(record.oil, words), charge_figure(record.charge, words))
    return RecordFront(
        first,
        beside,
        tone,
        tuple(_said(filed, to_settle)),
        tuple(replace(figure, tone=_calm(figure.tone, tone)) for figure in figures),
        (*_since(filed, words), *_open_points(record, words)) or (NOTHING_OPEN,),
        tuple(_instrument(one, record) for one in record.instruments),
        filed.disposition.amended,
    )


def front_traces(filed: FiledRecord, tone: Tone, words: QuantityFormatter) -> tuple[TraceView, ...]:
    """Return the traces with window and limit, in green only where the unit may look good."""
    return tuple(
        replace(
            trace,
            marks=tuple((said, value, _calm(of, tone)) for said, value, of in trace.marks),
            band_tone=_calm(trace.band_tone, tone),
        )
        for trace in traces_of(filed, words, limits=True)
    )


def _calm(own: Tone, whole: Tone) -> Tone:
    """Return a part's meaning: nothing of a unit is green that is not green as a whole."""
    return Tone.QUIET if own is Tone.GOOD and whole is not Tone.GOOD else own


def _said(filed: FiledRecord, to_settle: bool) -> Iterator[Line]:
    record, said = filed.record, filed.disposition
    who = f"{record.filed_by.name}, {when(record.filed_utc)}, {record.bench}"
    yield f"Judged {record.decision}; filed by {who}.", Tone.PLAIN
    if said.rulings:
        last = said.rulings[-1]
        by = f"{last.person}, {local_time(last.utc)}, entry {last.entry}"
        yield f"QA: {last.standing}, by {by}: {last.reason}", Tone.PLAIN
    elif said.standing is Standing.NOT_RELEASED:
        yield WAITS, Tone.QUIET
    elif record.qa_hold:
        yield OWN_HOLD, Tone.CAUTION
    for sent in said.shipments[-1:]:
        yield f"Shipped to {shipment_words(sent.to)}; {_by(sent)}.", Tone.PLAIN
    if to_settle:
        yield TO_SETTLE, Tone.CAUTION


def _by(one: Shipment | Return | Amendment) -> str:
    return f"{one.person}, {local_time(one.utc)}"


def _since(filed: FiledRecord, words: QuantityFormatter) -> Iterator[Line]:
    """Return what was amended, why it came back, and what its customer does not know yet."""
    said = filed.disposition
    fields = amendable(filed.record, said.shipments)
    for one in said.amendments:
        title, what, _ = amendment_words(one, fields, words)
        tone = Tone.CAUTION if one.decision else Tone.PLAIN
        yield f"Amended, {one.number} of {len(said.amendments)}: {title}: {what} ({_by(one)})", tone
    for back in said.returns[-1:]:
        yield f"Returned: {return_words(back)} ({_by(back)})", Tone.CAUTION
    if said.superseded is not None:
        later = said.superseded
        place = f"{local_time(later.utc)}, {later.bench} entry {later.entry}"
        yield f"This serial was rebuilt again ({place}); before: {later.stood}.", Tone.CAUTION
    if said.notices:
        yield f"Its customer is not told yet: {notice_text(said.notices)}", Tone.CAUTION


def _open_points(record: UnitRecord, words: QuantityFormatter) -> Iterator[Line]:
    """Return what a reader must know before believing the figures, most telling first."""
    for reason in record.qa_hold_reasons:
        # A deviation stands below with its reason, and by whom.
        if reason.code is not Code.DEVIATION:
            yield f"Hold: {worded(reason)}", Tone.CAUTION
    for one in record.deviations:
        by = f"{one.person}, {when(one.utc)}"
        yield f"Deviation, {worded(one.subject)}: {one.reason} ({by})", Tone.CAUTION
    for name, value in hold_lines(record.hold, words):
        if record.hold.doubt and name != "Drift to the room":
            yield f"{name}: {value}", Tone.CAUTION
    for line in by_hand_lines(record, words):
        yield line, Tone.CAUTION
    for step in record.steps:
        for zero in of_kind(step.evidence, ZeroRead):
            if zero.gauge_pa is None or zero.seen is False:
                yield f"{step.title}: {evidence_in_words((zero,), words)}", Tone.CAUTION
    for what, value, source in emptied_lines(record, when):
        yield f"{what}: {value} ({source})", Tone.CAUTION
    if not record.specification.independent:
        yield f"Specification {approved_words(record.specification)}", Tone.CAUTION


def _instrument(one: RecordedInstrument, record: UnitRecord) -> Line:
    serial = f", serial {one.serial_number}" if one.serial_number else ""
    overdue = one.calibrated_until < local_day(datetime.fromisoformat(record.filed_utc))
    valid = f"{'OVERDUE since' if overdue else 'valid to'} {one.calibrated_until}"
    proven = f"certificate {one.certificate} {valid}; {checked_line(one.check, when)}"
    said = f"{one.title}{serial}; {proven}"
    if one.virtual:
        said = f"NO INSTRUMENT, {no_device_words(one.virtual)}; {said}"
    sound = one.check is not None and one.check.passed and not one.virtual and not overdue
    return said, Tone.PLAIN if sound else Tone.CAUTION
