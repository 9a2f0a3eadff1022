"""Figures of a charged unit beside the clauses that its transport may come under. No verdict.

The clauses ask for the charge at 70 degF (21.1 degC) or 20 degC, the gas space, how test and burst
pressure stand to the charge, and for what no figure shows: fire test, quality programme, packaging.
A clause is ruled out by a figure; that it applies is for the shipper to say. Sources, older
editions seen; read the one in force: 49 CFR 173.306 (f)(1) to (f)(3); PHMSA letters 03-0133 (f)(1),
06-0142, 13-0178 and 15-0179 (f)(4), UN 3164; ADR, chapter 3.3, special provision 283 (as in the
IMDG Code). The figures of (f)(4) and of 173.115 (b) are from memory; those of (f)(4) are those of
special provision 283.
"""

from dataclasses import dataclass
from enum import StrEnum

from benchstation.physics.air import STANDARD_PRESSURE_PA
from benchstation.physics.errors import require_positive
from benchstation.physics.gas_spring import ChargedDamper

SHIPPING_K = (70.0 + 459.67) / 1.8
"""70 degF, 21.1 degC."""
ADR_K = 293.15
"""20 degC, at which special provision 283 takes the charge."""
NOTE = (
    "Figures only: the shipper decides. Classification, packing and marking belong to people "
    "trained for it, by the carrier's and the local rules in force."
)
UN_ENTRY = "UN 3164, Articles, pressurized, hydraulic (containing non-flammable gas), Division 2.2"

RULES = {
    "low_pressure": "49 CFR 173.115 (b)",
    "cfr_f4": "49 CFR 173.306 (f)(4)",
    "sp_283": "ADR 3.3 and IMDG Code, special provision 283",
    "cfr_f1": "49 CFR 173.306 (f)(1)",
    "cfr_f2": "49 CFR 173.306 (f)(2)",
    "cfr_f3": "49 CFR 173.306 (f)(3)",
}
"""Where each clause stands, by its id."""

PSI_PA = 6894.757293168361
"""Pascals in a pound-force per square inch (NIST SP 811)."""
CUBIC_INCH_M3 = 1.6387064e-5
"""Cubic metres in a cubic inch (NIST SP 811)."""


class Quantity(StrEnum):
    """What a condition is about, so that it is shown in the right unit."""

    PRESSURE = "pressure"
    VOLUME = "volume"
    ENERGY = "pressure times volume"


class Standing(StrEnum):
    """What the figures say about a clause."""

    RULED_OUT = "ruled out"
    NOT_TOLD = "cannot be told"
    OPEN = "not ruled out"


@dataclass(frozen=True, slots=True)
class Condition:
    """One figure of a clause, SI; ``found`` is ``None`` where it was not given."""

    what: str
    quantity: Quantity
    found: float | None
    least: float | None = None
    most: float | None = None

    @property
    def met(self) -> bool | None:
        """Return True when the figure keeps the condition; ``None`` where it was not given."""
        if self.found is None:
            return None
        above = self.least is None or self.found >= self.least
        return above and (self.most is None or self.found <= self.most)


@dataclass(frozen=True, slots=True)
class Clause:
    """One clause: what it is for, what follows from it, its figures, and what no figure shows."""

    id: str
    rule: str
    scope: str
    consequence: str
    conditions: tuple[Condition, ...]
    to_show: tuple[str, ...] = ()

    @property
    def standing(self) -> Standing:
        """Return ruled out where a figure breaks it, not told where one is missing, else open."""
        met = [condition.met for condition in self.conditions]
        if False in met:
            return Standing.RULED_OUT
        return Standing.NOT_TOLD if None in met else Standing.OPEN

    @property
    def against(self) -> tuple[Condition, ...]:
        """Return the conditions that rule it out."""
        return tuple(c for c in self.conditions if c.met is False)

    @property
    def missing(self) -> tuple[Condition, ...]:
        """Return the conditions whose figure was not given."""
        return tuple(c for c in self.conditions if c.met is None)


@dataclass(frozen=True, slots=True)
class ShippingFigures:
    """The data sheet of one charged unit; gauge pressures, rod fully out."""

    charge_70f_gauge_pa: float
    charge_20c_gauge_pa: float
    gas_volume_m3: float
    amount_kg: float
    pressure_volume_pa_m3: float
    clauses: tuple[Clause, ...]


