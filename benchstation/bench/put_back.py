"""Records that were put back, or lost their end, while a unit was worked on.

What was done with the unit since is on no record: it may hold gas or oil that no entry tells of. So
its gas is proven out anew, its tare and a charge that is not held yet are void, and it is filed on
hold.
"""

from benchstation.bench.capture.oil import main_purpose
from benchstation.domain import pausing
from benchstation.domain.events import (
    BenchKeyMade,
    Event,
    LossAccepted,
    OilUnweighed,
    RebuildOpened,
    UnitFetched,
    UnitSetAside,
)
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import StepKind
from benchstation.domain.statement_words import worded
from benchstation.domain.statements import Code, Statement
from benchstation.store.chain_store import ChainStore

LACKS = Statement(Code.RECORDS_LACK)


def put_back_since_opening(store: ChainStore, unit_id: str) -> bool:
    """Return True when the records may lack what was done with a unit."""
    return _put_back_after(store, store.entries(unit_id=unit_id, kind=RebuildOpened.kind)[0].seq)


def doubt_after_putting_back(store: ChainStore, rebuild: Rebuild) -> list[Event]:
    """Return what goes on record of the unit on the bench as the first start after it comes."""
    step = rebuild.current
    last = store.entries(unit_id=rebuild.unit_id)[-1].seq
    if step is None or not _put_back_after(store, last):
        return []
    gas = pausing.gas_known(rebuild, gas_in_unit=True)
    found: list[Event] = [
        UnitSetAside(rebuild.unit_id, step.id, f"{worded(LACKS)}.", gas),
        UnitFetched(rebuild.unit_id, step.id),
    ]
    if step.kind in (StepKind.WEIGH, StepKind.BLEED):
        purpose = main_purpose(step).value
        found.append(OilUnweighed(rebuild.unit_id, step.id, purpose, LACKS))
    return found


def _put_back_after(store: ChainStore, seq: int) -> bool:
    """Return True when a person went on with records that may lack entries, after an entry.

    On another computer nobody knows what was signed here: there the new key tells it.
    """
    lost = store.entries(kind=LossAccepted.kind)
    keys = [
        entry
        for entry in store.entries(kind=BenchKeyMade.kind)
        if isinstance(entry.event, BenchKeyMade) and entry.event.replaces
    ]
    return any(entry.seq > seq for entry in (*lost, *keys))
