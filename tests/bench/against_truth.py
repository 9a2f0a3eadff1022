"""What the virtual bench knows of a unit, held against the record that was filed of it.

The model is asked at the moment of each signature, so that nothing which happens to the unit
afterwards counts. Figures are compared within twice their stated uncertainty: what remains is a
lie, no scatter.
"""

from dataclasses import dataclass, field

from benchstation.demo.truth import truth_of
from benchstation.domain.events import (
    ChargeCaptured,
    StepReopened,
    StepSigned,
    UnitFiled,
    ZeroProven,
)
from benchstation.domain.inputs.zero import UNIT, ZeroRead
from benchstation.domain.rebuild import HIGH_LIMIT
from benchstation.domain.specification import Specification, StepKind
from benchstation.domain.unit_commands import PASS
from benchstation.domain.unit_record import UnitRecord, record_in
from sample_devices.bench_model import AIR_KG_M3, R_N2, STEEL_KG_M3, BenchModel

LEAST_PA, LEAST_KG = 4e3, 2e-4
"""Less than this is noise of a reading or what clings to a jug."""


@dataclass
class Witness:
    """What was really so with one unit while it was worked on."""

    specification: Specification
    gas_at_release_pa: float = 0.0
    """The most gas that was in the unit while the record says, by the gauge, that it was out."""
    charge_off_pa: float = 0.0
    """What the captured charge was really off by, beside what was captured."""
    peak_pa: float = 0.0
    """The most pressure that a sound gauge in the line was shown for as long as it needs."""
    limit_pa: float = float("inf")
    lots: set[str] = field(default_factory=set)
    """The lots of the cans that were really poured from."""

    def note(self, event: object, model: BenchModel) -> None:
        """Compare a fact of this unit with the model at the moment that it goes on record."""
        match event:
            case StepReopened():
                steps = [step.id for step in self.specification.steps]
                if steps.index(event.step_id) <= steps.index(self._id(StepKind.RELEASE)):
                    self.gas_at_release_pa = 0.0
            case StepSigned() if event.step_id == self._id(StepKind.RELEASE):
                self._released(event.evidence, model)
            case ZeroProven():
                self._released(event.evidence, model)
            case StepSigned() if self._between(event.step_id):
                if not model.open_top:
                    self.gas_at_release_pa = max(self.gas_at_release_pa, model.gas_gauge_pa)
            case ChargeCaptured():
                self.charge_off_pa = abs(model.gas_gauge_pa - event.gauge_pa) - event.expanded_pa

    def _released(self, evidence, model: BenchModel) -> None:
        by_gauge = [r for r in evidence if isinstance(r, ZeroRead) and r.label == UNIT and r.seen]
        if by_gauge:
            self.gas_at_release_pa = max(self.gas_at_release_pa, model.gas_gauge_pa)

    def _id(self, kind: StepKind) -> str:
        return self.specification.step_of(kind).id

    def _between(self, step_id: str) -> bool:
        steps = [step.id for step in self.specification.steps]
        release, charge = (steps.index(self._id(k)) for k in (StepKind.RELEASE, StepKind.CHARGE))
        return release < steps.index(step_id) < charge


def is_plain_pass(filed: UnitFiled) -> bool:
    """Return True for a record that says pass and asks nobody to look at the unit."""
    return filed.decision == PASS and not filed.qa_hold


def contradictions(filed: UnitFiled, witness: Witness, model: BenchModel) -> list[str]:
    """Return in words where the record says otherwise than the bench model knows it."""
    record = record_in(filed.record)
    return [
        *_oil(record, witness, model),
        *_gas(record, witness, model),
        *_work(record, witness, model),
    ]


def _oil(record: UnitRecord, witness: Witness, model: BenchModel) -> list[str]:
    found = []
    lift = (1 - AIR_KG_M3 / model.rho_oil_kg_m3) / (1 - AIR_KG_M3 / STEEL_KG_M3)
    off = model.oil_kg * lift - record.oil.net_shown_kg
    if abs(off) > 2 * record.oil.expanded_kg + LEAST_KG:
        u_g = record.oil.expanded_kg * 1e3
        found.append(f"oil: {off * 1e3:+.2f} g beside the record, U {u_g:.2f} g")
    truth, oil = truth_of(model, witness.specification), witness.specification.oil
    beyond = abs(truth.oil_volume_ref_m3 - oil.volume) - oil.tolerance
    if beyond > record.oil.expanded_kg / model.rho_oil_kg_m3:
        found.append(f"oil: {beyond * 1e6:.2f} mL outside the specification")
    lots = {lot.lot for lot in record.oil.lots} or {record.oil.lot}
    if witness.lots - lots:
        found.append(f"oil: of {sorted(witness.lots)}, recorded {sorted(lots)}")
    return found


def _gas(record: UnitRecord, witness: Witness, model: BenchModel) -> list[str]:
    found, charge = [], record.charge
    ambient_pa = model.setup.ambient_pa
    rest_pa = model.gas_kg * R_N2 * model.body_k / model.gas_volume_m3 - ambient_pa
    off = rest_pa - charge.settled_gauge_pa
    if abs(off) > 2 * charge.expanded_pa + LEAST_PA:
        found.append(f"gas: {off / 1e5:+.3f} bar beside the record")
    truth, gas = truth_of(model, witness.specification), witness.specification.gas
    beyond = abs(truth.gas_gauge_ref_pa - gas.gauge_pressure) - gas.tolerance
    if beyond > charge.expanded_pa + LEAST_PA:
        found.append(f"gas: {beyond / 1e5:.3f} bar outside the specification")
    if witness.charge_off_pa > charge.expanded_pa + LEAST_PA:
        found.append(f"gas: {witness.charge_off_pa / 1e5:.3f} bar off as it was captured")
    leak, hold = model.setup.leak_m3_s, record.hold
    if hold.decision == PASS and leak > hold.allowed_pa_m3_s + 4 * hold.u_leak_pa_m3_s:
        found.append(f"gas: leaks {leak:.1e} Pa m3/s, and the hold test passed")
    return found


def _work(record: UnitRecord, witness: Witness, model: BenchModel) -> list[str]:
    found, band = [], witness.specification.gas.release_zero_band
    if not model.screw_closed:
        found.append("the gas screw is open")
    if witness.gas_at_release_pa > 1.2 * band:
        found.append(f"worked on with {witness.gas_at_release_pa / 1e5:.2f} bar in it")
    if witness.peak_pa > witness.limit_pa and HIGH_LIMIT not in [a.alarm for a in record.alarms]:
        found.append(f"no alarm on record, and the line was at {witness.peak_pa / 1e5:.1f} bar")
    return found
