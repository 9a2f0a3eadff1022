"""The release of a unit's gas: what the gauge saw of this unit is the proof, and else two words."""

from collections.abc import Mapping

from benchstation.domain.events import Event, GasFound, GasNotSeen, StepSigned
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification, Step, StepKind
from benchstation.domain.unit_commands import YES, NotAllowedError, require_step, zero_proof
from benchstation.domain.weigh_in import Surroundings
from benchstation.physics.fill_tool import pressure_before_joining_pa
from benchstation.quantities.units import UnitSystem

NOT_SEEN = "not seen by the gauge"
UNSEEN = {
    "unseen_rod": "Not seen by the gauge: the rod, pushed fully in, stays in",
    "unseen_screw": "Not seen by the gauge: the gas screw is open, and nothing comes out",
}
"""What a person confirms, each for itself, where the gauge saw nothing fall."""


def before_joining_gauge_pa(
    specification: Specification, shown_gauge_pa: float, dead_volume_m3: float, air: Surroundings
) -> tuple[float, float]:
    """Return the pressure before the fill tool was put on, and the gas volume it is worked with.

    The unit's old fill is not known: its gas has the volume that the specified fill leaves.
    """
    volume = specification.geometry.model().gas_volume_m3(specification.oil.volume)
    absolute = pressure_before_joining_pa(
        shown_gauge_pa + air.pressure_pa,
        volume,
        dead_volume_m3,
        air.temperature_k,
        air.pressure_pa,
    )
    return absolute - air.pressure_pa, volume


def seen(rebuild: Rebuild, instrument_id: str) -> bool:
    """Say whether this gauge saw the unit's gas, and saw it fall to zero."""
    fell = rebuild.gas_fell
    return fell is not None and fell.instrument_id == instrument_id


def unseen_words(
    rebuild: Rebuild, step: Step, fields: Mapping[str, str], instrument_id: str
) -> list[Event]:
    """Return the fact that nothing was seen to fall; raise until both words are given for it."""
    missing = [text for name, text in UNSEEN.items() if fields.get(name) != YES]
    if missing:
        raise NotAllowedError(
            "the gauge did not see gas of this unit fall to zero.",
            where=step.title,
            advice=f"Connect it and let the gas out; else confirm both: {'; '.join(missing)}.",
        )
    came = rebuild.gas_found is not None
    return [GasNotSeen(rebuild.unit_id, step.id, instrument_id, came)]


def sign_release(
    rebuild: Rebuild,
    fields: Mapping[str, str],
    gauge_pa: float | None,
    instrument_id: str,
    *,
    units: UnitSystem = UnitSystem.METRIC,
) -> list[Event]:
    """Prove that the gas is out: it was seen to fall into the zero band, and the rod stays in.

    ``gauge_pa`` is the live reading, ``None`` when there is no valid one, which proves nothing.
    What no gauge saw to fall rests on two words more, and is on record as not seen.
    """
    step = require_step(rebuild, StepKind.RELEASE)
    evidence = zero_proof(rebuild, step, fields, gauge_pa, instrument_id, units=units)
    proven = seen(rebuild, instrument_id)
    unseen = [] if proven else unseen_words(rebuild, step, fields, instrument_id)
    gas = told(rebuild.gas_found, proven=proven)
    summary = f"{gas}; {evidence['gauge_pa'] / 1e5:z.2f} bar gauge, rod stays in"
    return [*unseen, StepSigned(rebuild.unit_id, step.id, summary, evidence)]


def told(found: GasFound | None, *, proven: bool) -> str:
    """Return how the gas was found and released, in words for the step's summary."""
    as_found = f"{found.before_joining_gauge_pa / 1e5:.2f} bar gauge as found" if found else ""
    overdue = ", gauge overdue" if found and found.overdue else ""
    fall = "seen to fall" if proven else NOT_SEEN
    return f"{as_found}{overdue}, {fall}" if as_found else fall
