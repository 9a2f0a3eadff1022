from dataclasses import replace

import pytest

from benchstation.domain.inputs.torque import Tightened
from benchstation.domain.materials import Supplied
from benchstation.domain.signing import sign_step
from benchstation.domain.statements import Code, Statement
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC
from benchstation.quantities.units import UnitSystem
from benchstation.reports.evidence_words import evidence_in_words


def test_a_torque_inside_its_limits_is_signed_with_its_wrench(rear_at, stocked):
    (event,) = sign_step(rear_at("screw"), {"torque1": "8,3", "torque1_tool": " TW-07 "}, stocked)
    assert event.evidence == (
        Tightened(
            "torque1",
            "Torque of the bleed screw",
            pytest.approx(8.3),
            8.0,
            0.5,
            "TW-07",
            Supplied("Supplier A", "2026-03-04"),
        ),
    )
    said = "8.30 N m, specified 8.00 ± 0.50 N m, wrench TW-07"
    assert evidence_in_words(event.evidence, METRIC) == said


def test_a_torque_is_taken_in_the_units_that_are_shown(rear_at, stocked):
    fields = {"torque1": "71", "torque1_tool": "TW-07"}
    (event,) = sign_step(rear_at("screw"), fields, replace(stocked, units=UnitSystem.INCH_POUND))
    # 1 lbf in is 0.112 984 8 N m (NIST SP 811, appendix B.8).
    assert event.evidence[0].torque_n_m == pytest.approx(71 * 0.1129848)


@pytest.mark.parametrize(
    ("fields", "word"),
    [
        ({"torque1": "8.6", "torque1_tool": "TW-07"}, r"is 8\.60 N m, allowed 7\.50 to 8\.50 N m"),
        ({"torque1": "7.4", "torque1_tool": "TW-07"}, "allowed"),
        ({"torque1": "-8.0", "torque1_tool": "TW-07"}, r"8\.00 N m cannot be"),
        ({"torque1": "8.0"}, "wrench's number is missing"),
        ({"torque1": "8.0", "torque1_tool": "x" * 65}, "wrench's number"),
        ({"torque1": "8.0", "torque1_tool": "a\x07b"}, "cannot be printed"),
        ({"torque1": "tight", "torque1_tool": "TW-07"}, "not a number"),
        ({"torque1": "8 bar", "torque1_tool": "TW-07"}, "is not a torque"),
        ({}, "Nothing is entered"),
        ({"torque1": "8.0", "torque1_tool": "?"}, r"torque wrench \? is not on record"),
        (
            {"torque1": "8.0", "torque1_tool": "TW-03"},
            "TW-03 is overdue: calibrated until 2026-03-03",
        ),
    ],
)
def test_a_torque_that_proves_nothing_is_refused(rear_at, stocked, fields, word):
    with pytest.raises(StationError, match=word):
        sign_step(rear_at("screw"), fields, stocked)


def test_a_torque_outside_goes_on_as_a_deviation_and_says_so(rear_at, stocked):
    state = rear_at("screw", deviated=True)
    (event,) = sign_step(state, {"torque1": "9", "torque1_tool": "TW-03"}, stocked)
    said = evidence_in_words(event.evidence, METRIC)
    assert "9.00 N m, specified 8.00 ± 0.50 N m, accepted as a deviation" in said
    assert said.endswith("wrench TW-03 (overdue, accepted as a deviation)")
    (reason,) = state.hold_reasons
    assert reason == Statement.of(Code.DEVIATION, of="step_result", title="It")
