"""What a gauge sees of a unit's gas: as it came and as it went, and its charge in the line."""

from benchstation.domain.events import ChargeCaptured, HoldTested
from benchstation.domain.inputs.given import GasSeen
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification
from benchstation.domain.surroundings import Surroundings
from benchstation.physics.fill_tool import pressure_before_joining_pa


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


def gas_seen(rebuild: Rebuild, instrument_id: str) -> GasSeen:
    """Return what this gauge saw of the unit's gas; what another one saw proves nothing for it."""
    found, fell = rebuild.gas_found, rebuild.gas_fell
    as_found = found.before_joining_gauge_pa if found else None
    if fell is None or fell.instrument_id != instrument_id:
        return GasSeen(as_found)
    return GasSeen(as_found, fell.from_gauge_pa, fell.trace_sha256)


def line_seen(rebuild: Rebuild, instrument_id: str) -> GasSeen:
    """Return what this gauge saw of the charge: a fall of another gauge proves nothing for it."""
    charge, fell = rebuild.charge, rebuild.line_fell
    charged = charge.gauge_pa if charge is not None and not charge.by_hand else None
    if charge is None or fell is None or fell.instrument_id != instrument_id:
        return GasSeen(charged)
    return GasSeen(charged, fell.from_gauge_pa, fell.trace_sha256)


def stands_at_pa(charge: ChargeCaptured, hold: HoldTested | None) -> float:
    """Return the gauge pressure that the line was left at: at the end of the hold, if any."""
    return hold.end_gauge_pa if hold is not None else charge.gauge_pa


def charge_stands(rebuild: Rebuild, gauge_pa: float, instrument_id: str) -> bool:
    """Return True while the gauge shows what was charged: what the unit then keeps is the charge.

    Of another gauge, or after a charge that was typed, any pressure will do.
    """
    charge, gas = rebuild.charge, rebuild.specification.gas
    if charge is None or charge.instrument_id != instrument_id:
        return gauge_pa > gas.release_zero_band
    return abs(gauge_pa - stands_at_pa(charge, rebuild.hold)) <= gas.tolerance


def zero_before_pa(rebuild: Rebuild, instrument_id: str) -> float | None:
    """Return this gauge's zero before the charge; ``None`` where it was not seen."""
    zero = rebuild.zero_before
    return zero.gauge_pa if zero is not None and zero.instrument_id == instrument_id else None
