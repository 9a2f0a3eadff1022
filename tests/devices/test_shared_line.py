"""Two values of one line at a bench: two instruments on one port, each with its own."""

import time

import pytest

from benchstation.devices.adding import Search, at_line, keep_at_line, usable
from benchstation.devices.instrument import Instrument
from benchstation.devices.profile import ProfileError, load_profile, share_a_line
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.reading import Health
from benchstation.link.ports import LinkError
from benchstation.link.statistics import LinkState
from benchstation.link.transport import open_transport
from benchstation.metrology.calibration import LinearCalibration
from sample_devices.air import VirtualClimate
from sample_devices.bench_model import BenchModel
from sample_devices.host import PtyHost
from tests.waiting import eventually


@pytest.fixture
def climate():
    device = VirtualClimate(BenchModel(3), rate_hz=50.0)
    host = PtyHost(device, time.perf_counter)
    yield device, host
    host.close()


@pytest.fixture
def reading():
    made = []

    def start(profile_id, url):
        profile = load_profile(profile_id)
        one = Instrument(
            profile.kind,
            profile.title,
            profile,
            LinearCalibration(1.0, 0.0),
            clock=time.perf_counter,
        )
        one.connect(url)
        made.append(one)
        return one

    yield start
    for one in made:
        one.stop()


def value(instrument):
    sample = instrument.latest()
    return None if sample is None else sample.value


def test_a_profile_for_another_value_of_the_line():
    whole = load_profile("climate-line")
    humidity = load_profile("climate-line.humidity")
    assert (humidity.kind, humidity.channel.high) == ("humidity", 1.0)
    assert (whole.further, humidity.further) == ({"humidity"}, {"temperature"})
    assert humidity.make_driver().channels == whole.make_driver().channels
    assert share_a_line(whole.id, humidity.id)
    assert not share_a_line(whole.id, whole.id)
    assert not share_a_line(whole.id, "thermometer-value-unit")
    for wrong in ("climate-line.mass", "climate-line.temperature", "scale-status-first.humidity"):
        with pytest.raises(ProfileError, match="carries no"):
            load_profile(wrong)


def test_both_instruments_read_their_value(climate, reading):
    device, host = climate
    thermometer = reading("climate-line", host.url)
    hygrometer = reading("climate-line.humidity", host.url)
    eventually(lambda: value(thermometer) and value(hygrometer))
    assert value(thermometer) == pytest.approx(294.55)
    assert value(hygrometer) == pytest.approx(0.45)
    device.dry = True
    eventually(lambda: hygrometer.health(time.perf_counter()).category is Health.FAILURE)
    assert thermometer.health(time.perf_counter()).category is Health.GOOD


def test_one_may_leave_and_come_back(climate, reading):
    _, host = climate
    thermometer = reading("climate-line", host.url)
    hygrometer = reading("climate-line.humidity", host.url)
    eventually(lambda: value(thermometer) and value(hygrometer))
    thermometer.stop()
    before = hygrometer.statistics.readings
    eventually(lambda: hygrometer.statistics.readings > before + 5)
    again = reading("climate-line", host.url)
    eventually(lambda: value(again) is not None)
    assert hygrometer.link_state is LinkState.LIVE


def test_a_pulled_plug_is_lost_to_both_and_found_by_both(climate, reading):
    _, host = climate
    both = [reading(name, host.url) for name in ("climate-line", "climate-line.humidity")]
    eventually(lambda: all(value(one) for one in both))
    host.unplug()
    eventually(lambda: all(one.link_state is LinkState.LOST for one in both))
    host.replug()
    eventually(lambda: all(one.link_state is LinkState.LIVE for one in both))


def test_when_both_have_left_the_port_is_free(climate, reading):
    _, host = climate
    both = [reading(name, host.url) for name in ("climate-line", "climate-line.humidity")]
    eventually(lambda: all(value(one) for one in both))
    with pytest.raises(LinkError, match="another program"):
        open_transport(host.url, LineSettings())
    for one in both:
        one.stop()
    open_transport(host.url, LineSettings()).close()


def test_a_search_offers_each_value_of_the_line(climate):
    _, host = climate
    profiles, _ = usable()
    (heard,) = Search(host.url, profiles, 0.5).run(LineSettings())
    shown = {match.profile.id: match.last.value for match in heard.matches}
    assert shown == {
        "climate-line": pytest.approx(294.55),
        "climate-line.humidity": pytest.approx(0.45),
    }


def test_a_value_of_a_line_at_other_settings_is_kept_with_its_line(tmp_path):
    humidity = load_profile("climate-line.humidity")
    made = at_line(humidity, LineSettings(1200, 7, "O"))
    assert made.id == "climate-line-1200-7o1.humidity"
    keep_at_line(humidity, made, tmp_path, [])
    again = load_profile(made.id, [tmp_path])
    assert again.line_settings == LineSettings(1200, 7, "O")
    assert (again.kind, again.channel) == (humidity.kind, humidity.channel)
