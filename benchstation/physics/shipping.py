"""Figures of a charged unit for whoever classifies it for transport. Figures only, no verdict.

The rules ask for the charge at 70 degF (21 degC) or 20 degC, the gas space, and how test and burst
pressure stand to the charge. Sources, older editions seen; read the one in force: 49 CFR 173.306
(f)(1) to (f)(3); ADR, chapter 3.3, special provision 283 (as in the IMDG Code).
"""

from dataclasses import dataclass

from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import require_positive
from benchstation.physics.gas_spring import ChargedDamper

SHIPPING_K = (70.0 + 459.67) / 1.8
"""70 degF, 21.1 degC."""
ADR_K = 293.15
"""20 degC, at which special provision 283 takes the charge."""
NOTE = (
    "Figures only. Classification, packing and marking belong to people trained for it, by the "
    "carrier's and the local rules in force."
)

PSI_PA = 6894.757293168361
"""Pascals in a pound-force per square inch (NIST SP 811)."""
CUBIC_INCH_M3 = 1.6387064e-5
"""Cubic metres in a cubic inch (NIST SP 811)."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One figure that a rule asks about, beside what the rule says; SI, or a plain ratio."""

    rule: str
    what: str
    found: float
    asked: float
    at_most: bool


@dataclass(frozen=True, slots=True)
class ShippingFigures:
    """The data sheet of one charged unit; gauge pressures, rod fully out.

    A ratio is None where the pressure it needs was not given.
    """

    charge_70f_gauge_pa: float
    charge_20c_gauge_pa: float
    gas_volume_m3: float
    amount_kg: float
    pressure_volume_pa_m3: float
    test_ratio: float | None
    burst_ratio: float | None
    asked: tuple[Asked, ...]


def shipping_figures(
    unit: ChargedDamper,
    *,
    test_gauge_pa: float | None = None,
    burst_gauge_pa: float | None = None,
    ambient_pa: float = STANDARD_PRESSURE_PA,
) -> ShippingFigures:
    """Return the data sheet. ``test_gauge_pa`` and ``burst_gauge_pa`` are the body's, if known."""
    charge = unit.pressure_pa(SHIPPING_K) - ambient_pa
    charge_20c = unit.pressure_pa(ADR_K) - ambient_pa
    require_positive("charge at 70 °F (gauge)", charge, "Pa")
    volume = unit.gas_volume_m3(SHIPPING_K)
    cfr, adr = "49 CFR 173.306", "ADR 3.3, special provision 283"
    asked = [
        Asked(f"{cfr} (f)(2)", "charge at 70 °F, gauge", charge, 200.0 * PSI_PA, True),
        Asked(f"{cfr} (f)(2)(ii)", "gas space", volume, 2500.0 * CUBIC_INCH_M3, True),
        Asked(adr, "gas space", volume, 1.6e-3, True),
        Asked(adr, "charge at 20 °C, gauge", charge_20c, 280e5, True),
        Asked(adr, "gas space times charge", volume * charge_20c, 80e5 * 1e-3, True),
    ]
    test_ratio = burst_ratio = None
    if test_gauge_pa is not None:
        test_ratio = require_positive("test pressure (gauge)", test_gauge_pa, "Pa") / charge
        asked += [
            Asked(f"{cfr} (f)(2)(iii)", "test pressure to charge", test_ratio, 3.0, False),
            Asked(f"{cfr} (f)(2)(iii)", "test pressure", test_gauge_pa, 120.0 * PSI_PA, False),
        ]
    if burst_gauge_pa is not None:
        burst_ratio = require_positive("burst pressure (gauge)", burst_gauge_pa, "Pa") / charge
        least = 4.0 if volume <= 0.5e-3 else 5.0
        asked += [
            Asked(f"{cfr} (f)(1), (f)(3)", "burst pressure to charge", burst_ratio, 5.0, False),
            Asked(adr, "burst pressure to charge", burst_gauge_pa / charge_20c, least, False),
        ]
    return ShippingFigures(
        charge_70f_gauge_pa=charge,
        charge_20c_gauge_pa=charge_20c,
        gas_volume_m3=volume,
        amount_kg=unit.amount_kg,
        pressure_volume_pa_m3=volume * charge_20c,
        test_ratio=test_ratio,
        burst_ratio=burst_ratio,
        asked=tuple(asked),
    )
