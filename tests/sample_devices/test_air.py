"""The virtual thermometers, barometer and hygrometer: what the model holds is what is read."""

import statistics

import pytest

from benchstation.devices.profile import load_profile
from benchstation.driver_api.reading import FaultKind, Reading
from sample_devices.air import (
    VirtualBarometer,
    VirtualClimate,
    VirtualHygrometer,
    VirtualThermometer,
)
from sample_devices.bench_model import BenchModel, BenchSetup


def items(device, profile_id, count=40, begin=0.0):
    """Return what the profile makes of so many beats of a device."""
    driver = load_profile(profile_id).make_driver()
    found = []
    for beat in range(count):
        t = begin + beat * device.interval_s
        data = device.output(t)
        if driver.poll() is not None:
            data += device.receive(driver.poll(), t)
        found += driver.feed(data, t)
    return found


def model(**setup):
    return BenchModel(3, BenchSetup(**setup))


@pytest.mark.parametrize("shape", VirtualThermometer.SHAPES)
@pytest.mark.parametrize("kelvin", [294.55, 268.15])
def test_the_rooms_temperature_is_read(shape, kelvin):
    found = items(VirtualThermometer(model(ambient_k=kelvin), shape), shape)
    assert len(found) == 40
    assert statistics.fmean(item.value for item in found) == pytest.approx(kelvin, abs=0.02)


def test_a_probe_follows_with_its_lag():
    bench = model(ambient_k=294.55)
    probe = VirtualThermometer(bench, noise_k=0.0, lag_s=8.0)
    bench.room_k = 304.55
    found = items(probe, "thermometer-value-unit", count=17)
    # After one time constant 63 % of the step is left behind, shown to a hundredth of a degree.
    assert found[0].value == pytest.approx(295.16, abs=0.011)
    assert found[-1].value == pytest.approx(304.55 - 10.0 * 2.718281828 ** (-17 / 16), abs=0.011)


@pytest.mark.parametrize("shape", VirtualThermometer.SHAPES)
def test_a_broken_probe_is_a_fault_and_no_value(shape):
    probe = VirtualThermometer(model(), shape)
    probe.broken = True
    assert {item.kind for item in items(probe, shape)} == {FaultKind.DEVICE_ERROR}


def test_registers_that_it_has_not_are_an_exception():
    probe = VirtualThermometer(model(), "thermometer-registers")
    from sample_devices.transducer import modbus_crc

    def answer(body):
        return probe.receive(body + modbus_crc(body), 0.0)

    assert answer(bytes.fromhex("020400010002"))[:3] == bytes.fromhex("028402")
    assert answer(bytes.fromhex("020300000002"))[:3] == bytes.fromhex("028301")
    assert answer(bytes.fromhex("010400000002")) == b""


def test_the_barometer_reads_above_vacuum():
    barometer = VirtualBarometer(model(ambient_pa=94_300.0), offset_pa=50.0)
    found = items(barometer, "barometer-value-unit")
    assert statistics.fmean(item.value for item in found) == pytest.approx(94_350.0, abs=3.0)
    barometer.broken = True
    found = items(barometer, "barometer-value-unit", begin=100.0)
    assert not [item for item in found if isinstance(item, Reading)]


def test_the_hygrometer_stays_between_nothing_and_all():
    wet = items(VirtualHygrometer(model(humidity=1.0), noise=0.05), "hygrometer-value-unit")
    assert max(item.value for item in wet) == 1.0
    usual = items(VirtualHygrometer(model(humidity=0.45)), "hygrometer-value-unit")
    assert statistics.fmean(item.value for item in usual) == pytest.approx(0.45, abs=0.002)


def test_a_shape_that_is_none_is_refused():
    with pytest.raises(ValueError, match="no such frame shape"):
        VirtualThermometer(model(), "thermometer-by-mail")


def test_two_values_come_in_one_line_and_one_may_fail():
    climate = VirtualClimate(model(ambient_k=268.15, humidity=1.0))
    found = items(climate, "climate-line", count=3)
    assert [(item.channel, round(item.value, 2)) for item in found[:2]] == [
        ("temperature", 268.15),
        ("humidity", 1.0),
    ]
    climate.dry = True
    temperature, fault = items(climate, "climate-line", count=2, begin=50.0)[-2:]
    assert (temperature.value, fault.kind) == (pytest.approx(268.15), FaultKind.DEVICE_ERROR)
    assert fault.channel == "humidity"
