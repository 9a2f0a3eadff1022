"""Units of a set: the uncertainty of a difference, and the judgement of a spread."""

import math
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.domain.matching import (
    CHARGE,
    DENSITY,
    FORCE,
    GAUGE,
    OIL,
    SCALE,
    Figure,
    Member,
    charge_at_reference,
    in_common,
    not_matching,
    set_in_record,
    spreads,
    u_of_difference,
)
from benchstation.domain.plain import plain
from benchstation.domain.specification import Matching, specification_from
from benchstation.domain.unit_record import RecordedCharge
from benchstation.physics.gas_spring import ChargeTarget

ML = 1e-6
small = st.floats(0.0, 10.0)


@pytest.fixture
def matched(spec):
    return spec.model_copy(update={"matching": Matching(oil=1.5 * ML, charge=0.3e5)})


def member(name: str, oil_ml: float, *, charge_pa: float = 15e5, lot: str = "L-1", u=0.1):
    figures = {
        OIL: Figure(oil_ml * ML, {DENSITY: 0.2 * ML, SCALE: 0.05 * ML, "repeatability": u * ML}),
        CHARGE: Figure(charge_pa, {GAUGE: 3000.0, "settling": 1000.0}),
        FORCE: Figure(charge_pa * 1e-4, {GAUGE: 0.3, "settling": 0.1}),
    }
    return Member(name, "", name, "filed", figures, {DENSITY: lot, SCALE: "s", GAUGE: "g"})


@given(small, small, small, small)
def test_what_is_independent_adds_up_and_what_is_common_cancels(a, b, c, d):
    one, other = Figure(0.0, {"own": a, "both": c}), Figure(1.0, {"own": b, "both": d})
    assert u_of_difference(one, other, ()) == pytest.approx(math.hypot(a, b, c, d))
    assert u_of_difference(one, other, ("both",)) == pytest.approx(math.hypot(a, b, c - d))
    assert u_of_difference(one, other, ("both",)) <= u_of_difference(one, other, ()) + 1e-12


def test_the_density_cancels_only_within_one_lot():
    one, same, another = member("a", 262), member("b", 262), member("c", 262, lot="L-2")
    assert in_common(one, same) == (DENSITY, SCALE, GAUGE)
    assert in_common(one, another) == (SCALE, GAUGE)
    assert in_common(replace(one, sources={}), same) == ()


@pytest.mark.parametrize(
    ("apart_ml", "decision"),
    # Tolerance 1.5 mL, u = 0.1 * sqrt(2) mL, guard band 1.645 u = 0.233 mL.
    [(0.0, "pass"), (1.26, "pass"), (1.28, "undecided"), (1.72, "undecided"), (1.74, "fail")],
)
def test_a_spread_is_judged_with_its_guard_band(matched, apart_ml, decision):
    oil, charge, force = spreads([member("a", 262), member("b", 262 + apart_ml)], matched)
    assert oil.spread == pytest.approx(apart_ml * ML, abs=1e-12)
    assert oil.u == pytest.approx(0.1 * math.sqrt(2) * ML)
    assert oil.decision == decision
    assert charge.decision == "pass"
    assert (force.decision, force.tolerance) == ("", None), "not judged without a tolerance"


def test_only_a_unit_at_one_end_is_told_to_be_worked_again(matched):
    judged = spreads([member("a", 262), member("b", 264.5), member("c", 263)], matched)
    assert [s.what for s in not_matching(judged, "a")] == [OIL]
    assert [s.what for s in not_matching(judged, "b")] == [OIL]
    assert not_matching(judged, "c") == ()


def test_a_narrower_pair_with_another_lot_may_be_the_one_that_is_undecided(matched):
    far = spreads([member("a", 262), member("b", 263.25)], matched)[0]
    near = spreads([member("a", 262), member("b", 263.25), member("c", 263.2, lot="X")], matched)[0]
    assert far.decision == "pass"
    assert near.spread == far.spread
    assert near.decision == "undecided"


def test_one_unit_alone_has_no_spread(matched):
    assert spreads([member("a", 262), Member("b", "")], matched) == ()


def test_the_record_takes_the_set_as_json(matched):
    import rfc8785

    members = [member("a", 262), member("b", 263)]
    told = set_in_record("A-1", members, spreads(members, matched))
    assert rfc8785.dumps(plain(told))
    assert told.spreads[0].ends == ("a", "b")


def test_a_charge_at_the_reference_temperature_is_what_was_read():
    rest = {field.name: 0.0 for field in fields(RecordedCharge)}
    terms = {field.name: 0.0 for field in fields(ChargeTarget)}
    terms |= {
        "gas_volume_ref_m3": 90e-6,
        "reference_k": 293.15,
        "reference_ambient_pa": 101_325.0,
    }
    read = {
        "settled_gauge_pa": 15e5,
        "ambient_pa": 101_325.0,
        "bench_k": 293.15,
        "gas_volume_m3": 90e-6,
        "terms": ChargeTarget(**terms),
    }
    charge = RecordedCharge(**rest | read)
    assert charge_at_reference(charge) == pytest.approx(15e5, rel=1e-9)
    # Nearly ideal gas: p2/p1 = T2/T1 at one volume; nitrogen is within 0.3 % of it here.
    warm = charge_at_reference(replace(charge, bench_k=303.15))
    ideal = (15e5 + 101_325) * 293.15 / 303.15 - 101_325
    assert warm == pytest.approx(ideal, rel=3e-3)
    # A chamber that was 1 % smaller at the bench held 1 % less gas than it would seem.
    smaller = charge_at_reference(replace(charge, gas_volume_m3=89.1e-6))
    assert (smaller + 101_325) / (15e5 + 101_325) == pytest.approx(0.99, rel=1e-3)


def test_a_specification_takes_tolerances_in_any_unit_and_keeps_its_hash_without(spec):
    plain = spec.model_copy(update={"matching": None})
    assert "matching" not in plain.content()
    terms = {"oil": "1.5 mL", "charge": "0.3 bar", "push_force": "6 N"}
    made = specification_from({**plain.content(), "matching": terms})
    assert made.matching == Matching(oil=1.5e-6, charge=30_000.0, push_force=6.0)
    assert made.sha256() != plain.sha256()
    assert specification_from(made.content()) == made
