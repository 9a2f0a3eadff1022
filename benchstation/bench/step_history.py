"""What is on record that a step is compared with: looked up once, when the step begins."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.domain.disc_stack import AS_FOUND, SIDES, Stack, built_in, stack_in
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Step, StepKind
from benchstation.driver_api.errors import StationError
from benchstation.store.engine import Store
from benchstation.store.queries import earlier_rebuilds, last_part_lots, record_of


@dataclass(frozen=True, slots=True)
class StepHistory:
    """Lots of the family's last unit, and the stacks of this serial's last filed rebuild."""

    lots: Mapping[str, str] = field(default_factory=dict)
    lots_from: str = ""
    """Serial of that unit; empty: there is none."""
    stacks: Mapping[str, Stack] = field(default_factory=dict)
    stacks_from: str = ""
    """Day of that rebuild; empty: there is none."""


def known_at(store: Store, rebuild: Rebuild, step: Step) -> StepHistory:
    """Look up what the step needs; a damaged old record is told by Records, not here."""
    if step.kind is StepKind.PARTS:
        serial, lots = last_part_lots(store, rebuild.opened.family)
        return StepHistory(lots=lots, lots_from=serial)
    if step.kind is not StepKind.STACK:
        return StepHistory()
    for unit in earlier_rebuilds(store, rebuild.opened.serial):
        if unit.state != "filed" or unit.unit_id == rebuild.unit_id:
            continue
        try:
            stacks = built_in(record_of(store, unit.unit_id))
        except StationError:
            continue
        if stacks:
            return StepHistory(stacks=stacks, stacks_from=f"{unit.sort_utc:%Y-%m-%d}")
    return StepHistory()


def found_now(rebuild: Rebuild) -> dict[str, Stack]:
    """Return the stacks that were recorded as found at this rebuild, by side."""
    found: dict[str, Stack] = {}
    for signature in rebuild.signatures.values():
        for side in SIDES:
            stack = stack_in(signature.evidence, AS_FOUND, side)
            if stack:
                found[side] = stack
    return found
