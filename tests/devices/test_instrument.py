"""An instrument: calibrated values, health in NE 107's words, and a stream that says it broke."""

import time

import pytest

from benchstation.devices.instrument import Break, BreakKind, Instrument, Sample
from benchstation.devices.profile import Channel, load_profile
from benchstation.devices.reading_range import RANGE_MARGIN
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.reading import Fault, FaultKind, Health, Reading, Reply
from benchstation.link.statistics import LinkState
from benchstation.metrology.calibration import LinearCalibration
from sample_devices.bench_model import BenchModel
from sample_devices.protocol_bench import BenchPort
from sample_devices.scale import VirtualScale
from sample_devices.transducer import VirtualTransducer
from tests.waiting import eventually

CALIBRATION = LinearCalibration(gain=1.0002, offset=-0.0001)


def instrument(profile="scale-status-first", clock=time.perf_counter):
    made = Instrument("scale", "Scale 1", load_profile(profile), CALIBRATION, clock=clock)
    made.told = []
    made.taps.append(made.told.append)
    return made


def reading(value=0.5, at=0.0, unit="g", stable=True):
    return Reading("mass", value, at, unit, b"raw", stable, 1e-5, True)


def fault(kind, at=0.0):
    return Fault(kind, at, b"raw", "why")


# --- readings ------------------------------------------------------------------------------------


def test_the_calibration_is_applied():
    made = instrument()
    made.ingest(reading(0.5, at=3.0))
    expected = Sample(pytest.approx(0.5 * 1.0002 - 0.0001), 3.0, True, 1e-5, "g", b"raw", True)
    assert made.latest() == expected
    assert made.drain() == [expected]
    assert made.drain() == []
    assert made.told == [expected]


def test_a_reply_is_no_reading():
    made = instrument()
    made.ingest(Reply("tare", True, 0.0, b"T S"))
    assert made.latest() is None
    assert made.told == []


@pytest.mark.parametrize("kind", FaultKind)
def test_a_fault_is_never_a_value(kind):
    made = instrument()
    made.ingest(fault(kind))
    assert made.latest() is None
    assert made.drain() == []
    assert made.told == [fault(kind)]


@pytest.mark.parametrize(
    ("profile", "shown", "kind"),
    [
        ("scale-status-first", 100.0, FaultKind.OVER_RANGE),  # its high end is 6.2 kg
        ("scale-status-first", -7.0, FaultKind.UNDER_RANGE),
        ("pressure-registers", 6e36, FaultKind.OVER_RANGE),  # a wrong word order
        ("pressure-registers", -3e5, FaultKind.UNDER_RANGE),
        ("pressure-registers", float("nan"), FaultKind.DEVICE_ERROR),
        ("pressure-registers", float("inf"), FaultKind.OVER_RANGE),
    ],
)
def test_what_the_device_cannot_show_is_a_fault_and_never_a_value(profile, shown, kind):
    made = instrument(profile)
    made.ingest(reading(0.0, at=0.0, unit="x"))
    made.ingest(reading(shown, at=0.1, unit="x"))
    assert [sample.value for sample in made.drain()] == [pytest.approx(-0.0001)]
    assert made.told[-1].kind is kind
    assert made.health(0.1).category is Health.FAILURE


@pytest.mark.parametrize(
    ("kind", "shown", "what"),
    [
        ("pressure", 6.4e32, FaultKind.OVER_RANGE),
        ("pressure", -2e5, FaultKind.UNDER_RANGE),
        ("temperature", -1.0, FaultKind.UNDER_RANGE),
        ("humidity", 1.2, FaultKind.OVER_RANGE),
    ],
)
def test_a_profile_without_a_range_shows_nothing_that_cannot_be(kind, shown, what):
    open_ended = load_profile("pressure-registers").model_copy(
        update={"kind": kind, "channel": Channel(reference="gauge")}
    )
    made = Instrument("gauge", "G", open_ended, LinearCalibration(1.0, 0.0), clock=lambda: 0.0)
    told = []
    made.taps.append(told.append)
    made.ingest(Reading(kind, shown, 0.0, "x", b""))
    assert (made.latest(), told[0].kind) == (None, what)
    assert "no instrument of its kind can show" in told[0].detail
    made.ingest(Reading(kind, 0.5, 0.0, "x", b""))
    assert made.latest() is not None


@pytest.mark.parametrize(
    ("profile", "shown"),
    [("scale-status-first", -6.0), ("scale-status-first", 6.3), ("pressure-registers", 41e5)],
)
def test_what_lies_within_the_margin_or_was_tared_is_a_value(profile, shown):
    made = instrument(profile)
    made.ingest(reading(shown))
    assert made.latest() is not None


