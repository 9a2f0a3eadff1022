"""What proves a step or a unit on screen: a result that holds a moment, and the filed unit."""

from dataclasses import dataclass

from benchstation.screens.model.elements import BigNumber, Tone, TraceView


@dataclass(frozen=True, slots=True)
class MomentView:
    """A result that was just judged. ``id`` tells it from any other of the unit."""

    id: str
    title: str
    big: BigNumber
    lines: tuple[tuple[str, Tone], ...]


@dataclass(frozen=True, slots=True)
class FigureView:
    """A judged figure in its window, in display units."""

    caption: str
    number: str
    unit: str
    value: float
    low: float
    high: float
    words: str
    tone: Tone
    ends: tuple[str, ...] = ()
    """The window's lower and upper end as numbers; empty: they are not written."""


@dataclass(frozen=True, slots=True)
class ProofView:
    """A filed unit: verdict, figures, traces, what stands beside them, and its label's lines."""

    verdict: str
    standing: str
    tone: Tone
    figures: tuple[FigureView, ...]
    traces: tuple[TraceView, ...]
    lines: tuple[tuple[str, Tone], ...]
    label: tuple[str, ...]
    unit_id: str = ""
    """Whose papers are printed from here."""
