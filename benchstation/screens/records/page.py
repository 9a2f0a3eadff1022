"""Filed units for the Records page, read through the store's own read connection."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import numpy as np

from benchstation.domain.disc_stack import (
    AS_BUILT,
    AS_FOUND,
    SIDES,
    height_in_words,
    in_words,
)
from benchstation.domain.disposition import (
    REJECTIONS,
    Standing,
    may_look_good,
    plain_word,
    ruling_of,
)
from benchstation.domain.inputs.stack import StackRecorded
from benchstation.domain.inputs.text import Written
from benchstation.domain.record import stamp
from benchstation.domain.recorded_inputs import of_kind, photos_in, steps_of
from benchstation.domain.shop_chain import SHOP
from benchstation.domain.statement_words import worded
from benchstation.domain.unit_record import UnitRecord
from benchstation.domain.virtual_words import no_device_words
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.quantities.units import Dimension, UnitSystem, display_unit, to_display
from benchstation.reports.certificate import write_certificate
from benchstation.reports.evidence_words import evidence_in_words
from benchstation.reports.export import FiledRecord, filed_record, write_json
from benchstation.reports.hold_words import hold_lines
from benchstation.reports.label import write_label, write_waiting_label
from benchstation.reports.oil_words import by_hand_lines, lots_of, pour_goal_kg, weighing_lines
from benchstation.reports.remarks import (
    air_lines,
    approved_words,
    checked_line,
    decision_in_words,
    emptied_lines,
    judged_charge,
    judged_net,
    left_lines,
    reference_charge,
    set_lines,
    settled_at,
)
from benchstation.reports.second_words import second_lines
from benchstation.screens.model.elements import (
    ActionView,
    PhotoView,
    TermGroup,
    TermView,
    Tone,
    TraceView,
)
from benchstation.screens.model.records import RecordDetail, RecordRow, lot_in
from benchstation.screens.records.instrument_search import about, named_in
from benchstation.screens.records.period import period_in
from benchstation.screens.records.unfiled import no_record, waiting_unit
from benchstation.store.chain_store import ChainStore
from benchstation.store.queries import get_unit
from benchstation.store.recall import units_since
from benchstation.store.search import Match, find_units, match_of, units_with_lot_named
from benchstation.store.traces import Trace
from benchstation.store.unit_rows import UnitRow
from benchstation.store.words_on_units import words_on, words_waiting

PAGE = 50


@dataclass(frozen=True, slots=True)
class Records:
    """Answers the Records page. Every method may take a while and is called in one thread."""

    store: ChainStore

    def find(self, text: str, before: str = "") -> Sequence[RecordRow]:
        """Find units by serial, family, order, lot, technician or instrument, a page at a time.

        Whole names come first, then beginnings, then text within. ``lot "K-6"`` finds those with
        this lot alone, and none with K-60; a day, a month or two days what was filed in that time.
        """
        names, named = self._names(), named_in(self.store, text)
        if lot := lot_in(text):
            units = units_with_lot_named(self.store, lot, before=before, limit=PAGE + 1)
        elif named.since:
            on = [one.instrument_id for one in named.instruments]
            units = units_since(self.store, on, before=before, limit=PAGE + 1)
        else:
            units = find_units(
                self.store,
                text,
                technicians=_people_named(names, text),
                instruments={one.instrument_id: named.match for one in named.instruments},
                period=period_in(text),
                before=before,
                limit=PAGE + 1,
            )
        rows = [self._named_row(unit, names) for unit in units[:PAGE]]
        # The last page's rows lead nowhere.
        return rows if len(units) > PAGE else [replace(row, page_key="") for row in rows]

    def _named_row(self, unit: UnitRow, names: Mapping[str, str]) -> RecordRow:
        """Return a row; in a whole shop the bench stands in it, in place of the long title."""
        row = _row(unit, names)
        if self.store.bench != SHOP:
            return row
        return replace(row, technician=f"{unit.bench}, {row.technician}", title="")

    def about(self, text: str) -> str:
        """Return which instrument a search names, and how many units rest on it."""
        return about(self.store, text)

    def _names(self) -> dict[str, str]:
        return {key: person.name for key, person in self.store.people().items()}

    def open(self, unit_id: str, words: QuantityFormatter) -> RecordDetail:
        """Open one filed unit's record, or say why another has none."""
        found = get_unit(self.store, unit_id)
        if found.filed_seq is None:
            names = self._names()
            said = no_record(self.store, found, names)
            waits = waiting_unit(self.store, unit_id) is not None
            row = _row(found, names)
            return RecordDetail(row, (), (), "", no_record=said, labelled=waits)
        filed = filed_record(self.store, unit_id)
        entry = filed.entry
        anchor = (
            f"{entry.bench} entry {entry.seq}, {entry.hash[:16]}...; record {filed.sha256[:16]}..."
        )
        row = _row(found, self._names())
        groups = (*_groups(filed.record, words), *self._said(unit_id))
        return RecordDetail(
            row, groups, traces_of(filed, words), anchor, _dispositions(found), _photos(filed)
        )

    def _said(self, unit_id: str) -> tuple[TermGroup, ...]:
        names = self._names()
        said, waiting = words_on(self.store, unit_id), words_waiting(self.store, unit_id)
        undecided = {fact.seq for fact, _ in waiting}
        known = {fact.seq for fact, _ in said if fact.seq}
        every = [*said, *(one for one in waiting if one[0].seq not in known)]
        terms = tuple(
            TermView(
                f"{ruling_of(word.disposition)}{', to settle' if fact.seq in undecided else ''}",
                word.reason,
                f"{names.get(fact.person, fact.person)}, {stamp(fact.utc)}",
            )
            for fact, word in every
        )
        return (TermGroup("QA", terms),) if terms else ()

    def export(self, unit_id: str, folder: Path, system: UnitSystem) -> Sequence[Path]:
        """Write the record as PDF and JSON into ``folder``, and the label beside them."""
        with _writing(folder):
            filed, stem = self._named(unit_id)
            return (
                write_certificate(filed, folder / f"{stem}.pdf", system),
                write_json(filed, folder / f"{stem}.json"),
                write_label(filed, folder / f"{stem}_label.pdf", system),
            )

    def label(self, unit_id: str, folder: Path, system: UnitSystem) -> Sequence[Path]:
        """Write the label alone: of a filed unit, or of one that waits for its second reading."""
        with _writing(folder):
            waits = waiting_unit(self.store, unit_id)
            if waits is not None:
                rebuild, due = waits
                path = folder / f"{_file_name(rebuild.opened.serial)}_waits.pdf"
                return (write_waiting_label(rebuild, due, path),)
            filed, stem = self._named(unit_id)
            return (write_label(filed, folder / f"{stem}_label.pdf", system),)

    def _named(self, unit_id: str) -> tuple[FiledRecord, str]:
        """Return a record with the name of its files: serial and time."""
        filed = filed_record(self.store, unit_id)
        return filed, f"{_file_name(filed.record.serial)}_{filed.entry.utc:%Y%m%d-%H%M%S}"


