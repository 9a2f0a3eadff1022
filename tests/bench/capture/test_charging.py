"""The charge step: falling is not settled, a disturbed hold proves nothing, a leak is seen."""

from dataclasses import replace

import numpy as np
import pytest

from benchstation.bench.capture.charging import ChargePhase, Charging
from benchstation.devices.instrument import Sample
from benchstation.domain.specification import StepKind
from benchstation.physics.leak import STEADY

TARGET = 15e5
TAU, DROP = 6.0, 2e5


def sample(at: float, value: float) -> Sample:
    return Sample(value, at, None, 100.0, "bar", b"+015.000 bar")


def filled(noise: float = 100.0, seconds: float = 60.0, leak_pa_s: float = 0.0) -> Charging:
    """A fast fill that ends at 5 s and cools on the wall."""
    chance = np.random.default_rng(3)
    charging = Charging(TARGET, 150.0)
    for n in range(int((5 + seconds) * 10)):
        t = n / 10
        pressure = (TARGET + DROP) * t / 5 if t < 5 else TARGET + DROP * np.exp(-(t - 5) / TAU)
        pressure -= leak_pa_s * max(0.0, t - 5)
        charging.take(sample(t, pressure + chance.normal(0, noise)))
    return charging


def test_nothing_let_in_yet():
    charging = Charging(TARGET, 150.0)
    for n in range(50):
        charging.take(sample(n / 10, 0.0))
    assert charging.phase(5.0) is ChargePhase.FILLING
    assert charging.settled(5.0) is None


def test_a_vent_is_told_from_a_fill_that_cools():
    fill, vent = Charging(TARGET, 150.0), Charging(TARGET, 150.0)
    for n in range(100):
        fill.take(sample(n / 10, min(14e5, 4e5 * n / 10) - max(0.0, n / 10 - 4) * 2e3))
        vent.take(sample(n / 10, max(14e5, 18e5 - 4e5 * n / 10)))
    assert fill.filled_last
    assert not vent.filled_last


def test_a_falling_charge_is_not_settled():
    charging = filled(seconds=10)
    assert charging.phase(15.0) is ChargePhase.SETTLING
    assert charging.settled(15.0) is None


def test_where_it_will_settle_is_told_before_it_has():
    charging = filled(seconds=26)
    assert charging.phase(31.0) is ChargePhase.SETTLING
    fit = charging.settling(31.0)
    assert fit.certain
    assert fit.final_pa == pytest.approx(TARGET, abs=3000)
    assert abs(fit.final_pa - TARGET) < 4 * fit.u_final_pa + 200


def test_a_settled_charge_is_given_with_its_uncertainty():
    charging = filled(seconds=60)
    settled = charging.settled(65.0)
    assert settled.settled_gauge_pa == pytest.approx(TARGET, abs=200)
    assert settled.gauge_pa == pytest.approx(TARGET, abs=200)
    assert 0 < settled.u_settled_pa < 500


def test_a_valve_moved_slowly_is_noticed_by_the_bend_it_leaves():
    charging = filled(seconds=30)
    chance = np.random.default_rng(5)
    for n in range(1, 600):
        t = 35 + n / 10
        # Vented by half a bar over eight seconds: slower than any threshold of the valve.
        pressure = TARGET - min(n / 80, 1.0) * 0.5e5
        charging.take(sample(t, pressure + chance.normal(0, 100)))
        if 1.0 < n / 10 < 8.0:
            assert charging.settled(t) is None, "it still moves"
        charging.settling(t)
    settled = charging.settled(95.0)
    assert settled.settled_gauge_pa == pytest.approx(TARGET - 0.5e5, abs=500)


def hold(cooled_s: float, leak_pa_s: float, seconds: float = 30.0):
    """The hold test of a unit that leaks, if it does, since it was filled."""
    charging, now = filled(seconds=cooled_s, leak_pa_s=leak_pa_s), 5.0 + cooled_s
    assert leak_pa_s or charging.phase(now) is ChargePhase.SETTLED
    charging.begin_hold(seconds)
    chance = np.random.default_rng(4)
    for n in range(1, int(seconds * 10) + 3):
        t = now + n / 10
        pressure = TARGET + DROP * np.exp(-(t - 5) / TAU) - leak_pa_s * (t - 5)
        charging.take(sample(t, pressure + chance.normal(0, 100)))
    return charging.finish_hold(1e-4, STEADY)


