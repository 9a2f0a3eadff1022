"""A filed unit's record on paper: A4 pages with its traces, searchable text, the JSON within.

The same record gives the same bytes. The page carries the record's SHA-256, its journal entry's
hash and a code for Records, so that paper and journal can be held against each other.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Final

from reportlab.lib.pagesizes import A4
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    Flowable,
    KeepTogether,
    Spacer,
    Table,
)

from benchstation.atomic_file import part_of, put_in_place
from benchstation.domain.budget_rows import words_of
from benchstation.domain.gas_charge import stood_still
from benchstation.domain.record import stamp
from benchstation.domain.recorded_parts import BudgetPart
from benchstation.domain.statement_words import worded
from benchstation.domain.unit_record import (
    RecordedHold,
    RecordedInstrument,
    RecordedOil,
    RecordedStep,
    UnitRecord,
)
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.notation import fixed, percent
from benchstation.quantities.units import Dimension, UnitSystem
from benchstation.reports.archive import About
from benchstation.reports.chart import trace_chart
from benchstation.reports.course_words import course_lines, customer_lines
from benchstation.reports.doubts import NONE as NO_DOUBTS
from benchstation.reports.doubts import TITLE as DOUBTS_TITLE
from benchstation.reports.doubts import by_word, doubt_lines
from benchstation.reports.evidence_words import evidence_in_words, statements
from benchstation.reports.export import FiledRecord
from benchstation.reports.fonts import BODY, plain, register_fonts
from benchstation.reports.hold_words import hold_lines
from benchstation.reports.oil_words import lots_of, pour_goal_kg, weighing_lines
from benchstation.reports.pages import draw_pages, with_record
from benchstation.reports.paper import (
    BOLD,
    FAINT,
    HEAD,
    SMALL,
    TITLE,
    UNDER,
    VERDICT_WIDTH,
    boxed,
    facts_table,
    grid_style,
    paragraph,
    verdict_box,
)
from benchstation.reports.papers import CERTIFICATE
from benchstation.reports.record_code import certificate_text, drawn
from benchstation.reports.recorded import recorded_story
from benchstation.reports.remarks import (
    air_lines,
    approved_words,
    checked_line,
    decision_in_words,
    judged_charge,
    judged_net,
    left_lines,
    reference_charge,
    set_lines,
    settled_at,
    virtual_words,
)
from benchstation.reports.second_words import second_lines
from benchstation.reports.tagged import Figure, data_table, layout_table

MARGIN: Final = 12 * mm
FOOT: Final = 6 * mm
CODE_SIDE: Final = 26 * mm
"""The code with its quiet zone."""
TOGETHER: Final = 0.005
"""Contributions of less than this share stand in one line; the exported record has each."""
NOTE: Final = (
    "The station watches and warns; it is no safety device and replaces no regulator, relief "
    "device, training, local rule or instruction of the unit's maker."
)


def write_certificate(
    filed: FiledRecord, path: Path, system: UnitSystem = UnitSystem.METRIC
) -> Path:
    """Write the PDF, whole or not at all, and give its path."""
    content = certificate(filed, system)
    temporary = part_of(path)
    temporary.write_bytes(content)
    return put_in_place(temporary, path)


def certificate(filed: FiledRecord, system: UnitSystem = UnitSystem.METRIC) -> bytes:
    """Return the PDF: PDF/A-3 with the exported record attached."""
    record = filed.record
    register_fonts()
    story = _story(filed, system, A4[0] - 2 * MARGIN)
    about = About(
        f"Rebuild record {filed.serial}",
        record.filed_by.name,
        record.family,
        filed.disposition.told_to_utc,
    )
    return with_record(filed, draw_pages(story, MARGIN, _Footer(filed), FOOT), about, CERTIFICATE)


class _Footer:
    def __init__(self, filed: FiledRecord) -> None:
        self._lines = (
            f"{filed.serial}   unit {filed.record.unit_id}   "
            f"journal {filed.entry.bench} entry {filed.entry.seq}",
            f"record SHA-256 {filed.sha256}   QA's standing as of entry "
            f"{filed.disposition.told_to_entry}, "
            f"{_minute(stamp(filed.disposition.told_to_utc))} UTC",
            f"entry hash {filed.entry.hash}",
        )

    def __call__(self, canvas: Canvas, page: int, pages: int) -> None:
        canvas.setFont(BODY, 6.5)
        canvas.setFillColor(FAINT)
        for n, line in enumerate(self._lines):
            canvas.drawString(MARGIN, MARGIN + 4 - n * 8, plain(line))
        canvas.drawRightString(A4[0] - MARGIN, MARGIN + 4, f"page {page} of {pages}")


def _story(filed: FiledRecord, system: UnitSystem, width: float) -> list[Flowable]:
    record, words = filed.record, QuantityFormatter(system)
    story: list[Flowable] = [
        _heading(filed, width),
        Spacer(1, 1.2 * mm),
        _pair(_oil(record.oil, words, width), _charge(record, words, width), width),
        *_air(record, words),
        Spacer(1, 1 * mm),
        _charts(filed, system, width),
        Spacer(1, 1.2 * mm),
        paragraph("Steps", HEAD),
        _steps(record.steps, words, width),
    ]
    story += recorded_story(filed, width)
    story += _doubts(record, words, width)
    story += _course(filed, words)
    story += _remarks(record, words)
    story += [
        KeepTogether(
            [
                Spacer(1, 1.2 * mm),
                paragraph("Instruments", HEAD),
                _instruments(record.instruments, width),
            ]
        ),
        KeepTogether(
            [
                Spacer(1, 1.2 * mm),
                paragraph("Uncertainty", HEAD),
                _pair(
                    _budget(record.oil.budget, "oil, g", 1e3, width),
                    _budget(record.charge.budget, "charge, mbar", 1e-2, width),
                    width,
                ),
            ]
        ),
        Spacer(1, 1.2 * mm),
        paragraph(f"{worded(record.decision_rule)} {NOTE} Made by {record.program}.", SMALL),
    ]
    return story


def _heading(filed: FiledRecord, width: float) -> Flowable:
    record = filed.record
    specification = record.specification
    opened, ended = (_minute(utc) for utc in (record.opened_utc, record.filed_utc))
    order, position = filed.place
    virtual = virtual_words(record)
    said = approved_words(specification)
    lines = [
        paragraph(f"Rebuild record {filed.serial}", TITLE),
        paragraph(record.title, BOLD),
        paragraph(
            f"{record.family}, specification {specification.id} revision {specification.revision}",
            BOLD,
        ),
        *([paragraph(f"Specification {said}", SMALL)] if said else []),
        *([paragraph(virtual, BOLD)] if virtual else []),
        paragraph(
            f"{record.shop}, {record.bench}. Opened {opened} UTC by "
            f"{record.technician.name}, filed {ended} UTC by {record.filed_by.name}"
            + (f", order {order}" if order else "")
            + (f", {position}" if position else ""),
            SMALL,
        ),
        *(paragraph(line, SMALL) for line in customer_lines(filed.disposition)),
    ]
    box = [verdict_box(filed.decision, filed.disposition.standing), *_told(filed)]
    code = Figure(
        drawn(certificate_text(filed), CODE_SIDE),
        "Code of this record: scanned into Records, it opens the record and checks it",
    )
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        # The code brings its own white edge.
        ("TOPPADDING", (1, 0), (1, 0), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ]
    widths = (width - CODE_SIDE - VERDICT_WIDTH, CODE_SIDE, VERDICT_WIDTH)
    return layout_table([[lines, code, box]], widths, style)


def _told(filed: FiledRecord) -> list[Flowable]:
    """Return who of QA said it last and when, and up to which entry that is told."""
    said = filed.disposition
    last = said.rulings[-1] if said.rulings else None
    by = f"{last.person}, {_stamped(last.utc)}" if last else "QA has said nothing yet"
    told = f"told up to entry {said.told_to_entry}, {_stamped(said.told_to_utc)}"
    lines = [paragraph(line, UNDER) for line in (by, told)]
    amended = [paragraph(said.amended, BOLD)] if said.amended else []
    return [Spacer(1, 1 * mm), *amended, *lines]


def _minute(utc: str) -> str:
    return utc.replace("T", " ").split(".")[0][:-3]


def _minute_utc(utc: str) -> str:
    return f"{_minute(utc)} UTC"


def _oil(oil: RecordedOil, words: QuantityFormatter, width: float) -> list[Flowable]:
    terms = oil.terms
    facts = [
        ("Oil", f"{oil.name}, lot {' and '.join(lots_of(oil))}"),
        ("Specified volume", f"{words.volume(terms.volume_m3)} ({terms.basis})"),
        ("Density at 15 °C", words.density(terms.rho15_kg_m3)),
        ("Density source", oil.density_source),
        ("Target, as the scale shows", words.mass(oil.target_shown_kg, 2)),
        ("Net oil, as the scale shows", judged_net(oil, words)),
        ("Difference from target", str(words.mass_difference(oil.deviation_kg, 2))),
        ("Tolerance", f"± {words.mass(oil.tolerance_kg, 2)}"),
        ("Decision", decision_in_words(oil)),
    ]
    return [paragraph("Oil", HEAD), facts_table(facts, width / 2 - 2 * mm)]


def _stood(hold: RecordedHold) -> list[tuple[str, str]]:
    said = stood_still(hold.stood_still_s, stuck=hold.gauge_stuck)
    return [("Gauge in the hold test", said)] if said else []


def _charge(record: UnitRecord, words: QuantityFormatter, width: float) -> list[Flowable]:
    charge, hold = record.charge, record.hold
    facts = [
        (
            "Target here and now",
            f"{words.gauge(charge.target_gauge_pa)}, ± {words.pressure(charge.tolerance_pa)}",
        ),
        (settled_at(charge, words), judged_charge(charge, words)),
        reference_charge(charge, words)[:2],
        (
            "Gas volume, amount",
            f"{words.volume(charge.gas_volume_m3)}, {words.mass(charge.amount_kg, 3)} of N₂",
        ),
        ("Decision", decision_in_words(charge)),
        (
            "Hold test",
            f"{words.leak(hold.leak_pa_m3_s, 2 * hold.u_leak_pa_m3_s)} (k = 2) "
            f"in {fixed(hold.duration_s, 0)} s",
        ),
        ("Allowed leak, decision", f"{words.leak(hold.allowed_pa_m3_s)}, {hold.decision}"),
        *_stood(hold),
        *hold_lines(hold, words),
        *second_lines(record.second_reading, words)[-1:],
        (
            "High limit",
            f"{words.gauge(record.guard.limit_gauge_pa)}, {record.guard.limit_source}",
        ),
    ]
    return [paragraph("Gas charge", HEAD), facts_table(facts, width / 2 - 2 * mm)]


def _pair(left: Sequence[Flowable], right: Sequence[Flowable], width: float) -> Table:
    gap = 4 * mm
    half = (width - gap) / 2
    style = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (-1, -1), 0),
    ]
    return layout_table([[list(left), [], list(right)]], (half, gap, half), style)


def _charts(filed: FiledRecord, system: UnitSystem, width: float) -> Table:
    record = filed.record
    gap = 4 * mm
    size = ((width - 2 * gap) / 3, 22 * mm)
    goal = pour_goal_kg(record.oil)
    target, guard = record.charge.target_gauge_pa, record.guard
    charts = [
        trace_chart(
            filed.trace("pour"),
            "Pour" if goal is not None else "Pour, last part",
            Dimension.MASS,
            system,
            size,
            levels=(("target", goal),) if goal is not None else (),
        ),
        trace_chart(
            filed.trace("charge"),
            "Charge, gauge",
            Dimension.PRESSURE,
            system,
            size,
            levels=(
                ("target", target),
                ("high warning", guard.warning_gauge_pa),
                ("high limit", guard.limit_gauge_pa),
            ),
        ),
        trace_chart(
            filed.trace("hold"),
            "Hold test, gauge",
            Dimension.PRESSURE,
            system,
            size,
            levels=(),
            from_zero=False,
        ),
    ]
    style = [("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0)]
    words = QuantityFormatter(system)
    told = (
        f"Trace of the pour, up to {words.mass(record.oil.net_shown_kg, 2)} net",
        f"Trace of the charge, up to {words.gauge(record.charge.gauge_pa)}",
        f"Trace of the hold test, {fixed(record.hold.duration_s, 0)} s",
    )
    one, two, three = (Figure(c, said) for c, said in zip(charts, told, strict=True))
    widths = (size[0], gap, size[0], gap, size[0])
    return layout_table([[one, [], two, [], three]], widths, style)


def _evidence(step: RecordedStep, words: QuantityFormatter) -> str:
    """Return what a signature rests on, in words, and every statement that was confirmed."""
    evidence = step.evidence
    confirmed = statements(evidence)
    said = evidence_in_words(evidence, words)
    return "; ".join(confirmed if confirmed and said == "confirmed" else (said, *confirmed))


def _steps(steps: Sequence[RecordedStep], words: QuantityFormatter, width: float) -> Table:
    rows = [
        [
            paragraph(s.title, SMALL),
            paragraph(_evidence(s, words), SMALL),
            paragraph(s.name, SMALL),
            paragraph(_minute(s.utc), SMALL),
        ]
        for s in steps
    ]
    head = [paragraph(t, SMALL) for t in ("Step", "Evidence", "Signed by", "UTC")]
    named = (28 * mm, 24 * mm, 25 * mm)
    widths = [named[0], width - sum(named), *named[1:]]
    return data_table([head, *rows], widths, grid_style())


def _doubts(record: UnitRecord, words: QuantityFormatter, width: float) -> list[Flowable]:
    """Return the box of what rests on a word; it says so when there is nothing."""
    lines = doubt_lines(record, words, _minute_utc) or [NO_DOUBTS]
    head, box = paragraph(DOUBTS_TITLE, HEAD), boxed(lines, width)
    return [Spacer(1, 1.2 * mm), KeepTogether([head, box])]


def _course(filed: FiledRecord, words: QuantityFormatter) -> list[Flowable]:
    """Return what was said and done about the unit since; nothing where nothing was."""
    lines = course_lines(filed, words, _stamped)
    if not lines:
        return []
    shown = [paragraph("Since it was filed", HEAD), *(paragraph(line, SMALL) for line in lines)]
    return [KeepTogether([Spacer(1, 2 * mm), *shown])]


def _stamped(utc: datetime) -> str:
    return _minute_utc(stamp(utc))


def gas_by_mass_lines(record: UnitRecord, words: QuantityFormatter) -> list[str]:
    """Return what the unit gained with its charge; nothing where it was not weighed for that."""
    gas = record.gas_by_mass
    if gas is None:
        return []
    gained, charge = words.mass(gas.gain_kg, 2), words.mass(gas.expected_kg, 2)
    expanded = words.mass(gas.expanded_kg, 2)
    return [f"Gas by mass: gained {gained}, charge {charge}, U {expanded}: {gas.decision}"]


def _second(record: UnitRecord, words: QuantityFormatter) -> list[tuple[str, str]]:
    found = second_lines(record.second_reading, words)
    return [(what[:1].lower() + what[1:], said) for what, said in found]


def _remarks(record: UnitRecord, words: QuantityFormatter) -> list[Flowable]:
    titles = {s.id: s.title for s in record.steps}
    lines = [f"QA hold: {worded(reason)}." for reason in record.qa_hold_reasons]
    lines += [
        f"Deviation, {worded(d.subject)}, {d.person}, {_minute(d.utc)}: {d.reason}"
        for d in record.deviations
    ]
    lines += [
        f"Back to {titles.get(r.step, r.step)}, {r.person}, {_minute(r.utc)}: {r.reason}"
        for r in record.rework
    ]
    lines += weighing_lines(record.oil, words)
    lines += gas_by_mass_lines(record, words)
    lines += [f"Second reading, {what}: {said}" for what, said in _second(record, words)]
    shown = {"oil": lambda v: words.mass(v, 2), "charge": words.gauge, "hold": words.leak}
    shown["second reading"] = words.leak
    lines += [
        f"Earlier result, {a.what}, {_minute(a.utc)}: {shown[a.what](a.value)}, {a.decision}"
        for a in record.attempts
        if a.decision != "pass"
    ]
    lines += [
        f"Alarm, {a.alarm}, {_minute(a.started_utc)} to {_minute(a.ended_utc)}"
        + (f", peak {words.gauge(a.peak_gauge_pa)}" if a.peak_gauge_pa else "")
        + f"; acknowledged by {a.acknowledged_by or 'nobody'}"
        + (f": {a.reason}" if a.reason else "")
        for a in record.alarms
    ]
    more = (
        *set_lines(record, words),
        *left_lines(record, _minute_utc),
    )
    lines += [f"{what}: {value}; {source}" for what, value, source in more]
    if not lines:
        return []
    return [Spacer(1, 2 * mm), paragraph("Remarks", HEAD), *(paragraph(t, SMALL) for t in lines)]


def _instruments(instruments: Sequence[RecordedInstrument], width: float) -> Table:
    rows = [
        [
            paragraph(t, SMALL)
            for t in (
                i.title,
                i.serial_number,
                f"{i.calibrated_on} to {i.calibrated_until}",
                f"{', '.join(n for n in (i.certificate, i.laboratory) if n)}; "
                f"{checked_line(i.check, _minute_utc)}",
            )
        ]
        for i in instruments
    ]
    head = [
        paragraph(t, SMALL) for t in ("Instrument", "Serial", "Calibration", "Certificate, check")
    ]
    return data_table([head, *rows], [width / 4] * 4, grid_style())


def _air(record: UnitRecord, words: QuantityFormatter) -> list[Flowable]:
    """Return what the instruments said of air and unit; what rests on a word is in the box."""
    charge = record.charge
    read = tuple(one for one in charge.conditions if not by_word(one))
    if charge.conditions and not read:
        return []
    lines = air_lines(replace(charge, conditions=read), words, _minute_utc)
    said = "; ".join(f"{what.lower()} {value}, {source}" for what, value, source in lines)
    return [paragraph(f"At the charge (U, k = 2): {said}.", SMALL)]


def _budget(rows: Sequence[BudgetPart], what: str, factor: float, width: float) -> list[Flowable]:
    small = [r for r in rows if r.share < TOGETHER]
    named = [r for r in rows if len(small) < 2 or r not in small]
    body = [
        [
            paragraph(words_of(r.name), SMALL),
            paragraph(fixed(r.u_result * factor, 3), SMALL),
            paragraph(percent(r.share), SMALL),
        ]
        for r in named
    ]
    if len(small) > 1:
        together = sum(r.u_result**2 for r in small) ** 0.5
        share = sum(r.share for r in small)
        last = (
            f"{len(small)} others together",
            fixed(together * factor, 3),
            percent(share),
        )
        body.append([paragraph(cell, SMALL) for cell in last])
    head = [paragraph(t, SMALL) for t in (f"Contribution ({what})", "u", "share")]
    half = width / 2 - 2 * mm
    widths = [half - 28 * mm, 15 * mm, 13 * mm]
    return [data_table([head, *body], widths, grid_style())]
