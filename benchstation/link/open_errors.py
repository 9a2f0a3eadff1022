"""Why a line could not be opened, in words that keep the cause and say what to do about it.

The serial library raises one class for most of it, and of what goes wrong between it and a device
server (RFC 2217) it says nothing but in its text: there is no other mark to tell these apart by.
"""

import errno
import re
import socket

import serial

from benchstation.link.ports import LinkError

MOST_CHARACTERS = 200
_REASONS = {
    errno.ENOENT: ("there is no such port", "Plug the instrument in, or choose its port again."),
    errno.EACCES: (
        "this account may not use the port",
        "On Linux add the account to the group that owns the port, often 'dialout'.",
    ),
    errno.EBUSY: ("another program uses the port", "Close the other program."),
    errno.EAGAIN: ("another program uses the port", "Close the other program."),
    errno.EISDIR: ("this is no serial port", "Choose its port again."),
    errno.ENOTTY: ("this is no serial port", "Choose its port again."),
    errno.ECONNREFUSED: ("nobody answers at this address", "Switch the device server on."),
    errno.ETIMEDOUT: ("nobody answers at this address", "Check the network and the address."),
    errno.EHOSTUNREACH: ("nobody answers at this address", "Check the network and the address."),
    errno.ENETUNREACH: ("nobody answers at this address", "Check the network and the address."),
    errno.EPIPE: (
        "the device server hung up at once",
        "Its own port may be missing or in use: look there.",
    ),
    errno.ECONNRESET: (
        "the device server hung up at once",
        "Its own port may be missing or in use: look there.",
    ),
}
_NO_NAME = ("nobody on the network has this name", "Check the name, or write the number address.")
_SERVER = (
    (
        r"timeout while waiting for option 'control'",
        "the device server answers, and does not say that it set the lines RTS and DTR",
        "Its port may have none: write ?ign_set_control behind the address.",
    ),
    (
        r"timeout while waiting for option|remote rejected value|does not accept parameter",
        "the device server answers, and does not take these line settings",
        "Set them at the server, and write socket:// in place of rfc2217://.",
    ),
    (
        r"does not seem to support RFC2217",
        "somebody answers at this address, and does not speak RFC 2217",
        "Write socket:// in place of rfc2217:// for a plain connection.",
    ),
)
"""What the library says of a device server, what that means, and what to do about it."""


def waited_for_a_server(error: Exception) -> bool:
    """Return whether the library waited in vain for an answer of a device server."""
    return any(re.search(pattern, str(error)) for pattern, _, _ in _SERVER)


def worded(url: str, error: Exception) -> LinkError:
    """Return the error of a line that could not be opened."""
    what, advice = _reason(error)
    return LinkError(f"{what}.", where=url, advice=advice, detail=repr(error))


def _reason(error: Exception) -> tuple[str, str]:
    cause: BaseException = error
    if isinstance(error, serial.SerialException) and error.errno is None:
        cause = error.__cause__ or error.__context__ or error
    if isinstance(cause, socket.gaierror):
        return _NO_NAME
    # The terminal layer's own error is no OSError and has its number in front.
    number = getattr(cause, "errno", None) or next(iter(cause.args), None)
    if isinstance(cause, TimeoutError):
        number = errno.ETIMEDOUT
    if isinstance(number, int) and number in _REASONS:
        return _REASONS[number]
    said = " ".join(str(error).split())[:MOST_CHARACTERS].rstrip(".")
    for pattern, what, advice in _SERVER:
        if re.search(pattern, said):
            return f"{what} ({said})", advice
    if isinstance(error, ValueError) and not isinstance(error, OSError):
        return f"this is no address or port: {said}", "Correct it."
    return f"the port cannot be opened: {said or repr(error)}", "Check its name and settings."
