"""The release of the gas: the gauge must have seen this unit, and else a person gives two words."""

import pytest

from benchstation.domain.events import GasFell, GasFound, StepSigned
from benchstation.domain.gas_release import before_joining_gauge_pa, gas_seen
from benchstation.domain.inputs.given import GaugeNow
from benchstation.domain.inputs.zero import ZeroRead, unseen_fields
from benchstation.domain.rebuild import fold
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import BenchNow, sign_step
from benchstation.domain.surroundings import Surroundings
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import evidence_in_words

TICKED = {"confirm1": "yes"}
UNSEEN = dict.fromkeys(unseen_fields("zero1"), "yes")
FOUND = GasFound("u1", "intake", "gauge-1", "", False, 13.2e5, 13.9e5, 1.0e-4, 5e-6)
FELL = GasFell("u1", "release", "gauge-1", 13.2e5, 100.0, 1e4, 4.0, "00" * 32)
INTAKE = StepSigned("u1", "intake")


def sign(state, fields, gauge_pa=100.0, instrument="gauge-1"):
    gauge = GaugeNow(gauge_pa, instrument, "", gas_seen(state, instrument))
    (signed,) = sign_step(state, fields, BenchNow(gauge=gauge))
    return signed


def zero_of(signed) -> ZeroRead:
    (zero,) = [result for result in signed.evidence if isinstance(result, ZeroRead)]
    return zero


@pytest.fixture
def at(spec, fact, opened):
    def state(*events):
        return fold([fact(opened), *map(fact, events)], spec)

    return state


@pytest.mark.parametrize("gauge", [None, 0.11e5, -0.2e5, 4e5])
def test_the_unit_may_not_be_opened_before_release_is_proven(at, gauge):
    with pytest.raises(NotAllowedError):
        sign(at(INTAKE, FOUND, FELL), {**TICKED, **UNSEEN}, gauge)


def test_gas_that_was_seen_to_fall_is_released_with_the_pressure_as_found(at):
    signed = sign(at(INTAKE, FOUND, FELL), TICKED)
    zero = zero_of(signed)
    assert zero.seen is True
    assert zero.found_gauge_pa == 13.9e5
    assert zero.trace_sha256 == FELL.trace_sha256
    said = evidence_in_words(signed.evidence, METRIC)
    assert "as found 13.90 bar gauge, seen to fall, 0.00 bar gauge" in said


def test_the_rod_is_confirmed_all_the_same(at):
    with pytest.raises(NotAllowedError, match="stays in"):
        sign(at(INTAKE, FOUND, FELL), {})


@pytest.mark.parametrize("seen", [(), (FOUND,)])
@pytest.mark.parametrize("said", [{}, {"zero1_rod": "yes"}, {"zero1_screw": "yes"}])
def test_a_gauge_that_saw_nothing_fall_takes_two_words(at, seen, said):
    with pytest.raises(NotAllowedError, match="did not see"):
        sign(at(INTAKE, *seen), {**TICKED, **said})


def test_two_words_are_on_record_as_not_seen(at):
    signed = sign(at(INTAKE), {**TICKED, **UNSEEN})
    assert zero_of(signed).seen is False
    assert "not seen by the gauge" in evidence_in_words(signed.evidence, METRIC)


def test_what_another_gauge_saw_is_no_proof(at):
    with pytest.raises(NotAllowedError, match="did not see"):
        sign(at(INTAKE, FOUND, FELL), TICKED, instrument="gauge-2")


def test_the_pressure_as_found_is_that_before_the_fill_tool_took_its_share(spec):
    air = Surroundings(294.55, 100_900.0)
    before, volume = before_joining_gauge_pa(spec, 13.2e5, 5e-6, air)
    # Boyle: p V of the unit becomes p (V + V_dead), the tool having stood at ambient pressure.
    assert before == pytest.approx(13.2e5 * (volume + 5e-6) / volume, rel=2e-3)
    assert before_joining_gauge_pa(spec, 13.2e5, 0.0, air)[0] == pytest.approx(13.2e5)