def _people_named(names: Mapping[str, str], text: str) -> dict[str, Match]:
    found = {key: match_of(text, (key, name, *name.split())) for key, name in names.items()}
    return {key: match for key, match in found.items() if match is not None}


def _file_name(serial: str) -> str:
    return "".join(c if c.isalnum() or c in "-_" else "_" for c in serial)


def _photos(filed: FiledRecord) -> tuple[PhotoView, ...]:
    """Return the photographs; one that is missing or damaged has no bytes and is drawn as such."""
    return tuple(
        PhotoView(
            photo.sha256,
            f"{title}: {photo.caption or 'no caption'}, {photo.sha256[:12]}...",
            filed.photos.get(photo.sha256) or b"",
        )
        for title, photo in photos_in(filed.record)
    )


def _recorded(record: UnitRecord) -> tuple[TermGroup, ...]:
    """Return the discs as built, and the texts that the steps show only the beginning of."""
    steps = tuple(steps_of(record))
    recorded = [result for _, evidence in steps for result in of_kind(evidence, StackRecorded)]
    terms = [
        TermView(
            f"{side.capitalize()}, {result.label}",
            "; ".join(in_words(disc) for disc in stack),
            height_in_words(stack),
        )
        for name in (AS_FOUND, AS_BUILT)
        for side in SIDES
        for result in recorded
        if result.label == name and (stack := result.side(side))
    ]
    texts = [
        TermView(title, result.text)
        for title, evidence in steps
        for result in of_kind(evidence, Written)
        if "\n" in result.text
    ]
    groups = (("Disc stacks, from the piston", terms), ("In full", texts))
    return tuple(TermGroup(title, tuple(found)) for title, found in groups if found)