def shipping_figures(
    unit: ChargedDamper,
    *,
    test_gauge_pa: float | None = None,
    burst_gauge_pa: float | None = None,
    ambient_pa: float = STANDARD_PRESSURE_PA,
) -> ShippingFigures:
    """Return the data sheet. ``test_gauge_pa`` and ``burst_gauge_pa`` are the body's, if known.

    A unit without charge has gauge pressures about zero; it is asked the same.
    """
    if test_gauge_pa is not None:
        require_positive("test pressure (gauge)", test_gauge_pa, "Pa")
    if burst_gauge_pa is not None:
        require_positive("burst pressure (gauge)", burst_gauge_pa, "Pa")
    at_70f = unit.pressure_pa(SHIPPING_K) - ambient_pa
    at_20c = unit.pressure_pa(ADR_K) - ambient_pa
    volume = unit.gas_volume_m3(SHIPPING_K)
    return ShippingFigures(
        charge_70f_gauge_pa=at_70f,
        charge_20c_gauge_pa=at_20c,
        gas_volume_m3=volume,
        amount_kg=unit.amount_kg,
        pressure_volume_pa_m3=volume * at_20c,
        clauses=(
            _no_compressed_gas(at_20c),
            _for_shock_absorbers(volume, at_20c, burst_gauge_pa),
            _special_provision(volume, at_20c, burst_gauge_pa),
            _installed(at_70f, burst_gauge_pa),
            _low_charge(volume, at_70f, test_gauge_pa),
            _high_charge(volume, at_70f, test_gauge_pa, burst_gauge_pa),
        ),
    )


_FIRE_TEST = (
    "fire test of the design: a seal or relief device lets the pressure off, and it neither "
    "fragments nor rockets"
)


def _no_compressed_gas(charge_pa: float) -> Clause:
    return Clause(
        "low_pressure",
        RULES["low_pressure"],
        "gas below the pressure of Division 2.2",
        "no gas of Division 2.2; the oil stays to be classified",
        (Condition("charge at 20 °C, gauge", Quantity.PRESSURE, charge_pa, most=200e3),),
    )


def _absorber_figures(volume: float, charge: float, burst: float | None) -> tuple[Condition, ...]:
    times = 4 if volume <= 0.5e-3 else 5
    return (
        Condition("gas space", Quantity.VOLUME, volume, most=1.6e-3),
        Condition("charge at 20 °C, gauge", Quantity.PRESSURE, charge, most=280e5),
        Condition("gas space times charge", Quantity.ENERGY, volume * charge, most=80e5 * 1e-3),
        Condition(
            f"burst pressure, {times} times the charge at 20 °C", Quantity.PRESSURE, burst,
            least=times * charge,
        ),
    )  # fmt: skip


def _for_shock_absorbers(volume: float, charge: float, burst: float | None) -> Clause:
    return Clause(
        "cfr_f4",
        RULES["cfr_f4"],
        "shock absorbers, struts, gas springs, other impact- or energy-absorbing devices",
        "not subject to the US hazardous materials regulations",
        _absorber_figures(volume, charge, burst),
        (
            _FIRE_TEST,
            "written quality assurance programme for burst strength, burst mode and fire, kept "
            "where the units are made",
        ),
    )


def _special_provision(volume: float, charge: float, burst: float | None) -> Clause:
    return Clause(
        "sp_283",
        RULES["sp_283"],
        "articles with gas that work as shock absorbers",
        "not subject to ADR or the IMDG Code",
        _absorber_figures(volume, charge, burst),
        (
            "material that does not fragment when it breaks",
            "quality assurance standard that the competent authority accepts",
            _FIRE_TEST,
        ),
    )


def _installed(charge: float, burst: float | None) -> Clause:
    return Clause(
        "cfr_f1",
        RULES["cfr_f1"],
        "units installed in motor vehicles, construction equipment or assembled machinery",
        "not subject to the US hazardous materials regulations",
        (
            Condition(
                "burst pressure, 5 times the charge at 70 °F", Quantity.PRESSURE, burst,
                least=5 * charge,
            ),
        ),
        ("it is shipped installed, not as a part by itself",),
    )  # fmt: skip


_EXCEPTED = "excepted from labels (not by air) and from specification packaging"


def _tested(volume: float, charge: float, test: float | None) -> tuple[Condition, ...]:
    least = max(3 * charge, 120 * PSI_PA)
    return (
        Condition("gas space", Quantity.VOLUME, volume, most=2500 * CUBIC_INCH_M3),
        Condition(
            "test pressure, 3 times the charge and 120 psi", Quantity.PRESSURE, test, least=least
        ),
    )


_PACKED = (
    "shipped as an inside packaging",
    "tested without damage before the first shipment and before each refilling and reshipment",
)


def _low_charge(volume: float, charge: float, test: float | None) -> Clause:
    return Clause(
        "cfr_f2",
        RULES["cfr_f2"],
        "accumulators up to 200 psi at 70 °F",
        _EXCEPTED,
        (
            Condition("charge at 70 °F, gauge", Quantity.PRESSURE, charge, most=200 * PSI_PA),
            *_tested(volume, charge, test),
        ),
        _PACKED,
    )


def _high_charge(volume: float, charge: float, test: float | None, burst: float | None) -> Clause:
    return Clause(
        "cfr_f3",
        RULES["cfr_f3"],
        "accumulators above 200 psi at 70 °F",
        _EXCEPTED,
        (
            Condition("charge at 70 °F, gauge", Quantity.PRESSURE, charge, least=200 * PSI_PA),
            *_tested(volume, charge, test),
            Condition(
                "burst pressure, 5 times the charge at 70 °F", Quantity.PRESSURE, burst,
                least=5 * charge,
            ),
        ),
        _PACKED,
    )  # fmt: skip
