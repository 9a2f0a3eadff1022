"""Asking real Modbus servers: the right profile is found, and no impossible value is offered."""

import struct

import pytest

from benchstation.devices import discovery
from benchstation.devices.adding import Search, beyond_words, usable
from benchstation.driver_api.contract import LineSettings
from tests.modbus_servers import c_rtu_server, rtu_server, tcp_server

PROFILES, _ = usable()


def registers(first, data):
    """Return bytes as registers from ``first`` on."""
    words = struct.unpack(f">{len(data) // 2}H", data)
    return {first + place: word for place, word in enumerate(words)}


FLOAT_BAR = registers(0, struct.pack(">fH", 15.5, 0))
"""As the profile pressure-registers says: bar as a float in 0 and 1, good in 2."""
INT_MBAR = registers(16, struct.pack(">HHHHH", 15500 & 0xFFFF, 0, 0, 0, 0))
"""As pressure-registers-tcp says: mbar as a whole number, low word first, good in 20."""
TENTHS = registers(0, struct.pack(">hH", 214, 0))
SWAPPED = registers(0, struct.pack(">HHH", 0x6C0C, 0xCCCD, 0))
"""A float in the other word order or something else: 6.8e26 when read as bar."""


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    monkeypatch.setattr(discovery, "ANSWER_WAIT_S", 0.2)


def found(url, **changes):
    """Return the last that was heard of a port that is asked, and what was told meanwhile."""
    told = []
    search = Search(url, PROFILES, 0.1, asks=True, tell=told.append, **changes)
    heard = list(search.run(LineSettings()))
    return max(heard, key=lambda one: one.worth), told


def ids(heard):
    return [match.profile.id for match in heard.matches]


def test_registers_at_an_address_are_found_by_their_own_frames():
    with tcp_server(inputs=INT_MBAR) as url:
        heard, _ = found(url)
    assert ids(heard)[0] == "pressure-registers-tcp"
    assert heard.matches[0].last.value == pytest.approx(15.5e5)


@pytest.mark.parametrize(
    ("parts", "device", "name", "value"),
    [
        ({"holding": FLOAT_BAR}, 1, "pressure-registers", 15.5e5),
        ({"inputs": TENTHS}, 2, "thermometer-registers", 294.55),
    ],
)
def test_registers_on_a_line_are_found_among_all_that_ask(tmp_path, parts, device, name, value):
    with rtu_server(tmp_path, device, **parts) as url:
        heard, told = found(url)
    assert ids(heard)[0] == name
    assert heard.matches[0].last.value == pytest.approx(value)
    assert heard.settings == heard.matches[0].profile.line_settings
    assert any("19200 8E1" in words and name in words for words in told) or device == 2


def test_a_value_that_cannot_be_is_no_offer(tmp_path):
    with rtu_server(tmp_path, holding=SWAPPED) as url:
        heard, _ = found(url)
    assert ids(heard) == []
    (beyond,) = [m for m in heard.beyond if m.profile.id == "pressure-registers"]
    words = beyond_words(beyond)
    assert "outside its range of -1 bar to 40 bar" in words
    assert "e+" not in words


def test_a_device_of_another_range_is_told_as_that(tmp_path):
    """It reads 100 bar, and the profile's range ends at 40 bar."""
    holding = registers(0, struct.pack(">fH", 100.0, 0))
    with rtu_server(tmp_path, holding=holding) as url:
        heard, _ = found(url)
    (beyond,) = [m for m in heard.beyond if m.profile.id == "pressure-registers"]
    assert "reads 100 bar outside its range of -1 bar to 40 bar" in beyond_words(beyond)


def test_a_server_that_has_none_of_the_registers_answers_with_errors_only():
    with tcp_server(holding={900: 1}) as url:
        heard, _ = found(url)
    assert [match for match in heard.matches if match.readings] == []


def test_a_server_of_another_library_is_found_as_well(tmp_path):
    with c_rtu_server(tmp_path, 1, FLOAT_BAR) as url:
        heard, _ = found(url)
    assert ids(heard)[0] == "pressure-registers"
    assert heard.matches[0].last.value == pytest.approx(15.5e5)


def test_requests_of_modbus_are_sent_before_and_apart_from_text(tmp_path):
    """A server that heard text first has the next request of its own behind that text."""
    with rtu_server(tmp_path, holding={900: 1}) as url:
        _, told = found(url)
    asked = [words for words in told if words.startswith("asking")]
    kinds = ["registers" in words for words in asked]
    assert kinds == sorted(kinds, reverse=True)
    assert not any("registers" in words and "query" in words for words in asked)
