"""The second reading of a sealed unit: when it is due, what it says, and what is believed of it.

By mass it does not depend on any temperature; by pressure it does, and costs the unit what the fill
tool takes. Where both were read they must agree within their U, or one is not used.
"""

import math
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from benchstation.domain.budget_rows import Row, row_of
from benchstation.domain.events import (
    ChargeCaptured,
    Event,
    SecondReadingJudged,
    UnitWaits,
    UnitWeighed,
)
from benchstation.domain.inputs.second_reading import (
    MASS,
    PRESSURE,
    SecondReading,
    Way,
)
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.record import stamp
from benchstation.domain.recorded_parts import LossRead
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.unit_commands import require_step, second_signature
from benchstation.metrology.conformity import Decision
from benchstation.physics import nitrogen
from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.fill_tool import pressure_before_joining_pa
from benchstation.physics.leak import at_temperature_pa
from benchstation.physics.loss import (
    lost_pressure_pa,
    mass_in_vacuum_kg,
    outer_volume,
    rate_of_mass_pa_m3_s,
)

COVERAGE = 2.0
SAME_SHARE = 0.25
"""Between two days one calibrated instrument keeps its error but for this share of u; our bound."""
U_DEAD_REL = 0.2
"""How well the volume of a fill tool is known, one standard deviation."""


