"""Which profile reads what came: the right one first, none for noise, nothing sent unasked."""

import random
import time
from pathlib import Path

import pytest

from benchstation.devices import discovery
from benchstation.devices.discovery import ask, line_settings, listen, rank, try_profile
from benchstation.devices.profile import load_profile, profile_ids
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.reading import Reading
from benchstation.driver_api.testing import read_transcripts
from benchstation.link.transport import open_transport
from sample_devices.bench_model import BenchModel
from sample_devices.protocol_bench import BenchPort
from sample_devices.scale import FRAMES, VirtualScale
from sample_devices.transducer import SHAPES, VirtualTransducer
from tests.waiting import let_pass

TRANSCRIPTS = Path(__file__).parent.parent / "transcripts"
PROFILES = [load_profile(name) for name in profile_ids()]


def frames_of(profile):
    """What a device of this profile sends, out of its transcripts."""
    found = []
    for transcript in read_transcripts(TRANSCRIPTS / profile.id):
        for run in transcript.runs():
            driver = profile.make_driver()
            for chunk in run:
                found += [i.raw for i in driver.feed(chunk, 0.0) if isinstance(i, Reading)]
    return found


@pytest.mark.parametrize("profile", PROFILES, ids=lambda p: p.id)
def test_each_shape_is_known_among_all(profile):
    """The stream is cut into anyhow and begins in the middle of a frame."""
    chance = random.Random(7)
    data = b"".join(frames_of(profile) * 2)
    data = data[len(frames_of(profile)[0]) // 2 :]
    chunks = []
    while data:
        size = chance.randint(1, 40)
        chunks.append(data[:size])
        data = data[size:]
    matches = rank(PROFILES, chunks)
    assert matches[0].profile.id == profile.id
    assert matches[0].share > 0.9
    assert matches[0].last is not None
    assert len(matches) == 1 or matches[0].rank > matches[1].rank


@pytest.mark.parametrize("seed", range(5))
def test_noise_is_nobody(seed):
    chance = random.Random(seed)
    assert rank(PROFILES, [chance.randbytes(40) for _ in range(50)]) == []
    assert rank(PROFILES, []) == []


def test_a_scale_in_overload_is_known_all_the_same():
    (match,) = rank(PROFILES, [b"OL,GS,+99999.99  g\r\n"] * 10)
    assert (match.profile.id, match.readings, match.reports) == ("scale-status-first", 0, 10)
    assert match.last is None


def test_half_of_it_spoilt_is_no_match():
    good, bad = b"ST,NT,+00123.45  g\r\n", b"XX,NT,+00123.45  g\r\n"
    assert try_profile(load_profile("scale-status-first"), [good, bad] * 20).share < 0.6
    assert rank(PROFILES, [good, bad, bad] * 20) == []


class Logged:
    """A transport that takes note of what is sent."""

    def __init__(self, answers):
        self.answers = answers
        self.sent = []
        self.waiting = b""

    def read(self):
        data, self.waiting = self.waiting, b""
        if not data:
            let_pass(0.001)
        return data

    def write(self, data):
        self.sent.append(data)
        self.waiting += self.answers.get(data, b"")

    def close(self):
        pass


def test_listening_sends_nothing():
    line = Logged({})
    line.waiting = b"ST,NT,+00123.45  g\r\n"
    assert listen(line, 0.05) == [b"ST,NT,+00123.45  g\r\n"]
    assert line.sent == []


def test_asking_sends_the_requests_of_polled_profiles_only(monkeypatch):
    monkeypatch.setattr(discovery, "ANSWER_WAIT_S", 0.01)
    line = Logged({b"W\r\n": b"W S     123.45 g\r\n"})
    ((match, chunks),) = ask(line, PROFILES)
    assert match.profile.id == "scale-request-reply"
    assert match.last.value == pytest.approx(0.12345)
    assert b"".join(chunks) == b"W S     123.45 g\r\n" * 3
    asking = [p for p in PROFILES if p.make_driver().poll() is not None]
    assert set(line.sent) <= {r for p in asking for r in [p.make_driver().poll()]} | set(line.sent)
    assert len(line.sent) == 3 + 2 * (len(asking) - 1)


@pytest.mark.parametrize("shape", [*FRAMES, *SHAPES])
def test_every_virtual_device_is_found(shape, monkeypatch):
    """Over the station's own transport: streaming devices by listening, the others when asked."""
    monkeypatch.setattr(discovery, "ANSWER_WAIT_S", 0.05)
    made = VirtualScale if shape in FRAMES else VirtualTransducer
    port = BenchPort("found", made(BenchModel(), shape, rate_hz=100.0), time.perf_counter)
    try:
        line = open_transport(port.url, LineSettings())
        asking = [p for p in PROFILES if p.id in (*FRAMES, *SHAPES)]
        matches = rank(PROFILES, listen(line, 0.2)) or [m for m, _ in ask(line, asking) if m.fits]
        line.close()
    finally:
        port.close()
    assert matches[0].profile.id == shape


def test_line_settings_are_those_of_the_profiles_first():
    found = line_settings(PROFILES)
    own = {profile.line_settings for profile in PROFILES}
    assert set(found[: len(own)]) == own
    assert len(found) == len(set(found))
    assert LineSettings(115_200, 8, "N") in found
