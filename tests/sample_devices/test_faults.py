"""Damage on a line: seeded, as often as asked, and hardly ever taken for a reading."""

import itertools

import pytest

from benchstation.devices.profile import load_profile
from benchstation.driver_api.reading import Fault, Reading
from sample_devices.bench_model import BenchModel
from sample_devices.faults import STEADY_MARKS, FaultRates, FaultyDevice
from sample_devices.scale import FRAMES, VirtualScale
from sample_devices.transducer import VirtualTransducer


class Counter:
    """Sends one numbered line a second."""

    def __init__(self):
        self.next = 0

    def output(self, t):
        sent = b""
        while self.next <= t:
            sent += b"line %04d\r\n" % self.next
            self.next += 1
        return sent

    def receive(self, data, t):
        return b"answer\r\n"


def sent(rates, frames=2000, seed=5, **words):
    faulty = FaultyDevice(Counter(), seed, rates, **words)
    return faulty, faulty.output(frames - 1)


def test_without_faults_nothing_changes():
    faulty, data = sent(FaultRates())
    assert data == Counter().output(1999)
    assert faulty.spoilt == 0
    assert faulty.receive(b"?", 0.0) == b"answer\r\n"


@pytest.mark.parametrize("kind", ["noise", "extra", "truncated", "merged", "lost"])
def test_each_fault_comes_as_often_as_asked(kind):
    faulty, data = sent(FaultRates(**{kind: 0.1}))
    assert faulty.spoilt == pytest.approx(200, abs=60)
    good = sum(line in data.split(b"\n") for line in Counter().output(1999).split(b"\n")[:-1])
    assert good < 2000


def test_the_same_seed_gives_the_same_damage():
    rates = FaultRates(0.1, 0.1, 0.1, 0.1, 0.1)
    assert sent(rates, seed=1)[1] == sent(rates, seed=1)[1]
    assert sent(rates, seed=1)[1] != sent(rates, seed=2)[1]


def test_merged_frames_run_into_each_other():
    _, data = sent(FaultRates(merged=1.0), frames=2)
    assert data == b"line 0000\rline 0001\r"


def test_truncated_frames_keep_their_end():
    _, data = sent(FaultRates(truncated=1.0), frames=50)
    lines = data.split(b"\n")[:-1]
    assert len(lines) == 50
    assert all(len(line) < len(b"line 0000\r") for line in lines)


def test_frozen_repeats_the_last_frame():
    faulty, _ = sent(FaultRates(), frames=3)
    faulty.frozen = True
    assert faulty.output(5.0) == b"line 0002\r\n" * 3
    faulty.frozen = False
    assert faulty.output(6.0) == b"line 0006\r\n"


@pytest.mark.parametrize("shape", FRAMES)
def test_a_motion_flag_that_never_shows(shape):
    """The oil is being poured and every frame says steady."""
    model = BenchModel(seed=3)
    model.put_on_pan("body")
    faulty = FaultyDevice(VirtualScale(model, shape), 1)
    driver = load_profile(shape).make_driver()
    ticks = itertools.count()

    def flags(seconds):
        found = []
        for tick in itertools.islice(ticks, int(seconds * 10)):
            data = faulty.output(tick * 0.1) + faulty.receive(b"W\r\n", tick * 0.1)
            found += [item.stable for item in driver.feed(data, 0.0) if isinstance(item, Reading)]
        return found

    assert flags(3.0)[-1] is True
    model.pour_opening = 1.0
    assert False in flags(2.0)
    faulty.stuck_steady = STEADY_MARKS[shape]
    stuck = flags(2.0)
    assert len(stuck) > 15
    assert False not in stuck


@pytest.mark.parametrize("shape", FRAMES)
def test_a_bad_line_gives_few_wrong_readings(shape):
    """The body on the pan is 900 g; a wrong digit can pass, so few, not none, and never a raise."""
    model = BenchModel(seed=1)
    model.put_on_pan("body")
    scale = VirtualScale(model, shape)
    faulty = FaultyDevice(scale, 7, FaultRates(0.1, 0.05, 0.1, 0.1, 0.05))
    driver = load_profile(shape).make_driver()
    items = []
    for step in range(3000):
        data = faulty.output(step * 0.1) + faulty.receive(b"W\r\n", 0.0)
        items += driver.feed(data, step * 0.1)
    readings = [item for item in items if isinstance(item, Reading)]
    faults = [item for item in items if isinstance(item, Fault)]
    wrong = [reading for reading in readings if abs(reading.value - 0.9) > 0.001]
    assert len(readings) > 1500
    assert len(faults) > 300
    assert len(wrong) < 0.02 * len(readings)


def test_a_checked_line_gives_no_wrong_reading():
    transducer = VirtualTransducer(BenchModel(seed=1), "pressure-registers", noise_pa=0.0)
    faulty = FaultyDevice(transducer, 7, FaultRates(0.1, 0.05, 0.1, 0.1, 0.05), end=b"\xff\xff")
    driver = load_profile("pressure-registers").make_driver()
    readings, faults = [], 0
    for step in range(3000):
        faulty.output(step * 0.1)
        items = driver.feed(faulty.receive(driver.poll(), step * 0.1), step * 0.1)
        readings += [item for item in items if isinstance(item, Reading)]
        faults += sum(isinstance(item, Fault) for item in items)
        if not items:
            driver.reset()
    assert {round(reading.value, 3) for reading in readings} == {0.0}
    assert len(readings) > 1500
    assert faults > 100