class SecondDoubt(StrEnum):
    """Why a second reading is undecided."""

    NONE = ""
    DISAGREE = "disagree"
    GAINED = "gained"
    CHARGE_LOW = "charge_low"
    NEAR_LIMIT = "near_limit"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is still to be read at the step: first readings, and second ones from ``due`` on."""

    first: tuple[Way, ...]
    due: datetime | None
    second: tuple[Way, ...]


def asked_at(step: Step | None) -> SecondReading | None:
    """Return how a unit is read again at this step; ``None``: it is not."""
    return step.second if step is not None else None


def wanted(rebuild: Rebuild, step: Step) -> Wanted:
    """Return what is still to be read."""
    asked = asked_at(step)
    assert asked is not None
    first = tuple(way for way in asked.by if _first_utc(rebuild, way) is None)
    second = tuple(way for way in asked.by if _second_utc(rebuild, way) is None)
    return Wanted(first, due(rebuild, step), second)


def due(rebuild: Rebuild, step: Step) -> datetime | None:
    """Return from when on the unit may be read again; ``None`` before its first readings."""
    asked = asked_at(step)
    if asked is None:
        return None
    firsts = [_first_utc(rebuild, way) for way in asked.by]
    known = [utc for utc in firsts if utc is not None]
    return max(known) + timedelta(seconds=asked.after) if len(known) == len(firsts) else None


def _first_utc(rebuild: Rebuild, way: Way) -> datetime | None:
    return rebuild.unit_after_utc if way == MASS else rebuild.charge_utc


def _second_utc(rebuild: Rebuild, way: Way) -> datetime | None:
    return rebuild.unit_second_utc if way == MASS else rebuild.read_again_utc


def begin_wait(rebuild: Rebuild) -> list[Event]:
    """Take a sealed unit off the bench until its second reading is due."""
    step = require_step(rebuild, StepKind.SECOND)
    at = due(rebuild, step)
    if at is None:
        raise NotAllowedError(
            "the unit has no first reading yet.",
            where=step.title,
            advice="Weigh the sealed unit; then let it wait.",
        )
    return [UnitWaits(rebuild.unit_id, step.id, stamp(at))]


def require_due(rebuild: Rebuild, now: datetime) -> Step:
    """Return the step at hand when the unit may be read again now; raise otherwise."""
    step = require_step(rebuild, StepKind.SECOND)
    at = due(rebuild, step)
    if at is None or now < at:
        raise NotAllowedError(
            "it is too early for the second reading.",
            where=step.title,
            advice="Let the unit wait; the queue says from when on it is read.",
        )
    return step


def mass_lost(rebuild: Rebuild) -> LossRead | None:
    """Return what the unit lost by its mass; ``None`` before it was weighed twice."""
    charge, first, second = rebuild.charge, rebuild.unit_after, rebuild.unit_second
    begin, end = rebuild.unit_after_utc, rebuild.unit_second_utc
    if charge is None or first is None or second is None or begin is None or end is None:
        return None
    oil_kg = rebuild.net_shown_kg or 0.0
    geometry = rebuild.specification.geometry.model()
    volume = outer_volume(geometry, first.shown_kg - oil_kg - charge.amount_kg)
    airs = [(w.air_density_kg_m3, w.u_air_density_kg_m3) for w in (first, second)]
    (a1, u1), (a2, u2) = ((a or 1.2, u or 0.03) for a, u in airs)
    loss = mass_in_vacuum_kg(first.shown_kg, a1, volume.m3) - mass_in_vacuum_kg(
        second.shown_kg, a2, volume.m3
    )
    taken = _taken_kg(rebuild, charge)
    loss -= taken
    variance = (U_DEAD_REL * taken) ** 2 + _calibrations(
        first.u_calibration_kg, second.u_calibration_kg, same=_same(first, second)
    )
    for one in (first, second):
        variance += 2 * (one.resolution_kg**2 / 12 + max(one.std_kg, one.resolution_kg / 2) ** 2)
    variance += volume.m3**2 * (u1**2 + u2**2) + ((a1 - a2) * volume.u_m3) ** 2
    seconds = (end - begin).total_seconds()
    per_kg = rate_of_mass_pa_m3_s(
        1.0, seconds, charge.settled_gauge_pa + charge.ambient_pa, charge.bench_k
    )
    plain = first.shown_kg - second.shown_kg
    u = math.sqrt(variance)
    return LossRead(
        stamp(begin),
        stamp(end),
        seconds,
        first.shown_kg,
        second.shown_kg,
        loss - plain,
        loss,
        u,
        per_kg * loss,
        per_kg * u,
        first.instrument_id,
        second.instrument_id,
    )


def _taken_kg(rebuild: Rebuild, charge: ChargeCaptured) -> float:
    """Return the gas that the fill tool took before the unit was weighed again."""
    again, read, weighed = rebuild.read_again, rebuild.read_again_utc, rebuild.unit_second_utc
    if again is None or read is None or weighed is None or weighed < read:
        return 0.0
    volume = charge.gas_volume_m3 * (1.0 - shrink_per_k(charge) * (again.unit_k - charge.bench_k))
    before, after = (
        nitrogen.density_kg_m3(gauge + again.ambient_pa, again.unit_k)
        for gauge in (again.before_joining_gauge_pa, again.gauge_pa)
    )
    return volume * (before - after)


def pressure_lost(rebuild: Rebuild) -> LossRead | None:
    """Return what the unit lost by its pressure; ``None`` before it was read again."""
    charge, again = rebuild.charge, rebuild.read_again
    begin, end = rebuild.charge_utc, rebuild.read_again_utc
    if charge is None or again is None or begin is None or end is None:
        return None
    first = charge.settled_gauge_pa + charge.ambient_pa
    second = again.before_joining_gauge_pa + again.ambient_pa
    loss = lost_pressure_pa(first, charge.bench_k, second, again.unit_k, shrink_per_k(charge))
    same = (charge.instrument_id, charge.calibration) == (again.instrument_id, again.calibration)
    gauge = next(
        (row.u_result for row in charge.budget if row_of(row) is Row.GAUGE_CALIBRATION), 0.0
    )
    variance = sum(row.u_result**2 for row in charge.budget) - gauge**2
    variance += _calibrations(gauge, again.u_calibration_pa, same=same)
    variance += again.resolution_pa**2 / 12 + again.std_pa**2 + again.u_ambient_pa**2
    variance += (charge.terms.per_k_pa * again.u_unit_k) ** 2
    variance += (U_DEAD_REL * (again.before_joining_gauge_pa - again.gauge_pa)) ** 2
    seconds = (end - begin).total_seconds()
    u = math.sqrt(variance)
    return LossRead(
        stamp(begin),
        stamp(end),
        seconds,
        first,
        again.gauge_pa + again.ambient_pa,
        loss - (first - again.gauge_pa - again.ambient_pa),
        loss,
        u,
        charge.gas_volume_m3 * loss / seconds,
        charge.gas_volume_m3 * u / seconds,
        charge.instrument_id,
        again.instrument_id,
    )


def shrink_per_k(charge: ChargeCaptured) -> float:
    """Return the part of the gas volume that the oil takes with each kelvin."""
    return charge.terms.oil_expansion_m3_k / charge.gas_volume_m3


def _same(first: UnitWeighed, second: UnitWeighed) -> bool:
    return (first.instrument_id, first.calibration) == (second.instrument_id, second.calibration)


def _calibrations(first: float, second: float, *, same: bool) -> float:
    """Return the variance that both calibrations leave in a difference of two near values."""
    return (SAME_SHARE * first) ** 2 if same else first**2 + second**2


def judged(rebuild: Rebuild) -> SecondReadingJudged | None:
    """Return what the readings say together; ``None`` while one is missing."""
    step = rebuild.current
    asked, charge = asked_at(step), rebuild.charge
    if step is None or asked is None or charge is None or wanted(rebuild, step).second:
        return None
    mass = mass_lost(rebuild) if MASS in asked.by else None
    pressure = pressure_lost(rebuild) if PRESSURE in asked.by else None
    found: dict[Way, LossRead] = {}
    if mass is not None:
        found[MASS] = mass
    if pressure is not None:
        found[PRESSURE] = pressure
    believed, disbelieved = _believed(found, charge.amount_kg)
    read = found[believed]
    allowed = rebuild.specification.service_leak
    left = _left_pa(rebuild, charge, read)
    decision, doubt = _decision(read, allowed)
    gas = rebuild.specification.gas
    if disbelieved:
        decision, doubt = Decision.UNDECIDED, SecondDoubt.DISAGREE
    elif decision is Decision.PASS and left < gas.gauge_pressure - gas.tolerance:
        decision, doubt = Decision.UNDECIDED, SecondDoubt.CHARGE_LOW
    return SecondReadingJudged(
        rebuild.unit_id,
        step.id,
        mass,
        pressure,
        believed,
        disbelieved,
        read.rate_pa_m3_s,
        read.u_rate_pa_m3_s,
        allowed,
        decision.value,
        doubt.value,
        left,
    )


def _believed(found: dict[Way, LossRead], amount_kg: float) -> tuple[Way, Way | str]:
    """Return the reading that counts and the one that is not used (empty: none).

    A mass does not depend on a temperature, so it stands unless it cannot be: more than all the
    gas, or a gain.
    """
    if len(found) == 1:
        return next(iter(found)), ""
    mass, pressure = found[MASS], found[PRESSURE]
    apart = abs(mass.rate_pa_m3_s - pressure.rate_pa_m3_s)
    if apart <= COVERAGE * math.hypot(mass.u_rate_pa_m3_s, pressure.u_rate_pa_m3_s):
        closer = MASS if mass.u_rate_pa_m3_s <= pressure.u_rate_pa_m3_s else PRESSURE
        return closer, ""
    margin = COVERAGE * mass.u_loss
    possible = -margin <= mass.loss <= amount_kg + margin
    return (MASS, PRESSURE) if possible else (PRESSURE, MASS)


def _decision(read: LossRead, allowed: float) -> tuple[Decision, SecondDoubt]:
    margin = COVERAGE * read.u_rate_pa_m3_s
    if read.rate_pa_m3_s + margin < 0.0:
        return Decision.UNDECIDED, SecondDoubt.GAINED
    if read.rate_pa_m3_s + margin <= allowed:
        return Decision.PASS, SecondDoubt.NONE
    if read.rate_pa_m3_s - margin > allowed:
        return Decision.FAIL, SecondDoubt.NONE
    return Decision.UNDECIDED, SecondDoubt.NEAR_LIMIT


def _left_pa(rebuild: Rebuild, charge: ChargeCaptured, read: LossRead) -> float:
    """Return the gauge pressure that is left in the unit, at the reference temperature."""
    again, shrink = rebuild.read_again, shrink_per_k(charge)
    reference = rebuild.specification.gas.reference_temperature
    if again is not None:
        pressure, at_k = again.gauge_pa + again.ambient_pa, again.unit_k
    else:
        lost = read.rate_pa_m3_s * read.seconds / charge.gas_volume_m3
        pressure, at_k = charge.settled_gauge_pa + charge.ambient_pa - lost, charge.bench_k
    # The share is that of the volume at the charge's temperature; it changes little over 20 K.
    left = at_temperature_pa(pressure, at_k, reference, shrink_per_k=shrink)
    return left - STANDARD_PRESSURE_PA


def finish(rebuild: Rebuild) -> list[Event]:
    """Return the judgement once all is read, and the signature where it passes."""
    found = judged(rebuild)
    if found is None:
        return []
    step = require_step(rebuild, StepKind.SECOND)
    passed = found.decision == Decision.PASS.value or rebuild.deviated(step.id)
    return [found, second_signature(rebuild, step, found)] if passed else [found]


def before_joining_pa(
    charge: ChargeCaptured, gauge_pa: float, ambient_pa: float, unit_k: float, dead_volume_m3: float
) -> float:
    """Return the gauge pressure in a unit before a vented fill tool was put on it."""
    volume = charge.gas_volume_m3 * (1.0 - shrink_per_k(charge) * (unit_k - charge.bench_k))
    shown = gauge_pa + ambient_pa
    before = pressure_before_joining_pa(shown, volume, dead_volume_m3, unit_k, ambient_pa)
    return before - ambient_pa
