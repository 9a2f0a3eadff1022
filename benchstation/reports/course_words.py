"""What became of a filed unit, as lines for paper: QA's words, amendments, shipments, returns."""

from collections.abc import Callable
from datetime import datetime

from benchstation.domain.disposition import Disposition, Ruling
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.reports.amended_words import (
    amendable,
    amendment_words,
    return_words,
    shipment_words,
)
from benchstation.reports.export import FiledRecord

When = Callable[[datetime], str]


def course_lines(filed: FiledRecord, words: QuantityFormatter, when: When) -> list[str]:
    """Return all that was said and done about a filed unit, in the order of its sort."""
    said = filed.disposition
    return [
        *(_ruled(ruling, when) for ruling in said.rulings),
        *_amended(filed, words, when),
        *_left(said, when),
        *_superseded(said, when),
    ]


def customer_lines(said: Disposition) -> list[str]:
    """Return whom the unit was shipped to last, with the address; nothing before it left."""
    return [f"Customer: {s.to.customer}, {s.to.address}" for s in said.shipments[-1:]]


def _ruled(ruling: Ruling, when: When) -> str:
    meaning = f' The signature means: "{ruling.meaning}".' if ruling.meaning else ""
    batch = f" Released with others as {ruling.batch}." if ruling.batch else ""
    by = f"{ruling.person}, {when(ruling.utc)}, entry {ruling.entry}"
    return f"{ruling.standing}: {ruling.reason}. {by}.{meaning}{batch}"


def _amended(filed: FiledRecord, words: QuantityFormatter, when: When) -> list[str]:
    said = filed.disposition
    fields, count = amendable(filed.record, said.shipments), len(said.amendments)
    lines = []
    for one in said.amendments:
        title, what, who = amendment_words(one, fields, words)
        by = f"{who}, {when(one.utc)}, entry {one.entry}"
        lines.append(f"Amendment {one.number} of {count}, {title}: {what}. {by}. The record stays.")
    return lines


def _superseded(said: Disposition, when: When) -> list[str]:
    later = said.superseded
    if later is None:
        return []
    return [
        f"Superseded: this serial was rebuilt again, filed {when(later.utc)}, {later.bench} entry "
        f"{later.entry}. Before, this record stood as {later.stood}."
    ]


def _left(said: Disposition, when: When) -> list[str]:
    lines = [
        f"Shipped to {shipment_words(one.shipped)}; {one.shipped.address}. {one.person}, "
        f"{when(one.utc)}, {one.bench} entry {one.entry}."
        for one in said.shipments
    ]
    lines += [
        f"Returned: {return_words(one)}. {one.person}, {when(one.utc)}, {one.bench} "
        f"entry {one.entry}."
        for one in said.returns
    ]
    return lines
