"""Whether what speaks on a line can be a device at all, by its address alone.

A recording, a line that hears itself, a pseudo-terminal and an address of this computer are
answered by programs. A simulator on another computer cannot be told from a device server there.
"""

import ipaddress
import re
import socket
from contextlib import suppress
from enum import StrEnum
from pathlib import Path
from urllib.parse import urlsplit

from benchstation.link.ports import LinkError, resolve
from benchstation.link.recording import REPLAY

_TERMINALS = re.compile(r"/dev/(pts/|pty|ttyp)")
_PAIRED = re.compile(r"(//\./)?CNC[AB]\d+", re.IGNORECASE)
"""Ports that a driver of a null-modem pair makes, under the names it gives."""
_WRAPPED = "spy://"


class Simulated(StrEnum):
    """What speaks in a device's place."""

    RECORDING = "recording"
    LOOP = "loop"
    TERMINAL = "terminal"
    PROGRAM = "program"


def simulated(url: str) -> Simulated | None:
    """Return what speaks there in a device's place; ``None``: nothing says that it is no device."""
    url = url.strip().removeprefix(_WRAPPED)
    if url.casefold().startswith(REPLAY):
        return Simulated.RECORDING
    if url.casefold().startswith("loop://"):
        return Simulated.LOOP
    if "://" in url:
        return Simulated.PROGRAM if _is_here(url) else None
    return Simulated.TERMINAL if _is_terminal(url) else None


def _is_terminal(name: str) -> bool:
    # One that is not plugged in now is judged by its name.
    leads_to = name
    with suppress(LinkError, OSError, ValueError, RuntimeError):
        leads_to = str(Path(resolve(name)).resolve())
    return bool(_TERMINALS.match(leads_to) or _PAIRED.fullmatch(name))


def _is_here(url: str) -> bool:
    """Return True for an address of this computer; a name is looked up nowhere."""
    try:
        host = (urlsplit(url).hostname or "").rstrip(".")
    except ValueError:
        return False
    if host in ("localhost", "localhost.localdomain", socket.gethostname().casefold()):
        return True
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return False
    return address.is_loopback or address.is_unspecified or _can_bind(address)


def _can_bind(address: ipaddress.IPv4Address | ipaddress.IPv6Address) -> bool:
    family = socket.AF_INET if address.version == 4 else socket.AF_INET6
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.bind((str(address), 0))
    except OSError:
        return False
    return True
