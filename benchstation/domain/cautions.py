"""The cautions that stand at a step whatever its specification says; one may add, none remove.

Each is one short line, with more behind it for the help. They are reminders for trained people:
local rules and the instructions of the unit's maker come first.
"""

from dataclasses import dataclass
from enum import StrEnum

from benchstation.domain.specification import Specification, Step, StepKind


class Moment(StrEnum):
    """When a caution is due."""

    RELEASE = "release"
    OPENING = "opening"
    OIL = "oil"
    CHARGE = "charge"
    SEAL_OFF = "seal-off"


@dataclass(frozen=True, slots=True)
class Caution:
    """One line at the step; ``more`` says why, ``source`` where that is published."""

    line: str
    more: str
    source: str


CAUTIONS = {
    Moment.RELEASE: Caution(
        "Point the screw away, eyes protected, air the room. Hot units burn and read high.",
        "Let the gas out before anything is opened: an end part under pressure is thrown out. A "
        "gauge at zero does not prove that a blocked screw vented.",
        "WorkSafeNB hazard alert of July 2014 (a piston accumulator opened under gas); "
        "29 CFR 1910.133 for eye protection (from memory)",
    ),
    Moment.OPENING: Caution(
        "Open only with the gas proven out. Clamp the unit; keep face and hands out of line.",
        "Open nothing that still holds gas: a part under pressure is thrown out when it lets go.",
        "WorkSafeNB hazard alert of July 2014",
    ),
    Moment.OIL: Caution(
        "Oil on the floor is a slip hazard: wipe at once.",
        "Wipe what is spilled, and weigh the drip tray where it counts.",
        "common practice, no source",
    ),
    Moment.CHARGE: Caution(
        "Nitrogen only, never oxygen or air. Regulator and relief device on; stand aside; "
        "ventilate.",
        "Oxygen or compressed air burns with oil under pressure. A regulator and a relief device "
        "rated for the bottle are required; an alarm of this program replaces neither. Nitrogen "
        "displaces oxygen, and nobody notices. Chain the bottle and stand beside its valve.",
        "US Chemical Safety Board, Safety Bulletin 2003-10-B (nitrogen asphyxiation); "
        "29 CFR 1910.101 (compressed gases)",
    ),
    Moment.SEAL_OFF: Caution(
        "The line still holds pressure: vent it pointed away, eyes protected.",
        "Close the gas screw and the bottle first. A hose under pressure can lash.",
        "common practice, no source",
    ),
}
LABEL = "Under gas pressure: do not open or heat."


def moments_of(specification: Specification, step: Step) -> tuple[Moment, ...]:
    """Return the moments that a step is, of those that have a caution."""
    steps = specification.steps
    release = steps.index(specification.step_of(StepKind.RELEASE))
    found = []
    if step.kind is StepKind.RELEASE:
        found.append(Moment.RELEASE)
    if steps.index(step) == release + 1:
        found.append(Moment.OPENING)
    if step.kind in (StepKind.WEIGH, StepKind.BLEED):
        found.append(Moment.OIL)
    if step.kind is StepKind.CHARGE:
        found.append(Moment.CHARGE)
    if step == specification.seal_off:
        found.append(Moment.SEAL_OFF)
    return tuple(found)


def cautions_at(specification: Specification, step: Step) -> tuple[str, ...]:
    """Return the lines that stand at a step: the built-in one first, then the specification's."""
    built_in = (CAUTIONS[moment].line for moment in moments_of(specification, step))
    return tuple(dict.fromkeys((*built_in, *step.cautions)))
