"""``benchstation devices``: what people see, and one clear line where it cannot be done."""

import argparse
import json
import re
import time
import tomllib
from types import SimpleNamespace

import pytest

from benchstation.cli import devices as device_commands
from benchstation.cli.devices import add_commands, describe, run
from benchstation.cli.main import main
from benchstation.devices import adding
from benchstation.devices.profile import load_profile, profile_text
from benchstation.driver_api.errors import DriverError, StationError
from benchstation.link import ports as ports_module
from benchstation.link.recording import read_recording
from sample_devices.bench_model import BenchModel
from sample_devices.host import serve
from sample_devices.protocol_bench import BenchPort
from sample_devices.scale import VirtualScale
from sample_devices.transducer import VirtualTransducer


def command(*words):
    """Run a command; give what it said, line by line."""
    parser = argparse.ArgumentParser()
    add_commands(parser.add_subparsers().add_parser("devices"))
    said = []
    assert run(parser.parse_args(["devices", *map(str, words)]), said.append) == 0
    return said


def refusal(*words):
    with pytest.raises(StationError) as refused:
        command(*words)
    text = str(refused.value)
    assert "\n" not in text
    return text


@pytest.fixture
def scale():
    """A virtual scale on a line of this process."""
    made = []

    def start(shape="scale-status-first", host=None):
        device = VirtualScale(BenchModel(), shape, rate_hz=50.0)
        if host is None:
            made.append(BenchPort("desk", device, time.perf_counter))
        else:
            made.append(host(device, time.perf_counter))
        return made[-1].url

    yield start
    for port in made:
        port.close()


def set_up_lines(said):
    """The part meant for the set-up file, read as TOML."""
    start = said.index("for the set-up file:") + 1
    return tomllib.loads("\n".join(said[start : start + 6]))["instruments"]


# --- list ----------------------------------------------------------------------------------------


def test_list_shows_what_stays_the_same(monkeypatch):
    found = SimpleNamespace(
        device="/dev/p1", vid=1, pid=2, serial_number="A1", location="1-1", description="Adapter"
    )
    monkeypatch.setattr(ports_module.list_ports, "comports", lambda: [found])
    (line,) = command("list")
    assert line.split() == ["usb:0001:0002:A1", "/dev/p1", "Adapter"]


def test_list_without_ports_and_with_a_broken_driver(monkeypatch):
    monkeypatch.setattr(ports_module.list_ports, "comports", list)
    broken = {"odd": DriverError("the driver 'odd' cannot be loaded: no licence.")}
    monkeypatch.setattr(device_commands, "problems", lambda: broken)
    none, driver = command("list")
    assert "no serial ports" in none
    assert "driver odd cannot be used" in driver


# --- watch ---------------------------------------------------------------------------------------


def test_watch_shows_bytes_frames_and_readings(scale):
    said = command("watch", scale(), "--profile", "scale-status-first", "--seconds", "0.3")
    text = "\n".join(said)
    assert "<- 53 54 2c" in text or "<- 55 53 2c" in text
    assert "steady gross  in g, frame b'ST,GS," in text
    assert "live" in text
    assert " readings/s, longest gap" in said[-1]


def test_watch_without_a_profile_shows_bytes_only(scale):
    said = command("watch", scale(), "--seconds", "0.3")
    assert any("<-" in line for line in said)
    assert not any("     reading" in line for line in said)


def test_watch_shows_what_is_asked_and_answered(scale):
    url = scale("scale-request-reply")
    said = command("watch", url, "--profile", "scale-request-reply", "--seconds", "0.3")
    assert any("-> 57 0d 0a" in line for line in said)
    assert said[-1].startswith("answers after")


def test_a_port_that_is_not_there():
    text = refusal("watch", "/dev/no-such-port", "--seconds", "1")
    assert text.startswith("/dev/no-such-port: there is no such port.")
    assert "no profile 'hope'" in refusal("watch", "loop://", "--profile", "hope")
    assert "no time to watch" in refusal("watch", "loop://", "--seconds", "0")
    assert "no time to watch" in refusal("watch", "loop://", "--seconds", "nan")


def test_line_settings_that_are_none(capsys):
    with pytest.raises(SystemExit) as ended:
        command("watch", "loop://", "--line", "fast")
    assert ended.value.code == 2
    assert "9600 8N1" in capsys.readouterr().err


