"""A unit's gas charge and its hold test."""

from dataclasses import dataclass
from typing import ClassVar

from benchstation.domain.events.base import UnitEvent
from benchstation.domain.recorded_parts import BudgetPart, Condition, HoldDrift, ReadByHand
from benchstation.physics.gas_spring import ChargeTarget


@dataclass(frozen=True, slots=True)
class ChargeCaptured(UnitEvent):
    """A settled charge and its judgement against the target of this temperature and fill.

    ``bench_k`` is the unit's temperature, ``conditions`` what it and the air's were known from.
    """

    kind: ClassVar[str] = "charge.captured"
    form: ClassVar[int] = 4
    step_id: str
    instrument_id: str
    gauge_pa: float
    settled_gauge_pa: float
    target_gauge_pa: float
    tolerance_pa: float
    u_pa: float
    expanded_pa: float
    coverage_factor: float
    decision: str
    probability: float
    bench_k: float
    ambient_pa: float
    gas_volume_m3: float
    amount_kg: float
    trace_sha256: str
    raw: str
    terms: ChargeTarget
    budget: tuple[BudgetPart, ...]
    by_hand: ReadByHand | None = None
    raw_slice: tuple[str, ...] = ()
    calibration: str = ""
    conditions: tuple[Condition, ...] = ()


@dataclass(frozen=True, slots=True)
class HoldTested(UnitEvent):
    """A hold test by pressure change: leak rate with its uncertainty against the allowed one.

    ``stood_still_s``: for so long no digit changed, 0 when digits moved; ``gauge_stuck``: by the
    gauge's own noise before, they should have. ``record_s`` is how long the readings are that it
    rests on, from the closing of the valve. ``doubt``: why it is undecided (``HoldDoubt``), and
    ``wait_s`` after how long another can tell. ``slow_pa_m3_s`` of it a slow cooling could be.
    """

    kind: ClassVar[str] = "charge.hold_tested"
    form: ClassVar[int] = 2
    step_id: str
    start_gauge_pa: float
    end_gauge_pa: float
    duration_s: float
    leak_pa_m3_s: float
    u_leak_pa_m3_s: float
    allowed_pa_m3_s: float
    decision: str
    trace_sha256: str
    stood_still_s: float = 0.0
    gauge_stuck: bool = False
    record_s: float | None = None
    u_scatter_pa_m3_s: float | None = None
    slow_pa_m3_s: float = 0.0
    doubt: str = ""
    wait_s: float = 0.0
    drift: HoldDrift | None = None
