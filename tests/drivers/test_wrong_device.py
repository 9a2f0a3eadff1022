"""Another device on the port, or its line set otherwise: nothing is read, but for known doubles.

Line settings are put on a simulated wire: bits as a transmitter sends them and as a receiver at
other settings samples them.
"""

import pytest

from benchstation.devices.profile import profile_ids
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.reading import Reading
from tests.drivers import damage

PROFILES = damage.profiles()
DOUBLES = {
    ("scale-signed-six-digits", "pressure-query"),
    ("pressure-query", "gauge-bare-number"),
}
"""(device, profile) where a bare number is a bare number: only a known load tells them apart."""
LOOSE = {"gauge-bare-number", "pressure-query"}
"""Profiles whose line is a number of any width: a byte lost in it leaves a number."""


def test_no_other_devices_frames_are_read():
    found = set()
    for device in PROFILES:
        data = b"".join(damage.good_frames(device)) * 2
        for profile in PROFILES:
            if profile.id == device.id:
                continue
            items = profile.make_driver().feed(data, 0.0)
            if any(isinstance(item, Reading) for item in items):
                found.add((device.id, profile.id))
    assert found <= DOUBLES
    assert len(PROFILES) == len(profile_ids()) >= 20


def on_the_wire(data: bytes, line: LineSettings) -> list[int]:
    """Return the bits of a line at its own rate: start, data low bit first, parity, stop."""
    bits: list[int] = [1, 1, 1]
    for byte in data:
        ones = [byte >> n & 1 for n in range(line.bytesize)]
        parity = {"N": [], "E": [sum(ones) % 2], "O": [1 - sum(ones) % 2]}[line.parity]
        bits += [0, *ones, *parity, *[1] * int(line.stopbits)]
    return [*bits, 1, 1, 1]


def received(bits: list[int], sent: LineSettings, line: LineSettings) -> bytes:
    """Return what a receiver makes of the bits; a byte with wrong parity is lost, as set."""
    per_bit = sent.baudrate / line.baudrate

    def level(t: float) -> int:
        return bits[int(t)] if int(t) < len(bits) else 1

    data = bytearray()
    t = 0.0
    end = len(bits)
    width = line.bytesize + (line.parity != "N")
    while t < end:
        if level(t):
            t += min(per_bit, 1.0) / 8
            continue
        got = [level(t + (n + 1.5) * per_bit) for n in range(width)]
        ones, parity = got[: line.bytesize], got[line.bytesize :]
        wanted = {"N": [], "E": [sum(ones) % 2], "O": [1 - sum(ones) % 2]}[line.parity]
        if parity == wanted:
            data.append(sum(one << n for n, one in enumerate(ones)))
        t += (width + 1.5) * per_bit
    return bytes(data)


SETTINGS = [
    LineSettings(rate, bits, parity)
    for rate in (2400, 4800, 9600, 19200)
    for bits, parity in ((8, "N"), (7, "E"), (8, "E"), (7, "O"))
]


@pytest.mark.parametrize("line", SETTINGS, ids=str)
def test_the_wire_carries_what_is_sent(line):
    data = bytes(range(256 if line.bytesize == 8 else 128))
    assert received(on_the_wire(data, line), line, line) == data


@pytest.mark.parametrize("profile", PROFILES, ids=lambda p: p.id)
def test_wrong_line_settings_give_no_wrong_reading(profile):
    """What still comes through whole is as it was sent; not so where a number has any width."""
    own = profile.line_settings
    frames = damage.good_frames(profile)
    data = b"".join(frames * 3)
    if own.bytesize == 7:
        assert all(byte < 128 for byte in data)
    bits = on_the_wire(data, own)
    assert received(bits, own, own) == data
    silent, wrong = 0, set()
    for line in SETTINGS:
        items = profile.make_driver().feed(received(bits, own, line), 0.0)
        read = [item.raw for item in items if isinstance(item, Reading)]
        wrong |= set(read) - set(frames)
        silent += not read
    assert bool(wrong) == (profile.id in LOOSE), wrong
    assert silent >= len(SETTINGS) // 2
