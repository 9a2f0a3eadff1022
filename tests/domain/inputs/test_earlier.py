"""Evidence of form 1, one mapping by label and by key, as it reads today."""

import json

import pytest

from benchstation.domain.disc_stack import Difference, DiscRow, Mark
from benchstation.domain.events import EventError, StepSigned, ZeroProven, event_from, stored_body
from benchstation.domain.inputs.charge import ChargeSigned
from benchstation.domain.inputs.choice import Chosen, Hold
from benchstation.domain.inputs.confirmation import Confirmed
from benchstation.domain.inputs.given import Picture, PushForce, Taken
from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.oil import OilSigned
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.photos import Photographed
from benchstation.domain.inputs.quantity import Measured
from benchstation.domain.inputs.said import Said
from benchstation.domain.inputs.stack import SideDifference, StackRecorded
from benchstation.domain.inputs.text import Written
from benchstation.domain.inputs.torque import Tightened
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import evidence_in_words

DISC = {"outer": 0.04, "thickness": 0.0002, "count": 2}
ROW = DiscRow(0.04, 0.0002, 2)
THIN = DiscRow(0.02, 0.0003)
SIDES = {"compression": [DISC], "rebound": [DISC, DISC]}
PHOTO = {"sha256": "ab" * 32, "size_bytes": 9, "media_type": "image/png", "caption": "piston"}
FORCE = {
    "force_n": 200.0, "gas_pa": 14e5, "ambient_pa": 1e5, "bench_k": 293.15, "rod_area_m2": 1.5e-4
}  # fmt: skip
CASES = [
    ("confirmed", {"Seat clean": "confirmed"}, [Confirmed("confirm1", "Seat clean")]),
    ("Kit: K-1", {"Kit": "K-1"}, [Noted("note1", "Kit", "K-1")]),
    (
        "0.00 bar gauge, rod stays in",
        {"Rod stays in": "confirmed", "gauge_pa": 90.0, "band_pa": 1e4, "instrument_id": "gauge-1"},
        [ZeroRead("zero1", "", 90.0, 1e4, "gauge-1"), Confirmed("confirm1", "Rod stays in")],
    ),
    (
        "fill line let down by word alone: no gauge reading",
        {"line": "fill line let down by word alone: no gauge reading"},
        [ZeroRead("zero1", "fill line", None, None)],
    ),
    (
        "fill line let down by word alone: gauge-1 is overdue",
        {"line": "fill line let down by word alone: gauge-1 is overdue"},
        [ZeroRead("zero1", "fill line", None, None, doubt="gauge-1 is overdue")],
    ),
    (
        "209.90 mm, asked 209.50 ± 1.00 mm",
        {"measured_m": 0.2099, "nominal": 0.2095, "tolerance": 0.001},
        [Measured("value1", "", 0.2099, "length", 0.2095, 0.001)],
    ),
    (
        "12.09 bar gauge",
        {
            "measured_gauge_pa": 12.09e5, "std": 200.0, "count": 9, "instrument_id": "gauge-1",
            "raw": "12.09 bar", "source": "gauge",
        },
        [
            Measured(
                "value1", "", 12.09e5, "pressure", source="gauge",
                reading=Taken(12.09e5, 200.0, 9, "gauge-1", "12.09 bar"),
            )
        ],
    ),
    (
        "230 N, asked 200 ± 40 N",
        {"measured_n": 230.0, "nominal": 200.0, "tolerance": 40.0, "expected": FORCE},
        [Measured("value1", "", 230.0, "force", 200.0, 40.0, expected=PushForce(**FORCE))],
    ),
    (
        "8.30 N m, asked 8.00 ± 0.50 N m, wrench TW-07",
        {"measured_n_m": 8.3, "tool": "TW-07", "nominal": 8.0, "tolerance": 0.5},
        [Tightened("torque1", "", 8.3, 8.0, 0.5, "TW-07")],
    ),
    (
        "Rod: light marks",
        {"choice": "polished", "chosen": "light marks", "qa_hold": "Rod: light marks"},
        [Chosen("choice1", "Rod", "polished", "light marks", Hold.QA)],
    ),
    (
        "Rod: scored, accepted as a deviation",
        {"choice": "scored", "chosen": "scored"},
        [Chosen("choice1", "Rod", "scored", "scored", Hold.DEVIATION)],
    ),
    (
        "Rod: bright",
        {"choice": "bright", "chosen": "bright", "qa_hold": "the technician's own text"},
        [
            Chosen("choice1", "Rod", "bright", "bright"),
            Noted("note1", "qa_hold", "the technician's own text"),
        ],
    ),
    ("one / two", {"text": "one\ntwo"}, [Written("text1", "", "one\ntwo")]),
    ("nothing to note", {"text": ""}, [Written("text1", "", "")]),
    (
        "Seal K-88; accepted as a deviation without: lot of Wiper",
        {
            "parts": [
                {"number": "RS-14", "name": "Seal", "count": 1, "lot": "K-88"},
                {"number": "WP-14", "name": "Wiper", "count": 2, "lot": "", "missing": True},
            ]
        },
        [
            PartFitted("lot1", "Seal", "RS-14", 1, "K-88"),
            PartFitted("lot2", "Wiper", "WP-14", 2, "", missing=True),
        ],
    ),
    (
        "compression 2 discs, 0.40 mm high; accepted as a deviation: rebound: removed 1 of",
        {
            "stacks": {"as built": SIDES},
            "differences": [
                "rebound: removed 1 of 20 × 0.3 mm",
                "compression: added 2 of 40 × 0.2 mm",
                "compression: 3 of 38 × 0.15 mm instead of 1 of 38 × 0.15 mm",
            ],
        },
        [
            StackRecorded(
                "stack1", "as built", (ROW,), (ROW, ROW),
                (
                    SideDifference("rebound", Difference(Mark.REMOVED, THIN, None)),
                    SideDifference("compression", Difference(Mark.ADDED, None, ROW)),
                    SideDifference(
                        "compression",
                        Difference(
                            Mark.CHANGED, DiscRow(0.038, 0.00015, 1), DiscRow(0.038, 0.00015, 3)
                        ),
                    ),
                ),
            )
        ],
    ),
    (
        "1 photograph: piston",
        {"photos": [PHOTO]},
        [Photographed("photos1", "", (Picture(**PHOTO),))],
    ),
    (
        "poured 224.3 g, pass, by hand",
        {"decision": "pass"},
        [OilSigned("oil1", "poured", None, "pass", by_hand=True)],
    ),
    (
        "15.01 bar gauge, pass; hold pass",
        {"charge": "pass", "hold": "pass"},
        [ChargeSigned("charge1", None, "pass", "pass")],
    ),
]  # fmt: skip


