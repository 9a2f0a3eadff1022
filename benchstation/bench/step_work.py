"""What is under way at the step at hand; made anew at each step, so nothing of another stays."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.capture.charging import Charging
from benchstation.bench.capture.oil import mixed, weighing_for
from benchstation.bench.capture.pressure_again import PressureAgain
from benchstation.bench.capture.steady_reading import Steadying, steadying_for
from benchstation.bench.capture.unit_weighing import UnitWeighing
from benchstation.bench.capture.weighing import Phase, Weighing
from benchstation.bench.sets import UnitSet, set_of
from benchstation.bench.shop import Shop
from benchstation.bench.step_history import StepHistory, known_at
from benchstation.domain.events import Event, OilUnweighed
from benchstation.domain.form_fields import AT, SIGNATURE
from benchstation.domain.gas_charge import target_for
from benchstation.domain.inputs.given import YES
from benchstation.domain.photos import Photo
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.surroundings import Surroundings
from benchstation.physics.damper import ChargeTarget
from benchstation.store.chain_store import ChainStore

NOT_TYPED = ("units", "reason", "pin", SIGNATURE, AT)
"""What comes with a form and is not kept with it; a PIN is typed anew each time."""


@dataclass(slots=True)
class StepWork:
    """The live parts of one step; ``key`` is unit and step, empty texts without them."""

    key: tuple[str, str] = ("", "")
    scale: str = ""
    """The id of the scale that is weighed on; empty: the bench's first."""
    weighing: Weighing | None = None
    charging: Charging | None = None
    unit_weighing: UnitWeighing | None = None
    """The whole unit is being weighed, for the gas in it."""
    pressure_again: PressureAgain | None = None
    """The sealed unit's pressure is being read again."""
    charge_target: ChargeTarget | None = None
    around: Surroundings | None = None
    """What the target was made with: the unit's temperature and the barometer, with their u."""
    charge_wanted: bool = False
    """A charge is captured as soon as it has settled."""
    hold_wanted: bool = False
    steadying: Steadying | None = None
    """Follows the instrument that the step measures with."""
    history: StepHistory = field(default_factory=StepHistory)
    matched: UnitSet | None = None
    """At the last step: the set that the unit belongs to."""
    open_form: str = ""
    """A form that was asked for, such as for a mass read by hand; empty: none."""
    to_receive: str = ""
    """What was scanned and is not on record: the lot in the form that receives it."""
    typed: Mapping[str, str] = field(default_factory=dict)
    """What stands in the step's form, as last sent."""
    ticks: dict[str, float | None] = field(default_factory=dict)
    """Statements ticked while what they rest on was so, with what the gauge showed, by field."""
    early: set[str] = field(default_factory=set)
    """Fields ticked while it was not: each counts only once it is ticked anew."""
    lowest_pa: float | None = None
    """The least that the gauge showed since the first of these ticks."""
    pictures: dict[str, bytes] = field(default_factory=dict)
    """The step's photographs by SHA-256."""

    def show_form(self, name: str) -> None:
        """Show a form that was asked for."""
        self.open_form = name

    def close_form(self) -> None:
        """Show the step itself again."""
        self.open_form = self.to_receive = ""

    def scan_to_receive(self, lot: str) -> None:
        """Take note of the lot that was scanned and is to be received."""
        self.to_receive = lot

    def keep_typed(self, form: Mapping[str, str]) -> None:
        """Keep what stands in the step's form until the step is signed."""
        kept = {k: v for k, v in form.items() if k not in NOT_TYPED}
        self.typed = {k: v for k, v in kept.items() if k not in self.early}

    def note_ticks(
        self, form: Mapping[str, str], gauge_pa: float | None, holds: Callable[[str], bool]
    ) -> None:
        """Take note of what was ticked now, and whether what it rests on holds at this moment."""
        for name, value in form.items():
            if value != YES:
                self.ticks.pop(name, None)
                self.early.discard(name)
            elif name not in self.ticks and name not in self.early:
                if holds(name):
                    self.lowest_pa = self.lowest_pa if self.ticks else gauge_pa
                    self.ticks[name] = gauge_pa
                else:
                    self.early.add(name)

    def lowest(self, gauge_pa: float | None) -> float | None:
        """Return the least that the gauge showed since the first tick, this reading included."""
        known = [pa for pa in (self.lowest_pa, gauge_pa) if pa is not None]
        self.lowest_pa = min(known, default=None)
        return self.lowest_pa

    def void_ticks(self, names: Sequence[str]) -> None:
        """Let no tick of these stand: each was made before what it rests on changed."""
        self.early |= set(names)
        for name in names:
            self.ticks.pop(name, None)
        self.typed = {k: v for k, v in self.typed.items() if k not in self.early}

    def keep_picture(self, photo: Photo) -> None:
        """Keep a photograph of this step, to be shown."""
        self.pictures[photo.sha256] = photo.data

    def weigh_on(self, scale: str) -> None:
        """Weigh on the scale of this id from now on."""
        self.scale = scale

    def weigh(self, weighing: Weighing) -> None:
        """Begin another weighing in place of the one before, and leave any form."""
        self.weighing = weighing
        self.close_form()

    def weigh_unit(self, weighing: UnitWeighing) -> None:
        """Begin to weigh the whole unit."""
        self.unit_weighing = weighing

    def end_unit_weighing(self) -> None:
        """Take note that the whole unit is weighed, or is not weighed any more."""
        self.unit_weighing = None

    def read_pressure_again(self, reading: PressureAgain) -> None:
        """Begin to read the sealed unit's pressure again."""
        self.pressure_again = reading

    def end_pressure_again(self) -> None:
        """Take note that the pressure is read, or is not read any more."""
        self.pressure_again = None

    def aim_at(self, target: ChargeTarget, around: Surroundings) -> None:
        """Charge to this target from now on."""
        self.charge_target, self.around = target, around

    def want_charge(self) -> None:
        """Request a capture of the charge once it has settled."""
        self.charge_wanted = True

    def want_hold(self) -> None:
        """Request a hold test."""
        self.hold_wanted = True

    def end_charge(self) -> None:
        """Take note that the charge is captured."""
        self.charge_wanted = False

    def end_hold(self) -> None:
        """Take note that the hold test has ended."""
        self.hold_wanted = False

    @property
    def requested(self) -> bool:
        """Return True while something was asked for that has not happened."""
        weighing = self.weighing
        asked = weighing is not None and weighing.phase in (Phase.TARING, Phase.CAPTURING)
        of_unit = self.unit_weighing is not None or self.pressure_again is not None
        return asked or of_unit or self.charge_wanted or self.hold_wanted

    def stop(self) -> None:
        """Take back what was asked for and has not happened."""
        self.close_form()
        if self.weighing is not None:
            self.weighing.cancel_capture()
        if self.charging is not None:
            self.charging.interrupt()
        self.end_unit_weighing()
        self.end_pressure_again()
        self.end_charge()
        self.end_hold()

    def compare(self, matched: UnitSet | None) -> UnitSet | None:
        """Compare the unit anew with its set, and return the set."""
        self.matched = matched
        return matched

    def leave(self, rebuild: Rebuild) -> Sequence[Event]:
        """Return what must be on record of oil that was moved at this step and is in no mass."""
        unit_id, step_id = self.key
        weighing = self.weighing
        if weighing is None or rebuild.ended:
            return ()
        weighing.note_uncaptured()
        if not (weighing.tared and weighing.uncaptured and unit_id == rebuild.unit_id):
            return ()
        purpose, about = weighing.plan.purpose.value, weighing.uncaptured_kg
        return [OilUnweighed(unit_id, step_id, purpose, Statement(Code.STEP_LEFT), about)]


