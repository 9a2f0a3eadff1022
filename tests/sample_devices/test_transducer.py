"""The virtual gauge: noise, steps, range, faults, in text and in registers."""

import statistics
import struct

import pytest

from benchstation.devices.profile import load_profile
from benchstation.driver_api.reading import FaultKind, Reading
from sample_devices.bench_model import BenchModel
from sample_devices.transducer import SHAPES, VirtualTransducer, modbus_crc
from tests.reference_rows import rows


class Measured:
    """A gauge on a charged unit, and what a driver makes of its bytes."""

    def __init__(self, shape, gauge_pa=15e5, **words):
        self.model = BenchModel(seed=2)
        self.model.bring_in(
            free_volume_m3=365e-6, rho_oil_kg_m3=847.3, oil_kg=0.2, gauge_pa=gauge_pa
        )
        self.gauge = VirtualTransducer(self.model, shape, **words)
        self.driver = load_profile(shape).make_driver()
        self.t = 0.0

    def items(self, count=10):
        found = []
        for _ in range(count):
            data = self.gauge.output(self.t)
            if not self.gauge.streams:
                data = self.gauge.receive(self.driver.poll(), self.t)
            found += self.driver.feed(data, self.t)
            self.t += self.gauge.interval_s
        return found


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("gauge_pa", [15e5, 0.0, -0.3e5])
def test_what_is_there_is_what_is_read(shape, gauge_pa):
    items = Measured(shape, gauge_pa).items()
    assert len(items) == 10
    assert all(isinstance(item, Reading) for item in items)
    assert statistics.fmean(item.value for item in items) == pytest.approx(gauge_pa, abs=300.0)


@pytest.mark.parametrize("shape", SHAPES)
def test_noise_and_offset_are_as_asked(shape):
    values = [i.value for i in Measured(shape, noise_pa=2000.0, offset_pa=5000.0).items(400)]
    assert statistics.fmean(values) == pytest.approx(15.05e5, abs=400.0)
    assert statistics.stdev(values) == pytest.approx(2000.0, rel=0.15)


@pytest.mark.parametrize(
    ("shape", "kind"),
    [
        ("gauge-value-unit", FaultKind.OVER_RANGE),
        ("gauge-bare-number", FaultKind.DEVICE_ERROR),
        ("pressure-registers", FaultKind.OVER_RANGE),
    ],
)
def test_over_range_is_no_value(shape, kind):
    assert {item.kind for item in Measured(shape, range_pa=10e5).items()} == {kind}


@pytest.mark.parametrize("shape", SHAPES)
def test_a_failed_sensor_is_no_value(shape):
    measured = Measured(shape)
    measured.gauge.sensor_fault = True
    assert {item.kind for item in measured.items()} == {FaultKind.DEVICE_ERROR}
    assert measured.gauge.shown_gauge_pa == pytest.approx(15e5, abs=1000.0)


def test_a_text_gauge_shows_whole_steps():
    values = [item.value for item in Measured("gauge-value-unit").items(50)]
    assert all(value / 100.0 == pytest.approx(round(value / 100.0), abs=1e-6) for value in values)


# --- registers -----------------------------------------------------------------------------------


def ask(body):
    gauge = Measured("pressure-registers").gauge
    gauge.output(0.0)
    return gauge.receive(body + modbus_crc(body), 0.0)


@pytest.mark.parametrize("reference", rows("modbus.csv", quantity="rtu_adu_request"), ids=str)
def test_its_crc_is_the_published_one(reference):
    """It has its own, so that a mistake in the driver's would show."""
    frame = bytes.fromhex(reference["value"])
    assert modbus_crc(frame[:-2]) == frame[-2:]


def test_illegal_address_and_function():
    """Exceptions 02 and 01 (MODBUS Application Protocol V1.1b3, 7)."""
    assert ask(b"\x01\x03" + struct.pack(">HH", 2, 2))[1:3] == b"\x83\x02"
    assert ask(b"\x01\x03" + struct.pack(">HH", 0, 0))[1:3] == b"\x83\x02"
    assert ask(b"\x01\x06" + struct.pack(">HH", 0, 1))[1:3] == b"\x86\x01"
    assert ask(b"\x01\x04" + struct.pack(">HH", 2, 1))[1:3] == b"\x04\x02"


def test_another_address_and_a_wrong_crc_get_no_answer():
    assert ask(b"\x02\x03" + struct.pack(">HH", 0, 3)) == b""
    gauge = Measured("pressure-registers").gauge
    good = b"\x01\x03\x00\x00\x00\x03" + modbus_crc(b"\x01\x03\x00\x00\x00\x03")
    assert gauge.receive(good[:-1] + b"\x00", 0.0) == b""
    assert gauge.receive(b"noise" + good[:3], 0.0) == b""
    assert len(gauge.receive(good[3:], 0.0)) == 11


def test_an_unknown_shape_is_refused():
    with pytest.raises(ValueError, match="banana"):
        VirtualTransducer(BenchModel(), "banana")


def test_bare_number_answers_only_its_request():
    gauge = Measured("gauge-bare-number").gauge
    gauge.output(0.0)
    assert gauge.receive(b"Q\rp\r", 0.0) == b""
    assert gauge.receive(b"P\rP\r", 0.0).count(b"\r") == 2
