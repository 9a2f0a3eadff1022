"""The data sheet of a charged unit that is shipped: figures of its record, and what it goes by.

Figures only, for whoever classifies, packs and carries it: it clears nothing, and the rules in
force where it goes come first.
"""

from pathlib import Path
from typing import Final

from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Spacer

from benchstation.atomic_file import part_of, put_in_place
from benchstation.domain.cautions import LABEL as UNDER_PRESSURE
from benchstation.domain.record import stamp
from benchstation.domain.shipping import clause_in, condition_in_words, standing_in_words
from benchstation.driver_api.errors import StationError
from benchstation.physics.shipping import NOTE, ShippingFigures
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import Dimension, UnitSystem, shown
from benchstation.reports.archive import About
from benchstation.reports.export import FiledRecord
from benchstation.reports.fonts import BODY, plain, register_fonts
from benchstation.reports.pages import draw_pages, with_record
from benchstation.reports.paper import (
    BOLD,
    FAINT,
    HEAD,
    SMALL,
    TITLE,
    facts_table,
    paragraph,
    verdict_in_words,
)
from benchstation.reports.papers import DATA_SHEET

MARGIN: Final = 18 * mm
WIDTH: Final = A4[0] - 2 * MARGIN
SECTION: Final = ParagraphStyle("section", parent=HEAD, spaceBefore=9, spaceAfter=2)
CAUTIONS: Final = (
    UNDER_PRESSURE,
    "It holds compressed nitrogen and mineral oil. Heat and sparks stay away from it. It lies "
    "where it cannot fall: a blow to the rod or the gas screw may let the gas out at once.",
    "Open it only with the gas let out, by people trained for it. Leaking gas displaces air in a "
    "closed room; leaking oil is a slip hazard and is kept out of drains.",
    "A unit that was dropped, dented or burnt is not carried on: ask whoever filled it.",
)


def write_data_sheet(
    filed: FiledRecord,
    figures: ShippingFigures,
    path: Path,
    system: UnitSystem = UnitSystem.METRIC,
) -> Path:
    """Write the sheet of the last shipment as PDF, whole or not at all, and give its path.

    ``figures`` are those of the record with the test and burst pressures of the shipment.
    """
    if not filed.disposition.shipments:
        raise StationError(
            "there is no shipment on record, so there is no data sheet.",
            where=filed.serial,
            advice="Ship the unit on record first.",
        )
    register_fonts()
    said = filed.disposition
    about = About(
        f"Data sheet {filed.serial}",
        said.shipments[-1].person,
        filed.record.family,
        said.told_to_utc,
    )

    def foot(canvas: Canvas, page: int, pages: int) -> None:
        canvas.setFont(BODY, 6.5)
        canvas.setFillColor(FAINT)
        told = f"as of entry {said.told_to_entry}, {stamp(said.told_to_utc)[:16]} UTC"
        canvas.drawString(MARGIN, MARGIN - 8, plain(f"{filed.serial}   {told}"))
        canvas.drawRightString(A4[0] - MARGIN, MARGIN - 8, f"page {page} of {pages}")

    pages = draw_pages(_story(filed, figures, system), MARGIN, foot)
    part = part_of(path)
    part.write_bytes(with_record(filed, pages, about, DATA_SHEET))
    return put_in_place(part, path)


def _story(filed: FiledRecord, figures: ShippingFigures, system: UnitSystem) -> list[Flowable]:
    record, shipment = filed.record, filed.disposition.shipments[-1]
    shipped, words = shipment.shipped, QuantityFormatter(system)

    def gauge(value: float | None) -> str:
        if value is None:
            return "not given"
        return f"{shown(value, Dimension.PRESSURE, system)} gauge"

    story: list[Flowable] = [
        paragraph("Data sheet of a charged unit", TITLE),
        Spacer(1, 6),
        paragraph(UNDER_PRESSURE, BOLD),
        Spacer(1, 8),
        _head("Unit"),
        _facts(
            ("Serial", filed.serial),
            ("Family", record.family),
            ("Shop, bench", f"{record.shop}, {record.bench}"),
            ("Standing", verdict_in_words(filed.decision, filed.disposition.standing)),
        ),
        _head("Shipment"),
        _facts(
            ("To", shipment.to.customer),
            ("Address", " / ".join(shipment.to.address.splitlines()) or "not given"),
            ("Order", shipped.order or "none"),
            ("Package", shipped.package or "not described"),
            ("Put on record", f"{shipment.person}, {stamp(shipment.utc)[:16]} UTC"),
            ("Proven by", f"{shipment.bench} entry {shipment.entry}; record {filed.sha256}"),
        ),
        _head("Contents"),
        _facts(
            ("Gas", f"nitrogen, {words.mass(shipped.amount_kg, 2)}"),
            ("Charge at 20 °C", gauge(shipped.charge_20c_gauge_pa)),
            ("Charge at 70 °F (21.1 °C)", gauge(shipped.charge_70f_gauge_pa)),
            ("Gas space, rod fully out", words.volume(shipped.gas_volume_m3)),
            ("Oil", f"{words.volume(record.oil.net_volume_ref_m3)}, {record.oil.name}"),
            ("Unit weighed", words.mass(shipped.unit_kg) if shipped.unit_kg else "not weighed"),
            ("Test pressure of the body", gauge(shipped.test_gauge_pa)),
            ("Burst pressure of the body", gauge(shipped.burst_gauge_pa)),
        ),
        _head("Goes by"),
        *_goes_by(filed, figures, system),
        _head("Handling"),
        *(paragraph(caution, SMALL) for caution in CAUTIONS),
        _head("Whose decision this is"),
        paragraph(NOTE, SMALL),
        paragraph(
            "This sheet comes from the shop's record and clears nothing for carriage. Where a rule "
            "in force says otherwise, the rule holds.",
            SMALL,
        ),
    ]
    return story


def _goes_by(filed: FiledRecord, figures: ShippingFigures, system: UnitSystem) -> list[Flowable]:
    shipped = filed.disposition.shipments[-1].shipped
    clause = clause_in(figures, shipped.clause)
    if clause is None:
        return [_facts(("Entry", shipped.un), ("Claimed besides", "no exception"))]
    facts = [
        (clause.rule, clause.scope),
        ("By the figures", standing_in_words(clause, system)),
        *((c.what, condition_in_words(c, system)) for c in clause.conditions),
        *(("To be shown", words) for words in clause.to_show),
    ]
    if clause.to_show:
        who = filed.disposition.shipments[-1].person
        by_word = f"by the word of {who} alone; no figure here shows it"
        facts.append(("Said to be shown", by_word if shipped.declared else "not said"))
    return [_facts(*facts)]


def _head(text: str) -> Flowable:
    return paragraph(text, SECTION)


def _facts(*facts: tuple[str, str]) -> Flowable:
    return facts_table(facts, WIDTH)