def test_a_tight_unit_shows_no_leak():
    leak = hold(60.0, 0.0)
    assert abs(leak.rate_pa_m3_s) < 2 * leak.u_pa_m3_s + 1e-5
    assert leak.duration_s == pytest.approx(90.0, abs=0.3), "since the valve was closed"


@pytest.mark.parametrize("cooled_s", [35.0, 60.0])
def test_a_leak_is_seen_also_beside_the_cooling(cooled_s):
    """A leak that was there all along is not taken for the end of the cooling."""
    leak = hold(cooled_s, 60.0)
    assert abs(leak.rate_pa_m3_s - 60.0 * 1e-4) < 3 * leak.u_pa_m3_s
    assert leak.u_pa_m3_s < 1e-4


def test_digits_that_hide_their_noise_stand_in_the_uncertainty():
    """Steps of 0.1 bar over 60 s: 10 kPa / sqrt(6) / 60 s * 1e-4 m3."""
    charging = Charging(TARGET, 150.0)
    for n in range(600):
        charging.take(replace(sample(n / 10, TARGET), resolution=1e4))
    charging.begin_hold(0.0)
    leak = charging.finish_hold(1e-4, STEADY)
    assert leak.rate_pa_m3_s == pytest.approx(0.0, abs=1e-9)
    assert leak.u_pa_m3_s == pytest.approx(1e4 / 6**0.5 / 60 * 1e-4, rel=0.01)


def test_a_disturbed_hold_ends_without_a_result():
    charging = filled()
    charging.phase(65.0)
    charging.begin_hold(30.0)
    for n in range(1, 20):
        charging.take(sample(65 + n / 10, TARGET + n * 1e5))
    assert not charging.holding
    assert charging.finish_hold(1e-4, STEADY) is None


def test_what_cannot_be_told_yet_is_not_captured_during_a_hold_either():
    charging = filled(seconds=1.5)
    assert not charging.settling(6.5).certain
    charging.begin_hold(30.0)
    assert charging.phase(6.5) is ChargePhase.HOLDING
    assert charging.settled(6.5) is None


def test_gas_that_is_in_the_unit_already_is_a_charge():
    """After a restart no valve is at work: the charge must not have to be let in once more."""
    charging, chance = Charging(TARGET, 150.0), np.random.default_rng(6)
    for n in range(600):
        charging.take(sample(n / 10, TARGET + chance.normal(0, 100)))
    assert charging.phase(60.0) is ChargePhase.SETTLED
    assert charging.settled(60.0).settled_gauge_pa == pytest.approx(TARGET, abs=200)


def test_a_gap_in_the_stream_ends_a_hold(bench):
    bench.work_to(StepKind.CHARGE)
    technician = bench.technician()
    steps = technician.charge(bench.session.rebuild.current)
    while not bench.session.work.hold_wanted:
        next(steps)
        bench.run(0.1)
    bench.run(3)
    bench.session.gauge.instrument.report_broken("the line was lost")
    bench.run(0.3)
    assert not bench.session.work.hold_wanted
    assert "without a result" in bench.session.message.text
    assert bench.session.rebuild.hold is None


def test_a_leaking_unit_fails_its_hold_and_is_not_signed(bench):
    bench.work_to(StepKind.CHARGE)
    object.__setattr__(bench.world.model.setup, "leak_m3_s", 0.02)
    technician = bench.technician()
    steps = technician.charge(bench.session.rebuild.current)
    while bench.session.rebuild.hold is None:
        next(steps)
        bench.run(0.1)
    assert bench.session.rebuild.hold.decision == "fail"
    assert "find the leak, charge again" in bench.session.message.text
    assert bench.session.rebuild.hold.leak_pa_m3_s == pytest.approx(0.02, rel=0.3)
    assert bench.session.rebuild.current.kind is StepKind.CHARGE
