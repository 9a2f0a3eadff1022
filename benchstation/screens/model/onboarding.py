"""What a screen shows while an instrument, or a whole bench, is brought in: plain frozen values."""

from collections.abc import Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Protocol

from benchstation.screens.model.elements import (
    ActionView,
    BigNumber,
    FieldView,
    StepView,
    TermGroup,
    Tone,
)
from benchstation.screens.model.lists import ListRow


@dataclass(frozen=True, slots=True)
class ChoiceRow:
    """One of several to choose from: a port, or a profile. Its ``key`` goes back as ``row``."""

    key: str
    title: str
    words: str
    state: str = ""
    tone: Tone = Tone.QUIET

    @property
    def line(self) -> ListRow:
        """Return the row as the list shows it."""
        below = (self.words,) if self.words else ()
        return ListRow(self.key, self.title, below, self.state, self.tone)


@dataclass(frozen=True, slots=True)
class CardView:
    """A way to go on that needs a few words: what it means, and its action."""

    title: str
    words: str
    action: ActionView


@dataclass(frozen=True, slots=True)
class FrameLine:
    """One frame, a character for each byte, and what comes of it."""

    key: str
    text: str
    words: str
    fits: bool


@dataclass(frozen=True, slots=True)
class FramesView:
    """Frames as they were heard. ``ruler`` says over each column what it is marked as.

    What a person chooses in them goes back as ``frame``, its key, and columns ``from`` and ``to``.
    """

    ruler: str
    lines: tuple[FrameLine, ...]


@dataclass(frozen=True, slots=True)
class AddingView:
    """One moment of it: where it stands, and what can be done about it."""

    step_id: str
    """Changes with the question: the form is then a new one."""
    title: str
    instruction: str
    steps: tuple[StepView, ...] = ()
    lines: tuple[tuple[str, Tone], ...] = ()
    """Words with their meaning, most important first."""
    big: BigNumber | None = None
    rows_name: str = ""
    rows: tuple[ChoiceRow, ...] = ()
    row: str = ""
    """The key of the row that is chosen at first."""
    raw_lines: tuple[str, ...] = ()
    """Bytes as they came, in hexadecimal and as text, newest last."""
    frames: FramesView | None = None
    groups: tuple[TermGroup, ...] = ()
    fields: tuple[FieldView, ...] = ()
    cards: tuple[CardView, ...] = ()
    actions: tuple[ActionView, ...] = ()
    busy: bool = False


class OnboardingService(Protocol):
    """Where an instrument is brought in. Both methods return at once."""

    def adding(self) -> AddingView | None:
        """Return the present moment; ``None`` when nothing is being brought in."""

    def adding_act(self, action: str, fields: Mapping[str, str]) -> Future[str]:
        """Do an action (``begin`` is the first); gives a sentence, or a ``StationError``.

        ``fields`` are the form's, and ``row`` is the key of the row that is chosen.
        """
