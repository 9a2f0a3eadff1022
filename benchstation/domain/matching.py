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
from dataclasses import asdict, dataclass, field
from typing import Any

from benchstation.domain.calibrations import calibration_name
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.recorded_inputs import built_in_words
from benchstation.domain.specification import Specification, StepKind
from benchstation.metrology.conformity import Conformity, Decision, judge
from benchstation.physics import nitrogen

OIL, CHARGE, FORCE = "net oil", "charge", "push force"
DENSITY, SCALE, GAUGE = "density of the oil lot", "scale calibration", "gauge calibration"
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


def charge_at_reference(charge: Mapping[str, Any]) -> float:
    """Return the gauge pressure that this charge has at its reference temperature, Pa.

    The amount of nitrogen is what the settled pressure makes of the gas volume at the bench; at the
    reference temperature it fills the volume left by the same oil there.
    """
    terms = charge["terms"]
    settled = charge["settled_gauge_pa"] + charge["ambient_pa"]
    amount_kg = nitrogen.density_kg_m3(settled, charge["bench_k"]) * charge["gas_volume_m3"]
    density = amount_kg / terms["gas_volume_ref_m3"]
    ambient_pa = float(terms["reference_ambient_pa"])
    return nitrogen.pressure_pa(float(density), float(terms["reference_k"])) - ambient_pa


def member_of(record: Mapping[str, Any], specification: Specification, state: str) -> Member:
    """Return a unit from its record, or from what its record will say (see :func:`unfiled`)."""
    oil, charge = record["oil"], record["charge"]
    per_kg = oil["net_volume_ref_m3"] / oil["net_shown_kg"]
    at_reference = charge_at_reference(charge)
    ratio = (at_reference + charge["terms"]["reference_ambient_pa"]) / (
        charge["settled_gauge_pa"] + charge["ambient_pa"]
    )
    area = math.pi / 4 * specification.geometry.rod**2
    gauge = _source_of(record, charge)
    charge_parts = _parts(charge["budget"], ratio)
    return Member(
        record["serial"],
        record["position"],
        record["unit_id"],
        state,
        {
            OIL: Figure(oil["net_volume_ref_m3"], _parts(oil["budget"], per_kg)),
            CHARGE: Figure(at_reference, charge_parts),
            FORCE: Figure(at_reference * area, {k: u * area for k, u in charge_parts.items()}),
        },
        {DENSITY: oil["lot"], SCALE: _scale_of(record), GAUGE: gauge},
        record["hold"]["leak_pa_m3_s"],
        built_in_words(record),
    )


def _scale_of(record: Mapping[str, Any]) -> str:
    """Return the one scale and calibration that all oil was weighed with; empty: more or none."""
    counting = [c for c in record["oil"]["captures"] if c.get("counts", True)]
    if any("instrument_id" not in c for c in counting):
        # An older record: its unit kept the scale that it lists.
        gauge = record["charge"]["instrument_id"]
        ids = {i["id"] for i in record["instruments"] if i["id"] != gauge}
        found = {_source_of(record, {"instrument_id": name}) for name in ids}
    else:
        found = {_source_of(record, c) for c in counting if c["instrument_id"]}
    return found.pop() if len(found) == 1 else ""


def _source_of(record: Mapping[str, Any], evidence: Mapping[str, Any]) -> str:
    """Return instrument and calibration behind some evidence; empty where that is not one.

    A recalibrated instrument is another source: its two adjustments are not the same error.
    """
    name = str(evidence["instrument_id"])
    known = {str(evidence.get("calibration", ""))} - {""}
    if not known:
        # Older evidence names the instrument alone, and the record how it was registered then.
        known = {
            calibration_name(i.get("calibrated_on", ""), i.get("certificate", ""))
            for i in record.get("instruments", ())
            if i["id"] == name
        }
    return f"{name}, {known.pop()}" if name and len(known) == 1 else ""


def unfiled(rebuild: Rebuild) -> dict[str, Any] | None:
    """Return the parts of a record that are compared, of a unit that is not filed yet."""
    oil, charge, hold = rebuild.oil_judged(StepKind.BLEED), rebuild.charge, rebuild.hold
    if oil is None or charge is None or hold is None:
        return None
    opened = rebuild.opened
    return {
        "serial": opened.serial,
        "position": opened.position,
        "unit_id": opened.unit_id,
        "oil": {
            "lot": opened.oil_lot,
            **oil.body(),
            "captures": [
                {"instrument_id": c.instrument_id, "calibration": c.calibration}
                for c in rebuild.counting
            ],
        },
        "charge": charge.body(),
        "hold": hold.body(),
        "steps": [{"evidence": s.evidence} for s in rebuild.signatures.values()],
    }


def _parts(budget: Sequence[Mapping[str, Any]], factor: float) -> dict[str, float]:
    return {row["name"]: row["u_result"] * factor for row in budget}


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


def set_in_record(
    order: str, members: Sequence[Member], judged: Sequence[Spread]
) -> dict[str, Any]:
    """Return the set as it stood at filing, JSON-ready."""
    return {
        "order": order,
        "members": [
            {
                "serial": m.serial,
                "position": m.position,
                "unit_id": m.unit_id,
                "state": m.state,
                "figures": {what: figure.value for what, figure in m.figures.items()},
                "leak_pa_m3_s": m.leak_pa_m3_s,
                "stacks": dict(m.stacks),
            }
            for m in members
        ],
        "spreads": [{**asdict(s), "ends": list(s.ends), "common": list(s.common)} for s in judged],
    }
