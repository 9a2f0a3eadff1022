"""Filed units for the Records page, read through the store's own read connection."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypedDict

from benchstation.bench.commands.shipping import specification_of
from benchstation.domain.disposition import (
    REJECTIONS,
    Standing,
    may_look_good,
)
from benchstation.domain.shipping import figures_of
from benchstation.domain.shop_chain import SHOP
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter, file_stamp, local_time
from benchstation.quantities.units import UnitSystem
from benchstation.reports.certificate import write_certificate
from benchstation.reports.data_sheet import write_data_sheet
from benchstation.reports.export import FiledRecord, filed_record, write_json
from benchstation.reports.label import write_label, write_waiting_label
from benchstation.reports.paper import verdict
from benchstation.screens.model.elements import (
    Tone,
)
from benchstation.screens.model.filters import question_in
from benchstation.screens.model.records import RecordDetail, RecordRow, lot_in
from benchstation.screens.records.after_filing import acts_after, dispositions, forms_after
from benchstation.screens.records.filtering import counted, meaning_of, no_filter_in
from benchstation.screens.records.front import front_of, front_traces, place_of
from benchstation.screens.records.instrument_search import about, named_in
from benchstation.screens.records.period import period_in
from benchstation.screens.records.scanned import said_of_code, scanned_unit
from benchstation.screens.records.serial_history import history_group
from benchstation.screens.records.terms import groups_of, photos_of
from benchstation.screens.records.timeline import (
    later_rows,
    step_rows,
    steps_until_now,
)
from benchstation.screens.records.unfiled import no_record, rebuild_of, waiting_unit
from benchstation.screens.written import writing
from benchstation.store.chain_store import ChainStore
from benchstation.store.filters import conditions, each_unit, units_that
from benchstation.store.notices import notices_of
from benchstation.store.queries import get_unit
from benchstation.store.recall import units_since
from benchstation.store.search import (
    Conditions,
    Match,
    find_units,
    match_of,
    units_with_lot_named,
)
from benchstation.store.unit_rows import UnitRow
from benchstation.store.words_on_units import words_on, words_waiting

PAGE = 50


class _Page(TypedDict):
    where: Conditions
    before: str
    limit: int


@dataclass(frozen=True, slots=True)
class Records:
    """Answers the Records page. Every method may take a while and is called in one thread."""

    store: ChainStore

    def find(self, text: str, before: str = "") -> Sequence[RecordRow]:
        """Find units by serial, family, order, lot, technician or instrument, a page at a time.

        Whole names come first, then beginnings, then text within. ``lot "K-6"`` finds those with
        this lot alone, and none with K-60; a day, a month or two days what was filed in that time.
        Filters beside the words (``qa:released``) leave only the units of which they hold.
        """
        if scanned := scanned_unit(self.store, text):
            return [replace(self._named_row(scanned, self.names()), page_key="")]
        names, question = self.names(), question_in(text)
        meaning = meaning_of(self.store, question, names)
        if meaning.problem:
            return []
        if question.filters and not question.words:
            found = units_that(self.store, meaning.filters, before=before, limit=PAGE)
            return self._rows(found, names)
        units = self._found(question.words, names, conditions(meaning.filters), before)
        rows = self._rows(units[:PAGE], names)
        # The last page's rows lead nowhere.
        return rows if len(units) > PAGE else [replace(row, page_key="") for row in rows]

    def each(self, text: str) -> Iterator[UnitRow]:
        """Return all units that a question finds, in its order, read as they are taken."""
        names, question = self.names(), question_in(text)
        meaning = meaning_of(self.store, question, names)
        if problem := meaning.problem or self._no_filter_in(question.words):
            raise StationError(
                f"nothing can be listed: {problem}",
                where="Records",
                advice="Put the filter right and ask again.",
            )
        if not question.words:
            yield from each_unit(self.store, meaning.filters)
            return
        where, before, more = conditions(meaning.filters), "", True
        while more:
            found = self._found(question.words, names, where, before)
            more = len(found) > PAGE
            yield from found[:PAGE]
            before = found[PAGE - 1].page_key if more else ""

    def _no_filter_in(self, words: str) -> str:
        """Return which filter there is none of, where words name one and find nothing."""
        said = no_filter_in(words)
        return said if said and not self.find(words) else ""

    def _found(
        self, text: str, names: Mapping[str, str], where: Conditions, before: str
    ) -> Sequence[UnitRow]:
        """Return a page, and one unit more, of what words find."""
        these: _Page = {"where": where, "before": before, "limit": PAGE + 1}
        if lot := lot_in(text):
            return units_with_lot_named(self.store, lot, **these)
        named = named_in(self.store, text)
        if named.since:
            on = [one.instrument_id for one in named.instruments]
            return units_since(self.store, on, **these)
        return find_units(
            self.store,
            text,
            technicians=_people_named(names, text),
            instruments={one.instrument_id: named.match for one in named.instruments},
            period=period_in(text),
            **these,
        )

    def _rows(self, units: Sequence[UnitRow], names: Mapping[str, str]) -> list[RecordRow]:
        told = notices_of(self.store, [unit.unit_id for unit in units])
        rows = (self._named_row(unit, names) for unit in units)
        return [replace(row, told=len(told.get(row.unit_id, ()))) for row in rows]

    def _named_row(self, unit: UnitRow, names: Mapping[str, str]) -> RecordRow:
        """Return a row; in a whole shop the bench stands in it, in place of the long title."""
        row = _row(unit, names)
        if self.store.bench != SHOP:
            return row
        return replace(row, technician=f"{unit.bench}, {row.technician}", title="")

    def about(self, text: str) -> str:
        """Return what filters ask and how many units that is, or which instrument words name."""
        if said := said_of_code(self.store, text):
            return said
        question = question_in(text)
        if said := self._no_filter_in(question.words):
            return said
        if not question.filters:
            return about(self.store, text)
        meaning = meaning_of(self.store, question, self.names())
        if meaning.problem:
            return meaning.problem
        if question.words:
            return f"Of {question.in_words}."
        return counted(self.store, question, meaning.filters)

    def names(self) -> dict[str, str]:
        """Return what everyone enrolled is called, by id."""
        return {key: person.name for key, person in self.store.people().items()}

    def open(self, unit_id: str, words: QuantityFormatter) -> RecordDetail:
        """Open one filed unit's record, or say why another has none."""
        found = get_unit(self.store, unit_id)
        names = self.names()
        row = _row(found, names)
        if found.filed_seq is None:
            said = no_record(self.store, found, names)
            waits = waiting_unit(self.store, unit_id) is not None
            steps = steps_until_now(rebuild_of(self.store, unit_id), names, words)
            return RecordDetail(row, (), (), "", no_record=said, labelled=waits, steps=steps)
        filed = filed_record(self.store, unit_id)
        entry = filed.entry
        anchor = (
            f"{entry.bench} entry {entry.seq}, {entry.hash[:16]}...; record {filed.sha256[:16]}..."
        )
        waiting = words_waiting(self.store, unit_id)
        ruled = words_on(self.store, unit_id), waiting
        notices = notices_of(self.store, [unit_id]).get(unit_id, ())
        return RecordDetail(
            row,
            (*history_group(self.store, found.serial, unit_id), *groups_of(filed.record, words)),
            front_traces(filed, row.tone, words),
            anchor,
            dispositions(self.store, found),
            photos_of(filed),
            front=front_of(filed, row.tone, words, to_settle=bool(waiting)),
            steps=step_rows(filed.record, words),
            place=place_of(filed),
            later=later_rows(filed, ruled, notices, names, words),
            acts=acts_after(self.store, found, filed),
            forms=forms_after(self.store, filed, words),
        )

    def export(self, unit_id: str, folder: Path, system: UnitSystem) -> Sequence[Path]:
        """Write the record as PDF and JSON into ``folder``, and the label beside them."""
        with writing(folder):
            filed, stem = self._named(unit_id)
            return (
                write_certificate(filed, folder / f"{stem}.pdf", system),
                write_json(filed, folder / f"{stem}.json"),
                write_label(filed, folder / f"{stem}_label.pdf", system),
            )

    def certificate(self, unit_id: str, folder: Path, system: UnitSystem) -> Sequence[Path]:
        """Write the record as PDF alone."""
        with writing(folder):
            filed, stem = self._named(unit_id)
            return (write_certificate(filed, folder / f"{stem}.pdf", system),)

    def data_sheet(self, unit_id: str, folder: Path, system: UnitSystem) -> Sequence[Path]:
        """Write the data sheet of a unit's last shipment."""
        with writing(folder):
            filed, stem = self._named(unit_id)
            shipments = filed.disposition.shipments
            test, burst = (
                (shipments[-1].shipped.test_gauge_pa, shipments[-1].shipped.burst_gauge_pa)
                if shipments
                else (None, None)
            )
            specification = specification_of(self.store, filed.record)
            figures = figures_of(filed.record, specification, test, burst)
            return (write_data_sheet(filed, figures, folder / f"{stem}_data_sheet.pdf", system),)

    def label(self, unit_id: str, folder: Path, system: UnitSystem) -> Sequence[Path]:
        """Write the label alone: of a filed unit, or of one that waits for its second reading."""
        with writing(folder):
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
        return filed, f"{_file_name(filed.serial)}_{file_stamp(filed.entry.utc)}"