def signed(summary, evidence):
    return {"unit_id": "u1", "step_id": "s", "summary": summary, "evidence": evidence}


@pytest.mark.parametrize(("summary", "evidence", "results"), CASES)
def test_a_mapping_reads_as_results_by_type(summary, evidence, results):
    stored = json.loads(json.dumps(signed(summary, evidence)))
    event = event_from(StepSigned.kind, stored)
    said = [Said(summary)] if summary != "confirmed" else []
    assert list(event.evidence) == [*said, *results]
    assert evidence_in_words(event.evidence, METRIC) == summary
    assert event_from(StepSigned.kind, json.loads(json.dumps(stored_body(event)))) == event


def test_a_zero_that_was_proven_anew_reads_too():
    evidence = {"Rod in": "confirmed", "gauge_pa": 9.0, "band_pa": 1e4, "instrument_id": "g"}
    body = {"unit_id": "u", "step_id": "s", "gauge_pa": 9.0, "band_pa": 1e4, "instrument_id": "g"}
    event = event_from(ZeroProven.kind, {**body, "evidence": evidence})
    zero = ZeroRead("zero1", "", 9.0, 1e4, "g")
    assert event.evidence == (zero, Confirmed("confirm1", "Rod in"))
    assert event_from(ZeroProven.kind, body).evidence == ()


@pytest.mark.parametrize(
    "evidence",
    [
        {"parts": "none"},
        {"parts": [1, {"name": "no number"}]},
        {"stacks": {"as built": 3}},
        {"stacks": {"as seen": SIDES}},
        {"stacks": {"as built": {}}},
        {"photos": [{"caption": "no content"}]},
        {"expected": {"force_n": 1.0}},
        {"decision": "pass"},
        {"gauge_pa": 3.0},
    ],
)
def test_what_has_another_shape_is_kept_as_label_and_text(evidence):
    event = event_from(StepSigned.kind, signed("", evidence))
    ((label, value),) = evidence.items()
    text = value if isinstance(value, str) else json.dumps(value)
    assert event.evidence == (Noted("note1", label, text),)


@pytest.mark.parametrize(
    "evidence",
    [
        [{"type": "line", "input": "note1", "label": "x"}],
        [{"type": "line", "input": "note1", "label": "x", "text": "y", "more": 1}],
        [{"type": "stamp", "input": "stamp1", "label": "x"}],
        [{"input": "note1", "label": "x", "text": "y"}],
    ],
)
def test_a_result_of_another_form_is_refused(evidence):
    body = {"unit_id": "u1", "step_id": "s", "evidence": evidence, "form": 2}
    with pytest.raises(EventError, match="does not have the form it should"):
        event_from(StepSigned.kind, body)
