"""Two or four units that must match: their figures side by side, and the spread judged.

Compared are net oil as volume at the reference temperature, the charge brought to the reference
temperature with the same fill, and the push force that follows from it. Judged is the difference
of every two units against the tolerance (JCGM 106:2012, one upper limit), the standard uncertainty
of a difference being ``u^2 = sum (u1_i^2 + u2_i^2) + sum (u1_j - u2_j)^2`` (JCGM 100:2008, 5.2):
``i`` over what is independent in both, ``j`` over what both have in common, fully correlated, which
so nearly cancels. In common are the density when both have the same oil lot, and the calibration of
scale or gauge when both were measured with the same one under the same calibration. The rest counts
as independent, also air, bench temperature and barometer: the units were measured at different
times.
"""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from benchstation.domain.budget_rows import Row
from benchstation.domain.calibrations import calibration_name
from benchstation.domain.disc_stack import AS_BUILT
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.record import charge_of
from benchstation.domain.recorded_inputs import built_in_words, stacks_in, words_of
from benchstation.domain.recorded_parts import BudgetPart
from benchstation.domain.specification import Specification, StepKind
from benchstation.domain.unit_record import (
    RecordedCharge,
    RecordedInstrument,
    RecordedMember,
    RecordedSet,
    RecordedSpread,
    UnitRecord,
)
from benchstation.metrology.conformity import Conformity, Decision, judge
from benchstation.physics import nitrogen

OIL, CHARGE, FORCE = "net oil", "charge", "push force"
DENSITY, SCALE, GAUGE = (
    row.value for row in (Row.OIL_DENSITY, Row.SCALE_CALIBRATION, Row.GAUGE_CALIBRATION)
)
_WORST = (Decision.PASS, Decision.UNDECIDED, Decision.FAIL)


@dataclass(frozen=True, slots=True)
class Figure:
    """A value with the parts of its standard uncertainty, by their source, all in SI."""

    value: float
    parts: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Member:
    """One unit of a set with what is compared; without figures it is not finished yet."""

    serial: str
    position: str
    unit_id: str = ""
    state: str = ""
    figures: Mapping[str, Figure] = field(default_factory=dict)
    sources: Mapping[str, str] = field(default_factory=dict)
    """What each source of uncertainty was: which lot, which scale, which gauge."""
    leak_pa_m3_s: float | None = None
    stacks: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Spread:
    """Largest less smallest of one figure; ``decision`` is empty where nothing is judged."""

    what: str
    spread: float
    u: float
    tolerance: float | None
    decision: str
    probability: float | None
    ends: tuple[str, str]
    """Unit ids of the smallest and the largest."""
    common: tuple[str, ...]
    """What cancelled between these two."""


@dataclass(frozen=True, slots=True)
class Compared:
    """What is compared of a unit: from its record, or of one that is not filed yet."""

    serial: str
    position: str
    unit_id: str
    oil_lot: str
    net_volume_ref_m3: float
    net_shown_kg: float
    oil_budget: Sequence[BudgetPart]
    captures: Sequence[tuple[str | None, str]]
    """Instrument and calibration of each mass that counts; ``None``: not said."""
    charge: RecordedCharge
    leak_pa_m3_s: float
    stacks: Mapping[str, str]
    instruments: Sequence[RecordedInstrument] = ()


def charge_at_reference(charge: RecordedCharge) -> float:
    """Return the gauge pressure that this charge has at its reference temperature, Pa.

    The amount of nitrogen is what the settled pressure makes of the gas volume at the bench; at the
    reference temperature it fills the volume left by the same oil there.
    """
    terms = charge.terms
    settled = charge.settled_gauge_pa + charge.ambient_pa
    amount_kg = nitrogen.density_kg_m3(settled, charge.bench_k) * charge.gas_volume_m3
    density = float(amount_kg / terms.gas_volume_ref_m3)
    return nitrogen.pressure_pa(density, terms.reference_k) - terms.reference_ambient_pa


def share_at_reference(charge: RecordedCharge) -> float:
    """Return by what a difference of the settled pressure counts at the reference temperature."""
    at_reference = charge_at_reference(charge) + charge.terms.reference_ambient_pa
    return at_reference / (charge.settled_gauge_pa + charge.ambient_pa)


def member_of(unit: Compared, specification: Specification, state: str) -> Member:
    """Return a unit of a set with what is compared."""
    charge = unit.charge
    per_kg = unit.net_volume_ref_m3 / unit.net_shown_kg
    at_reference = charge_at_reference(charge)
    ratio = share_at_reference(charge)
    area = math.pi / 4 * specification.geometry.rod**2
    gauge = _source_of(unit, charge.instrument_id, charge.calibration)
    charge_parts = _parts(charge.budget, ratio)
    return Member(
        unit.serial,
        unit.position,
        unit.unit_id,
        state,
        {
            OIL: Figure(unit.net_volume_ref_m3, _parts(unit.oil_budget, per_kg)),
            CHARGE: Figure(at_reference, charge_parts),
            FORCE: Figure(at_reference * area, {k: u * area for k, u in charge_parts.items()}),
        },
        {DENSITY: unit.oil_lot, SCALE: _scale_of(unit), GAUGE: gauge},
        unit.leak_pa_m3_s,
        unit.stacks,
    )


def _scale_of(unit: Compared) -> str:
    """Return the one scale and calibration that all oil was weighed with; empty: more or none."""
    if any(instrument is None for instrument, _ in unit.captures):
        # An older record: its unit kept the scale that it lists.
        ids = {i.id for i in unit.instruments if i.id != unit.charge.instrument_id}
        found = {_source_of(unit, name, "") for name in ids}
    else:
        found = {_source_of(unit, name, own) for name, own in unit.captures if name}
    return found.pop() if len(found) == 1 else ""


