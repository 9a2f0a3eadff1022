"""The help's list of a profile's keys is what the parsers take, no more and no less."""

import re
import tomllib
from importlib.resources import files

import pytest

from benchstation.devices.frame_fit import fit_frames
from benchstation.devices.profile import (
    Channel,
    Line,
    Profile,
    Rate,
    load_profile,
    profile_from,
    profile_ids,
)
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.errors import StationError
from benchstation.driver_api.framing import crc16
from benchstation.driver_api.options import Options
from benchstation.link.transport import open_transport

PAGE = (files("resources") / "help" / "profiles.md").read_text("utf-8")
BLOCKS = re.findall(r"```profile\n(.*?)```", PAGE, re.DOTALL)
EXAMPLES = {tomllib.loads(block)["id"]: block for block in BLOCKS}
DRIVERS = ("text_line", "modbus_registers", "scpi_query", "current_loop")


def sections():
    """Return the page's sections: heading -> text."""
    parts = re.split(r"(?m)^## ", PAGE)[1:]
    return {part.partition("\n")[0]: part.partition("\n")[2] for part in parts}


def rows(*headings):
    """Return every listed key with its example, of these sections."""
    text = "\n".join(sections()[heading] for heading in headings)
    return re.findall(r"(?m)^\| `(\w+)` \|.*\| `(.*)` \|$", text)


@pytest.mark.parametrize(
    ("heading", "model"),
    [
        ("The file", Profile),
        ("Under [line]", Line),
        ("Under [rate]", Rate),
        ("Under [channel]", Channel),
    ],
)
def test_the_keys_of_the_file_are_listed(heading, model):
    assert {key for key, _ in rows(heading)} == set(model.model_fields)


class Asked:
    """What a driver's parser asks for by name; tables with names of the author's own count not."""

    def __init__(self, driver, patch):
        self.keys: set[str] = set()
        self.free: set[int] = set()
        self.kept = []  # so that no two tables have one identity
        take, contains, names = Options._take, Options.__contains__, Options.names

        def logged(options, name):
            where = options._where
            self.kept.append(options)
            given = where.endswith((", channel", ", commands")) or not where.startswith(driver)
            if id(options) not in self.free and not given:
                self.keys.add(name)

        def taken(options, name, default):
            logged(options, name)
            return take(options, name, default)

        def held(options, name):
            logged(options, name)
            return contains(options, name)

        def listed(options):
            self.kept.append(options)
            self.free.add(id(options))
            return names(options)

        patch.setattr(Options, "_take", taken)
        patch.setattr(Options, "__contains__", held)
        patch.setattr(Options, "names", listed)


def asked_by(driver, monkeypatch):
    """Return the keys that a driver asks for, over all shipped profiles and the page's own."""
    every = [load_profile(name) for name in profile_ids()]
    every += [profile_from(text.encode(), name) for name, text in EXAMPLES.items()]
    asked = Asked(driver, monkeypatch)
    for profile in every:
        if profile.driver == driver:
            profile.make_driver()
    monkeypatch.undo()
    return asked.keys


@pytest.mark.parametrize("driver", DRIVERS)
def test_the_page_lists_what_the_parser_takes(driver, monkeypatch):
    headings = [f"Options of {driver}"]
    if driver == "text_line":
        headings.append("Columns of text_line")
    listed = {key for key, _ in rows(*headings)}
    assert asked_by(driver, monkeypatch) - {"channel"} == listed


@pytest.mark.parametrize(("key", "example"), rows(*sections()))
def test_each_example_is_of_its_key(key, example):
    assert list(tomllib.loads(example)) == [key]


def test_the_examples_on_the_page_read_what_they_say():
    oven = profile_from(EXAMPLES["oven-line"].encode(), "oven-line")
    frames = [b"Oven 3; + 1,021.40C  45.2%\r\n", b"Oven 3; +   921.40C  45.2% ~\r\n"]
    steady, moving = fit_frames(oven, frames)
    assert steady.words == "1021.40 C, steady; 45.2 %, steady"
    assert moving.words == "921.40 C, moving; 45.2 %, moving"
    registers = profile_from(EXAMPLES["three-registers"].encode(), "three-registers")
    body = bytes.fromhex("0103080611000200000000")
    (fit,) = fit_frames(registers, [body + crc16(body).to_bytes(2, "little")])
    assert fit.words == "15.53 bar"


@pytest.mark.parametrize(
    "url", re.findall(r"`((?:socket://|rfc2217://|replay:|usb:)[^`]{3,})`", PAGE)
)
def test_an_address_on_the_page_is_understood_as_one(url, monkeypatch):
    """None of them is refused as no address: each is tried, and nobody is there."""

    def unreachable(*_, **__):
        raise ConnectionRefusedError(111, "Connection refused")

    monkeypatch.setattr("socket.create_connection", unreachable)
    with pytest.raises(StationError) as refused:
        open_transport(url, LineSettings())
    assert "no address" not in refused.value.what