def test_the_margin_is_what_a_current_loop_may_exceed():
    # NAMUR NE 43: 20.5 mA is the end of the measuring information of 4 to 20 mA (see hmi.csv).
    assert pytest.approx((20.5 - 4) / 16 - 1) == RANGE_MARGIN


def test_the_queue_is_bounded():
    made = instrument()
    for count in range(20_100):
        made.ingest(reading(at=count * 0.1))
    assert len(made.drain()) == 20_000


# --- what breaks a stream ------------------------------------------------------------------------


def test_a_change_of_unit_breaks_the_stream():
    made = instrument()
    made.ingest(reading(unit="g"))
    assert made.take_break() is None
    made.ingest(reading(unit="lb"))
    assert made.take_break() == Break(BreakKind.UNIT_CHANGED, before="g", after="lb")
    assert made.take_break() is None


@pytest.mark.parametrize(
    "kind",
    [
        FaultKind.OVER_RANGE,
        FaultKind.UNDER_RANGE,
        FaultKind.DEVICE_ERROR,
        FaultKind.UNKNOWN_UNIT,
        FaultKind.NO_ANSWER,
    ],
)
def test_what_the_device_reports_breaks_the_stream(kind):
    made = instrument()
    made.ingest(reading())
    made.ingest(fault(kind))
    made.ingest(reading())
    assert made.take_break() == Break(BreakKind.FAULT, fault=kind)


@pytest.mark.parametrize("kind", [FaultKind.BAD_FRAME, FaultKind.BAD_CHECKSUM])
def test_one_spoilt_frame_breaks_nothing(kind):
    made = instrument()
    made.ingest(reading())
    made.ingest(fault(kind))
    assert made.take_break() is None


# --- health --------------------------------------------------------------------------------------


def test_good():
    made = instrument()
    made.ingest(reading(at=10.0))
    assert made.health(10.1).category is Health.GOOD


def test_no_reading_yet_is_a_failure():
    report = instrument().health(0.0)
    assert (report.category, report.reason) == (Health.FAILURE, "no reading yet")
    assert report.advice


def test_stale_after_three_intervals():
    """10 Hz, but never sooner than a tenth of a second would show as jitter of the system."""
    made = instrument()
    assert made.stale_after_s == pytest.approx(0.35)
    made.ingest(reading(at=10.0))
    assert made.health(10.34).category is Health.GOOD
    report = made.health(10.5)
    assert report.category is Health.FAILURE
    assert "no reading for 0.5 s" in report.reason


def test_a_slow_device_is_stale_later():
    profile = load_profile("scale-status-first")
    slow = profile.model_copy(update={"rate": profile.rate.model_copy(update={"expected_hz": 1.0})})
    made = Instrument("scale", "Slow", slow, CALIBRATION, clock=time.perf_counter)
    made.ingest(reading(at=10.0))
    assert made.health(12.9).category is Health.GOOD
    assert made.health(13.1).category is Health.FAILURE


@pytest.mark.parametrize("kind", [FaultKind.OVER_RANGE, FaultKind.DEVICE_ERROR])
def test_what_the_device_reports_is_its_health(kind):
    made = instrument()
    made.ingest(reading(at=10.0))
    made.ingest(fault(kind, at=10.1))
    assert made.health(10.2).category is Health.FAILURE
    assert made.health(10.2).reason == str(kind)
    made.ingest(reading(at=10.3))
    assert made.health(10.3).category is Health.GOOD


def test_an_overload_that_lasts_is_not_worded_as_a_loose_cable():
    made = instrument()
    made.ingest(fault(FaultKind.OVER_RANGE, at=0.0))
    assert made.health(0.1).reason == "over range"
    made.ingest(reading(at=1.0))
    for at in (2.0, 3.0, 4.0):
        made.ingest(fault(FaultKind.OVER_RANGE, at=at))
    assert made.health(4.1).reason == "over range"
    assert "no reading for 8.0 s" in made.health(9.0).reason


def test_many_spoilt_frames_are_out_of_specification():
    made = instrument()
    for count in range(50):
        bad = count % 4 == 0
        made.ingest(fault(FaultKind.BAD_FRAME, 1.0) if bad else reading(at=1.0))
    report = made.health(1.0)
    assert report.category is Health.OUT_OF_SPECIFICATION
    assert "13 of the last 50 frames" in report.reason


def test_a_few_spoilt_frames_are_good_enough():
    made = instrument()
    for count in range(50):
        bad = count % 10 == 0
        made.ingest(fault(FaultKind.BAD_FRAME, 1.0) if bad else reading(at=1.0))
    assert made.health(1.0).category is Health.GOOD


