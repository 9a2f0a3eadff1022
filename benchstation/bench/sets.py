"""The set that a unit belongs to, from its order and from what is filed of it."""

from collections.abc import Sequence
from dataclasses import dataclass

from benchstation.domain.matching import (
    Member,
    Spread,
    compared_in,
    member_of,
    not_matching,
    spreads,
    unfiled,
)
from benchstation.domain.orders import FILED, Line, LineState, Order
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.specification import Specification, StepKind
from benchstation.store.chain_store import ChainStore
from benchstation.store.errors import NotOnRecordError
from benchstation.store.order_queries import get_order
from benchstation.store.queries import record_of

_NOT_FILED = (LineState.WAITING, LineState.STARTED, LineState.ASIDE, LineState.SECOND)
ELSEWHERE = "filed at another bench"
"""The state of a unit whose record this bench does not have: it cannot be compared with here."""


@dataclass(frozen=True, slots=True)
class UnitSet:
    """Units of one family in one order that must match, in the order they stand in it."""

    order: str
    family: str
    members: tuple[Member, ...]
    spreads: tuple[Spread, ...]
    this: str = ""
    """Unit id of the one that is about to be filed."""

    @property
    def against(self) -> tuple[Spread, ...]:
        """Return what stands against filing this unit without a deviation."""
        return not_matching(self.spreads, self.this) if self.this else ()

    @property
    def not_compared(self) -> tuple[str, ...]:
        """Return the serials of the units that were filed where this bench cannot see them."""
        return tuple(m.serial for m in self.members if m.state == ELSEWHERE) if self.this else ()

    @property
    def refusal(self) -> str:
        """Return why the unit is not filed with its set as it stands; empty: nothing is why."""
        if self.against:
            return f"it does not match its set: {', '.join(s.what for s in self.against)}"
        if self.not_compared:
            names = ", ".join(self.not_compared)
            return f"it is not compared with all of its set: {names} was {ELSEWHERE}"
        return ""


def sets_of(
    store: ChainStore, order: Order, specifications: Sequence[Specification]
) -> tuple[UnitSet, ...]:
    """Return the sets of an order: of each family that has two units or more in it."""
    if not order.matched:
        return ()
    found = []
    for specification in specifications:
        lines = _lines(order, specification.id)
        if len(lines) > 1:
            members = tuple(_member(store, line, specification) for line in lines)
            judged = spreads(members, specification)
            found.append(UnitSet(order.order, specification.family, members, judged))
    return tuple(found)


def set_of(store: ChainStore, rebuild: Rebuild) -> UnitSet | None:
    """Return the set of a unit that is about to be filed; ``None`` when it belongs to none."""
    step, opened = rebuild.current, rebuild.opened
    if step is None or step.kind is not StepKind.FILE or not opened.line:
        return None
    order = get_order(store, opened.order)
    if order is None or not order.matched:
        return None
    specification = rebuild.specification
    lines = _lines(order, specification.id)
    this = unfiled(rebuild)
    if len(lines) < 2 or this is None:
        return None
    members = tuple(
        member_of(this, specification, "this unit")
        if line.line == opened.line
        else _member(store, line, specification)
        for line in lines
    )
    judged = spreads(members, specification)
    return UnitSet(order.order, specification.family, members, judged, rebuild.unit_id)


def set_around(store: ChainStore, order_name: str, unit_id: str) -> tuple[Line, ...]:
    """Return the lines of the set that a unit belongs to; empty: it belongs to none."""
    order = get_order(store, order_name)
    if order is None or not order.matched:
        return ()
    own = next((line for line in order.lines if line.unit_id == unit_id), None)
    lines = _lines(order, own.specification_id) if own is not None else []
    return tuple(lines) if len(lines) > 1 else ()


def unfiled_of(lines: Sequence[Line]) -> str:
    """Return in words which of these are not filed; empty: all are."""
    return "; ".join(
        f"{line.position or line.serial}: {line.state.value}"
        for line in lines
        if line.state in _NOT_FILED
    )


def _lines(order: Order, specification_id: str) -> list[Line]:
    return [
        line
        for line in order.lines
        if line.specification_id == specification_id and line.state is not LineState.WITHDRAWN
    ]


def _member(store: ChainStore, line: Line, specification: Specification) -> Member:
    if line.state not in FILED:
        return Member(line.serial, line.position, line.unit_id, line.state.value)
    try:
        record = record_of(store, line.unit_id)
    except NotOnRecordError:
        return Member(line.serial, line.position, line.unit_id, ELSEWHERE)
    return member_of(compared_in(record), specification, line.state.value)
