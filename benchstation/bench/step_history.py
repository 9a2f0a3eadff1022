"""What is on record that a step is compared with: looked up once, when the step begins."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from benchstation.domain.disc_stack import AS_FOUND, Stack
from benchstation.domain.inputs.part import PartLine
from benchstation.domain.inputs.stack import StackInput
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.recorded_inputs import built_in, stacks_in
from benchstation.domain.specification import Step
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import local_day
from benchstation.store.chain_store import ChainStore
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


def known_at(store: ChainStore, rebuild: Rebuild, step: Step) -> StepHistory:
    """Look up what the step needs; a damaged old record is told by Records, not here."""
    kinds = {type(asked.input) for asked in step.asked}
    serial = ""
    lots: Mapping[str, str] = {}
    if PartLine in kinds:
        serial, lots = last_part_lots(store, rebuild.opened.family)
    stacks, day = _built_before(store, rebuild) if StackInput in kinds else ({}, "")
    return StepHistory(lots, serial, stacks, day)


def _built_before(store: ChainStore, rebuild: Rebuild) -> tuple[dict[str, Stack], str]:
    """Return the stacks of the serial's last filed rebuild by side, and its day."""
    for unit in earlier_rebuilds(store, rebuild.opened.serial):
        if unit.state != "filed" or unit.unit_id == rebuild.unit_id:
            continue
        try:
            stacks = built_in(record_of(store, unit.unit_id))
        except StationError:
            continue
        if stacks:
            return stacks, local_day(unit.sort_utc)
    return {}, ""


def found_now(rebuild: Rebuild) -> dict[str, Stack]:
    """Return the stacks that were recorded as found at this rebuild, by side."""
    signed = rebuild.signatures.values()
    return stacks_in((r for signature in signed for r in signature.evidence), AS_FOUND)
