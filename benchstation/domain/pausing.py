"""Leaving a unit for a while: set aside and fetched, handed over and taken over.

As in ``commands``, each checks and then gives the events that follow; nothing changes here.
"""

from collections.abc import Mapping

from benchstation.domain.events import (
    Event,
    HandedOver,
    HandOverRead,
    UnitFetched,
    UnitSetAside,
    ZeroProven,
)
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.domain.people import Person
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import BenchNow, evidence_of
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Gas
from benchstation.domain.unit_commands import going_step, require_read
from benchstation.quantities.units import Dimension, UnitSystem, shown

LONGEST = 400


def gas_known(rebuild: Rebuild, *, gas_in_unit: bool) -> Gas:
    """Return what is known of the gas in a unit that leaves the bench."""
    specification = rebuild.specification
    if rebuild.charge is not None:
        # Until the line was let down and the unit stayed closed, a vent may have emptied it too.
        sealing = specification.seal_off or specification.step_of(StepKind.CHARGE)
        return Gas.CHARGED if sealing.id in rebuild.signatures else Gas.UNPROVEN
    steps, step = specification.steps, going_step(rebuild)
    release, charge = (specification.step_of(k) for k in (StepKind.RELEASE, StepKind.CHARGE))
    between = steps.index(release) < steps.index(step) < steps.index(charge)
    # At the charge nobody knows how far a filling went; before the release it came in as it did.
    return Gas.PROVEN_OUT if between and not gas_in_unit else Gas.UNPROVEN


def why_not_aside(rebuild: Rebuild, gauge_pa: float | None, units: UnitSystem) -> str:
    """Return why a unit stays on the bench; empty: nothing against it.

    ``gauge_pa`` is what a connected gauge shows, ``None`` when that is not known. While it shows
    pressure the unit stays: away from the bench nobody would watch it against its own limits.
    """
    if gauge_pa is None or not rebuild.specification.gas.under_pressure(gauge_pa):
        return ""
    return f"the gauge shows {shown(gauge_pa, Dimension.PRESSURE, units)}"


def set_aside(
    rebuild: Rebuild,
    reason: str,
    *,
    gas_in_unit: bool,
    gauge_pa: float | None,
    units: UnitSystem = UnitSystem.METRIC,
) -> list[Event]:
    """Take a unit off the bench for a while, with a reason, unless :func:`why_not_aside`."""
    step = going_step(rebuild)
    why_not = why_not_aside(rebuild, gauge_pa, units)
    if why_not:
        raise NotAllowedError(
            f"{why_not}.",
            where=rebuild.opened.serial,
            advice="Close the unit, vent the line and take the gauge off it; then set it aside.",
        )
    words = _words(rebuild, reason, "setting aside needs a reason", "Say what it waits for.")
    gas = gas_known(rebuild, gas_in_unit=gas_in_unit)
    return [UnitSetAside(rebuild.unit_id, step.id, words, gas)]


def fetch(rebuild: Rebuild) -> list[Event]:
    """Put a unit that lay aside back on the bench, at the step where it stood."""
    step = going_step(rebuild)
    if not rebuild.asides or rebuild.asides[-1].fetched_utc is not None:
        raise NotAllowedError("this unit is not set aside.", where=rebuild.opened.serial)
    return [UnitFetched(rebuild.unit_id, step.id)]


def prove_zero(rebuild: Rebuild, fields: Mapping[str, str], now: BenchNow) -> list[Event]:
    """Prove anew that the gas is out, as the release asks for it."""
    step = going_step(rebuild)
    require_read(rebuild, step)
    if not rebuild.proof_due:
        raise NotAllowedError("no proof is due here.", where=step.title)
    release = rebuild.specification.step_of(StepKind.RELEASE)
    evidence = evidence_of(rebuild, release, fields, now)
    read = next(r for r in evidence if isinstance(r, ZeroRead))
    assert read.gauge_pa is not None
    band = rebuild.specification.gas.release_zero_band
    return [ZeroProven(rebuild.unit_id, step.id, read.gauge_pa, band, read.instrument_id, evidence)]


def hand_over(rebuild: Rebuild, note: str) -> list[Event]:
    """Leave a unit on the bench to somebody else, with a note."""
    step = going_step(rebuild)
    words = _words(rebuild, note, "a hand-over needs a note", "Say where the work stands.")
    return [HandedOver(rebuild.unit_id, step.id, words)]


def take_over(rebuild: Rebuild, person: Person) -> list[Event]:
    """Confirm that the note of the last hand-over was read."""
    step = going_step(rebuild)
    if rebuild.unread is None:
        raise NotAllowedError(f"{person.name} has no note to read.", where=step.title)
    return [HandOverRead(rebuild.unit_id, step.id)]


def _words(rebuild: Rebuild, text: str, what: str, advice: str) -> str:
    words = text.strip()
    if not words:
        raise NotAllowedError(f"{what}.", where=rebuild.opened.serial, advice=advice)
    if len(words) > LONGEST:
        raise NotAllowedError(
            f"that is longer than {LONGEST} characters.",
            where=rebuild.opened.serial,
            advice="Say it shorter.",
        )
    return words
