"""What every page is made of, as plain frozen values: text ready to draw, numbers as displayed.

The screens build these; the window draws them and holds no judgement of its own. Every text is
plain text: it may come from a device or a person and is never rich text.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from benchstation.domain.form_fields import AT as AT
from benchstation.domain.form_fields import SIGNATURE as SIGNATURE
from benchstation.domain.people import TEXTS as TEXTS
from benchstation.domain.photo_size import LARGEST_BYTES as LARGEST_BYTES
from benchstation.domain.photo_size import why_not_drawn as why_not_drawn

FloatArray = NDArray[np.float64]


class Tone(StrEnum):
    """Meaning of a text or mark, after IEC 60073; a shape and a word always go with it."""

    QUIET = "quiet"
    PLAIN = "plain"
    NORMAL = "normal"
    """As it should be, and no more is said of it: grey."""
    GOOD = "good"
    """A judged pass, and nothing else: green."""
    CAUTION = "caution"
    DANGER = "danger"
    MANDATORY = "mandatory"


class StepState(StrEnum):
    """Where a step of the route stands."""

    DONE = "done"
    DIFFERS = "done, differs"
    """Done, and not as it should be: a fail, a deviation, a declaration or a hold stands in it."""
    NOW = "now"
    WAITING = "waiting"
    REDO = "redo"


@dataclass(frozen=True, slots=True)
class StepView:
    """One line of the route."""

    id: str
    title: str
    state: StepState
    evidence: str
    hold_point: bool


class FieldKind(StrEnum):
    """How a field is filled in."""

    TEXT = "text"
    QUANTITY = "quantity"
    CHOICE = "choice"
    CHECK = "check"
    PIN = "pin"
    LINES = "lines"
    STACK = "stack"
    PHOTO = "photo"


@dataclass(frozen=True, slots=True)
class DiscView:
    """Equal discs on each other, m; ``mark`` is ``same``, ``added`` or ``changed``."""

    outer: float
    thickness: float
    count: int
    mark: str = "same"


@dataclass(frozen=True, slots=True)
class StackView:
    """A disc stack as its field's text says, from the piston, and what is to be said of it."""

    discs: tuple[DiscView, ...]
    widest: float
    """What the width of the drawing stands for, m."""
    hub: float
    lines: tuple[tuple[str, Tone], ...]
    specified: tuple[DiscView, ...] = ()
    """What it is laid beside; empty where nothing is specified."""


