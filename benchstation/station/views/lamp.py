"""The stack light on the Instruments page, and in a word wherever it is lost."""

from benchstation.bench_view import InstrumentView, ReadingView, TermGroup, TermView, Tone
from benchstation.driver_api.reading import Health
from benchstation.station.lamp import Lamp, Light

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
    report, light = lamp.health(), lamp.light
    good = report.category is Health.GOOD
    tone = Tone.GOOD if good else Tone.DANGER
    words = (f"{_MEANING[light]}",) if good else (report.reason,)
    reading = ReadingView(
        "lamp", lamp.title, light.value, "", report.category.value, tone, words, "", not good
    )
    said = "connected" if good else f"{report.category.value}: {report.reason} {report.advice}"
    terms = (
        TermView("Port", lamp.where),
        TermView("Shows", light.value, _MEANING[light]),
        TermView("Health", report.category.value, report.reason),
        TermView("Sent", f"{lamp.sent}", "changes, and the state again for a lamp that came back"),
        TermView("Times connected", f"{lamp.connects}"),
        TermView("Try it", "benchstation devices lamp", UNPROVEN),
    )
    return InstrumentView("lamp", lamp.title, said, tone, reading, (TermGroup("Line", terms),), ())