@contextmanager
def _writing(folder: Path) -> Iterator[None]:
    """Make the folder, and word what the file system refuses."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        raise StationError(
            f"the record cannot be written there ({error.strerror}).",
            where=str(folder),
            advice="Choose another folder; the record itself is safe.",
        ) from error


def _row(unit: UnitRow, names: Mapping[str, str]) -> RecordRow:
    filed = unit.filed_utc
    standing = Standing(unit.standing) if filed else None
    return RecordRow(
        unit.unit_id,
        unit.serial,
        unit.family,
        unit.title,
        local_time(filed) if filed else "",
        names.get(unit.technician, unit.technician),
        unit.decision,
        _standing_in_words(unit, standing) if standing else unit.state,
        _tone(unit.decision, standing) if standing else Tone.QUIET,
        unit.page_key,
    )


def _standing_in_words(unit: UnitRow, standing: Standing) -> str:
    return f"{standing}, amended" if unit.amended else standing


def _tone(decision: str, standing: Standing) -> Tone:
    """Return the tone of a filed unit: green only for a pass that QA released."""
    if standing in REJECTIONS:
        return Tone.DANGER
    if may_look_good(decision, standing):
        return Tone.GOOD
    waits = decision == "pass" and standing is Standing.NOT_RELEASED
    return Tone.QUIET if waits else Tone.CAUTION


def _dispositions(unit: UnitRow) -> tuple[ActionView, ...]:
    """Return what QA may say of it."""
    words = (
        ("released", "QA: release", "Ctrl+R"),
        ("held", "QA: hold", "Ctrl+H"),
        ("rejected", "QA: reject", "Ctrl+D"),
    )
    return tuple(
        ActionView(
            word,
            label,
            key,
            word != plain_word(unit.disposition),
            f"it is {word} already" if word == plain_word(unit.disposition) else "",
            needs_reason=True,
            needs_pin=True,
            does="dispose",
        )
        for word, label, key in words
    )


def _when(utc: str) -> str:
    return local_time(datetime.fromisoformat(utc))


def _groups(record: UnitRecord, words: QuantityFormatter) -> tuple[TermGroup, ...]:
    oil, charge, hold = record.oil, record.charge, record.hold
    unit = TermGroup(
        "Unit",
        (
            TermView("Serial", record.serial, strong=True),
            TermView("Family", record.family),
            TermView(
                "Specification",
                f"{record.specification.id}, revision {record.specification.revision}",
                approved_words(record.specification),
            ),
            TermView("Order, position", f"{record.order or '-'}, {record.position or '-'}"),
            TermView("Opened", record.technician.name, _when(record.opened_utc)),
            TermView("Filed", record.filed_by.name, _when(record.filed_utc)),
            TermView("Where", f"{record.shop}, {record.bench}"),
            TermView("Decision", record.decision, strong=True),
        ),
    )
    net, settled = judged_net(oil, words), judged_charge(charge, words)
    weighed = TermGroup(
        "Oil",
        (
            TermView("Lot", f"{' and '.join(lots_of(oil))}, {oil.name}", oil.density_source),
            *(TermView("Weighed", line) for line in weighing_lines(oil, words)),
            TermView("Target, scale shows", words.mass(oil.target_shown_kg, 2)),
            TermView("Net, scale shows", net, strong=True),
            TermView("Tolerance", f"± {words.mass(oil.tolerance_kg, 2)}"),
            TermView("Decision", decision_in_words(oil)),
        ),
    )
    charged = TermGroup(
        "Gas charge",
        (
            TermView("Target", words.gauge(charge.target_gauge_pa, 3)),
            TermView(settled_at(charge, words), settled, strong=True),
            TermView(*reference_charge(charge, words)[:2]),
            TermView("Tolerance", f"± {words.pressure(charge.tolerance_pa)}"),
            *(TermView(*line) for line in air_lines(charge, words, _when)),
            TermView("Decision", decision_in_words(charge)),
            TermView(
                "Hold test",
                words.leak(hold.leak_pa_m3_s, 2 * hold.u_leak_pa_m3_s),
                f"{hold.decision}; allowed {words.leak(hold.allowed_pa_m3_s)}; U with k = 2",
            ),
            *(TermView(*said) for said in hold_lines(hold, words)),
        ),
    )
    second = TermGroup(
        "Second reading",
        tuple(TermView(*said) for said in second_lines(record.second_reading, words)),
    )
    steps = TermGroup(
        "Steps",
        tuple(
            TermView(
                s.title,
                evidence_in_words(s.evidence, words),
                f"{s.name}, {_when(s.utc)}",
            )
            for s in record.steps
        ),
    )
    instruments = TermGroup(
        "Instruments",
        tuple(
            TermView(
                i.title,
                f"{i.serial_number}, calibrated to {i.calibrated_until}",
                f"{i.certificate}; {checked_line(i.check, _when)}"
                + (f"; no instrument but {no_device_words(i.virtual)}" if i.virtual else ""),
            )
            for i in record.instruments
        ),
    )
    remarks = [TermView("QA hold", worded(reason)) for reason in record.qa_hold_reasons]
    remarks += [
        TermView(
            f"Deviation, {worded(d.subject)}",
            d.reason,
            f"{d.person}, {_when(d.utc)}",
        )
        for d in record.deviations
    ]
    remarks += [TermView("By hand", line) for line in by_hand_lines(record, words)]
    remarks += [
        TermView(f"Back to {r.step}", r.reason, f"{r.person}, {_when(r.utc)}")
        for r in record.rework
    ]
    remarks += [
        TermView(f"Earlier result, {a.what}", a.decision, _when(a.utc))
        for a in record.attempts
        if a.decision != "pass"
    ]
    remarks += [
        TermView(
            f"Alarm, {a.alarm}",
            words.gauge(a.peak_gauge_pa) if a.peak_gauge_pa else a.reason,
            f"{a.acknowledged_by}: {a.reason}",
        )
        for a in record.alarms
    ]
    matched = tuple(TermView(*line) for line in set_lines(record, words))
    remarks += [
        TermView(*line) for line in (*emptied_lines(record, _when), *left_lines(record, _when))
    ]
    own_set = (TermGroup("Set", matched),) if matched else ()
    again = (second,) if second.terms else ()
    groups = (unit, weighed, charged, *again, *own_set, steps, *_recorded(record), instruments)
    return (*groups, TermGroup("Remarks", tuple(remarks))) if remarks else groups


def traces_of(filed: FiledRecord, words: QuantityFormatter) -> tuple[TraceView, ...]:
    """Return the pour and the charge as the record kept them."""
    record = filed.record
    pour_goal = pour_goal_kg(record.oil)
    charge_goal = record.charge.target_gauge_pa
    views = []
    for name, title, dimension, goal in (
        ("pour", "Pour" if pour_goal else "Pour, last part", Dimension.MASS, pour_goal),
        ("charge", "Charge", Dimension.PRESSURE, charge_goal),
    ):
        trace = filed.trace(name)
        if trace is not None and len(trace.t_us) > 1:
            views.append(_trace(trace, title, dimension, goal, words.system))
    return tuple(views)


def _trace(
    trace: Trace, title: str, dimension: Dimension, goal: float | None, system: UnitSystem
) -> TraceView:
    seconds = trace.t_us / 1e6
    stored = next(iter(trace.channels.values()))
    values = np.array([to_display(float(v), dimension, system) for v in stored])
    unit = display_unit(dimension, system)
    if dimension is Dimension.PRESSURE:
        unit += " gauge"
    span = float(seconds[-1])
    target = None if goal is None else to_display(goal, dimension, system)
    marks = () if target is None else ((f"target {target:.2f}", target, Tone.GOOD),)
    return TraceView(title, unit, seconds - span, values, max(span, 1.0), marks)