def _people_named(names: Mapping[str, str], text: str) -> dict[str, Match]:
    found = {key: match_of(text, (key, name, *name.split())) for key, name in names.items()}
    return {key: match for key, match in found.items() if match is not None}


def _file_name(serial: str) -> str:
    return "".join(c if c.isalnum() or c in "-_" else "_" for c in serial)


def _row(unit: UnitRow, names: Mapping[str, str]) -> RecordRow:
    filed = unit.filed_utc
    standing = Standing(unit.standing) if filed else None
    first, beside = verdict(unit.decision, standing) if standing else (unit.decision, unit.state)
    return RecordRow(
        unit.unit_id,
        unit.serial,
        unit.family,
        unit.title,
        local_time(filed) if filed else "",
        names.get(unit.technician, unit.technician),
        first,
        f"{beside}, amended" if standing and unit.amended else beside,
        _tone(unit.decision, standing) if standing else Tone.QUIET,
        unit.page_key,
    )


def _tone(decision: str, standing: Standing) -> Tone:
    """Return the tone of a filed unit: green only for a pass that QA released."""
    if standing in REJECTIONS:
        return Tone.DANGER
    if may_look_good(decision, standing):
        return Tone.GOOD
    waits = decision == "pass" and standing is Standing.NOT_RELEASED
    waits = waits or standing is Standing.SUPERSEDED
    return Tone.QUIET if waits else Tone.CAUTION
