"""Ports: the identity stays with the device, and the name may move."""

from types import SimpleNamespace

import pytest

from benchstation.driver_api.contract import LineSettings
from benchstation.link import ports as module
from benchstation.link.ports import LinkError, find, ports, resolve
from benchstation.link.statistics import LinkState
from benchstation.link.transport import open_transport
from tests.link.conftest import Sender
from tests.waiting import eventually


def plugged(name, vid=0x1A2B, pid=0x3C4D, serial="A1", location="1-2"):
    return SimpleNamespace(
        device=name, vid=vid, pid=pid, serial_number=serial, location=location, description="Port"
    )


@pytest.fixture
def plug(monkeypatch):
    """Say which ports there are."""

    def say(*found):
        monkeypatch.setattr(module.list_ports, "comports", lambda: list(found))

    say()
    return say


def test_identities(plug):
    plug(
        plugged("/dev/p2", serial=None),
        plugged("/dev/p1"),
        plugged("/dev/p3", vid=None, pid=None, serial=None),
        plugged("/dev/p4", serial=None, location=None),
    )
    assert [(port.name, port.identity) for port in ports()] == [
        ("/dev/p1", "usb:1a2b:3c4d:A1"),
        ("/dev/p2", "usb:1a2b:3c4d@1-2"),
        ("/dev/p3", ""),
        ("/dev/p4", ""),
    ]
    assert [port.stable_url for port in ports()][::2] == ["usb:1a2b:3c4d:A1", "/dev/p3"]


def test_a_serial_number_may_hold_colons(plug):
    plug(plugged("/dev/p1", serial="00:11:22"))
    assert resolve("usb:1A2B:3C4D:00:11:22") == "/dev/p1"


def test_the_path_that_stays_is_found(plug, tmp_path, monkeypatch):
    port = tmp_path / "port"
    port.touch()
    links = tmp_path / "by-id"
    links.mkdir()
    (links / "usb-thing").symlink_to(port)
    (links / "usb-other").symlink_to(tmp_path)
    monkeypatch.setattr(module, "BY_ID", links)
    plug(plugged(str(port), vid=None, pid=None))
    (found,) = ports()
    assert found.by_id == found.stable_url == str(links / "usb-thing")
    assert find(found.by_id) == find(str(port)) == found
    assert find("/dev/elsewhere") is None


@pytest.mark.parametrize("url", ["/dev/ttyS0", "COM3", "socket://bench:4001", "loop://"])
def test_anything_but_an_identity_is_left_alone(url):
    assert resolve(url) == url


@pytest.mark.parametrize("url", ["usb:", "usb:12:34:A", "usb:1a2b:3c4d", "usb:zzzz:3c4d:A1"])
def test_an_identity_that_is_none(plug, url):
    with pytest.raises(LinkError, match="no identity"):
        resolve(url)


def test_not_plugged_in(plug):
    plug(plugged("/dev/p1", serial="B2"))
    with pytest.raises(LinkError, match="not plugged in") as refused:
        open_transport("usb:1a2b:3c4d:A1", LineSettings())
    assert refused.value.advice


def test_two_devices_of_one_identity_are_not_guessed_between(plug):
    plug(plugged("/dev/p1"), plugged("/dev/p2"))
    with pytest.raises(LinkError, match="/dev/p1, /dev/p2"):
        resolve("usb:1a2b:3c4d:A1")


def test_the_device_is_found_again_under_another_name(plug, serve_pty, read):
    """Unplugged and put into another socket: the port's name moves, the reading goes on."""
    first, second = serve_pty(Sender()), serve_pty(Sender())
    plug(plugged(first.url))
    reader, watch = read("usb:1a2b:3c4d:A1")
    eventually(lambda: watch.readings)
    plug()
    first.unplug()
    eventually(lambda: reader.state is LinkState.LOST)
    eventually(lambda: "not plugged in" in watch.words)
    count = len(watch.readings)
    plug(plugged(second.url))
    eventually(lambda: len(watch.readings) > count)
    assert reader.state is LinkState.LIVE


def test_the_ports_of_this_machine_can_be_listed():
    assert all(port.name for port in ports())


@pytest.mark.parametrize("said", [None, "n/a"])
def test_a_port_that_says_nothing_has_no_description(plug, said):
    found = plugged("/dev/ttyS0")
    found.description = said
    plug(found)
    assert [port.description for port in module.ports()] == [""]
