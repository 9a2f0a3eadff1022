"""A record's figures in full, its stacks, long texts and photographs, as terms."""

from benchstation.domain.disc_stack import (
    AS_BUILT,
    AS_FOUND,
    SIDES,
    height_in_words,
    in_words,
)
from benchstation.domain.inputs.stack import StackRecorded
from benchstation.domain.inputs.text import Written
from benchstation.domain.recorded_inputs import of_kind, photos_in, steps_of
from benchstation.domain.unit_record import UnitRecord
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.reports.export import FiledRecord
from benchstation.reports.hold_words import hold_lines
from benchstation.reports.oil_words import lots_of, weighing_lines
from benchstation.reports.remarks import (
    air_lines,
    approved_words,
    decision_in_words,
    judged_charge,
    judged_net,
    left_lines,
    reference_charge,
    set_lines,
    settled_at,
)
from benchstation.reports.second_words import second_lines
from benchstation.screens.model.elements import PhotoView, TermGroup, TermView
from benchstation.screens.records.front import when


def photos_of(filed: FiledRecord) -> tuple[PhotoView, ...]:
    """Return the photographs; one that is missing or damaged has no bytes and is drawn as such."""
    return tuple(
        PhotoView(
            photo.sha256,
            f"{title}: {photo.caption or 'no caption'}, {photo.sha256[:12]}...",
            filed.photos.get(photo.sha256) or b"",
        )
        for title, photo in photos_in(filed.record)
    )


def _recorded(record: UnitRecord, words: QuantityFormatter) -> tuple[TermGroup, ...]:
    """Return the discs as built, and the texts that the steps show only the beginning of."""
    steps = tuple(steps_of(record))
    recorded = [result for _, evidence in steps for result in of_kind(evidence, StackRecorded)]
    terms = [
        TermView(
            f"{side.capitalize()}, {result.label}",
            "; ".join(in_words(disc) for disc in stack),
            height_in_words(stack, words.system),
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


def groups_of(record: UnitRecord, words: QuantityFormatter) -> tuple[TermGroup, ...]:
    """Return everything else that the record holds, in groups."""
    oil, charge, hold = record.oil, record.charge, record.hold
    unit = TermGroup(
        "Unit",
        (
            TermView("Serial", record.serial, strong=True),
            TermView("Family", record.family, record.title),
            TermView(
                "Specification",
                f"{record.specification.id}, revision {record.specification.revision}",
                approved_words(record.specification),
            ),
            TermView("Order, position", f"{record.order or '-'}, {record.position or '-'}"),
            TermView("Opened", record.technician.name, when(record.opened_utc)),
            TermView("Filed", record.filed_by.name, when(record.filed_utc)),
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
            *(TermView(*line) for line in air_lines(charge, words, when)),
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
    remarks = [
        TermView(f"Back to {r.step}", r.reason, f"{r.person}, {when(r.utc)}") for r in record.rework
    ]
    remarks += [
        TermView(f"Earlier result, {a.what}", a.decision, when(a.utc))
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
    remarks += [TermView(*line) for line in left_lines(record, when)]
    own_set = (TermGroup("Set", matched),) if matched else ()
    again = (second,) if second.terms else ()
    groups = (unit, weighed, charged, *again, *own_set, *_recorded(record, words))
    return (*groups, TermGroup("Remarks", tuple(remarks))) if remarks else groups
