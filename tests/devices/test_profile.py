"""Profiles: the shipped ones work, and anything else is refused in words."""

import contextlib
import os

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchstation.devices import profile as profile_module
from benchstation.devices.profile import ProfileError, load_profile, profile_ids
from benchstation.driver_api.errors import DriverError, StationError
from benchstation.driver_api.reading import PressureReference, Quantity

GOOD = """
id = "mine"
title = "Mine"
kind = "mass"
driver = "text_line"
[line]
baudrate = 19200
parity = "E"
[rate]
expected_hz = 5.0
[options]
units = { g = 0.001 }
fields = [{ kind = "sign", plus = "+", minus = "-" }, { kind = "number", width = 8, pad = "zero" },
          { kind = "unit" }]
"""


@pytest.fixture
def folder(tmp_path):
    """Write a profile and give its folder."""

    def write(text, name="mine"):
        data = text if isinstance(text, bytes) else text.encode()
        (tmp_path / f"{name}.toml").write_bytes(data)
        return [tmp_path]

    return write


def refusal(folders, name="mine"):
    with pytest.raises(ProfileError) as refused:
        load_profile(name, folders)
    assert refused.value.where
    assert refused.value.advice
    return str(refused.value)


@pytest.mark.parametrize("name", profile_ids())
def test_shipped_profiles_make_drivers(name):
    profile = load_profile(name)
    driver = profile.make_driver()
    channel, *further = driver.channels
    assert {one.name for one in further} == profile.further
    assert profile.id == name
    assert channel.quantity == profile.kind
    assert channel.name == profile.kind
    assert (driver.poll() is None) == (profile.rate.poll_hz is None)
    if channel.quantity is Quantity.PRESSURE:
        above_vacuum = name.startswith("barometer")
        expected = PressureReference.ABSOLUTE if above_vacuum else PressureReference.GAUGE
        assert channel.reference is expected
    assert profile.make_driver() is not driver


def test_a_profile_of_ones_own(folder):
    folders = folder(GOOD)
    assert "mine" in profile_ids(folders)
    profile = load_profile("mine", folders)
    assert profile.interval_s == pytest.approx(0.2)
    settings_ = profile.line_settings
    assert (settings_.baudrate, settings_.parity, settings_.bytesize) == (19200, "E", 8)
    (item,) = profile.make_driver().feed(b"", 0.0) or [None]
    assert item is None


def test_ones_own_profile_goes_before_a_shipped_one(folder):
    text = GOOD.replace('"mine"', '"scale-status-first"')
    folders = folder(text, "scale-status-first")
    assert load_profile("scale-status-first", folders).title == "Mine"
    assert load_profile("scale-status-first").title != "Mine"


@pytest.mark.parametrize("name", ["nobody", "../profiles/scale-status-first", "", "MINE", "a\x00b"])
def test_an_unknown_profile_is_refused_with_those_there_are(name):
    text = refusal([], name)
    assert "there is no profile" in text
    assert "scale-status-first" in text


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (('kind = "mass"', 'kind = "torque"'), "kind"),
        (("baudrate = 19200", "baudrate = 7"), "line.baudrate"),
        (("baudrate = 19200", 'baudrate = "fast"'), "line.baudrate"),
        (('parity = "E"', 'parity = "X"'), "line.parity"),
        (("expected_hz = 5.0", "expected_hz = 0"), "rate.expected_hz"),
        (("expected_hz = 5.0", "expected_hz = nan"), "rate.expected_hz"),
        (("expected_hz = 5.0", "expected_hz = inf"), "rate.expected_hz"),
        (("expected_hz = 5.0", ""), "rate.expected_hz"),
        (('title = "Mine"', 'title = ""'), "title"),
        (('title = "Mine"', 'title = "Mine"\ncolour = 1'), "colour"),
        (('id = "mine"', 'id = "Mine"'), "id"),
        (('id = "mine"', 'id = "yours"'), "yours"),
        (("[options]", "[else]"), "else"),
        (('id = "mine"', "id = "), "Invalid value"),
        (("[rate]", "[[rate]]"), "rate"),
    ],
)
def test_a_malformed_profile_is_refused_by_field(folder, change, named):
    text = refusal(folder(GOOD.replace(*change)))
    assert "cannot be used" in text
    assert named in text


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\xff\xfe",
        b"a" * 200_000,
        b"x = " + b"[" * 12_000,
        b"x = " + b"{a=" * 5_000,
        b"a." * 7_000 + b"b = 1",
        GOOD.encode() + b"\x00",
    ],
    ids=["empty", "not text", "too large", "deep lists", "deep tables", "deep keys", "nul"],
)
def test_hostile_files_are_refused(folder, data):
    assert "cannot be used" in refusal(folder(data))


@given(st.binary(max_size=300))
@settings(max_examples=60)
def test_any_file_is_read_or_refused(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("profiles")
    (path / "mine.toml").write_bytes(GOOD.encode()[:100] + data)
    with contextlib.suppress(ProfileError):
        load_profile("mine", [path])


def test_an_unreadable_file_is_refused(folder, monkeypatch):
    folders = folder(GOOD)

    def denied(self, mode):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(profile_module.Path, "open", denied)
    assert "Permission denied" in refusal(folders)


def test_a_folder_named_like_a_profile_is_none(tmp_path):
    os.mkdir(tmp_path / "mine.toml")
    assert "mine" not in profile_ids([tmp_path])
    assert "there is no profile" in refusal([tmp_path])


def test_a_folder_that_is_not_there_is_passed_over(tmp_path):
    assert profile_ids([tmp_path / "absent"]) == profile_ids()


def test_an_unknown_driver_is_refused_when_it_is_made(folder):
    profile = load_profile("mine", folder(GOOD.replace("text_line", "telepathy")))
    with pytest.raises(DriverError, match="no driver 'telepathy'") as refused:
        profile.make_driver()
    assert "text_line" in refused.value.advice


def test_options_that_the_driver_refuses_are_named(folder):
    profile = load_profile("mine", folder(GOOD.replace("units = { g = 0.001 }", "units = {}")))
    with pytest.raises(StationError, match="units"):
        profile.make_driver()
