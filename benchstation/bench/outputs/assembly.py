"""What the settings say of lamp and feed, put together with the bench that they follow."""

from collections.abc import Callable
from functools import partial

from benchstation.bench.outputs.feed import Feed, Source
from benchstation.bench.outputs.lamp import Lamp, Light, Pattern
from benchstation.bench.session import BenchSession
from benchstation.config.settings import GAUGES_PORT, LampSettings
from benchstation.devices.instrument import Instrument
from benchstation.driver_api.contract import LineSettings
from benchstation.link.output import Output, Signal, open_output
from benchstation.link.ports import LinkError
from benchstation.link.transport import Levels

TITLE = "Stack light"


def patterns_of(settings: LampSettings) -> dict[Light, Pattern]:
    """Return what stands on the port for each light."""
    if settings.text is not None:
        sent = {light: settings.text.shown(light).encode("latin-1") for light in Light}
        return {light: Pattern(command, command) for light, command in sent.items()}

    def levels(light: Light, half: str) -> Levels:
        energised = ("on", half)
        return Levels(
            None if settings.rts is None else settings.rts.shown(light) in energised,
            None if settings.dtr is None else settings.dtr.shown(light) in energised,
        )

    return {light: Pattern(levels(light, "flash"), levels(light, "")) for light in Light}


def feed_for(port: int, session: BenchSession) -> Feed:
    """Make the reading feed of this bench; it is not started."""
    sources = tuple(Source(one.instrument, one.id) for one in session.instruments)
    feed = Feed(port, session.shop.bench, session.clock, sources)
    session.watch.listeners.append(feed.tell)
    return feed


class GaugeLines:
    """The output lines of the gauge's own port, which its reader opens and closes.

    ``gauge`` gives the one that is fitted now.
    """

    def __init__(self, gauge: Callable[[], Instrument], _: Signal) -> None:
        self._gauge = gauge

    def send(self, signal: Signal) -> None:
        """Set the lines."""
        assert isinstance(signal, Levels)
        self._gauge().set_levels(signal)

    def check(self) -> None:
        """Do nothing: setting the lines again reveals a lost port."""

    def close(self) -> None:
        """Do nothing: the port belongs to the reader."""


def lamp_for(settings: LampSettings, session: BenchSession) -> Lamp:
    """Make the lamp of this bench and have the guard tell it; it is not started."""
    silent_after_s = session.gauge.instrument.silent_after_s / session.clock.pace
    made = lamp_from(settings, lambda: session.gauge.instrument, silent_after_s)
    session.watch.listeners.append(made.tell)
    return made


def lamp_from(
    settings: LampSettings, gauge: Callable[[], Instrument] | None, silent_after_s: float
) -> Lamp:
    """Make a lamp. Raises ``LinkError`` when it is on the gauge's port and there is no gauge."""
    connect: Callable[[Signal], Output] = partial(
        open_output, settings.url, LineSettings(settings.baudrate)
    )
    if settings.url == GAUGES_PORT:
        if gauge is None:
            raise LinkError("the lamp is on the gauge's port.", advice="Name that port instead.")
        connect = partial(GaugeLines, gauge)
    return Lamp(
        TITLE,
        settings.url,
        patterns_of(settings),
        connect,
        silent_after_s=silent_after_s,
        refresh_s=settings.refresh_s,
    )
