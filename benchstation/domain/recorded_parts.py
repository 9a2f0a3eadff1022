"""Parts that events and the record hold: what a value was read on, under what, a budget's row."""

from dataclasses import dataclass

from benchstation.domain.content import Recorded


@dataclass(frozen=True, slots=True)
class ReadByHand(Recorded):
    """What a typed value was read on, and who confirmed it; ``expanded`` is U with k = 2.

    ``u_kg`` or ``u_pa`` is the standard uncertainty of the value made of it.
    """

    instrument: str
    serial_number: str
    resolution: float
    expanded: float
    confirmed_by: str
    u_kg: float | None = None
    u_pa: float | None = None


@dataclass(frozen=True, slots=True)
class BudgetPart(Recorded):
    """One contribution to a standard uncertainty; ``share`` is of the variance, 0 to 1."""

    name: str
    distribution: str
    half_width: float | None
    u: float
    sensitivity: float
    u_result: float
    dof: float | None
    """``None``: without limit."""
    share: float


@dataclass(frozen=True, slots=True)
class LossRead(Recorded):
    """What a unit lost between two readings of one kind, and its leak rate, each with its u.

    SI: kg where it was weighed, Pa at the temperature of the first reading where a gauge read it.
    ``correction`` is what was added to the plain difference: buoyancy, or temperature and the fill
    tool's share.
    """

    first_utc: str
    second_utc: str
    seconds: float
    first: float
    second: float
    correction: float
    loss: float
    u_loss: float
    rate_pa_m3_s: float
    u_rate_pa_m3_s: float
    first_instrument: str
    second_instrument: str


@dataclass(frozen=True, slots=True)
class Condition(Recorded):
    """Air temperature, barometer, humidity or unit temperature as a result was judged with it.

    SI, with the standard uncertainty as it counted then, age included. ``source`` says what kind
    of figure it is, ``name`` the instrument or what a person read it on; ``age_s`` is ``None`` for
    what nobody read.
    """

    quantity: str
    value: float
    u: float
    source: str
    name: str = ""
    age_s: float | None = None
    person: str = ""
    instrument_id: str = ""
    calibration: str = ""


@dataclass(frozen=True, slots=True)
class HoldDrift(Recorded):
    """The unit's temperature in a hold test, what it did to the pressure, and u of each.

    ``source`` and ``at`` say what the temperature rests on (``domain/body_temperature.py``);
    ``offset_k`` is what the unit was above the air, ``tau_s`` how slowly that fades.
    """

    temperature_k: float
    u_temperature_k: float
    source: str
    at: str
    offset_k: float
    u_offset_k: float
    tau_s: float
    rate_pa_s: float
    u_rate_pa_s: float