def test_a_user_may_stop_it(scale, monkeypatch):
    slept = []

    def interrupted(seconds):
        slept.append(seconds)
        if len(slept) > 3:
            raise KeyboardInterrupt

    url = scale()
    mine = SimpleNamespace(sleep=interrupted, perf_counter=time.perf_counter)
    monkeypatch.setattr(device_commands, "time", mine)
    said = command("watch", url)
    assert "stopped" in said


# --- record and replay ---------------------------------------------------------------------------


def test_what_is_recorded_is_replayed(scale, tmp_path):
    file = tmp_path / "scale.rec"
    said = command("record", scale(), file, "--profile", "scale-status-first", "--seconds", "0.6")
    readings = int(said[-2].split()[0])
    assert readings > 5
    recording = read_recording(file)
    assert recording.profile == "scale-status-first"
    again = command("replay", file, "--speed", "5")
    assert int(again[-2].split()[0]) == readings
    assert sum("reading " in line and "frame" in line for line in again) == readings
    assert "there already" in refusal("record", "loop://", file)


def test_a_recording_is_offered_as_a_port(scale, tmp_path):
    file = tmp_path / "scale.rec"
    command("record", scale(), file, "--profile", "scale-status-first", "--seconds", "0.3")
    said = command("replay", file, "--serve", "--seconds", "0.2")
    assert any(line.startswith("offered at ") for line in said)


def test_nothing_to_replay(tmp_path):
    assert "cannot be replayed" in refusal("replay", tmp_path / "absent.rec")
    file = tmp_path / "empty.rec"
    file.write_text(json.dumps({"form": "benchstation raw log", "version": 1}) + "\n")
    assert "nothing was received" in refusal("replay", file)
    assert "--speed 0" in refusal("replay", file, "--speed", "0")


def test_no_file_is_left_where_the_port_cannot_be_opened(tmp_path):
    refusal("record", "/dev/no-such-port", tmp_path / "x.rec")
    assert not (tmp_path / "x.rec").exists()


# --- add -----------------------------------------------------------------------------------------


def test_add_ranks_profiles_and_prints_the_set_up(scale):
    url = scale("scale-unit-when-stable")
    said = command("add", url, "--seconds", "0.3", "--serial", '12"3', "--title", "Bench scale")
    assert any("bytes came" in line for line in said)
    start = said.index("profiles that read it, the best first:")
    assert "scale-unit-when-stable" in said[start + 1]
    assert set_up_lines(said) == {
        "scale": {
            "id": "scale-1",
            "title": "Bench scale",
            "profile": "scale-unit-when-stable",
            "url": url,
            "serial": '12"3',
        }
    }


def test_add_says_how_to_go_on_where_nothing_came(scale):
    text = refusal("add", scale("scale-request-reply"), "--seconds", "0.1")
    assert "Nothing came." in text
    assert "--ask" in text
    assert "--try-settings" not in text, "an address has none"


def test_add_asks_only_when_told_to(scale, monkeypatch):
    monkeypatch.setattr("benchstation.devices.discovery.ANSWER_WAIT_S", 0.05)
    said = command("add", scale("scale-request-reply"), "--seconds", "0.1", "--ask")
    assert set_up_lines(said)["scale"]["profile"] == "scale-request-reply"


@pytest.mark.parametrize("tried", [True, False])
def test_other_line_settings_are_tried_only_when_told_to(monkeypatch, tried):
    """A device at 2400 7E1: at other settings only noise comes."""
    opened = []
    line = load_profile("scale-name-first").line_settings
    frame = b"N     +    123.45 g   \r\n"

    class Line:
        def __init__(self, settings):
            self.data = [frame] * 5 if settings == line else [b"\xff\x80" * 9]

        def read(self):
            return self.data.pop() if self.data else b""

        def close(self):
            pass

    def opening(url, settings):
        opened.append(settings)
        return Line(settings)

    monkeypatch.setattr(adding, "open_transport", opening)
    words = ["add", "/dev/p1", "--seconds", "0.02"]
    if not tried:
        text = refusal(*words)
        assert "18 bytes came, and no profile reads them" in text
        assert "--try-settings" in text
        assert len(opened) == 1
        return
    said = command(*words, "--try-settings")
    assert opened[-1] == line
    assert set_up_lines(said)["scale"]["profile"] == "scale-name-first"
    assert not any("copy the" in text for text in said)


