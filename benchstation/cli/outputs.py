"""``benchstation devices lamp`` and ``devices feed``: try what the bench puts out.

The lamp's port belongs to one program: close the window first. The feed is read beside it.
"""

import math
import socket
import time
from collections.abc import Callable
from typing import Any

from benchstation.bench.outputs.assembly import lamp_from
from benchstation.bench.outputs.lamp import Lamp, Light
from benchstation.config.settings import GAUGES_PORT, LampSettings, Settings, load_settings
from benchstation.driver_api.errors import StationError

Say = Callable[[str], None]
Ask = Callable[[str], str]
OPEN_WITHIN_S = 5.0
LONGEST_LINE = 65_536
LOOKS = {
    Light.NORMAL: "all is normal",
    Light.WARNING: "the high warning",
    Light.ALARM: "the limit, unacknowledged",
    Light.ACKNOWLEDGED: "an alarm that was acknowledged",
    Light.LOST: "loss: the fail-safe side, also at the end of the program",
}
LOOK_AT = "does it show {what}? y: yes, n: no, q: stop here > "
NO_SAFETY_DEVICE = "The lamp warns beside the window. It is no safety device."
"""Said before every trial."""


class OutputCommandError(StationError):
    """A lamp or feed cannot be tried."""


def add_parsers(parts: Any) -> None:
    """Add both to the sub-parsers of ``devices``."""
    said = "step the stack light through its states and confirm each"
    parts.add_parser("lamp", help=said, description=f"{said.capitalize()}. {NO_SAFETY_DEVICE}")
    parts.add_parser("feed", help="print the reading feed of the bench that runs here")


def try_lamp(say: Say, ask: Ask = input, load: Callable[[], Settings] = load_settings) -> bool:
    """Show one state after the other; gives whether a person confirmed them all."""
    bench = load()
    settings = bench.lamp
    if settings is None:
        raise OutputCommandError(
            "no stack light is set up.", advice="See [bench.lamp] in 'set-up --example'."
        )
    if settings.url == GAUGES_PORT:
        if not bench.gauges_in_path:
            raise OutputCommandError("the lamp is on the gauge's port, and there is no gauge.")
        settings = settings.model_copy(update={"url": bench.gauges_in_path[0].url})
    say(NO_SAFETY_DEVICE)
    lamp = lamp_from(settings, None, math.inf)
    lamp.start()
    try:
        return _step(lamp, settings, say, ask)
    finally:
        lamp.close()
        say(f"left at the fail-safe side: {_words(settings, Light.LOST)}")


def read_feed(say: Say, load: Callable[[], Settings] = load_settings) -> None:
    """Print the feed's lines until it ends."""
    port = load().feed_port
    if port is None:
        raise OutputCommandError(
            "the reading feed is off.", advice="Set feed_port; see 'set-up --example'."
        )
    try:
        with (
            socket.create_connection(("127.0.0.1", port), OPEN_WITHIN_S) as connection,
            connection.makefile("rb") as lines,
        ):
            connection.settimeout(None)
            while line := lines.readline(LONGEST_LINE):
                say(line.decode("ascii", "backslashreplace").rstrip())
    except OSError as error:
        raise OutputCommandError(
            "the reading feed cannot be read.",
            where=f"port {port}",
            advice="Open the window on this bench first.",
            detail=repr(error),
        ) from error
    say("the feed ended")


def _step(lamp: Lamp, settings: LampSettings, say: Say, ask: Ask) -> bool:
    wrong = []
    for light, what in LOOKS.items():
        lamp.show(light)
        end = time.monotonic() + OPEN_WITHIN_S
        while lamp.shown is not light and time.monotonic() < end:
            time.sleep(0.02)
        if lamp.shown is not light:
            report = lamp.health()
            raise OutputCommandError(report.reason, where=settings.url, advice=report.advice)
        say(f"{light}: {_words(settings, light)}")
        answer = _answer(ask, LOOK_AT.format(what=what))
        if answer == "q":
            say("stopped; the rest was not tried")
            return False
        if answer == "n":
            wrong.append(light.value)
    said = f"NOT confirmed: {', '.join(wrong)}" if wrong else "all states were confirmed"
    say(said)
    return not wrong


def _answer(ask: Ask, question: str) -> str:
    while True:
        try:
            given = ask(question).strip().lower()[:1]
        except EOFError:
            return "q"
        if given in ("y", "n", "q"):
            return given


def _words(settings: LampSettings, light: Light) -> str:
    """Return what stands on the port."""
    if settings.text is not None:
        return f"sends {settings.text.shown(light)!r}"
    lines = (("RTS", settings.rts), ("DTR", settings.dtr))
    return ", ".join(f"{name} {line.shown(light)}" for name, line in lines if line is not None)