def test_a_silence_breaks_the_stream():
    """A plug pulled behind the adapter, a device that starts anew: the port says nothing of it."""
    made = instrument()
    gap = made.silent_after_s
    made.ingest(reading(at=1.0))
    made.ingest(reading(at=1.0 + 0.9 * gap))
    assert made.take_break() is None
    made.ingest(reading(at=1.0 + 2.0 * gap))
    assert made.take_break().kind is BreakKind.NO_READING
    assert made.take_break() is None


# --- on a line -----------------------------------------------------------------------------------


@pytest.fixture
def bench():
    """A scale with the body on it and a gauge on the unit, each behind its URL."""
    model = BenchModel(seed=1)
    model.put_on_pan("body")
    ports = {
        "scale": BenchPort("i-scale", VirtualScale(model), time.perf_counter),
        "gauge": BenchPort(
            "i-gauge",
            VirtualTransducer(model, "pressure-registers", rate_hz=20.0),
            time.perf_counter,
        ),
    }
    yield ports
    for port in ports.values():
        port.close()


@pytest.fixture
def connected(bench):
    made = []

    def connect(role, profile):
        made.append(instrument(profile))
        made[-1].connect(bench[role].url)
        return made[-1]

    yield connect
    for one in made:
        one.stop()


def test_a_scale_on_a_line(bench, connected):
    made = connected("scale", "scale-status-first")
    eventually(lambda: made.latest() is not None)
    assert made.latest().value == pytest.approx(0.9 * 1.0002 - 0.0001, abs=1e-3)
    assert made.link_state is LinkState.LIVE
    assert made.health(time.perf_counter()).category is Health.GOOD
    assert made.statistics.readings > 0
    bench["scale"].unplug()
    eventually(lambda: made.link_state is LinkState.LOST)
    report = made.health(time.perf_counter())
    assert report.category is Health.FAILURE, "at once, not only when the reading has aged"
    assert "there is no such port" in report.reason or "the line was lost" in report.reason
    assert made.take_break()
    with pytest.raises(StationError, match="nothing was sent"):
        made.tare()
    bench["scale"].replug()
    eventually(lambda: made.health(time.perf_counter()).category is Health.GOOD)


def test_a_tare_reaches_the_scale(bench, connected):
    made = connected("scale", "scale-status-first")
    eventually(lambda: made.latest() is not None and made.latest().stable)
    made.tare()
    eventually(lambda: abs(made.latest().value) < 0.001)


def test_a_gauge_that_is_asked(connected):
    made = connected("gauge", "pressure-registers")
    eventually(lambda: len(made.told) > 10)
    assert made.health(time.perf_counter()).category is Health.GOOD
    with pytest.raises(StationError, match="no command 'tare'"):
        made.tare()


def test_a_reader_that_failed_is_a_failure(connected):
    def fail(_):
        raise ZeroDivisionError("a mistake of ours")

    made = connected("scale", "scale-status-first")
    made.taps.append(fail)
    eventually(lambda: made.link_state is LinkState.FAILED)
    eventually(lambda: "a mistake of ours" in made.link_words)
    report = made.health(time.perf_counter())
    assert (report.category, report.reason) == (Health.FAILURE, made.link_words)
    assert "Connect it again" in report.advice


def test_without_a_line_nothing_can_be_sent():
    with pytest.raises(StationError, match="'zero' cannot be sent"):
        instrument().zero()
    instrument().stop()


def test_a_stepped_device_takes_commands():
    made, sent = instrument(), []
    made.attach(sent.append)
    made.tare()
    made.zero()
    assert sent == ["tare", "zero"]


def test_samples_that_nobody_takes_are_counted(monkeypatch):
    monkeypatch.setattr("benchstation.devices.instrument.QUEUE", 5)
    made = instrument()
    for step in range(12):
        made.ingest(reading(at=float(step)))
    assert made.statistics.dropped == 7
    assert [sample.at for sample in made.drain()] == [7.0, 8.0, 9.0, 10.0, 11.0]
    made.ingest(reading(at=12.0))
    assert made.statistics.dropped == 7


@pytest.mark.parametrize("jump_s", [3600.0, -3600.0])
def test_after_a_jump_of_the_clock_the_old_reading_no_longer_counts(jump_s):
    """A suspended machine, a clock set back: the next reading makes it good again."""
    made = instrument()
    made.ingest(reading(at=5000.0))
    assert made.health(5000.1).category is Health.GOOD
    assert made.health(5000.1 + jump_s).category is Health.FAILURE
    made.ingest(reading(at=5000.2 + jump_s))
    assert made.health(5000.2 + jump_s).category is Health.GOOD
