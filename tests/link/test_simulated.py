"""What can be no device by its address: recordings, loops, terminals, programs on this computer."""

import os
import pty
import socket

import pytest

from benchstation.link.simulated import Simulated, simulated


@pytest.mark.parametrize(
    ("url", "what"),
    [
        ("replay:/data/scale.rec", Simulated.RECORDING),
        ("REPLAY:/data/scale.rec", Simulated.RECORDING),
        (" replay:scale.rec", Simulated.RECORDING),
        ("loop://", Simulated.LOOP),
        ("loop://?logging=debug", Simulated.LOOP),
        ("spy://loop://", Simulated.LOOP),
        ("socket://127.0.0.1:4001", Simulated.PROGRAM),
        ("socket://127.8.9.1:4001", Simulated.PROGRAM),
        ("socket://localhost:4001", Simulated.PROGRAM),
        ("socket://LOCALHOST.:4001", Simulated.PROGRAM),
        ("socket://[::1]:4001", Simulated.PROGRAM),
        ("socket://0.0.0.0:4001", Simulated.PROGRAM),
        ("rfc2217://127.0.0.1:4001", Simulated.PROGRAM),
        (f"socket://{socket.gethostname()}:4001", Simulated.PROGRAM),
        ("/dev/pts/7", Simulated.TERMINAL),
        ("//./CNCA0", Simulated.TERMINAL),
        ("CNCB1", Simulated.TERMINAL),
        # 192.0.2.0/24 is nobody's own: RFC 5737.
        ("socket://192.0.2.17:4001", None),
        ("rfc2217://192.0.2.17:4001", None),
        ("socket://gauge-server:4001", None),
        ("/dev/ttyUSB0", None),
        ("COM7", None),
        ("usb:0403:6001:A9", None),
        ("", None),
        ("socket://[::1", None),
    ],
)
def test_the_address_tells(url, what):
    assert simulated(url) == what


def test_a_name_that_leads_to_a_pseudo_terminal_is_one(tmp_path):
    master, slave = pty.openpty()
    link = tmp_path / "ttyUSB0"
    link.symlink_to(os.ttyname(slave))
    try:
        assert simulated(str(link)) is Simulated.TERMINAL
    finally:
        os.close(master)
        os.close(slave)