def _source_of(unit: Compared, instrument_id: str, calibration: str) -> str:
    """Return instrument and calibration behind some evidence; empty where that is not one.

    A recalibrated instrument is another source: its two adjustments are not the same error.
    """
    known = {calibration} - {""}
    if not known:
        # Older evidence names the instrument alone, and the record how it was registered then.
        known = {
            calibration_name(i.calibrated_on, i.certificate)
            for i in unit.instruments
            if i.id == instrument_id
        }
    return f"{instrument_id}, {known.pop()}" if instrument_id and len(known) == 1 else ""


def compared_in(record: UnitRecord) -> Compared:
    """Return what is compared of a filed unit."""
    oil = record.oil
    return Compared(
        record.serial,
        record.position,
        record.unit_id,
        oil.lot,
        oil.net_volume_ref_m3,
        oil.net_shown_kg,
        oil.budget,
        [(c.instrument_id, c.calibration) for c in oil.captures if c.counts],
        record.charge,
        record.hold.leak_pa_m3_s,
        built_in_words(record),
        record.instruments,
    )


def unfiled(rebuild: Rebuild) -> Compared | None:
    """Return what is compared of a unit that is not filed yet; ``None`` while some is missing."""
    oil, charge, hold = rebuild.oil_judged(StepKind.BLEED), rebuild.charge, rebuild.hold
    if oil is None or charge is None or hold is None:
        return None
    opened = rebuild.opened
    evidence = [result for s in rebuild.signatures.values() for result in s.evidence]
    return Compared(
        opened.serial,
        opened.position,
        opened.unit_id,
        opened.oil_lot,
        oil.net_volume_ref_m3,
        oil.net_shown_kg,
        oil.budget,
        [(c.instrument_id, c.calibration) for c in rebuild.counting],
        charge_of(charge),
        hold.leak_pa_m3_s,
        words_of(stacks_in(evidence, AS_BUILT)),
    )


def _parts(budget: Sequence[BudgetPart], factor: float) -> dict[str, float]:
    return {row.name: row.u_result * factor for row in budget}


def in_common(one: Member, other: Member) -> tuple[str, ...]:
    """Return the sources of uncertainty that two units have in common."""
    return tuple(
        name for name, source in one.sources.items() if source and source == other.sources.get(name)
    )


def u_of_difference(one: Figure, other: Figure, common: Sequence[str]) -> float:
    """Return the standard uncertainty of the difference of two figures."""
    total = 0.0
    for name in one.parts.keys() | other.parts.keys():
        u1, u2 = one.parts.get(name, 0.0), other.parts.get(name, 0.0)
        total += (u1 - u2) ** 2 if name in common else u1**2 + u2**2
    return math.sqrt(total)


def tolerances(specification: Specification) -> dict[str, float | None]:
    """Return the tolerance of each figure."""
    matching = specification.matching
    if matching is None:
        return dict.fromkeys((OIL, CHARGE, FORCE))
    return {OIL: matching.oil, CHARGE: matching.charge, FORCE: matching.push_force}


def spreads(members: Sequence[Member], specification: Specification) -> tuple[Spread, ...]:
    """Judge the spread of each figure over the units that have it; none under two of them."""
    done = [member for member in members if member.figures]
    if len(done) < 2:
        return ()
    return tuple(_spread(what, limit, done) for what, limit in tolerances(specification).items())


def _spread(what: str, tolerance: float | None, done: Sequence[Member]) -> Spread:
    ordered = sorted(done, key=lambda member: member.figures[what].value)
    low, high = ordered[0], ordered[-1]
    common = in_common(low, high)
    one, other = low.figures[what], high.figures[what]
    value, u = other.value - one.value, u_of_difference(one, other, common)
    decision, probability = "", None
    if tolerance is not None:
        pairs = [_judged(a, b, what, tolerance) for a, b in itertools.combinations(done, 2)]
        # The widest pair need not be the least certain one.
        worst = max(pairs, key=lambda p: (_WORST.index(p.decision), -p.probability))
        decision, probability = worst.decision.value, worst.probability
    parts = set(one.parts) | set(other.parts)
    cancels = tuple(name for name in common if name in parts)
    return Spread(
        what, value, u, tolerance, decision, probability, (low.unit_id, high.unit_id), cancels
    )


def _judged(a: Member, b: Member, what: str, tolerance: float) -> Conformity:
    one, other = a.figures[what], b.figures[what]
    u = u_of_difference(one, other, in_common(a, b))
    return judge(abs(one.value - other.value), u, None, tolerance)


def not_matching(judged: Sequence[Spread], unit_id: str) -> tuple[Spread, ...]:
    """Return the spreads that do not pass and that this unit makes: it is one of the two ends."""
    return tuple(
        s for s in judged if s.decision not in ("", Decision.PASS.value) and unit_id in s.ends
    )


def set_in_record(order: str, members: Sequence[Member], judged: Sequence[Spread]) -> RecordedSet:
    """Return the set as it stood at filing."""
    return RecordedSet(
        order,
        tuple(
            RecordedMember(
                m.serial,
                m.position,
                m.unit_id,
                m.state,
                {what: figure.value for what, figure in m.figures.items()},
                m.leak_pa_m3_s,
                dict(m.stacks),
            )
            for m in members
        ),
        tuple(
            RecordedSpread(
                s.what, s.spread, s.u, s.tolerance, s.decision, s.probability, s.ends, s.common
            )
            for s in judged
        ),
    )
