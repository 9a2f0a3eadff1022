"""What the Instruments page shows of one instrument, as plain frozen values."""

from dataclasses import dataclass

from benchstation.screens.model.bench import ReadingView
from benchstation.screens.model.elements import ActionView, FieldView, TermGroup, Tone


@dataclass(frozen=True, slots=True)
class InstrumentView:
    """One instrument on the Instruments page."""

    role: str
    title: str
    link: str
    """The link's state in words, with advice when it is not live."""
    tone: Tone
    reading: ReadingView
    groups: tuple[TermGroup, ...]
    raw_lines: tuple[str, ...]
    """The last frames as printable text, newest last; rejected ones are marked."""
    actions: tuple[ActionView, ...] = ()
    fields: tuple[FieldView, ...] = ()
    """What the actions take, such as the check weight's nominal."""
    id: str = ""
    """By this name the records know it; empty for what measures nothing."""
    recall: tuple[ActionView, ...] = ()
    """Actions that go to the records of its units."""
