"""The release of the gas: the gauge must have seen this unit, and else a person gives two words."""

import pytest

from benchstation.domain import gas_release
from benchstation.domain.events import GasFell, GasFound, GasNotSeen, StepSigned
from benchstation.domain.rebuild import fold
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.weigh_in import Surroundings

TICKED = {"confirm1": "yes"}
UNSEEN = dict.fromkeys(gas_release.UNSEEN, "yes")
FOUND = GasFound("u1", "intake", "gauge-1", "", False, 13.2e5, 13.9e5, 1.0e-4, 5e-6)
FELL = GasFell("u1", "release", "gauge-1", 13.2e5, 100.0, 1e4, 4.0, "00" * 32)
RELEASE = StepSigned("u1", "intake", "done")


@pytest.fixture
def at(spec, fact, opened):
    def state(*events):
        return fold([fact(opened), *map(fact, events)], spec)

    return state


@pytest.mark.parametrize("gauge", [None, 0.11e5, -0.2e5, 4e5])
def test_the_unit_may_not_be_opened_before_release_is_proven(at, gauge):
    state = at(RELEASE, FOUND, FELL)
    with pytest.raises(NotAllowedError):
        gas_release.sign_release(state, {**TICKED, **UNSEEN}, gauge, "gauge-1")


def test_gas_that_was_seen_to_fall_is_released_with_the_pressure_as_found(at):
    (signed,) = gas_release.sign_release(at(RELEASE, FOUND, FELL), TICKED, 100.0, "gauge-1")
    assert signed.summary.startswith("13.90 bar gauge as found, seen to fall; 0.00 bar gauge")


def test_the_rod_is_confirmed_all_the_same(at):
    with pytest.raises(NotAllowedError, match="stays in"):
        gas_release.sign_release(at(RELEASE, FOUND, FELL), {}, 100.0, "gauge-1")


@pytest.mark.parametrize("seen", [(), (FOUND,)])
@pytest.mark.parametrize("said", [{}, {"unseen_rod": "yes"}, {"unseen_screw": "yes"}])
def test_a_gauge_that_saw_nothing_fall_takes_two_words(at, seen, said):
    with pytest.raises(NotAllowedError, match="did not see"):
        gas_release.sign_release(at(RELEASE, *seen), {**TICKED, **said}, 0.0, "gauge-1")


def test_two_words_are_on_record_as_not_seen(at):
    unseen, signed = gas_release.sign_release(at(RELEASE), {**TICKED, **UNSEEN}, 0.0, "gauge-1")
    assert unseen == GasNotSeen("u1", "release", "gauge-1", came_with_gas=False)
    assert gas_release.NOT_SEEN in signed.summary


def test_what_another_gauge_saw_is_no_proof(at):
    with pytest.raises(NotAllowedError, match="did not see"):
        gas_release.sign_release(at(RELEASE, FOUND, FELL), TICKED, 0.0, "gauge-2")


def test_a_step_out_of_turn_is_refused(at):
    with pytest.raises(NotAllowedError, match="stands at 'Intake'"):
        gas_release.sign_release(at(), TICKED, 0.0, "gauge-1")


def test_the_pressure_as_found_is_that_before_the_fill_tool_took_its_share(spec):
    air = Surroundings(294.55, 100_900.0)
    before, volume = gas_release.before_joining_gauge_pa(spec, 13.2e5, 5e-6, air)
    # Boyle: p V of the unit becomes p (V + V_dead), the tool having stood at ambient pressure.
    assert before == pytest.approx(13.2e5 * (volume + 5e-6) / volume, rel=2e-3)
    assert gas_release.before_joining_gauge_pa(spec, 13.2e5, 0.0, air)[0] == pytest.approx(13.2e5)
