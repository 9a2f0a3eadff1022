"""The stack light on the Instruments page, and in a word wherever it is lost."""

from benchstation.bench_view import InstrumentView, ReadingView, TermGroup, TermView, Tone
from benchstation.driver_api.reading import Health
from benchstation.link.output import Signal
from benchstation.station.lamp import Lamp, Light
from benchstation.units import NO_VALUE

_MEANING = {
    Light.NORMAL: "nothing is open",
    Light.WARNING: "the high warning, unacknowledged",
    Light.ALARM: "the limit or the signal, unacknowledged",
    Light.ACKNOWLEDGED: "what is open has been acknowledged",
    Light.LOST: "the pressure or the guard is not known: fail-safe side",
}
UNPROVEN = (
    "It warns beside the window and is no safety device. Whether it gives light is not known."
)


def lamp_note(lamp: Lamp | None) -> str:
    """Say in a line that the lamp shows nothing; empty while it does, or there is none."""
    if lamp is None or lamp.health().category is Health.GOOD:
        return ""
    return f"{lamp.title} is lost; look at the window."


def lamp_view(lamp: Lamp) -> InstrumentView:
    """Give what the Instruments page shows of the lamp."""
    report, shown = lamp.health(), lamp.shown
    good = report.category is Health.GOOD
    tone = Tone.GOOD if good else Tone.DANGER
    number = shown.value if good and shown else NO_VALUE
    said = "connected" if good else f"{report.category.value}: {report.reason} {report.advice}"
    reading = ReadingView(
        "lamp", "Shows", number, "", report.category.value, tone, (), "", stale=False
    )
    terms = (
        TermView("Port", lamp.where),
        TermView("Shows", number, _MEANING[shown] if shown else ""),
        TermView("Health", report.category.value, report.reason),
        TermView("Sent", f"{lamp.sent}", "changes, and the state again for a lamp that came back"),
        TermView("Times connected", f"{lamp.connects}"),
        TermView("Try it", "benchstation devices lamp", UNPROVEN),
    )
    raw = tuple(f"> {_words(signal)}" for signal in lamp.recent)
    return InstrumentView("lamp", lamp.title, said, tone, reading, (TermGroup("Line", terms),), raw)


def _words(signal: Signal) -> str:
    if isinstance(signal, bytes):
        return repr(signal)[2:-1]
    lines = (("RTS", signal.rts), ("DTR", signal.dtr))
    return ", ".join(f"{name} {'on' if on else 'off'}" for name, on in lines if on is not None)
