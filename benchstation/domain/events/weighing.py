"""Oil weighed into a unit: tares, captured masses, methods, lots, and their judgement."""

from dataclasses import dataclass, field
from typing import ClassVar

from pydantic import ConfigDict

from benchstation.domain.events.base import UnitEvent
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.recorded_parts import BudgetPart, ReadByHand
from benchstation.domain.statements import Statement, Undone


@dataclass(frozen=True, slots=True)
class UnweighedUndone:
    """A person's word that oil which no mass held was undone before a tare, and why it was due."""

    __pydantic_config__: ClassVar[ConfigDict] = ConfigDict(extra="forbid")
    statements: tuple[Undone, ...]
    reasons: tuple[Statement, ...]
    confirmed_by: str


@dataclass(frozen=True, slots=True)
class TareProven(UnitEvent):
    """The tared scale stood steady near zero; ``emptied`` is what a person confirmed before.

    ``load_kg`` is what was tared away, counted from the unit's first tare on this scale, and
    ``method`` how oil is weighed, which says what stood there; ``None``: not written.
    ``contradicted_kg`` was on the scale beside what should be when a deviation accepted the word.
    """

    kind: ClassVar[str] = "weigh.tared"
    form: ClassVar[int] = 2
    step_id: str
    instrument_id: str
    mean_kg: float
    std_kg: float
    count: int
    raw: str
    purpose: str = ""
    emptied: UnweighedUndone | None = None
    method: str = ""
    load_kg: float | None = None
    contradicted_kg: float | None = None


@dataclass(frozen=True, slots=True)
class ScaleChosen(UnitEvent):
    """The scale that a step weighs on from now on, where the bench has several.

    ``why`` and the values of ``against``, by the id of each scale that would not do, are codes of
    ``scale_choice``; ``load_kg`` is about what it must bear. A mass says itself what weighed it.
    """

    kind: ClassVar[str] = "weigh.scale_chosen"
    step_id: str
    scale_id: str
    why: str
    load_kg: float
    against: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class TareLost(UnitEvent):
    """The tare no longer holds (plug pulled, unit key, restart): it must be proven again.

    ``uncaptured_kg`` was moved since the last capture and is in no record; 0: none, or not known.
    """

    kind: ClassVar[str] = "weigh.tare_lost"
    form: ClassVar[int] = 2
    step_id: str
    reason: Statement
    uncaptured_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class OilUnweighed(UnitEvent):
    """Oil may have been moved that no mass holds: no tare counts until somebody has undone it.

    ``seen_empty_kg`` is the load that stood steady on the scale ``scale_id`` just before, counted
    as the load of a tare is: what is there more may be weighed. ``None``: it was not seen.
    """

    kind: ClassVar[str] = "weigh.unweighed"
    form: ClassVar[int] = 3
    step_id: str
    purpose: str
    reason: Statement
    about_kg: float | None = None
    seen_empty_kg: float | None = None
    scale_id: str = ""


@dataclass(frozen=True, slots=True)
class MassCaptured(UnitEvent):
    """A net mass as shown, not true mass: pour, topup, bleed or spill; or the unit ``before``.

    ``portion`` numbers what was weighed since one tare; its last capture counts, and portions add.
    ``again``: what was captured of this purpose and lot before counts no more. ``by_hand`` says who
    confirmed a mass that was typed, and what it was read on; ``None``: weighed on the scale.
    ``raw_slice`` is what went over the line in the window that was steady: age in s, way, hex.
    ``calibration`` is that of the scale then, with its standard uncertainty; ``None``: not written.
    ``zero_kg`` is where its tare stood, which is taken off. ``u_repeated_kg`` is what this net mass
    scatters by, ``dof_repeated`` its degrees of freedom: the larger of what its windows and the
    scale's study show; ``None``: not written. ``alive`` is what showed that the scale did not hang:
    see :class:`~benchstation.domain.scale_alive.Alive`; empty: typed, or not written.
    """

    kind: ClassVar[str] = "weigh.captured"
    form: ClassVar[int] = 4
    step_id: str
    purpose: str
    instrument_id: str
    shown_kg: float
    std_kg: float
    count: int
    resolution_kg: float
    trace_sha256: str
    raw: str
    method: str = "gain"
    oil_lot: str = ""
    portion: int = 0
    again: bool = False
    before_kg: float | None = None
    by_hand: ReadByHand | None = None
    raw_slice: tuple[str, ...] = ()
    calibration: str = ""
    u_calibration_kg: float | None = None
    zero_kg: float | None = None
    u_repeated_kg: float | None = None
    dof_repeated: float | None = None
    alive: str = ""


@dataclass(frozen=True, slots=True)
class MethodChosen(UnitEvent):
    """From now on oil is weighed in at this step by another method than the specification's."""

    kind: ClassVar[str] = "weigh.method"
    step_id: str
    method: str


@dataclass(frozen=True, slots=True)
class LotChosen(UnitEvent):
    """From now on oil is poured from another lot."""

    kind: ClassVar[str] = "weigh.lot"
    step_id: str
    oil_lot: str


@dataclass(frozen=True, slots=True)
class LotConfirmed(UnitEvent):
    """The can that oil is poured from was scanned, and is of this lot."""

    kind: ClassVar[str] = "weigh.lot_confirmed"
    step_id: str
    oil_lot: str


@dataclass(frozen=True, slots=True)
class OilJudged(UnitEvent):
    """Net oil against its target, with the terms of the target and the uncertainty budget."""

    kind: ClassVar[str] = "oil.judged"
    form: ClassVar[int] = 2
    step_id: str
    target_shown_kg: float
    net_shown_kg: float
    deviation_kg: float
    tolerance_kg: float
    u_kg: float
    expanded_kg: float
    coverage_factor: float
    decision: str
    probability: float
    net_volume_ref_m3: float
    terms: OilTarget
    budget: tuple[BudgetPart, ...]