def test_settings_other_than_the_profiles_are_told(monkeypatch):
    class Line:
        def __init__(self):
            self.data = [b"ST,NT,+00123.45  g\r\n"] * 5

        def read(self):
            return self.data.pop() if self.data else b""

        def close(self):
            pass

    monkeypatch.setattr(adding, "open_transport", lambda url, settings: Line())
    said = command("add", "/dev/p1", "--seconds", "0.02", "--line", "1200 7e1")
    assert 'baudrate = 1200\nbytesize = 7\nparity = "E"\nstopbits = 1' in said[-1]


def test_profiles_of_ones_own_are_tried_and_broken_ones_left_out(tmp_path, scale):
    own = (device_commands.Path(load_profile.__code__.co_filename).parents[2]) / "resources"
    text = (own / "profiles" / "scale-status-first.toml").read_text()
    (tmp_path / "our-scale.toml").write_text(text.replace("scale-status-first", "our-scale"))
    (tmp_path / "broken.toml").write_text("id = 7")
    said = command("add", scale(), "--seconds", "0.3", "--profiles", tmp_path)
    assert any(line.startswith("left out: profile broken") for line in said)
    assert any("our-scale" in line for line in said)
    assert "no such folder" in refusal("add", "loop://", "--profiles", tmp_path / "no")


def test_the_benchs_own_profiles_are_found_by_every_command(tmp_path, scale, monkeypatch, capsys):
    """Those beside the settings, and those of a folder given, which are taken before them."""
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    text = profile_text("scale-status-first")
    given = tmp_path / "given"
    for folder, title in ((tmp_path / "profiles", "of this bench"), (given, "of the folder")):
        folder.mkdir()
        named = text.replace("scale-status-first", "our-scale")
        titled = re.sub(r"(?m)^title.*$", f'title = "{title}"', named)
        (folder / "our-scale.toml").write_text(titled)
    url, record = scale(), tmp_path / "line.rec"
    own = ("--profile", "our-scale", "--seconds", "0.3")
    assert any("     reading" in line for line in command("watch", url, *own))
    command("record", url, record, *own)
    assert any("     reading" in line for line in command("replay", record))
    for words, title in (((), "of this bench"), (("--profiles", given), "of the folder")):
        added = command("add", url, "--seconds", "0.3", *words)
        assert any(line.startswith("  our-scale ") for line in added)
        assert main(["profiles", *map(str, words)]) == 0
        (listed,) = (x for x in capsys.readouterr().out.splitlines() if x.startswith("our-scale "))
        assert listed.endswith(title)


def test_a_reading_that_no_range_holds_is_said_and_not_offered():
    """A gauge to 60 bar shows 50; the profile of its shape ends at 40."""
    model = BenchModel()
    model.bring_in(free_volume_m3=365e-6, rho_oil_kg_m3=847.3, oil_kg=0.2, gauge_pa=50e5)
    gauge = VirtualTransducer(model, rate_hz=50.0, noise_pa=0.0, range_pa=60e5)
    port = BenchPort("high", gauge, time.perf_counter)
    try:
        text = refusal("add", port.url, "--seconds", "0.3")
    finally:
        port.close()
    assert "gauge-value-unit fits the bytes" in text
    assert "reads 50 bar outside its range of -1 bar to 40 bar" in text
    assert "range on the plate" in text


def test_over_a_real_line(scale):
    said = command("add", scale(host=serve), "--seconds", "0.3")
    assert set_up_lines(said)["scale"]["profile"] == "scale-status-first"


# --- words ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("profile", "line", "words"),
    [
        ("scale-status-first", b"US,NT,+00123.45  g\r\n", "reading 123.45 g moving net"),
        ("gauge-value-unit", b"+0015.32 bar\r\n", "reading 15.32 bar  in bar"),
        ("gauge-value-unit", b"+OL\r\n", "over range: the instrument reports overload"),
        ("scale-request-reply", b"T I\r\n", "reply to tare: refused"),
    ],
)
def test_an_item_in_one_line(profile, line, words):
    (item,) = load_profile(profile).make_driver().feed(line, 0.0)
    assert describe(item).startswith(words)


def test_a_full_disk_ends_the_recording_in_words(scale, tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("benchstation.link.recording.Recorder.add", full)
    text = refusal("record", scale(), tmp_path / "x.rec", "--seconds", "2")
    assert "the reading stopped" in text
    assert "No space left" in text