@dataclass(frozen=True, slots=True)
class PhotoView:
    """A photograph on record: its file's bytes, and a line about it."""

    sha256: str
    words: str
    data: bytes = field(default=b"", compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Narrowed:
    """What a choice offers while another field has the value ``by``."""

    by: str
    choices: tuple[tuple[str, str], ...]
    hint: str = ""


@dataclass(frozen=True, slots=True)
class FieldView:
    """One field of a step's form. Its text goes back by ``id``; a check gives ``yes`` or empty.

    The text of a ``STACK`` is JSON: rows of diameter, thickness and count as typed, mm; its
    ``choices`` are such texts to start from. The text of a ``PHOTO`` is the path of a chosen file.
    """

    id: str
    label: str
    kind: FieldKind
    value: str = ""
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    """Pairs of (value, text shown)."""
    stack: StackView | None = None
    photos: tuple[PhotoView, ...] = ()
    looks_up: str = ""
    """An action that is done when Enter ends this field; it may fill the others."""
    narrowed_by: str = ""
    """The field whose value says what this choice offers; ``choices`` and ``hint`` are for none."""
    narrowed: tuple[Narrowed, ...] = ()
    scanned: bool = False
    """A scan of one of its choices chooses it, wherever the keyboard is."""
    only_with: str = ""
    """The check without whose tick this field is neither shown nor filled in."""


YOUR_PIN = FieldView(SIGNATURE, "Your PIN", FieldKind.PIN, hint="signs it")
"""The field of a form that is signed."""


@dataclass(frozen=True, slots=True)
class ActionView:
    """One action on a key. A disabled one says why in words."""

    id: str
    label: str
    key: str
    enabled: bool = True
    why_not: str = ""
    primary: bool = False
    needs_reason: bool = False
    """The window asks for a reason in words and sends it as the field ``reason``."""
    needs_pin: bool = False
    """The window asks for the PIN of whoever is signed in and sends it as ``SIGNATURE``."""
    does: str = ""
    """What the bench calls it, where the window's page made it or gives it another name."""
    asks: str = ""
    """What is asked for where the words wanted are no reason."""
    aside: bool = False
    """Stands in the drawer where the others leave it no place beside the primary action."""


def permitted(
    actions: tuple[ActionView, ...], barred: Mapping[str, str], *, by_id: bool = False
) -> tuple[ActionView, ...]:
    """Take from actions what the person may not do, with the words why.

    ``barred`` has those words by the bench's names; ``by_id``: an action's id is such a name.
    """

    def one(action: ActionView) -> ActionView:
        why = barred.get(action.does or (action.id if by_id else ""), "")
        return replace(action, enabled=False, why_not=why) if why else action

    return tuple(map(one, actions))


@dataclass(frozen=True, slots=True)
class TermView:
    """One term of the computation: what, how much, and where it comes from."""

    label: str
    value: str
    source: str = ""
    strong: bool = False


@dataclass(frozen=True, slots=True)
class TermGroup:
    """Terms that belong together."""

    title: str
    terms: tuple[TermView, ...]
    heading: str = ""
    """Stands over all groups, in place of what stands there at a step."""


@dataclass(frozen=True, slots=True)
class BigNumber:
    """The one number that matters now."""

    caption: str
    number: str
    unit: str
    tone: Tone
    stale: bool = False
    spread: str = ""
    """Its expanded uncertainty in words, such as ``U 0.15 g``, where one is known."""


@dataclass(frozen=True, slots=True)
class LaneView:
    """A bar with an accept window, in display units. ``landing``: where it will end."""

    title: str
    unit: str
    low: float
    high: float
    value: float | None
    accept_low: float | None
    accept_high: float | None
    landing: float | None = None
    marks: tuple[tuple[str, float, Tone], ...] = ()
    landing_u: float = 0.0
    """The expanded uncertainty of ``landing``, drawn on both sides of it."""


@dataclass(frozen=True, slots=True, eq=False)
class TraceView:
    """A trace in display units, against seconds: before now (negative to 0), or from its begin.

    Two are equal only when they are the same: arrays of samples are not compared.
    """

    title: str
    unit: str
    seconds: FloatArray
    values: FloatArray
    span_s: float
    marks: tuple[tuple[str, float, Tone], ...] = ()
    band: tuple[float, float] | None = None
    """The window to end in."""
    forecast: tuple[FloatArray, FloatArray] | None = None
    """Seconds after now and values, where it is known how it goes on."""
    band_tone: Tone = Tone.GOOD
    """What the window means: green only where the unit may look good."""


@dataclass(frozen=True, slots=True)
class CurveView:
    """Curves over one axis, in display units. ``marks`` are levels: text, value, tone."""

    title: str
    x_label: str
    x: FloatArray
    lines: tuple[tuple[str, Tone, FloatArray], ...]
    marks: tuple[tuple[str, float, Tone], ...] = ()


@dataclass(frozen=True, slots=True)
class TaskView:
    """The middle of the page: what to do now."""

    step_id: str
    title: str
    instruction: str
    cautions: tuple[str, ...] = ()
    big: BigNumber | None = None
    lines: tuple[tuple[str, Tone], ...] = ()
    """Words beside the number, most important first ("slow down")."""
    lanes: tuple[LaneView, ...] = ()
    trace: TraceView | None = None
    fields: tuple[FieldView, ...] = ()
    actions: tuple[ActionView, ...] = ()
    urge: float = 0.0
    """How close the pour is to its target, 0..1, for the tone that quickens."""
