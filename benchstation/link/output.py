"""A port that is only written to: its lines RTS and DTR are set, or it takes commands."""

from typing import Protocol

from benchstation.driver_api.contract import LineSettings
from benchstation.link.transport import Levels, Transport, open_transport

Signal = Levels | bytes
"""What is shown: how the lines stand, or a command."""


class Output(Protocol):
    """What a signal is sent to. Every method may raise whatever a lost port raises."""

    def send(self, signal: Signal) -> None:
        """Show a signal."""

    def check(self) -> None:
        """Raise when the port is gone; what the device says is thrown away."""

    def close(self) -> None:
        """Close the port."""


class PortOutput:
    """An output on a port of its own."""

    def __init__(self, transport: Transport) -> None:
        self._transport = transport

    def send(self, signal: Signal) -> None:
        """Set the lines, or write the command."""
        if isinstance(signal, Levels):
            self._transport.set_levels(signal)
        else:
            self._transport.write(signal)

    def check(self) -> None:
        """Raise when the port is gone."""
        self._transport.discard()

    def close(self) -> None:
        """Close the port."""
        self._transport.close()


def open_output(url: str, line: LineSettings, first: Signal) -> Output:
    """Open a port whose lines stand as ``first`` has them. Raises ``LinkError`` in words."""
    levels = first if isinstance(first, Levels) else None
    return PortOutput(open_transport(url, line, levels))
