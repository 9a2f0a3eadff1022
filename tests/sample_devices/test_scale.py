"""The virtual scale: steps, noise, filter, motion flag, tare, zero, overload, in every shape."""

import statistics

import pytest

from benchstation.devices.profile import load_profile
from benchstation.driver_api.reading import FaultKind, Reading, Reply
from sample_devices.bench_model import BenchModel
from sample_devices.scale import FRAMES, POUNDS, VirtualScale


class Weighed:
    """A scale with a body on its pan, and what a driver makes of its bytes."""

    def __init__(self, shape="scale-status-first", **words):
        self.model = BenchModel(seed=4)
        self.model.put_on_pan("body")
        self.scale = VirtualScale(self.model, shape, **words)
        self.driver = load_profile(shape).make_driver()
        self.ticks = 0

    def items(self, seconds, send=b""):
        found = []
        for _ in range(round(seconds / self.scale.interval_s)):
            t = self.ticks * self.scale.interval_s
            data = self.scale.output(t)
            if send:
                data += self.scale.receive(send, t)
                send = b""
            if not self.scale.streams:
                data += self.scale.receive(self.driver.poll(), t)
            found += self.driver.feed(data, t)
            self.ticks += 1
        return found

    def readings(self, seconds):
        return [item for item in self.items(seconds) if isinstance(item, Reading)]


@pytest.mark.parametrize("shape", FRAMES)
def test_every_frame_is_read_by_its_driver(shape):
    weighed = Weighed(shape)
    items = weighed.items(2.0)
    weighed.model.pour_opening = 0.6
    items += weighed.items(5.0)
    weighed.model.pour_opening = 0.0
    items += weighed.items(5.0)
    readings = [item for item in items if isinstance(item, Reading)]
    # The one shape that has not shown its unit yet while it still moves at the start.
    faults = [item for item in items if not isinstance(item, Reading)]
    assert {item.kind for item in faults} <= {FaultKind.UNKNOWN_UNIT}
    assert len(faults) == (2 if shape == "scale-unit-when-stable" else 0)
    assert len(items) == 120
    assert readings[-1].value == pytest.approx(weighed.model.pan_load_kg(), abs=1e-4)


@pytest.mark.parametrize("shape", FRAMES)
def test_tare_and_zero(shape):
    weighed = Weighed(shape)
    weighed.items(2.0)
    replies = [i for i in weighed.items(1.0, b"T\r\n") if isinstance(i, Reply)]
    assert [(r.command, r.accepted) for r in replies] == (
        [] if weighed.scale.streams else [("tare", True)]
    )
    assert weighed.readings(1.0)[-1].value == pytest.approx(0.0, abs=1e-4)
    weighed.model.oil_kg = 0.1
    poured = weighed.readings(3.0)[-1].value
    assert poured == pytest.approx(weighed.model.pan_load_kg() - 0.9, abs=1e-4)
    weighed.items(0.2, b"Z\r\n")
    assert weighed.readings(1.0)[-1].value == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("shape", FRAMES)
def test_a_tare_while_moving_is_refused(shape):
    weighed = Weighed(shape)
    weighed.items(2.0)
    weighed.model.pour_opening = 1.0
    weighed.items(1.0)
    replies = [i for i in weighed.items(0.5, b"T\r\n") if isinstance(i, Reply)]
    assert all(not reply.accepted for reply in replies)
    assert weighed.scale.shown_kg > 0.9


@pytest.mark.parametrize("shape", FRAMES)
def test_overload_is_no_value(shape):
    weighed = Weighed(shape, capacity_kg=0.5)
    items = weighed.items(3.0)[-5:]
    assert {item.kind for item in items} == {FaultKind.OVER_RANGE}


def test_the_motion_flag_follows_the_pour():
    weighed = Weighed()
    weighed.items(1.0)
    assert all(reading.stable for reading in weighed.readings(2.0))
    weighed.model.pour_opening = 0.3
    assert not any(reading.stable for reading in weighed.readings(3.0)[5:])
    weighed.model.pour_opening = 0.0
    weighed.readings(2.0)
    assert all(reading.stable for reading in weighed.readings(2.0))


def test_the_display_filter_lags():
    """A step through a first-order filter of 0.5 s has 63 % of its height after 0.5 s."""
    weighed = Weighed(filter_s=0.5, noise_kg=0.0)
    weighed.items(1.0)
    weighed.model.oil_kg = 0.1
    rise = weighed.readings(0.5)[-1].value - 0.9
    assert rise / (weighed.model.pan_load_kg() - 0.9) == pytest.approx(0.632, abs=0.01)


@pytest.mark.parametrize("step_kg", [1e-5, 1e-4, 1e-3])
def test_readings_are_whole_steps(step_kg):
    weighed = Weighed(resolution_kg=step_kg, noise_kg=step_kg)
    readings = weighed.readings(5.0)
    steps = [reading.value / step_kg for reading in readings]
    assert steps == pytest.approx([round(step) for step in steps], abs=1e-6)
    assert [reading.resolution for reading in readings] == pytest.approx([step_kg] * len(steps))
    assert len({round(step) for step in steps}) > 1


def test_noise_is_as_large_as_asked():
    """A first-order filter fed with noise after it holds s / sqrt(1 - share of the old)**2)."""
    weighed = Weighed(noise_kg=1e-4, resolution_kg=1e-6)
    weighed.items(2.0)
    spread = statistics.stdev(reading.value for reading in weighed.readings(200.0))
    assert spread == pytest.approx(1.16e-4, rel=0.15)


def test_a_frozen_scale_repeats_itself():
    weighed = Weighed()
    weighed.items(2.0)
    weighed.scale.frozen = True
    weighed.model.pour_opening = 1.0
    frames = {item.raw for item in weighed.items(3.0)}
    assert len(frames) == 1


def test_pounds():
    weighed = Weighed()
    weighed.scale.unit = "lb"
    reading = weighed.readings(2.0)[-1]
    assert reading.unit == "lb"
    assert reading.value == pytest.approx(0.9, abs=1e-4)
    assert pytest.approx(0.45359237) == POUNDS


def test_frames_come_at_their_rate_however_it_is_asked():
    weighed = Weighed(rate_hz=20.0)
    weighed.scale.output(0.0)
    assert weighed.scale.output(1.01).count(b"\r\n") == 20
    assert weighed.scale.output(1.01) == b""


def test_an_unknown_shape_is_refused():
    with pytest.raises(ValueError, match="banana"):
        VirtualScale(BenchModel(), "banana")


def test_noise_on_the_line_is_no_command():
    weighed = Weighed("scale-request-reply")
    weighed.items(1.0)
    assert weighed.scale.receive(b"\xff" * 1000 + b"\r\nQ\r\n", 1.0) == b""
    assert weighed.scale.receive(b"W\r", 1.0) == b""
    assert weighed.scale.receive(b"\n", 1.0).startswith(b"W ")
