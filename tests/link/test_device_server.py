"""A device server of others, where the machine has one: ser2net, on one end of a joined pair."""

import shutil
import socket
import subprocess
import threading

import pytest

from benchstation.driver_api.contract import LineSettings
from benchstation.link.ports import LinkError
from benchstation.link.transport import open_transport
from tests.modbus_servers import answers, free_port, pty_pair
from tests.waiting import eventually

# pySerial 3.5 still calls Thread.setDaemon and setName.
pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")
SER2NET = shutil.which("ser2net") or shutil.which("ser2net", path="/usr/sbin")
CONNECTION = """
connection: &{name}
  accepter: {accepter},127.0.0.1,{port}
  connector: serialdev,{device},9600n81,local
"""


@pytest.fixture
def server(tmp_path):
    """RFC 2217 and plain TCP to one line, and RFC 2217 to a port that is not there."""
    if SER2NET is None:
        pytest.skip("there is no ser2net here")
    with pty_pair(tmp_path) as (ours, theirs):
        ports = {name: free_port() for name in ("rfc2217", "plain", "missing")}
        text = "".join(
            CONNECTION.format(
                name=name,
                accepter="tcp" if name == "plain" else "telnet(rfc2217),tcp",
                port=port,
                device="/dev/no-such-port" if name == "missing" else theirs,
            )
            for name, port in ports.items()
        )
        (tmp_path / "ser2net.yaml").write_text(text, "utf-8")
        process = subprocess.Popen(
            [SER2NET, "-n", "-c", str(tmp_path / "ser2net.yaml")],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            eventually(lambda: answers(ports["missing"]))
            yield ours, ports
        finally:
            process.terminate()
            process.wait(5.0)


def test_a_line_behind_a_device_server(server):
    ours, ports = server
    far = open_transport(ours, LineSettings())
    near = open_transport(f"rfc2217://127.0.0.1:{ports['rfc2217']}?ign_set_control", LineSettings())
    far.write(b"ST,NT,+00123.45  g\r\n")
    came = []
    eventually(lambda: came.append(near.read()) or b"".join(came).endswith(b"\n"))
    assert b"".join(came) == b"ST,NT,+00123.45  g\r\n"
    near.write(b"T\r\n")
    came.clear()
    eventually(lambda: came.append(far.read()) or b"".join(came) == b"T\r\n")
    near.close()
    far.close()


# Where the server hangs up at once, pySerial forgets its socket instead of closing it.
@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
@pytest.mark.parametrize(
    ("scheme", "name", "cause"),
    [
        # A pseudo-terminal has no such lines, so the server never confirms them.
        ("rfc2217", "rfc2217", "timeout while waiting for option 'control'"),
        ("rfc2217", "plain", "does not speak RFC 2217"),
        ("rfc2217", "missing", "the device server hung up at once"),
    ],
)
def test_what_goes_wrong_with_it_is_said(server, scheme, name, cause):
    _, ports = server
    with pytest.raises(LinkError) as refused:
        open_transport(f"{scheme}://127.0.0.1:{ports[name]}", LineSettings())
    assert cause in refused.value.what
    assert "name" not in refused.value.advice


@pytest.mark.parametrize("first", [b"", b"\xff\xfd\x2cno such port\r\n"])
def test_a_server_that_hangs_up_once_it_was_asked_is_no_plain_one(first):
    """It closes the line when all was read: nothing breaks, and nobody ever answers."""
    with socket.create_server(("127.0.0.1", 0)) as listening:

        def serve():
            for _ in range(2):
                connection, _ = listening.accept()
                with connection:
                    connection.sendall(first)
                    connection.shutdown(socket.SHUT_WR)
                    while connection.recv(4096):
                        pass

        serving = threading.Thread(target=serve, daemon=True)
        serving.start()
        with pytest.raises(LinkError, match="the device server hung up at once"):
            open_transport(f"rfc2217://127.0.0.1:{listening.getsockname()[1]}", LineSettings())
        serving.join(10.0)
    assert not serving.is_alive()
