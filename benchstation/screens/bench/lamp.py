"""The stack light on the Instruments page; lamp and feed in a word wherever they are lost."""

from benchstation.bench.outputs.lamp import Lamp, Light, printable
from benchstation.bench.session import BenchSession
from benchstation.driver_api.reading import Health
from benchstation.quantities.notation import NO_VALUE
from benchstation.screens.model.bench import ReadingView
from benchstation.screens.model.elements import TermGroup, TermView, Tone
from benchstation.screens.model.instruments import InstrumentView

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


def output_notes(session: BenchSession) -> tuple[str, ...]:
    """Return a line for a lamp or a feed that is set up and lost."""
    notes = []
    if (
        session.outputs.lamp is not None
        and session.outputs.lamp.health().category is not Health.GOOD
    ):
        notes.append(f"{session.outputs.lamp.title} is lost; look at the window.")
    if session.outputs.feed is not None and session.outputs.feed.problem:
        notes.append(f"The reading feed is off: {session.outputs.feed.problem}.")
    return tuple(notes)


def lamp_view(lamp: Lamp) -> InstrumentView:
    """Return what the Instruments page shows of the lamp."""
    report, shown = lamp.health(), lamp.shown
    good = report.category is Health.GOOD
    tone = Tone.NORMAL if good else Tone.DANGER
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
    raw = tuple(f"> {printable(signal)}" for signal in lamp.recent)
    return InstrumentView("lamp", lamp.title, said, tone, reading, (TermGroup("Line", terms),), raw)
