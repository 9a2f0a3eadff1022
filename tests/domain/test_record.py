import dataclasses
import json
from datetime import UTC, datetime

import pytest

from benchstation.domain.events import (
    ChargeCaptured,
    DeviationSigned,
    HoldTested,
    MassCaptured,
    OilJudged,
    OilLotReceived,
    StepSigned,
)
from benchstation.domain.guard_limits import GuardLimits
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.people import Person, Role
from benchstation.domain.rebuild import Reopened, apply, fold
from benchstation.domain.record import RecordContext, file_unit
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.physics.gas_spring import ChargeTarget
from tests.samples import sample_of

AT = datetime(2026, 3, 4, 10, 5, 6, 789000, tzinfo=UTC)
SURROUND = RecordContext(
    "Riverside works",
    "bench-1",
    "benchstation 0",
    "jonas",
    {"ines": Person("ines", "Ines Aller", frozenset({Role.TECHNICIAN}))},
    OilLotReceived("L-0417", "Damper oil VG 15", 851.3, 5e-4, source="certificate"),
    (),
    GuardLimits(24e5, 30e5, "hose"),
)
OIL_FILL = Statement.of(Code.STEP_RESULT, title="Oil fill")


def evidence(decision="pass"):
    terms = dataclasses.replace(sample_of(OilTarget), basis_k=293.15, buoyancy=0.9987)
    oil = OilJudged(
        "u1", "bleed", 0.2219, 0.2221, 2e-4, 0.0017, 2e-4, 4e-4, 2.0, decision, 0.99, 262e-6,
        terms, (),
    )  # fmt: skip
    charge = ChargeCaptured(
        "u1", "charge", "gauge-1", 1.51e6, 1.5e6, 1.5e6, 4e4, 5e3, 1e4, 2.0, "pass", 0.99,
        293.15, 101325.0, 1e-4, 1.8e-3, "ab" * 32, "", sample_of(ChargeTarget), (),
    )  # fmt: skip
    hold = HoldTested("u1", "charge", 1.5e6, 1.5e6, 30.0, 1e-6, 1e-6, 2e-3, "pass", "cd" * 32)
    pour = MassCaptured("u1", "oil", "pour", "scale-1", 0.225, 1e-5, 9, 1e-4, "ef" * 32, "")
    return [pour, oil, charge, hold]


@pytest.fixture
def done(spec, fact, opened):
    ids = [step.id for step in spec.steps[:-1]]

    def make(*events):
        signed = [StepSigned("u1", step) for step in ids]
        return fold([fact(opened), *map(fact, events), *map(fact, signed)], spec)

    return make


def test_a_clean_unit_passes_and_its_record_is_plain_json(done):
    filed = file_unit(done(*evidence()), SURROUND, AT)
    record = json.loads(json.dumps(filed.record))
    assert (filed.decision, filed.qa_hold) == ("pass", False)
    assert record["filed_utc"] == "2026-03-04T10:05:06.789Z"
    assert record["technician"] == {"id": "ines", "name": "Ines Aller"}
    assert record["filed_by"] == {"id": "jonas", "name": "jonas"}
    assert record["rework"] == []
    assert [a["what"] for a in record["attempts"]] == ["oil", "charge", "hold"]
    assert [step["id"] for step in record["steps"]][-1] == "push"
    assert record["oil"]["captures"][0]["trace_sha256"] == "ef" * 32
    assert record["charge"]["trace_sha256"] == "ab" * 32
    assert record["guard"]["limit_source"] == "hose"


@pytest.mark.parametrize("missing", [1, 2, 3])
def test_nothing_is_filed_without_its_evidence(done, missing):
    facts = evidence()
    del facts[missing]
    with pytest.raises(NotAllowedError, match="missing"):
        file_unit(done(*facts), SURROUND, AT)


def test_nothing_is_filed_before_every_step_is_signed(spec, fact, opened):
    state = fold([fact(opened), *map(fact, evidence())], spec)
    with pytest.raises(NotAllowedError, match="stands at"):
        file_unit(state, SURROUND, AT)


def test_a_deviation_is_in_the_record_and_holds_the_unit(done, fact):
    state = done(*evidence("undecided"))
    state = apply(state, fact(DeviationSigned("u1", "bleed", OIL_FILL, "agreed"), "jonas"))
    filed = file_unit(state, SURROUND, AT)
    assert (filed.decision, filed.qa_hold) == ("deviation", True)
    assert filed.record["deviations"][0]["reason"] == "agreed"


def test_an_undecided_result_is_never_a_pass(done):
    assert file_unit(done(*evidence("undecided")), SURROUND, AT).decision == "deviation"


def test_what_was_done_again_is_in_the_record(done, fact, spec):
    failed = dataclasses.replace(evidence()[2], decision="fail", settled_gauge_pa=8.6e5)
    state = done(evidence()[0], evidence()[1], failed, *evidence()[2:])
    state = dataclasses.replace(state, reopened=(Reopened("piston", "wrong tube", "ines", AT),))
    record = file_unit(state, SURROUND, AT).record
    assert record["rework"] == [
        {
            "step": "piston",
            "reason": "wrong tube",
            "person": "Ines Aller",
            "utc": "2026-03-04T10:05:06.789Z",
        }
    ]
    charges = [(a["value"], a["decision"]) for a in record["attempts"] if a["what"] == "charge"]
    assert charges == [(8.6e5, "fail"), (1.5e6, "pass")]