def key_of(rebuild: Rebuild | None) -> tuple[str, str]:
    """Return unit and step at hand, of which the work must be."""
    step = rebuild.current if rebuild else None
    if rebuild is None or (step is None and not rebuild.proof_due):
        return "", ""
    return rebuild.unit_id, "" if rebuild.proof_due or step is None else step.id


def work_at(
    key: tuple[str, str],
    rebuild: Rebuild,
    shop: Shop,
    store: ChainStore,
    scale: BenchInstrument,
    gauge: BenchInstrument,
    around: Surroundings,
) -> StepWork:
    """Begin the work of the step at hand; ``around`` is what the unit's gas has about it."""
    work, step = StepWork(key, scale.id, matched=set_of(store, rebuild)), rebuild.current
    if step is None or rebuild.proof_due:
        return work
    work.history = known_at(store, rebuild, step)
    if rebuild.line_fell is not None and step == rebuild.specification.seal_off:
        work.ticks = dict(rebuild.line_fell.ticked)
        work.typed = dict.fromkeys(work.ticks, YES)
    work.steadying = steadying_for(step, rebuild.specification.steadiness, scale, gauge)
    if step.kind in (StepKind.WEIGH, StepKind.BLEED):
        work.weighing = weighing_for(rebuild, step, scale)
    if step.kind is StepKind.CHARGE:
        work.aim_at(charge_target_of(rebuild, shop, around), around)
        assert work.charge_target is not None
        settle_rate = rebuild.specification.gas.settle_rate
        work.charging = Charging(work.charge_target.target_gauge_pa, settle_rate)
    return work


def charge_target_of(rebuild: Rebuild, shop: Shop, around: Surroundings) -> ChargeTarget:
    """Return what the gauge must show of the bled unit, at this temperature and barometer."""
    judged = rebuild.oil_judged(StepKind.BLEED)
    assert judged is not None
    oil = mixed(rebuild, shop.lots).oil
    return target_for(rebuild.specification, oil, judged.net_volume_ref_m3, around)
