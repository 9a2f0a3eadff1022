"""The serial ports of this machine, and which of them a device is plugged into now.

A port's name is given by the order of plugging in; an identity is the device's own. An identity is
``usb:VID:PID:SERIAL``, or ``usb:VID:PID@PLACE`` for a device without a serial number: then it is
the socket it is plugged into. VID and PID are four hexadecimal digits.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from serial.tools import list_ports

from benchstation.driver_api.errors import StationError

BY_ID = Path("/dev/serial/by-id")
USB = "usb:"
NOT_SAID = "n/a"
"""What the library gives where a port says nothing of itself."""
_IDENTITY = re.compile(r"usb:([0-9a-f]{4}):([0-9a-f]{4})(?::(.{1,200})|@(.{1,200}))", re.IGNORECASE)


class LinkError(StationError):
    """A line cannot be opened, or was lost."""


@dataclass(frozen=True, slots=True)
class Port:
    """One serial port: its name today, its identity, a stable path, and what it says it is."""

    name: str
    identity: str = ""
    by_id: str = ""
    description: str = ""

    @property
    def stable_url(self) -> str:
        """Return what to put into settings: the identity, a lasting path, or else the name."""
        return self.identity or self.by_id or self.name


def ports() -> list[Port]:
    """Return the serial ports of this machine. May take seconds on some machines."""
    return [
        Port(
            name=found.device,
            identity=_identity(found),
            by_id=_by_id(found.device),
            description="" if found.description in (None, NOT_SAID) else found.description,
        )
        for found in sorted(list_ports.comports(), key=lambda port: str(port.device))
    ]


def find(url: str) -> Port | None:
    """Return the port that a name, path or identity means now, ``None`` when there is none."""
    for port in ports():
        if url in (port.name, port.by_id) or url.lower() == port.identity.lower():
            return port
    return None


def resolve(url: str) -> str:
    """Return the name that an identity has now; anything else is given back.

    Raises :class:`LinkError` for an identity that is none, is not plugged in, or is not one device.
    """
    if not url.lower().startswith(USB):
        return url
    if not _IDENTITY.fullmatch(url):
        raise LinkError(
            "this is no identity of an instrument.",
            where=url,
            advice="It looks like usb:VID:PID:SERIAL or usb:VID:PID@PLACE; see the list of ports.",
        )
    names = [port.name for port in ports() if port.identity.lower() == url.lower()]
    if not names:
        raise LinkError("the instrument is not plugged in.", where=url, advice="Plug it in.")
    if len(names) > 1:
        raise LinkError(
            f"{len(names)} instruments have this identity: {', '.join(names)}.",
            where=url,
            advice="Name the port itself, or unplug the other instrument.",
        )
    return names[0]


def _identity(found: Any) -> str:
    if found.vid is None or found.pid is None:
        return ""
    head = f"{USB}{found.vid:04x}:{found.pid:04x}"
    if found.serial_number:
        return f"{head}:{found.serial_number}"
    return f"{head}@{found.location}" if found.location else ""


def _by_id(name: str, links: Iterable[Path] | None = None) -> str:
    """Return the path that stays with the device, where the system keeps one."""
    try:
        found: Sequence[Path] = sorted(BY_ID.iterdir() if links is None else links)
        here = Path(name).resolve()
        return next((str(link) for link in found if link.resolve() == here), "")
    except OSError:
        return ""
